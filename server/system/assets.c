/* SPDX-License-Identifier: MIT */
/* The assembler takes the files in as they are, by their paths from the top of the tree, where make
 * compiles; the Makefile makes this file depend on them. */
#include "system/assets.h"

#include <sodium.h>
#include <stdbool.h>
#include <string.h>

#define INCLUDE_FILE(symbol, path)                                                                 \
    __asm__(".section .rodata\n"                                                                   \
            ".global asset_" #symbol "\n"                                                          \
            ".balign 16\n"                                                                         \
            "asset_" #symbol ":\n"                                                                 \
            ".incbin \"" path "\"\n"                                                               \
            ".global asset_" #symbol "_end\n"                                                      \
            "asset_" #symbol "_end:\n"                                                             \
            ".byte 0\n"                                                                            \
            ".previous\n");                                                                        \
    extern const char asset_##symbol[];                                                            \
    extern const char asset_##symbol##_end[];

static const char html[] = "text/html; charset=utf-8";
static const char css[] = "text/css; charset=utf-8";
static const char json[] = "application/json";
static const char script[] = "text/javascript; charset=utf-8";

/* symbol, path, media type. The Makefile makes what stands in build/web/. */
#define ASSETS(X)                                                                                  \
    X(facts_sql, "schema/001_facts.sql", "application/sql")                                        \
    X(notices_sql, "schema/002_notices.sql", "application/sql")                                    \
    X(codes_sql, "schema/003_codes.sql", "application/sql")                                        \
    X(acknowledgements_sql, "schema/004_acknowledgements.sql", "application/sql")                  \
    X(chain_sql, "schema/005_chain.sql", "application/sql")                                        \
    X(openapi, "schema/openapi.yaml", "application/yaml")                                          \
    X(preset_fiva, "schema/presets/fiva.json", json)                                               \
    X(preset_appendix_k, "schema/presets/appendix-k.json", json)                                   \
    X(preset_hundredths, "schema/presets/hundredths.json", json)                                   \
    X(preset_early_double, "schema/presets/early-double.json", json)                               \
    X(preset_uk_road, "schema/presets/uk-road.json", json)                                         \
    X(preset_uk_target, "schema/presets/uk-target.json", json)                                     \
    X(preset_reliability, "schema/presets/reliability.json", json)                                 \
    X(preset_uk_fails, "schema/presets/uk-fails.json", json)                                       \
    X(preset_french_averages, "schema/presets/french-averages.json", json)                         \
    X(preset_norwegian, "schema/presets/norwegian.json", json)                                     \
    X(preset_tsd_hundredths, "schema/presets/tsd-hundredths.json", json)                           \
    X(preset_autotest, "schema/presets/autotest.json", json)                                       \
    X(preset_long_distance, "schema/presets/long-distance.json", json)                             \
    X(preset_touring, "schema/presets/touring.json", json)                                         \
    X(frame_template, "web/board/templates/frame.html", html)                                      \
    X(state_template, "web/board/templates/state.html", html)                                      \
    X(card_template, "web/board/templates/card.html", html)                                        \
    X(cases_template, "web/board/templates/cases.html", html)                                      \
    X(enquiry_template, "web/board/templates/enquiry.html", html)                                  \
    X(enquiry_form_template, "web/board/templates/enquiry-form.html", html)                        \
    X(event_template, "web/board/templates/event.html", html)                                      \
    X(events_template, "web/board/templates/events.html", html)                                    \
    X(notices_template, "web/board/templates/notices.html", html)                                  \
    X(problem_template, "web/board/templates/problem.html", html)                                  \
    X(qr_template, "web/board/templates/qr.html", html)                                            \
    X(screen_template, "web/board/templates/screen.html", html)                                    \
    X(starts_template, "web/board/templates/starts.html", html)                                    \
    X(page_script, "build/web/board/page.js", script)                                              \
    X(board_script, "build/web/board/board.js", script)                                            \
    X(screen_script, "build/web/board/screen.js", script)                                          \
    X(units_script, "build/web/board/units.js", script)                                            \
    X(board_worker, "web/board/service-worker.js", script)                                         \
    X(board_en, "web/words/board.en.json", json)                                                   \
    X(board_de, "web/words/board.de.json", json)                                                   \
    X(board_fr, "web/words/board.fr.json", json)                                                   \
    X(board_it, "web/words/board.it.json", json)                                                   \
    X(style, "build/web/board/style.css", css)                                                     \
    X(desk_page, "web/desk/desk.html", html)                                                       \
    X(desk_worker, "web/desk/service-worker.js", script)                                           \
    X(desk_style, "build/web/desk/desk.css", css)                                                  \
    X(desk_script, "build/web/desk/desk.js", script)                                               \
    X(desk_seldom, "build/web/desk/seldom.js", script)                                             \
    X(old_browser, "build/web/desk/old-browser.js", script)                                        \
    X(desk_en, "build/web/desk/words-en.js", script)                                               \
    X(desk_de, "build/web/desk/words-de.js", script)                                               \
    X(desk_fr, "build/web/desk/words-fr.js", script)                                               \
    X(desk_it, "build/web/desk/words-it.js", script)                                               \
    X(office_page, "web/office/office.html", html)                                                 \
    X(office_style, "build/web/office/office.css", css)                                            \
    X(office_script, "build/web/office/office.js", script)

#define DECLARE(symbol, path, type) INCLUDE_FILE(symbol, path)
ASSETS(DECLARE)

#define ROW(symbol, path, type) {path, type, asset_##symbol, asset_##symbol##_end},
static const struct asset assets[] = {ASSETS(ROW)};
#undef ROW
enum { ASSET_COUNT = sizeof assets / sizeof assets[0] };

const struct asset *asset_find(const char *name) {
    for (size_t i = 0; i < ASSET_COUNT; i++) {
        if (strcmp(assets[i].name, name) == 0)
            return &assets[i];
    }
    return NULL;
}

const char *asset_base(const struct asset *asset) {
    return strrchr(asset->name, '/') + 1;
}

/* Templates are filled in before they are sent, and the schema has addresses of its own. */
static bool is_served(const struct asset *asset) {
    return strncmp(asset->name, "schema/", 7) != 0 && asset->media_type != html &&
           strcmp(asset->name, "web/desk/service-worker.js") != 0 &&
           strcmp(asset->name, "web/board/service-worker.js") != 0;
}

const struct asset *asset_served(size_t index) {
    for (size_t i = 0; i < ASSET_COUNT; i++) {
        if (is_served(&assets[i]) && index-- == 0)
            return &assets[i];
    }
    return NULL;
}

const struct asset *asset_served_find(const char *name) {
    const struct asset *asset;
    for (size_t i = 0; (asset = asset_served(i)) != NULL; i++) {
        if (strcmp(asset_base(asset), name) == 0)
            return asset;
    }
    return NULL;
}

void asset_version(char version[ASSET_VERSION_LEN + 1]) {
    unsigned char hash[16];
    const struct asset *asset;
    crypto_generichash_state state;
    (void)crypto_generichash_init(&state, NULL, 0, sizeof hash);
    for (size_t i = 0; (asset = asset_served(i)) != NULL; i++) {
        (void)crypto_generichash_update(&state, (const unsigned char *)asset->name,
                                        strlen(asset->name) + 1);
        (void)crypto_generichash_update(&state, (const unsigned char *)asset->bytes,
                                        (size_t)(asset->end - asset->bytes));
    }
    (void)crypto_generichash_final(&state, hash, sizeof hash);
    (void)sodium_bin2hex(version, ASSET_VERSION_LEN + 1, hash, ASSET_VERSION_LEN / 2);
}
