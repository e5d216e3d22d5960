/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <string.h>

#include "api/event_object.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "live/notice_draft.h"
#include "office/unassigned.h"
#include "output/output.h"
#include "system/system_clock.h"

static void write_obstacle(struct textbuf *b, const struct obstacle *obstacle) {
    json_open_object(b);
    json_member_text(b, "kind", obstacle_word(obstacle->kind));
    json_member_positive(b, "number", obstacle->number);
    json_member_positive(b, "car", obstacle->car);
    json_member_text_or_null(b, "point", obstacle->point);
    json_member_text(b, "text", obstacle->text);
    json_close_object(b);
}

static void write_obstacles(struct textbuf *b, const struct obstacles *obstacles) {
    json_member_array(b, "obstacles");
    for (size_t i = 0; i < obstacles->count; i++) {
        json_line(b);
        write_obstacle(b, &obstacles->list[i]);
    }
    json_close_array(b);
    json_member_int(b, "doubts", (int64_t)obstacles->doubts);
}

static void clear_obstacles(void *obstacles) {
    obstacles_clear(obstacles);
}

static void clear_draft(void *draft) {
    notice_draft_clear(draft);
}

unsigned api_classification(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    const char *kind = r->args[1];
    bool final = strcmp(kind, "final") == 0;
    struct notice_draft_request request = {r->served->slug, kind, "", ""};
    struct obstacles *obstacles = request_value(r, sizeof *obstacles, clear_obstacles);
    struct notice_draft *draft = request_value(r, sizeof *draft, clear_draft);
    int64_t now = now_ms();
    if (obstacles == NULL || draft == NULL)
        return request_no_memory(r);
    if (!final && strcmp(kind, "provisional") != 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "A classification is provisional or final.");
    int err = obstacles_find(board, r->snapshot, final, now, obstacles);
    if (err == ERR_OK)
        err = notice_draft_make(&request, board, r->snapshot, now, draft);
    if (err != ERR_OK)
        return request_no_memory(r);
    results_object_open(r, b);
    write_obstacles(b, obstacles);
    json_member_int(b, "without_car", unassigned_count(r->snapshot->event.readings));
    json_key(b, "content");
    json_write_raw(b, draft->notice.content, strlen(draft->notice.content));
    json_close_document(b);
    return MHD_HTTP_OK;
}
