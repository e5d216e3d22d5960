/* SPDX-License-Identifier: MIT */
#include "http/dispatch.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "http/answer.h"
#include "http/connections.h"
#include "live/cache.h"
#include "system/hard_limits.h"
#include "system/log.h"

static struct request *of_order(const struct order *order) {
    return order->context;
}

/* A suspended connection never tells that its client has gone; its socket does. Who has closed the
 * half that asks gets nothing either: no browser and no proxy does that and goes on listening. */
static bool has_gone(const struct request *r) {
    const union MHD_ConnectionInfo *socket =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (socket == NULL)
        return false;
    struct pollfd fd = {.fd = socket->connect_fd, .events = POLLRDHUP};
    return poll(&fd, 1, 0) > 0;
}

bool dispatch_is_given_up(struct request *r) {
    return r->connection != NULL && worker_pool_give_up(server_makers(r->server), &r->order);
}

bool dispatch_upload_is_given_up(void *request) {
    return dispatch_is_given_up(request);
}

/* ---- suspended and resumed ---- */

/* Suspended first: who makes or writes may be done before the caller returns. */
static void suspend(struct request *r) {
    r->waiting = r->counted = true;
    atomic_fetch_add(server_under_way(r->server), 1);
    MHD_suspend_connection(r->connection);
}

/* The end of the server does not wait for a client that is slow to fetch its page; word of a write
 * is waited for until it is sent, see completed in http.c. */
static void uncount(struct request *r) {
    if (r->counted)
        atomic_fetch_sub(server_under_way(r->server), 1);
    r->counted = false;
}

unsigned dispatch_refuse(struct request *r) {
    bool stopping = worker_pool_are_stopping(server_makers(r->server));
    r->refusal = stopping ? REFUSAL_STOPPING : REFUSAL_BUSY;
    return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                        stopping ? "The server is stopping; try again."
                                 : "Too many answers wait to be made; try again.");
}

/* ---- orders ---- */

/* What is dear waits while so much of it is being sent that memory would run out. */
static bool is_too_much(const struct request *r) {
    return r->role == ROLE_PUBLIC && answer_is_dear(r) &&
           atomic_load(server_large_bytes(r->server)) > LIMIT_LARGE_BYTES;
}

static void make_answer(struct order *order) {
    struct request *r = of_order(order);
    if (is_too_much(r))
        r->made_status = dispatch_refuse(r);
    else
        r->made = answer_make(r, &r->made_status);
}

static void share_answer(struct order *order, const struct order *made) {
    struct request *r = of_order(order);
    const struct request *from = of_order(made);
    r->made = from->made;
    r->made_status = from->made_status;
    r->refusal = from->refusal;
    textbuf_add(&r->detail, textbuf_text(&from->detail), from->detail.len);
    if (r->made != NULL)
        atomic_fetch_add(&r->made->refs, 1);
}

static void act(struct request *r) {
    r->media_type = "application/json";
    r->made_status = r->route->act(r, &r->told);
}

static void make_act(struct order *order) {
    act(of_order(order));
}

static void make_write(struct order *order) {
    struct request *r = of_order(order);
    r->made_status = r->route->write(r, r->write);
}

static bool order_is_gone(const struct order *order) {
    return has_gone(of_order(order));
}

/* Gives the write to the writer; the connection is suspended. */
static void submit(struct request *r) {
    if (write_queue_submit(server_write_queue(r->server), r->write) == ERR_OK)
        return;
    /* Nothing was taken, and the end does not wait for word of it. */
    uncount(r);
    r->write->result = WRITE_FAILED;
    r->write->revision = -1;
    r->refusal =
        worker_pool_are_stopping(server_makers(r->server)) ? REFUSAL_STOPPING : REFUSAL_QUEUE_FULL;
    MHD_resume_connection(r->connection);
}

/* The last that a maker does with a request, which may be gone once it is resumed or submitted. */
static void order_done(struct order *order, enum order_end end) {
    struct request *r = of_order(order);
    if (end == ORDER_GIVEN_UP)
        r->made_status = dispatch_refuse(r);
    if (r->route->write != NULL && r->made_status == 0) {
        r->made_status = MHD_HTTP_OK;
        submit(r);
    } else {
        MHD_resume_connection(r->connection);
    }
}

static enum turn turn_of(const struct request *r) {
    bool keyed = r->role != ROLE_PUBLIC;
    if (r->route->paper)
        return keyed ? TURN_PAPER : TURN_PUBLIC_PAPER;
    if (keyed || r->route->local)
        return TURN_KEYED;
    return r->route->render != NULL && answer_is_dear(r) ? TURN_DEAR : TURN_PUBLIC;
}

/* Hands the request to the makers.
 *   name  see struct order; NULL: it is made for this request alone */
static enum MHD_Result order(struct request *r, void (*make)(struct order *), const char *name) {
    r->order = (struct order){.turn = turn_of(r),
                              .context = r,
                              .scope = r->results,
                              .name = name,
                              /* A large answer is made in one coding only. */
                              .variant = answer_may_compress(r),
                              .make = make,
                              .share = share_answer,
                              .is_gone = order_is_gone,
                              .done = order_done};
    /* A proxy brings a crowd: it is whom it asks for that is counted. */
    if (r->role == ROLE_PUBLIC &&
        (visitor_is_limited(r->visitor) || request_header(r, "X-Forwarded-For") != NULL))
        r->order.address_len = request_address(r, r->order.address);
    suspend(r);
    if (worker_pool_take(server_makers(r->server), &r->order))
        return MHD_YES;
    /* To the end pages are read: who comes after the makers have gone home is served here. */
    if (worker_pool_are_stopping(server_makers(r->server)) && r->order.turn <= TURN_PUBLIC) {
        make(&r->order);
        order_done(&r->order, ORDER_MADE);
    } else {
        order_done(&r->order, ORDER_GIVEN_UP);
    }
    return MHD_YES;
}

/* ---- reads ---- */

static enum MHD_Result tell_answer(struct request *r) {
    if (r->made == NULL)
        return answer_error(r, r->made_status, NULL);
    enum MHD_Result result = answer_queue(r, r->made);
    answer_release(r->made);
    r->made = NULL;
    return result;
}

static enum MHD_Result read_answer(struct request *r) {
    r->made = answer_kept(r);
    if (r->made != NULL)
        return tell_answer(r);
    if (r->route->at_once) {
        r->made = answer_make(r, &r->made_status);
        return tell_answer(r);
    }
    return order(r, make_answer,
                 r->name.len > 0 && !r->name.failed ? textbuf_text(&r->name) : NULL);
}

/* ---- what asks for something that is no fact of the event ---- */

static enum MHD_Result tell_act(struct request *r) {
    struct MHD_Response *response =
        r->made_status == MHD_HTTP_OK ? answer_private(&r->told, r->media_type) : NULL;
    if (response == NULL) {
        if (r->made_status == MHD_HTTP_OK)
            r->made_status =
                request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
        return answer_error(r, r->made_status, NULL);
    }
    return answer_send(r, r->made_status, response);
}

static enum MHD_Result begin_act(struct request *r) {
    if (!r->route->at_once)
        return order(r, make_act, NULL);
    act(r);
    return tell_act(r);
}

/* ---- writes ---- */

/* Called by the writer's thread. The loop that owns the connection calls the handler again. */
static void write_done(struct write *write) {
    struct request *r = write->context;
    MHD_resume_connection(r->connection);
}

static const char *header_or_nothing(const struct request *r, const char *name) {
    const char *value = request_header(r, name);
    return value == NULL ? "" : value;
}

static enum MHD_Result begin_write(struct request *r) {
    struct write *write = calloc(1, sizeof *write);
    char *body = r->body != NULL ? r->body : strdup("");
    if (write == NULL || body == NULL) {
        free(write);
        if (body != r->body)
            free(body);
        return MHD_NO;
    }
    write->served = r->served;
    write->done = write_done;
    write->context = r;
    write->media_type = header_or_nothing(r, MHD_HTTP_HEADER_CONTENT_TYPE);
    write->if_match = header_or_nothing(r, MHD_HTTP_HEADER_IF_MATCH);
    memcpy(write->key_hash, r->key_hash, sizeof write->key_hash);
    write->body = body;
    write->len = r->body_len;
    r->body = NULL;
    r->write = write;
    if (write->len > LIMIT_BODY_AT_ONCE)
        return order(r, make_write, NULL);
    unsigned status = r->route->write(r, write);
    if (status != 0)
        return answer_error(r, status, NULL);
    r->made_status = MHD_HTTP_OK;
    suspend(r);
    submit(r);
    return MHD_YES;
}

static enum MHD_Result tell_write(struct request *r) {
    const struct write *write = r->write;
    struct textbuf b = {0};
    if (r->made_status != MHD_HTTP_OK)
        return answer_error(r, r->made_status, NULL); /* it never came to the writer */
    switch (write->result) {
    case WRITE_UNAUTHORISED:
        if (write->kind == WRITE_CREW_ENQUIRY) {
            (void)request_fail(r, 0, "The code is not in force any more.");
            return answer_error(r, MHD_HTTP_FORBIDDEN, NULL);
        }
        (void)request_fail(r, 0, "The key is not in force for this event.");
        return answer_error(r, MHD_HTTP_UNAUTHORIZED, NULL);
    case WRITE_STALE:
        (void)request_fail(
            r, 0, "Somebody else was first; nothing was changed. Look again, then decide.");
        return answer_error(r, MHD_HTTP_PRECONDITION_FAILED, NULL);
    case WRITE_NOT_YET:
        (void)request_fail(r, 0, "Something stands in the way; nothing was changed.");
        return answer_error(r, MHD_HTTP_CONFLICT, NULL);
    case WRITE_REFUSED:
        (void)request_fail(r, 0, "The document is wrong; nothing was changed.");
        return answer_error(r, MHD_HTTP_UNPROCESSABLE_CONTENT, NULL);
    case WRITE_FAILED:
        if (write->revision < 0)
            (void)request_fail(r, 0, "The server is stopping, or too many writes wait; try again.");
        else if (write->why.len == 0 && served_event_trouble(r->served) != NULL)
            (void)request_fail(r, 0, "%s", served_event_trouble(r->served));
        else
            (void)request_fail(r, 0,
                               "The machine could not keep it; nothing was changed. Try again.");
        if (write->why.len > 0)
            log_error(r->served->slug, "%s", textbuf_text(&write->why));
        return answer_error(r, MHD_HTTP_SERVICE_UNAVAILABLE, NULL);
    case WRITE_DONE:
        break;
    }
    r->route->tell(r, write, &b);
    if (r->route->moves)
        return answer_move(r, &b);
    struct MHD_Response *response = answer_private(&b, "application/json");
    return response == NULL ? MHD_NO : answer_send(r, MHD_HTTP_OK, response);
}

/* ---- all ---- */

enum MHD_Result dispatch_begin(struct request *r) {
    if (r->route->special != NULL)
        return r->route->special(r);
    if (r->route->act != NULL)
        return begin_act(r);
    return r->route->write != NULL ? begin_write(r) : read_answer(r);
}

enum MHD_Result dispatch_end(struct request *r) {
    if (r->route->write != NULL)
        return tell_write(r);
    enum MHD_Result result = r->route->act != NULL ? tell_act(r) : tell_answer(r);
    uncount(r);
    return result;
}
