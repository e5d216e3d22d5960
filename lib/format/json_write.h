/* SPDX-License-Identifier: MIT */
/* json_write.h - JSON (RFC 8259) written straight into a text buffer; no tree is built first.
 *
 * The writer has no state of its own, so that objects may be as deep as they like and any function
 * may write members or values wherever its caller left off. Whether a comma is due follows from the
 * last byte in the buffer: a quote, a closing bracket, a digit or a lower-case letter ends a whole
 * value, while an opening bracket, a colon, a blank or a line end does not. Text that is not JSON
 * and stands before a document must therefore not end like a value; "data: " and "\n" do not. The
 * caller opens and closes in pairs and gives each key one value; nothing here checks that.
 *
 * Every text is escaped: quotes, backslashes and control characters as JSON demands, and "<", ">"
 * and "&" too, so that the result is safe inside a page. Texts are valid UTF-8.
 *
 * Where memory is out the buffer is marked as failed and later writes do nothing. Not thread-safe:
 * one owner of the buffer at a time. */
#ifndef CAIRN_JSON_WRITE_H
#define CAIRN_JSON_WRITE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct textbuf; /* base/textbuf.h */

/* A value: the whole document, an element of an array, or what a key stands before. */
void json_write_text(struct textbuf *b, const char *text);
void json_write_int(struct textbuf *b, int64_t value);
void json_write_bool(struct textbuf *b, bool value);
void json_write_null(struct textbuf *b);

/* A text of thousandths with three decimals: "12.500". */
void json_write_decimal(struct textbuf *b, int64_t thousandths);

/* A text HH:MM:SS with `decimals` (0 .. 3) decimals at least, as time_write; null where there is no
 * time.
 *   ms  milliseconds from midnight, or TIME_NONE */
void json_write_time(struct textbuf *b, int64_t ms, int decimals);

/* A value that is JSON already, or members with the commas between them; taken as it is. */
void json_write_raw(struct textbuf *b, const char *json, size_t len);

/* Objects and arrays, at any depth. The caller closes what it opened. */
void json_open_object(struct textbuf *b);
void json_close_object(struct textbuf *b);
void json_open_array(struct textbuf *b);
void json_close_array(struct textbuf *b);

/* Closes the object that is the whole document, and ends the line. */
void json_close_document(struct textbuf *b);

/* A text that other functions append in pieces: what is in the buffer between the two calls is its
 * content, and is escaped by the second.
 *   from  what json_open_text returned */
size_t json_open_text(struct textbuf *b);
void json_close_text(struct textbuf *b, size_t from);

/* The next member or value begins on a line of its own. */
void json_line(struct textbuf *b);

/* The key of a member; its value comes next. */
void json_key(struct textbuf *b, const char *key);

/* A whole member: a key and its value. */
void json_member_text(struct textbuf *b, const char *key, const char *text);
void json_member_int(struct textbuf *b, const char *key, int64_t value);
void json_member_bool(struct textbuf *b, const char *key, bool value);
void json_member_null(struct textbuf *b, const char *key);
void json_member_decimal(struct textbuf *b, const char *key, int64_t thousandths);
void json_member_time(struct textbuf *b, const char *key, int64_t ms, int decimals);

/* A member whose text is the bytes in hexadecimal, two lower-case digits each. */
void json_member_hex(struct textbuf *b, const char *key, const unsigned char *bytes, size_t len);

/* As json_member_text; null where `text` is NULL. */
void json_member_text_or_null(struct textbuf *b, const char *key, const char *text);

/* As json_member_int; null where the value is not above 0: for what is counted from 1 (a place, a
 * day, a serial number) and may be missing. */
void json_member_positive(struct textbuf *b, const char *key, int64_t value);

/* A key and the opening of its object or array. */
void json_member_object(struct textbuf *b, const char *key);
void json_member_array(struct textbuf *b, const char *key);

#endif
