/* SPDX-License-Identifier: MIT */
/* Prints the server's route table as JSON, for the tests that ask every address: a list of objects
 * with method, pattern, role, limit (bytes of a body), parameters (of the query) and the flags. */
#include <stdio.h>

#include "site/routes.h"

static void print_names(const char *const *names) {
    (void)printf("[");
    for (size_t i = 0; names != NULL && names[i] != NULL; i++)
        (void)printf("%s\"%s\"", i > 0 ? ", " : "", names[i]);
    (void)printf("]");
}

static const char *truth(bool is) {
    return is ? "true" : "false";
}

int main(void) {
    static const char *const roles[] = {
        [ROLE_PUBLIC] = "public", [ROLE_TIMEKEEPER] = "timekeeper", [ROLE_ORGANISER] = "organiser"};
    for (size_t i = 0; i < site_app.routes.count; i++) {
        const struct route *r = &site_app.routes.routes[i];
        (void)printf(
            "%s{\"method\": \"%s\", \"pattern\": \"%s\", \"role\": \"%s\", \"limit\": %zu, "
            "\"local\": %s, \"eventless\": %s, \"fresh\": %s, \"parameters\": ",
            i > 0 ? ",\n" : "[", r->method, r->pattern, roles[r->role], r->body_limit,
            truth(route_is(r, ROUTE_LOCAL)), truth(route_is(r, ROUTE_EVENTLESS)),
            truth(route_is(r, ROUTE_FRESH)));
        print_names(r->parameters);
        (void)printf("}");
    }
    (void)printf("]\n");
    return 0;
}
