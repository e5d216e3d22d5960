/* SPDX-License-Identifier: MIT */
#include "api_review.h"

#include "api.h"
#include "awards.h"
#include "err.h"

static unsigned out_of_memory(struct request *r) {
    return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
}

unsigned api_prizes(struct request *r, struct textbuf *b) {
    struct awards *awards = NULL;
    bool csv = false;
    unsigned status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (awards_new(r->scene->scores, &awards) != ERR_OK)
        return out_of_memory(r);
    struct output_head head = {view_status(r->scene->view), r->scene->revision, NULL};
    if (csv)
        awards_write_csv(b, awards);
    else
        awards_write_json(b, awards, &head);
    awards_free(awards);
    return MHD_HTTP_OK;
}
