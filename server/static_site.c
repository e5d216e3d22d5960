/* SPDX-License-Identifier: MIT */
#include "static_site.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "arena.h"
#include "err.h"
#include "folder.h"
#include "html.h"
#include "http.h"
#include "output.h"
#include "strmap.h"

static const char manifest_name[] = "manifest.json";

/* Which addresses become files, and which of their parameters make a difference there. The others
 * (a car to mark, a text to find) are for a server. */
static const struct {
    const char *pattern;
    const char *parameters; /* between commas, in the order in which they name a file */
    const char *suffix;
} kinds[] = {
    {"/{}/", ",by,class,view,lang,", "index.html"},
    {"/{}/cars/{}", ",lang,", "index.html"},
    {"/{}/compare", ",cars,lang,", "index.html"},
    {"/{}/tests/{}", ",lang,", "index.html"},
    {"/{}/starts/{}", ",lang,", "index.html"},
    {"/{}/notices", ",lang,", "index.html"},
    {"/{}/event", ",lang,", "index.html"},
    {"/{}/screen", ",lang,", "index.html"},
    {"/api/v1/events", "", ".json"},
    {"/api/v1/events/{}", "", ".json"},
    {"/api/v1/events/{}/standings", ",by,class,", ".json"},
    {"/api/v1/events/{}/board", ",by,class,view,lang,", ".json"},
    {"/api/v1/events/{}/cars/{}", "", ".json"},
    {"/api/v1/events/{}/tests/{}", "", ".json"},
    {"/api/v1/events/{}/starts/{}", "", ".json"},
    {"/api/v1/events/{}/notices", "", ".json"},
    {"/api/v1/events/{}/notices/{}", "", ".json"},
    {"/_/{}/{}", "", ""},
};

/* The value of a parameter of a query as it stands there, NULL where it is not given. */
static const char *query_value(const char *query, const char *name, size_t name_len, size_t *len) {
    while (query != NULL && *query != '\0') {
        size_t pair = strcspn(query, "&");
        if (pair > name_len && query[name_len] == '=' && strncmp(query, name, name_len) == 0) {
            *len = pair - name_len - 1;
            return query + name_len + 1;
        }
        query += pair + (query[pair] == '&');
    }
    return NULL;
}

/* Two cars side by side are a page of the site; more would be too many pages. */
static bool is_pair(const char *value, size_t len) {
    const char *comma = memchr(value, ',', len);
    return comma != NULL && memchr(comma + 1, ',', len - (size_t)(comma + 1 - value)) == NULL;
}

/* A value as part of a name: what a file system or a host might take amiss is left out. */
static void put_value(struct textbuf *b, const char *value, size_t len) {
    for (size_t i = 0; i < len; i++) {
        char c = value[i];
        bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                     c == '-' || c == ',';
        if (plain)
            textbuf_putc(b, c);
        else
            textbuf_putc(b, '_');
    }
}

static void put_parameters(const char *parameters, const char *query, bool page,
                           struct textbuf *file, struct textbuf *asked) {
    char before = '?';
    for (const char *name = parameters; *name != '\0' && name[1] != '\0';) {
        size_t name_len = strcspn(++name, ",");
        size_t len = 0;
        const char *value = query_value(query, name, name_len, &len);
        bool cars = name_len == 4 && strncmp(name, "cars", 4) == 0;
        if (value != NULL && len > 0 && (!cars || is_pair(value, len))) {
            textbuf_printf(file, "%s%.*s-", page ? "" : "/", (int)name_len, name);
            put_value(file, value, len);
            textbuf_puts(file, page ? "/" : "");
            textbuf_printf(asked, "%c%.*s=%.*s", before, (int)name_len, name, (int)len, value);
            before = '&';
        }
        name += name_len;
    }
    size_t len = 0;
    const char *format = query_value(query, "format", 6, &len);
    if (!page && format != NULL && len == 3 && strncmp(format, "csv", 3) == 0)
        textbuf_printf(asked, "%cformat=csv", before);
}

void static_site_file(const char *slug, const char *address, struct textbuf *file,
                      struct textbuf *asked) {
    char args[ARG_COUNT][ARG_LEN];
    char allowed[64];
    char path[512];
    size_t path_len = strcspn(address, "?");
    const char *query = address[path_len] == '?' ? address + path_len + 1 : NULL;
    textbuf_reset(file);
    textbuf_reset(asked);
    if (path_len == 0 || path_len >= sizeof path)
        return;
    memcpy(path, address, path_len);
    path[path_len] = '\0';
    /* The list of events is the server's; the site is of one event. */
    if (strcmp(path, "/") == 0)
        (void)snprintf(path, sizeof path, "/%s/event", slug);
    const struct route *route = route_find("GET", path, args, allowed, sizeof allowed);
    size_t i = 0;
    while (route != NULL && i < sizeof kinds / sizeof kinds[0] &&
           strcmp(kinds[i].pattern, route->pattern) != 0)
        i++;
    if (route == NULL || i == sizeof kinds / sizeof kinds[0] ||
        (strstr(route->pattern, "{}") != NULL && !route->eventless && strcmp(args[0], slug) != 0))
        return;
    bool page = strcmp(kinds[i].suffix, "index.html") == 0;
    textbuf_puts(file, path + 1);
    textbuf_puts(asked, path);
    if (page && path[strlen(path) - 1] != '/')
        textbuf_putc(file, '/');
    put_parameters(kinds[i].parameters, query, page, file, asked);
    bool csv = strstr(textbuf_text(asked), "format=csv") != NULL;
    textbuf_puts(file, csv ? ".csv" : kinds[i].suffix);
}

/* One writing of a site. */
struct site {
    struct server *server;
    const char *slug;
    const char *folder;
    struct static_count *count;
    struct textbuf *why;
    struct arena *arena;
    struct strmap known; /* file → its place in the queue */
    const char **queue;  /* addresses to ask for */
    const char **files;  /* where each goes */
    size_t queue_len, queue_cap, files_cap;
    struct textbuf manifest;
};

/* Notes an address that is to be written. `file` gets its file, "" where it has none. */
static int enqueue(struct site *site, const char *address, struct textbuf *file) {
    struct textbuf asked = {0};
    static_site_file(site->slug, address, file, &asked);
    int err = file->failed || asked.failed ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK && file->len > 0 && strmap_get(&site->known, file->bytes) < 0) {
        const char **queue =
            array_room(site->queue, &site->queue_cap, site->queue_len + 1, sizeof *queue);
        const char **files = queue == NULL ? NULL
                                           : array_room(site->files, &site->files_cap,
                                                        site->queue_len + 1, sizeof *files);
        if (queue != NULL)
            site->queue = queue;
        if (files != NULL) {
            site->files = files;
            queue[site->queue_len] = arena_text(site->arena, asked.bytes, asked.len);
            files[site->queue_len] = arena_text(site->arena, file->bytes, file->len);
        }
        if (files == NULL || queue[site->queue_len] == NULL || files[site->queue_len] == NULL ||
            strmap_put(&site->known, files[site->queue_len], (int)site->queue_len) != ERR_OK)
            err = ERR_NOMEM;
        else
            site->queue_len++;
    }
    textbuf_clear(&asked);
    return err;
}

static void put_relative(struct textbuf *b, const char *from, const char *to) {
    for (const char *p = from; *p != '\0'; p++) {
        if (*p == '/')
            textbuf_puts(b, "../");
    }
    textbuf_puts(b, to);
}

/* An address as it stands in an attribute, without its fragment: "&amp;" is "&". */
static void put_address(struct textbuf *b, const char *value, size_t len) {
    for (size_t i = 0; i < len && value[i] != '#'; i++) {
        textbuf_putc(b, value[i]);
        if (value[i] == '&' && len - i >= 5 && strncmp(value + i, "&amp;", 5) == 0)
            i += 4;
    }
}

/* Copies a page with its links turned. Every quotation mark that stands in a text is escaped, so
 * what looks like an attribute is one. */
static int turn_links(struct site *site, const char *file, const struct textbuf *page,
                      struct textbuf *out) {
    static const char *const names[] = {"href=\"/", "src=\"/", "action=\"/"};
    const char *at = textbuf_text(page);
    struct textbuf address = {0};
    struct textbuf target = {0};
    int err = ERR_OK;
    while (err == ERR_OK) {
        const char *next = NULL;
        size_t name_len = 0;
        for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
            const char *found = strstr(at, names[i]);
            if (found != NULL && (next == NULL || found < next)) {
                next = found;
                name_len = strlen(names[i]) - 1;
            }
        }
        if (next == NULL)
            break;
        const char *value = next + name_len;
        size_t len = strcspn(value, "\"");
        const char *fragment = memchr(value, '#', len);
        textbuf_add(out, at, (size_t)(next - at));
        textbuf_reset(&address);
        put_address(&address, value, len);
        err = enqueue(site, textbuf_text(&address), &target);
        if (err == ERR_OK && target.len == 0) {
            textbuf_puts(out, "hidden href=\"#main\"");
        } else if (err == ERR_OK) {
            textbuf_add(out, next, name_len);
            put_relative(out, file, target.bytes);
            if (fragment != NULL)
                textbuf_add(out, fragment, len - (size_t)(fragment - value));
            textbuf_putc(out, '"');
        }
        at = value + len + 1;
    }
    textbuf_puts(out, at);
    textbuf_clear(&address);
    textbuf_clear(&target);
    return out->failed ? ERR_NOMEM : err;
}

/* Tells the page's scripts that it is a copy, and where the board's figures are. */
static int mark_copy(struct site *site, const char *file, const char *asked,
                     const struct textbuf *page, struct textbuf *out) {
    const char *root = strstr(textbuf_text(page), " data-event=\"");
    struct textbuf address = {0};
    struct textbuf figures = {0};
    int err = ERR_OK;
    if (root == NULL) {
        textbuf_add(out, page->bytes, page->len);
        return out->failed ? ERR_NOMEM : ERR_OK;
    }
    textbuf_add(out, page->bytes, (size_t)(root - page->bytes));
    textbuf_puts(out, " data-copy=\"\"");
    size_t head = strlen(site->slug) + 2;
    if (strncmp(asked + 1, site->slug, strlen(site->slug)) == 0 &&
        (asked[head] == '\0' || asked[head] == '?')) {
        textbuf_printf(&address, "/api/v1/events/%s/board%s", site->slug, asked + head);
        err = enqueue(site, textbuf_text(&address), &figures);
        if (err == ERR_OK && figures.len > 0) {
            textbuf_puts(out, " data-figures=\"");
            put_relative(out, file, figures.bytes);
            textbuf_putc(out, '"');
        }
    }
    textbuf_puts(out, root);
    textbuf_clear(&address);
    textbuf_clear(&figures);
    return out->failed ? ERR_NOMEM : err;
}

/* Makes the folders of a file's path. */
static int make_folders(char *path) {
    for (char *p = strchr(path + 1, '/'); p != NULL; p = strchr(p + 1, '/')) {
        *p = '\0';
        int rc = mkdir(path, 0755);
        *p = '/';
        if (rc != 0 && errno != EEXIST)
            return ERR_IO;
    }
    return ERR_OK;
}

/* Writes a file unless it is there with the same bytes. */
static int put_file(struct site *site, const char *file, const struct textbuf *body) {
    char *path = NULL;
    char *beside = NULL;
    char *old = NULL;
    size_t old_len = 0;
    int err = ERR_OK;
    int fd = -1;
    if (asprintf(&path, "%s/%s", site->folder, file) < 0)
        return ERR_NOMEM;
    if (asprintf(&beside, "%s.new", path) < 0) {
        free(path);
        return ERR_NOMEM;
    }
    bool same = file_read(path, &old, &old_len) == ERR_OK && old_len == body->len &&
                memcmp(old, body->bytes, old_len) == 0;
    free(old);
    if (same)
        goto done;
    err = make_folders(path);
    if (err == ERR_OK) {
        fd = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
        err = fd < 0 ? ERR_IO : ERR_OK;
    }
    for (size_t at = 0; err == ERR_OK && at < body->len;) {
        ssize_t put = write(fd, body->bytes + at, body->len - at);
        if (put > 0)
            at += (size_t)put;
        else if (put < 0 && errno != EINTR)
            err = ERR_IO;
    }
    if (fd >= 0 && close(fd) != 0 && err == ERR_OK)
        err = ERR_IO;
    if (err == ERR_OK && rename(beside, path) != 0)
        err = ERR_IO;
    site->count->written += err == ERR_OK;
done:
    if (err == ERR_IO)
        textbuf_printf(site->why, "%s: %s", path, strerror(errno));
    free(path);
    free(beside);
    return err;
}

static void note(struct site *site, const char *file, const struct textbuf *body) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    (void)crypto_hash_sha256(hash, (const unsigned char *)body->bytes, body->len);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    textbuf_printf(&site->manifest, "%s\n{\"file\":", site->count->files > 0 ? "," : "");
    json_write_text(&site->manifest, file);
    textbuf_printf(&site->manifest, ",\"bytes\":%zu,\"sha256\":\"%s\"}", body->len, hex);
    site->count->files++;
}

static int write_one(struct site *site, size_t index) {
    const char *asked = site->queue[index];
    const char *file = site->files[index];
    const char *type = "";
    struct textbuf body = {0};
    struct textbuf marked = {0};
    struct textbuf turned = {0};
    unsigned status = server_render(site->server, asked, &body, &type);
    int err = body.failed ? ERR_NOMEM : ERR_OK;
    /* What the event does not have (teams, say) has no page. */
    if (err == ERR_OK && status == MHD_HTTP_OK) {
        bool page = strncmp(type, "text/html", 9) == 0;
        if (page)
            err = mark_copy(site, file, asked, &body, &marked);
        if (page && err == ERR_OK)
            err = turn_links(site, file, &marked, &turned);
        const struct textbuf *last = page ? &turned : &body;
        if (err == ERR_OK)
            err = put_file(site, file, last);
        if (err == ERR_OK)
            note(site, file, last);
    } else if (err == ERR_OK) {
        textbuf_printf(site->why, "%s is answered with %u", asked, status);
        err = ERR_IO;
    }
    textbuf_clear(&body);
    textbuf_clear(&marked);
    textbuf_clear(&turned);
    return err;
}

/* Where the site begins: what every event has. The rest follows from the links. */
static int seed(struct site *site, const struct snapshot *s) {
    const struct event *event = &s->event;
    const struct view *view = s->open_scene.view;
    struct textbuf address = {0};
    struct textbuf file = {0};
    int err = ERR_OK;
    static const char *const first[] = {"", "event", "screen", "notices", "compare"};
    for (size_t i = 0; err == ERR_OK && i < sizeof first / sizeof first[0]; i++) {
        textbuf_reset(&address);
        textbuf_printf(&address, "/%s/%s", site->slug, first[i]);
        err = enqueue(site, textbuf_text(&address), &file);
    }
    if (err == ERR_OK)
        err = enqueue(site, "/api/v1/events", &file);
    textbuf_reset(&address);
    textbuf_printf(&address, "/api/v1/events/%s", site->slug);
    if (err == ERR_OK)
        err = enqueue(site, textbuf_text(&address), &file);
    for (int car = 0; err == ERR_OK && car < event->entries->count; car++) {
        textbuf_reset(&address);
        textbuf_printf(&address, "/%s/cars/%d", site->slug, event->entries->list[car].number);
        err = enqueue(site, textbuf_text(&address), &file);
    }
    for (int i = 0; err == ERR_OK && i < event->rules->item_count; i++) {
        if (event->rules->items[i].test < 0 || view->hidden[i])
            continue;
        textbuf_reset(&address);
        textbuf_printf(&address, "/%s/tests/%s", site->slug, event->rules->items[i].id);
        err = enqueue(site, textbuf_text(&address), &file);
    }
    textbuf_clear(&address);
    textbuf_clear(&file);
    return err;
}

/* Removes what the manifest before names and this one does not. */
static void remove_gone(struct site *site, const char *before, size_t len) {
    struct textbuf name = {0};
    static const char key[] = "{\"file\":\"";
    const char *end = before + len;
    for (const char *p = before; (p = memmem(p, (size_t)(end - p), key, sizeof key - 1)) != NULL;) {
        p += sizeof key - 1;
        size_t size = strcspn(p, "\"");
        textbuf_reset(&name);
        textbuf_add(&name, p, size);
        p += size;
        const char *file = textbuf_text(&name);
        char *path = NULL;
        /* Names of ours never lead out of the site; who changed the manifest gains nothing. */
        if (*file == '/' || strstr(file, "..") != NULL || strmap_get(&site->known, file) >= 0 ||
            asprintf(&path, "%s/%s", site->folder, file) < 0)
            continue;
        if (unlink(path) == 0)
            site->count->removed++;
        free(path);
    }
    textbuf_clear(&name);
}

int static_site_write(struct server *server, const char *slug, const char *folder,
                      struct static_count *count, struct textbuf *why) {
    struct held *held = scorekeeper_find(server_keeper(server), slug);
    struct snapshot *s = held == NULL ? NULL : snapshot_acquire(&held->slot);
    struct site site = {.server = server,
                        .slug = slug,
                        .folder = folder,
                        .count = count,
                        .why = why,
                        .arena = arena_new()};
    char *before = NULL;
    char *path = NULL;
    size_t before_len = 0;
    *count = (struct static_count){0};
    int err = s == NULL ? ERR_UNKNOWN : site.arena == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_UNKNOWN)
        textbuf_printf(why, "there is no event “%s”", slug);
    if (err == ERR_OK && asprintf(&path, "%s/%s", folder, manifest_name) < 0)
        err = ERR_NOMEM;
    if (err == ERR_OK) {
        (void)file_read(path, &before, &before_len);
        count->revision = s->open_scene.revision;
        textbuf_printf(&site.manifest, "{\"event\":\"%s\",\"revision\":%lld,\"files\":[", slug,
                       (long long)count->revision);
        err = seed(&site, s);
    }
    snapshot_release(s);
    for (size_t i = 0; err == ERR_OK && i < site.queue_len; i++)
        err = write_one(&site, i);
    textbuf_puts(&site.manifest, "]}\n");
    if (err == ERR_OK)
        err = site.manifest.failed ? ERR_NOMEM : put_file(&site, manifest_name, &site.manifest);
    if (err == ERR_OK && before != NULL)
        remove_gone(&site, before, before_len);
    free(path);
    free(before);
    free(site.queue);
    free(site.files);
    strmap_clear(&site.known);
    textbuf_clear(&site.manifest);
    arena_free(site.arena);
    return err;
}
