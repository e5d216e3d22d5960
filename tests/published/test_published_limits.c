/* SPDX-License-Identifier: MIT */
/* Legal and other limits of speed, as others published them (facts 33 and 35): what `cairn check`
 * asks about. Such events are taken; a person decides.
 *
 * Not expressed by these rules:
 *   33  the least length of transport sections, distances between stop controls, gaps between
 *       starts and 15 mph below 20 miles in reliability events
 *   34  the night event of the UK statute, any part from 22:00 to 07:00
 *       (https://legislation.gov.uk/uksi/1969/414/crossheading/interpretation/made/data.xht)
 *   35  other countries' limits of 49.9 and 40 km/h: one limit for each unit is looked at */
#include "published.h"

/* An event with a control so far on, to be reached in that time. */
static const char *doubts_of_road(const char *unit, const char *distance, const char *target) {
    struct textbuf route = {0};
    textbuf_printf(&route,
                   "[{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill',"
                   "'distance':%s,'target':'%s'}]",
                   distance, target);
    const char *doubts = doubts_about((struct folder){.unit = unit, .route = textbuf_text(&route)});
    textbuf_clear(&route);
    return doubts;
}

/* An event with a regularity at one average. */
static const char *doubts_of_regularity(const char *unit, const char *speed) {
    struct textbuf route = {0};
    textbuf_printf(&route,
                   "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                   "'speeds':[{'from':0,'speed':%s}],'checks':[{'at':5}]}]",
                   speed);
    const char *doubts = doubts_about((struct folder){.unit = unit, .route = textbuf_text(&route)});
    textbuf_clear(&route);
    return doubts;
}

/* 33 (R limit, D figures). Motorsport UK, no regularity over 30 mph:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p453
 * 4 miles in 8:00 are 30.0 mph, in 7:59 they are 30.06. */
static void uk_limit_of_30_mph_holds_four_miles_to_eight_minutes(void **state) {
    (void)state;
    assert_string_equal(doubts_of_road("'mi'", "4", "00:08:00"), "");
    assert_string_equal(doubts_of_road("'mi'", "4", "00:07:59"), "route[0].target");
    assert_string_equal(doubts_of_regularity("'mi'", "30"), "");
    assert_string_equal(doubts_of_regularity("'mi'", "30.001"), "route[0].speeds[0].speed");
}

/* 33, the same page: a check with an ideal time of its own. */
static void uk_limit_of_30_mph_holds_where_only_an_ideal_is_given(void **state) {
    (void)state;
    const char *route = "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                        "'checks':[{'at':2,'ideal':'00:04:00'},{'at':4,'ideal':'00:07:59'}]}]";
    assert_string_equal(doubts_about((struct folder){.unit = "'mi'", .route = route}),
                        "route[0].checks[1]");
}

/* 35 (R). FIVA events are those at an average of 50 km/h or less, FIA Appendix K of March 1999.
 * A Dutch event sets 49.9, which is within it:
 *   http://docplayer.nl/16199644-Bijzonder-reglement-16-e-rally-van-de-grensstreek-11-12-april-2015-inhoud-1-organisatie-2-inschrijfvoorwaarden-3-voertuigvoorwaarden.html
 * and so is the 40 of an Italian club's summary: https://favautostoriche.com/2016/01/19/81/ */
static void fiva_limit_is_50_km_an_hour_inclusive(void **state) {
    (void)state;
    assert_string_equal(doubts_of_regularity("'km'", "40"), "");
    assert_string_equal(doubts_of_regularity("'km'", "49.9"), "");
    assert_string_equal(doubts_of_regularity("'km'", "50"), "");
    assert_string_equal(doubts_of_regularity("'km'", "50.001"), "route[0].speeds[0].speed");
    assert_string_equal(doubts_of_road("'km'", "25", "00:30:00"), "");
    assert_string_equal(doubts_of_road("'km'", "25", "00:29:59"), "route[0].target");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uk_limit_of_30_mph_holds_four_miles_to_eight_minutes),
        cmocka_unit_test(uk_limit_of_30_mph_holds_where_only_an_ideal_is_given),
        cmocka_unit_test(fiva_limit_is_50_km_an_hour_inclusive),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
