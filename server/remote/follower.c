/* SPDX-License-Identifier: MIT */
#include "remote/follower.h"

#include <errno.h>
#include <jansson.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "base/problem.h"
#include "event/document.h"
#include "live/event_import.h"
#include "live/model_facts.h"
#include "remote/follower_private.h"
#include "remote/merge_notices.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_notices.h"
#include "system/data_dir.h"

struct follower *follower_new(const char *data_dir, const char *slug) {
    struct follower *f = calloc(1, sizeof *f);
    if (f == NULL)
        return NULL;
    f->slug = slug;
    f->path = data_dir_path(data_dir, slug);
    if (f->path == NULL) {
        free(f);
        return NULL;
    }
    return f;
}

static void forget(struct follower *f) {
    model_free(f->model);
    f->model = NULL;
    f->digest = (struct facts_digest){0};
    f->known = false;
}

void follower_free(struct follower *f) {
    if (f == NULL)
        return;
    forget(f);
    store_close(f->store);
    free(f->path);
    free(f);
}

/* Adds what went wrong in the store. */
static int failed(const struct follower *f, int err, struct textbuf *why) {
    if (err != ERR_OK && why->len == 0)
        textbuf_printf(why, "%s: %s", f->path, store_message(f->store));
    return err;
}

static void add_facts(const struct model *model, enum fact_kind kind, uint64_t *sum) {
    for (int i = 0; i < facts_count(model, kind); i++) {
        struct fact fact = facts_at(model, kind, i);
        facts_digest_add(sum, fact.id, fact.fields, (size_t)fact.field_count);
    }
}

/* Reads the event file, where it has any revision. */
static int load(struct follower *f) {
    struct stored_revision last;
    forget(f);
    int err = store_last_revision(f->store, &last);
    if (err == ERR_OK && last.office > 0)
        err = store_load_event(f->store, &f->model);
    for (int i = 0; err == ERR_OK && i < DOCUMENT_COUNT; i++) {
        char *text = NULL;
        size_t len = 0;
        err = store_document(f->store, document_name(i), &text, &len);
        if (err == ERR_OK)
            facts_digest_add_document(&f->digest, document_name(i), text, len);
        if (err == ERR_UNKNOWN)
            err = ERR_OK;
        free(text);
    }
    if (err == ERR_OK && f->model != NULL) {
        f->digest.readings = facts_count(f->model, FACT_READING);
        f->digest.decisions = facts_count(f->model, FACT_DECISION);
        add_facts(f->model, FACT_READING, &f->digest.reading_sum);
        add_facts(f->model, FACT_DECISION, &f->digest.decision_sum);
    }
    f->known = err == ERR_OK;
    return err;
}

int follower_digest(struct follower *f, struct facts_digest *out, struct textbuf *why) {
    int64_t now = 0;
    int err = ERR_OK;
    *out = (struct facts_digest){0};
    if (f->store == NULL) {
        struct textbuf reason = {0};
        if (access(f->path, F_OK) != 0 && errno == ENOENT)
            return ERR_OK; /* not there yet: nothing is held */
        err = store_open(f->path, STORE_FOLLOW, &f->store, &reason);
        if (err != ERR_OK)
            textbuf_printf(why, "%s: %s", f->path, textbuf_text(&reason));
        textbuf_clear(&reason);
        if (err != ERR_OK)
            return err;
    }
    err = store_data_version(f->store, &now);
    if (err == ERR_OK && (!f->known || now != f->seen)) {
        bool begun = store_read_begin(f->store);
        err = load(f);
        store_read_end(f->store, begun);
    }
    f->seen = now;
    if (err == ERR_OK)
        *out = f->digest;
    return failed(f, err, why);
}

struct file_text follower_text(const struct json_t *object, const char *name) {
    const json_t *member = json_object_get(object, name);
    return (struct file_text){json_string_value(member), json_string_length(member)};
}

int64_t follower_number(const struct json_t *object, const char *name) {
    return (int64_t)json_integer_value(json_object_get(object, name));
}

bool follower_bytes(const struct json_t *object, const char *name, unsigned char *out,
                    size_t size) {
    struct file_text hex = follower_text(object, name);
    size_t len = 0;
    return hex.text != NULL &&
           sodium_hex2bin(out, size, hex.text, hex.len, NULL, &len, NULL) == 0 && len == size;
}

/* A copy of a member that is a text; NULL where there is none, or memory is out. */
static char *copy_of(const json_t *object, const char *name) {
    const char *text = json_string_value(json_object_get(object, name));
    return text == NULL ? NULL : strdup(text);
}

static int read_notice(const json_t *item, struct stored_notice *n) {
    *n = (struct stored_notice){.number = follower_number(item, "number"),
                                .posted_ms = follower_number(item, "posted_ms"),
                                .title = copy_of(item, "title"),
                                .body = copy_of(item, "text"),
                                .kind = copy_of(item, "kind"),
                                .content = copy_of(item, "content"),
                                .protest_until_ms = follower_number(item, "protest_until_ms"),
                                .supersedes = follower_number(item, "supersedes"),
                                .made_from = copy_of(item, "basis")};
    bool sealed = n->content == NULL ||
                  (follower_bytes(item, "hash", n->seal.hash, sizeof n->seal.hash) &&
                   follower_bytes(item, "signature", n->seal.signature, sizeof n->seal.signature) &&
                   follower_bytes(item, "signer", n->seal.signer, sizeof n->seal.signer));
    return n->title != NULL && n->body != NULL && n->kind != NULL && n->made_from != NULL && sealed
               ? ERR_OK
               : ERR_INPUT;
}

static int read_case(const json_t *item, struct stored_enquiry *e) {
    *e = (struct stored_enquiry){.opened_ms = follower_number(item, "opened_ms"),
                                 .by_crew = json_is_true(json_object_get(item, "by_crew")),
                                 .kind = copy_of(item, "kind"),
                                 .car = copy_of(item, "car"),
                                 .point = copy_of(item, "point"),
                                 .text = copy_of(item, "text"),
                                 .answered_ms = follower_number(item, "answered_ms"),
                                 .outcome = copy_of(item, "outcome"),
                                 .answer = copy_of(item, "answer")};
    return e->kind != NULL && e->car != NULL && e->point != NULL && e->text != NULL &&
                   e->outcome != NULL && e->answer != NULL
               ? ERR_OK
               : ERR_INPUT;
}

static int take_notices(struct follower *f, const json_t *answer, struct follower_news *news) {
    const json_t *notices = json_object_get(answer, "notices");
    const json_t *cases = json_object_get(answer, "cases");
    struct notices_and_cases theirs = {
        .notices = calloc(json_array_size(notices) + 1, sizeof *theirs.notices),
        .cases = calloc(json_array_size(cases) + 1, sizeof *theirs.cases)};
    int err = theirs.notices == NULL || theirs.cases == NULL ? ERR_NOMEM : ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < json_array_size(notices); i++)
        err = read_notice(json_array_get(notices, i), &theirs.notices[theirs.notice_count++]);
    for (size_t i = 0; err == ERR_OK && i < json_array_size(cases); i++)
        err = read_case(json_array_get(cases, i), &theirs.cases[theirs.case_count++]);
    if (err == ERR_OK)
        err = notices_merge(f->store, &theirs, &news->notices, &news->cases);
    notices_and_cases_clear(&theirs);
    return err;
}

/* Documents that the answer leaves out are those that are here. */
static int add_own_documents(struct follower *f, struct event_files *files,
                             char *kept[DOCUMENT_COUNT]) {
    struct file_text *places[DOCUMENT_COUNT] = {&files->rules, &files->entries, &files->starts};
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < DOCUMENT_COUNT; i++) {
        size_t len = 0;
        err = store_document(f->store, document_name(i), &kept[i], &len);
        if (err == ERR_UNKNOWN)
            err = ERR_OK;
        else if (len > 0)
            *places[i] = (struct file_text){kept[i], len};
    }
    return err;
}

static int take_facts(struct follower *f, const json_t *answer, struct follower_news *news,
                      struct problems *problems) {
    struct event_files files = {.rules = follower_text(answer, document_name(DOCUMENT_RULES)),
                                .entries = follower_text(answer, document_name(DOCUMENT_ENTRIES)),
                                .starts = follower_text(answer, document_name(DOCUMENT_STARTS)),
                                /* The leader has taken them all, those of no car among them. */
                                .unassigned = follower_text(answer, "readings"),
                                .decisions = follower_text(answer, "decisions")};
    char *kept[DOCUMENT_COUNT] = {0};
    struct model *model = NULL;
    struct stored_revision last = {0};
    struct import_begun begun = {.office = follower_number(answer, "revision"),
                                 .public_number = follower_number(answer, "public_revision")};
    int err = store_begin(f->store);
    if (err != ERR_OK)
        return err;
    if (files.rules.text == NULL)
        err = add_own_documents(f, &files, kept);
    if (err == ERR_OK)
        err = load(f); /* nobody else commits between this and our own commit */
    if (err == ERR_OK)
        err = model_read(&files, problems, &model);
    if (err == ERR_OK && strcmp(model->rules->slug, f->slug) != 0)
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = take_notices(f, answer, news);
    if (err == ERR_OK) {
        int readings = f->digest.readings;
        int decisions = f->digest.decisions;
        begun.anything = news->notices + news->cases > 0;
        err = event_import(f->store, model, f->model, &files, &begun, problems);
        if (err == ERR_OK)
            err = store_last_revision(f->store, &last);
        if (err == ERR_OK)
            err = load(f);
        news->readings = f->digest.readings - readings;
        news->decisions = f->digest.decisions - decisions;
        news->revision = last.office;
    } else {
        store_rollback(f->store);
    }
    for (int i = 0; i < DOCUMENT_COUNT; i++)
        free(kept[i]);
    model_free(model);
    return err;
}

/* Whether the answer has anything but what it always has. */
static bool has_news(struct follower *f, const json_t *answer) {
    struct stored_revision last;
    return json_object_get(answer, "readings") != NULL ||
           json_object_get(answer, "decisions") != NULL ||
           json_object_get(answer, document_name(DOCUMENT_RULES)) != NULL ||
           store_last_revision(f->store, &last) != ERR_OK ||
           last.office < follower_number(answer, "revision");
}

static bool is_answer(const json_t *answer, const char *slug) {
    const char *event = json_string_value(json_object_get(answer, "event"));
    return event != NULL && strcmp(event, slug) == 0 &&
           json_is_array(json_object_get(answer, "keys")) &&
           json_is_array(json_object_get(answer, "notices")) &&
           json_is_array(json_object_get(answer, "cases")) &&
           json_is_integer(json_object_get(answer, "revision")) &&
           json_is_integer(json_object_get(answer, "public_revision"));
}

int follower_take(struct follower *f, const char *body, size_t len, struct follower_news *news,
                  struct textbuf *why) {
    struct problems problems = {0};
    json_t *answer = json_loadb(body, len, 0, NULL);
    int err = ERR_OK;
    *news = (struct follower_news){0};
    if (!is_answer(answer, f->slug)) {
        textbuf_puts(why, "what answers is no server to follow");
        json_decref(answer);
        return ERR_INPUT;
    }
    if (f->store == NULL)
        err = store_open(f->path, STORE_FOLLOW, &f->store, why);
    if (err == ERR_OK)
        err = follower_take_keys(f, answer, news, why);
    if (err == ERR_OK && has_news(f, answer))
        err = take_facts(f, answer, news, &problems);
    news->anything = news->keys + news->codes > 0 || news->revision > 0;
    if (problems_fatal(&problems) && problems.count > 0) {
        textbuf_reset(why);
        textbuf_printf(why, "the two have gone apart (see cairn merge): %s: %s",
                       problems.list[0].place, problems.list[0].text);
    }
    problems_clear(&problems);
    json_decref(answer);
    return f->store == NULL ? err : failed(f, err, why);
}
