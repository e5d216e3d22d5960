/* SPDX-License-Identifier: MIT */
/* The assembler takes the files in as they are; the Makefile makes this file depend on them and
 * sets the include path to the top of the tree. */
#include "assets.h"

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

/* symbol, path, media type */
#define ASSETS(X)                                                                                  \
    X(facts_sql, "schema/001_facts.sql", "application/sql")                                        \
    X(openapi, "schema/openapi.yaml", "application/yaml")                                          \
    X(page, "web/page.html", "text/html; charset=utf-8")                                           \
    X(style, "web/style.css", "text/css; charset=utf-8")

#define DECLARE(symbol, path, type) INCLUDE_FILE(symbol, path)
ASSETS(DECLARE)

const struct asset *asset_find(const char *name) {
#define ROW(symbol, path, type) {path, type, asset_##symbol, asset_##symbol##_end},
    static const struct asset assets[] = {ASSETS(ROW)};
#undef ROW
    for (size_t i = 0; i < sizeof assets / sizeof assets[0]; i++) {
        if (strcmp(assets[i].name, name) == 0)
            return &assets[i];
    }
    return NULL;
}
