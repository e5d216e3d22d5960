/* SPDX-License-Identifier: MIT */
/* api.h - the handlers of the HTTP API, for the table of routes. What each takes and answers is
 * told in schema/openapi.yaml; see route_table.h for what a handler is.
 *
 * A read (`api_`) and an action (`act_`) write their body and return the HTTP status. A write
 * (`write_`) goes to the event's writer. */
#ifndef CAIRN_API_H
#define CAIRN_API_H

#include "http/route_table.h"

/* ---- the server ---- */

/* That it is there, and whether events can be written. */
unsigned api_health(struct request *r, struct textbuf *b);
/* Its figures in the OpenMetrics text format. */
unsigned api_metrics(struct request *r, struct textbuf *b);
/* The description of this API. */
unsigned api_openapi(struct request *r, struct textbuf *b);
/* How the machine is doing, for an event's organiser: a line a thing, each with a word whether it
 * is fine. Of the machine sums are told; of events only the organiser's own, and no path. */
unsigned api_status(struct request *r, struct textbuf *b);

/* ---- events and their figures ---- */

/* The list of events; one event with its route. */
unsigned api_events(struct request *r, struct textbuf *b);
unsigned api_event(struct request *r, struct textbuf *b);
/* Tables, the card of a car, the start list of a day; as JSON or CSV. */
unsigned api_standings(struct request *r, struct textbuf *b);
unsigned api_test(struct request *r, struct textbuf *b);
unsigned api_card(struct request *r, struct textbuf *b);
unsigned api_starts(struct request *r, struct textbuf *b);
/* The prizes as they will be read out. */
unsigned api_prizes(struct request *r, struct textbuf *b);

/* ---- papers ---- */

/* What the routes of the same names tell as JSON, set out for print as PDF; 503 where the
 * libraries for it are missing. */
unsigned paper_notice(struct request *r, struct textbuf *b);
unsigned paper_standings(struct request *r, struct textbuf *b);
unsigned paper_starts(struct request *r, struct textbuf *b);
unsigned paper_card(struct request *r, struct textbuf *b);
unsigned paper_control(struct request *r, struct textbuf *b);
unsigned paper_desk(struct request *r, struct textbuf *b);
unsigned paper_prizes(struct request *r, struct textbuf *b);
unsigned paper_codes(struct request *r, struct textbuf *b);

/* ---- notices and enquiries ---- */

/* All notices, oldest first; one as it was sealed, with its hash, signature and signer: what
 * `cairn verify` reads. */
unsigned api_notices(struct request *r, struct textbuf *b);
unsigned api_notice(struct request *r, struct textbuf *b);
extern const struct write_handler write_notice;
/* What a classification posted now would say, and what stands in its way. */
unsigned api_classification(struct request *r, struct textbuf *b);
/* Enquiries and protests with their answers; opens one; answers one. */
unsigned api_enquiries(struct request *r, struct textbuf *b);
extern const struct write_handler write_enquiry;
extern const struct write_handler write_answer;
/* A crew opens a case by its car's code, and reads its cases. */
extern const struct write_handler write_crew_enquiry;
unsigned act_crew_cases(struct request *r, struct textbuf *b);

/* ---- desks ---- */

/* The server's clock, for desks to set theirs by. */
unsigned api_clock(struct request *r, struct textbuf *b);
/* The event as a desk needs it: the points of its key, and the cars. */
unsigned api_desk(struct request *r, struct textbuf *b);
/* The cars expected at a point, in order, and which were seen. */
unsigned api_expected(struct request *r, struct textbuf *b);
extern const struct write_handler write_readings;
/* Takes a desk's report on itself. */
unsigned act_desk_report(struct request *r, struct textbuf *b);
/* For the office: every desk with its sequence numbers, gaps and latest report; the readings that a
 * desk has put a flag on. */
unsigned api_desks(struct request *r, struct textbuf *b);
unsigned api_flags(struct request *r, struct textbuf *b);

/* ---- documents ---- */

/* Byte by byte as they were sent. Their tags go into If-Match of a PUT. */
unsigned api_rules(struct request *r, struct textbuf *b);
unsigned api_entries(struct request *r, struct textbuf *b);
extern const struct write_handler write_rules;
extern const struct write_handler write_entries;
/* Makes the start list of a day by a plan. */
extern const struct write_handler write_starts;
/* What would come of new rules or a new entry list: what is wrong or doubtful in them, which cars
 * would be added, changed or gone, which facts would lose their place; of rules also who would move
 * where. Nothing is changed. */
unsigned act_try_rules(struct request *r, struct textbuf *b);
unsigned act_try_entries(struct request *r, struct textbuf *b);
/* Worked examples of one item's rules. */
unsigned act_examples(struct request *r, struct textbuf *b);
/* The entry list from one that was pasted, and with numbers by age: both tell what would come of
 * it, with the list to be sent by PUT. */
unsigned act_import_entries(struct request *r, struct textbuf *b);
unsigned act_number_entries(struct request *r, struct textbuf *b);

/* ---- the office ---- */

/* Every decision in the order of arrival, and whether it holds. The tag goes into If-Match of a
 * POST. */
unsigned api_decisions(struct request *r, struct textbuf *b);
extern const struct write_handler write_decisions;
/* What decisions or readings would do, were they sent now. Changes nothing. */
unsigned act_effects(struct request *r, struct textbuf *b);
/* Readings in the order of arrival, and whether each counts. */
unsigned api_readings(struct request *r, struct textbuf *b);
/* Every point with how many cars are expected, seen, missing and awaited there. */
unsigned api_points(struct request *r, struct textbuf *b);
/* Every car with where it was last seen and where it is due next. No safety system. */
unsigned api_road(struct request *r, struct textbuf *b);
/* Everything doubtful with its evidence, what moves places first; rows of uploads that were refused
 * and not taken since; what was acknowledged, by whom and why. */
unsigned api_doubts(struct request *r, struct textbuf *b);
unsigned api_refusals(struct request *r, struct textbuf *b);
unsigned api_acknowledgements(struct request *r, struct textbuf *b);
/* Acknowledges a doubtful thing that needs no ruling, or takes it up again. */
extern const struct write_handler write_acknowledgement;
/* The log of the event, the newest first, a page at a time; one entry, with who moved where. */
unsigned api_log(struct request *r, struct textbuf *b);
unsigned api_log_entry(struct request *r, struct textbuf *b);
/* For a server that stands by: all facts that a side which holds some lacks; see facts_digest.h. */
unsigned api_facts(struct request *r, struct textbuf *b);

/* ---- keys and codes ---- */

/* Lists the keys without their text. A new key is told once, in the answer that made it, with a
 * link that opens its page and the link's QR code; in the link it stands in the fragment, which no
 * browser sends and no log sees. */
unsigned api_keys(struct request *r, struct textbuf *b);
extern const struct write_handler write_key;
extern const struct write_handler write_revocation;
/* Every car with its crew and code; a new code for one, told in the answer. */
unsigned api_codes(struct request *r, struct textbuf *b);
extern const struct write_handler write_code_renewal;

#endif
