/* SPDX-License-Identifier: MIT */
#include "live/write.h"

#include <stdlib.h>

#include "live/write_operations.h"
#include "live/writer_thread.h"

static void *make(const struct write_operations *operations, size_t size) {
    struct write *head = calloc(1, size);
    if (head != NULL) {
        head->operations = operations;
        head->if_match = "";
    }
    return head;
}

/* The head stands first in every write. Two kinds may be of one type. */
static void *whole(const struct write *head, const struct write_operations *kind,
                   const struct write_operations *or_kind) {
    if (head->operations != kind && head->operations != or_kind)
        abort();
    return (void *)head;
}

/* ---- making ---- */

struct rows_write *readings_write_new(void) {
    return make(&readings_operations, sizeof(struct rows_write));
}

struct rows_write *decisions_write_new(void) {
    return make(&decisions_operations, sizeof(struct rows_write));
}

struct document_write *rules_write_new(void) {
    return make(&rules_operations, sizeof(struct document_write));
}

struct document_write *entries_write_new(void) {
    return make(&entries_operations, sizeof(struct document_write));
}

struct start_list_write *start_list_write_new(void) {
    return make(&start_list_operations, sizeof(struct start_list_write));
}

struct notice_write *notice_write_new(void) {
    return make(&notice_operations, sizeof(struct notice_write));
}

struct enquiry_write *enquiry_write_new(void) {
    return make(&enquiry_operations, sizeof(struct enquiry_write));
}

struct answer_write *answer_write_new(void) {
    return make(&answer_operations, sizeof(struct answer_write));
}

struct crew_enquiry_write *crew_enquiry_write_new(void) {
    return make(&crew_enquiry_operations, sizeof(struct crew_enquiry_write));
}

struct key_write *key_write_new(void) {
    return make(&key_operations, sizeof(struct key_write));
}

struct revocation_write *revocation_write_new(void) {
    return make(&revocation_operations, sizeof(struct revocation_write));
}

struct code_renewal_write *code_renewal_write_new(void) {
    return make(&code_renewal_operations, sizeof(struct code_renewal_write));
}

struct acknowledgement_write *acknowledgement_write_new(void) {
    return make(&acknowledgement_operations, sizeof(struct acknowledgement_write));
}

/* ---- the whole of a head ---- */

struct rows_write *rows_write_of(const struct write *head) {
    return whole(head, &readings_operations, &decisions_operations);
}

struct document_write *document_write_of(const struct write *head) {
    return whole(head, &rules_operations, &entries_operations);
}

struct start_list_write *start_list_write_of(const struct write *head) {
    return whole(head, &start_list_operations, &start_list_operations);
}

struct notice_write *notice_write_of(const struct write *head) {
    return whole(head, &notice_operations, &notice_operations);
}

struct enquiry_write *enquiry_write_of(const struct write *head) {
    return whole(head, &enquiry_operations, &enquiry_operations);
}

struct answer_write *answer_write_of(const struct write *head) {
    return whole(head, &answer_operations, &answer_operations);
}

struct crew_enquiry_write *crew_enquiry_write_of(const struct write *head) {
    return whole(head, &crew_enquiry_operations, &crew_enquiry_operations);
}

struct key_write *key_write_of(const struct write *head) {
    return whole(head, &key_operations, &key_operations);
}

struct revocation_write *revocation_write_of(const struct write *head) {
    return whole(head, &revocation_operations, &revocation_operations);
}

struct code_renewal_write *code_renewal_write_of(const struct write *head) {
    return whole(head, &code_renewal_operations, &code_renewal_operations);
}

struct acknowledgement_write *acknowledgement_write_of(const struct write *head) {
    return whole(head, &acknowledgement_operations, &acknowledgement_operations);
}

/* ---- submitting and freeing ---- */

int write_submit(struct write *head) {
    return writer_thread_submit(head->served->thread, head);
}

void write_free(struct write *head) {
    if (head == NULL)
        return;
    if (head->operations->clear != NULL)
        head->operations->clear(head);
    textbuf_clear(&head->why);
    free(head);
}
