/* SPDX-License-Identifier: MIT */
/* classes.h - periods by year of build, capacity classes, categories and groups: the "classes"
 * object of event.json. Source: the contract, "Classes"; tests/published/test_published_classes.c
 * holds the two tables of periods that have a name against their published sources. */
#ifndef CAIRN_CLASSES_H
#define CAIRN_CLASSES_H

#include "event/rules.h"

struct json_reader;
struct json_t;

/* Reads "classes" into the rules; what is wrong is reported at its path. */
void classes_read(const struct json_reader *reader, const struct json_t *root, struct rules *rules);

#endif
