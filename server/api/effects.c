/* SPDX-License-Identifier: MIT */
#include "api/effects.h"

#include "base/err.h"
#include "format/json_write.h"

static void free_what_if(void *what_if) {
    what_if_free(what_if);
}

int request_what_if(struct request *r, const struct event *event, struct what_if **out) {
    int err = what_if_new(event, out);
    return request_owns(r, *out, free_what_if) ? err : ERR_NOMEM;
}

static void clear_effect(void *effect) {
    effect_clear(effect);
}

int request_effect(struct request *r, const struct scores *before, const struct scores *after,
                   const struct effect **out) {
    struct effect *effect = request_value(r, sizeof *effect, clear_effect);
    *out = effect;
    return effect == NULL ? ERR_NOMEM : effect_make(before, after, effect);
}

void effect_write_members(struct textbuf *b, const struct effect *effect) {
    json_member_int(b, "places", effect_places(effect));
    json_key(b, "moves");
    effect_write_json(b, effect);
}
