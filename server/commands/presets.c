/* SPDX-License-Identifier: MIT */
#include "commands/presets.h"

#include <string.h>

#define FOLDER "schema/presets/"
#define RULE_BOOK "Motorsport UK, National Competition Rules 2026, issue 11, "
#define CATEGORIES "Categories: Historic Rally Car Register. "
#define OWN "The rest: cairn's own plain values."

const struct preset presets[] = {
    {"fiva", "FIVA's classes by age, average speeds of at most 50 km/h",
     "FIVA Technical Code: the classes. FIA Appendix K of March 1999: the average speed of FIVA "
     "events. " OWN,
     FOLDER "fiva.json"},
    {"appendix-k", "Appendix K's periods for touring and GT cars, as moved for 2025",
     "FIA Appendix K 2025, art. 3 (without “edition” the table before it holds). " OWN,
     FOLDER "appendix-k.json"},
    {"hundredths", "Italian regularity: 100 a minute at controls, pads to the hundredth",
     "ACI Sport, RDS Autostoriche 2021/2022, art. 8.20: controls 100 a minute, late at most 300, "
     "beyond the time limit 1000; pads 1 a hundredth and "
     "averages 1 a second, at most 300 each. A control's clock read to the minute, 30 minutes as "
     "the time limit, a missed check or pad at its cap, a missed passage control at 300, classes "
     "(FIVA's) and the rest: cairn's own choice.",
     FOLDER "hundredths.json"},
    {"early-double", "Dutch map rallies: early costs twice what late does, at most 200",
     "NOP rally, its regulations (wedstrijdreglement): to the minute early 20, late 10; to "
     "the second early 2, late 1; at most 200; opening test 1 a hundredth, at most 300; a control "
     "missed or approached wrongly 100, a stop in sight of one 200. Missed pads, classes (FIVA's) "
     "and the rest: cairn's own choice.",
     FOLDER "early-double.json"},
    {"uk-road", "UK road rallies to the second, scheduled timing; shown as time",
     RULE_BOOK
     "p. 464 (late 15 s and early 1 min for each minute; before due time at a neutral section's "
     "end 30 min; regularity by the second, late at most 1 min; a missed control 1 min, a main "
     "one 15 min), p. 453 and 457 (at most 30 mph; the finish of a regularity is a control; over "
     "30 min late no control or check is visited), p. 490 (30 min of lateness), p. 491 (at least "
     "three quarters of a section's time). " CATEGORIES OWN,
     FOLDER "uk-road.json"},
    {"uk-target", "UK target-timed rallies; shown as time",
     RULE_BOOK
     "p. 466 (early 1 min and late 10 s for each minute on the road; false starts 10 s, 1 min and "
     "3 min), p. 489 (lateness adds up and cannot be reduced), p. 491 (driving tests held between "
     "bogey and maximum). " CATEGORIES
     "30 min as the most lateness, a test not driven at its maximum, and the rest: cairn's own "
     "plain values.",
     FOLDER "uk-target.json"},
    {"reliability", "Reliability trials of veteran, Edwardian and vintage cars",
     "Motorsport UK, National Competition Rules 2026, edition 1, p. 608: an average of at most 15 "
     "mph where controls are under 20 miles apart. Classes: Vintage Sports-Car Club (the last ends "
     "with 1940; with 1939 at the STD Register). " OWN,
     FOLDER "reliability.json"},
    {"uk-fails", "UK road rallies by fails, scheduled timing",
     RULE_BOOK
     "p. 464 (fails for a missed control, a wrong approach or departure, and for being "
     "before due time at a neutral section's end), p. 453 and 457 (the finish of a "
     "regularity is a control; over 30 min late no control or check is visited). Late 1 and "
     "early 2 a minute: common practice of standard timing. " CATEGORIES OWN,
     FOLDER "uk-fails.json"},
    {"french-averages", "French regularity with three averages, one chosen by each crew",
     "FFSA, regularity of historic cars, as Réunion 2021 had it: three or four averages, chosen at "
     "entry. Monte-Carlo Historique, art. 4: low and high averages. Rates, caps, classes (FIVA's) "
     "and the rest: cairn's own choice.",
     FOLDER "french-averages.json"},
    {"norwegian", "Norwegian regularity",
     "Norwegian Challenge regulations 2005, § 571: early 20 and late 10 a minute, at most 300, "
     "missed 300; averages 1 a second, at most 300, missed 300; a missed stamp 100; driving tests "
     "0.2 a second, a cone 2, a wrong test the maximum. " OWN,
     FOLDER "norwegian.json"},
    {"tsd-hundredths", "North American time, speed and distance, hundredths of a minute",
     "North American time-speed-distance rules, supplement: 1 for each hundredth of a minute, at "
     "most 500, missed 1000. Toronto Autosport Club, 307 and 309: each control from the one "
     "before, missed beyond the maximum lateness until within it. Cut ideals, count-back: common "
     "practice. 20 minutes of lateness, time controls, classes (FIVA's) and the rest: cairn's own "
     "choice.",
     FOLDER "tsd-hundredths.json"},
    {"autotest", "A day of driving tests, each run twice, against the best of the class",
     "Solway Car Club and Huddersfield Motor Club, autotests: a wrong test, no start, and at most "
     "the fastest of the class and 30 s; finishers drive half of the tests. Two runs of which "
     "the better counts, 5 a marker, classes and the rest: common practice and cairn's own choice.",
     FOLDER "autotest.json"},
    {"long-distance", "Long-distance events with a time schedule for each age group",
     "London to Lisbon 2000, supplementary regulations: age categories, each with its own route "
     "and time schedule. All values: cairn's own choice.",
     FOLDER "long-distance.json"},
    {"touring", "Competition and a touring list beside it, averages of at most 50 km/h",
     "FIVA Technical Code: the classes. FIA Appendix K of March 1999: the average speed of FIVA "
     "events. NOP rally, Tour and Sport: two lists over parts of one route. " OWN,
     FOLDER "touring.json"},
};
const size_t preset_count = sizeof presets / sizeof presets[0];

const struct preset *preset_find(const char *name) {
    for (size_t i = 0; i < preset_count; i++) {
        if (strcmp(presets[i].name, name) == 0)
            return &presets[i];
    }
    return NULL;
}
