/* SPDX-License-Identifier: MIT */
#include "remote/merge_notices.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_notices.h"

static bool same_notice(const struct stored_notice *a, const struct stored_notice *b) {
    return a->posted_ms == b->posted_ms && strcmp(a->title, b->title) == 0 &&
           strcmp(a->body, b->body) == 0;
}

/* The number that a notice has in a list, 0 where it is not there. */
static int64_t number_in(const struct stored_notice *list, size_t count,
                         const struct stored_notice *notice) {
    for (size_t i = 0; i < count; i++) {
        if (same_notice(&list[i], notice))
            return list[i].number;
    }
    return 0;
}

/* Theirs go behind ours, each with its seal as it is: what was signed still holds the number that
 * it had on the other side. */
static int merge_notices(struct store *store, const struct stored_notice *theirs,
                         size_t their_count, int *added) {
    struct stored_notice *ours = NULL;
    size_t our_count = 0;
    int err = store_notices(store, &ours, &our_count);
    int64_t next = our_count == 0 ? 1 : ours[our_count - 1].number + 1;
    int64_t *here = err == ERR_OK ? calloc(their_count + 1, sizeof *here) : NULL; /* new numbers */
    if (err == ERR_OK && here == NULL)
        err = ERR_NOMEM;
    for (size_t i = 0; err == ERR_OK && i < their_count; i++) {
        int64_t upload = 0;
        struct stored_notice copy = theirs[i];
        here[i] = number_in(ours, our_count, &copy);
        if (here[i] == 0) {
            copy.number = here[i] = next++;
            /* What it replaces stands before it, and has its number of this side by now. */
            for (size_t k = 0; copy.supersedes > 0 && k < i; k++) {
                if (theirs[k].number == theirs[i].supersedes)
                    copy.supersedes = here[k];
            }
            err = store_add_upload(store, copy.posted_ms, "import", 0, "notice", "text/plain",
                                   copy.body, strlen(copy.body), &upload);
            if (err == ERR_OK)
                err = store_add_notice(store, &copy, upload);
            ++*added;
        }
    }
    free(here);
    stored_notices_free(ours, our_count);
    return err;
}

/* Cases that our file does not have, and answers to those that it has open. */
static int merge_case(struct store *store, const struct stored_enquiry *theirs,
                      const struct stored_enquiry *ours, int *added) {
    struct stored_enquiry e = *theirs;
    bool open = ours == NULL || ours->answered_ms == 0;
    int err = ERR_OK;
    if (ours != NULL)
        e.number = ours->number;
    else
        err = store_add_enquiry(store, theirs, 0, theirs->text, strlen(theirs->text), &e.number);
    if (err == ERR_OK && open && theirs->answered_ms != 0)
        err = store_add_answer(store, &e, 0, theirs->answer, strlen(theirs->answer));
    *added += ours == NULL || (open && theirs->answered_ms != 0);
    return err;
}

static int merge_cases(struct store *store, const struct stored_enquiry *theirs, size_t their_count,
                       int *added) {
    struct stored_enquiry *ours = NULL;
    size_t our_count = 0;
    int err = store_enquiries(store, &ours, &our_count);
    for (size_t i = 0; err == ERR_OK && i < their_count; i++) {
        const struct stored_enquiry *same = NULL;
        for (size_t k = 0; k < our_count && same == NULL; k++) {
            if (ours[k].opened_ms == theirs[i].opened_ms &&
                strcmp(ours[k].car, theirs[i].car) == 0 &&
                strcmp(ours[k].text, theirs[i].text) == 0)
                same = &ours[k];
        }
        err = merge_case(store, &theirs[i], same, added);
    }
    stored_enquiries_free(ours, our_count);
    return err;
}

int notices_merge(struct store *store, const struct notices_and_cases *theirs, int *notices,
                  int *cases) {
    int err = merge_notices(store, theirs->notices, theirs->notice_count, notices);
    return err != ERR_OK ? err : merge_cases(store, theirs->cases, theirs->case_count, cases);
}

void notices_and_cases_clear(struct notices_and_cases *facts) {
    stored_notices_free(facts->notices, facts->notice_count);
    stored_enquiries_free(facts->cases, facts->case_count);
    *facts = (struct notices_and_cases){0};
}
