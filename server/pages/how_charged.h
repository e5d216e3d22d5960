/* SPDX-License-Identifier: MIT */
/* how_charged.h - what deviations, missed points and faults cost, in sentences of the reader's
 * language: pieces of how_scored.h. Each function appends its sentences to the page's markup, a
 * blank before each, or nothing; where memory is out, the markup is marked as failed. */
#ifndef CAIRN_HOW_CHARGED_H
#define CAIRN_HOW_CHARGED_H

#include "pages/page.h"

/* A sentence without figures. */
void how_charged_sentence(struct page *p, const char *key);

/* A sentence on a rate, cap or cost, thousandths, which is {0}; `unit` is {1}, or NULL. */
void how_charged_amount(struct page *p, const char *key, int64_t amount, const char *unit);

/* A sentence on a duration, ms, which is {0}. */
void how_charged_time(struct page *p, const char *key, int64_t ms);

/* The word for a unit, or its duration; it ends with the request. Appends nothing. */
const char *how_charged_unit(struct page *p, int64_t unit);

/* What a deviation costs by a rule, before its cap. */
void how_charged_rates(struct page *p, enum kind_id kind, const struct penalty_rule *rule);

/* Caps, limits and what a missed point costs. */
void how_charged_limits(struct page *p, enum kind_id kind, const struct penalty_rule *rule);

/* Both for each check and pad whose rule is not the item's. */
void how_charged_own_rules(struct page *p, const struct item *item);

/* The faults that an item names for these cars, and what each is worth. */
void how_charged_faults(struct page *p, const struct item *item);

#endif
