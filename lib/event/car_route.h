/* SPDX-License-Identifier: MIT */
/* car_route.h - the route as each car drives it: its own values of every item, and what is not on
 * its route. Which line of an item's `for` holds for a car follows from its entry; it is found
 * once, when the entries are read, and cars with the same lines share one route. Immutable once
 * found. Source: the contract, "Other values for some cars". */
#ifndef CAIRN_CAR_ROUTE_H
#define CAIRN_CAR_ROUTE_H

#include "event/event.h"

struct car_route {
    const struct item **items; /* by item: with the car's own values; NULL: not on its route */
    bool *off; /* by reading point: it is not on the route; NULL: every point is on it */
};

/* Finds the route of every entry, once classes and groups are known.
 *   entries  their arena gets the routes
 * Returns: ERR_OK or ERR_NOMEM. */
int car_routes_find(const struct rules *rules, struct entries *entries);

/* An item with the values that hold for a car; NULL where it is not on the car's route. Never look
 * at rules->items for a value that a `for` may change. */
static inline const struct item *car_item(const struct event *event, int car, int item) {
    return event->entries->list[car].route->items[item];
}

/* The item whose faults may be told of a car: with its own values, or, where it is not on its
 * route, as the item itself says. NULL where its values are not known, in a folder with errors. */
static inline const struct item *
entry_fault_item(const struct rules *rules, const struct entries *entries, int car, int item) {
    if (car < 0 || item < 0 || entries->list[car].route == NULL)
        return NULL;
    const struct item *own = entries->list[car].route->items[item];
    return own != NULL ? own : &rules->items[item];
}

/* True where a reading point is on a car's route. */
static inline bool car_point_is_on(const struct event *event, int car, int point) {
    const struct car_route *route = event->entries->list[car].route;
    return route->off == NULL || !route->off[point];
}

/* The first scored point of an item that is on the route of the cars whose item it is; every item
 * has one. */
static inline int item_first_on_route(const struct rules *rules, const struct item *item) {
    int scored = item->first_scored;
    while (item->off_points != NULL &&
           item->off_points[rules->scored[scored].point - item->first_point])
        scored++;
    return scored;
}

/* The line of the item's `for` that gave the car its values; NULL where they are the item's own. */
const struct variant *car_variant(const struct event *event, int car, int item);

#endif
