/* SPDX-License-Identifier: MIT */
/* Memory out at every n-th request while a batch is written: what is answered is true. A write that
 * is told as kept is on the disk, with every refused row told; of one that is told as failed
 * nothing is; and nobody sees what the disk does not hold, whatever is written next. */
#include "testing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "failing_memory.h"
#include "live/writer.h"
#include "served.h"
#include "store/code_book.h"
#include "store/store.h"
#include "store/stored_acknowledgements.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"

static struct served served;
static struct served_event shown_event = {.slug = SERVED_SLUG};
static struct write_figures figures;
static struct publisher publisher = {.figures = &figures};
static struct writer *writer;

static int set_up(void **state) {
    struct textbuf why = {0};
    (void)state;
    served_make(&served);
    assert_int_equal(writer_open(served.folder, &shown_event, &publisher, &writer, &why), ERR_OK);
    textbuf_clear(&why);
    return 0;
}

static int tear_down(void **state) {
    char key[128];
    (void)state;
    (void)snprintf(key, sizeof key, "%s/" SERVED_SLUG ".signing", served.folder);
    (void)unlink(key); /* of who posted a notice */
    writer_close(writer);
    served_remove(&served);
    return 0;
}

static void done(struct write *head) {
    *(bool *)head->context = true;
}

/* Has a list of one write done. */
static void work(struct write *head) {
    bool answered = false;
    head->done = done;
    head->context = &answered;
    atomic_fetch_add(&shown_event.waiting, 1);
    writer_work(writer, head);
    assert_true(answered);
}

/* The readings and decisions that the disk holds. Owner: the caller. */
static struct model *on_disk(void) {
    struct store *store = NULL;
    struct model *model = NULL;
    assert_int_equal(store_open(served.path, STORE_READ, &store, NULL), ERR_OK);
    assert_int_equal(store_load_event(store, &model), ERR_OK);
    store_close(store);
    return model;
}

static int counts_of(const struct event *e) {
    return 1000 * e->readings.count + e->decisions.count;
}

/* Whoever reads sees what the disk holds, or what it held before. */
static void check_shown(const struct model *disk, int before) {
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    assert_non_null(s);
    int shown = counts_of(&s->event);
    assert_true(shown == counts_of(&disk->event) || shown == before);
    snapshot_release(s);
}

/* Two writes in one batch, with two rows of each to refuse; `n` makes their ids. Returns true where
 * both were kept. */
static bool write_batch(long n, long refuse_at, long count) {
    static const char *const ids[] = {"a%ld", "b%ld", "c%ld"};
    char readings[512];
    char decisions[512];
    bool answered[2] = {false, false};
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    int before = counts_of(&s->event);
    snapshot_release(s);
    (void)snprintf(readings, sizeof readings,
                   "[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a%ld'}, {'point': 'PC9', "
                   "'car': 1, 'time': '09:00', 'id': 'x%ld'}, {'point': 'PC2', 'car': 2, "
                   "'time': '09:00', 'id': 'b%ld'}, {'point': 'PC1', 'car': 7, 'time': '09:00', "
                   "'id': 'y%ld'}]",
                   n, n, n, n);
    (void)snprintf(decisions, sizeof decisions,
                   "[{'kind': 'penalty', 'car': 1, 'value': '1', 'reason': 'r', 'id': 'c%ld'}, "
                   "{'kind': 'penalty', 'car': 8, 'value': '1', 'reason': 'r', 'id': 'z%ld'}]",
                   n, n);
    struct rows_write *writes[2] = {served_readings(&served, &shown_event, readings),
                                    served_decisions(&served, &shown_event, decisions)};
    for (int i = 0; i < 2; i++) {
        writes[i]->head.done = done;
        writes[i]->head.context = &answered[i];
        atomic_fetch_add(&shown_event.waiting, 1);
        atomic_fetch_add(&figures.waiting, 1);
    }
    writes[0]->head.next = &writes[1]->head;
    memory_refuses(refuse_at, count);
    writer_work(writer, &writes[0]->head);
    memory_is_back();
    assert_true(answered[0] && answered[1]);
    assert_int_equal(atomic_load(&shown_event.waiting), 0);
    struct model *disk = on_disk();
    bool kept[2] = {writes[0]->head.result == WRITE_DONE, writes[1]->head.result == WRITE_DONE};
    for (int i = 0; i < 3; i++) {
        char id[32];
        (void)snprintf(id, sizeof id, ids[i], n);
        bool there = i < 2 ? readings_find(disk->readings, id) >= 0
                           : decisions_find(disk->decisions, id) >= 0;
        assert_int_equal(there, kept[i / 2]);
    }
    for (int i = 0; i < 2; i++) {
        assert_true(kept[i] || writes[i]->head.result == WRITE_FAILED);
        if (kept[i])
            assert_int_equal(writes[i]->refused_count, 2 - i);
        for (size_t k = 0; kept[i] && k < writes[i]->refused_count; k++) {
            assert_non_null(writes[i]->refused[k].id);
            assert_non_null(writes[i]->refused[k].reason);
        }
        write_free(&writes[i]->head);
    }
    check_shown(disk, before);
    model_free(disk);
    return kept[0] && kept[1];
}

/* A key, for which the snapshot is made again: from what the disk holds. */
static void make_key(void) {
    struct key_write *write = key_write_new();
    served_ask(&served, &shown_event, &write->head);
    write->points = "PC1";
    write->label = "";
    key_make(write->text);
    work(&write->head);
    assert_int_equal(write->head.result, WRITE_DONE);
    write_free(&write->head);
    struct model *disk = on_disk();
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    assert_int_equal(counts_of(&s->event), counts_of(&disk->event));
    snapshot_release(s);
    model_free(disk);
}

/* Refuses `count` requests in a row from the first on, from the second on and so forth, until a
 * batch asks for fewer. */
static void refuse_from_every_request(long first_id, long count) {
    long failures = 0;
    for (long n = 0;; n++) {
        bool kept = write_batch(first_id + n, n, count);
        bool reached = memory_was_refused();
        make_key();
        if (!reached) {
            assert_true(kept);
            break;
        }
        failures += !kept;
    }
    /* Before the commit, where nothing may be kept; what is refused behind it is only not shown. */
    assert_true(failures > 20);
}

BEHAVIOUR(one_refused_request_leaves_what_is_answered_true) {
    refuse_from_every_request(1000000, 1);
}

/* So many that the event cannot be loaded again at once either. */
BEHAVIOUR(no_memory_for_a_while_leaves_what_is_answered_true) {
    refuse_from_every_request(2000000, 1000000);
}

/* What the disk holds is shown, scored as it would be anew. */
static void check_scores(void) {
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    struct model *disk = on_disk();
    struct scores *anew = NULL;
    assert_non_null(s);
    assert_int_equal(counts_of(&s->event), counts_of(&disk->event));
    model_free(disk);
    assert_int_equal(scores_new(&s->event, s->office_results.view, &anew), ERR_OK);
    for (int i = 0; i < s->event.entries->count; i++) {
        assert_int_equal(s->office_results.scores->cars[i].through, anew->cars[i].through);
        assert_int_equal(s->office_results.scores->cars[i].awaited, anew->cars[i].awaited);
    }
    scores_free(anew);
    snapshot_release(s);
}

/* One reading, or word that the one before is void, with the n-th request refused. Returns true
 * where it was kept. */
static bool write_reading(long n, bool is_void, long last) {
    char row[256];
    int len =
        snprintf(row, sizeof row, "[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'one%ld'", n);
    if (is_void)
        len += snprintf(row + len, sizeof row - (size_t)len,
                        ", 'replaces': 'one%ld', 'void': true, 'reason': 'r'", last);
    (void)snprintf(row + len, sizeof row - (size_t)len, "}]");
    struct rows_write *write = served_readings(&served, &shown_event, row);
    memory_refuses(n, 1);
    work(&write->head);
    memory_is_back();
    bool kept = write->head.result == WRITE_DONE;
    if (kept)
        assert_int_equal(write->accepted, 1);
    write_free(&write->head);
    return kept;
}

BEHAVIOUR(what_could_not_be_shown_is_at_the_next_refresh) {
    long last = -1; /* the reading that counts */
    for (long n = 0; memory_was_refused() || n == 0; n++) {
        bool is_void = last >= 0;
        if (write_reading(n, is_void, last))
            last = is_void ? -1 : n;
        writer_refresh(writer);
        check_scores();
    }
}

/* ---- writes of every other kind ---- */

static char made_text[64]; /* by which the write at hand is known again */
static char document[256];
static const struct write_body empty = {"application/json", "{}", 2};

static struct write *make_key_write(void) {
    struct key_write *write = key_write_new();
    write->points = "PC1";
    write->label = made_text;
    key_make(write->text);
    return &write->head;
}

/* Without tables: the library that reads JSON writes beyond its buffer where memory is out while it
 * reads. */
static struct write *make_notice(void) {
    struct notice_write *write = notice_write_new();
    write->body = empty;
    write->kind = "bulletin";
    write->title = made_text;
    write->text = "";
    return &write->head;
}

static struct write *make_enquiry(void) {
    struct enquiry_write *write = enquiry_write_new();
    write->body = empty;
    write->kind = "enquiry";
    write->car = "1";
    write->point = "";
    write->text = made_text;
    return &write->head;
}

static struct write *make_entries(void) {
    struct document_write *write = entries_write_new();
    (void)snprintf(document, sizeof document,
                   "number,driver,navigator,make,model,year\n1,A. Thorne,,Calder,Six,1929\n"
                   "2,%s,,Thornbeck,Ten,1934\n",
                   made_text);
    write->body = (struct write_body){"text/csv", document, strlen(document)};
    write->note = (struct change_note){"office", made_text, ""};
    return &write->head;
}

static struct write *make_renewal(void) {
    struct code_renewal_write *write = code_renewal_write_new();
    write->car = 1;
    return &write->head;
}

static struct write *make_acknowledgement(void) {
    struct acknowledgement_write *write = acknowledgement_write_new();
    write->id = made_text;
    write->by = write->reason = "r";
    return &write->head;
}

/* What the disk holds of everything that such a write adds, and whether readers are shown as much.
 */
struct holding {
    size_t keys, notices, enquiries, renewals, acknowledgements;
    char *entries;
};

static struct holding look_at_disk(void) {
    struct store *store = NULL;
    struct stored_key *keys = NULL;
    struct stored_notice *notices = NULL;
    struct stored_enquiry *enquiries = NULL;
    struct stored_acknowledgement *acknowledgements = NULL;
    struct code_book book;
    struct holding h;
    size_t len = 0;
    assert_int_equal(store_open(served.path, STORE_READ, &store, NULL), ERR_OK);
    assert_int_equal(store_keys(store, &keys, &h.keys), ERR_OK);
    assert_int_equal(store_notices(store, &notices, &h.notices), ERR_OK);
    assert_int_equal(store_enquiries(store, &enquiries, &h.enquiries), ERR_OK);
    assert_int_equal(store_acknowledgements(store, &acknowledgements, &h.acknowledgements), ERR_OK);
    assert_int_equal(store_code_book(store, &book), ERR_OK);
    assert_int_equal(store_document(store, "entries.csv", &h.entries, &len), ERR_OK);
    h.renewals = book.count;
    stored_keys_free(keys, h.keys);
    stored_notices_free(notices, h.notices);
    stored_enquiries_free(enquiries, h.enquiries);
    stored_acknowledgements_free(acknowledgements, h.acknowledgements);
    code_book_clear(&book);
    store_close(store);
    return h;
}

static bool differs(const struct holding *a, const struct holding *b) {
    return a->keys != b->keys || a->notices != b->notices || a->enquiries != b->enquiries ||
           a->renewals != b->renewals || a->acknowledgements != b->acknowledgements ||
           strcmp(a->entries, b->entries) != 0;
}

static void check_holding_shown(const struct holding *h) {
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    assert_non_null(s);
    assert_int_equal(s->keys->count, h->keys);
    assert_int_equal(s->keys->codes.count, h->renewals);
    assert_int_equal(s->notices->count, h->notices);
    assert_int_equal(s->notices->enquiry_count, h->enquiries);
    assert_string_equal(s->set->documents->entries.text, h->entries);
    snapshot_release(s);
}

enum { BEHIND_COMMIT = 25 };

/* What is answered as done is on the disk, and what is not is not; and readers are shown what the
 * disk holds as soon as there is memory again. Returns how many were not done. */
static long refuse_in_turn(struct write *(*make)(void), long count) {
    long failures = 0;
    long done_in_turn = 0; /* behind the commit, where what is there to be loaded grows each time */
    for (long n = 0; done_in_turn < BEHIND_COMMIT; n++) {
        struct holding before = look_at_disk();
        (void)snprintf(made_text, sizeof made_text, "made-%ld-%ld", count, n);
        struct write *head = make();
        served_ask(&served, &shown_event, head);
        memory_refuses(n, count);
        work(head);
        memory_is_back();
        struct holding after = look_at_disk();
        assert_true(head->result == WRITE_DONE || head->result == WRITE_FAILED);
        assert_int_equal(differs(&before, &after), head->result == WRITE_DONE);
        failures += head->result == WRITE_FAILED;
        done_in_turn = head->result == WRITE_DONE ? done_in_turn + 1 : 0;
        write_free(head);
        writer_refresh(writer);
        check_holding_shown(&after);
        free(before.entries);
        free(after.entries);
    }
    return failures;
}

BEHAVIOUR(what_is_answered_of_a_key_a_notice_or_a_document_is_true) {
    struct write *(*const makers[])(void) = {make_key_write, make_notice,  make_enquiry,
                                             make_entries,   make_renewal, make_acknowledgement};
    long failures = 0;
    for (size_t i = 0; i < COUNT_OF(makers); i++) {
        failures += refuse_in_turn(makers[i], 1);
        failures += refuse_in_turn(makers[i], 1000000);
    }
    /* A notice and a document ask for memory before the commit; a key does not. */
    assert_true(failures > 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_refused_request_leaves_what_is_answered_true),
        cmocka_unit_test(no_memory_for_a_while_leaves_what_is_answered_true),
        cmocka_unit_test(what_is_answered_of_a_key_a_notice_or_a_document_is_true),
        cmocka_unit_test(what_could_not_be_shown_is_at_the_next_refresh),
    };
    return cmocka_run_group_tests_name("writer_nomem", tests, set_up, tear_down);
}
