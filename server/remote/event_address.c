/* SPDX-License-Identifier: MIT */
#include "remote/event_address.h"

#include <ctype.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "remote/http_client.h"
#include "system/data_dir.h"

enum { KEY_MIN = 8, SEGMENTS_MAX = 6 };

int event_key_parse(const char *text, char **out) {
    static const char signs[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._~-";
    const char *hash = strrchr(text, '#');
    const char *key = hash == NULL ? text : hash + 1;
    *out = NULL;
    key += strspn(key, " \t\r\n");
    size_t len = strspn(key, signs);
    /* Whatever else stands behind it would go into a header of the request. */
    if (len < KEY_MIN || len > EVENT_KEY_MAX || key[len + strspn(key + len, " \t\r\n")] != '\0')
        return ERR_SYNTAX;
    *out = strndup(key, len);
    return *out == NULL ? ERR_NOMEM : ERR_OK;
}

void event_key_free(char *key) {
    if (key != NULL)
        sodium_memzero(key, strlen(key));
    free(key);
}

void event_address_clear(struct event_address *address) {
    free(address->page);
    free(address->readings);
    event_key_free(address->key);
    *address = (struct event_address){0};
}

/* The slug in a path of one of the forms known; NULL where it is none. */
static const char *slug_in(char *path) {
    const char *parts[SEGMENTS_MAX + 1];
    size_t count = 0;
    char *rest = NULL;
    for (char *p = strtok_r(path, "/", &rest); p != NULL; p = strtok_r(NULL, "/", &rest)) {
        if (count == SEGMENTS_MAX)
            return NULL;
        parts[count++] = p;
    }
    if (count == 1 ||
        (count == 2 && (strcmp(parts[1], "control") == 0 || strcmp(parts[1], "office") == 0)))
        return parts[0];
    bool api = count >= 4 && strcmp(parts[0], "api") == 0 && strcmp(parts[1], "v1") == 0 &&
               strcmp(parts[2], "events") == 0;
    return api && (count == 4 || (count == 5 && strcmp(parts[4], "readings") == 0)) ? parts[3]
                                                                                    : NULL;
}

int event_address_parse(const char *text, struct event_address *out, struct textbuf *why) {
    static const char form[] = "the address of an event is needed, such as https://HOST/SLUG/";
    char *base = NULL;
    char *path = NULL;
    int err = ERR_INPUT;
    *out = (struct event_address){0};
    size_t scheme = strncasecmp(text, "https://", 8) == 0  ? 8
                    : strncasecmp(text, "http://", 7) == 0 ? 7
                                                           : 0;
    size_t host = scheme + strcspn(text + scheme, "/?#");
    const char *fragment = strchr(text, '#');
    if (scheme == 0) {
        textbuf_printf(why, "%s: it begins with https:// or http://", form);
        return ERR_INPUT;
    }
    base = strndup(text, host);
    path = strndup(text + host, strcspn(text + host, "?#"));
    if (base == NULL || path == NULL) {
        err = ERR_NOMEM;
        goto done;
    }
    for (char *p = base; *p != '\0'; p++)
        *p = (char)tolower((unsigned char)*p);
    if (http_base_length(base) != host) {
        /* Not quoted: a name and password before the host would be shown. */
        textbuf_printf(why, "%s: the name of the server is not written as it should be", form);
        goto done;
    }
    const char *slug = slug_in(path);
    if (slug == NULL || !slug_is_good(slug)) {
        textbuf_puts(why, form);
        goto done;
    }
    if (asprintf(&out->page, "%s/%s/", base, slug) < 0)
        out->page = NULL;
    if (asprintf(&out->readings, "%s/api/v1/events/%s/readings", base, slug) < 0)
        out->readings = NULL;
    if (out->page == NULL || out->readings == NULL) {
        err = ERR_NOMEM;
        goto done;
    }
    out->in_clear = scheme == 7 && !http_is_this_machine(base);
    err = ERR_OK;
    if (fragment != NULL && fragment[1] != '\0')
        err = event_key_parse(fragment, &out->key);
    if (err == ERR_SYNTAX) {
        textbuf_puts(why, "what stands behind “#” in the address is no key");
        err = ERR_INPUT;
    }
done:
    free(base);
    free(path);
    return err;
}
