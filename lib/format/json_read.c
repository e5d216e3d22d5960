/* SPDX-License-Identifier: MIT */
#include "format/json_read.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

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
    /* "012" and "1x" are not numbers; left as they are, so that the JSON library refuses them. */
    if (q < end && (digit(*q) || *q == '.' || *q == '_' || (*q >= 'a' && *q <= 'z')))
        return 0;
    return (size_t)(q - p);
}

/* Where memory is out the JSON library reports a syntax error, and a good body would be called not
 * well-formed. The plain way, its own error code, does not tell: when any one of the 365
 * allocations of a body of twenty readings fails, jansson 2.14 says "out of memory" for none. So
 * allocations go through noting_malloc, which notes that one failed; that adds 0.5 % to the
 * instructions of parsing (5,000 readings, callgrind). */
static _Thread_local bool ran_out;

static void *noting_malloc(size_t size) {
    void *block = malloc(size);
    ran_out = ran_out || block == NULL;
    return block;
}

/* Before main, since the library has one set of functions for all threads and nothing may be parsed
 * yet when it is set; a function that each program has to call first could be forgotten. */
__attribute__((constructor)) static void watch_memory(void) {
    json_set_alloc_funcs(noting_malloc, free);
}

/* How much a document holds, counted by its brackets and commas. */
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

static void count_character(struct json_size *size, char c) {
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

/* Asked before the library parses the document, which takes some microseconds for each value. False
 * with a problem. */
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
                pure = false; /* this text would be taken for a marked number */
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
                /* Not a number: left as it is, so that the JSON library refuses it. */
                while (p < end && (*p == '-' || *p == '+' || *p == '.' || digit(*p)))
                    p++;
                continue;
            }
            /* A number where a key should be: the library refuses it. */
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
            count_character(size, *p);
            p++;
        }
    }
    textbuf_add(out, from, (size_t)(p - from));
    return pure;
}

bool json_budget_is_spent(const struct json_budget *budget) {
    return budget->containers > JSON_CONTAINERS_MAX || budget->values > JSON_VALUES_MAX;
}

static const char *past(const char *p, const char *end, const char *set) {
    while (p < end && *p != '\0' && strchr(set, *p) != NULL)
        p++;
    return p;
}

/* True for `: 42,5` at p, where a colon stands. */
static bool is_comma_number(const char *p, const char *end) {
    const char *number = past(p + 1, end, " -");
    const char *comma = past(number, end, "0123456789");
    return comma > number && end - comma > 1 && *comma == ',' && comma[1] >= '0' && comma[1] <= '9';
}

/* Where the library stumbles over what stands behind a number and a comma, as in `"speed": 42,5`,
 * that comma is a decimal one.
 *   line  where it stumbled, which may be the line behind */
static bool has_decimal_comma(const char *text, size_t len, const json_error_t *error) {
    const char *end = text + len;
    int line = 1;
    if (strstr(error->text, "':' expected") == NULL)
        return false;
    for (const char *p = text; p < end && line <= error->line; p++) {
        line += *p == '\n' ? 1 : 0;
        if (*p == ':' && line >= error->line - 1 && is_comma_number(p, end))
            return true;
    }
    return false;
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
    if (ran_out) { /* also where the library went on with part of a text */
        json_decref(root);
        return ERR_NOMEM;
    }
    if (root == NULL) {
        /* The library quotes what it read next, which may hold our mark. */
        char *mark;
        while ((mark = strstr(error.text, "\\u001f")) != NULL)
            memmove(mark, mark + 6, strlen(mark + 6) + 1);
        problems_add(reader->problems, PROBLEM_ERROR, reader->file, error.line > 0 ? error.line : 1,
                     "not well-formed JSON: %s%s", error.text,
                     has_decimal_comma(text, len, &error)
                         ? "; a number is written with a point, as 42.5"
                         : "");
        return ERR_INPUT;
    }
    *out = root;
    return ERR_OK;
}
