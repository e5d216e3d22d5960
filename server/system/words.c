/* SPDX-License-Identifier: MIT */
#include "system/words.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/decimal.h"
#include "base/err.h"
#include "system/assets.h"
#include "system/html.h"

enum { KEY_MAX = 64 };

struct language {
    const char *code;
    const char *name;
    const char *asset;
    char point;
    bool zero_is_one; /* nothing counts as one, as in French */
};

static const struct language languages[LANG_COUNT] = {
    {"en", "English", "web/words/board.en.json", '.', false},
    {"de", "Deutsch", "web/words/board.de.json", ',', false},
    {"fr", "Français", "web/words/board.fr.json", ',', true},
    {"it", "Italiano", "web/words/board.it.json", ',', false},
};

/* Set before the threads start, and only read from then on. */
static json_t *catalogues[LANG_COUNT];

int words_load(void) {
    for (int i = 0; i < LANG_COUNT; i++) {
        const struct asset *asset = asset_find(languages[i].asset);
        if (catalogues[i] != NULL)
            continue;
        if (asset == NULL)
            return ERR_INPUT;
        catalogues[i] = json_loadb(asset->bytes, (size_t)(asset->end - asset->bytes),
                                   JSON_REJECT_DUPLICATES, NULL);
        if (!json_is_object(catalogues[i])) {
            words_unload();
            return ERR_INPUT;
        }
    }
    return ERR_OK;
}

void words_unload(void) {
    for (int i = 0; i < LANG_COUNT; i++) {
        json_decref(catalogues[i]);
        catalogues[i] = NULL;
    }
}

const char *lang_code(enum lang lang) {
    return languages[lang].code;
}

const char *lang_name(enum lang lang) {
    return languages[lang].name;
}

int lang_parse(const char *code, enum lang *out) {
    for (int i = 0; i < LANG_COUNT; i++) {
        if (strcmp(languages[i].code, code) == 0) {
            *out = (enum lang)i;
            return ERR_OK;
        }
    }
    return ERR_UNKNOWN;
}

/* The weight of a range in thousandths: 1000 unless its parameters say otherwise. */
static int weight_of(const char *parameters, size_t len) {
    const char *end = parameters + len;
    while (parameters < end && strncasecmp(parameters, "q=", 2) != 0)
        parameters++;
    if (parameters == end)
        return 1000;
    parameters += 2;
    int weight = *parameters == '1' ? 1000 : 0;
    if (parameters + 1 < end && parameters[1] == '.') {
        int unit = 100;
        for (parameters += 2; parameters < end && *parameters >= '0' && *parameters <= '9' && unit;
             parameters++, unit /= 10)
            weight += (*parameters - '0') * unit;
    }
    return weight;
}

enum lang lang_accepted(const char *header) {
    enum lang best = LANG_EN;
    int best_weight = 0;
    while (header != NULL && *header != '\0') {
        header += strspn(header, " \t,");
        size_t all = strcspn(header, ",");
        size_t tag = strcspn(header, ";,- \t");
        int weight = weight_of(header, all);
        for (int i = 0; i < LANG_COUNT; i++) {
            if (tag == 2 && strncasecmp(header, languages[i].code, 2) == 0 &&
                weight > best_weight) {
                best = (enum lang)i;
                best_weight = weight;
            }
        }
        header += all;
    }
    return best;
}

static const char *find(enum lang lang, const char *key) {
    const char *text = json_string_value(json_object_get(catalogues[lang], key));
    return text != NULL ? text : json_string_value(json_object_get(catalogues[LANG_EN], key));
}

const char *word(enum lang lang, const char *key) {
    const char *text = find(lang, key);
    return text != NULL ? text : key;
}

bool word_is_one(enum lang lang, int64_t n) {
    return n == 1 || (n == 0 && languages[lang].zero_is_one);
}

const char *word_for(enum lang lang, const char *key, int64_t n) {
    char full[KEY_MAX];
    (void)snprintf(full, sizeof full, "%s.%s", key, word_is_one(lang, n) ? "one" : "other");
    const char *text = find(lang, full);
    return text != NULL ? text : key;
}

void words_put(struct textbuf *b, const char *text, const char *const *args, int count) {
    char piece[256];
    while (*text != '\0') {
        if (text[0] == '{' && text[1] >= '0' && text[1] <= '9' && text[2] == '}') {
            if (text[1] - '0' < count)
                textbuf_puts(b, args[text[1] - '0']);
            text += 3;
            continue;
        }
        size_t len = strcspn(text + 1, "{") + 1;
        if (len >= sizeof piece)
            len = sizeof piece - 1;
        memcpy(piece, text, len);
        piece[len] = '\0';
        html_text(b, piece);
        text += len;
    }
}

void words_figure(struct textbuf *b, enum lang lang, const char *text) {
    const char point = languages[lang].point;
    for (; *text != '\0'; text++) {
        if (*text == '.')
            textbuf_putc(b, point);
        else
            textbuf_putc(b, *text);
    }
}

void words_point(struct textbuf *b, enum lang lang, size_t from) {
    char *point = b->failed || b->len == from ? NULL : memchr(b->bytes + from, '.', b->len - from);
    if (point != NULL)
        *point = languages[lang].point;
}

void words_decimal(struct textbuf *b, enum lang lang, int64_t thousandths) {
    size_t from = b->len;
    decimal_write(b, thousandths);
    if (!b->failed && b->len >= from + 4)
        b->bytes[b->len - 4] = languages[lang].point;
}
