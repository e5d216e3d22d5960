/* SPDX-License-Identifier: MIT */
/* classes.h - periods by year of build, capacity classes and categories: the "classes" object of
 * event.json. Source: the contract, "Classes"; the two preset tables stand in PUBLISHED facts of
 * tests/published/. */
#ifndef CAIRN_CLASSES_H
#define CAIRN_CLASSES_H

#include "event/rules.h"
#include "format/json_read.h"

/* Reads "classes" into the rules; what is wrong is reported at its path. */
void classes_read(const struct json_reader *reader, const json_t *root, struct rules *rules);

#endif
