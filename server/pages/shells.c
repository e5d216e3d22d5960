/* SPDX-License-Identifier: MIT */
/* Files that pages load; the shells of the desk and of the office, and the desk's service worker:
 * the same bytes for everybody, so that they can be kept by a laptop that has no network. What a
 * key may see comes through the API. */
#include <string.h>

#include "http/server.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/templates.h"
#include "system/assets.h"
#include "system/html.h"

/* ---- files ---- */

unsigned page_asset(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_served_find(r->args[1]);
    if (asset == NULL || strcmp(r->args[0], server_assets(r->server) + 3) != 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

unsigned page_board_worker(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_find("web/board/service-worker.js");
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

/* ---- shells ---- */

struct shell_content {
    const char *event;
    const char *slug;
    const char *assets; /* under which the desk's files stand */
    struct address style;
    struct address script;
    struct address old; /* what tells that the browser is too old */
};

static const struct template_hole desk_holes[] = {TEMPLATE_HOLE(struct shell_content, event),
                                                  TEMPLATE_HOLE(struct shell_content, slug),
                                                  TEMPLATE_HOLE(struct shell_content, assets),
                                                  TEMPLATE_HOLE(struct shell_content, style),
                                                  TEMPLATE_HOLE(struct shell_content, script),
                                                  TEMPLATE_HOLE(struct shell_content, old),
                                                  {0}};

static const struct template_hole office_holes[] = {
    TEMPLATE_HOLE(struct shell_content, event), TEMPLATE_HOLE(struct shell_content, slug),
    TEMPLATE_HOLE(struct shell_content, style), TEMPLATE_HOLE(struct shell_content, script),
    TEMPLATE_HOLE(struct shell_content, old),   {0}};

struct template desk_template = {.file = "web/desk/desk.html", .holes = desk_holes};
struct template office_template = {.file = "web/office/office.html", .holes = office_holes};

static unsigned shell(struct request *r, struct textbuf *b, const struct template *t,
                      const char *name) {
    const char *assets = server_assets(r->server);
    struct page p;
    page_begin(&p, r, NULL);
    const struct shell_content content = {.event = r->snapshot->event.rules->name,
                                          .slug = r->snapshot->event.rules->slug,
                                          .assets = assets,
                                          .style = page_local(&p, "%s/%s.css", assets, name),
                                          .script = page_local(&p, "%s/%s.js", assets, name),
                                          .old = page_local(&p, "%s/old-browser.js", assets)};
    template_write(&p, t, &content);
    return page_finish_bare(&p, b);
}

unsigned page_desk(struct request *r, struct textbuf *b) {
    return shell(r, b, &desk_template, "desk");
}

unsigned page_office(struct request *r, struct textbuf *b) {
    return shell(r, b, &office_template, "office");
}

/* ---- the desk's service worker ---- */

/* True for the files that the desk loads. */
static bool is_desk_file(const struct asset *asset) {
    return strstr(asset->name, "web/desk/") != NULL;
}

unsigned page_desk_worker(struct request *r, struct textbuf *b) {
    struct textbuf *files = request_text(r);
    const struct asset *asset;
    for (size_t i = 0; (asset = asset_served(i)) != NULL; i++) {
        if (is_desk_file(asset))
            textbuf_printf(files, "%s%s/%s", files->len > 0 ? "', '" : "", server_assets(r->server),
                           asset_base(asset)); /* the first and the last quote are the file's */
    }
    const struct script_slot slots[] = {{"assets", server_assets(r->server)},
                                        {"slug", r->snapshot->event.rules->slug},
                                        {"files", textbuf_text(files)}};
    const struct asset *worker = asset_find("web/desk/service-worker.js");
    script_fill(b, worker->bytes, worker->end, slots, sizeof slots / sizeof slots[0]);
    b->failed = b->failed || files->failed;
    r->media_type = worker->media_type;
    return MHD_HTTP_OK;
}
