/* SPDX-License-Identifier: MIT */
/* code_book.h - what crews' codes are made from: the event's secret, and the cars whose code was
 * renewed. See crew_code.h for the codes themselves, store.h for results and threads. */
#ifndef CAIRN_CODE_BOOK_H
#define CAIRN_CODE_BOOK_H

#include <stddef.h>
#include <stdint.h>

#include "store/crew_code.h"

struct store;

struct code_renewal {
    int64_t car;    /* its number */
    int64_t serial; /* from 1 */
    int64_t renewed_ms;
};

/* A plain value; code_book_clear frees it. */
struct code_book {
    unsigned char secret[CODE_SECRET_LEN];
    int64_t made_ms; /* when the secret was made, since 1970 */
    struct code_renewal *renewals;
    size_t count;
};

/* Adds a secret inside a transaction. It takes the place of the one before, and every code changes.
 * Each event file has one from its beginning. */
int store_add_code_secret(struct store *store, const unsigned char secret[CODE_SECRET_LEN],
                          int64_t made_ms);

/* Adds a random one. */
int store_make_code_secret(struct store *store, int64_t made_ms);

/* Adds a renewal inside a transaction.
 *   key_id  0 for none */
int store_add_renewal(struct store *store, const struct code_renewal *renewal, int64_t key_id);

/* The book in force. Owner: the caller, see code_book_clear. Returns ERR_UNKNOWN where the file has
 * lost its secret. */
int store_code_book(struct store *store, struct code_book *out);

/* How often a car's code was renewed. */
int64_t code_book_serial(const struct code_book *book, int64_t car);

/* Wipes the secret and frees what the book owns. */
void code_book_clear(struct code_book *book);

#endif
