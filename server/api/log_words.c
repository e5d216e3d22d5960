/* SPDX-License-Identifier: MIT */
#include "api/log_words.h"

#include <string.h>

#include "event/decisions.h"

static bool is(const char *a, const char *b) {
    return strcmp(a, b) == 0;
}

/* A decision by its fields, in words. */
static void write_decision(struct textbuf *b, const char *kind, const char *car, const char *point,
                           const char *value) {
    if (is(kind, decision_word(DECIDE_REVOKE))) {
        textbuf_printf(b, "undoing of decision %s", value);
        return;
    }
    if (is(kind, decision_word(DECIDE_RETIRE)) && *point == '\0') {
        textbuf_printf(b, "car %s withdrawn before the start", car);
        return;
    }
    textbuf_puts(b, kind);
    if (*value != '\0')
        textbuf_printf(b, is(kind, decision_word(DECIDE_REJOIN)) ? " from day %s" : " of %s",
                       value);
    if (*car != '\0')
        textbuf_printf(b, " for car %s", car);
    if (*point != '\0')
        textbuf_printf(b, " at %s", point);
}

static void write_rows(struct textbuf *b, const struct logged *f) {
    bool import = is(f->source, "import");
    if (f->taken == 1 && f->refused == 0 && !import) {
        textbuf_printf(b, "reading of car %s at %s", f->first_car, f->first_point);
        if (*f->first_value != '\0')
            textbuf_printf(b, ": %s", f->first_value);
        return;
    }
    if (f->taken == 0)
        textbuf_printf(b, "no reading %s", import ? "imported" : "taken");
    else
        textbuf_printf(b, "%lld reading%s %s", (long long)f->taken, f->taken == 1 ? "" : "s",
                       import ? "imported" : "taken");
    if (f->refused > 0)
        textbuf_printf(b, ", %lld refused", (long long)f->refused);
}

static void write_key(struct textbuf *b, const struct logged *f) {
    textbuf_printf(b, "key %lld %s: %s", (long long)f->name.row,
                   *f->old_word != '\0' ? "revoked" : "made", f->word);
    if (*f->point != '\0')
        textbuf_printf(b, " for %s", f->point);
    if (*f->value != '\0')
        textbuf_printf(b, ", %s", f->value);
}

void log_write_what(struct textbuf *b, const struct logged *f) {
    bool import = is(f->source, "import");
    if (is(f->kind, "readings")) {
        write_rows(b, f);
    } else if (is(f->kind, "rules")) {
        textbuf_puts(b, import ? "rules imported" : "rules replaced");
    } else if (is(f->kind, "entries")) {
        textbuf_puts(b, import ? "entry list imported" : "entry list replaced");
    } else if (is(f->kind, "starts")) {
        textbuf_puts(b, import ? "start times imported" : "start list kept");
    } else if (is(f->kind, "correction")) {
        textbuf_printf(b, "reading of car %s at %s corrected", f->car, f->point);
    } else if (is(f->kind, "withdrawal")) {
        textbuf_printf(b, "reading of car %s at %s withdrawn",
                       *f->old_word != '\0' ? f->old_car : f->car,
                       *f->old_word != '\0' ? f->old_point : f->point);
    } else if (is(f->kind, "decision")) {
        write_decision(b, f->word, f->car, f->point, f->value);
    } else if (is(f->kind, "undo")) {
        textbuf_puts(b, "undone: ");
        write_decision(b, f->old_word, f->old_car, f->old_point, f->old_value);
    } else if (is(f->kind, "notice")) {
        textbuf_printf(b, "notice %lld posted: %s", (long long)f->name.row, f->value);
    } else if (is(f->kind, "enquiry")) {
        textbuf_printf(b, "%s %lld of car %s", f->word, (long long)f->name.row, f->car);
    } else if (is(f->kind, "answer")) {
        textbuf_printf(b, "%s %lld of car %s: %s", f->old_word, (long long)f->name.row, f->car,
                       f->word);
    } else if (is(f->kind, "key")) {
        write_key(b, f);
    } else if (is(f->kind, "code")) {
        textbuf_printf(b, "new code for the crew of car %s", f->car);
    } else {
        textbuf_printf(b, "%s: %s", f->word, f->value);
    }
}

static const char *or_seen(const char *value) {
    return *value == '\0' ? "seen" : value;
}

void log_write_changes(struct textbuf *b, const struct logged *f) {
    bool withdrawn = is(f->kind, "withdrawal");
    if (!withdrawn && !is(f->kind, "correction"))
        return;
    if (*f->old_word == '\0') {
        /* It may come before the reading that it corrects. */
        textbuf_printf(b, "reading %s, which is not here", f->word);
    } else {
        textbuf_printf(b, "car %s at %s, %s", f->old_car, f->old_point, or_seen(f->old_value));
    }
    if (withdrawn) {
        textbuf_puts(b, " → none\n");
        return;
    }
    textbuf_puts(b, " → ");
    if (!is(f->car, f->old_car) || !is(f->point, f->old_point))
        textbuf_printf(b, "car %s at %s, ", f->car, f->point);
    textbuf_printf(b, "%s\n", or_seen(f->value));
}
