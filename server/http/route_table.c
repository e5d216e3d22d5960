/* SPDX-License-Identifier: MIT */
#include "http/route_table.h"

#include <stdio.h>
#include <string.h>

/* Matches a path with a pattern; each "{}" takes one or more characters that are no slash. */
static bool match(const char *pattern, const char *path, char args[][ARG_LEN]) {
    int arg = 0;
    while (*pattern != '\0') {
        if (pattern[0] != '{') {
            if (*pattern++ != *path++)
                return false;
            continue;
        }
        pattern += 2;
        size_t len = strcspn(path, "/");
        if (*pattern != '/' && *pattern != '\0')
            len = strcspn(path, "/."); /* a name before a suffix */
        if (len == 0 || len >= ARG_LEN || arg == ARG_COUNT)
            return false;
        memcpy(args[arg], path, len);
        args[arg++][len] = '\0';
        path += len;
    }
    return *path == '\0';
}

const struct route *route_find(const struct route_table *table, const char *method,
                               const char *path, char args[][ARG_LEN], char *allowed,
                               size_t allowed_size) {
    size_t used = 0;
    *allowed = '\0';
    for (size_t i = 0; i < table->count; i++) {
        const struct route *route = &table->routes[i];
        if (!match(route->pattern, path, args))
            continue;
        if (strcmp(route->method, method) == 0)
            return route;
        int n = snprintf(allowed + used, allowed_size - used, "%s%s", used > 0 ? ", " : "",
                         strcmp(route->method, "GET") == 0 ? "GET, HEAD" : route->method);
        if (n > 0 && (size_t)n < allowed_size - used)
            used += (size_t)n;
    }
    return NULL;
}

bool route_names_event(const struct route *route) {
    return !route_is(route, ROUTE_EVENTLESS) && strstr(route->pattern, "{}") != NULL;
}

int route_parameter(const struct route *route, const char *name) {
    for (int i = 0; route->parameters != NULL && route->parameters[i] != NULL; i++) {
        if (strcmp(route->parameters[i], name) == 0)
            return i;
    }
    return -1;
}
