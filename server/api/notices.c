/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <sodium.h>

#include "api/arguments.h"
#include "api/crew.h"
#include "api/event_object.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "http/request.h"
#include "output/notice.h"
#include "output/output.h"
#include "store/stored_notices.h"
#include "system/system_clock.h"

/* The hash in hex; "" of a notice without a seal. */
static void write_hash(struct textbuf *b, const struct stored_notice *n) {
    char hex[2 * SEAL_HASH_LEN + 1];
    if (n->content == NULL)
        return;
    (void)sodium_bin2hex(hex, sizeof hex, n->seal.hash, sizeof n->seal.hash);
    textbuf_puts(b, hex);
}

static void write_notice_csv(struct textbuf *b, const struct stored_notice *n) {
    textbuf_printf(b, "%lld,", (long long)n->number);
    write_instant(b, n->posted_ms);
    textbuf_putc(b, ',');
    csv_write_text(b, n->title);
    textbuf_putc(b, ',');
    csv_write_text(b, n->body);
    textbuf_printf(b, ",%s,", n->kind);
    if (n->protest_until_ms > 0)
        write_instant(b, n->protest_until_ms);
    textbuf_putc(b, ',');
    if (n->supersedes > 0)
        textbuf_int(b, n->supersedes);
    textbuf_putc(b, ',');
    write_hash(b, n);
    textbuf_puts(b, "\r\n");
}

static void write_notice_json(struct textbuf *b, const struct stored_notice *n) {
    json_line(b);
    json_open_object(b);
    json_member_int(b, "number", n->number);
    json_member_instant(b, "posted", n->posted_ms);
    json_member_text(b, "title", n->title);
    json_member_text(b, "text", n->body);
    json_member_text(b, "kind", n->kind);
    if (n->protest_until_ms > 0)
        json_member_instant(b, "protest_until", n->protest_until_ms);
    else
        json_member_null(b, "protest_until");
    json_member_positive(b, "supersedes", n->supersedes);
    if (n->content != NULL)
        json_member_hex(b, "hash", n->seal.hash, sizeof n->seal.hash);
    else
        json_member_null(b, "hash");
    json_close_object(b);
}

unsigned api_notices(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    bool csv = false;
    unsigned status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (csv) {
        textbuf_puts(b, "number,posted,title,text,kind,protest_until,supersedes,hash\r\n");
        for (size_t i = 0; i < board->count; i++)
            write_notice_csv(b, &board->list[i]);
        return MHD_HTTP_OK;
    }
    results_object_open(r, b);
    json_member_array(b, "notices");
    for (size_t i = 0; i < board->count; i++)
        write_notice_json(b, &board->list[i]);
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

unsigned api_notice(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    int64_t number = 0;
    if (decimal_parse_whole(r->args[1], 1, INT32_MAX, &number) != ERR_OK)
        number = 0;
    for (size_t i = 0; i < board->count; i++) {
        const struct stored_notice *n = &board->list[i];
        if (n->number != number)
            continue;
        if (n->content == NULL)
            return request_fail(r, MHD_HTTP_NOT_FOUND, "Notice %s has no seal.", r->args[1]);
        notice_write_document(b, n->content, &n->seal);
        return MHD_HTTP_OK;
    }
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no notice “%s”.", r->args[1]);
}

unsigned api_enquiries(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    results_object_open(r, b);
    json_member_array(b, "enquiries");
    for (size_t i = 0; i < board->enquiry_count; i++)
        enquiry_write_json(b, &board->enquiries[i]);
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
