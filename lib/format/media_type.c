/* SPDX-License-Identifier: MIT */
#include "format/media_type.h"

#include <string.h>
#include <strings.h>

bool media_type_is(const char *content_type, const char *type) {
    if (content_type == NULL)
        return false;
    size_t len = strcspn(content_type, "; \t");
    return strlen(type) == len && strncasecmp(type, content_type, len) == 0;
}

bool media_type_is_utf8(const char *content_type) {
    static const char *const good[] = {"utf-8", "utf8", "us-ascii"};
    static const char name[] = "charset=";
    const char *p = content_type == NULL ? NULL : strchr(content_type, ';');
    for (; p != NULL; p = strchr(p, ';')) {
        p += 1 + strspn(p + 1, " \t");
        if (strncasecmp(p, name, sizeof name - 1) != 0)
            continue;
        p += sizeof name - 1;
        p += *p == '"';
        size_t len = strcspn(p, "\"; \t");
        bool known = false;
        for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
            known = known || (strlen(good[i]) == len && strncasecmp(p, good[i], len) == 0);
        if (!known)
            return false;
    }
    return true;
}
