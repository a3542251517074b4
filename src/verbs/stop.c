#include "verbs/stop.h"

#include <signal.h>
#include <stddef.h>

static volatile sig_atomic_t asked;

static void ask(int signal_number)
{
    (void)signal_number;
    asked = 1;
}

void stop_install(void)
{
    struct sigaction action = {.sa_handler = ask, .sa_flags = (int)SA_RESETHAND};
    (void)sigemptyset(&action.sa_mask);
    (void)sigaction(SIGINT, &action, NULL);
    (void)sigaction(SIGTERM, &action, NULL);
    (void)sigaction(SIGHUP, &action, NULL);
}

bool stop_asked(void)
{
    return asked != 0;
}

const volatile int *stop_flag(void)
{
    return &asked;
}
