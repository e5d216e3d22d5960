/* SPDX-License-Identifier: MIT */
#include "api/event_object.h"

#include "format/json_write.h"
#include "http/request.h"
#include "live/etag.h"

void event_object_open(const struct request *r, struct textbuf *b) {
    json_open_object(b);
    json_member_text(b, "event", r->served->slug);
}

void results_object_open(const struct request *r, struct textbuf *b) {
    event_object_open(r, b);
    json_member_int(b, "revision", r->results->revision);
}

void event_days_json(struct textbuf *b, const struct rules *rules) {
    json_member_array(b, "days");
    for (int d = 0; d < rules->day_count; d++) {
        json_open_object(b);
        json_member_int(b, "day", d + 1);
        json_member_text(b, "date", rules->days[d].date);
        json_close_object(b);
    }
    json_close_array(b);
}

void event_list_json(const struct request *r, struct textbuf *b) {
    char tag[ETAG_LEN];
    etag_of_document(&r->snapshot->set->documents->entries, tag);
    json_member_text(b, "list", tag);
}
