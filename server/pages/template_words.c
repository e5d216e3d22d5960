/* SPDX-License-Identifier: MIT */
/* Words of the catalogue inside templates: taken apart once, for every language, so that writing
 * one is copying. */
#include <string.h>

#include "base/arena.h"
#include "pages/template_compiler.h"
#include "system/html.h"

/* The argument that a text puts in at this place, -1 for none. */
static int argument_at(const char *text) {
    return text[0] == '{' && text[1] >= '0' && text[1] <= '9' && text[2] == '}' ? text[1] - '0'
                                                                                : -1;
}

static int count_stretches(const char *text) {
    int count = 1;
    for (; *text != '\0'; text++)
        count += argument_at(text) >= 0;
    return count;
}

/* The text up to what is put in or to its end, as HTML. */
static bool take_stretch(struct compiler *c, const char **text, struct word_stretch *out) {
    struct textbuf html = {0};
    const char *end = *text;
    while (*end != '\0' && argument_at(end) < 0)
        end++;
    char *plain = arena_text(c->code->arena, *text, (size_t)(end - *text));
    if (plain != NULL)
        html_text(&html, plain);
    out->bytes = plain == NULL ? NULL : arena_text(c->code->arena, textbuf_text(&html), html.len);
    out->len = html.len;
    out->argument = argument_at(end);
    bool good = out->bytes != NULL && !html.failed;
    textbuf_clear(&html);
    *text = *end == '\0' ? end : end + 3;
    return good || template_no_memory(c);
}

/* Takes a text apart.
 *   used  gets a bit for each argument that it puts in */
static bool take_form(struct compiler *c, const char *text, int arguments, struct word_form *form,
                      unsigned *used) {
    form->count = count_stretches(text);
    form->stretches = arena_array(c->code->arena, (size_t)form->count, sizeof *form->stretches);
    if (form->stretches == NULL)
        return template_no_memory(c);
    for (int i = 0; i < form->count; i++) {
        if (!take_stretch(c, &text, &form->stretches[i]))
            return false;
        int argument = form->stretches[i].argument;
        if (argument >= arguments)
            return template_fault(c, "the word has a place {%d} that nothing is put into",
                                  argument);
        if (argument >= 0)
            *used |= 1U << argument;
    }
    return true;
}

static bool take_argument(struct compiler *c, const struct token *name, bool chooses,
                          struct word_argument *out) {
    const struct part *part = chooses ? NULL : template_find_part(c, name);
    if (part != NULL) {
        *out = (struct word_argument){.is_part = true, .first = part->first, .end = part->end};
        return c->where == IN_TEXT ||
               template_fault(c, "a word with a part in it stands between tags only");
    }
    if (template_find(c, name, &out->value) == NULL)
        return false;
    if (out->value.type == TEMPLATE_NUMBER || (out->value.type == TEMPLATE_TEXT && !chooses))
        return true;
    return template_fault(c, "“%.*s” cannot be put into a word", (int)name->len, name->at);
}

/* A word in one language: its only form, or that for one and that for others. */
static bool take_language(struct compiler *c, enum lang lang, const char *key,
                          struct template_word *entry, unsigned *used) {
    const char *texts[2] = {entry->counts ? word_for(lang, key, 1) : word(lang, key), NULL};
    if (entry->counts)
        texts[1] = word_for(lang, key, 2);
    /* What has no text is told by its key. */
    if (texts[0] == key || texts[1] == key)
        return template_fault(c, "there is no word “%s”", key);
    for (int i = 0; i < 2 && texts[i] != NULL; i++) {
        if (!take_form(c, texts[i], entry->argument_count, &entry->forms[lang][i], used))
            return false;
    }
    return true;
}

const struct template_word *template_word(struct compiler *c, const struct hole_text *h,
                                          bool counts) {
    struct template_word *word = arena_alloc(c->code->arena, sizeof *word);
    const char *key = arena_text(c->code->arena, h->name.at, h->name.len);
    unsigned used = 0;
    if (word == NULL || key == NULL) {
        (void)template_no_memory(c);
        return NULL;
    }
    word->counts = counts;
    word->argument_count = h->argument_count;
    if (counts && h->argument_count == 0) {
        (void)template_fault(c, "the word lacks the number that chooses its form");
        return NULL;
    }
    for (int i = 0; i < h->argument_count; i++) {
        if (!take_argument(c, &h->arguments[i], counts && i == 0, &word->arguments[i]))
            return NULL;
    }
    for (int i = 0; i < LANG_COUNT; i++) {
        if (!take_language(c, (enum lang)i, key, word, &used))
            return NULL;
    }
    /* A form for one may leave its number out: "one check". */
    if ((used | counts) + 1 != 1U << h->argument_count) {
        (void)template_fault(c, "the word “%s” has no place for all that is put into it", key);
        return NULL;
    }
    return word;
}
