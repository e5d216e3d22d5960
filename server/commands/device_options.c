/* SPDX-License-Identifier: MIT */
#include "commands/device_options.h"

#include <stddef.h>
#include <string.h>

#include "base/err.h"

static const struct {
    const char *name;
    int (*take)(struct device_form *form, const char *value, struct textbuf *why);
} takers[] = {{"columns", device_form_take_columns},
              {"channel", device_form_take_channel},
              {"date", device_form_take_date},
              {"utc-offset", device_form_take_offset},
              {"mark", device_form_take_mark}};

int device_take(void *options, const char *name, char *value, struct textbuf *why) {
    struct device_form *form = options;
    for (size_t i = 0; i < sizeof takers / sizeof *takers; i++) {
        if (strcmp(takers[i].name, name) == 0)
            return takers[i].take(form, value, why);
    }
    return ERR_INPUT;
}
