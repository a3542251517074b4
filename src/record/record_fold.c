#include "base/utf8.h"
#include "record/record_private.h"

#include <string.h>

/* The lower-case letter of an upper-case one; any other code point as it is. Latin-1, Latin
 * Extended-A, Greek and Cyrillic, as the Unicode Character Database's simple case folding has
 * them; fixed here, so that a stored text folds the same on every machine. */
static uint32_t lower(uint32_t c)
{
    if ((c >= 'A' && c <= 'Z') || (c >= 0xC0 && c <= 0xDE && c != 0xD7) ||
        (c >= 0x391 && c <= 0x3AB && c != 0x3A2) || (c >= 0x410 && c <= 0x42F))
        return c + 32;
    if (c >= 0x400 && c <= 0x40F)
        return c + 80;
    /* Latin Extended-A and the rest of Cyrillic stand in pairs, upper case first on even numbers,
     * but on odd numbers in two stretches */
    if ((c >= 0x100 && c <= 0x12F) || (c >= 0x132 && c <= 0x137) || (c >= 0x14A && c <= 0x177) ||
        (c >= 0x460 && c <= 0x481) || (c >= 0x48A && c <= 0x4BF) || (c >= 0x4D0 && c <= 0x52F))
        return c | 1;
    if ((c >= 0x139 && c <= 0x148) || (c >= 0x179 && c <= 0x17E))
        return c + (c & 1);
    return c == 0x178 ? 0xFF : c;
}

static void add_code_point(struct buf *out, uint32_t c)
{
    if (c < 0x80) {
        buf_char(out, (char)c);
    } else { /* all that lower() changes fits in two bytes */
        buf_char(out, (char)(0xC0 | c >> 6));
        buf_char(out, (char)(0x80 | (c & 0x3F)));
    }
}

void fold_case(struct buf *out, const char *text)
{
    size_t length = strlen(text);
    while (length > 0) {
        uint32_t c;
        size_t n = utf8_decode(text, length, &c);
        if (n == 1 || n == 2)
            add_code_point(out, lower(c));
        else
            buf_add(out, text, n > 0 ? n : 1);
        n = n > 0 ? n : 1;
        text += n;
        length -= n;
    }
}
