/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <stdlib.h>
#include <string.h>

#include "api/bodies.h"
#include "api/event_object.h"
#include "api/writes.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "store/keys.h"
#include "store/stored_keys.h"
#include "system/qr.h"
#include "system/system_clock.h"

enum { KEY_ROLE, KEY_POINTS, KEY_LABEL, KEY_BASE, KEY_FIELD_COUNT };
static const char *const key_fields[KEY_FIELD_COUNT] = {"role", "points", "label", "base"};

/* A key as the list tells it, which does not know its text. */
static void write_key_listed(struct textbuf *b, const struct stored_key *key) {
    json_open_object(b);
    json_member_int(b, "id", key->id);
    json_member_text(b, "role", key->organiser ? "organiser" : "timekeeper");
    json_member_text(b, "points", key->points);
    json_member_text(b, "label", key->label);
    json_member_instant(b, "created", key->created_ms);
    json_member_bool(b, "revoked", key->revoked);
    json_close_object(b);
}

unsigned api_keys(struct request *r, struct textbuf *b) {
    const struct keyring *ring = r->snapshot->keys;
    event_object_open(r, b);
    json_member_array(b, "keys");
    for (size_t i = 0; i < ring->count; i++) {
        json_line(b);
        write_key_listed(b, &ring->keys[i]);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* What is wrong with a key that is asked for. Returns 0, or the status of an error described. */
static unsigned check_key(struct request *r, const char *const *fields) {
    bool organiser = strcmp(fields[KEY_ROLE], "organiser") == 0;
    char *wrong = NULL;
    if (!organiser && strcmp(fields[KEY_ROLE], "timekeeper") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "role: must be organiser or timekeeper.");
    if (organiser != (*fields[KEY_POINTS] == '\0'))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            organiser ? "points: an organiser's key has none."
                                      : "points: a timekeeper's key needs them, as “TC1,R1”.");
    if (!organiser && !key_points_are_good(fields[KEY_POINTS], r->snapshot->event.rules, &wrong)) {
        if (!request_owns(r, wrong, free))
            wrong = NULL;
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "points: “%s” is not on the route.",
                            wrong == NULL ? "" : wrong);
    }
    if (*fields[KEY_BASE] != '\0' && !key_base_is_good(fields[KEY_BASE]))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "base: must be the server's address, as “https://host:port”.");
    return 0;
}

static unsigned prepare_key(struct request *r, struct write **out) {
    const char *const *fields;
    unsigned status = request_object(r, key_fields, KEY_FIELD_COUNT, &fields);
    if (status == 0)
        status = check_key(r, fields);
    if (status != 0)
        return status;
    struct key_write *write = key_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->organiser = strcmp(fields[KEY_ROLE], "organiser") == 0;
    write->points = fields[KEY_POINTS];
    write->label = fields[KEY_LABEL];
    write->base = fields[KEY_BASE];
    key_make(write->text);
    *out = &write->head;
    return 0;
}

static unsigned prepare_revocation(struct request *r, struct write **out) {
    const struct keyring *ring = r->snapshot->keys;
    bool revoked = false;
    int64_t id = 0;
    size_t i = 0;
    unsigned status = request_flag(r, "revoke", &revoked);
    if (status != 0)
        return status;
    if (!revoked)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send {\"revoke\": true}.");
    (void)decimal_parse_whole(r->args[1], 1, INT64_C(1) << 40, &id);
    while (i < ring->count && (ring->keys[i].id != id || ring->keys[i].revoked))
        i++;
    if (i == ring->count)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "No key %s is in force.", r->args[1]);
    struct revocation_write *write = revocation_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->id = id;
    *out = &write->head;
    return 0;
}

static void answer_key(struct request *r, const struct write *head, struct textbuf *b) {
    const struct key_write *write = key_write_of(head);
    json_open_object(b);
    json_member_int(b, "id", write->id);
    json_member_text(b, "key", write->text);
    if (*write->base != '\0') {
        struct textbuf *link = request_text(r);
        struct textbuf *qr = request_text(r);
        key_link(link, write->base, r->snapshot->event.rules->slug, write->organiser, write->text);
        json_member_text(b, "link", textbuf_text(link));
        if (qr_svg(qr, textbuf_text(link)) == ERR_OK)
            json_member_text(b, "qr", textbuf_text(qr));
        b->failed = b->failed || link->failed || qr->failed;
    }
    json_close_document(b);
}

const struct write_handler write_key = {.prepare = prepare_key, .answer = answer_key};
const struct write_handler write_revocation = {.prepare = prepare_revocation,
                                               .answer = answer_document};
