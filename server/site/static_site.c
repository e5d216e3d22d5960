/* SPDX-License-Identifier: MIT */
#include "site/static_site.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/strmap.h"
#include "http/request.h"
#include "http/server.h"
#include "http/static_page.h"
#include "site/render.h"
#include "site/site_map.h"

/* One writing of a site: addresses wait in a queue, and each page that is written adds those that
 * it links to. */
struct site {
    struct server *server;
    struct snapshot *snapshot;
    const char *slug;
    const char *base;
    struct site_folder *folder;
    struct textbuf *why;
    struct arena *arena;
    struct strmap known; /* file → its place in the queue */
    const char **queue;  /* addresses to ask for */
    const char **files;  /* where each goes */
    size_t len, queue_cap, files_cap;
    bool failed; /* memory was out while a page looked for a file */
};

static bool enqueue(struct site *site, const char *file, const char *asked) {
    const char **queue = array_reserve(site->queue, &site->queue_cap, site->len + 1, sizeof *queue);
    if (queue == NULL)
        return false;
    site->queue = queue;
    const char **files = array_reserve(site->files, &site->files_cap, site->len + 1, sizeof *files);
    if (files == NULL)
        return false;
    site->files = files;
    queue[site->len] = arena_text(site->arena, asked, strlen(asked));
    files[site->len] = arena_text(site->arena, file, strlen(file));
    if (queue[site->len] == NULL || files[site->len] == NULL ||
        strmap_put(&site->known, files[site->len], (int32_t)site->len) != ERR_OK)
        return false;
    site->len++;
    return true;
}

/* The file of an address, which is written in its turn. See struct static_page. */
static bool find(void *context, const char *address, struct textbuf *file) {
    struct site *site = context;
    struct textbuf asked = {0};
    bool found = site_map_file(site->slug, site->base != NULL, address, file, &asked);
    if (file->failed || asked.failed)
        site->failed = true;
    else if (found && strmap_get(&site->known, file->bytes) < 0)
        site->failed = !enqueue(site, file->bytes, asked.bytes) || site->failed;
    textbuf_clear(&asked);
    return found && !site->failed;
}

/* Adds an address that nothing else may lead to. */
static void begin_at(struct site *site, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
static void begin_at(struct site *site, const char *format, ...) {
    char address[256];
    struct textbuf file = {0};
    va_list args;
    va_start(args, format);
    (void)vsnprintf(address, sizeof address, format, args);
    va_end(args);
    (void)find(site, address, &file);
    textbuf_clear(&file);
}

/* What every event has, what is looked at most first. The rest follows from the links. */
static void begin(struct site *site) {
    static const char *const figures[] = {"",       "/standings", "/standings?format=csv",
                                          "/board", "/notices",   "/notices?format=csv"};
    static const char *const pages[] = {"screen", "event", "notices", "compare"};
    const struct event *event = &site->snapshot->event;
    const struct noticeboard *notices = site->snapshot->notices;
    begin_at(site, "/%s/", site->slug);
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
        begin_at(site, "/api/v1/events/%s%s", site->slug, figures[i]);
    begin_at(site, "/");
    begin_at(site, "/api/v1/events");
    for (size_t i = 0; i < sizeof pages / sizeof pages[0]; i++)
        begin_at(site, "/%s/%s", site->slug, pages[i]);
    for (size_t i = 0; i < notices->count; i++)
        begin_at(site, "/api/v1/events/%s/notices/%lld", site->slug,
                 (long long)notices->list[i].number);
    for (int car = 0; car < event->entries->count; car++)
        begin_at(site, "/%s/cars/%d", site->slug, event->entries->list[car].number);
}

static int write_one(struct site *site, size_t index) {
    const char *type = "";
    struct textbuf body = {0};
    const struct static_page page = {site, site->files[index], site->base, find};
    unsigned status =
        render_address(site->server, site->snapshot, &page, site->queue[index], &body, &type);
    int err = body.failed || site->failed ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK && status != MHD_HTTP_OK) {
        textbuf_printf(site->why, "%s is answered with %u", site->queue[index], status);
        err = ERR_IO;
    }
    if (err == ERR_OK)
        err = site_folder_put(site->folder, site->files[index], &body,
                              strncmp(type, "text/html", 9) == 0);
    textbuf_clear(&body);
    return err;
}

int static_site_write(struct server *server, const char *slug, const char *base, const char *folder,
                      struct site_count *count, struct textbuf *why) {
    struct served_event *served = served_events_find(server_events(server), slug);
    struct site site = {.server = server,
                        .snapshot = served == NULL ? NULL : snapshot_acquire(&served->slot),
                        .slug = slug,
                        .base = base,
                        .why = why,
                        .arena = arena_new()};
    *count = (struct site_count){.revision = -1};
    int err = site.arena == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK && site.snapshot == NULL) {
        textbuf_printf(why, "there is no event “%s”", slug);
        err = ERR_UNKNOWN;
    }
    if (err == ERR_OK)
        err = site_folder_open(folder, slug, why, &site.folder);
    if (err == ERR_OK)
        begin(&site);
    for (size_t i = 0; err == ERR_OK && i < site.len; i++)
        err = write_one(&site, i);
    if (err == ERR_OK && site.failed)
        err = ERR_NOMEM;
    if (err == ERR_OK)
        err = site_folder_finish(site.folder, site.snapshot->public_results.revision, count);
    site_folder_free(site.folder);
    snapshot_release(site.snapshot);
    free(site.queue);
    free(site.files);
    strmap_clear(&site.known);
    arena_free(site.arena);
    return err;
}
