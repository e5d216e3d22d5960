/* SPDX-License-Identifier: MIT */
#include "site/site_map.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "site/routes.h"

enum { PATH_ROOM = 512 };

/* An address that becomes a file, and the parameters that make a difference there. The others (a
 * car to highlight, a text to find) are for a server only. */
struct mapping {
    const char *pattern;
    const char *parameters[6]; /* in the order in which they name a file; NULL ends them */
    const char *suffix;
};

static const char page_suffix[] = "index.html";

static const struct mapping mappings[] = {
    {"/", {"lang"}, page_suffix},
    {"/{}/", {"by", "class", "after", "view", "lang"}, page_suffix},
    {"/{}/cars/{}", {"lang"}, page_suffix},
    {"/{}/compare", {"cars", "lang"}, page_suffix},
    {"/{}/tests/{}", {"lang"}, page_suffix},
    {"/{}/starts/{}", {"lang"}, page_suffix},
    {"/{}/notices", {"lang"}, page_suffix},
    {"/{}/event", {"lang"}, page_suffix},
    {"/{}/screen", {"lang"}, page_suffix},
    {"/{}/qr", {"to", "lang"}, page_suffix},
    {"/api/v1/events", {NULL}, ".json"},
    {"/api/v1/events/{}", {NULL}, ".json"},
    {"/api/v1/events/{}/standings", {"by", "class", "after"}, ".json"},
    {"/api/v1/events/{}/board", {"by", "class", "after", "view", "lang"}, ".json"},
    {"/api/v1/events/{}/cars/{}", {NULL}, ".json"},
    {"/api/v1/events/{}/tests/{}", {NULL}, ".json"},
    {"/api/v1/events/{}/starts/{}", {NULL}, ".json"},
    {"/api/v1/events/{}/notices", {NULL}, ".json"},
    {"/api/v1/events/{}/notices/{}", {NULL}, ".json"},
    {"/_/{}/{}", {NULL}, ""},
};

/* A part of an address: not ended by a NUL. */
struct piece {
    const char *at;
    size_t len;
};

static bool piece_is(struct piece p, const char *text) {
    return p.len == strlen(text) && memcmp(p.at, text, p.len) == 0;
}

static bool piece_begins(struct piece p, const char *text) {
    return p.len >= strlen(text) && memcmp(p.at, text, strlen(text)) == 0;
}

/* The value of a parameter as it stands in the query; of no length where it is not given. */
static struct piece value_of(const char *query, const char *name) {
    size_t name_len = strlen(name);
    while (query != NULL && *query != '\0') {
        size_t pair = strcspn(query, "&");
        if (pair > name_len && query[name_len] == '=' && strncmp(query, name, name_len) == 0)
            return (struct piece){query + name_len + 1, pair - name_len - 1};
        query += pair + (query[pair] == '&');
    }
    return (struct piece){"", 0};
}

/* A value as part of a name; different values have different names. A character that a file system
 * or a host might refuse is written as "_" and two hexadecimal digits. */
static void put_name(struct textbuf *b, struct piece value) {
    for (size_t i = 0; i < value.len; i++) {
        char c = value.at[i];
        if ((c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
            c == '-' || c == ',')
            textbuf_putc(b, c);
        else if (c == '%')
            textbuf_putc(b, '_'); /* and the two digits behind it */
        else
            textbuf_printf(b, "_%02X", (unsigned char)c);
    }
}

/* Two cars side by side are a page, in one order; more would be too many pages. */
static bool order_pair(struct piece value, char out[32]) {
    char *end;
    long one = strtol(value.at, &end, 10);
    if (end == value.at || end >= value.at + value.len || *end != ',')
        return false;
    const char *second = end + 1;
    long other = strtol(second, &end, 10);
    if (end == second || end != value.at + value.len || one == other)
        return false;
    (void)snprintf(out, 32, "%ld,%ld", one < other ? one : other, one < other ? other : one);
    return true;
}

/* The page that a code leads to, without the language, which is the code's own. Of no length, and
 * false, where it is nothing to pin up: what concerns one car, or one view of the standings.
 *   to  percent-encoded, as it stands in the address; gets what is left of it */
static bool trim_target(struct piece *to) {
    static const char query[] = "%3F"; /* the language comes last in every query */
    const char *mark = memmem(to->at, to->len, query, sizeof query - 1);
    if (mark != NULL) {
        const char *rest = mark + sizeof query - 1;
        struct piece behind = {rest, to->len - (size_t)(rest - to->at)};
        if (!piece_begins(behind, "lang%3D"))
            return false;
        to->len = (size_t)(mark - to->at);
    }
    return !piece_begins(*to, "cars") && !piece_begins(*to, "compare") && !piece_begins(*to, "qr");
}

/* One parameter's part of the names. Returns false where the site lacks the whole page. */
static bool put_parameter(const struct mapping *mapping, const char *name, struct piece value,
                          struct textbuf *file, struct textbuf *asked, char *before) {
    char pair[32];
    bool page = mapping->suffix == page_suffix;
    if (value.len == 0 || (strcmp(name, "by") == 0 && piece_is(value, "overall")) ||
        (strcmp(name, "lang") == 0 && piece_is(value, "en")))
        return true;
    if (strcmp(name, "cars") == 0) {
        if (!order_pair(value, pair))
            return false;
        value = (struct piece){pair, strlen(pair)};
    }
    if (strcmp(name, "to") == 0 && (!trim_target(&value) || value.len == 0))
        return true;
    textbuf_printf(file, "%s%s-", page ? "" : "/", name);
    put_name(file, value);
    textbuf_puts(file, page ? "/" : "");
    textbuf_printf(asked, "%c%s=%.*s", *before, name, (int)value.len, value.at);
    *before = '&';
    return true;
}

static bool put_all(const struct mapping *mapping, const char *query, struct textbuf *file,
                    struct textbuf *asked) {
    char before = '?';
    for (size_t i = 0; i < sizeof mapping->parameters / sizeof mapping->parameters[0]; i++) {
        const char *name = mapping->parameters[i];
        if (name == NULL)
            break;
        if (!put_parameter(mapping, name, value_of(query, name), file, asked, &before))
            return false;
    }
    bool csv = mapping->suffix != page_suffix && piece_is(value_of(query, "format"), "csv");
    if (csv)
        textbuf_printf(asked, "%cformat=csv", before);
    textbuf_puts(file, csv ? ".csv" : mapping->suffix);
    return true;
}

static const struct mapping *find_mapping(const struct route *route) {
    for (size_t i = 0; route != NULL && i < sizeof mappings / sizeof mappings[0]; i++) {
        if (strcmp(mappings[i].pattern, route->pattern) == 0)
            return &mappings[i];
    }
    return NULL;
}

bool site_map_file(const char *slug, bool has_qr, const char *address, struct textbuf *file,
                   struct textbuf *asked) {
    char args[ARG_COUNT][ARG_LEN];
    char allowed[64];
    char path[PATH_ROOM];
    size_t len = strcspn(address, "?");
    const char *query = address[len] == '?' ? address + len + 1 : NULL;
    textbuf_reset(file);
    textbuf_reset(asked);
    if (len == 0 || len >= sizeof path)
        return false;
    memcpy(path, address, len);
    path[len] = '\0';
    const struct route *route =
        route_find(&site_app.routes, "GET", path, args, allowed, sizeof allowed);
    const struct mapping *mapping = find_mapping(route);
    if (mapping == NULL || (route_names_event(route) && strcmp(args[0], slug) != 0))
        return false;
    struct piece to = value_of(query, "to");
    if (strcmp(mapping->pattern, "/{}/qr") == 0 && (!has_qr || !trim_target(&to)))
        return false;
    textbuf_puts(file, path + 1);
    textbuf_puts(asked, path);
    if (mapping->suffix == page_suffix && path[len - 1] != '/')
        textbuf_putc(file, '/');
    if (put_all(mapping, query, file, asked))
        return true;
    textbuf_reset(file);
    textbuf_reset(asked);
    return false;
}
