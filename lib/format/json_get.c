/* SPDX-License-Identifier: MIT */
/* Values of a document that json_read.c has parsed, and what is wrong with them. */
#include "format/json_read.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/arena.h"
#include "base/cure.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "base/times.h"

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
    problems_add_at(reader->problems, PROBLEM_ERROR, textbuf_text(&where), text);
    if (where.failed)
        reader->problems->out_of_memory = true;
    textbuf_clear(&where);
}

static bool listed(const char *const *words, const char *word) {
    for (; words != NULL && *words != NULL; words++) {
        if (strcmp(*words, word) == 0)
            return true;
    }
    return false;
}

void json_unknown_key(const struct json_reader *reader, const struct json_place *place,
                      const char *key) {
    const char *home = reader->home_of == NULL ? NULL : reader->home_of(key, place);
    if (home == NULL)
        json_wrong(reader, place, key, "unknown key");
    else
        json_wrong(reader, place, key, "unknown key here: it belongs %s", home);
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
            json_unknown_key(reader, place, key);
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
    const char *copy = arena_text(reader->arena, text, strlen(text));
    if (copy == NULL) {
        reader->problems->out_of_memory = true;
        return false;
    }
    *out = copy;
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
    struct cure room;
    int64_t number = 0;
    int err = text == NULL ? ERR_SYNTAX : decimal_parse(text, &number);
    if (err == ERR_PRECISION) {
        json_wrong(reader, place, key, "“%s” has more than three decimals", text);
    } else if (err == ERR_SYNTAX) {
        json_wrong(reader, place, key, "must be a number in plain decimals%s",
                   text == NULL ? "" : cure_number(&room, text));
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
                   "“%s” is no duration: write HH:MM:SS or plain seconds, %sup to 47:59:59.999",
                   text, strchr(text, ',') != NULL ? "with a point for the comma, " : "");
    return false;
}

bool json_get_unit(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, int64_t *out) {
    const json_t *value = json_object_get(object, key);
    const char *text = digits_of(value);
    struct cure room;
    int64_t unit = 0;
    if (value == NULL)
        return false;
    int err = text == NULL ? ERR_SYNTAX : ERR_OK;
    if (err == ERR_OK && (unit = unit_of_name(text)) == 0)
        err = duration_parse(text, &unit);
    if (err == ERR_PRECISION)
        json_wrong(reader, place, key, "“%s” has more than three decimals", text);
    else if (err != ERR_OK)
        json_wrong(reader, place, key,
                   "must be “minute”, “second”, “tenth”, “hundredth”, “millisecond” or a duration "
                   "that divides a day, such as “0.6” or “00:15:00”%s",
                   text == NULL ? "" : cure_duration(&room, text));
    else if (unit == 0 || DAY_MS % unit != 0)
        json_wrong(reader, place, key,
                   "“%s” does not divide a day into equal parts, as “0.6” and “00:15:00” do", text);
    else
        *out = unit;
    return err == ERR_OK && unit != 0 && DAY_MS % unit == 0;
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
