/* SPDX-License-Identifier: MIT */
#include "office/next_event.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "event/rules.h"
#include "format/json_read.h"
#include "format/json_tidy.h"

/* The same weekday about a year later. */
enum { YEAR_OF_WEEKS = 52 * 7 };

/* The place of options in problems. */
static const char option_file[] = "--first-day";

struct change {
    const struct rules *old;
    const struct next_event *what;
    struct problems *problems;
    struct textbuf name, slug, date;
    int64_t shift; /* days */
};

static int out_of_range(const struct change *c) {
    problems_add(c->problems, PROBLEM_ERROR, option_file, 0, "the days would pass the year 9999");
    return ERR_INPUT;
}

/* How far the days move, and the first one's new date. */
static int find_shift(struct change *c) {
    int64_t first = 0;
    int64_t wanted = 0;
    (void)date_parse(c->old->days[0].date, &first);
    if (c->what->first_day == NULL) {
        wanted = first + YEAR_OF_WEEKS;
    } else if (date_parse(c->what->first_day, &wanted) != ERR_OK) {
        problems_add(c->problems, PROBLEM_ERROR, option_file, 0,
                     "“%s” is no date: write YYYY-MM-DD", c->what->first_day);
        return ERR_INPUT;
    }
    c->shift = wanted - first;
    return date_write(&c->date, wanted) == ERR_OK ? ERR_OK : out_of_range(c);
}

/* A text with the first four digits that are the old year replaced by the new year. */
static void replace_year(struct textbuf *b, const char *text, const char *old_date,
                         const char *new_date) {
    char year[5] = "";
    memcpy(year, old_date, 4);
    const char *found = strstr(text, year);
    if (found == NULL) {
        textbuf_puts(b, text);
        return;
    }
    textbuf_add(b, text, (size_t)(found - text));
    textbuf_add(b, new_date, 4);
    textbuf_puts(b, found + 4);
}

static void find_texts(struct change *c) {
    const char *old_date = c->old->days[0].date;
    const char *new_date = textbuf_text(&c->date);
    if (c->date.failed)
        return;
    if (c->what->name != NULL)
        textbuf_puts(&c->name, c->what->name);
    else
        replace_year(&c->name, c->old->name, old_date, new_date);
    if (c->what->slug != NULL)
        textbuf_puts(&c->slug, c->what->slug);
    else
        replace_year(&c->slug, c->old->slug, old_date, new_date);
}

static int set_text(json_t *root, const char *key, const struct textbuf *text) {
    return !text->failed && json_object_set_new(root, key, json_string(textbuf_text(text))) == 0
               ? ERR_OK
               : ERR_NOMEM;
}

static int shift_days(struct change *c, json_t *root) {
    json_t *days = json_object_get(root, "days");
    int err = ERR_OK;
    for (int i = 0; i < c->old->day_count && err == ERR_OK; i++) {
        int64_t day = 0;
        (void)date_parse(c->old->days[i].date, &day);
        textbuf_reset(&c->date);
        err = date_write(&c->date, day + c->shift) == ERR_OK ? ERR_OK : out_of_range(c);
        if (err == ERR_OK)
            err = set_text(json_array_get(days, (size_t)i), "date", &c->date);
    }
    return err;
}

static int change(struct change *c, json_t *root) {
    int err = find_shift(c);
    if (err != ERR_OK)
        return err;
    find_texts(c);
    if (strcmp(textbuf_text(&c->slug), c->old->slug) == 0 && c->what->slug == NULL) {
        problems_add(c->problems, PROBLEM_ERROR, "--slug", 0,
                     "give the new event a slug: “%s” is that of the event it is made after",
                     c->old->slug);
        return ERR_INPUT;
    }
    err = set_text(root, "name", &c->name);
    if (err == ERR_OK)
        err = set_text(root, "slug", &c->slug);
    if (err == ERR_OK && c->what->timezone != NULL &&
        json_object_set_new(root, "timezone", json_string(c->what->timezone)) != 0)
        err = ERR_NOMEM;
    return err == ERR_OK ? shift_days(c, root) : err;
}

int next_event_write(const char *text, size_t len, const struct next_event *what,
                     struct problems *problems, struct textbuf *out) {
    struct change c = {.what = what, .problems = problems};
    struct rules *old = NULL;
    struct rules *checked = NULL;
    json_t *root = NULL;
    const struct json_reader reader = {.file = "event.json", .arena = NULL, .problems = problems};
    int err = rules_read(text, len, problems, &old);
    if (err == ERR_OK) {
        c.old = old;
        err = json_read_text(&reader, text, len, &root);
    }
    if (err == ERR_OK)
        err = change(&c, root);
    if (err == ERR_OK) {
        json_tidy(root, out);
        /* Checks what was put in by the same rules as any event.json. */
        err = out->failed ? ERR_NOMEM : rules_read(out->bytes, out->len, problems, &checked);
    }
    rules_free(checked);
    rules_free(old);
    json_decref(root);
    textbuf_clear(&c.name);
    textbuf_clear(&c.slug);
    textbuf_clear(&c.date);
    return err;
}
