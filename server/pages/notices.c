/* SPDX-License-Identifier: MIT */
/* The noticeboard: what the organisers posted, newest first, with its seal, and how a
 * classification differs from the one that it replaces. */
#include <jansson.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
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

static void cell_numbers(struct page *p, const json_t *row, const char *key) {
    char before[24];
    char after[24];
    textbuf_puts(&p->m, "<td>");
    put_moved(p, number_of(json_object_get(row, "before"), key, before, sizeof before),
              number_of(json_object_get(row, "after"), key, after, sizeof after));
    textbuf_puts(&p->m, "</td>");
}

/* A penalty as it was sealed, with the reader's decimal sign; a dash where the car was not there.
 */
static void figure_of(const struct page *p, const json_t *side, struct textbuf *out) {
    if (json_is_object(side))
        words_figure(out, p->lang, text_of(side, "penalty"));
    else
        textbuf_puts(out, "–");
}

/* Fails are told where there are any. */
static void cell_cost(struct page *p, const json_t *row) {
    const json_t *before = json_object_get(row, "before");
    const json_t *after = json_object_get(row, "after");
    struct textbuf was = {0};
    struct textbuf is = {0};
    char old[24];
    char new[24];
    figure_of(p, before, &was);
    figure_of(p, after, &is);
    textbuf_puts(&p->m, "<td>");
    put_moved(p, textbuf_text(&was), textbuf_text(&is));
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
    p->m.failed = p->m.failed || was.failed || is.failed;
    textbuf_clear(&was);
    textbuf_clear(&is);
}

static const char *status_of(const struct page *p, const json_t *side) {
    return json_is_object(side) ? said(p, text_of(side, "status")) : "–";
}

static void put_difference(struct page *p, const json_t *row) {
    json_int_t number = json_integer_value(json_object_get(row, "car"));
    int car = entries_find(p->event->entries, number);
    textbuf_puts(&p->m, "<tr>");
    if (car >= 0) {
        const struct table_row of = {car, NULL};
        cell_plate(p, &of);
        cell_crew(p, &of);
    } else {
        textbuf_printf(&p->m, "<td>%lld</td><th scope=\"row\">–</th>", (long long)number);
    }
    cell_numbers(p, row, "position");
    cell_cost(p, row);
    cell_numbers(p, row, "class_position");
    textbuf_puts(&p->m, "<td>");
    put_moved(p, status_of(p, json_object_get(row, "before")),
              status_of(p, json_object_get(row, "after")));
    textbuf_puts(&p->m, "</td></tr>\n");
}

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

/* A folded table of those whose own result changed, or of the others; its words are of {0} cars
 * and notice {1}, that they are compared with. */
static void put_rows(struct page *p, const json_t *rows, bool own, const char *key,
                     const char *old) {
    struct textbuf caption = {0};
    int64_t count = 0;
    char number[24];
    size_t i;
    json_t *row;
    json_array_foreach(rows, i, row) count += is_own(row) == own;
    if (count == 0)
        return;
    (void)snprintf(number, sizeof number, "%lld", (long long)count);
    const char *args[] = {number, old};
    words_put(&caption, word_for(p->lang, key, count), args, 2);
    textbuf_printf(&p->m, "<details><summary>%s</summary>\n", textbuf_text(&caption));
    table_begin_by_hand(p, "moves", textbuf_text(&caption));
    json_array_foreach(rows, i, row) {
        if (is_own(row) == own)
            put_difference(p, row);
    }
    table_end(p);
    textbuf_puts(&p->m, "</details>\n");
    p->m.failed = p->m.failed || caption.failed;
    textbuf_clear(&caption);
}

static void put_differences(struct page *p, const struct stored_notice *n) {
    json_t *content = n->content == NULL ? NULL : json_loads(n->content, 0, NULL);
    const json_t *rows = json_object_get(content, "differences");
    char old[24];
    (void)snprintf(old, sizeof old, "%lld", (long long)n->supersedes);
    if (json_array_size(rows) == 0) {
        textbuf_puts(&p->m, "<p>");
        say_with(p, "no-differences", old, NULL, NULL);
        textbuf_puts(&p->m, "</p>\n");
    }
    put_rows(p, rows, true, "differences", old);
    put_rows(p, rows, false, "make-room", old);
    json_decref(content);
}

/* ---- seals ---- */

static void put_forms(struct page *p, const struct stored_notice *n) {
    char address[160];
    textbuf_puts(&p->m, "<p class=\"tools\">");
    (void)snprintf(address, sizeof address, "/api/v1/events/%s/paper/notices/%lld", p->rules->slug,
                   (long long)n->number);
    page_tool(p, address, "PDF");
    (void)snprintf(address, sizeof address, "/api/v1/events/%s/notices/%lld", p->rules->slug,
                   (long long)n->number);
    page_tool(p, address, "JSON");
    textbuf_puts(&p->m, "</p>\n");
}

static void put_seal(struct page *p, const struct stored_notice *n) {
    char hash[2 * SEAL_HASH_LEN + 1];
    char key[2 * SEAL_KEY_LEN + 1];
    char first[HASH_SHORT + sizeof "<code></code>"];
    char whole[sizeof hash + sizeof "<code></code>"];
    char signer[sizeof key + sizeof "<code></code>"];
    if (n->content == NULL) {
        textbuf_puts(&p->m, "<p class=\"quiet\">");
        say(p, "seal-none");
        textbuf_puts(&p->m, "</p>\n");
        return;
    }
    (void)sodium_bin2hex(hash, sizeof hash, n->seal.hash, sizeof n->seal.hash);
    (void)sodium_bin2hex(key, sizeof key, n->seal.signer, sizeof n->seal.signer);
    (void)snprintf(first, sizeof first, "<code>%.*s</code>", HASH_SHORT, hash);
    (void)snprintf(whole, sizeof whole, "<code>%s</code>", hash);
    (void)snprintf(signer, sizeof signer, "<code>%s</code>", key);
    textbuf_puts(&p->m, "<details class=\"seal\"><summary>");
    say_with(p,
             seal_is_good(&n->seal, n->content, strlen(n->content)) ? "seal-good" : "seal-broken",
             first, NULL, NULL);
    textbuf_puts(&p->m, "</summary>\n<p>");
    say_with(p, "seal-of", whole, signer, NULL);
    textbuf_puts(&p->m, "</p>\n<p>");
    say_with(p, "seal-how", "<code>cairn verify</code>", NULL, NULL);
    textbuf_puts(&p->m, "</p></details>\n");
    put_forms(p, n);
}

/* ---- notices ---- */

/* Its kind, where the title does not say so already; when it was posted; until when protests are
 * accepted; what it replaces. */
static void put_about(struct page *p, const struct stored_notice *n) {
    char kind[32];
    char link[64];
    (void)snprintf(kind, sizeof kind, "notice-%s", n->kind);
    textbuf_puts(&p->m, "<p class=\"quiet\">");
    if (strcmp(said(p, kind), n->title) != 0) {
        say(p, kind);
        textbuf_puts(&p->m, " · ");
    }
    say(p, "posted");
    textbuf_putc(&p->m, ' ');
    put_moment(p, n->posted_ms);
    textbuf_puts(&p->m, "</p>\n");
    if (n->protest_until_ms > 0) {
        textbuf_puts(&p->m, "<p><strong>");
        say(p, "protest-until");
        textbuf_putc(&p->m, ' ');
        put_moment(p, n->protest_until_ms);
        textbuf_puts(&p->m, "</strong></p>\n");
    }
    if (n->supersedes > 0) {
        (void)snprintf(link, sizeof link, "<a href=\"#notice-%lld\">%lld</a>",
                       (long long)n->supersedes, (long long)n->supersedes);
        textbuf_puts(&p->m, "<p>");
        say_with(p, "replaces-notice", link, NULL, NULL);
        textbuf_puts(&p->m, "</p>\n");
    }
}

static void put_notice(struct page *p, const struct stored_notice *n) {
    textbuf_printf(&p->m, "<article id=\"notice-%lld\"><h2>%lld. ", (long long)n->number,
                   (long long)n->number);
    html_text(&p->m, n->title);
    textbuf_puts(&p->m, "</h2>\n");
    put_about(p, n);
    if (*n->body != '\0') {
        textbuf_puts(&p->m, "<p class=\"typed\">");
        html_text(&p->m, n->body);
        textbuf_puts(&p->m, "</p>\n");
    }
    if (n->supersedes > 0)
        put_differences(p, n);
    put_seal(p, n);
    textbuf_puts(&p->m, "</article>\n");
}

unsigned page_notices(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    struct page p;
    page_begin(&p, r, r->results->view);
    textbuf_puts(&p.m, "<h1>");
    say(&p, "notices");
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    if (board->count == 0) {
        textbuf_puts(&p.m, "<p>");
        say(&p, "no-notices");
        textbuf_puts(&p.m, "</p>\n");
    }
    for (size_t i = board->count; i-- > 0;)
        put_notice(&p, &board->list[i]);
    return page_finish(
        &p, b,
        &(struct page_frame){
            .title = said(&p, "notices"), .here = "notices", .downloads = "notices", .csv = true});
}
