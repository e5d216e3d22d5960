/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "http/static_page.h"
#include "pages/page.h"
#include "pages/templates.h"
#include "system/words.h"
#include "testing.h"

/* ---- a content with a member of every type ---- */

struct cup {
    const char *name;
    int64_t place;
};

struct shelf {
    const char *name;
    struct template_rows cups;
};

struct content {
    const char *title;
    const char *empty;
    int64_t number;
    int64_t when;
    bool yes;
    bool no;
    struct address to;
    struct address nowhere;
    struct markup drawing;
    struct template_rows shelves;
};

static const struct template_hole cup_holes[] = {
    TEMPLATE_HOLE(struct cup, name), TEMPLATE_HOLE(struct cup, place), {0}};

static const struct template_hole shelf_holes[] = {
    TEMPLATE_HOLE(struct shelf, name), TEMPLATE_EACH(struct shelf, cups, cup_holes), {0}};

static const struct template_hole view_holes[] = {
    TEMPLATE_HOLE(struct content, title),
    TEMPLATE_HOLE(struct content, empty),
    TEMPLATE_HOLE(struct content, number),
    TEMPLATE_HOLE(struct content, when),
    TEMPLATE_HOLE(struct content, yes),
    TEMPLATE_HOLE(struct content, no),
    TEMPLATE_HOLE(struct content, to),
    TEMPLATE_HOLE(struct content, nowhere),
    TEMPLATE_HOLE(struct content, drawing),
    TEMPLATE_EACH(struct content, shelves, shelf_holes),
    {0}};

/* Names every member, so that a test need not: what it writes comes behind what is tested. */
static const char all_of_them[] =
    "|{title}{empty}{number}{moment:when}{if:yes}{end}{if:no}{end}<i {href:to}></i>"
    "<i {href:nowhere}></i>{markup:drawing}"
    "{each:shelves}{name}{each:cups}{name}{place}{end}{end}";

static void put_drawing(struct page *p, const void *of) {
    textbuf_printf(&p->m, "<svg>%s</svg>", (const char *)of);
}

static const char hostile[] = "<b>\"A\" & 'B'</b>{title}{{";
static const char escaped[] = "&lt;b&gt;&quot;A&quot; &amp; &#39;B&#39;&lt;/b&gt;{title}{{";

static const struct cup left_cups[] = {{"Oak", 1}, {"<Ash>", 2}};
static const struct cup right_cups[] = {{"Elm", 3}};
static const struct shelf shelves[] = {{"left", TEMPLATE_ROWS_OF(left_cups, 2)},
                                       {"right", TEMPLATE_ROWS_OF(right_cups, 1)},
                                       {"bare", {0}}};

static const struct content content = {.title = hostile,
                                       .number = -42,
                                       .when = 1810000000000,
                                       .yes = true,
                                       .to = {.path = "/merrow/?a=1&b=\"2\""},
                                       .drawing = {put_drawing, "x & y"},
                                       .shelves = TEMPLATE_ROWS_OF(shelves, 3)};

/* ---- compiling and writing ---- */

static struct textbuf why;
static struct textbuf text;
static struct template tried = {.file = "tried.html", .holes = view_holes};
static struct request request;
static struct page page;

static int set_up(void **state) {
    (void)state;
    return words_load();
}

static int tear_down(void **state) {
    (void)state;
    words_unload();
    return 0;
}

static int clear(void **state) {
    (void)state;
    template_free(&tried);
    textbuf_clear(&why);
    textbuf_clear(&text);
    textbuf_clear(&page.m);
    return 0;
}

static int compile(const char *template) {
    textbuf_clear(&why);
    textbuf_clear(&text);
    textbuf_puts(&text, template);
    return template_compile(&tried, textbuf_text(&text), textbuf_text(&text) + text.len, &why);
}

/* What a template writes in a language, in front of all_of_them. */
static const char *written_in(enum lang lang, const char *template) {
    struct textbuf whole = {0};
    textbuf_puts(&whole, template);
    textbuf_puts(&whole, all_of_them);
    int err = compile(textbuf_text(&whole));
    textbuf_clear(&whole);
    if (err != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    textbuf_clear(&page.m);
    page = (struct page){.r = &request, .lang = lang};
    template_write(&page, &tried, &content);
    assert_false(page.m.failed);
    char *end = strchr(page.m.bytes, '|');
    assert_non_null(end);
    *end = '\0';
    return page.m.bytes;
}

static const char *written(const char *template) {
    return written_in(LANG_EN, template);
}

/* That a template is refused, and what is said of it. */
static void refused(const char *template, const char *said_of_it) {
    if (compile(template) != ERR_INPUT)
        fail_msg("taken: %s", template);
    assert_string_equal(textbuf_text(&why), said_of_it);
    assert_null(tried.compiled);
}

/* ---- how each type is written ---- */

BEHAVIOUR(text_is_escaped_between_tags_and_in_attributes) {
    char wanted[200];
    (void)snprintf(wanted, sizeof wanted, "<p title=\"%s\">%s</p>", escaped, escaped);
    assert_string_equal(written("<p title=\"{title}\">{title}</p>"), wanted);
    assert_string_equal(written("<p>{empty}</p>"), "<p></p>");
}

BEHAVIOUR(numbers_and_moments_are_written_as_such) {
    assert_string_equal(
        written("<p id=\"n{number}\">{number} {moment:when}</p>"),
        "<p id=\"n-42\">-42 <time datetime=\"2027-05-11T01:46:40Z\">2027-05-11 01:46:40 UTC</time>"
        "</p>");
}

BEHAVIOUR(only_markup_stays_as_it_is) {
    assert_string_equal(written("<p>{markup:drawing}</p>"), "<p><svg>x & y</svg></p>");
}

BEHAVIOUR(an_address_is_a_whole_attribute_and_escaped) {
    assert_string_equal(written("<a {href:to}></a><form {action:to}></form>"),
                        "<a href=\"/merrow/?a=1&amp;b=&quot;2&quot;\"></a>"
                        "<form action=\"/merrow/?a=1&amp;b=&quot;2&quot;\"></form>");
    assert_string_equal(written("<a {href:nowhere}></a>"), "<a ></a>");
}

static bool find_file(void *context, const char *address, struct textbuf *file) {
    (void)context;
    if (strcmp(address, "/merrow/?a=1&b=\"2\"") != 0)
        return false;
    textbuf_puts(file, "merrow/a.html");
    return true;
}

BEHAVIOUR(in_a_copy_a_link_leads_to_a_file_or_is_left_out) {
    static const struct static_page copy = {.find = find_file, .file = "merrow/cars/index.html"};
    struct content other = content;
    request.static_page = &copy;
    assert_string_equal(written("{if:to}<a {href:to}></a>{end}"),
                        "<a href=\"../../merrow/a.html\"></a>");
    other.to.path = "/merrow/elsewhere";
    textbuf_clear(&page.m);
    template_write(&page, &tried, &other);
    assert_int_equal(page.m.bytes[0], '|');
    other.to = (struct address){.path = "https://example.org/?a&b", .elsewhere = true};
    textbuf_clear(&page.m);
    template_write(&page, &tried, &other);
    assert_memory_equal(page.m.bytes, "<a href=\"https://example.org/?a&amp;b\"></a>|", 44);
    request_memory_clear(&request);
    request = (struct request){0};
}

BEHAVIOUR(words_are_of_the_page_s_language) {
    assert_string_equal(written("<p title=\"{word:crew}\">{word:crew}</p>"),
                        "<p title=\"Crew\">Crew</p>");
    assert_string_equal(written_in(LANG_DE, "{word:compare}"), word(LANG_DE, "compare"));
    assert_string_equal(written_in(LANG_IT, "{word:compare}"), word(LANG_IT, "compare"));
}

BEHAVIOUR(what_is_put_into_a_word_is_escaped_unless_the_template_wrote_it) {
    char wanted[200];
    (void)snprintf(wanted, sizeof wanted, "Start list, day -42, %s", escaped);
    assert_string_equal(written("{word:starts-of number title}"), wanted);
    assert_string_equal(written("{part:both}<b>{number}</b>{end}\n{word:case-enquiry both}"),
                        "Enquiry <b>-42</b>");
}

BEHAVIOUR(a_word_that_counts_takes_its_form) {
    assert_string_equal(written("{each:shelves}{each:cups}{count:cars place} {end}{end}"),
                        "1 car 2 cars 3 cars ");
    assert_string_equal(
        written_in(LANG_DE, "{each:shelves}{each:cups}{count:cars place} {end}{end}"),
        "1 Auto 2 Autos 3 Autos ");
}

/* ---- blocks ---- */

BEHAVIOUR(each_kind_of_member_can_be_asked_for) {
    assert_string_equal(written("{if:title}1{end}{if:empty}2{end}{if:number}3{end}{if:yes}4{end}"
                                "{if:no}5{else}6{end}{if:to}7{end}{if:nowhere}8{end}"
                                "{if:drawing}9{end}{if:shelves}10{end}"),
                        "1346"
                        "7910");
    assert_string_equal(written("{unless:yes}1{else}2{end}{unless:no}3{end}{unless:empty}4{end}"),
                        "234");
}

BEHAVIOUR(blocks_stand_inside_each_other) {
    assert_string_equal(
        written("{each:shelves}<ul>{if:cups}{each:cups}<li>{name}{if:place} "
                "{place}{else}!{end} {number}</li>{end}{else}{name}{end}</ul>{end}"),
        "<ul><li>Oak 1 -42</li><li>&lt;Ash&gt; 2 -42</li></ul>"
        "<ul><li>Elm 3 -42</li></ul><ul>bare</ul>");
}

BEHAVIOUR(a_part_with_rows_leaves_the_rows_around_it) {
    assert_string_equal(written("{part:names}{each:shelves}{name}, {end}{end}\n"
                                "{each:shelves}{word:case-enquiry names}{name}; {end}"),
                        "Enquiry left, right, bare, left; Enquiry left, right, bare, right; "
                        "Enquiry left, right, bare, bare; ");
}

BEHAVIOUR(a_block_may_stand_inside_a_tag) {
    assert_string_equal(
        written("<a{if:yes} class=\"x{if:no}y{end}\"{end}{if:no} id=\"z\"{end}></a>"),
        "<a class=\"x\"></a>");
}

/* ---- white space ---- */

BEHAVIOUR(indentation_and_lines_of_blocks_leave_nothing) {
    assert_string_equal(written("<ul>\n"
                                "  {if:yes}\n"
                                "\n"
                                "    <li>{number}</li>\n"
                                "  {else}\n"
                                "    <li>no</li>\n"
                                "  {end}\n"
                                "  {markup:drawing}\n"
                                "</ul>\n"),
                        "<ul>\n<li>-42</li>\n<svg>x & y</svg></ul>\n");
}

BEHAVIOUR(a_line_goes_on_behind_a_backslash_and_in_a_tag) {
    assert_string_equal(written("<p>\\\n"
                                "  one \\\n"
                                "  two</p>\n"
                                "<i class=\"a\"\n"
                                "   id=\"b\"></i>\n"),
                        "<p>one two</p>\n<i class=\"a\" id=\"b\"></i>\n");
}

BEHAVIOUR(comments_are_left_out) {
    assert_string_equal(written("<!-- one -->\n<p>\n  <!-- two\n  {nothing}\n  three -->\n</p>\n"),
                        "<p>\n</p>\n");
}

/* ---- what is refused ---- */

BEHAVIOUR(unknown_names_are_refused_with_their_line) {
    refused("<p>\n{titel}\n</p>\n", "tried.html:2: there is no hole “titel”");
    refused("{if:titel}{end}", "tried.html:1: there is no hole “titel”");
    refused("{each:shelves}{cup}{end}", "tried.html:1: there is no hole “cup”");
    refused("{each:shelves}{end}\n\n{cups}", "tried.html:3: there is no hole “cups”");
    refused("{word:no-such-word}", "tried.html:1: there is no word “no-such-word”");
    refused("{count:crew number}", "tried.html:1: there is no word “crew”");
    refused("{text:title}", "tried.html:1: there is no {text:}");
    refused("{if:yes}{part:a}x{end}{end}{word:case-enquiry a}",
            "tried.html:1: there is no hole “a”");
}

BEHAVIOUR(a_member_that_the_template_lacks_is_told) {
    refused("<p>{title}</p>", "tried.html:1: it lacks the hole “empty”");
}

BEHAVIOUR(a_member_of_another_type_is_refused) {
    refused("{markup:title}", "tried.html:1: “title” is no markup");
    refused("{moment:title}", "tried.html:1: “title” is no number");
    refused("<a {href:title}>", "tried.html:1: “title” is no address");
    refused("{drawing}", "tried.html:1: “drawing” is neither text nor a number");
    refused("{yes}", "tried.html:1: “yes” is neither text nor a number");
    refused("{each:title}{end}", "tried.html:1: “title” has no rows");
    refused("{word:case-enquiry drawing}", "tried.html:1: “drawing” cannot be put into a word");
    refused("{count:cars title}", "tried.html:1: “title” cannot be put into a word");
}

BEHAVIOUR(a_hole_at_a_place_that_would_not_hold_it_is_refused) {
    refused("<p {title}>", "tried.html:1: in a tag this stands in quotation marks only");
    refused("<p {word:crew}>", "tried.html:1: in a tag this stands in quotation marks only");
    refused("<a href=\"{title}\">", "tried.html:1: an address stands here: {href:NAME}");
    refused("<img src=\"{if:yes}{title}{end}\">",
            "tried.html:1: an address stands here: {href:NAME}");
    refused("<script>{title}</script>", "tried.html:1: in a script only markup stands");
    refused("<p title=\"{markup:drawing}\">", "tried.html:1: this stands between tags only");
    refused("<p title=\"{moment:when}\">", "tried.html:1: this stands between tags only");
    refused("{href:to}", "tried.html:1: an address stands inside a tag only");
    refused("<a href=\"{href:to}\">", "tried.html:1: an address stands inside a tag only");
    refused("<p title='{title}'>", "tried.html:1: an attribute stands in double quotation marks");
    refused("{part:a}x{end}<p title=\"{word:case-enquiry a}\">",
            "tried.html:1: a word with a part in it stands between tags only");
}

BEHAVIOUR(what_is_put_into_a_word_must_fit_it) {
    refused("{word:case-enquiry}",
            "tried.html:1: the word has a place {0} that nothing is put into");
    refused("{word:crew number}",
            "tried.html:1: the word “crew” has no place for all that is put into it");
    refused("{count:cars number title}",
            "tried.html:1: the word “cars” has no place for all that is put into it");
    refused("{count:cars}", "tried.html:1: the word lacks the number that chooses its form");
}

BEHAVIOUR(blocks_that_do_not_fit_are_refused) {
    refused("<p>\n{if:yes}\n</p>\n<p>", "tried.html:2: a block that does not end");
    refused("{end}", "tried.html:1: {end} without a beginning");
    refused("{else}", "tried.html:1: {else} without a beginning");
    refused("{each:shelves}{else}{end}", "tried.html:1: {else} without an {if}");
    refused("{if:yes}{else}{else}{end}", "tried.html:1: {else} without an {if}");
    refused("{if:yes}\n<p {end}>",
            "tried.html:2: the block of line 1 ends inside another tag than it began");
    refused("<p {if:yes}>{else}{end}",
            "tried.html:1: the block of line 1 ends inside another tag than it began");
    refused("<p", "tried.html:1: a tag that does not end");
}

BEHAVIOUR(holes_that_cannot_be_read_are_refused) {
    static const char *const bad[] = {
        "{}", "{ title}", "{title }", "{Title}", "{if:}", "{word:crew  number}", "{<b>}"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refused(bad[i], "tried.html:1: this hole cannot be read");
    refused("{title", "tried.html:1: a hole that does not end");
    refused("{title\n}", "tried.html:1: a hole that does not end");
    refused("{title number}", "tried.html:1: this hole has too many names");
    refused("{if:yes no}", "tried.html:1: this hole has too many names");
    refused("{word:crew title title title}", "tried.html:1: this hole has too many names");
}

BEHAVIOUR(too_much_is_refused_and_not_cut) {
    struct textbuf deep = {0};
    for (int i = 0; i < 13; i++)
        textbuf_puts(&deep, "{if:yes}");
    refused(textbuf_text(&deep), "tried.html:1: too many blocks inside each other");
    textbuf_reset(&deep);
    for (int i = 0; i < 4; i++)
        textbuf_puts(&deep, "{each:shelves}");
    refused(textbuf_text(&deep), "tried.html:1: too many contents inside each other");
    textbuf_reset(&deep);
    for (int i = 0; i < 9; i++)
        textbuf_printf(&deep, "{part:p%d}{end}", i);
    refused(textbuf_text(&deep), "tried.html:1: too many parts");
    textbuf_clear(&deep);
}

/* ---- those of the pages ---- */

BEHAVIOUR(every_template_of_the_pages_compiles) {
    if (templates_load(&why) != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    for (int i = 0; templates[i] != NULL; i++)
        assert_non_null(templates[i]->compiled);
    templates_unload();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(text_is_escaped_between_tags_and_in_attributes, clear),
        cmocka_unit_test_teardown(numbers_and_moments_are_written_as_such, clear),
        cmocka_unit_test_teardown(only_markup_stays_as_it_is, clear),
        cmocka_unit_test_teardown(an_address_is_a_whole_attribute_and_escaped, clear),
        cmocka_unit_test_teardown(in_a_copy_a_link_leads_to_a_file_or_is_left_out, clear),
        cmocka_unit_test_teardown(words_are_of_the_page_s_language, clear),
        cmocka_unit_test_teardown(what_is_put_into_a_word_is_escaped_unless_the_template_wrote_it,
                                  clear),
        cmocka_unit_test_teardown(a_word_that_counts_takes_its_form, clear),
        cmocka_unit_test_teardown(each_kind_of_member_can_be_asked_for, clear),
        cmocka_unit_test_teardown(blocks_stand_inside_each_other, clear),
        cmocka_unit_test_teardown(a_part_with_rows_leaves_the_rows_around_it, clear),
        cmocka_unit_test_teardown(a_block_may_stand_inside_a_tag, clear),
        cmocka_unit_test_teardown(indentation_and_lines_of_blocks_leave_nothing, clear),
        cmocka_unit_test_teardown(a_line_goes_on_behind_a_backslash_and_in_a_tag, clear),
        cmocka_unit_test_teardown(comments_are_left_out, clear),
        cmocka_unit_test_teardown(unknown_names_are_refused_with_their_line, clear),
        cmocka_unit_test_teardown(a_member_that_the_template_lacks_is_told, clear),
        cmocka_unit_test_teardown(a_member_of_another_type_is_refused, clear),
        cmocka_unit_test_teardown(a_hole_at_a_place_that_would_not_hold_it_is_refused, clear),
        cmocka_unit_test_teardown(what_is_put_into_a_word_must_fit_it, clear),
        cmocka_unit_test_teardown(blocks_that_do_not_fit_are_refused, clear),
        cmocka_unit_test_teardown(holes_that_cannot_be_read_are_refused, clear),
        cmocka_unit_test_teardown(too_much_is_refused_and_not_cut, clear),
        cmocka_unit_test_teardown(every_template_of_the_pages_compiles, clear),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
