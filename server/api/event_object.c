/* SPDX-License-Identifier: MIT */
#include "api/event_object.h"

#include "format/json_write.h"
#include "http/request.h"

void event_object_open(const struct request *r, struct textbuf *b) {
    json_open_object(b);
    json_member_text(b, "event", r->served->slug);
}

void results_object_open(const struct request *r, struct textbuf *b) {
    event_object_open(r, b);
    json_member_int(b, "revision", r->results->revision);
}
