/* SPDX-License-Identifier: MIT */
#include "remote/reject_file.h"

#include <string.h>

#include "base/textbuf.h"
#include "format/csv.h"
#include "remote/reading_file.h"

/* A walk through a text, line by line. */
struct walk {
    const char *at;
    const char *end;
    long line; /* which stands at `at` */
};

/* Moves behind one line, whatever its end. */
static void pass_line(struct walk *w) {
    while (w->at < w->end && *w->at != '\n' && *w->at != '\r')
        w->at++;
    if (w->at + 1 < w->end && *w->at == '\r' && w->at[1] == '\n')
        w->at++;
    if (w->at < w->end)
        w->at++;
    w->line++;
}

static void write_lines(struct textbuf *b, struct walk *w, long line, long behind) {
    while (w->line < line && w->at < w->end)
        pass_line(w);
    const char *from = w->at;
    while (w->line < behind && w->at < w->end)
        pass_line(w);
    textbuf_add(b, from, (size_t)(w->at - from));
    if (w->at > from && w->at[-1] != '\n' && w->at[-1] != '\r')
        textbuf_putc(b, '\n');
}

static void write_reject(struct textbuf *b, struct walk *w, long line, long behind,
                         const char *reason) {
    textbuf_printf(b, CSV_NOTE "line %ld: ", line);
    textbuf_plain(b, reason);
    textbuf_putc(b, '\n');
    write_lines(b, w, line, behind);
}

size_t reject_file_write(struct textbuf *b, const struct reading_file *file, const char *text,
                         size_t len, long first) {
    struct walk w = {text, text + len, first};
    size_t wrong = 0;
    size_t count = 0;
    for (size_t i = 0; i <= file->count; i++) {
        const struct reading_row *row = i < file->count ? &file->rows[i] : NULL;
        for (; wrong < file->wrong && (row == NULL || file->rejects[wrong].line < row->line);
             wrong++, count++) {
            const struct reading_reject *r = &file->rejects[wrong];
            write_reject(b, &w, r->line, r->behind, r->reason);
        }
        if (row != NULL && row->state == ROW_REFUSED) {
            write_reject(b, &w, row->line, row->behind, row->refusal);
            count++;
        }
    }
    return count;
}

void reject_file_write_header(struct textbuf *b, const char *text, size_t len) {
    struct walk w = {text, text + len, 1};
    if (len >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        w.at += 3;
    static const size_t note = sizeof CSV_NOTE - 1;
    while (w.at < w.end && ((size_t)(w.end - w.at) >= note && memcmp(w.at, CSV_NOTE, note) == 0))
        pass_line(&w);
    while (w.at < w.end && (*w.at == '\n' || *w.at == '\r'))
        w.at++;
    const char *from = w.at;
    while (w.at < w.end && *w.at != '\n' && *w.at != '\r')
        w.at++;
    textbuf_add(b, from, (size_t)(w.at - from));
    textbuf_putc(b, '\n');
}
