/* SPDX-License-Identifier: MIT */
/* extra.h - fields of columns that nobody here knows, kept with their row and given back with it.
 */
#ifndef CAIRN_EXTRA_H
#define CAIRN_EXTRA_H

struct textbuf;

/* One field, in the order of the file. A list of them is plain values in somebody's arena; NULL is
 * an empty one. */
struct extra {
    const char *name;
    const char *value;
    struct extra *next;
};

/* The value of that name, borrowed; "" where there is none. */
const char *extra_value(const struct extra *extras, const char *name);

/* The member "extra" of a JSON object that the caller has opened: an object with a text for each
 * field. */
void extra_write_json(struct textbuf *b, const struct extra *extras);

#endif
