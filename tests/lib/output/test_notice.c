/* SPDX-License-Identifier: MIT */
#include "output/notice.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "scene.h"
#include "testing.h"

static const unsigned char seed[SEAL_SEED_LEN] = {1, 2, 3};

static struct notice_head head_of(int64_t number, const char *kind, int64_t supersedes) {
    return (struct notice_head){.number = number,
                                .kind = kind,
                                .title = "Fog \"up\" höher",
                                .text = "",
                                .event = "fell-trial",
                                .name = "Fell Trial",
                                .posted = "2027-05-20T18:00:00Z",
                                .supersedes = supersedes,
                                .revision = 7};
}

static const struct event_text texts = {
    .rules = RULES(FIVA, "{'defaults': {'time-control': {'precision': 'minute', 'late': 10}}}",
                   "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:10:00'}"),
    .readings = "point,car,time\nTC1,1,08:12\nTC1,2,08:14\nTC1,5,08:18\n",
    .decisions = "kind,car,point,value,reason,id\npenalty,5,,3,noise,p\nrevoke,,,p,wind,r\n"};

/* The content of a classification of the small event with a further decision, for the caller to
 * free. */
static char *classified(const char *decision, const char *superseded) {
    char decisions[256];
    struct event_text own = texts;
    struct scene scene;
    struct notice_head head = head_of(2, "provisional", superseded == NULL ? 0 : 1);
    char *content = NULL;
    strcpy(decisions, texts.decisions);
    strcat(decisions, decision);
    own.decisions = decisions;
    scene_open(&scene, &own, (struct viewpoint){0});
    assert_int_equal(notice_content(&head, scene.scores, superseded, &content), ERR_OK);
    scene_close(&scene);
    return content;
}

BEHAVIOUR(a_bulletin_has_its_keys_in_byte_order_and_no_blanks) {
    struct notice_head head = head_of(1, "bulletin", 0);
    char *content = NULL;
    assert_int_equal(notice_content(&head, NULL, NULL, &content), ERR_OK);
    assert_string_equal(
        content,
        "{\"event\":\"fell-trial\",\"kind\":\"bulletin\",\"name\":\"Fell Trial\","
        "\"number\":1,\"posted\":\"2027-05-20T18:00:00Z\",\"protest_until\":null,"
        "\"revision\":7,\"supersedes\":null,\"text\":\"\",\"title\":\"Fog \\\"up\\\" höher\"}");
    free(content);
}

BEHAVIOUR(a_classification_holds_tables_and_every_decision) {
    char *content = classified("", NULL);
    assert_non_null(strstr(content, "\"overall\":{\"standings\":[{\"awaiting\":0"));
    assert_non_null(strstr(content, "\"class\":{\"groups\":["));
    assert_null(strstr(content, "\"category\":{"));
    assert_null(strstr(content, "\"team\":{"));
    assert_null(strstr(content, "\"differences\""));
    assert_non_null(
        strstr(content, "\"decisions\":[{\"car\":\"5\",\"holds\":false,\"id\":\"p\",\"kind\":"
                        "\"penalty\",\"reason\":\"noise\",\"value\":\"3\"},{\"holds\":true,\"id\":"
                        "\"r\",\"kind\":\"revoke\",\"reason\":\"wind\",\"value\":\"p\"}]"));
    free(content);
}

BEHAVIOUR(a_classification_tells_how_it_differs_from_the_one_it_replaces) {
    char *first = classified("", NULL);
    char *same = classified("", first);
    char *second = classified("disqualify,1,,,short cut,d\n", first);
    assert_non_null(strstr(same, "\"differences\":[],"));
    assert_non_null(strstr(second, "\"supersedes\":1"));
    assert_non_null(strstr(
        second, "\"differences\":[{\"after\":{\"class_position\":1,\"fails\":0,\"penalty\":"
                "\"20.000\",\"position\":1,\"status\":\"finished\"},\"before\":{\"class_position\":"
                "1,\"fails\":0,\"penalty\":\"20.000\",\"position\":2,\"status\":\"finished\"},"
                "\"car\":2},"));
    assert_non_null(strstr(second, "\"status\":\"disqualified\"},\"before\":{"));
    free(first);
    free(same);
    free(second);
    struct notice_head head = head_of(2, "final", 1);
    struct scene scene;
    char *content = NULL;
    scene_open(&scene, &texts, (struct viewpoint){0});
    assert_int_equal(notice_content(&head, scene.scores, "{}", &content), ERR_INPUT);
    assert_null(content);
    scene_close(&scene);
}

BEHAVIOUR(the_same_facts_give_the_same_seal) {
    struct seal one;
    struct seal two;
    char *content = classified("", NULL);
    char *again = classified("", NULL);
    assert_string_equal(content, again);
    seal_make(&one, seed, content, strlen(content));
    seal_make(&two, seed, again, strlen(again));
    assert_memory_equal(&one, &two, sizeof one);
    assert_true(seal_is_good(&one, content, strlen(content)));
    assert_false(seal_is_good(&one, content, strlen(content) - 1));
    two.signer[0] ^= 1;
    assert_false(seal_is_good(&two, content, strlen(content)));
    free(content);
    free(again);
}

BEHAVIOUR(the_order_in_which_decisions_came_changes_nothing) {
    static const char *const orders[] = {"kind,car,point,value,reason,id\npenalty,5,,3,noise,"
                                         "p\nrevoke,,,p,wind,r\npenalty,1,,1,fog,a\n",
                                         "kind,car,point,value,reason,id\nrevoke,,,p,wind,"
                                         "r\npenalty,1,,1,fog,a\npenalty,5,,3,noise,p\n"};
    char *contents[COUNT_OF(orders)];
    for (size_t i = 0; i < COUNT_OF(orders); i++) {
        struct event_text own = texts;
        struct scene scene;
        struct notice_head head = head_of(2, "provisional", 0);
        own.decisions = orders[i];
        scene_open(&scene, &own, (struct viewpoint){0});
        assert_int_equal(notice_content(&head, scene.scores, NULL, &contents[i]), ERR_OK);
        scene_close(&scene);
    }
    assert_string_equal(contents[0], contents[1]);
    free(contents[0]);
    free(contents[1]);
}

/* What a check of the document says; the caller frees it. */
static int check(const char *document, struct textbuf *about) {
    unsigned char signer[SEAL_KEY_LEN];
    textbuf_clear(about);
    return notice_check(document, strlen(document), signer, about);
}

BEHAVIOUR(a_document_is_checked_however_it_is_spaced) {
    struct textbuf document = {0};
    struct textbuf about = {0};
    struct seal seal;
    char *content = classified("", NULL);
    seal_make(&seal, seed, content, strlen(content));
    notice_write_document(&document, content, &seal);
    assert_int_equal(check(textbuf_text(&document), &about), ERR_OK);
    assert_string_equal(
        textbuf_text(&about),
        "notice 2 of fell-trial, provisional, posted 2027-05-20T18:00:00Z: Fog \"up\" höher");
    /* A blank where there was none changes nothing; a figure does. */
    struct textbuf spaced = {0};
    textbuf_puts(&spaced, " {  ");
    textbuf_puts(&spaced, document.bytes + 1);
    assert_int_equal(check(textbuf_text(&spaced), &about), ERR_OK);
    strstr(document.bytes, "20.000")[0] = '1';
    assert_int_equal(check(textbuf_text(&document), &about), ERR_CONFLICT);
    assert_int_equal(check("", &about), ERR_INPUT);
    assert_int_equal(check("{\"content\":{},\"hash\":\"00\"}", &about), ERR_INPUT);
    assert_int_equal(check("[1]", &about), ERR_INPUT);
    textbuf_clear(&spaced);
    textbuf_clear(&document);
    textbuf_clear(&about);
    free(content);
}

BEHAVIOUR(a_seal_has_as_many_digits_as_it_needs) {
    static const char *const names[] = {"hash", "signature", "signer"};
    struct textbuf document = {0};
    struct textbuf about = {0};
    struct seal seal;
    char *content = classified("", NULL);
    seal_make(&seal, seed, content, strlen(content));
    notice_write_document(&document, content, &seal);
    assert_int_equal(check(textbuf_text(&document), &about), ERR_OK);
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        struct textbuf longer = {0};
        char key[16];
        (void)snprintf(key, sizeof key, "\"%s\":\"", names[i]);
        const char *hex = strstr(textbuf_text(&document), key) + strlen(key);
        const char *end = strchr(hex, '"');
        textbuf_add(&longer, document.bytes, (size_t)(end - document.bytes));
        textbuf_puts(&longer, "00");
        textbuf_puts(&longer, end);
        assert_int_equal(check(textbuf_text(&longer), &about), ERR_INPUT);
        textbuf_clear(&longer);
    }
    textbuf_clear(&document);
    textbuf_clear(&about);
    free(content);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bulletin_has_its_keys_in_byte_order_and_no_blanks),
        cmocka_unit_test(a_classification_holds_tables_and_every_decision),
        cmocka_unit_test(a_classification_tells_how_it_differs_from_the_one_it_replaces),
        cmocka_unit_test(the_same_facts_give_the_same_seal),
        cmocka_unit_test(the_order_in_which_decisions_came_changes_nothing),
        cmocka_unit_test(a_seal_has_as_many_digits_as_it_needs),
        cmocka_unit_test(a_document_is_checked_however_it_is_spaced),
    };
    if (sodium_init() < 0)
        return 1;
    RUN_BEHAVIOURS(tests);
}
