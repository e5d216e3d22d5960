/* SPDX-License-Identifier: MIT */
#include "base/utf8.h"

#include <string.h>

static bool follows(unsigned char c) {
    return (c & 0xC0) == 0x80;
}

bool utf8_valid(const char *text, size_t len) {
    const unsigned char *p = (const unsigned char *)text;
    const unsigned char *end = p + len;
    while (p < end) {
        uint64_t eight;
        if (end - p >= (ptrdiff_t)sizeof eight) {
            memcpy(&eight, p, sizeof eight);
            if ((eight & UINT64_C(0x8080808080808080)) == 0) {
                p += sizeof eight;
                continue;
            }
        }
        if (*p < 0x80) {
            p++;
            continue;
        }
        size_t more = *p >= 0xF0 ? 3 : *p >= 0xE0 ? 2 : 1;
        if (*p < 0xC2 || *p > 0xF4 || (size_t)(end - p) <= more)
            return false;
        for (size_t i = 1; i <= more; i++) {
            if (!follows(p[i]))
                return false;
        }
        /* Overlong forms, surrogates, and what lies past U+10FFFF. */
        if ((*p == 0xE0 && p[1] < 0xA0) || (*p == 0xED && p[1] > 0x9F) ||
            (*p == 0xF0 && p[1] < 0x90) || (*p == 0xF4 && p[1] > 0x8F))
            return false;
        p += more + 1;
    }
    return true;
}

void utf8_mask(char *text) {
    bool valid = utf8_valid(text, strlen(text));
    for (; *text != '\0'; text++) {
        unsigned char byte = (unsigned char)*text;
        if (byte < 0x20 || byte == 0x7f || (!valid && byte >= 0x80))
            *text = '?';
    }
}

uint32_t utf8_next(const char **text) {
    const unsigned char *p = (const unsigned char *)*text;
    uint32_t c = *p++;
    int more = c >= 0xF0 ? 3 : c >= 0xE0 ? 2 : c >= 0xC0 ? 1 : 0;
    if (c >= 0x80 && more == 0)
        c = 0xFFFD;
    else if (more > 0)
        c &= 0x3Fu >> more;
    for (; more > 0; more--) {
        if (!follows(*p)) {
            c = 0xFFFD;
            break;
        }
        c = c << 6 | (*p++ & 0x3Fu);
    }
    *text = (const char *)p;
    return c;
}

size_t utf8_fit(const char *text, size_t most) {
    size_t len = strnlen(text, most + 1);
    if (len <= most)
        return len;
    while (most > 0 && follows((unsigned char)text[most]))
        most--;
    return most;
}

bool utf8_is_noncharacter(uint32_t c) {
    return (c >= 0xFDD0 && c <= 0xFDEF) || (c & 0xFFFE) == 0xFFFE;
}

bool utf8_is_control(uint32_t c) {
    return c < 0x20 || (c >= 0x7F && c < 0xA0);
}

bool utf8_is_bidi_control(uint32_t c) {
    return (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
}

struct range {
    uint32_t from;
    uint32_t to;
};

static bool within(const struct range *ranges, size_t count, uint32_t c) {
    for (size_t i = 0; i < count; i++) {
        if (c >= ranges[i].from && c <= ranges[i].to)
            return true;
    }
    return false;
}

static int width_of(uint32_t c) {
    static const struct range none[] = {
        {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x05BF, 0x05BF}, {0x05C1, 0x05C2},
        {0x05C4, 0x05C5}, {0x0610, 0x061A}, {0x064B, 0x065F}, {0x0670, 0x0670}, {0x06D6, 0x06DC},
        {0x093C, 0x093C}, {0x0941, 0x0948}, {0x094D, 0x094D}, {0x0E31, 0x0E31}, {0x0E34, 0x0E3A},
        {0x0E47, 0x0E4E}, {0x1AB0, 0x1AFF}, {0x1DC0, 0x1DFF}, {0x200B, 0x200F}, {0x202A, 0x202E},
        {0x2060, 0x2064}, {0x2066, 0x2069}, {0x20D0, 0x20FF}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F},
        {0xFEFF, 0xFEFF},
    };
    static const struct range wide[] = {
        {0x1100, 0x115F},   {0x2E80, 0x303E},   {0x3041, 0x33FF}, {0x3400, 0x4DBF},
        {0x4E00, 0x9FFF},   {0xA000, 0xA4CF},   {0xAC00, 0xD7A3}, {0xF900, 0xFAFF},
        {0xFE30, 0xFE6F},   {0xFF00, 0xFF60},   {0xFFE0, 0xFFE6}, {0x1F300, 0x1F64F},
        {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD},
    };
    if (c < 0x300)
        return 1;
    if (within(none, sizeof none / sizeof none[0], c))
        return 0;
    return within(wide, sizeof wide / sizeof wide[0], c) ? 2 : 1;
}

int utf8_width(const char *text) {
    int width = 0;
    while (*text != '\0')
        width += width_of(utf8_next(&text));
    return width;
}
