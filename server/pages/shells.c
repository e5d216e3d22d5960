/* SPDX-License-Identifier: MIT */
/* The shells of the desk and of the office, and the desk's service worker: the same bytes for
 * everybody, so that they can be kept by a laptop that has no network. What a key may see comes
 * through the API. */
#include <string.h>

#include "http/server.h"
#include "pages/pages.h"
#include "system/assets.h"
#include "system/html.h"

static unsigned fill(struct request *r, struct textbuf *b, const char *name,
                     const struct html_slot *slots, size_t count) {
    const struct asset *asset = asset_find(name);
    html_fill(b, asset->bytes, asset->end, slots, count);
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

static unsigned shell(struct request *r, struct textbuf *b, const char *name) {
    struct textbuf event = {0};
    html_text(&event, r->snapshot->event.rules->name);
    const struct html_slot slots[] = {{"assets", server_assets(r->server)},
                                      {"slug", r->snapshot->event.rules->slug},
                                      {"event", textbuf_text(&event)}};
    unsigned status = fill(r, b, name, slots, sizeof slots / sizeof slots[0]);
    b->failed = b->failed || event.failed;
    textbuf_clear(&event);
    return status;
}

unsigned page_desk(struct request *r, struct textbuf *b) {
    return shell(r, b, "web/desk/desk.html");
}

unsigned page_office(struct request *r, struct textbuf *b) {
    return shell(r, b, "web/office/office.html");
}

/* True for the files that the desk loads. */
static bool is_desk_file(const struct asset *asset) {
    return strstr(asset->name, "web/desk/") != NULL;
}

unsigned page_desk_worker(struct request *r, struct textbuf *b) {
    struct textbuf files = {0};
    const struct asset *asset;
    for (size_t i = 0; (asset = asset_served(i)) != NULL; i++) {
        if (is_desk_file(asset))
            textbuf_printf(&files, "%s'%s/%s'", files.len > 0 ? ",\n  " : "",
                           server_assets(r->server), asset_base(asset));
    }
    const struct html_slot slots[] = {{"assets", server_assets(r->server)},
                                      {"slug", r->snapshot->event.rules->slug},
                                      {"files", textbuf_text(&files)}};
    unsigned status =
        fill(r, b, "web/desk/service-worker.js", slots, sizeof slots / sizeof slots[0]);
    b->failed = b->failed || files.failed;
    textbuf_clear(&files);
    return status;
}
