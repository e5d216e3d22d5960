/* SPDX-License-Identifier: MIT */
#include "remote/sent_file.h"

#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "remote/reading_file.h"
#include "system/files.h"

static const char first_line[] = "cairn: rows that were sent; may be deleted\n";

enum { HASH_BYTES = 16 };

struct sent_file {
    char *path;   /* NULL where none is kept */
    char *beside; /* the new file, until it takes the old one's place */
    char address[HASH_BYTES * 2 + 1];
    struct arena *arena;
    const char **digests;
    size_t count;
    size_t cap;
    struct strmap by_digest;
};

static void drop_file(struct sent_file *s) {
    free(s->path);
    free(s->beside);
    s->path = NULL;
    s->beside = NULL;
}

void sent_file_free(struct sent_file *s) {
    if (s == NULL)
        return;
    drop_file(s);
    free(s->digests);
    strmap_clear(&s->by_digest);
    arena_free(s->arena);
    free(s);
}

bool sent_file_has(const struct sent_file *s, const char *digest) {
    return strmap_get(&s->by_digest, digest) >= 0;
}

void sent_file_forget(struct sent_file *s) {
    strmap_clear(&s->by_digest);
    s->count = 0;
}

static int add(struct sent_file *s, const char *digest, size_t len) {
    char *copy = arena_text(s->arena, digest, len);
    if (copy == NULL)
        return ERR_NOMEM;
    if (sent_file_has(s, copy))
        return ERR_OK;
    const char **digests = array_reserve(s->digests, &s->cap, s->count + 1, sizeof *digests);
    if (digests == NULL)
        return ERR_NOMEM;
    s->digests = digests;
    int err = strmap_put(&s->by_digest, copy, (int32_t)s->count);
    if (err == ERR_OK)
        digests[s->count++] = copy;
    return err;
}

int sent_file_add(struct sent_file *s, const char *digest) {
    return add(s, digest, strlen(digest));
}

const char *sent_file_path(const struct sent_file *s) {
    return s->path;
}

static bool is_digest(const char *line, size_t len) {
    return len == ROW_DIGEST_LEN && strspn(line, "0123456789abcdef") == len;
}

/* Lines that are no digests are passed over: their rows are sent once more. */
static int take_text(struct sent_file *s, const char *text, struct textbuf *note) {
    bool at_address = true;
    if (strncmp(text, first_line, sizeof first_line - 1) != 0) {
        textbuf_printf(note,
                       "%s is there and is not what this program writes; it is left alone, "
                       "and nothing is noted of what was sent",
                       s->path);
        drop_file(s);
        return ERR_OK;
    }
    for (text += sizeof first_line - 1; *text != '\0';) {
        size_t len = strcspn(text, "\n");
        bool same = at_address && len == strlen(s->address) && strncmp(text, s->address, len) == 0;
        if (at_address && !same) {
            textbuf_printf(note, "%s is about another address; it is begun anew", s->path);
            return ERR_OK;
        }
        if (!at_address && is_digest(text, len) && add(s, text, len) != ERR_OK)
            return ERR_NOMEM;
        at_address = false;
        text += len + (text[len] == '\n');
    }
    return ERR_OK;
}

int sent_file_open(const char *file, const char *address, struct sent_file **out,
                   struct textbuf *note) {
    unsigned char hash[HASH_BYTES];
    char *text = NULL;
    size_t len = 0;
    int err = ERR_OK;
    struct sent_file *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->arena = arena_new();
    if (s->arena == NULL)
        err = ERR_NOMEM;
    (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)address, strlen(address),
                             NULL, 0);
    (void)sodium_bin2hex(s->address, sizeof s->address, hash, sizeof hash);
    if (file != NULL && asprintf(&s->path, "%s.sent", file) < 0) {
        s->path = NULL;
        err = ERR_NOMEM;
    }
    if (file != NULL && asprintf(&s->beside, "%s.sent.new", file) < 0) {
        s->beside = NULL;
        err = ERR_NOMEM;
    }
    if (err == ERR_OK && file != NULL) {
        int got = file_read(s->path, &text, &len);
        if (got == ERR_NOMEM) {
            err = got;
        } else if (got == ERR_IO) {
            textbuf_printf(note, "%s cannot be read (%s); nothing is noted of what was sent",
                           s->path, strerror(errno));
            drop_file(s);
        } else if (got == ERR_OK && len > 0) {
            err = take_text(s, text, note);
        }
    }
    free(text);
    if (err != ERR_OK) {
        sent_file_free(s);
        return err;
    }
    *out = s;
    return ERR_OK;
}

bool sent_file_save(struct sent_file *s, struct textbuf *note) {
    struct textbuf b = {0};
    if (s->path == NULL)
        return false;
    textbuf_puts(&b, first_line);
    textbuf_printf(&b, "%s\n", s->address);
    for (size_t i = 0; i < s->count; i++) {
        textbuf_puts(&b, s->digests[i]);
        textbuf_putc(&b, '\n');
    }
    errno = ENOMEM;
    bool good = !b.failed && file_replace(s->beside, s->path, 0644, b.bytes, b.len) == ERR_OK;
    if (!good) {
        textbuf_printf(note,
                       "%s cannot be written (%s); going on without. Sending the file again does "
                       "no harm: what is there counts once",
                       s->path, strerror(errno));
        drop_file(s);
    }
    textbuf_clear(&b);
    return good;
}
