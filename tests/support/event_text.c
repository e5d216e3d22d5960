/* SPDX-License-Identifier: MIT */
#include "event_text.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

char *quoted(const char *text) {
    char *copy = strdup(text);
    assert_non_null(copy);
    for (char *p = copy; *p != '\0'; p++) {
        if (*p == '\'')
            *p = '"';
    }
    return copy;
}

static struct file_text file_of(const char *text) {
    return (struct file_text){text, text == NULL ? 0 : strlen(text)};
}

/* Arguments and results as model_read. */
static int read_texts(const struct event_text *texts, struct problems *problems,
                      struct model **out) {
    char *rules = quoted(texts->rules);
    struct event_files files = {
        .rules = file_of(rules),
        .entries = file_of(texts->entries == NULL ? THREE_CARS : texts->entries),
        .starts = file_of(texts->starts),
        .readings = file_of(texts->readings),
        .decisions = file_of(texts->decisions),
        .unassigned = file_of(texts->unassigned),
    };
    int err = model_read(&files, problems, out);
    free(rules);
    return err;
}

char *problems_text(const struct problems *problems) {
    struct textbuf b = {0};
    for (size_t i = 0; i < problems->count; i++) {
        textbuf_puts(&b, problems->list[i].place);
        textbuf_puts(&b, ": ");
        textbuf_puts(&b, problems->list[i].text);
        textbuf_putc(&b, '\n');
    }
    textbuf_puts(&b, "");
    assert_false(b.failed);
    return b.bytes;
}

struct model *event_text_good(const struct event_text *texts) {
    struct problems problems = {0};
    struct model *model = NULL;
    int err = read_texts(texts, &problems, &model);
    if (err != ERR_OK || problems.by_level[PROBLEM_ERROR] + problems.by_level[PROBLEM_REFUSED] > 0)
        fail_msg("the event is not good:\n%s", problems_text(&problems));
    problems_clear(&problems);
    return model;
}

struct rules *rules_good(const char *text) {
    struct problems problems = {0};
    struct rules *rules = NULL;
    char *json = quoted(text);
    if (rules_read(json, strlen(json), &problems, &rules) != ERR_OK)
        fail_msg("the rules are not good:\n%s", problems_text(&problems));
    free(json);
    problems_clear(&problems);
    return rules;
}
