/* SPDX-License-Identifier: MIT */
#include "event/car_search.h"

#include <stdlib.h>
#include <string.h>

/* Longer texts are cut: nobody types that much to find a car. */
enum { FOLD_MAX = 512 };

/* The plain letters of U+00C0 to U+017F. */
static const char plain_letters[] = "aaaaaaaceeeeiiiidnooooo ouuuuyts"
                                    "aaaaaaaceeeeiiiidnooooo ouuuuyty"
                                    "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiiiiijjkkk"
                                    "llllllllllnnnnnnnnnoooooooorrrrrrssssssssttttttuuuuuuuuuuuu"
                                    "wwyyyzzzzzzs";

/* Appends text in small plain letters, and a blank. Returns the new length. */
static size_t fold(char *out, size_t used, const char *text) {
    for (; *text != '\0' && used + 2 < FOLD_MAX; text++) {
        unsigned char c = (unsigned char)*text;
        unsigned char next = (unsigned char)text[1];
        if (c >= 'A' && c <= 'Z') {
            out[used++] = (char)(c - 'A' + 'a');
        } else if (c >= 0xc3 && c <= 0xc5 && (next & 0xc0) == 0x80) {
            out[used++] = plain_letters[((c & 0x1f) << 6 | (next & 0x3f)) - 0xc0];
            text++;
        } else {
            out[used++] = (char)c;
        }
    }
    out[used++] = ' ';
    out[used] = '\0';
    return used;
}

bool car_search_fits(const struct entry *entry, const char *typed) {
    char words[FOLD_MAX];
    char all[FOLD_MAX];
    size_t used = 0;
    (void)fold(words, 0, typed);
    size_t blank = strspn(words, " ");
    size_t digits = strspn(words + blank, "0123456789");
    if (digits > 0 && digits < 9 &&
        words[blank + digits + strspn(words + blank + digits, " ")] == '\0')
        return strtol(words + blank, NULL, 10) == entry->number;
    const char *const texts[] = {entry->driver, entry->navigator, entry->make, entry->model,
                                 entry->team};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        used = fold(all, used, texts[i]);
    char *rest = NULL;
    for (char *w = strtok_r(words, " ", &rest); w != NULL; w = strtok_r(NULL, " ", &rest)) {
        if (strstr(all, w) == NULL)
            return false;
    }
    return true;
}

static const char *next_line(const char *text) {
    const char *end = strchr(text, '\n');
    return end == NULL ? NULL : end + 1;
}

bool car_search_in_texts(const char *const *texts, size_t count, const char *typed) {
    char words[FOLD_MAX];
    char all[FOLD_MAX];
    char *rest = NULL;
    (void)fold(words, 0, typed);
    for (char *w = strtok_r(words, " ", &rest); w != NULL; w = strtok_r(NULL, " ", &rest)) {
        bool found = false;
        for (size_t i = 0; !found && i < count; i++) {
            for (const char *line = texts[i]; !found && line != NULL; line = next_line(line)) {
                (void)fold(all, 0, line);
                found = strstr(all, w) != NULL;
            }
        }
        if (!found)
            return false;
    }
    return true;
}
