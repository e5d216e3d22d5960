/* SPDX-License-Identifier: MIT */
#include "system/text_encoding.h"

#include <errno.h>
#include <iconv.h>
#include <string.h>

#include "base/textbuf.h"
#include "base/utf8.h"

const char *const text_encodings[] = {"any", "utf-8", "windows-1252", "utf-16le", "utf-16be", NULL};

enum { STEP = 1024 };

enum text_encoding text_encoding_of(const char *bytes, size_t len, enum text_encoding told) {
    if (told != TEXT_ANY || len < 2)
        return told;
    if (memcmp(bytes, "\xFF\xFE", 2) == 0)
        return TEXT_UTF16LE;
    return memcmp(bytes, "\xFE\xFF", 2) == 0 ? TEXT_UTF16BE : told;
}

/* A byte that is no letter is passed over, and told by the sign for it. */
static size_t convert(const char *from, const char *bytes, size_t len, struct textbuf *out) {
    iconv_t failed = (iconv_t)-1; /* NOLINT(performance-no-int-to-ptr): so POSIX says it */
    iconv_t to = iconv_open("UTF-8", from);
    char *in = (char *)bytes; /* iconv does not write to it */
    size_t left = len;
    if (to == failed) {
        out->failed = true;
        return len;
    }
    while (left > 0 && !out->failed) {
        char room[STEP];
        char *end = room;
        size_t free_bytes = sizeof room;
        size_t result = iconv(to, &in, &left, &end, &free_bytes);
        int error = errno;
        textbuf_add(out, room, sizeof room - free_bytes);
        if (result != (size_t)-1 || error == E2BIG)
            continue;
        if (error == EINVAL)
            break;
        size_t wrong = strcmp(from, "CP1252") == 0 ? 1 : 2;
        wrong = wrong > left ? left : wrong;
        textbuf_puts(out, "\xEF\xBF\xBD");
        in += wrong;
        left -= wrong;
    }
    (void)iconv_close(to);
    return len - left;
}

static void decode_line(const char *line, size_t len, struct textbuf *out) {
    if (utf8_valid(line, len))
        textbuf_add(out, line, len);
    else
        (void)convert("CP1252", line, len, out);
}

size_t text_decode(enum text_encoding encoding, const char *bytes, size_t len,
                   struct textbuf *out) {
    switch (encoding) {
    case TEXT_UTF8:
        textbuf_add(out, bytes, len);
        return len;
    case TEXT_WINDOWS_1252:
        return convert("CP1252", bytes, len, out);
    case TEXT_UTF16LE:
        return convert("UTF-16LE", bytes, len, out);
    case TEXT_UTF16BE:
        return convert("UTF-16BE", bytes, len, out);
    case TEXT_ANY:
        break;
    }
    for (size_t at = 0; at < len;) {
        const char *end = memchr(bytes + at, '\n', len - at);
        size_t line = end == NULL ? len - at : (size_t)(end - bytes) - at + 1;
        decode_line(bytes + at, line, out);
        at += line;
    }
    return len;
}
