/* SPDX-License-Identifier: MIT */
#include "qr.h"

#include <errno.h>
#include <qrencode.h>
#include <string.h>

#include "err.h"

/* Light modules on each side; scanners look for four. */
enum { QUIET = 4, TEXT_MAX = 1000 };

/* One horizontal stroke for each run of dark modules, from where the pen is. */
static void write_row(struct textbuf *b, const unsigned char *row, int width, int y) {
    for (int x = 0; x < width; x++) {
        int from = x;
        while (x < width && (row[x] & 1) != 0)
            x++;
        if (x > from)
            textbuf_printf(b, "M%d %dh%dv1h-%dz", from + QUIET, y + QUIET, x - from, x - from);
    }
}

int qr_svg(struct textbuf *b, const char *text) {
    if (*text == '\0' || strlen(text) > TEXT_MAX)
        return ERR_INPUT;
    QRcode *code = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
    if (code == NULL)
        return errno == ENOMEM ? ERR_NOMEM : ERR_INPUT;
    int side = code->width + 2 * QUIET;
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
