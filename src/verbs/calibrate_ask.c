#include "verbs/calibrate_ask.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <unistd.h>

bool answers_terminal(void)
{
    return isatty(STDIN_FILENO) == 1;
}

/* Hands out the first line of what was read. */
static bool take_line(struct answers *answers, char line[ANSWER_MAX])
{
    char *end = memchr(answers->text, '\n', answers->length);
    bool full = answers->length == sizeof answers->text - 1;
    if (end == NULL && !full && !(answers->ended && answers->length > 0))
        return false;
    size_t length = end != NULL ? (size_t)(end - answers->text) : answers->length;
    size_t used = end != NULL ? length + 1 : length;
    memcpy(line, answers->text, length);
    if (length > 0 && line[length - 1] == '\r')
        length--;
    line[length] = '\0';
    memmove(answers->text, answers->text + used, answers->length - used);
    answers->length -= used;
    return true;
}

enum answer_event answers_read(struct answers *answers, int timeout_ms, char line[ANSWER_MAX])
{
    if (take_line(answers, line))
        return ANSWER_LINE;
    if (answers->ended)
        return ANSWER_END;
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    if (poll(&input, 1, timeout_ms) <= 0)
        return ANSWER_NONE;
    ssize_t got = read(STDIN_FILENO, answers->text + answers->length,
                       sizeof answers->text - 1 - answers->length);
    if (got > 0)
        answers->length += (size_t)got;
    else if (got == 0 || (errno != EINTR && errno != EAGAIN))
        answers->ended = true;
    if (take_line(answers, line))
        return ANSWER_LINE;
    return answers->ended ? ANSWER_END : ANSWER_NONE;
}
