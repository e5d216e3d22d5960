/* SPDX-License-Identifier: MIT */
/* Age and capacity classes, as others published them (facts 1 to 11).
 * Published limits fall on the last day of a year, so a year of build tells the class.
 *
 * Not expressed by these rules:
 *   7   whether Germany's 30-year limit goes by year or by date is not told; the rules take a year
 *   9   a start order by age: orders that do not follow from the numbers are made by the
 *       start-list command and stand in starts.csv; here only the standings are held to it */
#include "published.h"

#define APPENDIX_K "{'scheme':'appendix-k'}"
#define APPENDIX_K_2025 "{'scheme':'appendix-k','edition':2025}"
#define FIVA "{'scheme':'fiva'}"

/* 1 (M). FIA Appendix K, art. 3.2, periods of touring and GT cars before 2025.
 * A to D by year are so (S) on the page of an event:
 *   https://www.rallyelbastorico.net/I-RAGGRUPPAMENTI-NELLE-STORICHE-QUESTI-SCONOSCIUTI.htm */
static void appendix_k_periods_begin_and_end_as_published(void **state) {
    (void)state;
    static const struct {
        int year;
        const char *period;
    } rows[] = {
        {1904, "A"}, {1905, "B"},  {1918, "B"},  {1919, "C"},  {1930, "C"},
        {1931, "D"}, {1946, "D"},  {1947, "E"},  {1961, "E"},  {1962, "F"},
        {1965, "F"}, {1966, "G1"}, {1970, "G2"}, {1972, "H1"}, {1976, "H2"},
        {1977, "I"}, {1981, "I"},  {1982, "J1"}, {1986, "J2"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_string_equal(class_of_year(APPENDIX_K, rows[i].year), rows[i].period);
    /* The last years of G1, G2, H1, J1 and J2, of the same table. */
    assert_string_equal(class_of_year(APPENDIX_K, 1969), "G1");
    assert_string_equal(class_of_year(APPENDIX_K, 1971), "G2");
    assert_string_equal(class_of_year(APPENDIX_K, 1975), "H1");
    assert_string_equal(class_of_year(APPENDIX_K, 1985), "J1");
    assert_string_equal(class_of_year(APPENDIX_K, 1990), "J2");
    assert_string_equal(class_of_year(APPENDIX_K, 1991), "none");
}

/* 2 (M). The same article for racing cars: E ends with 1960; 1966 to 1971 is one period GR, 1972 to
 * 1976 one period HR. An event for them gives its own periods. */
static void racing_cars_have_another_table_than_touring_cars(void **state) {
    (void)state;
    const char *racing = "{'scheme':'custom','periods':["
                         "{'id':'E','from':1947,'to':1960},{'id':'F','from':1961,'to':1965},"
                         "{'id':'GR','from':1966,'to':1971},{'id':'HR','from':1972,'to':1976}]}";
    assert_string_equal(class_of_year(APPENDIX_K, 1961), "E");
    assert_string_equal(class_of_year(racing, 1961), "F");
    assert_string_equal(class_of_year(APPENDIX_K, 1970), "G2");
    assert_string_equal(class_of_year(racing, 1970), "GR");
    assert_string_equal(class_of_year(racing, 1972), "HR");
    assert_string_equal(class_of_year(racing, 1976), "HR");
}

/* 3 (M). FIA Appendix K 2025, art. 3.2: J1 to the end of 1987, J2 to the end of 1992. What comes
 * after J2 is no period here. */
static void appendix_k_limits_moved_with_the_edition_of_2025(void **state) {
    (void)state;
    assert_string_equal(class_of_year(APPENDIX_K, 1987), "J2");
    assert_string_equal(class_of_year(APPENDIX_K_2025, 1987), "J1");
    assert_string_equal(class_of_year(APPENDIX_K_2025, 1988), "J2");
    assert_string_equal(class_of_year(APPENDIX_K, 1992), "none");
    assert_string_equal(class_of_year(APPENDIX_K_2025, 1992), "J2");
    assert_string_equal(class_of_year(APPENDIX_K_2025, 1976), "H2");
}

/* 4 (R table, D comparison). FIVA classes as listed by a Czech FIVA club:
 *   https://www.vccusti.cz/vekove-kategorie-vozidel/ */
static void fiva_and_fia_differ_in_boundary_years(void **state) {
    (void)state;
    static const struct {
        int year;
        const char *period;
    } rows[] = {
        {1904, "A"}, {1905, "B"}, {1918, "B"}, {1919, "C"}, {1930, "C"}, {1931, "D"},
        {1945, "D"}, {1946, "E"}, {1960, "E"}, {1961, "F"}, {1970, "F"}, {1971, "G"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_string_equal(class_of_year(FIVA, rows[i].year), rows[i].period);
    assert_string_equal(class_of_year(APPENDIX_K, 1946), "D");
    assert_string_equal(class_of_year(APPENDIX_K, 1961), "E");
    assert_string_equal(class_of_year(APPENDIX_K, 1970), "G2");
}

/* 5 (R). UK historic road rally categories. HRCR: https://www.hrcr.co.uk/cars-for-competition/
 * Scottish clubs, categories 1 to 3: http://scottishmotorsportsclubs.co.uk/historicrally.aspx */
#define UK_CATEGORIES                                                                              \
    "{'scheme':'custom','periods':[{'id':'1','to':1967},{'id':'2','from':1968,'to':1974},"         \
    "{'id':'3','from':1975,'to':1981},{'id':'4','from':1982,'to':1990,'overall':false}]}"

static void uk_categories_end_with_1990(void **state) {
    (void)state;
    assert_string_equal(class_of_year(UK_CATEGORIES, 1967), "1");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1968), "2");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1974), "2");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1975), "3");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1981), "3");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1982), "4");
    assert_string_equal(class_of_year(UK_CATEGORIES, 1991), "none");
}

/* 5 (R). HRCR: a car of category 4 is not eligible for overall awards. */
static void a_category_4_car_with_the_lowest_total_is_left_out_overall(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t,
               (struct folder){.classes = UK_CATEGORIES,
                               .entries = ENTRIES "\n1" CREW "1984\n2" CREW "1979\n3" CREW "1966\n",
                               .readings = "point,car,time\nTC1,1,11:00\nTC1,2,11:03\n"
                                           "TC1,3,11:04\n",
                               .scoring = "{'defaults':{'time-control':{'precision':'minute'}}}"});
    assert_string_equal(total_of(&t, 1), "0");
    assert_string_equal(total_of(&t, 2), "2");
    assert_string_equal(place_of(&t, 1), "-");
    assert_int_equal(score_of(&t, 1)->status, STATUS_FINISHED);
    assert_int_equal(score_of(&t, 1)->class_position, 1);
    assert_string_equal(place_of(&t, 2), "1=");
    assert_string_equal(place_of(&t, 3), "1=");
    trial_close(&t);
}

/* 6 (R). Monte-Carlo Historique 2022:
 *   https://issuu.com./federall/docs/programme_rmch2021_en_ligne_ok/82
 * "Before 31/12/1965" is read as up to the end of 1965, since II begins with 1966. */
static void monte_carlo_historique_categories_end_with_1982(void **state) {
    (void)state;
    const char *monte = "{'scheme':'custom','periods':[{'id':'I','to':1965},"
                        "{'id':'II','from':1966,'to':1971},{'id':'III','from':1972,'to':1976},"
                        "{'id':'IV','from':1977,'to':1982}]}";
    assert_string_equal(class_of_year(monte, 1965), "I");
    assert_string_equal(class_of_year(monte, 1966), "II");
    assert_string_equal(class_of_year(monte, 1971), "II");
    assert_string_equal(class_of_year(monte, 1972), "III");
    assert_string_equal(class_of_year(monte, 1976), "III");
    assert_string_equal(class_of_year(monte, 1977), "IV");
    assert_string_equal(class_of_year(monte, 1982), "IV");
    assert_string_equal(class_of_year(monte, 1983), "none");
}

/* 7 (R table, D limit). ACV Oldtimer Steele: http://acv-oldtimer-steele.de/reglement.html
 * Class 4 goes up to the 30-year age limit, which for an event of 2024 is a car of 1994. */
static void germany_takes_a_car_of_thirty_years(void **state) {
    (void)state;
    const char *steele = "{'scheme':'custom','periods':[{'id':'1','to':1945},"
                         "{'id':'2','from':1946,'to':1960},{'id':'3','from':1961,'to':1970},"
                         "{'id':'4','from':1971,'to':1994}]}";
    assert_string_equal(class_of_year(steele, 1945), "1");
    assert_string_equal(class_of_year(steele, 1946), "2");
    assert_string_equal(class_of_year(steele, 1960), "2");
    assert_string_equal(class_of_year(steele, 1961), "3");
    assert_string_equal(class_of_year(steele, 1970), "3");
    assert_string_equal(class_of_year(steele, 1971), "4");
    assert_string_equal(class_of_year(steele, 1994), "4");
    assert_string_equal(class_of_year(steele, 1995), "none");
}

/* 8 (R). Austria, Wadholz Classic: https://wadholz-classic.at/?p=13 */
static void austria_ends_with_1983_inclusive(void **state) {
    (void)state;
    const char *wadholz = "{'scheme':'custom','periods':[{'id':'I','to':1935},"
                          "{'id':'II','from':1936,'to':1960},{'id':'III','from':1961,'to':1970},"
                          "{'id':'IV','from':1971,'to':1983}]}";
    assert_string_equal(class_of_year(wadholz, 1935), "I");
    assert_string_equal(class_of_year(wadholz, 1936), "II");
    assert_string_equal(class_of_year(wadholz, 1983), "IV");
    assert_string_equal(class_of_year(wadholz, 1984), "none");
}

/* 9 (S). Italy, regulations of the Grand Prix Terre dei Savoia. */
static void terre_dei_savoia_has_five_groups(void **state) {
    (void)state;
    const char *savoia = "{'scheme':'custom','periods':[{'id':'1','to':1945},"
                         "{'id':'2','from':1946,'to':1970},{'id':'3','from':1971,'to':1990},"
                         "{'id':'4','from':1991,'to':2000},{'id':'5','from':2001}]}";
    assert_string_equal(class_of_year(savoia, 1945), "1");
    assert_string_equal(class_of_year(savoia, 1946), "2");
    assert_string_equal(class_of_year(savoia, 1970), "2");
    assert_string_equal(class_of_year(savoia, 1971), "3");
    assert_string_equal(class_of_year(savoia, 1990), "3");
    assert_string_equal(class_of_year(savoia, 1991), "4");
    assert_string_equal(class_of_year(savoia, 2000), "4");
    assert_string_equal(class_of_year(savoia, 2001), "5");
}

/* 9 (S rule, D figures). The same event's order by age: entries of 1965, 1938, 1965 and 1972 go
 * 2, 1, 3, 4, equal years in order of entry. */
static void cars_in_order_of_age_keep_the_order_of_entry_where_equal(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){.scoring = "{'ties':['older-car']}",
                                   .route = "[{'day':1,'id':'PC1','kind':'passage-control',"
                                            "'name':'Gannet Bridge'}]",
                                   .entries = ENTRIES "\n1" CREW "1965\n2" CREW "1938\n3" CREW
                                                      "1965\n4" CREW "1972\n",
                                   .readings = "point,car\nPC1,1\nPC1,2\nPC1,3\nPC1,4\n"});
    static const int order[] = {2, 1, 3, 4};
    for (int i = 0; i < 4; i++)
        assert_int_equal(t.model->entries->list[t.scores->order[i]].number, order[i]);
    assert_string_equal(place_of(&t, 2), "1");
    assert_string_equal(place_of(&t, 1), "2=");
    assert_string_equal(place_of(&t, 3), "2=");
    assert_string_equal(place_of(&t, 4), "4");
    trial_close(&t);
}

/* 10 (R). The STD Register: https://www.stdregister.org.uk/historic-cars/ has post-vintage cars to
 * the end of 1939; the Vintage Sports-Car Club (M) to 1940 inclusive. So the limits are data of the
 * event. */
static void veteran_edwardian_vintage_and_post_vintage_limits_are_data(void **state) {
    (void)state;
#define VINTAGE_TO(year)                                                                           \
    "{'scheme':'custom','periods':[{'id':'veteran','to':1904},"                                    \
    "{'id':'Edwardian','from':1905,'to':1918},{'id':'vintage','from':1919,'to':1930},"             \
    "{'id':'PVT','from':1931,'to':" year "}]}"
    const char *registered = VINTAGE_TO("1939");
    const char *club = VINTAGE_TO("1940");
    assert_string_equal(class_of_year(registered, 1904), "veteran");
    assert_string_equal(class_of_year(registered, 1905), "Edwardian");
    assert_string_equal(class_of_year(registered, 1918), "Edwardian");
    assert_string_equal(class_of_year(registered, 1919), "vintage");
    assert_string_equal(class_of_year(registered, 1930), "vintage");
    assert_string_equal(class_of_year(registered, 1931), "PVT");
    assert_string_equal(class_of_year(registered, 1939), "PVT");
    assert_string_equal(class_of_year(registered, 1940), "none");
    assert_string_equal(class_of_year(club, 1940), "PVT");
    assert_string_equal(class_of_year(club, 1941), "none");
}

/* 11 (R rule, D figures). Heritage Touring Cars (Australia), Group C: measured capacity x 1.7 for
 * forced induction: http://www.heritagetouringcars.com.au/the-legends/
 * 1177 cc comes to 2000.9, between the printed classes; cairn cuts to whole cc, so it is 2000. */
static void forced_induction_counts_as_1_7_times_the_capacity(void **state) {
    (void)state;
    const char *group_c = "{'scheme':'custom','periods':[{'id':'C','from':1973,'to':1984}],"
                          "'supercharged_factor':'1.7','capacity':[{'id':'5','to':1300},"
                          "{'id':'4','to':1600},{'id':'3','to':2000},{'id':'2','to':3000},"
                          "{'id':'1'}]}";
    assert_string_equal(class_of_car(group_c, 1980, "1995", true), "C-1");
    assert_string_equal(class_of_car(group_c, 1980, "1176", true), "C-3");
    assert_string_equal(class_of_car(group_c, 1980, "1177", true), "C-3");
    assert_string_equal(class_of_car(group_c, 1980, "1178", true), "C-2");
    assert_string_equal(class_of_car(group_c, 1980, "1300", false), "C-5");
    assert_string_equal(class_of_car(group_c, 1980, "1301", false), "C-4");
    assert_string_equal(class_of_car(group_c, 1980, "1601", false), "C-3");
    assert_string_equal(class_of_car(group_c, 1980, "1995", false), "C-3");
    assert_string_equal(class_of_car(group_c, 1980, "2001", false), "C-2");
    assert_string_equal(class_of_car(group_c, 1980, "3000", false), "C-2");
    assert_string_equal(class_of_car(group_c, 1980, "3001", false), "C-1");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(appendix_k_periods_begin_and_end_as_published),
        cmocka_unit_test(racing_cars_have_another_table_than_touring_cars),
        cmocka_unit_test(appendix_k_limits_moved_with_the_edition_of_2025),
        cmocka_unit_test(fiva_and_fia_differ_in_boundary_years),
        cmocka_unit_test(uk_categories_end_with_1990),
        cmocka_unit_test(a_category_4_car_with_the_lowest_total_is_left_out_overall),
        cmocka_unit_test(monte_carlo_historique_categories_end_with_1982),
        cmocka_unit_test(germany_takes_a_car_of_thirty_years),
        cmocka_unit_test(austria_ends_with_1983_inclusive),
        cmocka_unit_test(terre_dei_savoia_has_five_groups),
        cmocka_unit_test(cars_in_order_of_age_keep_the_order_of_entry_where_equal),
        cmocka_unit_test(veteran_edwardian_vintage_and_post_vintage_limits_are_data),
        cmocka_unit_test(forced_induction_counts_as_1_7_times_the_capacity),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
