/* SPDX-License-Identifier: MIT */
#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "http/request.h"

#include <stdlib.h>
#include <string.h>

#include "api/writes.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "store/keys.h"
#include "system/data_dir.h"
#include "system/qr.h"
#include "system/system_clock.h"

enum { KEY_ROLE, KEY_POINTS, KEY_LABEL, KEY_BASE, KEY_FIELD_COUNT };
static const char *const key_fields[KEY_FIELD_COUNT] = {"role", "points", "label", "base"};

unsigned api_keys(struct request *r, struct textbuf *b) {
    const struct keyring *ring = r->snapshot->keys;
    textbuf_printf(b, "{\"event\":\"%s\",\"keys\":[", r->snapshot->event.rules->slug);
    for (size_t i = 0; i < ring->count; i++) {
        const struct stored_key *key = &ring->keys[i];
        textbuf_printf(b, "%s\n{\"id\":%lld,\"role\":\"%s\",\"points\":", i > 0 ? "," : "",
                       (long long)key->id, key->organiser ? "organiser" : "timekeeper");
        json_write_text(b, key->points);
        textbuf_puts(b, ",\"label\":");
        json_write_text(b, key->label);
        textbuf_puts(b, ",\"created\":\"");
        write_instant(b, key->created_ms);
        textbuf_printf(b, "\",\"revoked\":%s}", key->revoked ? "true" : "false");
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

static unsigned prepare_key(struct request *r, struct write *write) {
    write->kind = WRITE_KEY;
    unsigned status =
        request_object(r, key_fields, KEY_FIELD_COUNT,
                       "{\"role\": …, \"points\": …, \"label\": …, \"base\": …}", &write->upload);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    bool organiser = strcmp(fields[KEY_ROLE], "organiser") == 0;
    char *wrong = NULL;
    if (!organiser && strcmp(fields[KEY_ROLE], "timekeeper") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "role: must be organiser or timekeeper.");
    if (organiser != (*fields[KEY_POINTS] == '\0'))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            organiser ? "points: an organiser's key has none."
                                      : "points: a timekeeper's key needs them, as “TC1,R1”.");
    if (!organiser && !key_points_are_good(fields[KEY_POINTS], r->snapshot->event.rules, &wrong)) {
        status = request_fail(r, MHD_HTTP_BAD_REQUEST, "points: “%s” is not on the route.",
                              wrong == NULL ? "" : wrong);
        free(wrong);
        return status;
    }
    if (*fields[KEY_BASE] != '\0' && !key_base_is_good(fields[KEY_BASE]))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "base: must be the server's address, as “https://host:port”.");
    write->new_key.organiser = organiser;
    write->new_key.points = fields[KEY_POINTS];
    write->new_key.label = fields[KEY_LABEL];
    key_make(write->new_key.text);
    return 0;
}

static unsigned prepare_revocation(struct request *r, struct write *write) {
    static const char *const names[] = {"revoke"};
    write->kind = WRITE_REVOKE_KEY;
    unsigned status = request_object(r, names, 1, "{\"revoke\": true}", &write->upload);
    if (status != 0)
        return status;
    if (strcmp(write->upload.rows[0].fields[0], "yes") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send {\"revoke\": true}.");
    const struct keyring *ring = r->snapshot->keys;
    int64_t id = 0;
    (void)decimal_parse_whole(r->args[1], 1, INT64_C(1) << 40, &id);
    for (size_t i = 0; i < ring->count; i++) {
        if (ring->keys[i].id == id && !ring->keys[i].revoked) {
            write->number = id;
            return 0;
        }
    }
    return request_fail(r, MHD_HTTP_NOT_FOUND, "No key %s is in force.", r->args[1]);
}

static void answer_key(struct request *r, const struct write *write, struct textbuf *b) {
    const char *base = write->upload.rows[0].fields[KEY_BASE];
    textbuf_printf(b, "{\"id\":%lld,\"key\":\"%s\"", (long long)write->number, write->new_key.text);
    if (*base != '\0') {
        struct textbuf link = {0};
        struct textbuf qr = {0};
        key_link(&link, base, r->snapshot->event.rules->slug, write->new_key.organiser,
                 write->new_key.text);
        textbuf_puts(b, ",\"link\":");
        json_write_text(b, textbuf_text(&link));
        if (qr_svg(&qr, textbuf_text(&link)) == ERR_OK) {
            textbuf_puts(b, ",\"qr\":");
            json_write_text(b, textbuf_text(&qr));
        }
        b->failed = b->failed || link.failed || qr.failed;
        textbuf_clear(&link);
        textbuf_clear(&qr);
    }
    textbuf_puts(b, "}\n");
}

const struct write_handler write_key = {.prepare = prepare_key, .answer = answer_key};
const struct write_handler write_revocation = {.prepare = prepare_revocation,
                                               .answer = answer_document};
