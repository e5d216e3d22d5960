/* SPDX-License-Identifier: MIT */
#include "event/finisher_rules.h"

#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "format/json_read.h"

void finisher_rules_read(const struct json_reader *reader, const json_t *scoring,
                         const struct json_place *place, struct scoring *out) {
    static const char *const keys[] = {"share", "last_point", "of", NULL};
    static const char *const ofs[] = {"controls", "tests", "all", NULL};
    const json_t *object = json_object_get(scoring, "finisher");
    struct json_place here = {.up = place, .key = "finisher"};
    int choice;
    if (object == NULL || !json_known_keys(reader, object, &here, keys, NULL))
        return;
    (void)json_get_flag(reader, object, &here, "last_point", &out->last_point);
    if (json_get_choice(reader, object, &here, "of", false, ofs, &choice))
        out->share_of = (enum finisher_of)choice;
    const json_t *share = json_object_get(object, "share");
    if (share == NULL)
        return;
    const char *text = json_string_value(share);
    const char *bar = text == NULL ? NULL : strchr(text, '/');
    int64_t num = 0;
    int64_t den = 1000;
    if (bar == NULL && text != NULL &&
        decimal_parse(text + (*text == JSON_NUMBER_MARK), &num) == ERR_OK && num >= 0 &&
        num <= 1000) {
        out->share_num = num;
        out->share_den = den;
        return;
    }
    char first[16] = "";
    if (bar == NULL)
        bar = text = "/";
    if ((size_t)(bar - text) < sizeof first)
        memcpy(first, text, (size_t)(bar - text));
    if (decimal_parse_whole(first, 0, 1000000, &num) != ERR_OK ||
        decimal_parse_whole(bar + 1, 1, 1000000, &den) != ERR_OK || num > den) {
        json_wrong(reader, &here, "share", "must be a fraction such as “2/3”, at most 1");
        return;
    }
    out->share_num = num;
    out->share_den = den;
}
