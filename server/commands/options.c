/* SPDX-License-Identifier: MIT */
#include "commands/options.h"

#include <assert.h>
#include <getopt.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"

/* What getopt_long calls the options: above any letter. */
enum { HELP = 256, FIRST };

static int take_number(const struct option_row *row, const char *value, void *place,
                       struct textbuf *why) {
    if (decimal_parse_whole(value, row->least, row->most, place) == ERR_OK)
        return ERR_OK;
    textbuf_printf(why, "--%s must be a whole number from %lld to %lld", row->name,
                   (long long)row->least, (long long)row->most);
    return ERR_INPUT;
}

static int take_choice(const struct option_row *row, const char *value, void *place,
                       struct textbuf *why) {
    for (int i = 0; row->choices[i] != NULL; i++) {
        if (strcmp(row->choices[i], value) == 0) {
            memcpy(place, &i, sizeof i);
            return ERR_OK;
        }
    }
    textbuf_printf(why, "--%s %s is not known", row->name, value);
    return ERR_INPUT;
}

static int take(const struct option_row *row, char *value, void *options, struct textbuf *why) {
    void *place = (char *)options + row->at;
    switch (row->kind) {
    case OPTION_FLAG:
        *(bool *)place = true;
        return ERR_OK;
    case OPTION_TEXT:
        memcpy(place, &value, sizeof value);
        return ERR_OK;
    case OPTION_NUMBER:
        return take_number(row, value, place, why);
    case OPTION_CHOICE:
        return take_choice(row, value, place, why);
    case OPTION_TAKEN:
        break;
    }
    textbuf_printf(why, "--%s", row->name);
    int err = row->take(options, row->name, value, why);
    if (err == ERR_OK)
        textbuf_reset(why);
    return err;
}

/* The word that getopt_long has just read as a long option. */
static const char *word_read(char **argv) {
    return argv[optarg != NULL && optarg == argv[optind - 1] ? optind - 2 : optind - 1];
}

static bool is_whole_name(const char *word, const char *name) {
    return strcspn(word + 2, "=") == strlen(name);
}

static int unknown_long(const char *word, struct textbuf *why) {
    textbuf_add(why, word, strcspn(word, "="));
    textbuf_puts(why, " is not known");
    return ERR_INPUT;
}

/* What getopt_long does not know. No option of ours has one letter. */
static int unknown(const struct option_row *rows, char **argv, struct textbuf *why) {
    if (optopt == 0)
        return unknown_long(argv[optind - 1], why);
    if (optopt >= HELP)
        textbuf_printf(why, "--%s takes no value",
                       optopt == HELP ? "help" : rows[optopt - FIRST].name);
    else if (optopt > ' ' && optopt < 0x7f)
        textbuf_printf(why, "-%c is not known", optopt);
    else
        textbuf_puts(why, "an option of that letter is not known");
    return ERR_INPUT;
}

/* The table as getopt_long wants it. */
static void list_options(const struct option_row *rows, struct option list[OPTIONS_MAX + 2]) {
    int count = 0;
    for (; rows != NULL && rows[count].name != NULL; count++) {
        assert(count < OPTIONS_MAX);
        list[count] = (struct option){
            rows[count].name, rows[count].kind == OPTION_FLAG ? no_argument : required_argument,
            NULL, FIRST + count};
    }
    list[count] = (struct option){"help", no_argument, NULL, HELP};
    list[count + 1] = (struct option){0};
}

int options_read(const struct option_row *rows, int argc, char **argv, void *options,
                 struct command_line *out, struct textbuf *why) {
    struct option list[OPTIONS_MAX + 2];
    list_options(rows, list);
    *out = (struct command_line){0};
    opterr = 0;
    optind = 0; /* resets getopt_long, which keeps state between calls */
    for (int found; (found = getopt_long(argc, argv, ":", list, NULL)) != -1;) {
        if (found == '?')
            return unknown(rows, argv, why);
        const char *name =
            found == HELP ? "help" : rows[(found == ':' ? optopt : found) - FIRST].name;
        if (found != ':' && !is_whole_name(word_read(argv), name))
            return unknown_long(word_read(argv), why);
        if (found == ':' ||
            (optarg != NULL && optarg == argv[optind - 1] && strncmp(optarg, "--", 2) == 0)) {
            textbuf_printf(why, "--%s needs a value", name);
            return ERR_INPUT;
        }
        if (found == HELP) {
            out->help = true;
            return ERR_OK;
        }
        int err = take(&rows[found - FIRST], optarg, options, why);
        if (err != ERR_OK)
            return err;
    }
    out->operands = argv + optind;
    out->count = argc - optind;
    return ERR_OK;
}

/* Texts of the help begin in one column, behind the widest option but those that are wider than
 * this: what stands beside them begins on a line of its own. */
enum { WIDE = 22 };

static int width_of(const struct option_row *row) {
    size_t value = row->value == NULL ? 0 : 1 + strlen(row->value);
    return (int)(strlen("  --") + strlen(row->name) + value);
}

void options_write(const struct option_row *rows, struct textbuf *b) {
    int widest = 0;
    for (const struct option_row *row = rows; row != NULL && row->name != NULL; row++) {
        if (width_of(row) > widest && width_of(row) <= WIDE)
            widest = width_of(row);
    }
    for (const struct option_row *row = rows; row != NULL && row->name != NULL; row++) {
        int at = width_of(row);
        textbuf_printf(b, "  --%s%s%s", row->name, row->value == NULL ? "" : " ",
                       row->value == NULL ? "" : row->value);
        if (at > WIDE) {
            textbuf_putc(b, '\n');
            at = 0;
        }
        for (const char *line = row->help; *line != '\0'; at = 0) {
            size_t len = strcspn(line, "\n");
            textbuf_printf(b, "%*s%.*s\n", widest + 2 - at, "", (int)len, line);
            line += len + (line[len] == '\n');
        }
    }
}
