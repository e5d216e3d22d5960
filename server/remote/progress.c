/* SPDX-License-Identifier: MIT */
#include "remote/progress.h"

#include <stdio.h>
#include <unistd.h>

#include "base/textbuf.h"

void progress_init(struct progress *p, size_t total, bool quiet) {
    *p = (struct progress){
        .quiet = quiet, .on_terminal = isatty(STDOUT_FILENO) == 1, .total = total};
}

void progress_write_count(struct textbuf *b, size_t count) {
    if (count < 1000) {
        textbuf_printf(b, "%zu", count);
        return;
    }
    progress_write_count(b, count / 1000);
    textbuf_printf(b, ",%03zu", count % 1000);
}

void progress_write(const struct progress *p, struct textbuf *b) {
    progress_write_count(b, p->sent);
    textbuf_puts(b, " of ");
    progress_write_count(b, p->total);
    textbuf_puts(b, " sent");
    if (p->refused > 0) {
        textbuf_puts(b, ", ");
        progress_write_count(b, p->refused);
        textbuf_puts(b, " refused");
    }
}

void progress_show(struct progress *p, long wait) {
    struct textbuf b = {0};
    if (p->quiet || (wait >= 0 && !p->on_terminal))
        return;
    progress_write(p, &b);
    if (wait >= 0)
        textbuf_printf(&b, ", next try in %ld s", wait);
    /* Back to the first column; then, behind the text, the rest of the old line is wiped out. */
    (void)printf(p->on_terminal ? "\r%s\033[K" : "%s\n", textbuf_text(&b));
    (void)fflush(stdout);
    p->drawn = p->on_terminal;
    textbuf_clear(&b);
}

void progress_hide(struct progress *p) {
    if (!p->drawn)
        return;
    (void)fputs("\r\033[K", stdout);
    (void)fflush(stdout);
    p->drawn = false;
}
