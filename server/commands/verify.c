/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "output/notice.h"
#include "store/store.h"
#include "store/stored_notices.h"
#include "system/files.h"

static const char about[] =
    "cairn verify FILE [--key HEX]\n"
    "cairn verify DATA_DIR SLUG NUMBER [--key HEX]\n"
    "\n"
    "Checks a notice: a file that was got from …/notices/NUMBER, or a notice of an event file. Says\n"
    "which notice it is and whose seal it bears. A good seal says that nothing was changed since\n"
    "its signer posted it; that the signer is the event's is for you to compare, or for --key.\n";

struct verify_options {
    const char *key;
};

static const struct option_row rows[] = {
    {"key", OPTION_TEXT, "HEX", "the event's public key (“signer” of the event in the API)",
     .at = offsetof(struct verify_options, key)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 where the seal is not good, or another's; 1 for a failure of the machine.\n";

/* A notice of an event file as the document that the API gives. */
static int read_notice(const char *data_dir, const char *slug, const char *number_text,
                       struct textbuf *document) {
    struct store *store = NULL;
    struct stored_notice *list = NULL;
    size_t count = 0;
    int64_t number = 0;
    int err = event_file_open(data_dir, slug, false, &store);
    if (err != ERR_OK)
        return err;
    err = store_notices(store, &list, &count);
    if (err == ERR_OK && decimal_parse_whole(number_text, 1, INT32_MAX, &number) != ERR_OK)
        number = 0;
    for (size_t i = 0; err == ERR_OK && i < count; i++) {
        if (list[i].number == number && list[i].content != NULL)
            notice_write_document(document, list[i].content, &list[i].seal);
    }
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s/%s.cairn: %s\n", data_dir, slug, err_text(err));
    } else if (document->len == 0) {
        (void)fprintf(stderr, "cairn: %s/%s.cairn: there is no notice %s with a seal\n", data_dir,
                      slug, number_text);
        err = ERR_INPUT;
    }
    stored_notices_free(list, count);
    store_close(store);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}

static int read_document(const char *path, struct textbuf *document) {
    char *text = NULL;
    size_t len = 0;
    int err = file_read(path, &text, &len);
    if (err == ERR_OK)
        textbuf_add(document, text, len);
    else
        (void)fprintf(stderr, "cairn: %s: %s\n", path,
                      err == ERR_NOMEM ? err_text(err) : strerror(errno));
    free(text);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}

static int check(const struct textbuf *document, const char *key) {
    unsigned char signer[SEAL_KEY_LEN];
    char hex[2 * sizeof signer + 1];
    struct textbuf which = {0};
    int err = notice_check(textbuf_text(document), document->len, signer, &which);
    if (err == ERR_OK) {
        (void)sodium_bin2hex(hex, sizeof hex, signer, sizeof signer);
        if (key != NULL && strcasecmp(key, hex) != 0) {
            textbuf_reset(&which);
            textbuf_printf(&which, "the seal is good, but it is of another key: %s", hex);
            err = ERR_CONFLICT;
        }
    }
    if (err == ERR_OK)
        (void)printf("%s\nthe seal is good; signer %s\n", textbuf_text(&which), hex);
    else if (err != ERR_NOMEM)
        (void)fprintf(stderr, "cairn verify: %s\n", textbuf_text(&which));
    textbuf_clear(&which);
    return err == ERR_CONFLICT ? ERR_INPUT : err;
}

static int run(const struct arguments *a) {
    const struct verify_options *o = a->options;
    struct textbuf document = {0};
    if (a->count == 2)
        return usage_error(&command_verify, "it needs %s", command_verify.needs);
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = a->count == 1
                  ? read_document(a->operands[0], &document)
                  : read_notice(a->operands[0], a->operands[1], a->operands[2], &document);
    if (err == ERR_OK)
        err = document.failed ? ERR_NOMEM : check(&document, o->key);
    textbuf_clear(&document);
    return exit_code(err);
}

const struct command command_verify = {
    .name = "verify",
    .summary = "check the seal of a notice",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 3,
    .needs = "a file, or a data folder, a slug and a number",
    .defaults = &(const struct verify_options){0},
    .size = sizeof(struct verify_options),
    .run = run,
};
