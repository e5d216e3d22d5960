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

/* Takes over a model, also on failure, and holds it for the caller; each set of rulings that is
 * made from it (ruling_set_new) holds it too. NULL when memory is out. */
struct shared_model *shared_model_take(struct model *model);

/* Lets it go: freed once no set of rulings needs it either. NULL is accepted. */
void shared_model_release(struct shared_model *shared);

#endif
