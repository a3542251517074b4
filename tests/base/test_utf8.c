/* UTF-8: what is valid, and which code point stands there. Python's decoder is the outside truth;
 * both follow the Unicode Standard 15, table 3-7. */
#include "base/buf.h"
#include "base/utf8.h"
#include "check.h"
#include "random.h"
#include "run.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Encodes as table 3-6 of the Unicode Standard lays the bits out. */
static size_t encode(uint32_t code_point, char *text)
{
    if (code_point < 0x80) {
        text[0] = (char)code_point;
        return 1;
    }
    size_t n = code_point < 0x800 ? 2 : code_point < 0x10000 ? 3 : 4;
    for (size_t i = n - 1; i > 0; i--) {
        text[i] = (char)(0x80 | (code_point & 0x3F));
        code_point >>= 6;
    }
    static const unsigned lead[5] = {0, 0, 0xC0, 0xE0, 0xF0};
    text[0] = (char)(lead[n] | code_point);
    return n;
}

static void every_code_point_is_read_and_surrogates_are_refused(void **state)
{
    (void)state;
    for (uint32_t point = 0; point <= 0x110010; point++) {
        char text[4];
        size_t n = encode(point, text);
        uint32_t got = 0xFFFFFFFF;
        size_t used = utf8_decode(text, n, &got);
        bool good = point <= 0x10FFFF && !(point >= 0xD800 && point <= 0xDFFF);
        if (used != (good ? n : 0) || (good && got != point))
            fail_msg("U+%04X: %zu bytes used, U+%04X", point, used, got);
    }
}

static void a_sequence_cut_short_is_refused(void **state)
{
    (void)state;
    static const uint32_t point[] = {0xE9, 0x20AC, 0x1F3F9};
    for (size_t i = 0; i < sizeof point / sizeof point[0]; i++) {
        char text[4];
        uint32_t got;
        size_t n = encode(point[i], text);
        for (size_t length = 1; length < n; length++) {
            char *exact = malloc(length); /* a sanitizer sees a byte too far */
            memcpy(exact, text, length);
            assert_int_equal(utf8_decode(exact, length, &got), 0);
            assert_false(utf8_valid(exact, length));
            free(exact);
        }
    }
    assert_true(utf8_valid("", 0));
}

/* Prints one '0' or '1' for each case: is it valid? First all of one byte, all of two, all of three
 * that begin with E0..EF, then of four with the second byte free and the rest at the borders; then
 * the lines of hexadecimal in the file named. */
static const char *const python =
    "import sys\n"
    "def ok(b):\n"
    "    try:\n"
    "        bytes(b).decode('utf-8'); return '1'\n"
    "    except UnicodeDecodeError:\n"
    "        return '0'\n"
    "r = range(256); e = (0x7F, 0x80, 0xBF, 0xC0); w = sys.stdout.write\n"
    "w(''.join(ok((a,)) for a in r))\n"
    "w(''.join(ok((a, b)) for a in r for b in r))\n"
    "w(''.join(ok((a, b, c)) for a in range(0xE0, 0xF0) for b in r for c in r))\n"
    "w(''.join(ok((a, b, c, d)) for a in range(0xF0, 0x100) for b in r for c in e for d in e))\n"
    "w(''.join(ok(bytes.fromhex(line)) for line in open(sys.argv[1])))\n";

static size_t n_checked;

static void check_like_python(const char *answers, const unsigned char *bytes, size_t n)
{
    bool valid = utf8_valid((const char *)bytes, n);
    if (answers[n_checked] != (valid ? '1' : '0'))
        fail_msg("case %zu, %zu bytes, the first %02X: pullcurve %d, python %c", n_checked, n,
                 bytes[0], valid, answers[n_checked]);
    n_checked++;
}

static void check_all_short_ones(const char *answers)
{
    static const unsigned char border[4] = {0x7F, 0x80, 0xBF, 0xC0};
    for (unsigned a = 0; a < 0x100; a++)
        check_like_python(answers, (unsigned char[]){(unsigned char)a}, 1);
    for (unsigned ab = 0; ab < 0x10000; ab++)
        check_like_python(answers, (unsigned char[]){(unsigned char)(ab >> 8), (unsigned char)ab},
                          2);
    for (unsigned abc = 0xE00000; abc < 0xF00000; abc++)
        check_like_python(answers,
                          (unsigned char[]){(unsigned char)(abc >> 16), (unsigned char)(abc >> 8),
                                            (unsigned char)abc},
                          3);
    for (unsigned ab = 0xF000; ab < 0x10000; ab++)
        for (unsigned cd = 0; cd < 16; cd++)
            check_like_python(answers,
                              (unsigned char[]){(unsigned char)(ab >> 8), (unsigned char)ab,
                                                border[cd / 4], border[cd % 4]},
                              4);
}

enum { N_RANDOM = 20000, LENGTH = 12 };

static void validity_agrees_with_python(void **state)
{
    (void)state;
    struct random random = random_start();
    static unsigned char texts[N_RANDOM][LENGTH];
    struct buf hex = {0}, command = {0}, answers = {0};
    for (size_t i = 0; i < N_RANDOM; i++) {
        for (size_t at = 0; at < LENGTH;) { /* mostly good characters, some bytes broken */
            char one[4];
            uint32_t most = random_int(&random, 0, 1) ? 0x7FFu : 0x10FFFFu;
            size_t n = encode((uint32_t)random_int(&random, 0, (int)most), one);
            for (size_t k = 0; k < n && at < LENGTH; k++)
                texts[i][at++] = (unsigned char)one[k];
        }
        if (random_int(&random, 0, 2) == 0)
            texts[i][random_int(&random, 0, LENGTH - 1)] = (unsigned char)random_bits(&random);
        for (size_t at = 0; at < LENGTH; at++)
            buf_printf(&hex, "%02x", texts[i][at]);
        buf_char(&hex, '\n');
    }
    char path[] = "/tmp/pullcurve-utf8-XXXXXX";
    struct err err;
    close(mkstemp(path));
    check_ok(buf_write_file(&hex, path, &err));
    buf_printf(&command, "/usr/bin/python3 -c \"%s\" %s", python, path);
    int code = run_command(&answers, buf_string(&command));
    unlink(path);
    assert_int_equal(code, 0);

    n_checked = 0;
    check_all_short_ones(buf_string(&answers));
    for (size_t i = 0; i < N_RANDOM; i++)
        check_like_python(buf_string(&answers), texts[i], LENGTH);
    assert_int_equal(n_checked, answers.length);
    buf_clear(&hex);
    buf_clear(&command);
    buf_clear(&answers);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_code_point_is_read_and_surrogates_are_refused),
        cmocka_unit_test(a_sequence_cut_short_is_refused),
        cmocka_unit_test(validity_agrees_with_python),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
