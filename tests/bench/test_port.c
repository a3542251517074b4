/* port: one program alone on a serial port, by both transports. The unchanged libserialport is
 * driven on a pseudo-terminal (tests/preload/serial_on_pty.c). */
#include "base/buf.h"
#include "bench/port.h"
#include "check.h"

#include "preload/serial_on_pty.c" /* first the interposer: it is linked into this program */

#include <fcntl.h>
#include <stdlib.h>
#include <time.h>

/* A pseudo-terminal: the controller's end, and the path of the program's end. */
struct pty {
    int controller;
    char path[64];
};

static struct pty pty_make(void)
{
    struct pty pty;
    pty.controller = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(pty.controller >= 0);
    assert_int_equal(grantpt(pty.controller), 0);
    assert_int_equal(unlockpt(pty.controller), 0);
    (void)snprintf(pty.path, sizeof pty.path, "%s", ptsname(pty.controller));
    return pty;
}

static const enum port_transport transports[] = {PORT_TRANSPORT_TTY, PORT_TRANSPORT_SERIALPORT};

static struct port_settings settings_of(enum port_transport transport)
{
    return (struct port_settings){.baud = 115200,
                                  .data_bits = 8,
                                  .parity = PORT_PARITY_NONE,
                                  .stop_bits = 1,
                                  .transport = transport};
}

static struct port *open_on(const struct pty *pty, enum port_transport transport)
{
    struct port_settings settings = settings_of(transport);
    struct port *port = NULL;
    struct err err;
    check_ok(port_open(&port, pty->path, &settings, &err));
    return port;
}

/* The call fails with STATUS_NO_BENCH and a message that holds `part`. */
static void check_refused(const char *path, enum port_transport transport, const char *part)
{
    struct port_settings settings = settings_of(transport);
    struct port *port = NULL;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(port_open(&port, path, &settings, &err), STATUS_NO_BENCH);
    assert_null(port);
    if (strstr(err.text, part) == NULL)
        fail_msg("'%s' is not in '%s'", part, err.text);
}

#define FOR_BOTH(transport)                                                                       \
    for (size_t which = 0; which < 2; which++)                                                    \
        for (enum port_transport transport = transports[which], *once = &transport; once != NULL; \
             once = NULL)

static void the_transport_is_what_was_asked_for(void **state)
{
    (void)state;
    struct pty pty = pty_make();
    struct port *port = open_on(&pty, PORT_TRANSPORT_TTY);
    assert_string_equal(port_transport_name(port), "tty");
    port_close(port);
    port = open_on(&pty, PORT_TRANSPORT_SERIALPORT);
    assert_string_equal(port_transport_name(port), "libserialport");
    port_close(port);
    /* The system seems to list the pseudo-terminal here, so this is what a real port gets. */
    port = open_on(&pty, PORT_TRANSPORT_AUTO);
    assert_string_equal(port_transport_name(port), "libserialport");
    port_close(port);
    close(pty.controller);
}

static void bytes_come_as_they_were_sent(void **state)
{
    (void)state;
    static const char sent[] = "\x00\x03\x04\x11\x13\x1a\x7f\x80\xff\r\n$PCRD";
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        assert_int_equal(write(pty.controller, sent, sizeof sent), sizeof sent);
        char got[64];
        size_t n;
        assert_int_equal(port_read(port, got, sizeof got, &n, 1000), PORT_DATA);
        assert_int_equal(n, sizeof sent);
        assert_memory_equal(got, sent, sizeof sent);
        port_close(port);
        close(pty.controller);
    }
}

static void bytes_go_as_they_were_written(void **state)
{
    (void)state;
    static const char sent[] = "R\r\n\x00\xff\x11";
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        struct err err;
        check_ok(port_write(port, sent, sizeof sent, 1000, &err));
        char got[64];
        assert_int_equal(read(pty.controller, got, sizeof got), sizeof sent);
        assert_memory_equal(got, sent, sizeof sent);
        port_close(port);
        close(pty.controller);
    }
}

static void silence_ends_when_the_time_is_over(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        char got[8];
        size_t n;
        assert_int_equal(port_read(port, got, sizeof got, &n, 20), PORT_SILENCE);
        assert_int_equal(n, 0);
        assert_int_equal(port_read(port, got, sizeof got, &n, 0), PORT_SILENCE);
        port_close(port);
        close(pty.controller);
    }
}

static void a_hang_up_is_told_from_silence(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        close(pty.controller);
        char got[8];
        size_t n;
        struct err err = {.code = STATUS_OK};
        assert_int_equal(port_read(port, got, sizeof got, &n, 1000), PORT_GONE);
        assert_int_equal(port_read(port, got, sizeof got, &n, 0), PORT_GONE);
        assert_int_equal(port_write(port, "x", 1, 1000, &err), STATUS_NO_BENCH);
        port_close(port);
    }
}

static void what_came_before_is_discarded(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        int other = open(pty.path, O_RDWR | O_NOCTTY);
        assert_int_equal(write(pty.controller, "old\n", 4), 4);
        struct port *port = open_on(&pty, transport);
        char got[8];
        size_t n;
        assert_int_equal(port_read(port, got, sizeof got, &n, 20), PORT_SILENCE);
        port_close(port);
        close(other);
        close(pty.controller);
    }
}

static void a_port_in_use_is_refused(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        check_refused(pty.path, PORT_TRANSPORT_TTY, "another program uses the port");
        check_refused(pty.path, PORT_TRANSPORT_SERIALPORT, "another program uses the port");
        port_close(port);
        port_close(open_on(&pty, transport));
        close(pty.controller);
    }
}

static void a_port_that_was_closed_is_free_for_other_programs(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        port_close(open_on(&pty, transport));
        int other = open(pty.path, O_RDWR | O_NOCTTY);
        assert_true(other >= 0);
        int exclusive = 1;
        assert_int_equal(ioctl(other, TIOCGEXCL, &exclusive), 0);
        assert_int_equal(exclusive, 0);
        close(other);
        close(pty.controller);
    }
}

static void a_program_that_is_started_does_not_get_the_port(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        struct port *port = open_on(&pty, transport);
        assert_true(fcntl(port_fd(port), F_GETFD) & FD_CLOEXEC);
        port_close(port);
        close(pty.controller);
    }
}

static void a_link_is_followed(void **state)
{
    (void)state;
    char folder[] = "/tmp/test_port_XXXXXX";
    assert_non_null(mkdtemp(folder));
    char link[64];
    (void)snprintf(link, sizeof link, "%s/controller", folder);
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make(), through;
        assert_int_equal(symlink(pty.path, link), 0);
        through = pty;
        (void)snprintf(through.path, sizeof through.path, "%s", link);
        struct port *port = open_on(&through, transport);
        assert_string_equal(port_path(port), pty.path);
        port_close(port);
        unlink(link);
        close(pty.controller);
    }
    rmdir(folder);
}

static void a_port_that_is_not_there_is_named_with_those_that_are(void **state)
{
    (void)state;
    check_refused("/dev/ttyUSB77", PORT_TRANSPORT_AUTO, "/dev/ttyUSB77: there is no such port");
    struct buf ports = {0};
    port_list(&ports);
    assert_true(ports.length > 0);
    check_refused("/dev/ttyUSB77", PORT_TRANSPORT_AUTO, buf_string(&ports));
    buf_clear(&ports);
}

static void what_is_no_serial_port_is_refused(void **state)
{
    (void)state;
    check_refused("/dev/null", PORT_TRANSPORT_AUTO, "is not a serial port");
    check_refused("/dev/null", PORT_TRANSPORT_SERIALPORT, "is not a serial port");
    check_refused("/etc/passwd", PORT_TRANSPORT_AUTO, "is not a serial port");
    check_refused("/tmp", PORT_TRANSPORT_AUTO, "is not a serial port");
}

static void without_permission_the_group_is_named(void **state)
{
    (void)state;
    FOR_BOTH(transport)
    {
        struct pty pty = pty_make();
        assert_int_equal(chmod(pty.path, 0), 0);
        bool root = geteuid() == 0;
        if (root)
            assert_int_equal(seteuid(65534), 0);
        check_refused(pty.path, transport, "dialout");
        if (root)
            assert_int_equal(seteuid(0), 0);
        close(pty.controller);
    }
}

static void a_speed_that_the_port_does_not_take_is_noticed(void **state)
{
    (void)state;
    struct pty pty = pty_make();
    serial_on_pty_stuck_speed = B9600;
    check_refused(pty.path, PORT_TRANSPORT_SERIALPORT,
                  "does not take 115200 baud, it stays at 9600");
    serial_on_pty_stuck_speed = 0;
    close(pty.controller);
}

/* A pseudo-terminal can't do 7 bits. */
static void a_framing_that_the_port_does_not_take_is_noticed(void **state)
{
    (void)state;
    struct pty pty = pty_make();
    struct port_settings settings = settings_of(PORT_TRANSPORT_SERIALPORT);
    settings.data_bits = 7;
    struct port *port = NULL;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(port_open(&port, pty.path, &settings, &err), STATUS_NO_BENCH);
    assert_null(port);
    close(pty.controller);
}

static void only_usual_speeds_are_known(void **state)
{
    (void)state;
    assert_true(port_baud_known(9600));
    assert_true(port_baud_known(115200));
    assert_false(port_baud_known(0));
    assert_false(port_baud_known(-1));
    assert_false(port_baud_known(250000));
    assert_false(port_baud_known(115201));
}

static void an_adapter_that_is_not_plugged_in_is_not_found(void **state)
{
    (void)state;
    struct buf path = {0};
    struct port_identity identity = {.usb = true, .vendor = 1, .product = 2, .serial = "none such"};
    assert_false(port_find(&identity, &path));
    identity.usb = false;
    assert_false(port_find(&identity, &path));
    assert_int_equal(path.length, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_transport_is_what_was_asked_for),
        cmocka_unit_test(bytes_come_as_they_were_sent),
        cmocka_unit_test(bytes_go_as_they_were_written),
        cmocka_unit_test(silence_ends_when_the_time_is_over),
        cmocka_unit_test(a_hang_up_is_told_from_silence),
        cmocka_unit_test(what_came_before_is_discarded),
        cmocka_unit_test(a_port_in_use_is_refused),
        cmocka_unit_test(a_port_that_was_closed_is_free_for_other_programs),
        cmocka_unit_test(a_program_that_is_started_does_not_get_the_port),
        cmocka_unit_test(a_link_is_followed),
        cmocka_unit_test(a_port_that_is_not_there_is_named_with_those_that_are),
        cmocka_unit_test(what_is_no_serial_port_is_refused),
        cmocka_unit_test(without_permission_the_group_is_named),
        cmocka_unit_test(a_speed_that_the_port_does_not_take_is_noticed),
        cmocka_unit_test(a_framing_that_the_port_does_not_take_is_noticed),
        cmocka_unit_test(only_usual_speeds_are_known),
        cmocka_unit_test(an_adapter_that_is_not_plugged_in_is_not_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
