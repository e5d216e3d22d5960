/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <string.h>

#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "live/notice_draft.h"
#include "output/output.h"
#include "system/data_dir.h"
#include "system/system_clock.h"

static void write_obstacle(struct textbuf *b, const struct obstacle *obstacle, bool further) {
    textbuf_printf(b, "%s\n{\"kind\":\"%s\",\"number\":", further ? "," : "",
                   obstacle_word(obstacle->kind));
    if (obstacle->number > 0)
        textbuf_int(b, obstacle->number);
    else
        textbuf_puts(b, "null");
    textbuf_puts(b, ",\"car\":");
    if (obstacle->car > 0)
        textbuf_int(b, obstacle->car);
    else
        textbuf_puts(b, "null");
    textbuf_puts(b, ",\"point\":");
    if (obstacle->point != NULL)
        json_write_text(b, obstacle->point);
    else
        textbuf_puts(b, "null");
    textbuf_puts(b, ",\"text\":");
    json_write_text(b, obstacle->text);
    textbuf_putc(b, '}');
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
    struct notice_draft_order order = {r->served->slug, kind, "", ""};
    struct obstacles *obstacles = request_value(r, sizeof *obstacles, clear_obstacles);
    struct notice_draft *draft = request_value(r, sizeof *draft, clear_draft);
    int64_t now = now_ms();
    if (obstacles == NULL || draft == NULL)
        return request_no_memory(r);
    if (!final && strcmp(kind, "provisional") != 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "A classification is provisional or final.");
    int err = obstacles_find(board, r->snapshot, final, now, obstacles);
    if (err == ERR_OK)
        err = notice_draft_make(&order, board, r->snapshot, now, draft);
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"obstacles\":[", r->served->slug,
                   (long long)r->results->revision);
    for (size_t i = 0; i < obstacles->count; i++)
        write_obstacle(b, &obstacles->list[i], i > 0);
    textbuf_printf(b, "],\"doubts\":%zu,\"content\":%s}\n", obstacles->doubts,
                   err == ERR_OK ? draft->notice.content : "null");
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}
