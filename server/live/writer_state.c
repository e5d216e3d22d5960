/* SPDX-License-Identifier: MIT */
/* Whether the event can be written, and what is tried where it cannot; which facts are damaged. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "store/store.h"
#include "system/data_dir.h"
#include "system/log.h"
#include "system/system_clock.h"

enum { TRY_EVERY_US = 1000000 };

void writer_report_damage(struct writer *w) {
    const struct damaged_facts *both[] = {store_unreadable(w->store), store_altered(w->store)};
    struct damaged_facts all = {0};
    for (int i = 0; i < 2; i++)
        damaged_facts_add_all(&all, both[i]);
    bool news = all.count != w->damage_logged;
    w->damage_logged = all.count;
    for (size_t i = 0; news && i < all.listed; i++) {
        struct textbuf b = {0};
        damaged_fact_write(&b, &all.list[i]);
        log_error(w->served->slug, "damaged: %s", textbuf_text(&b));
        textbuf_clear(&b);
    }
    if (news && all.count > (int64_t)all.listed)
        log_error(w->served->slug, "damaged: %lld facts in all", (long long)all.count);
    served_event_set_damage(w->served, &all);
}

static enum writability state_of(struct writer *w) {
    int err = w->store == NULL ? ERR_OK : store_check_file(w->store);
    if (err != ERR_OK)
        return err == ERR_BUSY ? UNWRITABLE_FAILING : UNWRITABLE_GONE;
    if (w->store == NULL || store_is_read_only(w->store))
        return UNWRITABLE_READ_ONLY;
    if (w->standby)
        return UNWRITABLE_STANDBY;
    return store_write_failed(w->store) ? UNWRITABLE_FAILING : WRITABLE;
}

/* For cairn doctor. Done again with each try to recover: the lock file may be another one by then.
 */
static void note_state(struct writer *w) {
    if (w->store != NULL)
        store_write_state(w->store,
                          writability_word((enum writability)atomic_load(&w->served->writability)));
}

/* Logged when it changes, not each second. */
static void set_state(struct writer *w, enum writability state) {
    enum writability before =
        (enum writability)atomic_exchange(&w->served->writability, (int)state);
    if (before == state)
        return;
    note_state(w);
    if (state == WRITABLE)
        log_error(w->served->slug, "the event can be written again");
    else if (state == UNWRITABLE_READ_ONLY && w->store != NULL && *store_message(w->store) != '\0')
        log_error(w->served->slug, "read-only: %s (%s)", writability_message(state),
                  store_message(w->store));
    else
        log_error(w->served->slug, "%s: %s", writability_word(state), writability_message(state));
    w->must_reload = w->must_reload || before == UNWRITABLE_GONE;
    if (state == UNWRITABLE_GONE)
        w->last_try_us = 0; /* what the server has is saved at the next try */
}

/* Opens the file again, for writing. Where that fails, memory stays as it is. A file that is open
 * read-only is closed first: within a process the engine shares the log's index between
 * connections, and it would stay read-only. */
static void reopen(struct writer *w) {
    char *path = data_dir_path(w->data_dir, w->served->slug);
    struct store *store = NULL;
    if (path == NULL || access(path, W_OK) != 0) {
        free(path);
        return;
    }
    if (w->store != NULL && !store_is_copy(w->store)) {
        store_close(w->store);
        w->store = NULL;
    }
    int err = w->store == NULL ? store_open_to_read(path, STORE_SERVE, &store, NULL)
                               : store_open(path, STORE_SERVE, &store, NULL);
    if (err == ERR_OK) {
        store_close(w->store);
        w->store = store;
        atomic_store(&w->served->copied, store_is_copy(store));
        w->must_reload = true;
    }
    free(path);
}

/* What was acknowledged may be in a file that has no name any more. Where no other file has taken
 * its name, somebody may still put it back, so nothing is done before the end. */
void writer_rescue(struct writer *w, bool at_end) {
    char *kept = NULL;
    if (store_rescue(w->store, at_end, &kept) == ERR_OK && kept != NULL)
        log_error(w->served->slug, "what the server has is kept as %s", kept);
    free(kept);
}

enum writability writer_state(struct writer *w) {
    set_state(w, state_of(w));
    return (enum writability)atomic_load(&w->served->writability);
}

void writer_recover(struct writer *w) {
    int64_t now = monotonic_microseconds();
    enum writability state = state_of(w);
    if (now - w->last_try_us >= TRY_EVERY_US ||
        state != (enum writability)atomic_load(&w->served->writability)) {
        w->last_try_us = now;
        if (w->store != NULL)
            store_retake_lock(w->store);
        note_state(w);
        if (state == UNWRITABLE_GONE)
            writer_rescue(w, false);
        else if (state == UNWRITABLE_READ_ONLY)
            reopen(w);
        else if (state == UNWRITABLE_FAILING)
            (void)store_try_write(w->store);
        state = state_of(w);
    }
    set_state(w, state);
    (void)writer_reload(w);
}

int writer_open_file(struct writer *w, struct textbuf *why) {
    char *path = data_dir_path(w->data_dir, w->served->slug);
    if (path == NULL)
        return ERR_NOMEM;
    int err = store_open_to_read(path, STORE_SERVE, &w->store, why);
    if (err == ERR_OK) {
        atomic_store(&w->served->copied, store_is_copy(w->store));
        err = writer_load_all(w);
        set_state(w, state_of(w));
        note_state(w);
        if (err != ERR_OK)
            textbuf_puts(why, writer_failure(w, err));
    }
    if (err != ERR_OK)
        textbuf_printf(why, " (%s)\n", path);
    free(path);
    return err;
}
