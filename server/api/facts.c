/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include "api/event_object.h"
#include "base/err.h"
#include "event/document.h"
#include "event/export.h"
#include "format/json_write.h"
#include "http/request.h"
#include "output/notice.h"
#include "store/code_book.h"
#include "store/facts_digest.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"

/* A text as a member; null where there is none. */
static void write_member(struct textbuf *b, const char *name, const char *text, size_t len) {
    json_key(b, name);
    if (len == 0)
        json_write_null(b);
    else
        json_write_text(b, text);
}

static void write_documents(struct textbuf *b, const struct documents *documents,
                            const struct facts_digest *there) {
    const struct sent_document *sent[DOCUMENT_COUNT] = {&documents->rules, &documents->entries,
                                                        &documents->starts};
    struct facts_digest ours = {0};
    for (int i = 0; i < DOCUMENT_COUNT; i++)
        facts_digest_add_document(&ours, document_name(i), sent[i]->text, sent[i]->len);
    if (ours.document_sum == there->document_sum)
        return;
    for (int i = 0; i < DOCUMENT_COUNT; i++)
        write_member(b, document_name(i), sent[i]->text, sent[i]->len);
}

/* From which of our facts on the other side lacks them: those behind the ones that it holds, or all
 * where what it holds is not how ours begin.
 *   held, held_sum  what it says that it holds */
static int first_lacking(const struct event *event, int count, int held, uint64_t held_sum,
                         void (*add)(uint64_t *sum, const struct event *event, int index)) {
    uint64_t sum = 0;
    int from = held <= count ? held : 0;
    for (int i = 0; i < from; i++)
        add(&sum, event, i);
    return sum == held_sum ? from : 0;
}

static void add_reading(uint64_t *sum, const struct event *event, int index) {
    const struct reading *reading = readings_view_at(event->readings, index);
    facts_digest_add(sum, reading->id, reading->text.field, READING_HASHED);
}

static void add_decision(uint64_t *sum, const struct event *event, int index) {
    const struct decision *decision = event->decisions.list[index].decision;
    facts_digest_add(sum, decision->id, decision->text.field, DECISION_HASHED);
}

/* A file of facts as a member; none where nothing is lacking. Returns ERR_OK or ERR_NOMEM. */
static int write_lacking_readings(struct request *r, struct textbuf *b,
                                  const struct facts_digest *there) {
    const struct event *event = &r->snapshot->event;
    int count = event->readings.count;
    int from = first_lacking(event, count, there->readings, there->reading_sum, add_reading);
    size_t lacking = (size_t)(count - from);
    if (lacking == 0)
        return ERR_OK;
    const struct reading **list = request_array(r, lacking, sizeof *list);
    struct textbuf *csv = request_text(r);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < lacking; i++)
        list[i] = readings_view_at(event->readings, from + (int)i);
    int err = export_reading_list(list, lacking, csv);
    if (err == ERR_OK)
        write_member(b, "readings", textbuf_text(csv), csv->len);
    return err;
}

static int write_lacking_decisions(struct request *r, struct textbuf *b,
                                   const struct facts_digest *there) {
    const struct event *event = &r->snapshot->event;
    int count = event->decisions.count;
    int from = first_lacking(event, count, there->decisions, there->decision_sum, add_decision);
    size_t lacking = (size_t)(count - from);
    if (lacking == 0)
        return ERR_OK;
    const struct decision **list = request_array(r, lacking, sizeof *list);
    struct textbuf *csv = request_text(r);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < lacking; i++)
        list[i] = event->decisions.list[from + (int)i].decision;
    int err = export_decision_list(list, lacking, csv);
    if (err == ERR_OK)
        write_member(b, "decisions", textbuf_text(csv), csv->len);
    return err;
}

static void write_text(struct textbuf *b, const char *name, const char *text) {
    json_member_text(b, name, text == NULL ? "" : text);
}

static void write_notices(struct textbuf *b, const struct noticeboard *board) {
    json_member_array(b, "notices");
    for (size_t i = 0; i < board->count; i++) {
        const struct stored_notice *n = &board->list[i];
        json_open_object(b);
        json_member_int(b, "number", n->number);
        json_member_int(b, "posted_ms", n->posted_ms);
        json_member_int(b, "protest_until_ms", n->protest_until_ms);
        json_member_int(b, "supersedes", n->supersedes);
        write_text(b, "title", n->title);
        write_text(b, "text", n->body);
        write_text(b, "kind", n->kind);
        write_text(b, "basis", n->made_from);
        if (n->content != NULL) {
            write_text(b, "content", n->content);
            seal_write_json(b, &n->seal);
        }
        json_close_object(b);
    }
    json_close_array(b);
}

static void write_cases(struct textbuf *b, const struct noticeboard *board) {
    json_member_array(b, "cases");
    for (size_t i = 0; i < board->enquiry_count; i++) {
        const struct stored_enquiry *e = &board->enquiries[i];
        json_open_object(b);
        json_member_int(b, "opened_ms", e->opened_ms);
        json_member_int(b, "answered_ms", e->answered_ms);
        json_member_bool(b, "by_crew", e->by_crew);
        write_text(b, "kind", e->kind);
        write_text(b, "car", e->car);
        write_text(b, "point", e->point);
        write_text(b, "text", e->text);
        write_text(b, "outcome", e->outcome);
        write_text(b, "answer", e->answer);
        json_close_object(b);
    }
    json_close_array(b);
}

/* Codes go as what they are made from: a server that takes over must know the papers that crews
 * have. Organisers alone may ask for facts, and they may read every code anyway. */
static void write_codes(struct textbuf *b, const struct code_book *book) {
    json_member_object(b, "codes");
    json_member_int(b, "made_ms", book->made_ms);
    json_member_hex(b, "secret", book->secret, sizeof book->secret);
    json_member_array(b, "renewals");
    for (size_t i = 0; i < book->count; i++) {
        json_open_object(b);
        json_member_int(b, "car", book->renewals[i].car);
        json_member_int(b, "serial", book->renewals[i].serial);
        json_member_int(b, "renewed_ms", book->renewals[i].renewed_ms);
        json_close_object(b);
    }
    json_close_array(b);
    json_close_object(b);
}

/* Keys go as hashes: who stands by can tell a key, and cannot write one down. */
static void write_keys(struct textbuf *b, const struct keyring *ring) {
    json_member_array(b, "keys");
    for (size_t i = 0; i < ring->count; i++) {
        const struct stored_key *key = &ring->keys[i];
        json_open_object(b);
        json_member_hex(b, "hash", key->hash, sizeof key->hash);
        json_member_bool(b, "organiser", key->organiser);
        json_member_bool(b, "revoked", key->revoked);
        json_member_int(b, "created_ms", key->created_ms);
        json_member_text(b, "points", key->points);
        json_member_text(b, "label", key->label);
        json_close_object(b);
    }
    json_close_array(b);
}

unsigned api_facts(struct request *r, struct textbuf *b) {
    const struct snapshot *s = r->snapshot;
    struct facts_digest there;
    if (!facts_digest_parse(r->args[1], &there))
        return request_fail(r, MHD_HTTP_NOT_FOUND,
                            "“%s” does not tell what you hold; 0 for nothing.", r->args[1]);
    results_object_open(r, b);
    json_member_int(b, "public_revision", s->public_results.revision);
    json_member_int(b, "epoch", atomic_load(&r->served->epoch));
    write_documents(b, s->set->documents, &there);
    if (write_lacking_readings(r, b, &there) != ERR_OK ||
        write_lacking_decisions(r, b, &there) != ERR_OK)
        return request_no_memory(r);
    write_notices(b, s->notices);
    write_cases(b, s->notices);
    write_keys(b, s->keys);
    write_codes(b, &s->keys->codes);
    json_close_document(b);
    return MHD_HTTP_OK;
}
