/* SPDX-License-Identifier: MIT */
/* dice.h - chance that can be repeated: the same seed gives the same rolls on every machine. */
#ifndef CAIRN_TESTS_DICE_H
#define CAIRN_TESTS_DICE_H

#include <stddef.h>
#include <stdint.h>

/* A plain value: {seed}. */
struct dice {
    uint64_t state;
};

/* The next 64 bits: a counter, mixed by two multiplications. */
static inline uint64_t dice_roll(struct dice *dice) {
    dice->state += UINT64_C(0x9E3779B97F4A7C15);
    uint64_t z = dice->state;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* A number from 0 to below `sides`, which is at least 1. */
static inline size_t dice_below(struct dice *dice, size_t sides) {
    return (size_t)(dice_roll(dice) % sides);
}

/* A number from `low` to `high`, both possible. */
static inline int64_t dice_between(struct dice *dice, int64_t low, int64_t high) {
    return low + (int64_t)(dice_roll(dice) % ((uint64_t)(high - low) + 1));
}

/* Puts the numbers 0 .. count - 1 into `places` in some order, each order as likely. */
static inline void dice_shuffle(struct dice *dice, size_t *places, size_t count) {
    for (size_t i = 0; i < count; i++) {
        size_t j = dice_below(dice, i + 1);
        places[i] = places[j];
        places[j] = i;
    }
}

#endif
