/* SPDX-License-Identifier: MIT */
#include "http/negotiation.h"

#include <string.h>

/* True for a weight of zero: "q=0", "q=0.00". */
static bool is_refused(const char *parameters, size_t len) {
    const char *end = parameters + len;
    while (parameters < end && (*parameters == ';' || *parameters == ' ' || *parameters == '\t'))
        parameters++;
    if (end - parameters < 3 || strncasecmp(parameters, "q=0", 3) != 0)
        return false;
    for (parameters += 3; parameters < end; parameters++) {
        if (*parameters >= '1' && *parameters <= '9')
            return false;
    }
    return true;
}

bool accepts_gzip(const char *value) {
    int named = -1;
    int any = -1;
    while (value != NULL && *value != '\0') {
        value += strspn(value, " \t,");
        size_t all = strcspn(value, ",");
        size_t name = strcspn(value, ";, \t");
        int accepted = !is_refused(value + name, all - name);
        if ((name == 4 && strncasecmp(value, "gzip", 4) == 0) ||
            (name == 6 && strncasecmp(value, "x-gzip", 6) == 0))
            named = accepted;
        else if (name == 1 && *value == '*')
            any = accepted;
        value += all;
    }
    return named >= 0 ? named == 1 : any == 1;
}

bool names_etag(const char *list, const char *etag) {
    return *etag != '\0' && (strcmp(list, "*") == 0 || strstr(list, etag) != NULL);
}
