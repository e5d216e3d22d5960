/* SPDX-License-Identifier: MIT */
#include "event/key_home.h"

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include "format/json_read.h"

#define IN_A_RULE "in a “penalty”, or with its kind in “scoring.defaults”"
#define TO_A_CONTROL "to a time control, beside its “penalty”"
#define TO_A_DRIVING_TEST "to a special test, beside its “penalty”"

/* `of_items`: looked for on the route and in the rules of kinds alone; elsewhere the same word may
 * be another key's that is misspelt. */
static const struct key_place {
    const char *key;
    bool of_items;
    const char *home;
} places[] = {
    {"timing", false, "in “scoring”"},
    {"max_lateness", false, "in “scoring”"},
    {"max_lateness_holds", false, "in “scoring”"},
    {"lateness", false, "in “scoring”"},
    {"shown", false, "in “scoring”"},
    {"ties", false, "in “scoring”"},
    {"teams", false, "in “scoring”"},
    {"finisher", false, "in “scoring”"},
    {"coefficient", false, "in “scoring”"},
    {"drop_worst", false, "in “scoring”"},
    {"day_cap", false, "in “scoring”"},
    {"absent_day_cap", false, "in “scoring”"},
    {"defaults", false, "in “scoring”"},
    {"groups", false, "in “classes”"},
    {"categories", false, "in “classes”"},
    {"periods", false, "in “classes”"},
    {"each", false, "in “scoring.drop_worst”"},
    {"within", false, "to a prize in “awards”"},
    {"among", false, "to a prize in “awards”"},
    {"precision", true, IN_A_RULE},
    {"per", true, IN_A_RULE},
    {"part", true, IN_A_RULE},
    {"early", true, IN_A_RULE},
    {"late", true, IN_A_RULE},
    {"grace", true, IN_A_RULE},
    {"grace_deducted", true, IN_A_RULE},
    {"cap", true, IN_A_RULE},
    {"early_limit", true, IN_A_RULE},
    {"late_limit", true, IN_A_RULE},
    {"missed", true, IN_A_RULE},
    {"faults", true, "to an item, beside its “penalty”"},
    {"off", true, "in a line of the item's “for”"},
    {"speed", true, "in the list “speeds”, as {\"from\": 0, \"speed\": 42}"},
    {"early_from", true, TO_A_CONTROL},
    {"shortest", true, TO_A_CONTROL},
    {"finish", true, "to a regularity, a set-time or a special test, beside its “penalty”"},
    {"ideals", true, "to a regularity, beside its “penalty”"},
    {"lost", true, "to a set-time test, beside its “penalty”"},
    {"counts", true, "to a test, beside its “penalty”"},
    {"for", true, "to an item, beside its “penalty”"},
    {"clock", true, "to an item, beside its “penalty”"},
    {"lat", true, "in “place” of an item, or in its “places” by point"},
    {"lon", true, "in “place” of an item, or in its “places” by point"},
    {"heading", true, "in “place” of an item, or in its “places” by point"},
    {"once", true, "in “early” or “late”, as {\"once\": 100}"},
    {"plus", true, "in “maximum”, as {\"best\": \"class\", \"plus\": \"00:00:30\"}"},
    {"attempts", true, TO_A_DRIVING_TEST},
    {"best", true, TO_A_DRIVING_TEST},
};

/* True on the route and in the rules of kinds. */
static bool is_of_items(const struct json_place *place) {
    const struct json_place *second = NULL;
    if (place == NULL)
        return true;
    for (; place->up != NULL; place = place->up)
        second = place;
    if (strcmp(place->key, "route") == 0)
        return true;
    return strcmp(place->key, "scoring") == 0 &&
           (second == NULL || strcmp(second->key, "defaults") == 0);
}

/* A choice of cars names one of them: "group", where classes define "groups". */
static bool chooses_cars(const struct json_place *place) {
    const struct json_place *of = place == NULL ? NULL : place->key == NULL ? place->up : place;
    return of != NULL && of->key != NULL &&
           (strcmp(of->key, "for") == 0 || strcmp(of->key, "among") == 0);
}

const char *key_home(const char *key, const struct json_place *place) {
    if (chooses_cars(place)) {
        if (strcmp(key, "groups") == 0)
            return "in “classes”; cars are named by “group”";
        if (strcmp(key, "categories") == 0)
            return "in “classes”; cars are named by “category”";
        if (strcmp(key, "periods") == 0)
            return "in “classes”; cars are named by “period”";
    }
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        if (strcmp(places[i].key, key) == 0 && (!places[i].of_items || is_of_items(place)))
            return places[i].home;
    }
    return NULL;
}
