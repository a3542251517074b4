/*
 * serial_on_pty: makes pseudo-terminals look like serial ports of the system, so that the real,
 * unchanged libserialport can be driven in a test without hardware.
 *
 * Preloaded into a program (LD_PRELOAD) or included by a test program. It answers for what a
 * pseudo-terminal lacks: its entry in /sys/class/tty, and modem lines. All else is the kernel's.
 * As root opens, TIOCEXCL does not bind; nothing is done about that.
 */
#include <dlfcn.h>
#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

/* glibc before 2.33 had no symbol lstat, and libraries built then still call this one. */
int __lxstat(int version, const char *path, struct stat *info);

/* Where not 0: the port takes no other speed and, like many drivers, does not say so. */
static speed_t serial_on_pty_stuck_speed;

/* ISO C has no conversion from void * to a function; POSIX asks for this one to work. */
#define REAL(variable, name)                       \
    do {                                           \
        void *found = dlsym(RTLD_NEXT, name);      \
        memcpy(&(variable), &found, sizeof found); \
    } while (0)

static bool is_pty_in_sysfs(const char *path)
{
    static const char start[] = "/sys/class/tty/pts/";
    return strncmp(path, start, sizeof start - 1) == 0;
}

static int link_info(struct stat *info)
{
    memset(info, 0, sizeof *info);
    info->st_mode = S_IFLNK | 0777;
    return 0;
}

int __lxstat(int version, const char *path, struct stat *info)
{
    int (*real)(int, const char *, struct stat *);
    REAL(real, "__lxstat");
    return is_pty_in_sysfs(path) ? link_info(info) : real(version, path, info);
}

int lstat(const char *restrict path, struct stat *restrict info)
{
    int (*real)(const char *, struct stat *);
    REAL(real, "lstat");
    return is_pty_in_sysfs(path) ? link_info(info) : real(path, info);
}

ssize_t readlink(const char *restrict path, char *restrict target, size_t size)
{
    static const char device[] = "../../devices/platform/serial-on-pty/tty";
    ssize_t (*real)(const char *, char *, size_t);
    REAL(real, "readlink");
    if (!is_pty_in_sysfs(path))
        return real(path, target, size);
    size_t length = sizeof device - 1 < size ? sizeof device - 1 : size;
    memcpy(target, device, length);
    return (ssize_t)length;
}

int ioctl(int fd, unsigned long request, ...)
{
    int (*real)(int, unsigned long, void *);
    va_list arguments;
    va_start(arguments, request);
    void *argument = va_arg(arguments, void *);
    va_end(arguments);
    REAL(real, "ioctl");
    int result = real(fd, request, argument);
    if (result == 0 || (errno != ENOTTY && errno != EINVAL))
        return result;
    switch (request) {
    case TIOCMGET:
        *(int *)argument = 0;
        return 0;
    case TIOCMSET:
    case TIOCMBIS:
    case TIOCMBIC:
        return 0;
    default:
        return result;
    }
}

int tcsetattr(int fd, int actions, const struct termios *mode)
{
    int (*real)(int, int, const struct termios *);
    REAL(real, "tcsetattr");
    struct termios changed = *mode;
    if (serial_on_pty_stuck_speed != 0)
        (void)cfsetspeed(&changed, serial_on_pty_stuck_speed);
    return real(fd, actions, &changed);
}
