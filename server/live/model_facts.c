/* SPDX-License-Identifier: MIT */
#include "live/model_facts.h"

#include "base/textbuf.h"
#include "store/store.h"

const char *fact_word(enum fact_kind kind) {
    return kind == FACT_READING ? "reading" : "decision";
}

const char *facts_word(enum fact_kind kind) {
    return kind == FACT_READING ? "readings" : "decisions";
}

int facts_count(const struct model *model, enum fact_kind kind) {
    return kind == FACT_READING ? readings_count(model->readings)
                                : decisions_count(model->decisions);
}

struct fact facts_at(const struct model *model, enum fact_kind kind, int index) {
    if (kind == FACT_READING) {
        const struct reading *r = readings_at(model->readings, index);
        return (struct fact){.kind = kind,
                             .id = r->id,
                             .fields = r->text.field,
                             .field_count = READING_HASHED,
                             .reading = r};
    }
    const struct decision *d = decisions_at(model->decisions, index);
    return (struct fact){.kind = kind,
                         .id = d->id,
                         .fields = d->text.field,
                         .field_count = DECISION_HASHED,
                         .line = d->line,
                         .decision = d};
}

int facts_find(const struct model *model, enum fact_kind kind, const char *id) {
    return kind == FACT_READING ? readings_find(model->readings, id)
                                : decisions_find(model->decisions, id);
}

enum fact_result facts_add(struct model *model, const struct fact *fact, struct textbuf *reason) {
    return fact->kind == FACT_READING
               ? readings_add(model->readings, &fact->reading->text, reason, NULL)
               : decisions_add(model->decisions, &fact->decision->text, reason, NULL);
}

enum fact_result facts_try(const struct model *model, const struct fact *fact,
                           struct textbuf *reason) {
    return fact->kind == FACT_READING
               ? readings_try(model->readings, &fact->reading->text, reason)
               : decisions_try(model->decisions, &fact->decision->text, reason);
}

bool facts_show(const struct view *view, const struct model *model, const struct fact *fact) {
    return fact->kind == FACT_READING ? view_shows_reading(view, model, fact->reading)
                                      : view_shows_decision(view, model, fact->decision);
}

int facts_store(struct store *store, const struct fact *fact, int64_t upload_id) {
    return fact->kind == FACT_READING ? store_add_reading(store, fact->reading, upload_id)
                                      : store_add_decision(store, fact->decision, upload_id);
}

/* A desk's reading that is of a car now must not stand aside tomorrow: it is tried like any other.
 */
static bool would_lose(const struct fact *fact, const struct model *next, struct textbuf *reason) {
    if (fact->kind != FACT_READING || fact->reading->aside != ASIDE_NOT ||
        fact->reading->other_faults)
        return facts_try(next, fact, reason) == FACT_REFUSED;
    struct reading_text text = fact->reading->text;
    text.from_desk = false;
    return readings_try(next->readings, &text, reason) == FACT_REFUSED;
}

bool facts_lost(const struct fact *fact, const struct model *next, struct textbuf *reason) {
    textbuf_reset(reason);
    return facts_find(next, fact->kind, fact->id) < 0 && would_lose(fact, next, reason);
}
