/* SPDX-License-Identifier: MIT */
#include "system/qr.h"

#include <errno.h>
#include <qrencode.h>
#include <string.h>

#include "base/err.h"

enum { TEXT_MAX = 1000 };

/* One horizontal stroke for each run of dark modules, from where the pen is. */
static void write_row(struct textbuf *b, const unsigned char *row, int width, int y) {
    for (int x = 0; x < width; x++) {
        int from = x;
        while (x < width && (row[x] & 1) != 0)
            x++;
        if (x > from)
            textbuf_printf(b, "M%d %dh%dv1h-%dz", from + QR_QUIET, y + QR_QUIET, x - from,
                           x - from);
    }
}

static int encode(const char *text, QRcode **out) {
    if (*text == '\0' || strlen(text) > TEXT_MAX)
        return ERR_INPUT;
    *out = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
    if (*out == NULL)
        return errno == ENOMEM ? ERR_NOMEM : ERR_INPUT;
    return ERR_OK;
}

int qr_modules(struct textbuf *modules, const char *text, int *side) {
    QRcode *code = NULL;
    int err = encode(text, &code);
    textbuf_reset(modules);
    if (err != ERR_OK)
        return err;
    *side = code->width;
    for (int i = 0; i < code->width * code->width; i++)
        textbuf_putc(modules, (char)(code->data[i] & 1));
    QRcode_free(code);
    return modules->failed ? ERR_NOMEM : ERR_OK;
}

int qr_svg(struct textbuf *b, const char *text) {
    QRcode *code = NULL;
    int err = encode(text, &code);
    if (err != ERR_OK)
        return err;
    int side = code->width + 2 * QR_QUIET;
    /* Its own colours in light and dark: some scanners read no light code on a dark ground. */
    textbuf_printf(b,
                   "<svg class=\"qr\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"QR\" "
                   "shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h%dv%dH0z\"/>"
                   "<path fill=\"#000\" d=\"",
                   side, side, side, side);
    for (int y = 0; y < code->width; y++)
        write_row(b, code->data + (size_t)y * (size_t)code->width, code->width, y);
    textbuf_puts(b, "\"/></svg>");
    QRcode_free(code);
    return b->failed ? ERR_NOMEM : ERR_OK;
}
