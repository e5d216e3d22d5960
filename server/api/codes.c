/* SPDX-License-Identifier: MIT */
#include "api/codes.h"

#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "api/event_object.h"
#include "event/entry_words.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "http/request.h"
#include "store/code_book.h"

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

/* The code of a car and how often it was renewed, as members of an object. */
static void write_code_json(struct textbuf *b, const struct code_book *book, int64_t car,
                            int64_t serial) {
    char text[CODE_TEXT_LEN + 1];
    crew_code_make(book->secret, car, serial, text);
    json_member_text(b, "code", text);
    json_member_int(b, "renewed", serial);
}

static void write_json(struct textbuf *b, const struct request *r) {
    const struct entries *entries = r->snapshot->event.entries;
    const struct code_book *book = &r->snapshot->keys->codes;
    event_object_open(r, b);
    json_member_array(b, "codes");
    for (int i = 0; i < entries->count; i++) {
        const struct entry *e = &entries->list[i];
        json_line(b);
        json_open_object(b);
        json_member_int(b, "car", e->number);
        entry_crew_json(b, e);
        write_code_json(b, book, e->number, code_book_serial(book, e->number));
        json_close_object(b);
    }
    json_close_array(b);
    json_close_document(b);
}

unsigned api_codes(struct request *r, struct textbuf *b) {
    bool csv = false;
    unsigned status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (csv)
        codes_write_csv(b, r->snapshot->event.entries, &r->snapshot->keys->codes);
    else
        write_json(b, r);
    return MHD_HTTP_OK;
}

static unsigned prepare_code_renewal(struct request *r, struct write **out) {
    bool renewed = false;
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_flag(r, "renew", &renewed);
    if (status != 0)
        return status;
    if (!renewed)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send one JSON object: {\"renew\": true}.");
    struct code_renewal_write *write = code_renewal_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->car = r->snapshot->event.entries->list[car].number;
    *out = &write->head;
    return 0;
}

static void answer_code(struct request *r, const struct write *head, struct textbuf *b) {
    const struct code_renewal_write *write = code_renewal_write_of(head);
    event_object_open(r, b);
    json_member_int(b, "car", write->car);
    write_code_json(b, &r->snapshot->keys->codes, write->car, write->serial);
    json_close_document(b);
}

const struct write_handler write_code_renewal = {.prepare = prepare_code_renewal,
                                                 .answer = answer_code};
