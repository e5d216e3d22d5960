/* SPDX-License-Identifier: MIT */
#include "store/code_book.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_code_secret(struct store *s, const unsigned char secret[CODE_SECRET_LEN],
                          int64_t made_ms) {
    sqlite3_stmt *st = store_statement(s, ADD_CODE_SECRET);
    int bad = 0;
    bind_int(st, ":made_ms", made_ms, &bad);
    bind_blob(st, ":secret", secret, CODE_SECRET_LEN, &bad);
    return store_run(s, st, bad);
}

int store_make_code_secret(struct store *s, int64_t made_ms) {
    unsigned char secret[CODE_SECRET_LEN];
    if (sodium_init() < 0)
        return ERR_IO;
    randombytes_buf(secret, sizeof secret);
    int err = store_add_code_secret(s, secret, made_ms);
    sodium_memzero(secret, sizeof secret);
    return err;
}

int store_add_renewal(struct store *s, const struct code_renewal *renewal, int64_t key_id) {
    sqlite3_stmt *st = store_statement(s, ADD_RENEWAL);
    int bad = 0;
    bind_int(st, ":car", renewal->car, &bad);
    bind_int(st, ":serial", renewal->serial, &bad);
    bind_int(st, ":renewed_ms", renewal->renewed_ms, &bad);
    bind_key(st, key_id, &bad);
    return store_run(s, st, bad);
}

static int load_secret(struct store *s, struct code_book *book) {
    sqlite3_stmt *st = store_statement(s, LAST_SECRET);
    int err = ERR_OK;
    bool found = false;
    while (store_next_row(s, st, &err)) {
        found = sqlite3_column_bytes(st, 0) == CODE_SECRET_LEN;
        if (found) {
            memcpy(book->secret, sqlite3_column_blob(st, 0), CODE_SECRET_LEN);
            book->made_ms = sqlite3_column_int64(st, 1);
        }
    }
    return err == ERR_OK && !found ? ERR_UNKNOWN : err;
}

static int load_renewals(struct store *s, struct code_book *book) {
    sqlite3_stmt *st = store_statement(s, ALL_RENEWALS);
    struct stored_list list = {.size = sizeof(struct code_renewal)};
    int err = ERR_OK;
    for (struct code_renewal *r; (r = store_next_item(s, st, &list, &err)) != NULL;)
        *r = (struct code_renewal){.car = sqlite3_column_int64(st, 0),
                                   .serial = sqlite3_column_int64(st, 1),
                                   .renewed_ms = sqlite3_column_int64(st, 2)};
    book->renewals = list.items;
    book->count = list.used;
    return err;
}

int store_code_book(struct store *s, struct code_book *out) {
    *out = (struct code_book){0};
    int err = load_secret(s, out);
    if (err == ERR_OK)
        err = load_renewals(s, out);
    if (err != ERR_OK)
        code_book_clear(out);
    return err;
}

int64_t code_book_serial(const struct code_book *book, int64_t car) {
    int64_t serial = 0;
    for (size_t i = 0; i < book->count; i++) {
        if (book->renewals[i].car == car && book->renewals[i].serial > serial)
            serial = book->renewals[i].serial;
    }
    return serial;
}

void code_book_clear(struct code_book *book) {
    sodium_memzero(book->secret, sizeof book->secret);
    free(book->renewals);
    book->renewals = NULL;
    book->count = 0;
}
