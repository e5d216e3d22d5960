/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "system/qr.h"

/* A reader for codes of one block (versions 1 to 3 at level M), written from the standard's layout
 * alone: it draws the path, finds the mask, walks the codewords and takes the bytes out. */

enum { SIDE_MAX = 29, QUIET_ZONE = 4 };

struct code {
    int side;
    bool dark[SIDE_MAX][SIDE_MAX];
};

static long number(const char **at) {
    char *end;
    while (**at == ' ')
        (*at)++;
    long value = strtol(*at, &end, 10);
    assert_true(end > *at);
    *at = end;
    return value;
}

/* Draws the dark path: each run is "Mx yhNv1h-Nz". */
static void draw(const char *svg, struct code *code) {
    const char *at = strstr(svg, "viewBox=\"0 0 ");
    assert_non_null(at);
    at += strlen("viewBox=\"0 0 ");
    code->side = (int)number(&at) - 2 * QUIET_ZONE;
    assert_in_range(code->side, 21, SIDE_MAX);
    at = strstr(svg, "fill=\"#000\" d=\"");
    assert_non_null(at);
    at += strlen("fill=\"#000\" d=\"");
    while (*at == 'M') {
        at++;
        long x = number(&at) - QUIET_ZONE;
        long y = number(&at) - QUIET_ZONE;
        assert_int_equal(*at++, 'h');
        long run = number(&at);
        assert_true(x >= 0 && y >= 0 && run > 0 && x + run <= code->side && y < code->side);
        while (*at != 'z')
            at++;
        at++;
        for (long i = 0; i < run; i++)
            code->dark[y][x + i] = true;
    }
    assert_int_equal(*at, '"');
}

static bool masked(int mask, int row, int col) {
    switch (mask) {
    case 0:
        return (row + col) % 2 == 0;
    case 1:
        return row % 2 == 0;
    case 2:
        return col % 3 == 0;
    case 3:
        return (row + col) % 3 == 0;
    case 4:
        return (row / 2 + col / 3) % 2 == 0;
    case 5:
        return row * col % 2 + row * col % 3 == 0;
    case 6:
        return (row * col % 2 + row * col % 3) % 2 == 0;
    default:
        return ((row + col) % 2 + row * col % 3) % 2 == 0;
    }
}

/* Finders with their format bits, timing, and the one alignment pattern of versions 2 and 3. */
static bool is_function(int side, int row, int col) {
    if (row == 6 || col == 6)
        return true;
    if ((row < 9 && col < 9) || (row < 9 && col >= side - 8) || (row >= side - 8 && col < 9))
        return true;
    return side > 21 && row >= side - 9 && row < side - 4 && col >= side - 9 && col < side - 4;
}

/* Which mask was used: three of the five bits at the left finder, under the standard's own mask
 * 101010000010010. */
static int mask_of(const struct code *code) {
    int bits = 0;
    for (int i = 0; i < 5; i++)
        bits = bits * 2 + code->dark[8][i];
    return (bits ^ 21) & 7;
}

static void read_bits(const struct code *code, unsigned char *bits) {
    int mask = mask_of(code);
    int used = 0;
    bool up = true;
    for (int right = code->side - 1; right > 0; right -= 2) {
        if (right == 6)
            right--;
        for (int i = 0; i < code->side; i++) {
            int row = up ? code->side - 1 - i : i;
            for (int col = right; col > right - 2; col--) {
                if (!is_function(code->side, row, col))
                    bits[used++] = code->dark[row][col] != masked(mask, row, col);
            }
        }
        up = !up;
    }
}

static int take(const unsigned char **bits, int count) {
    int value = 0;
    for (int i = 0; i < count; i++)
        value = value * 2 + *(*bits)++;
    return value;
}

static void reads_back(const char *text) {
    struct textbuf b = {0};
    struct code code = {0};
    unsigned char bits[SIDE_MAX * SIDE_MAX] = {0};
    const unsigned char *at = bits;
    assert_int_equal(qr_svg(&b, text), ERR_OK);
    draw(textbuf_text(&b), &code);
    read_bits(&code, bits);
    assert_int_equal(take(&at, 4), 4); /* bytes follow */
    assert_int_equal(take(&at, 8), strlen(text));
    for (size_t i = 0; i < strlen(text); i++)
        assert_int_equal(take(&at, 8), (unsigned char)text[i]);
    textbuf_clear(&b);
}

static void the_modules_say_the_text(void **state) {
    (void)state;
    reads_back("merrow");
    reads_back("http://10.0.0.4/x/");
    reads_back("https://r.merrow.example/merrow-2027/c/7");
    reads_back("Györ / 伊藤");
}

static void what_fits_no_code_is_refused(void **state) {
    struct textbuf b = {0};
    char text[1200];
    (void)state;
    memset(text, 'a', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    assert_int_equal(qr_svg(&b, text), ERR_INPUT);
    assert_int_equal(qr_svg(&b, ""), ERR_INPUT);
    assert_int_equal(b.len, 0);
    text[1000] = '\0';
    assert_int_equal(qr_svg(&b, text), ERR_OK);
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_modules_say_the_text),
        cmocka_unit_test(what_fits_no_code_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
