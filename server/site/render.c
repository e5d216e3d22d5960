/* SPDX-License-Identifier: MIT */
#include "site/render.h"

#include <stdlib.h>
#include <string.h>

/* Parses a query, in place, into the values of the route's parameters. */
static void parse_query(struct request *r, char *query) {
    char *rest = NULL;
    for (char *pair = strtok_r(query, "&", &rest); pair != NULL;
         pair = strtok_r(NULL, "&", &rest)) {
        char *value = strchr(pair, '=');
        if (value == NULL)
            continue;
        *value++ = '\0';
        (void)MHD_http_unescape(value);
        int place = route_parameter(r->route, pair);
        if (place >= 0 && *value != '\0')
            r->query[place] = value;
    }
}

/* Parses an address, in place. False where no route reads anything there. */
static bool parse_address(struct request *r, char *path) {
    char allowed[64];
    char *query = strchr(path, '?');
    if (query != NULL)
        *query++ = '\0';
    r->path = path;
    r->route =
        route_find(server_routes(r->server), r->method, path, r->args, allowed, sizeof allowed);
    if (r->route == NULL || r->route->handler.sort != HANDLER_READ)
        return false;
    if (query != NULL)
        parse_query(r, query);
    return true;
}

/* Finds the event that the address names. False where there is none. */
static bool find_event(struct request *r) {
    r->served = served_events_find(server_events(r->server), r->args[0]);
    return r->served != NULL;
}

unsigned render_address(struct server *server, struct snapshot *snapshot,
                        const struct static_page *static_page, const char *address,
                        struct textbuf *b, const char **media_type) {
    struct request r = {.server = server,
                        .method = "GET",
                        .body = "",
                        .key = -1,
                        .static_page = static_page,
                        .detail = "",
                        .media_type = "application/json"};
    unsigned status = MHD_HTTP_NOT_FOUND;
    char *path = strdup(address);
    if (path == NULL)
        return MHD_HTTP_SERVICE_UNAVAILABLE;
    bool found = parse_address(&r, path) && r.route->role == ROLE_PUBLIC &&
                 !route_is(r.route, ROUTE_LOCAL) && !route_is(r.route, ROUTE_FRESH);
    if (found && route_names_event(r.route)) {
        found = find_event(&r);
        r.snapshot = snapshot;
        r.results = &snapshot->public_results;
    }
    if (found)
        status = r.route->handler.read(&r, b);
    *media_type = r.media_type;
    request_memory_clear(&r);
    free(path);
    return status;
}

unsigned render_paper(struct server *server, const char *address, enum role role, const char *base,
                      const char *desk_key, struct textbuf *b) {
    struct request r = {.server = server,
                        .method = "GET",
                        .body = "",
                        .role = role,
                        .key = -1,
                        .base = base == NULL ? "" : base,
                        .desk_key = desk_key,
                        .detail = ""};
    unsigned status = MHD_HTTP_NOT_FOUND;
    char *path = strdup(address);
    if (path == NULL)
        return MHD_HTTP_SERVICE_UNAVAILABLE;
    if (parse_address(&r, path) && r.route->role <= role && route_is(r.route, ROUTE_PAPER) &&
        find_event(&r))
        r.snapshot = snapshot_acquire(&r.served->slot);
    if (r.snapshot != NULL) {
        r.results =
            role == ROLE_ORGANISER ? &r.snapshot->office_results : &r.snapshot->public_results;
        status = r.route->handler.read(&r, b);
    }
    if (status != MHD_HTTP_OK) {
        textbuf_reset(b);
        textbuf_puts(b, r.detail);
    }
    snapshot_release(r.snapshot);
    request_memory_clear(&r);
    free(path);
    return status;
}
