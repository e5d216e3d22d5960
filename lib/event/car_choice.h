/* SPDX-License-Identifier: MIT */
/* car_choice.h - some of an event's cars, named by their group, category, period or class: whom a
 * line of `for` is about, and among whom a prize is given. But for the reading, safe for any number
 * of threads at once. */
#ifndef CAIRN_CAR_CHOICE_H
#define CAIRN_CAR_CHOICE_H

#include "event/entries.h"
#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;
struct textbuf;

/* The keys that name cars: "group", "category", "period", "class", and a NULL. */
extern const char *const car_choice_keys[];

/* Reads the one of these keys that an object has: an id or a list of ids. What is wrong is
 * reported at its path.
 *   object  borrowed; its other keys are the caller's
 *   out     its memory is the reader's arena's; of no use where anything is wrong */
void car_choice_read(const struct json_reader *reader, const struct json_t *object,
                     const struct json_place *place, const struct rules *rules,
                     struct car_choice *out);

/* True where a car is one of them. */
bool car_choice_fits(const struct car_choice *choice, const struct entry *entry);

/* Appends who they are: "group B", "categories tour and press". */
void car_choice_write(const struct rules *rules, const struct car_choice *choice,
                      struct textbuf *b);

/* Appends by which of them a car is one: "group B (Slower cars)". Without the name where it is the
 * id but for capitals. A class has none.
 *   entry  the car, which the choice fits */
void car_choice_write_of(const struct rules *rules, const struct car_choice *choice,
                         const struct entry *entry, struct textbuf *b);

#endif
