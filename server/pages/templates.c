/* SPDX-License-Identifier: MIT */
#include "pages/templates.h"

#include "base/err.h"
#include "system/assets.h"

struct template *const templates[] = {
    &frame_template,   &state_template,        &card_template,   &cases_template,
    &enquiry_template, &enquiry_form_template, &event_template,  &events_template,
    &notices_template, &problem_template,      &qr_template,     &screen_template,
    &starts_template,  &desk_template,         &office_template, NULL};

int templates_load(struct textbuf *why) {
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && templates[i] != NULL; i++) {
        const struct asset *asset = asset_find(templates[i]->file);
        if (templates[i]->compiled != NULL)
            continue;
        if (asset == NULL) {
            textbuf_printf(why, "%s: there is no such file", templates[i]->file);
            return ERR_INPUT;
        }
        err = template_compile(templates[i], asset->bytes, asset->end, why);
    }
    return err;
}

void templates_unload(void) {
    for (int i = 0; templates[i] != NULL; i++)
        template_free(templates[i]);
}
