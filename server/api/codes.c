/* SPDX-License-Identifier: MIT */
#include "api/codes.h"

#include <string.h>

#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "api/writes.h"
#include "event/entry_words.h"
#include "format/csv.h"
#include "http/request.h"

static void write_code(struct textbuf *b, const struct code_book *book, int64_t car) {
    char text[CODE_TEXT_LEN + 1];
    crew_code_make(book->secret, car, code_book_serial(book, car), text);
    textbuf_puts(b, text);
}

void codes_write_csv(struct textbuf *b, const struct entries *entries,
                     const struct code_book *book) {
    textbuf_puts(b, "number,driver,navigator,code\r\n");
    for (int i = 0; i < entries->count; i++) {
        const struct entry *e = &entries->list[i];
        textbuf_printf(b, "%d,", e->number);
        csv_write_text(b, e->driver);
        textbuf_putc(b, ',');
        csv_write_text(b, e->navigator);
        textbuf_putc(b, ',');
        write_code(b, book, e->number);
        textbuf_puts(b, "\r\n");
    }
}

static void write_json(struct request *r, struct textbuf *b) {
    const struct entries *entries = r->snapshot->event.entries;
    const struct code_book *book = &r->snapshot->keys->codes;
    textbuf_printf(b, "{\"event\":\"%s\",\"codes\":[", r->served->slug);
    for (int i = 0; i < entries->count; i++) {
        const struct entry *e = &entries->list[i];
        textbuf_printf(b, "%s\n{\"car\":%d,", i > 0 ? "," : "", e->number);
        entry_crew_json(b, e);
        textbuf_puts(b, ",\"code\":\"");
        write_code(b, book, e->number);
        textbuf_printf(b, "\",\"renewed\":%lld}", (long long)code_book_serial(book, e->number));
    }
    textbuf_puts(b, "]}\n");
}

unsigned api_codes(struct request *r, struct textbuf *b) {
    bool csv = false;
    unsigned status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (csv)
        codes_write_csv(b, r->snapshot->event.entries, &r->snapshot->keys->codes);
    else
        write_json(r, b);
    return MHD_HTTP_OK;
}

static unsigned prepare_code_renewal(struct request *r, struct write **out) {
    static const char *const names[] = {"renew"};
    static const char shape[] = "{\"renew\": true}";
    const char *const *fields;
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_object(r, names, 1, shape, &fields);
    if (status != 0)
        return status;
    if (strcmp(fields[0], "yes") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send one JSON object: %s.", shape);
    struct code_renewal_write *write = code_renewal_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->car = r->snapshot->event.entries->list[car].number;
    *out = &write->head;
    return 0;
}

static void answer_code(struct request *r, const struct write *head, struct textbuf *b) {
    const struct code_renewal_write *write = code_renewal_write_of(head);
    char text[CODE_TEXT_LEN + 1];
    crew_code_make(r->snapshot->keys->codes.secret, write->car, write->serial, text);
    textbuf_printf(b, "{\"event\":\"%s\",\"car\":%lld,\"code\":\"%s\",\"renewed\":%lld}\n",
                   r->served->slug, (long long)write->car, text, (long long)write->serial);
}

const struct write_handler write_code_renewal = {.prepare = prepare_code_renewal,
                                                 .answer = answer_code};
