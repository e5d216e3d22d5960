/* SPDX-License-Identifier: MIT */
#include "commands/recovery.h"

#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "store/store.h"
#include "system/system_clock.h"

int64_t recovery_print_damage(const struct store *store, const char *what) {
    const struct damaged_facts *both[] = {store_unreadable(store), store_altered(store)};
    static const char *const words[] = {"left out", "damaged"};
    int64_t found = 0;
    for (int i = 0; i < 2; i++) {
        for (size_t k = 0; k < both[i]->listed; k++) {
            struct textbuf b = {0};
            damaged_fact_write(&b, &both[i]->list[k]);
            (void)fprintf(stderr, "cairn: %s: %s: %s\n", what, words[i], textbuf_text(&b));
            textbuf_clear(&b);
        }
        int64_t more = both[i]->count - (int64_t)both[i]->listed;
        if (more > 0)
            (void)fprintf(stderr, "cairn: %s: %s: %lld more\n", what, words[i], (long long)more);
        found += both[i]->count;
    }
    return found;
}

static int refuse(const char *path, const char *why) {
    (void)fprintf(stderr, "cairn: %s: %s\n", path, why);
    return ERR_INPUT;
}

int recovery_check(struct store *store, const char *path, const char *slug, bool anyway,
                   struct recovered *out) {
    struct model *model = NULL;
    *out = (struct recovered){0};
    int err = store_load_event(store, &model);
    if (err == ERR_OK)
        err = store_verify(store);
    if (err == ERR_OK)
        err = store_last_revision(store, &out->last);
    if (err == ERR_OK)
        err = store_last_epoch(store, &out->epoch);
    if (err != ERR_OK) {
        (void)refuse(path, *store_message(store) != '\0' ? store_message(store) : err_text(err));
    } else if (strcmp(model->rules->slug, slug) != 0) {
        (void)fprintf(stderr, "cairn: %s: it is of “%s”, not of “%s”\n", path, model->rules->slug,
                      slug);
        err = ERR_INPUT;
    } else if (recovery_print_damage(store, path) > 0 && !anyway) {
        err = refuse(path, "it is damaged: take another copy (or --anyway, where there is none)");
    }
    if (model != NULL) {
        out->readings = readings_count(model->readings);
        out->decisions = decisions_count(model->decisions);
    }
    model_free(model);
    return err;
}

void recovery_write(struct textbuf *b, const struct recovered *found) {
    textbuf_printf(b, "%d readings, %d decisions, revision %lld, last changed ", found->readings,
                   found->decisions, (long long)found->last.office);
    write_instant(b, found->last.committed_ms);
}
