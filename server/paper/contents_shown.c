/* SPDX-License-Identifier: MIT */
/* Papers of an event that shows penalties as time. */
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "event/shown.h"
#include "paper/contents.h"

/* A penalty among the members of a row of the API, as time; its fails in words beside it. */
static int show_time(json_t *row, const char *name) {
    struct textbuf text = {0};
    int64_t penalty = 0;
    json_int_t fails = json_integer_value(json_object_get(row, "fails"));
    int err = ERR_OK;
    const char *written = json_string_value(json_object_get(row, name));
    if (written == NULL || decimal_parse(written, &penalty) != ERR_OK)
        return ERR_OK;
    shown_write_time(&text, penalty);
    if (strcmp(name, "penalty") == 0 && fails > 0) {
        textbuf_printf(&text, ", %lld fail%s", (long long)fails, fails == 1 ? "" : "s");
        if (json_object_set_new(row, "fails", json_integer(0)) != 0)
            err = ERR_NOMEM;
    }
    if (text.failed || json_object_set_new(row, name, json_string(textbuf_text(&text))) != 0)
        err = ERR_NOMEM;
    textbuf_clear(&text);
    return err;
}

int contents_show_times(json_t *value) {
    static const char *const names[] = {"penalty", "behind_leader", "behind_next"};
    const char *key;
    json_t *member;
    size_t i;
    int err = ERR_OK;
    for (i = 0; err == ERR_OK && json_is_object(value) && i < sizeof names / sizeof names[0]; i++)
        err = show_time(value, names[i]);
    json_object_foreach(value, key, member) {
        if (err == ERR_OK)
            err = contents_show_times(member);
    }
    json_array_foreach(value, i, member) {
        if (err == ERR_OK)
            err = contents_show_times(member);
    }
    return err;
}
