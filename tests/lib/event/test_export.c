/* SPDX-License-Identifier: MIT */
#include "event/export.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "testing.h"

#define ROUTE "{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}"

static char *readings_of(const char *text) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE), .readings = text};
    struct model *model = event_text_good(&texts);
    struct textbuf b = {0};
    assert_int_equal(export_readings(model->readings, &b), ERR_OK);
    model_free(model);
    return b.bytes;
}

static char *decisions_of(const char *text) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE), .decisions = text};
    struct model *model = event_text_good(&texts);
    struct textbuf b = {0};
    assert_int_equal(export_decisions(model->decisions, &b), ERR_OK);
    model_free(model);
    return b.bytes;
}

BEHAVIOUR(rows_stand_in_the_order_of_their_records) {
    char *text = readings_of("point,car,id,at\nPC1,1,z,\nPC1,1,a,\n"
                             "PC1,1,m,2027-05-20T10:00:00+02:00\nPC1,2,n,2027-05-20T07:59:59Z\n");
    assert_string_equal(text, "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n"
                              "PC1,2,,,,n,2027-05-20T07:59:59Z,,,,\n"
                              "PC1,1,,,,m,2027-05-20T10:00:00+02:00,,,,\n"
                              "PC1,1,,,,a,,,,,\n"
                              "PC1,1,,,,z,,,,,\n");
    free(text);
}

BEHAVIOUR(an_id_that_was_derived_is_not_written) {
    char *text = readings_of("point,car,time\nPC1,1,10:00\n");
    assert_string_equal(text, "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n"
                              "PC1,1,10:00,,,,,,,,\n");
    free(text);
}

BEHAVIOUR(fields_are_written_as_they_came) {
    char *text = readings_of("point;car;time;by;reason;replaces;id\n"
                             "PC1;01;10:00:00.50;\"Desk, 1\";\"said \"\"no\"\"\";x;b\n");
    assert_string_equal(text, "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n"
                              "PC1,01,10:00:00.50,,,b,,\"Desk, 1\",x,,\"said \"\"no\"\"\"\n");
    free(text);
}

BEHAVIOUR(unknown_columns_come_last_in_the_order_of_their_names) {
    char *text = readings_of("weather,point,car,id,\"a,b\"\nwet,PC1,1,i,7\n,PC1,2,j,\n");
    assert_string_equal(text, "point,car,time,elapsed,faults,id,at,by,replaces,void,reason,\"a,b\","
                              "weather\n"
                              "PC1,1,,,,i,,,,,,7,wet\n"
                              "PC1,2,,,,j,,,,,,,\n");
    free(text);
}

BEHAVIOUR(decisions_are_written_likewise) {
    char *text =
        decisions_of("kind,car,point,value,reason,at,id\n"
                     "penalty,2,,5,\"late, again\",,b\nretire,1,PC1,,r,2027-05-20T10:00:00Z,c\n"
                     "revoke,,,b,r,,a\n");
    assert_string_equal(text, "kind,car,point,value,reason,id,at,by\n"
                              "retire,1,PC1,,r,c,2027-05-20T10:00:00Z,\n"
                              "revoke,,,b,r,a,,\n"
                              "penalty,2,,5,\"late, again\",b,,\n");
    free(text);
}

BEHAVIOUR(an_export_that_is_read_again_exports_the_same) {
    char *first = readings_of("point,car,time,by,note\nPC1,1,10:00,\"x;y\",\nPC1,2,10:01,z,a\n"
                              "PC1,2,10:01,z,\n");
    char *second = readings_of(first);
    assert_string_equal(second, first);
    free(first);
    free(second);
    first = decisions_of("kind,car,point,value,reason,note\npenalty,2,,5,r,\"a\nb\"\n");
    second = decisions_of(first);
    assert_string_equal(second, first);
    free(first);
    free(second);
}

BEHAVIOUR(an_empty_log_is_a_header) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE)};
    struct model *model = event_text_good(&texts);
    struct textbuf b = {0};
    assert_int_equal(export_readings(model->readings, &b), ERR_OK);
    assert_string_equal(textbuf_text(&b),
                        "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n");
    textbuf_clear(&b);
    model_free(model);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_stand_in_the_order_of_their_records),
        cmocka_unit_test(an_id_that_was_derived_is_not_written),
        cmocka_unit_test(fields_are_written_as_they_came),
        cmocka_unit_test(unknown_columns_come_last_in_the_order_of_their_names),
        cmocka_unit_test(decisions_are_written_likewise),
        cmocka_unit_test(an_export_that_is_read_again_exports_the_same),
        cmocka_unit_test(an_empty_log_is_a_header),
    };
    RUN_BEHAVIOURS(tests);
}
