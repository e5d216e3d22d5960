/* SPDX-License-Identifier: MIT */
#include "http/request_memory.h"

#include "base/arena.h"
#include "base/textbuf.h"
#include "http/request.h"

/* Something that is freed with the request. */
struct deferred {
    struct deferred *next;
    void *thing;
    void (*release)(void *thing);
};

struct arena *request_arena(struct request *r) {
    /* Most requests put in a sentence or two: zeroing a usual block took a tenth of a 404. */
    if (r->memory.arena == NULL)
        r->memory.arena = arena_new_small();
    return r->memory.arena;
}

void *request_array(struct request *r, size_t count, size_t size) {
    struct arena *arena = request_arena(r);
    return arena == NULL ? NULL : arena_array(arena, count, size);
}

bool request_owns(struct request *r, void *thing, void (*release)(void *thing)) {
    if (thing == NULL)
        return true;
    struct deferred *deferred = request_array(r, 1, sizeof *deferred);
    if (deferred == NULL) {
        release(thing);
        return false;
    }
    *deferred = (struct deferred){r->memory.deferred, thing, release};
    r->memory.deferred = deferred;
    return true;
}

void *request_value(struct request *r, size_t size, void (*clear)(void *value)) {
    void *value = request_array(r, 1, size);
    return value != NULL && request_owns(r, value, clear) ? value : NULL;
}

static void clear_text(void *text) {
    textbuf_clear(text);
}

struct textbuf *request_text(struct request *r) {
    struct textbuf *text = request_value(r, sizeof *text, clear_text);
    if (text != NULL)
        return text;
    r->memory.no_text.failed = true;
    return &r->memory.no_text;
}

void request_memory_clear(struct request *r) {
    /* The list stands in the arena, which goes last. */
    for (struct deferred *d = r->memory.deferred; d != NULL; d = d->next)
        d->release(d->thing);
    arena_free(r->memory.arena);
    r->memory = (struct request_memory){0};
    r->detail = "";
}
