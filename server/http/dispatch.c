/* SPDX-License-Identifier: MIT */
#include "http/dispatch.h"

#include <poll.h>
#include <string.h>

#include "base/err.h"
#include "http/answer.h"
#include "http/connections.h"
#include "http/error_answer.h"
#include "http/response.h"
#include "http/server_private.h"
#include "http/stream.h"
#include "live/write.h"
#include "system/hard_limits.h"
#include "system/log.h"

static const struct handler *handler_of(const struct exchange *x) {
    return &x->request.route->handler;
}

static struct exchange *exchange_of(const struct task *task) {
    return task->context;
}

/* A suspended connection never tells that its client has gone; its socket does. Who has closed the
 * half that asks gets nothing either: no browser and no proxy does that and goes on listening. */
static bool has_gone(const struct exchange *x) {
    const union MHD_ConnectionInfo *socket =
        MHD_get_connection_info(x->request.connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (socket == NULL)
        return false;
    struct pollfd fd = {.fd = socket->connect_fd, .events = POLLRDHUP};
    return poll(&fd, 1, 0) > 0;
}

/* ---- suspended and resumed ---- */

/* Suspended first: who makes or writes may be done before the caller returns. */
static void suspend(struct exchange *x) {
    x->waiting = x->counted = true;
    atomic_fetch_add(&x->request.server->under_way, 1);
    MHD_suspend_connection(x->request.connection);
}

/* The end of the server does not wait for a client that is slow to fetch its page; the answer to a
 * write is waited for until it is sent, see exchange_end. */
static void uncount(struct exchange *x) {
    if (x->counted)
        atomic_fetch_sub(&x->request.server->under_way, 1);
    x->counted = false;
}

/* ---- tasks ---- */

/* What is expensive waits while so much of it is being sent that memory would run out. */
static bool is_too_much(const struct exchange *x) {
    return x->request.role == ROLE_PUBLIC && answer_is_expensive(&x->request) &&
           atomic_load(&x->request.server->large_bytes) > LIMIT_LARGE_BYTES;
}

static void make_answer(struct task *task) {
    struct exchange *x = exchange_of(task);
    if (is_too_much(x))
        x->made_status = request_abandon(&x->request);
    else
        x->made = answer_make(x, &x->made_status);
}

static void share_answer(struct task *task, const struct task *made) {
    struct exchange *x = exchange_of(task);
    const struct exchange *from = exchange_of(made);
    x->made = from->made;
    x->made_status = from->made_status;
    x->refusal = from->refusal;
    if (x->made != NULL)
        atomic_fetch_add(&x->made->refs, 1);
    else
        (void)request_fail(&x->request, 0, "%s", from->request.detail);
}

static void act(struct exchange *x) {
    x->request.media_type = "application/json";
    x->made_status = handler_of(x)->act(&x->request, &x->result);
    if (x->made_status == MHD_HTTP_OK)
        request_memory_clear(&x->request);
}

static void make_act(struct task *task) {
    act(exchange_of(task));
}

/* Called by the writer's thread. The loop that owns the connection calls the handler again. */
static void write_done(struct write *write) {
    struct exchange *x = write->context;
    MHD_resume_connection(x->request.connection);
}

/* Makes the write of a request. Returns 0, or the status of an error described. */
static unsigned prepare(struct exchange *x) {
    struct request *r = &x->request;
    const char *if_match = request_header(r, MHD_HTTP_HEADER_IF_MATCH);
    unsigned status = handler_of(x)->write->prepare(r, &x->write);
    if (status != 0)
        return status;
    x->write->served = r->served;
    x->write->done = write_done;
    x->write->context = x;
    x->write->if_match = if_match == NULL ? "" : if_match;
    memcpy(x->write->key_hash, r->key_hash, sizeof x->write->key_hash);
    return 0;
}

static void make_write(struct task *task) {
    struct exchange *x = exchange_of(task);
    x->made_status = prepare(x);
}

static bool client_is_gone(const struct task *task) {
    return has_gone(exchange_of(task));
}

/* Gives the write to the writer; the connection is suspended. */
static void submit(struct exchange *x) {
    const struct server *server = x->request.server;
    if (write_submit(x->write) == ERR_OK)
        return;
    /* Nothing was taken, and the end does not wait for its answer. */
    uncount(x);
    x->write->result = WRITE_NOT_QUEUED;
    x->refusal = worker_pool_is_stopping(server->workers) ? REFUSAL_STOPPING : REFUSAL_QUEUE_FULL;
    MHD_resume_connection(x->request.connection);
}

/* The last that a worker does with a request, which may be gone once it is resumed or submitted. */
static void task_done(struct task *task, enum task_end end) {
    struct exchange *x = exchange_of(task);
    if (end == TASK_ABANDONED)
        x->made_status = request_abandon(&x->request);
    if (handler_of(x)->sort == HANDLER_WRITE && x->made_status == 0) {
        x->made_status = MHD_HTTP_OK;
        submit(x);
    } else {
        MHD_resume_connection(x->request.connection);
    }
}

static enum task_kind kind_of(const struct request *r) {
    bool keyed = r->role != ROLE_PUBLIC;
    if (route_is(r->route, ROUTE_PAPER))
        return keyed ? TASK_PAPER : TASK_PUBLIC_PAPER;
    if (keyed || route_is(r->route, ROUTE_LOCAL))
        return TASK_KEYED;
    return r->route->handler.sort == HANDLER_READ && answer_is_expensive(r) ? TASK_EXPENSIVE
                                                                            : TASK_PUBLIC;
}

/* Hands the request to the workers.
 *   name  see struct task; NULL: it is made for this request alone */
static enum MHD_Result start_task(struct exchange *x, void (*make)(struct task *),
                                  const char *name) {
    struct request *r = &x->request;
    struct worker_pool *workers = r->server->workers;
    x->task = (struct task){.kind = kind_of(r),
                            .context = x,
                            .scope = r->results,
                            .name = name,
                            /* A large answer is made in one coding only. */
                            .variant = answer_may_compress(r),
                            .make = make,
                            .share = share_answer,
                            .is_gone = client_is_gone,
                            .done = task_done};
    /* A proxy brings a crowd: it is whom it asks for that is counted. */
    if (r->role == ROLE_PUBLIC &&
        (client_is_limited(x->client) || request_header(r, "X-Forwarded-For") != NULL))
        x->task.address_len = request_address(r, x->task.address);
    suspend(x);
    if (worker_pool_submit(workers, &x->task))
        return MHD_YES;
    /* While the server stops, pages are still served: on this thread, once the workers have ended.
     */
    if (worker_pool_is_stopping(workers) && x->task.kind <= TASK_PUBLIC) {
        make(&x->task);
        task_done(&x->task, TASK_MADE);
    } else {
        task_done(&x->task, TASK_ABANDONED);
    }
    return MHD_YES;
}

/* ---- reads ---- */

static enum MHD_Result answer_read(struct exchange *x) {
    if (x->made == NULL)
        return error_answer(x, x->made_status, NULL);
    enum MHD_Result result = answer_queue(x, x->made);
    answer_release(x->made);
    x->made = NULL;
    return result;
}

static enum MHD_Result begin_read(struct exchange *x) {
    x->made = answer_kept(x);
    if (x->made != NULL)
        return answer_read(x);
    if (route_is(x->request.route, ROUTE_AT_ONCE)) {
        x->made = answer_make(x, &x->made_status);
        return answer_read(x);
    }
    return start_task(x, make_answer,
                      x->cache_key.len > 0 && !x->cache_key.failed ? textbuf_text(&x->cache_key)
                                                                   : NULL);
}

/* ---- actions ---- */

static enum MHD_Result answer_action(struct exchange *x) {
    struct MHD_Response *response =
        x->made_status == MHD_HTTP_OK ? response_private(&x->result, x->request.media_type) : NULL;
    if (response == NULL && x->made_status == MHD_HTTP_OK)
        x->made_status = request_no_memory(&x->request);
    return response == NULL ? error_answer(x, x->made_status, NULL)
                            : response_send(x, x->made_status, response);
}

static enum MHD_Result begin_action(struct exchange *x) {
    if (!route_is(x->request.route, ROUTE_AT_ONCE))
        return start_task(x, make_act, NULL);
    act(x);
    return answer_action(x);
}

/* ---- writes ---- */

static enum MHD_Result begin_write(struct exchange *x) {
    if (x->request.body_len > LIMIT_BODY_AT_ONCE)
        return start_task(x, make_write, NULL);
    unsigned status = prepare(x);
    if (status != 0)
        return error_answer(x, status, NULL);
    x->made_status = MHD_HTTP_OK;
    suspend(x);
    submit(x);
    return MHD_YES;
}

/* Describes why the machine did not keep a write. Returns the status. */
static unsigned machine_failure(struct exchange *x) {
    const struct write *write = x->write;
    const struct served_event *served = x->request.served;
    const char *why = "The machine could not keep it; nothing was changed. Try again.";
    if (write->why.len > 0)
        log_error(served->slug, "%s", textbuf_text(&write->why));
    if (write->result == WRITE_NOT_QUEUED)
        why = "The server is stopping, or too many writes wait; try again.";
    else if (write->why.len == 0 && served_event_trouble(served) != NULL)
        why = served_event_trouble(served);
    return request_fail(&x->request, MHD_HTTP_SERVICE_UNAVAILABLE, "%s", why);
}

/* Describes why a write was not done. Returns the status; 0 where it was done. */
static unsigned write_failure(struct exchange *x) {
    struct request *r = &x->request;
    const struct write *write = x->write;
    switch (write->result) {
    case WRITE_DONE:
        break;
    case WRITE_UNAUTHORISED:
        return request_fail(r, MHD_HTTP_UNAUTHORIZED, "The key is not in force for this event.");
    case WRITE_WRONG_CODE:
        return request_fail(r, MHD_HTTP_FORBIDDEN, "The code is not in force any more.");
    case WRITE_STALE:
        return request_fail(
            r, MHD_HTTP_PRECONDITION_FAILED,
            "Somebody else was first; nothing was changed. Look again, then decide.");
    case WRITE_NOT_YET:
        return request_fail(r, MHD_HTTP_CONFLICT,
                            "Something stands in the way; nothing was changed.");
    case WRITE_REFUSED:
        return request_fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT,
                            "The document is wrong; nothing was changed.");
    case WRITE_FAILED:
    case WRITE_NOT_QUEUED:
        return machine_failure(x);
    }
    return 0;
}

static enum MHD_Result answer_write(struct exchange *x) {
    const struct write_handler *write = handler_of(x)->write;
    struct textbuf b = {0};
    /* Another status than 200 is of one that never came to the writer. */
    unsigned status = x->made_status != MHD_HTTP_OK ? x->made_status : write_failure(x);
    if (status != 0)
        return error_answer(x, status, NULL);
    write->answer(&x->request, x->write, &b);
    request_memory_clear(&x->request);
    if (write->redirects)
        return response_redirect(x, MHD_HTTP_SEE_OTHER, &b);
    struct MHD_Response *response = response_private(&b, "application/json");
    return response == NULL ? MHD_NO : response_send(x, MHD_HTTP_OK, response);
}

/* ---- all ---- */

enum MHD_Result dispatch_begin(struct exchange *x) {
    switch (handler_of(x)->sort) {
    case HANDLER_READ:
        return begin_read(x);
    case HANDLER_ACTION:
        return begin_action(x);
    case HANDLER_WRITE:
        return begin_write(x);
    case HANDLER_STREAM:
        return stream_open(x);
    }
    return MHD_NO;
}

enum MHD_Result dispatch_end(struct exchange *x) {
    enum handler_sort sort = handler_of(x)->sort;
    if (sort == HANDLER_WRITE)
        return answer_write(x);
    enum MHD_Result result = sort == HANDLER_ACTION ? answer_action(x) : answer_read(x);
    uncount(x);
    return result;
}
