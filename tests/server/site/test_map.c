/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/textbuf.h"
#include "site/site_map.h"

struct line {
    const char *address, *file, *asked;
};

static void look(const char *address, bool has_qr, const char *file, const char *asked) {
    struct textbuf found = {0};
    struct textbuf question = {0};
    textbuf_puts(&found, "what was there before");
    assert_int_equal(site_map_file("merrow-2027", has_qr, address, &found, &question),
                     *file != '\0');
    assert_string_equal(textbuf_text(&found), file);
    assert_string_equal(textbuf_text(&question), asked);
    textbuf_clear(&found);
    textbuf_clear(&question);
}

static void an_address_has_one_file(void **state) {
    (void)state;
    static const struct line lines[] = {
        {"/", "index.html", "/"},
        {"/?lang=fr", "lang-fr/index.html", "/?lang=fr"},
        {"/merrow-2027/", "merrow-2027/index.html", "/merrow-2027/"},
        {"/merrow-2027/?by=overall&lang=en", "merrow-2027/index.html", "/merrow-2027/"},
        {"/merrow-2027/?lang=de&by=class", "merrow-2027/by-class/lang-de/index.html",
         "/merrow-2027/?by=class&lang=de"},
        {"/merrow-2027/?class=C-1&q=six", "merrow-2027/class-C-1/index.html",
         "/merrow-2027/?class=C-1"},
        {"/merrow-2027/?after=R3", "merrow-2027/after-R3/index.html", "/merrow-2027/?after=R3"},
        {"/merrow-2027/cars/22?after=R3", "merrow-2027/cars/22/index.html", "/merrow-2027/cars/22"},
        {"/merrow-2027/tests/R1?car=22&lang=it", "merrow-2027/tests/R1/lang-it/index.html",
         "/merrow-2027/tests/R1?lang=it"},
        {"/api/v1/events", "api/v1/events.json", "/api/v1/events"},
        {"/api/v1/events/merrow-2027", "api/v1/events/merrow-2027.json",
         "/api/v1/events/merrow-2027"},
        {"/api/v1/events/merrow-2027/standings?by=class&class=C-1&after=R3&format=csv",
         "api/v1/events/merrow-2027/standings/by-class/class-C-1/after-R3.csv",
         "/api/v1/events/merrow-2027/standings?by=class&class=C-1&after=R3&format=csv"},
        {"/api/v1/events/merrow-2027/standings?by=overall",
         "api/v1/events/merrow-2027/standings.json", "/api/v1/events/merrow-2027/standings"},
        {"/_/0123/page.js", "_/0123/page.js", "/_/0123/page.js"}};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        look(lines[i].address, false, lines[i].file, lines[i].asked);
}

static void two_cars_are_one_page_in_either_order(void **state) {
    (void)state;
    static const char file[] = "merrow-2027/compare/cars-22,31/index.html";
    static const char asked[] = "/merrow-2027/compare?cars=22,31";
    look("/merrow-2027/compare?cars=22,31", false, file, asked);
    look("/merrow-2027/compare?cars=31,22", false, file, asked);
    look("/merrow-2027/compare?cars=31,22&lang=en", false, file, asked);
    look("/merrow-2027/compare", false, "merrow-2027/compare/index.html", "/merrow-2027/compare");
    look("/merrow-2027/compare?cars=22", false, "", "");
    look("/merrow-2027/compare?cars=22,22", false, "", "");
    look("/merrow-2027/compare?cars=22,31,40", false, "", "");
}

static void what_needs_a_server_has_none(void **state) {
    (void)state;
    static const char *const addresses[] = {"",
                                            "/merrow-2027/control",
                                            "/merrow-2027/office",
                                            "/merrow-2027/board-worker.js",
                                            "/merrow-2027/../x",
                                            "/other/",
                                            "/other/cars/22",
                                            "/api/v1/events/other/standings",
                                            "/api/v1/events/merrow-2027/stream",
                                            "/api/v1/events/merrow-2027/readings",
                                            "/metrics",
                                            "/merrow-2027/qr?to=event",
                                            "https://results.example/"};
    for (size_t i = 0; i < sizeof addresses / sizeof addresses[0]; i++)
        look(addresses[i], false, "", "");
}

static void codes_are_of_what_is_pinned_up(void **state) {
    (void)state;
    look("/merrow-2027/qr?to=tests%2FR1", true, "merrow-2027/qr/to-tests_2FR1/index.html",
         "/merrow-2027/qr?to=tests%2FR1");
    look("/merrow-2027/qr?to=event%3Flang%3Dde&lang=de", true,
         "merrow-2027/qr/to-event/lang-de/index.html", "/merrow-2027/qr?to=event&lang=de");
    look("/merrow-2027/qr?to=%3Flang%3Dde&lang=de", true, "merrow-2027/qr/lang-de/index.html",
         "/merrow-2027/qr?lang=de");
    look("/merrow-2027/qr?to=", true, "merrow-2027/qr/index.html", "/merrow-2027/qr");
    look("/merrow-2027/qr?to=cars%2F22", true, "", "");
    look("/merrow-2027/qr?to=%3Fby%3Dday", true, "", "");
    look("/merrow-2027/qr?to=compare%3Fcars%3D1%2C2", true, "", "");
}

static void what_a_file_system_might_take_amiss_is_told_in_digits(void **state) {
    (void)state;
    look("/merrow-2027/?class=..", false, "merrow-2027/class-_2E_2E/index.html",
         "/merrow-2027/?class=..");
    look("/merrow-2027/?class=A%2FB", false, "merrow-2027/class-A_2FB/index.html",
         "/merrow-2027/?class=A%2FB");
    look("/merrow-2027/?class=A_B", false, "merrow-2027/class-A_5FB/index.html",
         "/merrow-2027/?class=A_B");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_address_has_one_file),
        cmocka_unit_test(two_cars_are_one_page_in_either_order),
        cmocka_unit_test(what_needs_a_server_has_none),
        cmocka_unit_test(codes_are_of_what_is_pinned_up),
        cmocka_unit_test(what_a_file_system_might_take_amiss_is_told_in_digits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
