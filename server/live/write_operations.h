/* SPDX-License-Identifier: MIT */
/* write_operations.h - what the writer does for each kind of write. A kind is one of these, in the
 * file that does its work; nobody but the writer needs to know them. */
#ifndef CAIRN_WRITE_OPERATIONS_H
#define CAIRN_WRITE_OPERATIONS_H

#include "live/write.h"
#include "live/write_figures.h"

struct transaction;

/* Who may ask for it. */
enum write_author {
    AUTHOR_ORGANISER, /* an organiser's key */
    AUTHOR_ANY_KEY,   /* a timekeeper's too */
    AUTHOR_CREW       /* no key: `take` checks the crew's code */
};

struct write_operations {
    const char *upload; /* what its body is called among the uploads; NULL where it is kept apart */
    enum write_author author;
    enum upload_sort sort; /* as which it is counted */
    bool batched;          /* shares a transaction with others of which this is true */
    bool urgent;           /* may use the last places of the queue */
    /* Adds what it asks for to the open transaction.
     * Returns: ERR_OK, also where `result` says that it is not taken (see write_decline); ERR_*
     * where the machine fails, and then nothing of the transaction is kept. */
    int (*take)(struct transaction *t, struct write *head);
    /* Counts what was taken; NULL where nothing is. */
    void (*count)(const struct write *head, struct write_figures *figures);
    /* Frees what its type owns beside the head; NULL for nothing. */
    void (*clear)(struct write *head);
};

extern const struct write_operations readings_operations;
extern const struct write_operations decisions_operations;
extern const struct write_operations entries_operations;
extern const struct write_operations rules_operations;
extern const struct write_operations start_list_operations;
extern const struct write_operations notice_operations;
extern const struct write_operations enquiry_operations;
extern const struct write_operations answer_operations;
extern const struct write_operations crew_enquiry_operations;
extern const struct write_operations key_operations;
extern const struct write_operations revocation_operations;
extern const struct write_operations code_renewal_operations;
extern const struct write_operations acknowledgement_operations;

#endif
