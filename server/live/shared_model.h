/* SPDX-License-Identifier: MIT */
/* shared_model.h - the model that an event's writer adds to, kept as long as a snapshot needs what
 * it holds. For the writer, and for snapshot.c, which lets it go: no reader includes this. */
#ifndef CAIRN_SHARED_MODEL_H
#define CAIRN_SHARED_MODEL_H

#include "live/snapshot.h"

struct shared_model {
    atomic_int refs;
    struct model *model;
    struct documents documents; /* that it was read from */
};

/* Takes over a model, also on failure. NULL when memory is out. */
struct shared_model *shared_model_take(struct model *model);

/* Counts; hold gives back its argument, and release accepts NULL. */
struct shared_model *shared_model_hold(struct shared_model *shared);
void shared_model_release(struct shared_model *shared);

#endif
