/* SPDX-License-Identifier: MIT */
/* The noticeboard: what the organisers posted, newest first, with its seal, and how a
 * classification differs from the one that it replaces. */
#include <jansson.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "pages/templates.h"
#include "store/stored_notices.h"
#include "system/html.h"

/* So much of a hash is shown at once; it is enough to tell two notices apart. */
enum { HASH_SHORT = 16 };

/* ---- differences ---- */

static const char *text_of(const json_t *side, const char *key) {
    const char *text = json_string_value(json_object_get(side, key));
    return text == NULL ? "" : text;
}

/* "3 → 2", or "2" where both are the same. */
static void put_moved(struct page *p, const char *before, const char *after) {
    if (strcmp(before, after) != 0) {
        html_text(&p->m, before);
        textbuf_puts(&p->m, " → ");
    }
    html_text(&p->m, after);
}

/* A whole number of a side; a dash where it has none. */
static const char *number_of(const json_t *side, const char *key, char *buffer, size_t size) {
    const json_t *number = json_object_get(side, key);
    if (!json_is_integer(number))
        return "–";
    (void)snprintf(buffer, size, "%lld", (long long)json_integer_value(number));
    return buffer;
}

/* A row of the table of differences is an object of the notice. */
static const json_t *before_of(const struct table_row *row) {
    return json_object_get(row->of, "before");
}

static const json_t *after_of(const struct table_row *row) {
    return json_object_get(row->of, "after");
}

/* A car that is no longer entered has no crew. */
static void write_plate(struct page *p, const struct table_row *row) {
    if (row->car >= 0)
        cell_plate(p, row);
    else
        cell_number(p, json_integer_value(json_object_get(row->of, "car")));
}

static void write_crew(struct page *p, const struct table_row *row) {
    if (row->car >= 0)
        cell_crew(p, row);
    else
        textbuf_puts(&p->m, "<th scope=\"row\">–</th>");
}

static void write_numbers(struct page *p, const struct table_row *row, const char *key) {
    char before[24];
    char after[24];
    textbuf_puts(&p->m, "<td>");
    put_moved(p, number_of(before_of(row), key, before, sizeof before),
              number_of(after_of(row), key, after, sizeof after));
    textbuf_puts(&p->m, "</td>");
}

static void write_place(struct page *p, const struct table_row *row) {
    write_numbers(p, row, "position");
}

static void write_era(struct page *p, const struct table_row *row) {
    write_numbers(p, row, "class_position");
}

/* A penalty that was sealed, as the event shows it; a dash where the car was not there. */
static void figure_of(const struct page *p, const json_t *side, struct textbuf *out) {
    int64_t penalty = 0;
    if (!json_is_object(side))
        textbuf_puts(out, "–");
    else if (decimal_parse(text_of(side, "penalty"), &penalty) == ERR_OK)
        words_penalty(out, p, penalty);
    else
        words_figure(out, p->lang, text_of(side, "penalty"));
}

/* Fails are told where there are any. */
static void write_penalty(struct page *p, const struct table_row *row) {
    const json_t *before = before_of(row);
    const json_t *after = after_of(row);
    struct textbuf *was = request_text(p->r);
    struct textbuf *is = request_text(p->r);
    char old[24];
    char new[24];
    figure_of(p, before, was);
    figure_of(p, after, is);
    textbuf_puts(&p->m, "<td>");
    put_moved(p, textbuf_text(was), textbuf_text(is));
    if (json_integer_value(json_object_get(before, "fails")) != 0 ||
        json_integer_value(json_object_get(after, "fails")) != 0) {
        textbuf_puts(&p->m, "<small>");
        say(p, "fails-head");
        textbuf_putc(&p->m, ' ');
        put_moved(p, number_of(before, "fails", old, sizeof old),
                  number_of(after, "fails", new, sizeof new));
        textbuf_puts(&p->m, "</small>");
    }
    textbuf_puts(&p->m, "</td>");
    p->m.failed = p->m.failed || was->failed || is->failed;
}

static const char *status_of(const struct page *p, const json_t *side) {
    return json_is_object(side) ? said(p, text_of(side, "status")) : "–";
}

static void write_status(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td>");
    put_moved(p, status_of(p, before_of(row)), status_of(p, after_of(row)));
    textbuf_puts(&p->m, "</td>");
}

static const struct table_cell difference_cells[] = {{"car", .write = write_plate},
                                                     {"crew", .write = write_crew},
                                                     {"place", .write = write_place},
                                                     {"penalty", .write = write_penalty},
                                                     {"era", .write = write_era},
                                                     {"status", .write = write_status},
                                                     {.key = NULL}};

/* True where its own result is another one; else it only makes room for others. */
static bool is_own(const json_t *row) {
    static const char *const results[] = {"penalty", "fails", "status"};
    const json_t *before = json_object_get(row, "before");
    const json_t *after = json_object_get(row, "after");
    if (!json_is_object(before) || !json_is_object(after))
        return true;
    for (size_t i = 0; i < sizeof results / sizeof results[0]; i++) {
        if (!json_equal(json_object_get(before, results[i]), json_object_get(after, results[i])))
            return true;
    }
    return false;
}

/* ---- what the template shows ---- */

/* The cars whose own result changed, or those that only make room for them. */
struct notice_difference {
    bool own;
    int64_t cars;
    struct markup rows;
    const json_t *list; /* of all that changed */
    int64_t replaces;
};

struct notice_content {
    int64_t number;
    const char *title;
    const char *kind; /* NULL where the title says it already */
    const char *body;
    int64_t posted;
    int64_t protest_until; /* 0 for none */
    int64_t replaces;      /* number of a notice, 0 for none */
    struct template_rows differences;
    bool sealed;
    bool good;
    const char *hash_first;
    const char *hash;
    const char *signer;
    struct address pdf;
    struct address json;
};

struct notices_content {
    struct markup state;
    struct template_rows notices;
};

static const struct template_hole difference_holes[] = {
    TEMPLATE_HOLE(struct notice_difference, own),
    TEMPLATE_HOLE(struct notice_difference, cars),
    TEMPLATE_HOLE(struct notice_difference, rows),
    {0}};

static const struct template_hole notice_holes[] = {
    TEMPLATE_HOLE(struct notice_content, number),
    TEMPLATE_HOLE(struct notice_content, title),
    TEMPLATE_HOLE(struct notice_content, kind),
    TEMPLATE_HOLE(struct notice_content, body),
    TEMPLATE_HOLE(struct notice_content, posted),
    TEMPLATE_HOLE(struct notice_content, protest_until),
    TEMPLATE_HOLE(struct notice_content, replaces),
    TEMPLATE_EACH(struct notice_content, differences, difference_holes),
    TEMPLATE_HOLE(struct notice_content, sealed),
    TEMPLATE_HOLE(struct notice_content, good),
    TEMPLATE_HOLE(struct notice_content, hash_first),
    TEMPLATE_HOLE(struct notice_content, hash),
    TEMPLATE_HOLE(struct notice_content, signer),
    TEMPLATE_HOLE(struct notice_content, pdf),
    TEMPLATE_HOLE(struct notice_content, json),
    {0}};

static const struct template_hole notices_holes[] = {
    TEMPLATE_HOLE(struct notices_content, state),
    TEMPLATE_EACH(struct notices_content, notices, notice_holes),
    {0}};

struct template notices_template = {.file = "web/board/templates/notices.html",
                                    .holes = notices_holes};

/* ---- differences of a notice ---- */

static void put_rows_caption(struct page *p, const void *of) {
    const struct notice_difference *d = of;
    say_count(p, d->own ? "differences" : "make-room", d->cars,
              page_text(p, "%lld", (long long)d->replaces));
}

static void put_rows(struct page *p, const void *of) {
    const struct notice_difference *d = of;
    struct table t;
    size_t i;
    json_t *row;
    table_begin(&t, p, "moves", "moves", caption_markup((struct markup){put_rows_caption, d}),
                difference_cells);
    json_array_foreach(d->list, i, row) {
        if (is_own(row) != d->own)
            continue;
        json_int_t number = json_integer_value(json_object_get(row, "car"));
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, entries_find(p->event->entries, number), row);
    }
    table_end(p);
}

static void release_json(void *json) {
    json_decref(json);
}

/* Fills in up to two rows: those whose own result changed, and the others. */
static bool list_differences(struct page *p, const struct stored_notice *n,
                             struct template_rows *out) {
    json_t *content = n->content == NULL ? NULL : json_loads(n->content, 0, NULL);
    struct notice_difference *list = request_array(p->r, 2, sizeof *list);
    const json_t *all = json_object_get(content, "differences");
    if (!request_owns(p->r, content, release_json) || list == NULL)
        return false;
    *out = (struct template_rows)TEMPLATE_ROWS_OF(list, 0);
    for (int own = 1; own >= 0; own--) {
        struct notice_difference *d = &list[out->count];
        *d = (struct notice_difference){
            .own = own, .rows = {put_rows, d}, .list = all, .replaces = n->supersedes};
        for (size_t i = 0; i < json_array_size(all); i++)
            d->cars += is_own(json_array_get(all, i)) == d->own;
        out->count += d->cars > 0;
    }
    return true;
}

/* ---- notices ---- */

/* The first bytes of a hash or key as hex digits; NULL when memory is out. */
static const char *hex_of(struct request *r, const unsigned char *bytes, size_t len) {
    char *hex = request_array(r, 2 * len + 1, 1);
    return hex == NULL ? NULL : sodium_bin2hex(hex, 2 * len + 1, bytes, len);
}

static void fill_seal(struct page *p, const struct stored_notice *n, struct notice_content *out) {
    const char *slug = p->rules->slug;
    long long number = (long long)n->number;
    out->good = seal_is_good(&n->seal, n->content, strlen(n->content));
    out->hash_first = hex_of(p->r, n->seal.hash, HASH_SHORT / 2);
    out->hash = hex_of(p->r, n->seal.hash, sizeof n->seal.hash);
    out->signer = hex_of(p->r, n->seal.signer, sizeof n->seal.signer);
    out->pdf = page_local(p, "/api/v1/events/%s/paper/notices/%lld", slug, number);
    out->json = page_local(p, "/api/v1/events/%s/notices/%lld", slug, number);
    p->m.failed =
        p->m.failed || out->hash_first == NULL || out->hash == NULL || out->signer == NULL;
}

static void fill_notice(struct page *p, const struct stored_notice *n, struct notice_content *out) {
    const char *kind = said_of(p, "notice", n->kind);
    *out = (struct notice_content){.number = n->number,
                                   .title = n->title,
                                   .kind = strcmp(kind, n->title) == 0 ? NULL : kind,
                                   .body = n->body,
                                   .posted = n->posted_ms,
                                   .protest_until = n->protest_until_ms,
                                   .replaces = n->supersedes,
                                   .sealed = n->content != NULL};
    if (n->supersedes > 0)
        p->m.failed = !list_differences(p, n, &out->differences) || p->m.failed;
    if (out->sealed)
        fill_seal(p, n, out);
}

unsigned page_notices(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    struct page p;
    page_begin(&p, r, r->results->view);
    struct notice_content *notices = request_array(r, board->count, sizeof *notices);
    if (notices == NULL)
        return page_give_up(&p);
    /* The newest first. */
    for (size_t i = 0; i < board->count; i++)
        fill_notice(&p, &board->list[board->count - 1 - i], &notices[i]);
    const struct notices_content content = {.state = page_state_line(),
                                            .notices = TEMPLATE_ROWS_OF(notices, board->count)};
    template_write(&p, &notices_template, &content);
    return page_finish(
        &p, b,
        &(struct page_frame){
            .title = said(&p, "notices"), .here = "notices", .downloads = "notices", .csv = true});
}
