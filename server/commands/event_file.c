/* SPDX-License-Identifier: MIT */
#include "commands/event_file.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/err.h"
#include "store/store.h"
#include "system/data_dir.h"

static const char no_slug[] = "“%s” is no slug";

int check_slug(const struct command *command, const char *slug) {
    return slug_is_good(slug) ? EXIT_GOOD : usage_error(command, no_slug, slug);
}

int event_file_path(const struct command *command, const char *data_dir, const char *slug,
                    char **path) {
    *path = NULL;
    int code = check_slug(command, slug);
    if (code != EXIT_GOOD)
        return code;
    *path = data_dir_path(data_dir, slug);
    return *path == NULL ? exit_code(ERR_NOMEM) : EXIT_GOOD;
}

int event_file_open(const char *data_dir, const char *slug, bool to_read, struct store **out) {
    struct textbuf why = {0};
    char *path = data_dir_path(data_dir, slug);
    int err = ERR_UNKNOWN;
    *out = NULL;
    if (path == NULL)
        textbuf_printf(&why, no_slug, slug);
    else
        err = (to_read ? store_open_to_read : store_open)(path, STORE_OPEN, out, &why);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", path == NULL ? slug : path,
                      why.len > 0 ? textbuf_text(&why) : err_text(err));
    textbuf_clear(&why);
    free(path);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}
