/* SPDX-License-Identifier: MIT */
/* json_read.h - reads JSON with exact decimals and says where something is wrong.
 * The JSON library turns a number with decimals into binary floating point; no score may go that
 * way. So the text is first rewritten: each number becomes a string that begins with the byte
 * JSON_NUMBER_MARK, and the digits reach the decimal reader as they were written.
 *
 * Each getter looks up a key, checks the value and reports what is wrong with its path
 * (“event.json: route[3].speeds[1].from: …”). It returns true where the key is there and good;
 * false where it is not there (reported only if required) or wrong (reported). */
#ifndef CAIRN_JSON_READ_H
#define CAIRN_JSON_READ_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct arena;
struct problems;

/* First byte of a string that stands for a number; no text read from a file may hold it. */
#define JSON_NUMBER_MARK '\x1f'

/* Bounds of one document: a value takes up to a hundred times the memory of its characters. More
 * than a body of 50,000 readings or the largest event needs. */
enum { JSON_CONTAINERS_MAX = 150000, JSON_VALUES_MAX = 400000 };

/* Most members of one object, since each costs more the more there are; and how deep values may be
 * nested. Many times what any document of ours has. */
enum { JSON_MEMBERS_MAX = 1000, JSON_DEPTH_MAX = 64 };

/* What several documents of one body hold together so far; {0} at first. The bounds are those of
 * one document. */
struct json_budget {
    size_t containers;
    size_t values;
};

/* True where they hold more than the bounds allow. */
bool json_budget_is_spent(const struct json_budget *budget);

/* Where a value stands: a key of an object or a place in an array, and what it is part of. */
struct json_place {
    const struct json_place *up; /* NULL at the top */
    const char *key;             /* NULL in an array */
    size_t index;
};

/* What every getter needs. */
struct json_reader {
    const char *file;
    struct arena *arena; /* owns the texts that getters return */
    struct problems *problems;
    /* Where a key that is unknown at `place` belongs, in words that follow "belongs "; NULL where
     * nobody knows. May itself be NULL. */
    const char *(*home_of)(const char *key, const struct json_place *place);
};

/* Parses a whole document whose numbers keep their digits.
 *   text, len  borrowed, UTF-8, a byte-order mark is passed over
 *   out        a new reference for the caller
 * Returns: ERR_OK; ERR_INPUT, reported with its line, also for more values than the bounds allow;
 * ERR_NOMEM. */
int json_read_text(const struct json_reader *reader, const char *text, size_t len, json_t **out);

/* The same for one of several documents, such as the lines of a body: together they hold no more
 * than one may.
 *   budget  what those before it hold; what this one holds is added */
int json_read_one(const struct json_reader *reader, const char *text, size_t len,
                  struct json_budget *budget, json_t **out);

/* Reports that the value at `place` (or its member `key`, which may be NULL) is wrong. */
void json_wrong(const struct json_reader *reader, const struct json_place *place, const char *key,
                const char *format, ...) __attribute__((format(printf, 4, 5)));

/* Reports that `key` is unknown at `place`, and where it belongs as far as the reader knows. */
void json_unknown_key(const struct json_reader *reader, const struct json_place *place,
                      const char *key);

/* Reports every key of `object` that is not among the NULL-terminated `known` and `more` (which
 * may be NULL), and reports where it is no object at all. Returns true where it is an object. */
bool json_known_keys(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const char *const *known,
                     const char *const *more);

/* A value as the caller asked for it; `required` reports where the key is not there. */
bool json_get_text(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, bool required,
                   const char **out);

/* One of a NULL-terminated list of words; gives its place in the list. */
bool json_get_choice(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const char *key, bool required,
                     const char *const *words, int *out);

/* true or false. */
bool json_get_flag(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, bool *out);

/* A whole number, low .. high. */
bool json_get_whole(const struct json_reader *reader, const json_t *object,
                    const struct json_place *place, const char *key, bool required, int64_t low,
                    int64_t high, int64_t *out);

/* A decimal number or string, in thousandths, low .. high (thousandths). */
bool json_get_decimal(const struct json_reader *reader, const json_t *object,
                      const struct json_place *place, const char *key, bool required, int64_t low,
                      int64_t high, int64_t *out);

/* A duration in milliseconds. */
bool json_get_duration(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, const char *key, bool required,
                       int64_t *out);

/* A unit of time: one of the names, or a duration that divides a day. In milliseconds. */
bool json_get_unit(const struct json_reader *reader, const json_t *object,
                   const struct json_place *place, const char *key, int64_t *out);

/* An array; `out` is borrowed from the document. */
bool json_get_array(const struct json_reader *reader, const json_t *object,
                    const struct json_place *place, const char *key, bool required,
                    const json_t **out);

/* The same for a value already in hand, such as an item of an array or the value of a key. */
bool json_value_text(const struct json_reader *reader, const json_t *value,
                     const struct json_place *place, const char *key, const char **out);
bool json_value_decimal(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, const char *key, int64_t low, int64_t high,
                        int64_t *out);
bool json_value_duration(const struct json_reader *reader, const json_t *value,
                         const struct json_place *place, const char *key, int64_t *out);

/* True where the value was written as a number. */
bool json_is_number_text(const json_t *value);

#endif
