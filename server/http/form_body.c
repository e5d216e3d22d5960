/* SPDX-License-Identifier: MIT */
#include "http/form_body.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/utf8.h"

static int digit(char c) {
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                  : -1;
}

/* Decodes in place. An escape that is none stays as it is, as browsers read it. Returns false where
 * the text then holds a NUL or is no UTF-8. */
static bool decode(char *text) {
    char *to = text;
    for (const char *from = text; *from != '\0'; from++) {
        int high = from[0] == '%' ? digit(from[1]) : -1;
        int low = high >= 0 ? digit(from[2]) : -1;
        if (low >= 0) {
            *to = (char)(high * 16 + low);
            if (*to++ == '\0')
                return false;
            from += 2;
        } else {
            *to++ = (char)(*from == '+' ? ' ' : *from);
        }
    }
    *to = '\0';
    return utf8_valid(text, strlen(text));
}

static int place_of(const char *name, const char *const *names, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (strcmp(names[i], name) == 0)
            return (int)i;
    }
    return -1;
}

static bool take_pair(struct form_body *form, char *pair, const char *const *names, size_t count) {
    char *value = strchr(pair, '=');
    if (value != NULL)
        *value++ = '\0';
    if (!decode(pair) || (value != NULL && !decode(value)))
        return false;
    int place = place_of(pair, names, count);
    if (place < 0 || form->values[place] != NULL)
        return false;
    form->values[place] = value == NULL ? "" : value;
    return true;
}

int form_body_read(struct form_body *form, const char *body, size_t len, const char *const *names,
                   size_t count) {
    char *rest = NULL;
    bool good = true;
    *form = (struct form_body){.bytes = malloc(len + 1), .room = len + 1};
    if (form->bytes == NULL)
        return ERR_NOMEM;
    if (len > 0)
        memcpy(form->bytes, body, len);
    form->bytes[len] = '\0';
    good = strlen(form->bytes) == len;
    for (char *pair = strtok_r(form->bytes, "&", &rest); good && pair != NULL;
         pair = strtok_r(NULL, "&", &rest))
        good = take_pair(form, pair, names, count);
    for (size_t i = 0; i < FORM_BODY_FIELDS_MAX; i++) {
        if (form->values[i] == NULL)
            form->values[i] = "";
    }
    form->read = good;
    return good ? ERR_OK : ERR_INPUT;
}

void form_body_clear(struct form_body *form) {
    if (form->bytes != NULL)
        sodium_memzero(form->bytes, form->room);
    free(form->bytes);
    *form = (struct form_body){0};
}
