/* SPDX-License-Identifier: MIT */
#include "event/car_route.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "event/car_choice.h"

/* The first line that fits, -1 where none does. */
static int line_of(const struct item *item, const struct entry *entry) {
    for (int i = 0; i < item->variant_count; i++) {
        if (car_choice_fits(&item->variants[i].cars, entry))
            return i;
    }
    return -1;
}

/* Takes the points off the route that are not on it. Returns ERR_OK or ERR_NOMEM. */
static int take_off(const struct rules *rules, struct arena *arena, const struct item *item,
                    const struct item *own, struct car_route *route) {
    if (own != NULL && own->off_points == NULL)
        return ERR_OK;
    if (route->off == NULL) {
        route->off = arena_array(arena, (size_t)rules->point_count, sizeof *route->off);
        if (route->off == NULL)
            return ERR_NOMEM;
    }
    for (int i = 0; i < item->point_count; i++)
        route->off[item->first_point + i] = own == NULL || own->off_points[i];
    return ERR_OK;
}

/* A route from the lines that hold; `lines` may be NULL: none does. NULL when memory is out. */
static struct car_route *route_of(const struct rules *rules, struct arena *arena,
                                  const int *lines) {
    struct car_route *route = arena_alloc(arena, sizeof *route);
    if (route == NULL)
        return NULL;
    *route = (struct car_route){
        .items = arena_array(arena, (size_t)rules->item_count, sizeof(const struct item *))};
    if (route->items == NULL)
        return NULL;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        const struct item *own =
            lines == NULL || lines[i] < 0 ? item : item->variants[lines[i]].item;
        route->items[i] = own;
        if (take_off(rules, arena, item, own, route) != ERR_OK)
            return NULL;
    }
    return route;
}

/* The routes found so far; an event has few. */
struct found {
    int *lines; /* [route * items + item] */
    struct car_route **routes;
    int count;
};

/* The route of a car. NULL when memory is out. */
static const struct car_route *find(const struct rules *rules, struct arena *arena,
                                    struct found *found, const struct entry *entry) {
    size_t items = (size_t)rules->item_count;
    int *lines = found->lines + (size_t)found->count * items;
    for (size_t i = 0; i < items; i++)
        lines[i] = line_of(&rules->items[i], entry);
    for (int r = 0; r < found->count; r++) {
        if (memcmp(found->lines + (size_t)r * items, lines, items * sizeof *lines) == 0)
            return found->routes[r];
    }
    struct car_route *route = route_of(rules, arena, lines);
    if (route != NULL)
        found->routes[found->count++] = route;
    return route;
}

static bool any_variants(const struct rules *rules) {
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].variant_count > 0)
            return true;
    }
    return false;
}

int car_routes_find(const struct rules *rules, struct entries *entries) {
    size_t cars = (size_t)entries->count;
    int err = ERR_OK;
    if (!any_variants(rules)) {
        const struct car_route *route = route_of(rules, entries->arena, NULL);
        for (size_t i = 0; i < cars; i++)
            entries->list[i].route = route;
        return route == NULL ? ERR_NOMEM : ERR_OK;
    }
    struct found found = {calloc((cars + 1) * (size_t)rules->item_count, sizeof *found.lines),
                          calloc(cars + 1, sizeof(struct car_route *)), 0};
    if (found.lines == NULL || found.routes == NULL)
        err = ERR_NOMEM;
    for (size_t i = 0; err == ERR_OK && i < cars; i++) {
        entries->list[i].route = find(rules, entries->arena, &found, &entries->list[i]);
        if (entries->list[i].route == NULL)
            err = ERR_NOMEM;
    }
    free(found.lines);
    free(found.routes);
    return err;
}

const struct variant *car_variant(const struct event *event, int car, int item) {
    const struct item *own = &event->rules->items[item];
    const struct item *held = car_item(event, car, item);
    if (held == own)
        return NULL;
    int line = line_of(own, &event->entries->list[car]);
    return line < 0 ? NULL : &own->variants[line];
}
