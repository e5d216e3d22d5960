/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <sodium.h>
#include <stdlib.h>

#include "base/err.h"
#include "event/export.h"
#include "format/json_write.h"
#include "http/request.h"
#include "store/facts_digest.h"

static const char *const names[] = {"event.json", "entries.csv", "starts.csv"};
enum { NAME_COUNT = 3 };

/* A text as a member; null where there is none. */
static void write_member(struct textbuf *b, const char *name, const char *text, size_t len) {
    textbuf_printf(b, ",\"%s\":", name);
    if (len == 0)
        textbuf_puts(b, "null");
    else
        json_write_text(b, text);
}

static void write_documents(struct textbuf *b, const struct documents *documents,
                            const struct facts_digest *there) {
    const struct sent_document *papers[NAME_COUNT] = {&documents->rules, &documents->entries,
                                                      &documents->starts};
    struct facts_digest ours = {0};
    for (int i = 0; i < NAME_COUNT; i++)
        facts_digest_add_document(&ours, names[i], papers[i]->text, papers[i]->len);
    if (ours.document_sum == there->document_sum)
        return;
    for (int i = 0; i < NAME_COUNT; i++)
        write_member(b, names[i], papers[i]->text, papers[i]->len);
}

/* Readings that the other side lacks: those behind the ones it holds, or all where what it holds
 * is not how ours begin. */
static int write_lacking_readings(struct request *r, struct textbuf *b,
                                  const struct facts_digest *there) {
    const struct event *event = &r->snapshot->event;
    uint64_t sum = 0;
    int from = there->readings <= event->readings.count ? there->readings : 0;
    for (int i = 0; i < from; i++)
        facts_digest_add(&sum, readings_view_at(event->readings, i)->id,
                         readings_view_at(event->readings, i)->text.field, READING_HASHED);
    if (sum != there->reading_sum)
        from = 0;
    size_t count = (size_t)(event->readings.count - from);
    if (count == 0)
        return ERR_OK;
    const struct reading **list = request_array(r, count, sizeof *list);
    struct textbuf *csv = request_text(r);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        list[i] = readings_view_at(event->readings, from + (int)i);
    int err = export_reading_list(list, count, csv);
    if (err == ERR_OK)
        write_member(b, "readings", textbuf_text(csv), csv->len);
    return err;
}

static int write_lacking_decisions(struct request *r, struct textbuf *b,
                                   const struct facts_digest *there) {
    const struct decision_list *ours = &r->snapshot->event.decisions;
    uint64_t sum = 0;
    int from = there->decisions <= ours->count ? there->decisions : 0;
    for (int i = 0; i < from; i++)
        facts_digest_add(&sum, ours->list[i].decision->id, ours->list[i].decision->text.field,
                         DECISION_HASHED);
    if (sum != there->decision_sum)
        from = 0;
    size_t count = (size_t)(ours->count - from);
    if (count == 0)
        return ERR_OK;
    const struct decision **list = request_array(r, count, sizeof *list);
    struct textbuf *csv = request_text(r);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        list[i] = ours->list[from + (int)i].decision;
    int err = export_decision_list(list, count, csv);
    if (err == ERR_OK)
        write_member(b, "decisions", textbuf_text(csv), csv->len);
    return err;
}

static void write_text(struct textbuf *b, const char *name, const char *text) {
    textbuf_printf(b, ",\"%s\":", name);
    json_write_text(b, text == NULL ? "" : text);
}

static void write_hex(struct textbuf *b, const char *name, const unsigned char *bytes, size_t len) {
    char hex[2 * SEAL_SIGNATURE_LEN + 1];
    (void)sodium_bin2hex(hex, sizeof hex, bytes, len);
    textbuf_printf(b, ",\"%s\":\"%s\"", name, hex);
}

static void write_notices(struct textbuf *b, const struct noticeboard *board) {
    textbuf_puts(b, ",\"notices\":[");
    for (size_t i = 0; i < board->count; i++) {
        const struct stored_notice *n = &board->list[i];
        textbuf_printf(b,
                       "%s{\"number\":%lld,\"posted_ms\":%lld,\"protest_until_ms\":%lld,"
                       "\"supersedes\":%lld",
                       i > 0 ? "," : "", (long long)n->number, (long long)n->posted_ms,
                       (long long)n->protest_until_ms, (long long)n->supersedes);
        write_text(b, "title", n->title);
        write_text(b, "text", n->body);
        write_text(b, "kind", n->kind);
        write_text(b, "basis", n->basis);
        if (n->content != NULL) {
            write_text(b, "content", n->content);
            write_hex(b, "hash", n->seal.hash, sizeof n->seal.hash);
            write_hex(b, "signature", n->seal.signature, sizeof n->seal.signature);
            write_hex(b, "signer", n->seal.signer, sizeof n->seal.signer);
        }
        textbuf_putc(b, '}');
    }
    textbuf_putc(b, ']');
}

static void write_cases(struct textbuf *b, const struct noticeboard *board) {
    textbuf_puts(b, ",\"cases\":[");
    for (size_t i = 0; i < board->enquiry_count; i++) {
        const struct stored_enquiry *e = &board->enquiries[i];
        textbuf_printf(b, "%s{\"opened_ms\":%lld,\"answered_ms\":%lld", i > 0 ? "," : "",
                       (long long)e->opened_ms, (long long)e->answered_ms);
        textbuf_printf(b, ",\"by_crew\":%s", e->by_crew ? "true" : "false");
        write_text(b, "kind", e->kind);
        write_text(b, "car", e->car);
        write_text(b, "point", e->point);
        write_text(b, "text", e->text);
        write_text(b, "outcome", e->outcome);
        write_text(b, "answer", e->answer);
        textbuf_putc(b, '}');
    }
    textbuf_putc(b, ']');
}

/* Codes go as what they are made from: a server that takes over must know the papers that crews
 * have. Organisers alone may ask for facts, and they may read every code anyway. */
static void write_codes(struct textbuf *b, const struct code_book *book) {
    textbuf_printf(b, ",\"codes\":{\"made_ms\":%lld", (long long)book->made_ms);
    write_hex(b, "secret", book->secret, sizeof book->secret);
    textbuf_puts(b, ",\"renewals\":[");
    for (size_t i = 0; i < book->count; i++)
        textbuf_printf(b, "%s{\"car\":%lld,\"serial\":%lld,\"renewed_ms\":%lld}", i > 0 ? "," : "",
                       (long long)book->renewals[i].car, (long long)book->renewals[i].serial,
                       (long long)book->renewals[i].renewed_ms);
    textbuf_puts(b, "]}");
}

/* Keys go as hashes: who stands by can tell a key, and cannot write one down. */
static void write_keys(struct textbuf *b, const struct keyring *ring) {
    textbuf_puts(b, ",\"keys\":[");
    for (size_t i = 0; i < ring->count; i++) {
        const struct stored_key *key = &ring->keys[i];
        char hex[2 * sizeof key->hash + 1];
        (void)sodium_bin2hex(hex, sizeof hex, key->hash, sizeof key->hash);
        textbuf_printf(b,
                       "%s{\"hash\":\"%s\",\"organiser\":%s,\"revoked\":%s,\"created_ms\":%lld"
                       ",\"points\":",
                       i > 0 ? "," : "", hex, key->organiser ? "true" : "false",
                       key->revoked ? "true" : "false", (long long)key->created_ms);
        json_write_text(b, key->points);
        textbuf_puts(b, ",\"label\":");
        json_write_text(b, key->label);
        textbuf_putc(b, '}');
    }
    textbuf_putc(b, ']');
}

unsigned api_facts(struct request *r, struct textbuf *b) {
    const struct snapshot *s = r->snapshot;
    struct facts_digest there;
    if (!facts_digest_parse(r->args[1], &there))
        return request_fail(r, MHD_HTTP_NOT_FOUND,
                            "“%s” does not tell what you hold; 0 for nothing.", r->args[1]);
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"public_revision\":%lld,\"epoch\":%lld",
                   s->event.rules->slug, (long long)s->office_results.revision,
                   (long long)s->public_results.revision, atomic_load(&r->served->epoch));
    write_documents(b, s->set->documents, &there);
    if (write_lacking_readings(r, b, &there) != ERR_OK ||
        write_lacking_decisions(r, b, &there) != ERR_OK)
        return request_no_memory(r);
    write_notices(b, s->notices);
    write_cases(b, s->notices);
    write_keys(b, s->keys);
    write_codes(b, &s->keys->codes);
    textbuf_puts(b, "}\n");
    return MHD_HTTP_OK;
}
