/* SPDX-License-Identifier: MIT */
#include "event/entry_words.h"

#include "testing.h"

static const struct entry two = {.driver = "A. Thorne",
                                 .navigator = "M. \"Vale\"",
                                 .make = "Calder",
                                 .model = "Six",
                                 .year = 1929};
static const struct entry lone = {
    .driver = "B. Reed", .navigator = "", .make = "Calder", .model = "", .year = 1931};
static const struct entry no_make = {
    .driver = "C. Moss", .navigator = "", .make = "", .model = "Special", .year = 1907};

static void says(void (*write)(struct textbuf *, const struct entry *), const struct entry *e,
                 const char *words) {
    struct textbuf b = {0};
    write(&b, e);
    assert_false(b.failed);
    assert_string_equal(textbuf_text(&b), words);
    textbuf_clear(&b);
}

static void crews_are_named_driver_first(void **state) {
    (void)state;
    says(entry_crew_words, &two, "A. Thorne / M. \"Vale\"");
    says(entry_crew_words, &lone, "B. Reed");
    says(entry_crew_json, &two, "\"crew\":[\"A. Thorne\",\"M. \\\"Vale\\\"\"]");
    says(entry_crew_json, &lone, "\"crew\":[\"B. Reed\"]");
}

static void vehicles_have_no_stray_blank(void **state) {
    (void)state;
    says(entry_vehicle_words, &two, "Calder Six");
    says(entry_vehicle_words, &lone, "Calder");
    says(entry_vehicle_words, &no_make, "Special");
    says(entry_vehicle_json, &two, "\"vehicle\":\"Calder Six\",\"year\":1929");
    says(entry_vehicle_json, &lone, "\"vehicle\":\"Calder\",\"year\":1931");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crews_are_named_driver_first),
        cmocka_unit_test(vehicles_have_no_stray_blank),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
