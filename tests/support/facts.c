/* SPDX-License-Identifier: MIT */
#include "facts.h"

#include <string.h>

#include "base/textbuf.h"
#include "testing.h"

/* Cuts "name=value,..." in place and points the fields of those names at their values. A value
 * ends at a comma; a value may hold "=". */
static void split(char *bytes, const char *fields, const char *const *names, size_t count,
                  const char **out) {
    assert_true(strlen(fields) < FACT_TEXT_MAX);
    (void)strcpy(bytes, fields);
    for (size_t i = 0; i < count; i++)
        out[i] = "";
    for (char *p = bytes; *p != '\0';) {
        char *equals = strchr(p, '=');
        assert_non_null(equals);
        char *end = strchr(equals, ',');
        *equals = '\0';
        if (end != NULL)
            *end = '\0';
        size_t i = 0;
        while (i < count && strcmp(names[i], p) != 0)
            i++;
        if (i == count)
            fail_msg("%s is no column", p);
        out[i] = equals + 1;
        p = end == NULL ? "" : end + 1;
    }
}

void reading_row(struct reading_row *row, const char *fields) {
    split(row->bytes, fields, reading_field_names, READING_FIELD_COUNT, row->text.field);
    row->text.extras = NULL;
    row->text.from_desk = false;
}

void decision_row(struct decision_row *row, const char *fields) {
    split(row->bytes, fields, decision_field_names, DECISION_FIELD_COUNT, row->text.field);
    row->text.extras = NULL;
}

/* Runs one call with a reason, the caller's or one that is thrown away. */
#define WITH_REASON(result, given, call)                                                           \
    struct textbuf own = {0};                                                                      \
    struct textbuf *reason_ = (given) == NULL ? &own : (given);                                    \
    textbuf_reset(reason_);                                                                        \
    result = call;                                                                                 \
    textbuf_clear(&own)

enum fact_result reading_put(struct readings *readings, const char *fields,
                             struct textbuf *reason) {
    struct reading_row row;
    enum fact_result result;
    reading_row(&row, fields);
    WITH_REASON(result, reason, readings_add(readings, &row.text, reason_, NULL));
    return result;
}

enum fact_result reading_put_from_desk(struct readings *readings, const char *fields,
                                       const char *flags, struct textbuf *reason) {
    struct extra flagged = {.name = "flags", .value = flags == NULL ? "" : flags};
    struct extra desk = {.name = "desk", .value = "0a1b2c3d", .next = &flagged};
    struct reading_row row;
    enum fact_result result;
    reading_row(&row, fields);
    row.text.extras = &desk;
    row.text.from_desk = reading_names_desk(&desk);
    WITH_REASON(result, reason, readings_add(readings, &row.text, reason_, NULL));
    return result;
}

enum fact_result reading_test(struct readings *readings, const char *fields,
                              struct textbuf *reason) {
    struct reading_row row;
    enum fact_result result;
    reading_row(&row, fields);
    WITH_REASON(result, reason, readings_try(readings, &row.text, reason_));
    return result;
}

enum fact_result decision_put(struct decisions *decisions, const char *fields,
                              struct textbuf *reason) {
    struct decision_row row;
    enum fact_result result;
    decision_row(&row, fields);
    WITH_REASON(result, reason, decisions_add(decisions, &row.text, reason_, NULL));
    return result;
}

enum fact_result decision_test(struct decisions *decisions, const char *fields,
                               struct textbuf *reason) {
    struct decision_row row;
    enum fact_result result;
    decision_row(&row, fields);
    WITH_REASON(result, reason, decisions_try(decisions, &row.text, reason_));
    return result;
}
