#include "base/utf8.h"

size_t utf8_decode(const char *text, size_t length, uint32_t *code_point)
{
    const unsigned char *b = (const unsigned char *)text;
    if (b[0] < 0x80) {
        *code_point = b[0];
        return 1;
    }
    size_t n = b[0] >= 0xF0 ? 4 : b[0] >= 0xE0 ? 3 : 2;
    if (b[0] < 0xC2 || b[0] > 0xF4 || n > length)
        return 0;
    uint32_t value = b[0] & (0x7Fu >> n);
    for (size_t i = 1; i < n; i++) {
        if ((b[i] & 0xC0) != 0x80)
            return 0;
        value = value << 6 | (b[i] & 0x3Fu);
    }
    static const uint32_t smallest[5] = {0, 0, 0x80, 0x800, 0x10000};
    if (value < smallest[n] || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF))
        return 0;
    *code_point = value;
    return n;
}

bool utf8_valid(const char *text, size_t length)
{
    while (length > 0) {
        uint32_t ignored;
        size_t n = utf8_decode(text, length, &ignored);
        if (n == 0)
            return false;
        text += n;
        length -= n;
    }
    return true;
}
