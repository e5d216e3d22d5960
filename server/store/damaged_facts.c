/* SPDX-License-Identifier: MIT */
#include "store/damaged_facts.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/textbuf.h"
#include "base/utf8.h"

static bool is_named(const struct damaged_facts *damage, const char *table, int64_t row) {
    for (size_t i = 0; i < damage->listed; i++) {
        if (damage->list[i].row == row && strcmp(damage->list[i].table, table) == 0)
            return true;
    }
    return false;
}

/* What a damaged file holds may be no text. The caller frees. */
static char *plain_copy(const char *text) {
    char *copy = strdup(text);
    if (copy != NULL)
        utf8_mask(copy);
    return copy;
}

void damaged_facts_add(struct damaged_facts *damage, const char *table, int64_t row, const char *id,
                       const char *reason) {
    if (row != 0 && is_named(damage, table, row))
        return;
    damage->count++;
    if (damage->listed == DAMAGED_LISTED_MAX)
        return;
    if (damage->list == NULL)
        damage->list = calloc(DAMAGED_LISTED_MAX, sizeof *damage->list);
    if (damage->list == NULL)
        return;
    struct damaged_fact fact = {table, row, plain_copy(id == NULL ? "" : id), plain_copy(reason)};
    if (fact.id == NULL || fact.reason == NULL) {
        free(fact.id);
        free(fact.reason);
        return;
    }
    damage->list[damage->listed++] = fact;
}

void damaged_facts_add_all(struct damaged_facts *damage, const struct damaged_facts *from) {
    int64_t unnamed = from->count - (int64_t)from->listed;
    for (size_t i = 0; i < from->listed; i++)
        damaged_facts_add(damage, from->list[i].table, from->list[i].row, from->list[i].id,
                          from->list[i].reason);
    damage->count += unnamed;
}

void damaged_fact_write(struct textbuf *b, const struct damaged_fact *fact) {
    textbuf_puts(b, fact->table);
    if (fact->row != 0) {
        textbuf_puts(b, " row ");
        textbuf_int(b, fact->row);
    }
    if (*fact->id != '\0') {
        textbuf_puts(b, " (id ");
        textbuf_puts(b, fact->id);
        textbuf_putc(b, ')');
    }
    textbuf_puts(b, ": ");
    textbuf_puts(b, fact->reason);
}

void damaged_facts_clear(struct damaged_facts *damage) {
    for (size_t i = 0; i < damage->listed; i++) {
        free(damage->list[i].id);
        free(damage->list[i].reason);
    }
    free(damage->list);
    *damage = (struct damaged_facts){0};
}
