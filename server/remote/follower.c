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
#include "live/event_import.h"
#include "live/model_facts.h"
#include "remote/merge_notices.h"
#include "store/code_book.h"
#include "store/store.h"
#include "store/store_lock.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"
#include "system/data_dir.h"
#include "system/system_clock.h"

static const char *const document_names[] = {"event.json", "entries.csv", "starts.csv"};
enum { RULES, ENTRIES, STARTS, DOCUMENT_COUNT };

struct follower {
    const char *slug;
    char *path;
    struct store *store; /* NULL while the file is not there */
    struct model *model; /* as stored at `seen` */
    struct facts_digest digest;
    int64_t seen; /* the engine's number of others' changes */
    bool known;   /* model and digest are as stored */
};

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
        err = store_document(f->store, document_names[i], &text, &len);
        if (err == ERR_OK)
            facts_digest_add_document(&f->digest, document_names[i], text, len);
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

/* A member that is a text; NULL where it is none. */
static struct file_text text_of(const json_t *object, const char *name) {
    const json_t *member = json_object_get(object, name);
    return (struct file_text){json_string_value(member), json_string_length(member)};
}

static int64_t number_of(const json_t *object, const char *name) {
    return (int64_t)json_integer_value(json_object_get(object, name));
}

static bool bytes_of(const json_t *object, const char *name, unsigned char *out, size_t size) {
    struct file_text hex = text_of(object, name);
    size_t len = 0;
    return hex.text != NULL &&
           sodium_hex2bin(out, size, hex.text, hex.len, NULL, &len, NULL) == 0 && len == size;
}

/* The key of that hash among those stored; NULL where there is none. */
static const struct stored_key *find_key(const struct stored_key *keys, size_t count,
                                         const unsigned char hash[32]) {
    for (size_t i = 0; i < count; i++) {
        if (memcmp(keys[i].hash, hash, sizeof keys[i].hash) == 0)
            return &keys[i];
    }
    return NULL;
}

static int take_key(struct follower *f, const json_t *item, const struct stored_key *keys,
                    size_t count, struct follower_news *news) {
    unsigned char hash[32];
    struct file_text points = text_of(item, "points");
    struct file_text label = text_of(item, "label");
    bool revoked = json_is_true(json_object_get(item, "revoked"));
    if (points.text == NULL || label.text == NULL || !bytes_of(item, "hash", hash, sizeof hash))
        return ERR_INPUT;
    const struct stored_key *known = find_key(keys, count, hash);
    int64_t id = known == NULL ? 0 : known->id;
    int err = ERR_OK;
    if (known == NULL)
        err = store_add_key(f->store, hash, json_is_true(json_object_get(item, "organiser")),
                            points.text, label.text, number_of(item, "created_ms"), &id);
    if (err == ERR_OK && revoked && (known == NULL || !known->revoked))
        err = store_revoke_key(f->store, id, now_ms());
    news->keys += known == NULL || known->revoked != revoked;
    return err;
}

/* Whether the book has this very renewal. */
static bool has_renewal(const struct code_book *book, const struct code_renewal *renewal) {
    for (size_t i = 0; i < book->count; i++) {
        if (book->renewals[i].car == renewal->car && book->renewals[i].serial == renewal->serial)
            return true;
    }
    return false;
}

/* The other side's secret takes the place of the one that this file began with. */
static int take_codes(struct follower *f, const json_t *codes, struct follower_news *news) {
    const json_t *list = json_object_get(codes, "renewals");
    unsigned char secret[CODE_SECRET_LEN];
    struct code_book ours;
    if (codes == NULL) /* a server of an earlier version */
        return ERR_OK;
    if (!bytes_of(codes, "secret", secret, sizeof secret) || !json_is_array(list))
        return ERR_INPUT;
    int err = store_code_book(f->store, &ours);
    if (err != ERR_OK && err != ERR_UNKNOWN)
        return err;
    bool same = err == ERR_OK && sodium_memcmp(ours.secret, secret, sizeof secret) == 0;
    err = same ? ERR_OK : store_add_code_secret(f->store, secret, number_of(codes, "made_ms"));
    news->codes += !same;
    for (size_t i = 0; err == ERR_OK && i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        struct code_renewal renewal = {.car = number_of(item, "car"),
                                       .serial = number_of(item, "serial"),
                                       .renewed_ms = number_of(item, "renewed_ms")};
        if (has_renewal(&ours, &renewal))
            continue;
        err = store_add_renewal(f->store, &renewal, 0);
        news->codes++;
    }
    sodium_memzero(secret, sizeof secret);
    code_book_clear(&ours);
    return err;
}

/* From now on the file stands by for the server that answers. Not where it was made the first
 * since: the other one has been taken over from, and does not know. Nor where it is the first that
 * a server holds: somebody gave the wrong folder. */
static int stand_by(struct follower *f, const json_t *answer, struct textbuf *why) {
    struct store_epoch ours;
    struct stored_revision last;
    int64_t theirs = number_of(answer, "epoch");
    theirs = theirs < 1 ? 1 : theirs; /* a server of an earlier version sends none */
    int err = store_last_epoch(f->store, &ours);
    if (err == ERR_OK)
        err = store_last_revision(f->store, &last);
    if (err != ERR_OK)
        return err;
    bool promoted = !ours.standby && ours.made_ms > 0;
    if (theirs < ours.number || (promoted && theirs == ours.number)) {
        textbuf_printf(why,
                       "this file was made the first after that server (epoch %lld, the server's "
                       "is %lld): let that one follow this one, or see cairn merge",
                       (long long)ours.number, (long long)theirs);
        return ERR_INPUT;
    }
    if (ours.standby && theirs == ours.number)
        return ERR_OK;
    if (!ours.standby && last.office > 0 && store_lock_is_held(f->path, HOLDER_SERVER)) {
        textbuf_puts(why, "a server holds this file as the first: stop it before the file stands "
                          "by for another");
        return ERR_INPUT;
    }
    const struct store_epoch now = {theirs, true, now_ms()};
    return store_add_epoch(f->store, &now);
}

/* In a transaction of its own: keys belong to no revision. */
static int take_keys(struct follower *f, const json_t *answer, struct follower_news *news,
                     struct textbuf *why) {
    struct store_epoch before;
    struct store_epoch after = {0};
    const json_t *list = json_object_get(answer, "keys");
    struct stored_key *keys = NULL;
    size_t count = 0;
    int err = store_begin(f->store);
    if (err != ERR_OK)
        return err;
    err = store_last_epoch(f->store, &before);
    if (err == ERR_OK)
        err = stand_by(f, answer, why);
    if (err == ERR_OK)
        err = store_last_epoch(f->store, &after);
    if (err == ERR_OK)
        err = store_keys(f->store, &keys, &count);
    for (size_t i = 0; err == ERR_OK && i < json_array_size(list); i++)
        err = take_key(f, json_array_get(list, i), keys, count, news);
    stored_keys_free(keys, count);
    if (err == ERR_OK)
        err = take_codes(f, json_object_get(answer, "codes"), news);
    bool epoch_changed = after.standby != before.standby || after.number != before.number;
    if (err == ERR_OK && (epoch_changed || news->keys + news->codes > 0))
        return store_commit(f->store);
    store_rollback(f->store);
    return err;
}

/* A copy of a member that is a text; NULL where there is none, or memory is out. */
static char *copy_of(const json_t *object, const char *name) {
    const char *text = json_string_value(json_object_get(object, name));
    return text == NULL ? NULL : strdup(text);
}

static int read_notice(const json_t *item, struct stored_notice *n) {
    *n = (struct stored_notice){.number = number_of(item, "number"),
                                .posted_ms = number_of(item, "posted_ms"),
                                .title = copy_of(item, "title"),
                                .body = copy_of(item, "text"),
                                .kind = copy_of(item, "kind"),
                                .content = copy_of(item, "content"),
                                .protest_until_ms = number_of(item, "protest_until_ms"),
                                .supersedes = number_of(item, "supersedes"),
                                .made_from = copy_of(item, "basis")};
    bool sealed = n->content == NULL ||
                  (bytes_of(item, "hash", n->seal.hash, sizeof n->seal.hash) &&
                   bytes_of(item, "signature", n->seal.signature, sizeof n->seal.signature) &&
                   bytes_of(item, "signer", n->seal.signer, sizeof n->seal.signer));
    return n->title != NULL && n->body != NULL && n->kind != NULL && n->made_from != NULL && sealed
               ? ERR_OK
               : ERR_INPUT;
}

static int read_case(const json_t *item, struct stored_enquiry *e) {
    *e = (struct stored_enquiry){.opened_ms = number_of(item, "opened_ms"),
                                 .by_crew = json_is_true(json_object_get(item, "by_crew")),
                                 .kind = copy_of(item, "kind"),
                                 .car = copy_of(item, "car"),
                                 .point = copy_of(item, "point"),
                                 .text = copy_of(item, "text"),
                                 .answered_ms = number_of(item, "answered_ms"),
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
        err = store_document(f->store, document_names[i], &kept[i], &len);
        if (err == ERR_UNKNOWN)
            err = ERR_OK;
        else if (len > 0)
            *places[i] = (struct file_text){kept[i], len};
    }
    return err;
}

static int take_facts(struct follower *f, const json_t *answer, struct follower_news *news,
                      struct problems *problems) {
    struct event_files files = {.rules = text_of(answer, document_names[RULES]),
                                .entries = text_of(answer, document_names[ENTRIES]),
                                .starts = text_of(answer, document_names[STARTS]),
                                .readings = text_of(answer, "readings"),
                                .decisions = text_of(answer, "decisions")};
    char *kept[DOCUMENT_COUNT] = {0};
    struct model *model = NULL;
    struct stored_revision last = {0};
    struct import_begun begun = {.office = number_of(answer, "revision"),
                                 .public_number = number_of(answer, "public_revision")};
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
           json_object_get(answer, document_names[RULES]) != NULL ||
           store_last_revision(f->store, &last) != ERR_OK ||
           last.office < number_of(answer, "revision");
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
        err = take_keys(f, answer, news, why);
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
