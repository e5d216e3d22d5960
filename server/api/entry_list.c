/* SPDX-License-Identifier: MIT */
/* The entry list from one that was pasted, and with new numbers: what would come of it. */
#include "api/api.h"

#include <string.h>

#include "api/bodies.h"
#include "api/proposal.h"
#include "base/err.h"
#include "base/problem.h"
#include "format/json_write.h"
#include "http/request.h"
#include "office/entry_import.h"
#include "office/numbering.h"

/* The body as an object with no keys but these; otherwise as request_json. */
static int read_body(struct request *r, const char *name, const char *const *known,
                     struct json_reader *reader, json_t **root) {
    int err = request_json(r, name, reader, root);
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
    json_member_text(more, "entries", textbuf_text(text));
    more->failed = more->failed || text->failed;
}

static void clear_import(void *made) {
    entry_import_clear(made);
}

static unsigned import(struct request *r, struct textbuf *b, const char *list, bool whole) {
    const struct sent_document *entries = &r->snapshot->set->documents->entries;
    struct problems *problems = request_problems(r);
    struct entry_import *made = request_value(r, sizeof *made, clear_import);
    struct textbuf *more = request_text(r);
    if (problems == NULL || made == NULL)
        return request_no_memory(r);
    int err = entry_import_make(r->snapshot->event.rules, entries->text, entries->len, list,
                                strlen(list), whole, problems, made);
    if (err == ERR_NOMEM)
        return request_no_memory(r);
    json_key(more, "rows");
    entry_import_write_json(more, made);
    if (err != ERR_OK || made->refused > 0)
        return proposal_refuse(r, b, problems, more);
    write_list(more, &made->text);
    return proposal_try(r, b, (struct file_text){made->text.bytes, made->text.len}, false, more);
}

unsigned act_import_entries(struct request *r, struct textbuf *b) {
    static const char *const known[] = {"list", "whole", NULL};
    struct json_reader reader;
    json_t *root = NULL;
    const char *list = "";
    bool whole = false;
    int err = read_body(r, "import", known, &reader, &root);
    if (err == ERR_OK) {
        /* A text of many lines, which json_get_text does not take. */
        const json_t *value = json_object_get(root, "list");
        list = json_is_number_text(value) ? NULL : json_string_value(value);
        if (list == NULL)
            json_wrong(&reader, NULL, "list", "must be the text of a list");
        (void)json_get_flag(&reader, root, NULL, "whole", &whole);
    }
    if (err == ERR_NOMEM || problems_out_of_memory(reader.problems))
        return request_no_memory(r);
    if (list == NULL || problems_fatal(reader.problems))
        return fail_body(r, reader.problems);
    return import(r, b, list, whole);
}

/* Numbers stay once anything names cars by them. */
static bool names_cars(const struct request *r) {
    const struct snapshot *s = r->snapshot;
    return s->event.readings.count > 0 || s->event.decisions.count > 0 ||
           s->set->documents->starts.len > 0;
}

static void clear_numbering(void *made) {
    numbering_clear(made);
}

static unsigned number(struct request *r, struct textbuf *b,
                       const struct numbering_wishes *wishes) {
    const struct sent_document *entries = &r->snapshot->set->documents->entries;
    struct problems *problems = request_problems(r);
    struct numbering *made = request_value(r, sizeof *made, clear_numbering);
    struct textbuf *more = request_text(r);
    if (problems == NULL || made == NULL)
        return request_no_memory(r);
    int err = numbering_make(entries->text, entries->len, wishes, problems, made);
    if (err == ERR_NOMEM)
        return request_no_memory(r);
    if (names_cars(r)) {
        problems_add(problems, PROBLEM_ERROR, "entries.csv", 0,
                     "start times, readings or decisions name cars by their numbers, so that "
                     "numbers stay as they are");
        err = ERR_INPUT;
    }
    json_key(more, "numbers");
    numbering_write_json(more, made);
    if (err != ERR_OK)
        return proposal_refuse(r, b, problems, more);
    write_list(more, &made->text);
    return proposal_try(r, b, (struct file_text){made->text.bytes, made->text.len}, false, more);
}

static int read_wishes(struct request *r, const struct json_reader *reader, const json_t *root,
                       const char *const *known, struct numbering_wishes *wishes) {
    struct textbuf *why = request_text(r);
    int err = ERR_OK;
    for (int i = 0; err != ERR_NOMEM && known[i] != NULL; i++) {
        const char *value = "";
        textbuf_reset(why);
        if (json_get_text(reader, root, NULL, known[i], false, &value))
            err = numbering_set(wishes, known[i], value, why);
        if (err == ERR_INPUT && why->len > 0)
            json_wrong(reader, NULL, known[i], "%s", textbuf_text(why));
    }
    return err;
}

unsigned act_number_entries(struct request *r, struct textbuf *b) {
    static const char *const known[] = {"keep", "give", "skip", "first", NULL};
    struct numbering_wishes *wishes = request_array(r, 1, sizeof *wishes);
    struct json_reader reader;
    json_t *root = NULL;
    int err = wishes == NULL ? ERR_NOMEM : read_body(r, "numbers", known, &reader, &root);
    if (err == ERR_OK)
        err = read_wishes(r, &reader, root, known, wishes);
    if (err == ERR_NOMEM || problems_out_of_memory(reader.problems))
        return request_no_memory(r);
    if (problems_fatal(reader.problems))
        return fail_body(r, reader.problems);
    return number(r, b, wishes);
}
