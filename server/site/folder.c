/* SPDX-License-Identifier: MIT */
#include "site/site_folder.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/strmap.h"
#include "format/json_read.h"
#include "format/json_write.h"
#include "system/files.h"

static const char manifest_name[] = "manifest.json";
/* Names of files, a line each, that a writing adds or is about to remove; empty between writings.
 * Whoever holds its lock is the one writer. */
static const char journal_name[] = ".cairn-journal";
/* Where a file is written before it is moved into place: one name, so that a writing that was
 * killed leaves one stray file at most, which the next one writes over. */
static const char fresh_name[] = ".cairn-new";

struct site_folder {
    char *path;
    const char *slug;
    struct textbuf *why;
    struct arena *arena;
    int journal;
    struct strmap before; /* files that were part of the site, or may have been → place in names */
    const char **names;
    size_t name_count, name_cap;
    struct strmap now;
    struct textbuf manifest;
    struct site_count count;
};

static char *path_of(const struct site_folder *f, const char *file) {
    char *path = NULL;
    return asprintf(&path, "%s/%s", f->path, file) < 0 ? NULL : path;
}

static int fail(const struct site_folder *f, const char *path) {
    textbuf_printf(f->why, "%s: %s", path, strerror(errno));
    return ERR_IO;
}

/* A name that leads out of the site is ignored, whoever wrote the manifest. */
static bool is_name(const char *name, size_t len) {
    if (len == 0 || *name == '/' || memmem(name, len, "..", 2) != NULL)
        return false;
    for (size_t i = 0; i < len; i++) {
        char c = name[i];
        if (!((c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
              (c != '\0' && strchr("-,._/", c) != NULL)))
            return false;
    }
    return true;
}

static int note_before(struct site_folder *f, const char *name, size_t len) {
    const char *copy = is_name(name, len) ? arena_text(f->arena, name, len) : NULL;
    if (copy == NULL)
        return is_name(name, len) ? ERR_NOMEM : ERR_OK;
    if (strmap_get(&f->before, copy) >= 0)
        return ERR_OK;
    const char **names = array_reserve(f->names, &f->name_cap, f->name_count + 1, sizeof *names);
    if (names == NULL)
        return ERR_NOMEM;
    f->names = names;
    names[f->name_count] = copy;
    int err = strmap_put(&f->before, copy, (int32_t)f->name_count);
    f->name_count += err == ERR_OK;
    return err;
}

/* Notes the files of a manifest. Returns: ERR_OK; ERR_INPUT where it is not one of this event;
 * ERR_NOMEM. */
static int note_listed(struct site_folder *f, const struct json_reader *reader, const char *text,
                       size_t len) {
    json_t *root = NULL;
    const json_t *files = NULL;
    const char *event = NULL;
    int err = json_read_text(reader, text, len, &root);
    if (err == ERR_OK &&
        (!json_get_text(reader, root, NULL, "event", true, &event) || strcmp(event, f->slug) != 0 ||
         !json_get_array(reader, root, NULL, "files", true, &files)))
        err = ERR_INPUT;
    for (size_t i = 0; err == ERR_OK && i < json_array_size(files); i++) {
        const char *name = NULL;
        if (json_get_text(reader, json_array_get(files, i), NULL, "file", true, &name))
            err = note_before(f, name, strlen(name));
    }
    json_decref(root);
    return problems_out_of_memory(reader->problems) ? ERR_NOMEM : err;
}

/* Notes the files that the manifest of the writing before names. */
static int read_manifest(struct site_folder *f) {
    struct problems problems = {0};
    const struct json_reader reader = {
        .file = manifest_name, .arena = f->arena, .problems = &problems};
    char *path = path_of(f, manifest_name);
    char *text = NULL;
    size_t len = 0;
    int err = path == NULL ? ERR_NOMEM : file_read(path, &text, &len);
    if (err == ERR_IO)
        (void)fail(f, path);
    if (err == ERR_OK)
        err = note_listed(f, &reader, text, len);
    if (err == ERR_INPUT)
        textbuf_printf(f->why, "%s: not the manifest of a site of “%s”", path, f->slug);
    problems_clear(&problems);
    free(text);
    free(path);
    return err == ERR_UNKNOWN ? ERR_OK : err;
}

/* Locks the journal, and notes the files that a writing which was killed left in it. */
static int open_journal(struct site_folder *f) {
    char *path = path_of(f, journal_name);
    char *text = NULL;
    size_t len = 0;
    if (path == NULL)
        return ERR_NOMEM;
    int err = ERR_OK;
    f->journal = open(path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (f->journal < 0)
        err = fail(f, path);
    if (err == ERR_OK && flock(f->journal, LOCK_EX | LOCK_NB) != 0) {
        textbuf_printf(f->why, "%s: another process is writing this site", f->path);
        err = ERR_BUSY;
    }
    if (err == ERR_OK)
        err = descriptor_read(f->journal, &text, &len);
    for (size_t at = 0; err == ERR_OK && at < len;) {
        size_t size = strcspn(text + at, "\n");
        err = note_before(f, text + at, size);
        at += size + 1;
    }
    free(text);
    free(path);
    return err;
}

/* Makes the folders of a file's path. */
static int make_folders(const struct site_folder *f, char *path) {
    for (char *p = strchr(path + 1, '/'); p != NULL; p = strchr(p + 1, '/')) {
        *p = '\0';
        int err = mkdir(path, 0755) != 0 && errno != EEXIST ? fail(f, path) : ERR_OK;
        *p = '/';
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

int site_folder_open(const char *path, const char *slug, struct textbuf *why,
                     struct site_folder **out) {
    struct site_folder *f = calloc(1, sizeof *f);
    *out = NULL;
    if (f == NULL)
        return ERR_NOMEM;
    *f = (struct site_folder){
        .path = strdup(path), .slug = slug, .why = why, .arena = arena_new(), .journal = -1};
    char *inside = f->path == NULL ? NULL : path_of(f, "");
    int err = inside == NULL || f->arena == NULL ? ERR_NOMEM : make_folders(f, inside);
    free(inside);
    if (err == ERR_OK)
        err = open_journal(f);
    if (err == ERR_OK)
        err = read_manifest(f);
    if (err == ERR_OK)
        *out = f;
    else
        site_folder_free(f);
    return err;
}

static int write_fresh(const struct site_folder *f, const char *fresh, const struct textbuf *body) {
    int fd = open(fresh, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
    if (fd < 0)
        return fail(f, fresh);
    bool good = descriptor_write(fd, body->bytes, body->len);
    good = close(fd) == 0 && good;
    return good ? ERR_OK : fail(f, fresh);
}

/* Writes beside, then moves into place. */
static int replace(struct site_folder *f, char *path, const struct textbuf *body) {
    char *fresh = path_of(f, fresh_name);
    if (fresh == NULL)
        return ERR_NOMEM;
    int err = make_folders(f, path);
    if (err == ERR_OK)
        err = write_fresh(f, fresh, body);
    if (err == ERR_OK && rename(fresh, path) != 0)
        err = fail(f, path);
    free(fresh);
    f->count.written += err == ERR_OK;
    return err;
}

/* The line on the revision within a page; of no length where it has none. */
static size_t find_state(const char *text, size_t len, size_t *size) {
    static const char begin[] = "<p class=\"state\" id=\"state\">";
    const char *from = memmem(text, len, begin, sizeof begin - 1);
    const char *to = from == NULL ? NULL : memmem(from, len - (size_t)(from - text), "</p>", 4);
    *size = to == NULL ? 0 : (size_t)(to - from);
    return to == NULL ? len : (size_t)(from - text);
}

static bool is_same(const char *old, size_t old_len, const struct textbuf *body, bool page) {
    size_t old_size = 0;
    size_t new_size = 0;
    if (old_len == body->len && memcmp(old, body->bytes, old_len) == 0)
        return true;
    if (!page)
        return false;
    size_t at = find_state(old, old_len, &old_size);
    if (at != find_state(body->bytes, body->len, &new_size) || old_size == 0 || new_size == 0 ||
        old_len - old_size != body->len - new_size)
        return false;
    return memcmp(old, body->bytes, at) == 0 &&
           memcmp(old + at + old_size, body->bytes + at + new_size, old_len - at - old_size) == 0;
}

static int list(struct site_folder *f, const char *file, const char *bytes, size_t len) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    const char *name = arena_text(f->arena, file, strlen(file));
    if (name == NULL || strmap_put(&f->now, name, 0) != ERR_OK)
        return ERR_NOMEM;
    (void)crypto_hash_sha256(hash, (const unsigned char *)bytes, len);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    json_line(&f->manifest);
    json_open_object(&f->manifest);
    json_member_text(&f->manifest, "file", file);
    json_member_int(&f->manifest, "bytes", (int64_t)len);
    json_member_text(&f->manifest, "sha256", hex);
    json_close_object(&f->manifest);
    f->count.files++;
    return f->manifest.failed ? ERR_NOMEM : ERR_OK;
}

static int log_name(struct site_folder *f, const char *file) {
    struct textbuf line = {0};
    textbuf_printf(&line, "%s\n", file);
    int err = line.failed                                          ? ERR_NOMEM
              : descriptor_write(f->journal, line.bytes, line.len) ? ERR_OK
                                                                   : ERR_IO;
    if (err == ERR_IO)
        (void)fail(f, journal_name);
    textbuf_clear(&line);
    return err;
}

int site_folder_put(struct site_folder *f, const char *file, const struct textbuf *body,
                    bool page) {
    char *path = path_of(f, file);
    char *old = NULL;
    size_t old_len = 0;
    if (path == NULL || body->failed) {
        free(path);
        return ERR_NOMEM;
    }
    bool kept = file_read(path, &old, &old_len) == ERR_OK && is_same(old, old_len, body, page);
    int err = ERR_OK;
    if (!kept && strmap_get(&f->before, file) < 0)
        err = log_name(f, file);
    if (!kept && err == ERR_OK)
        err = replace(f, path, body);
    if (err == ERR_OK)
        err = kept ? list(f, file, old, old_len) : list(f, file, body->bytes, body->len);
    free(old);
    free(path);
    return err;
}

/* Removes a file, and the folders that are empty without it. */
static void remove_one(struct site_folder *f, const char *file) {
    char *path = path_of(f, file);
    if (path == NULL)
        return;
    f->count.removed += unlink(path) == 0;
    char *slash;
    while ((slash = strrchr(path, '/')) != NULL && (size_t)(slash - path) > strlen(f->path)) {
        *slash = '\0';
        if (rmdir(path) != 0)
            break;
    }
    free(path);
}

int site_folder_finish(struct site_folder *f, int64_t revision, struct site_count *count) {
    struct textbuf whole = {0};
    char *path = path_of(f, manifest_name);
    char *old = NULL;
    size_t old_len = 0;
    int err = path == NULL ? ERR_NOMEM : ERR_OK;
    /* The new manifest does not name them: the journal does until they are removed. */
    for (size_t i = 0; err == ERR_OK && i < f->name_count; i++) {
        if (strmap_get(&f->now, f->names[i]) < 0)
            err = log_name(f, f->names[i]);
    }
    json_open_object(&whole);
    json_member_text(&whole, "event", f->slug);
    json_member_int(&whole, "revision", revision);
    json_member_array(&whole, "files");
    json_write_raw(&whole, f->manifest.bytes, f->manifest.len);
    json_close_array(&whole);
    json_close_document(&whole);
    if (err == ERR_OK && whole.failed)
        err = ERR_NOMEM;
    if (err == ERR_OK &&
        !(file_read(path, &old, &old_len) == ERR_OK && is_same(old, old_len, &whole, false)))
        err = replace(f, path, &whole);
    for (size_t i = 0; err == ERR_OK && i < f->name_count; i++) {
        if (strmap_get(&f->now, f->names[i]) < 0)
            remove_one(f, f->names[i]);
    }
    if (err == ERR_OK && ftruncate(f->journal, 0) != 0)
        err = fail(f, journal_name);
    f->count.revision = revision;
    *count = f->count;
    textbuf_clear(&whole);
    free(old);
    free(path);
    return err;
}

void site_folder_free(struct site_folder *f) {
    if (f == NULL)
        return;
    if (f->journal >= 0)
        (void)close(f->journal);
    strmap_clear(&f->before);
    strmap_clear(&f->now);
    textbuf_clear(&f->manifest);
    free(f->names);
    arena_free(f->arena);
    free(f->path);
    free(f);
}
