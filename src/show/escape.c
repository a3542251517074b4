#include "show/escape.h"

#include "base/utf8.h"

#include <stdbool.h>
#include <string.h>

static const uint32_t replacement = 0xFFFD;

/* One code point of a text: what may be shown of it. */
struct shown {
    uint32_t code_point; /* U+FFFD for what can't be shown */
    size_t length;       /* bytes of the text that it stands for */
};

static bool is_control(uint32_t c)
{
    return c < 0x20 || (c >= 0x7F && c < 0xA0) || c == 0x2028 || c == 0x2029;
}

/* Marks that turn the direction of the text around them, and so what it seems to say. */
static bool turns_direction(uint32_t c)
{
    return c == 0x061C || c == 0x200E || c == 0x200F || (c >= 0x202A && c <= 0x202E) ||
           (c >= 0x2066 && c <= 0x2069);
}

static bool is_noncharacter(uint32_t c)
{
    return (c & 0xFFFE) == 0xFFFE || (c >= 0xFDD0 && c <= 0xFDEF);
}

/* The code point at text (not its end). Line feed, CR and tab are given as they are; what to do
 * with them differs between the formats. */
static struct shown next_shown(const char *text)
{
    struct shown shown;
    shown.length = utf8_decode(text, strlen(text) < 4 ? strlen(text) : 4, &shown.code_point);
    if (shown.length == 0)
        return (struct shown){replacement, 1};
    uint32_t c = shown.code_point;
    bool layout = c == '\n' || c == '\r' || c == '\t';
    if (!layout && (is_control(c) || turns_direction(c) || is_noncharacter(c)))
        shown.code_point = replacement;
    return shown;
}

/* Adds the bytes of text that shown stands for, or U+FFFD. */
static void add_shown(struct buf *out, const char *text, struct shown shown)
{
    if (shown.code_point == replacement)
        buf_text(out, "\xEF\xBF\xBD");
    else
        buf_add(out, text, shown.length);
}

/* The same for formats that are one line: line feed and tab are a space, CR can't be shown. */
static struct shown next_on_one_line(const char *text)
{
    struct shown shown = next_shown(text);
    if (shown.code_point == '\r')
        shown.code_point = replacement;
    return shown;
}

void escape_terminal(struct buf *out, const char *text)
{
    while (*text != '\0') {
        struct shown shown = next_on_one_line(text);
        if (shown.code_point == '\n' || shown.code_point == '\t')
            buf_char(out, ' ');
        else
            add_shown(out, text, shown);
        text += shown.length;
    }
}

static bool is_letter_or_space(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == ' ';
}

/* Digits are escaped too: gnuplot takes a digit behind an octal escape as part of it. */
void escape_gnuplot(struct buf *out, const char *text)
{
    struct buf plain = {0};
    escape_terminal(&plain, text);
    buf_char(out, '"');
    for (size_t i = 0; i < plain.length; i++) {
        if (is_letter_or_space(plain.text[i]))
            buf_char(out, plain.text[i]);
        else
            buf_printf(out, "\\%03o", (unsigned)(unsigned char)plain.text[i]);
    }
    buf_char(out, '"');
    buf_clear(&plain);
}

static const char *html_entity(uint32_t code_point)
{
    switch (code_point) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    case '\r':
        return "&#13;";
    default:
        return NULL;
    }
}

void escape_html(struct buf *out, const char *text)
{
    while (*text != '\0') {
        struct shown shown = next_shown(text);
        const char *entity = html_entity(shown.code_point);
        if (entity != NULL)
            buf_text(out, entity);
        else
            add_shown(out, text, shown);
        text += shown.length;
    }
}

/* What makes a spreadsheet take a cell for a formula: also in the wide forms of East Asian fonts,
 * which some of them fold. */
static bool starts_formula(uint32_t c)
{
    return c == '=' || c == '+' || c == '-' || c == '@' || c == '\t' || c == '\r' || c == '\n' ||
           c == 0xFF1D || c == 0xFF0B || c == 0xFF0D || c == 0xFF20;
}

void escape_csv(struct buf *out, const char *text)
{
    bool formula = *text != '\0' && starts_formula(next_shown(text).code_point);
    size_t length = strlen(text);
    bool quoted = strpbrk(text, ",;\"\n\r\t") != NULL ||
                  (length > 0 && (text[0] == ' ' || text[length - 1] == ' '));
    if (quoted)
        buf_char(out, '"');
    if (formula)
        buf_char(out, '\'');
    while (*text != '\0') {
        struct shown shown = next_shown(text);
        if (shown.code_point == '"')
            buf_char(out, '"');
        add_shown(out, text, shown);
        text += shown.length;
    }
    if (quoted)
        buf_char(out, '"');
}
