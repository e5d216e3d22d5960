/* SPDX-License-Identifier: MIT */
#include "api/api.h"
#include "api/proposal.h"
#include "http/request.h"

#include <stdlib.h>
#include <string.h>

#include "api/api.h"
#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "format/json_read.h"
#include "format/json_write.h"
#include "office/entry_import.h"
#include "office/numbering.h"

/* The body as an object with no keys but these. `arena` takes its texts. Returns: ERR_OK;
 * ERR_INPUT, reported; ERR_NOMEM. The caller gives *root back. */
static int read_body(const struct request *r, const struct json_reader *reader,
                     const char *const *known, json_t **root) {
    int err = json_read_text(reader, r->body, r->body_len, root);
    if (err == ERR_OK && !json_known_keys(reader, *root, NULL, known, NULL))
        err = ERR_INPUT;
    return err;
}

/* Fails a request whose body says what cannot be read. */
static unsigned fail_body(struct request *r, const struct problems *problems) {
    return request_fail(r, MHD_HTTP_BAD_REQUEST, "%s: %s.", problems->list[0].place,
                        problems->list[0].text);
}

/* The list that would come of it, and what it holds, as further members of the answer. */
static void write_list(struct textbuf *more, const struct textbuf *text) {
    textbuf_puts(more, ",\"entries\":");
    json_write_text(more, textbuf_text(text));
    more->failed = more->failed || text->failed;
}

static unsigned import(struct request *r, struct textbuf *b, const char *list, bool whole) {
    const struct sent_document *entries = &r->snapshot->set->documents->entries;
    struct problems problems = {0};
    struct entry_import made = {0};
    struct textbuf more = {0};
    unsigned status;
    int err = entry_import_make(r->snapshot->event.rules, entries->text, entries->len, list,
                                strlen(list), whole, &problems, &made);
    textbuf_puts(&more, ",\"rows\":");
    entry_import_write_json(&more, &made);
    if (err == ERR_OK && made.refused == 0) {
        write_list(&more, &made.text);
        status =
            proposal_try(r, b, (struct file_text){made.text.bytes, made.text.len}, false, &more);
    } else {
        status = err == ERR_NOMEM ? request_no_memory(r) : proposal_refuse(r, b, &problems, &more);
    }
    textbuf_clear(&more);
    entry_import_clear(&made);
    problems_clear(&problems);
    return status;
}

unsigned act_import_entries(struct request *r, struct textbuf *b) {
    static const char *const known[] = {"list", "whole", NULL};
    struct problems problems = {0};
    struct json_reader reader = {"import", arena_new(), &problems};
    json_t *root = NULL;
    const char *list = "";
    bool whole = false;
    unsigned status;
    int err = reader.arena == NULL ? ERR_NOMEM : read_body(r, &reader, known, &root);
    if (err == ERR_OK) {
        /* A text of many lines, which json_get_text does not take. */
        const json_t *value = json_object_get(root, "list");
        list = json_is_number_text(value) ? NULL : json_string_value(value);
        if (list == NULL)
            json_wrong(&reader, NULL, "list", "must be the text of a list");
        (void)json_get_flag(&reader, root, NULL, "whole", &whole);
    }
    if (err == ERR_NOMEM || problems_out_of_memory(&problems))
        status = request_no_memory(r);
    else if (list == NULL || problems_fatal(&problems))
        status = fail_body(r, &problems);
    else
        status = import(r, b, list, whole);
    json_decref(root);
    arena_free(reader.arena);
    problems_clear(&problems);
    return status;
}

/* Numbers stay once anything names cars by them. */
static bool names_cars(const struct request *r) {
    const struct snapshot *s = r->snapshot;
    return s->event.readings.count > 0 || s->event.decisions.count > 0 ||
           s->set->documents->starts.len > 0;
}

static unsigned number(struct request *r, struct textbuf *b,
                       const struct numbering_wishes *wishes) {
    const struct sent_document *entries = &r->snapshot->set->documents->entries;
    struct problems problems = {0};
    struct numbering made = {0};
    struct textbuf more = {0};
    unsigned status;
    int err = numbering_make(entries->text, entries->len, wishes, &problems, &made);
    if (names_cars(r)) {
        problems_add(&problems, PROBLEM_ERROR, "entries.csv", 0,
                     "start times, readings or decisions name cars by their numbers, so that "
                     "numbers stay as they are");
        err = err == ERR_OK ? ERR_INPUT : err;
    }
    textbuf_puts(&more, ",\"numbers\":");
    numbering_write_json(&more, &made);
    if (err == ERR_OK) {
        write_list(&more, &made.text);
        status =
            proposal_try(r, b, (struct file_text){made.text.bytes, made.text.len}, false, &more);
    } else {
        status = err == ERR_NOMEM ? request_no_memory(r) : proposal_refuse(r, b, &problems, &more);
    }
    textbuf_clear(&more);
    numbering_clear(&made);
    problems_clear(&problems);
    return status;
}

static int read_wishes(const struct json_reader *reader, const json_t *root,
                       const char *const *known, struct numbering_wishes *wishes) {
    int err = ERR_OK;
    for (int i = 0; err != ERR_NOMEM && known[i] != NULL; i++) {
        const char *value = "";
        struct textbuf why = {0};
        if (json_get_text(reader, root, NULL, known[i], false, &value))
            err = numbering_set(wishes, known[i], value, &why);
        if (err == ERR_INPUT && why.len > 0)
            json_wrong(reader, NULL, known[i], "%s", textbuf_text(&why));
        textbuf_clear(&why);
    }
    return err;
}

unsigned act_number_entries(struct request *r, struct textbuf *b) {
    static const char *const known[] = {"keep", "give", "skip", "first", NULL};
    struct numbering_wishes *wishes = calloc(1, sizeof *wishes);
    struct problems problems = {0};
    struct json_reader reader = {"numbers", arena_new(), &problems};
    json_t *root = NULL;
    unsigned status;
    int err =
        reader.arena == NULL || wishes == NULL ? ERR_NOMEM : read_body(r, &reader, known, &root);
    if (err == ERR_OK)
        err = read_wishes(&reader, root, known, wishes);
    if (err == ERR_NOMEM || problems_out_of_memory(&problems))
        status = request_no_memory(r);
    else if (problems_fatal(&problems))
        status = fail_body(r, &problems);
    else
        status = number(r, b, wishes);
    json_decref(root);
    arena_free(reader.arena);
    free(wishes);
    problems_clear(&problems);
    return status;
}
