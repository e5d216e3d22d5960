/* SPDX-License-Identifier: MIT */
#include "event/shown.h"

#include <inttypes.h>

#include "base/decimal.h"

void shown_write_time(struct textbuf *b, int64_t thousandths) {
    uint64_t size = thousandths < 0 ? 0 - (uint64_t)thousandths : (uint64_t)thousandths;
    uint64_t seconds = size / 1000;
    int decimals = 3;
    uint64_t part = size % 1000;
    textbuf_printf(b, "%s%" PRIu64 ":%02d:%02d", thousandths < 0 ? "-" : "", seconds / 3600,
                   (int)(seconds / 60 % 60), (int)(seconds % 60));
    for (; decimals > 0 && part % 10 == 0; decimals--)
        part /= 10;
    if (decimals > 0)
        textbuf_printf(b, ".%0*d", decimals, (int)part);
}

void shown_write_penalty(struct textbuf *b, const struct scoring *scoring, int64_t penalty) {
    if (scoring->shown_as_time)
        shown_write_time(b, penalty);
    else
        decimal_write(b, penalty);
}

void shown_write_price(struct textbuf *b, const struct scoring *scoring, int64_t price) {
    if (scoring->shown_as_time)
        shown_write_time(b, price);
    else
        decimal_write_short(b, price);
}
