/* SPDX-License-Identifier: MIT */
#include "format/json_read.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/arena.h"
#include "base/times.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"

static bool digit(char c) {
    return c >= '0' && c <= '9';
}

/* Length of the JSON number at `p`, 0 where there is none or it is not written as JSON asks. */
static size_t number_length(const char *p, const char *end) {
    const char *q = p;
    if (q < end && *q == '-')
        q++;
    if (q == end || !digit(*q))
        return 0;
    if (*q == '0')
        q++;
    else
        while (q < end && digit(*q))
            q++;
    if (q < end && *q == '.') {
        q++;
        if (q == end || !digit(*q))
            return 0;
        while (q < end && digit(*q))
            q++;
    }
    if (q < end && (*q == 'e' || *q == 'E')) {
        q++;
        if (q < end && (*q == '+' || *q == '-'))
            q++;
        if (q == end || !digit(*q))
            return 0;
        while (q < end && digit(*q))
            q++;
    }
    /* "012" and "1x" are no numbers; left as they are, the JSON library says so. */
    if (q < end && (digit(*q) || *q == '.' || *q == '_' || (*q >= 'a' && *q <= 'z')))
        return 0;
    return (size_t)(q - p);
}

/* Where its memory is out the JSON library often takes the text for wrong: it would be reported
 * that a good body is not well-formed. So its allocations go through here, and say when one failed.
 */
static _Thread_local bool ran_out;

static void *noting_malloc(size_t size) {
    void *block = malloc(size);
    ran_out = ran_out || block == NULL;
    return block;
}

/* Before main, since the library keeps the functions for all threads. */
__attribute__((constructor)) static void watch_memory(void) {
    json_set_alloc_funcs(noting_malloc, free);
}

/* How much a document holds, as far as its signs say. */
struct json_size {
    size_t containers;
    size_t values;
    long line;
    long too_deep, too_wide; /* the line where it is, 0 where it is not */
    size_t depth;
    struct {
        bool object;
        size_t commas;
    } open[JSON_DEPTH_MAX];
};

static void count_sign(struct json_size *size, char c) {
    bool begins = c == '{' || c == '[';
    size->line += c == '\n';
    size->containers += begins;
    size->values += begins || c == ',';
    if (begins && size->depth == JSON_DEPTH_MAX) {
        if (size->too_deep == 0)
            size->too_deep = size->line;
    } else if (begins) {
        size->open[size->depth].object = c == '{';
        size->open[size->depth++].commas = 0;
    } else if ((c == '}' || c == ']') && size->depth > 0) {
        size->depth--;
    } else if (c == ',' && size->depth > 0 && size->open[size->depth - 1].object &&
               ++size->open[size->depth - 1].commas >= JSON_MEMBERS_MAX && size->too_wide == 0) {
        size->too_wide = size->line;
    }
}

/* Before the library sees it, which takes some microseconds for each value. False with a problem.
 */
static bool size_is_good(const struct json_reader *reader, const struct json_size *size,
                         struct json_budget *budget) {
    budget->containers += size->containers;
    budget->values += size->values;
    if (json_budget_is_spent(budget))
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, 1,
                     "it holds more than %d objects and lists, or more than %d values",
                     JSON_CONTAINERS_MAX, JSON_VALUES_MAX);
    else if (size->too_deep > 0)
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, size->too_deep,
                     "objects and lists stand more than %d deep in one another", JSON_DEPTH_MAX);
    else if (size->too_wide > 0)
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, size->too_wide,
                     "an object has more than %d members", JSON_MEMBERS_MAX);
    else
        return true;
    return false;
}

/* Copies the document with each number outside strings made a marked string. Line ends stay, so
 * lines in later messages are those of the file. Returns false where a string of the document
 * holds the mark itself. */
static bool mark_numbers(struct textbuf *out, const char *p, const char *end,
                         struct json_size *size) {
    bool in_string = false;
    bool pure = true;
    const char *from = p;
    while (p < end) {
        if (in_string) {
            if (end - p >= 6 && strncasecmp(p, "\\u001f", 6) == 0)
                pure = false; /* a text that would pass for a number of ours */
            if (*p == '\\' && p + 1 < end)
                p++;
            else if (*p == '"')
                in_string = false;
            p++;
        } else if (*p == '"') {
            in_string = true;
            p++;
        } else if (*p == '-' || digit(*p)) {
            size_t len = number_length(p, end);
            if (len == 0) {
                /* No number: the JSON library is to see all of it as it stands. */
                while (p < end && (*p == '-' || *p == '+' || *p == '.' || digit(*p)))
                    p++;
                continue;
            }
            /* A number where a key should be is left for the library to refuse. */
            const char *next = p + len;
            while (next < end && strchr(" \t\r\n", *next) != NULL && *next != '\0')
                next++;
            if (next < end && *next == ':') {
                p += len;
                continue;
            }
            textbuf_add(out, from, (size_t)(p - from));
            textbuf_puts(out, "\"\\u001f");
            textbuf_add(out, p, len);
            textbuf_putc(out, '"');
            p += len;
            from = p;
        } else {
            count_sign(size, *p);
            p++;
        }
    }
    textbuf_add(out, from, (size_t)(p - from));
    return pure;
}

bool json_budget_is_spent(const struct json_budget *budget) {
    return budget->containers > JSON_CONTAINERS_MAX || budget->values > JSON_VALUES_MAX;
}

int json_read_text(const struct json_reader *reader, const char *text, size_t len, json_t **out) {
    struct json_budget budget = {0};
    return json_read_one(reader, text, len, &budget, out);
}

int json_read_one(const struct json_reader *reader, const char *text, size_t len,
                  struct json_budget *budget, json_t **out) {
    if (len >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        text += 3;
        len -= 3;
    }
    if (len == 0) {
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, 1, "the file is empty");
        return ERR_INPUT;
    }
    struct textbuf marked = {0};
    struct json_size size = {.line = 1};
    bool pure = mark_numbers(&marked, text, text + len, &size);
    if (marked.failed) {
        textbuf_clear(&marked);
        return ERR_NOMEM;
    }
    if (!pure) {
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, 1,
                     "a text holds the control character \\u001f");
        textbuf_clear(&marked);
        return ERR_INPUT;
    }
    if (!size_is_good(reader, &size, budget)) {
        textbuf_clear(&marked);
        return ERR_INPUT;
    }
    json_error_t error;
    ran_out = false;
    json_t *root = json_loadb(textbuf_text(&marked), marked.len, JSON_REJECT_DUPLICATES, &error);
    textbuf_clear(&marked);
    if (ran_out) { /* also where it went on, with what it had of a text */
        json_decref(root);
        return ERR_NOMEM;
    }
    if (root == NULL) {
        /* The library quotes what it read next, in which our own mark may stand. */
        char *mark;
        while ((mark = strstr(error.text, "\\u001f")) != NULL)
            memmove(mark, mark + 6, strlen(mark + 6) + 1);
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, error.line > 0 ? error.line : 1,
                     "not well-formed JSON: %s", error.text);
        return ERR_INPUT;
    }
    *out = root;
    return ERR_OK;
}

static void write_place(struct textbuf *b, const struct json_place *place) {
    if (place == NULL)
        return;
    write_place(b, place->up);
    if (place->key == NULL) {
        textbuf_printf(b, "[%zu]", place->index);
    } else {
        if (place->up != NULL)
            textbuf_putc(b, '.');
        textbuf_puts(b, place->key);
    }
}

void json_wrong(const struct json_reader *reader, const struct json_place *place, const char *key,
                const char *format, ...) {
    if (!problems_keeps(reader->problems, PROBLEM_ERROR)) {
        problems_count_only(reader->problems, PROBLEM_ERROR);
        return;
    }
    struct textbuf where = {0};
    struct textbuf what = {0};
    const struct json_place member = {.up = place, .key = key};
    textbuf_printf(&where, "%s: ", reader->file);
    write_place(&where, key == NULL ? place : &member);
    if (place == NULL && key == NULL)
        textbuf_puts(&where, "(the whole file)");
    char text[512];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    textbuf_puts(&what, text);
    problems_add_at(reader->problems, PROBLEM_ERROR, textbuf_text(&where), textbuf_text(&what));
    if (where.failed || what.failed)
        reader->problems->out_of_memory = true;
    textbuf_clear(&where);
    textbuf_clear(&what);
}

static bool listed(const char *const *words, const char *word) {
    for (; words != NULL && *words != NULL; words++) {
        if (strcmp(*words, word) == 0)
            return true;
    }
    return false;
}

bool json_known_keys(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const char *const *known,
                     const char *const *more) {
    if (!json_is_object(object)) {
        json_wrong(reader, place, NULL, "must be an object");
        return false;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        if (!listed(known, key) && !listed(more, key))
            json_wrong(reader, place, key, "unknown key");
    }
    return true;
}

bool json_is_number_text(const json_t *value) {
    return json_is_string(value) && json_string_value(value)[0] == JSON_NUMBER_MARK;
}

/* The member, reported where it is required and not there. */
static const json_t *member(const struct json_reader *reader, const json_t *object,
                            const struct json_place *place, const char *key, bool required) {
    const json_t *value = json_object_get(object, key);
    if (value == NULL && required)
        json_wrong(reader, place, key, "is missing");
    return value;
}

bool json_value_text(const struct json_reader *reader, const json_t *value,
                     const struct json_place *place, const char *key, const char **out) {
    if (!json_is_string(value) || json_is_number_text(value)) {
        json_wrong(reader, place, key, "must be a text");
        return false;
    }
    const char *text = json_string_value(value);
    for (const char *p = text; *p != '\0'; p++) {
        if ((unsigned char)*p < 0x20) {
            json_wrong(reader, place, key, "holds a control character");
            return false;
        }
    }
    *out = arena_text(reader->arena, text, strlen(text));
    if (*out == NULL) {
        reader->problems->out_of_memory = true;
        return false;
    }
    return true;
}

bool json_get_text(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, bool required,
                   const char **out) {
    const json_t *value = member(reader, object, place, key, required);
    return value != NULL && json_value_text(reader, value, place, key, out);
}

bool json_get_choice(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const char *key, bool required,
                     const char *const *words, int *out) {
    const json_t *value = member(reader, object, place, key, required);
    if (value == NULL)
        return false;
    if (json_is_string(value)) {
        for (int i = 0; words[i] != NULL; i++) {
            if (strcmp(words[i], json_string_value(value)) == 0) {
                *out = i;
                return true;
            }
        }
    }
    struct textbuf list = {0};
    for (int i = 0; words[i] != NULL; i++)
        textbuf_printf(&list, "%s“%s”", i > 0 ? ", " : "", words[i]);
    if (list.failed)
        reader->problems->out_of_memory = true;
    json_wrong(reader, place, key, "must be one of %s", textbuf_text(&list));
    textbuf_clear(&list);
    return false;
}

bool json_get_flag(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, bool *out) {
    const json_t *value = json_object_get(object, key);
    if (value == NULL)
        return false;
    if (!json_is_boolean(value)) {
        json_wrong(reader, place, key, "must be true or false");
        return false;
    }
    *out = json_is_true(value);
    return true;
}

/* The digits of a number, or of a text that may stand for one; NULL where it is neither. */
static const char *digits_of(const json_t *value) {
    if (!json_is_string(value))
        return NULL;
    const char *text = json_string_value(value);
    return *text == JSON_NUMBER_MARK ? text + 1 : text;
}

bool json_get_whole(const struct json_reader *reader, const json_t *object,
                    const struct json_place *place, const char *key, bool required, int64_t low,
                    int64_t high, int64_t *out) {
    const json_t *value = member(reader, object, place, key, required);
    if (value == NULL)
        return false;
    if (!json_is_number_text(value) ||
        decimal_parse_whole(digits_of(value), low, high, out) != ERR_OK) {
        json_wrong(reader, place, key, "must be a whole number from %lld to %lld", (long long)low,
                   (long long)high);
        return false;
    }
    return true;
}

bool json_value_decimal(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, const char *key, int64_t low, int64_t high,
                        int64_t *out) {
    const char *text = digits_of(value);
    int64_t number = 0;
    int err = text == NULL ? ERR_SYNTAX : decimal_parse(text, &number);
    if (err == ERR_PRECISION) {
        json_wrong(reader, place, key, "“%s” has more than three decimals", text);
    } else if (err == ERR_SYNTAX) {
        json_wrong(reader, place, key, "must be a number in plain decimals");
    } else if (err != ERR_OK || number < low || number > high) {
        struct textbuf b = {0};
        decimal_write_short(&b, low);
        textbuf_puts(&b, " to ");
        decimal_write_short(&b, high);
        if (b.failed)
            reader->problems->out_of_memory = true;
        json_wrong(reader, place, key, "“%s” is out of range: %s", text, textbuf_text(&b));
        textbuf_clear(&b);
    } else {
        *out = number;
        return true;
    }
    return false;
}

bool json_get_decimal(const struct json_reader *reader, const json_t *object,
                      const struct json_place *place, const char *key, bool required, int64_t low,
                      int64_t high, int64_t *out) {
    const json_t *value = member(reader, object, place, key, required);
    return value != NULL && json_value_decimal(reader, value, place, key, low, high, out);
}

bool json_value_duration(const struct json_reader *reader, const json_t *value,
                         const struct json_place *place, const char *key, int64_t *out) {
    const char *text = digits_of(value);
    int err = text == NULL ? ERR_SYNTAX : duration_parse(text, out);
    if (err == ERR_OK)
        return true;
    if (text == NULL)
        json_wrong(reader, place, key, "must be a duration");
    else if (err == ERR_PRECISION)
        json_wrong(reader, place, key, "“%s” has more than three decimals", text);
    else
        json_wrong(reader, place, key,
                   "“%s” is no duration: write HH:MM:SS or plain seconds, up to 47:59:59.999",
                   text);
    return false;
}

bool json_get_duration(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, const char *key, bool required,
                       int64_t *out) {
    const json_t *value = member(reader, object, place, key, required);
    return value != NULL && json_value_duration(reader, value, place, key, out);
}

bool json_get_array(const struct json_reader *reader, const json_t *object,
                    const struct json_place *place, const char *key, bool required,
                    const json_t **out) {
    const json_t *value = member(reader, object, place, key, required);
    if (value == NULL)
        return false;
    if (!json_is_array(value)) {
        json_wrong(reader, place, key, "must be a list");
        return false;
    }
    *out = value;
    return true;
}
