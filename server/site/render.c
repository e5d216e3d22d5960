/* SPDX-License-Identifier: MIT */
/* Answers that are asked for from inside: for a static site, for a paper from the command line. No
 * connection stands behind such a request. */
#include <stdlib.h>
#include <string.h>

#include "http/http.h"

/* Takes a query apart, in place, into the values of the route's parameters. */
static void take_query(struct request *r, char *query) {
    char *rest = NULL;
    for (char *pair = strtok_r(query, "&", &rest); pair != NULL;
         pair = strtok_r(NULL, "&", &rest)) {
        char *value = strchr(pair, '=');
        if (value == NULL)
            continue;
        *value++ = '\0';
        (void)MHD_http_unescape(value);
        for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
            if (strcmp(r->route->parameters[i], pair) == 0 && *value != '\0')
                r->query[i] = value;
        }
    }
}

/* Takes an address apart, in place. False where nothing there can be read. */
static bool take_address(struct request *r, char *path) {
    char allowed[64];
    char *query = strchr(path, '?');
    if (query != NULL)
        *query++ = '\0';
    r->path = path;
    r->route = route_find(r->method, path, r->args, allowed, sizeof allowed);
    if (r->route == NULL || r->route->render == NULL)
        return false;
    if (query != NULL)
        take_query(r, query);
    return true;
}

unsigned server_render(struct server *s, struct snapshot *snapshot, const struct static_page *copy,
                       const char *address, struct textbuf *b, const char **media_type) {
    struct request r = {
        .server = s, .method = "GET", .version = MHD_HTTP_VERSION_1_1, .key = -1, .copy = copy};
    unsigned status = MHD_HTTP_NOT_FOUND;
    char *path = strdup(address);
    if (path == NULL)
        return MHD_HTTP_SERVICE_UNAVAILABLE;
    if (!take_address(&r, path) || r.route->role != ROLE_PUBLIC || r.route->local || r.route->fresh)
        goto done;
    if (strstr(r.route->pattern, "{}") != NULL && !r.route->eventless) {
        r.served = write_queue_find(server_write_queue(s), r.args[0]);
        if (r.served == NULL)
            goto done;
        r.snapshot = snapshot;
        r.results = &r.snapshot->public_results;
    }
    r.media_type = "application/json";
    status = r.route->render(&r, b);
    *media_type = r.media_type;
done:
    textbuf_clear(&r.detail);
    free(path);
    return status;
}

unsigned server_print(struct server *s, const char *address, enum role role, const char *base,
                      struct textbuf *b) {
    struct request r = {.server = s,
                        .method = "GET",
                        .version = MHD_HTTP_VERSION_1_1,
                        .role = role,
                        .key = -1,
                        .base = base == NULL ? "" : base};
    unsigned status = MHD_HTTP_NOT_FOUND;
    char *path = strdup(address);
    if (path == NULL)
        return MHD_HTTP_SERVICE_UNAVAILABLE;
    if (!take_address(&r, path) || r.route->role > role || !r.route->paper)
        goto done;
    r.served = write_queue_find(server_write_queue(s), r.args[0]);
    r.snapshot = r.served == NULL ? NULL : snapshot_acquire(&r.served->slot);
    if (r.snapshot == NULL)
        goto done;
    r.results = role == ROLE_ORGANISER ? &r.snapshot->office_results : &r.snapshot->public_results;
    status = r.route->render(&r, b);
done:
    if (status != MHD_HTTP_OK) {
        textbuf_reset(b);
        textbuf_puts(b, textbuf_text(&r.detail));
    }
    snapshot_release(r.snapshot);
    textbuf_clear(&r.detail);
    free(path);
    return status;
}
