/*
 * status: how every room reports that something could not be done.
 *
 * One idiom for errors: a function that can fail returns an enum status and takes a
 * struct err * as its last parameter (which may be NULL). The message is made once, where
 * the fault is known, and says what happened, where (file:line, port) and what to do next.
 * Not for: a caller's own mistakes (those are assert) and lack of memory (base/mem.h).
 */
#ifndef PULLCURVE_BASE_STATUS_H
#define PULLCURVE_BASE_STATUS_H

/* code, exit code of the program (64-75 follow sysexits.h), meaning */
#define STATUS_LIST(X)                                    \
    X(STATUS_OK, 0, "done")                               \
    X(STATUS_ANSWER_NO, 1, "the answer is no")            \
    X(STATUS_NOT_PROVEN, 2, "not proven either way")      \
    X(STATUS_USAGE, 64, "wrong usage")                    \
    X(STATUS_BAD_INPUT, 65, "bad input")                  \
    X(STATUS_TOO_FEW, 65, "not enough readings")          \
    X(STATUS_NO_FIT, 65, "the numbers allow no result")   \
    X(STATUS_NO_INPUT, 66, "no such input")               \
    X(STATUS_NOT_CALIBRATED, 66, "not calibrated")        \
    X(STATUS_NO_BENCH, 69, "bench or port not available") \
    X(STATUS_INTERNAL, 70, "internal fault")              \
    X(STATUS_CANT_WRITE, 73, "can't write")               \
    X(STATUS_INTERRUPTED, 75, "interrupted, what was measured is kept")

enum status {
#define STATUS_ENUM(code, exit_code, text) code,
    STATUS_LIST(STATUS_ENUM)
#undef STATUS_ENUM
};

enum { ERR_TEXT_MAX = 1024 };

/* A fault: its code and its message (UTF-8, no newline at the end, cut at ERR_TEXT_MAX). The text
 * may quote what a user or a device sent: it goes to a terminal through escape_terminal() only. */
struct err {
    enum status code;
    char text[ERR_TEXT_MAX];
};

/* Sets *err (if err is not NULL) and returns code, so that a caller can write
 * `return err_set(err, STATUS_BAD_INPUT, "%s:%zu: ...", ...)`. */
enum status err_set(struct err *err, enum status code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Puts "context: " before the message that *err holds already; keeps and returns its code. */
enum status err_prefix(struct err *err, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The program's exit code for a status. */
int status_exit_code(enum status code);

/* The meaning of a status in words; a constant string. */
const char *status_text(enum status code);

#endif
