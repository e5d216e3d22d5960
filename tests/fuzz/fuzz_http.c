/* SPDX-License-Identifier: MIT */
/* Any bytes as a request to a whole server, over a real socket: paths, parameters, tags, languages,
 * keys and bodies of every address. What comes back must be a whole answer, its JSON JSON, its text
 * UTF-8.
 *
 * The first byte says how the rest is sent: bit 0 with the organiser's key, bit 1 with the
 * timekeeper's, bit 2 in two parts, bit 3 as it is. Otherwise the rest is "METHOD TARGET", lines of
 * headers, an empty line and a body; what HTTP wants besides is put in. */
#include <arpa/inet.h>
#include <errno.h>
#include <jansson.h>
#include <sodium.h>
#include <stdio.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/utf8.h"
#include "commands/commands.h"
#include "fuzz_folder.h"
#include "http/server.h"
#include "site/routes.h"
#include "store/keys.h"
#include "store/store.h"
#include "store/stored_keys.h"
#include "system/hard_limits.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { ORGANISER = 1, TIMEKEEPER = 2, IN_PARTS = 4, AS_IT_IS = 8 };
enum { WRITES_MAX = 50, ANSWER_MAX = 1 << 20, PATIENCE = 60000, HASTE = 20 };

static const char organiser_key[] = "0000000000000000000000000000aaaa";
static const char timekeeper_key[] = "0000000000000000000000000000bbbb";

/* The server under test, and how much it has taken: facts only grow, so it begins anew in time. */
static struct {
    struct server *server;
    char folder[64];
    int writes;
    bool ends_at_exit;
} site;

static void must(bool holds, const char *what) {
    if (holds)
        return;
    (void)fprintf(stderr, "fuzz_http: %s\n", what);
    abort();
}

static void path_to(char *path, size_t size, const char *name) {
    (void)snprintf(path, size, "%s/%s", site.folder, name);
}

static void write_file(const char *name, const struct file_text *text) {
    char path[256];
    path_to(path, sizeof path, name);
    FILE *file = fopen(path, "wb");
    must(file != NULL && fwrite(text->text, 1, text->len, file) == text->len && fclose(file) == 0,
         "cannot write the event folder");
}

static void remove_folder(void) {
    static const char *const names[] = {"event.json",     "entries.csv",  "readings.csv",
                                        "decisions.csv",  "fell.cairn",   "fell.cairn-wal",
                                        "fell.cairn-shm", "fell.signing", "fell.cairn-lock"};
    char path[256];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        path_to(path, sizeof path, names[i]);
        (void)unlink(path);
    }
    (void)rmdir(site.folder);
}

static void end_site(void) {
    if (site.server == NULL)
        return;
    server_stop(site.server);
    site.server = NULL;
    remove_folder();
}

static void add_key(struct store *store, const char *key, bool organiser, const char *points) {
    unsigned char hash[32];
    key_hash(key, hash);
    must(store_begin(store) == ERR_OK &&
             store_add_key(store, hash, organiser, points, "", 0, NULL) == ERR_OK &&
             store_commit(store) == ERR_OK,
         "cannot add a key");
}

static void begin_site(void) {
    const struct event_files files = fuzz_files();
    struct store *store = NULL;
    struct textbuf why = {0};
    char path[256];
    (void)snprintf(site.folder, sizeof site.folder, "%s/cairn-fuzz-XXXXXX",
                   access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    must(sodium_init() >= 0 && mkdtemp(site.folder) != NULL, "no folder");
    write_file("event.json", &files.rules);
    write_file("entries.csv", &files.entries);
    write_file("readings.csv", &files.readings);
    write_file("decisions.csv", &files.decisions);
    char command[] = "import";
    char *arguments[] = {command, site.folder, site.folder, NULL};
    must(command_run(&command_import, 3, arguments) == EXIT_GOOD, "cannot import the event");
    path_to(path, sizeof path, "fell.cairn");
    must(store_open(path, STORE_OPEN, &store, NULL) == ERR_OK, "cannot open the event");
    add_key(store, organiser_key, true, "");
    add_key(store, timekeeper_key, false, "TC1,R1");
    store_close(store);
    const struct server_options options = {
        .data_dir = site.folder, .host = "127.0.0.1", .patience_s = LIMIT_BODY_SECONDS};
    must(server_start(&site_app, &options, &why, &site.server) == ERR_OK, "cannot serve");
    textbuf_clear(&why);
    site.writes = 0;
    if (!site.ends_at_exit)
        (void)atexit(end_site);
    site.ends_at_exit = true;
}

/* Puts the request together; see the top. */
static void write_request(struct textbuf *b, unsigned how, const char *text, size_t size) {
    if (how & AS_IT_IS) {
        textbuf_add(b, text, size);
        return;
    }
    const char *end = text + size;
    const char *line = text;
    bool first = true;
    while (line < end) {
        const char *stop = memchr(line, '\n', (size_t)(end - line));
        size_t len = stop == NULL ? (size_t)(end - line) : (size_t)(stop - line);
        if (!first && len == 0)
            break;
        textbuf_add(b, line, len);
        textbuf_puts(b,
                     first ? " HTTP/1.1\r\nHost: fell.example\r\nConnection: close\r\n" : "\r\n");
        if (first && (how & (ORGANISER | TIMEKEEPER)))
            textbuf_printf(b, "Authorization: Bearer %s\r\n",
                           how & ORGANISER ? organiser_key : timekeeper_key);
        first = false;
        line += len + (stop != NULL);
    }
    line += line < end;
    if (line < end)
        textbuf_printf(b, "Content-Length: %zu\r\n", (size_t)(end - line));
    textbuf_puts(b, "\r\n");
    textbuf_add(b, line, (size_t)(end - line));
}

/* True where a head is one that must be answered: a target, and headers with names. What is no HTTP
 * may be cut off without a word. */
static bool is_plain(const struct textbuf *request) {
    const char *text = textbuf_text(request);
    const char *space = strchr(text, ' ');
    size_t method = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ");
    if (method == 0 || method > 20 || space != text + method || space[1] != '/')
        return false;
    for (const char *line = text; strncmp(line, "\r\n", 2) != 0; line = strchr(line, '\n') + 1) {
        size_t len = strcspn(line, "\n");
        size_t name = strcspn(line, ":\n");
        if (line[len] == '\0' || (line > text && (name == 0 || name == len ||
                                                  strcspn(line, " \t\"(),/;<=>?@[]{}") < name)))
            return false;
        for (size_t i = 0; i + 1 < len; i++) {
            unsigned char c = (unsigned char)line[i];
            if (c < ' ' || c >= 0x7f ||
                (line == text && c == ' ' && i != method &&
                 strncmp(line + i, " HTTP/1.1\r", 10) != 0))
                return false;
        }
    }
    /* What changes how a body is framed may leave its end in doubt. */
    return strcasestr(text, "\nTransfer-Encoding") == NULL &&
           strcasestr(text, "\nExpect") == NULL && strcasestr(text, "\nUpgrade") == NULL;
}

/*   patience  milliseconds without a byte */
static int dial(long patience) {
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)server_port(site.server)),
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    const struct timeval wait = {patience / 1000, patience % 1000 * 1000};
    /* Gone without a trace: no port waits for late packets. */
    const struct linger at_once = {1, 0};
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    (void)setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &wait, sizeof wait);
    (void)setsockopt(fd, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
    must(connect(fd, (const struct sockaddr *)&address, sizeof address) == 0, "nobody answers");
    return fd;
}

/* Reads until the server closes, or a stream has begun.
 *   end  one must come: else the library may wait for the rest of what it took for a request */
static void read_answer(int fd, bool end, struct textbuf *answer) {
    static char part[65536];
    while (answer->len < ANSWER_MAX) {
        ssize_t n;
        do /* the fuzzer's own clock ticks by a signal */
            n = recv(fd, part, sizeof part, 0);
        while (n < 0 && errno == EINTR);
        if (n <= 0) {
            must(!end || n == 0 || errno == ECONNRESET, "no end comes");
            return;
        }
        textbuf_add(answer, part, (size_t)n);
        /* In the head alone: what was posted may say so too. */
        const char *stream = strstr(textbuf_text(answer), "text/event-stream");
        const char *head_end = strstr(textbuf_text(answer), "\r\n\r\n");
        if (stream != NULL && head_end != NULL && stream < head_end)
            return;
    }
}

static void send_parts(int fd, const struct textbuf *request, unsigned how) {
    size_t half = how & IN_PARTS ? request->len / 2 : request->len;
    ssize_t sent = send(fd, request->bytes, half, MSG_NOSIGNAL);
    if (sent == (ssize_t)half && half < request->len)
        (void)send(fd, request->bytes + half, request->len - half, MSG_NOSIGNAL);
    /* Of bytes as they are nobody knows whether more is to come. */
    if (how & AS_IT_IS)
        (void)shutdown(fd, SHUT_WR);
}

static bool head_says(const char *head, const char *text) {
    return strcasestr(head, text) != NULL;
}

static void check_body(const char *head, const char *body, size_t len) {
    bool packed = head_says(head, "\r\nContent-Encoding: gzip");
    bool json = head_says(head, "\r\nContent-Type: application/json") ||
                head_says(head, "\r\nContent-Type: application/problem+json");
    if (len == 0 || packed)
        return;
    if (json) {
        json_t *root = json_loadb(body, len, JSON_ALLOW_NUL, NULL);
        must(root != NULL, "an answer that is no JSON");
        json_decref(root);
    }
    bool text = json || head_says(head, "\r\nContent-Type: text/");
    if (text && !utf8_valid(body, len)) {
        (void)fprintf(stderr, "%s\n", head);
        (void)fwrite(body, 1, len, stderr); /* what came before made it: the input alone may not */
        must(false, "an answer that is no UTF-8");
    }
}

/* A whole answer, and none that says that the machine failed. */
static void check_answer(struct textbuf *answer, bool plain) {
    if (answer->len == 0) {
        must(!plain, "no answer");
        return;
    }
    char *end = strstr(answer->bytes, "\r\n\r\n");
    must(strncmp(answer->bytes, "HTTP/1.", 7) == 0 && end != NULL, "an answer without a head");
    long status = strtol(answer->bytes + 9, NULL, 10);
    must(status >= 100 && status != 500 && status < 600, "a status that means a fault");
    end[2] = '\0';
    for (const char *c = answer->bytes; *c != '\0'; c++)
        must((unsigned char)*c >= ' ' || *c == '\r' || *c == '\n', "a control character in a head");
    if (plain && !head_says(answer->bytes, "\r\nTransfer-Encoding"))
        check_body(answer->bytes, end + 4, answer->len - (size_t)(end + 4 - answer->bytes));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct textbuf request = {0};
    struct textbuf answer = {0};
    if (size < 2)
        return -1;
    if (site.writes >= WRITES_MAX)
        end_site();
    if (site.server == NULL)
        begin_site();
    unsigned how = data[0];
    write_request(&request, how, (const char *)data + 1, size - 1);
    bool plain = (how & AS_IT_IS) == 0 && is_plain(&request);
    int fd = dial(plain ? PATIENCE : HASTE);
    send_parts(fd, &request, how);
    read_answer(fd, plain, &answer);
    (void)close(fd);
    (void)textbuf_text(&answer);
    check_answer(&answer, plain);
    site.writes += (how & (ORGANISER | TIMEKEEPER)) && request.bytes[0] == 'P' &&
                   strncmp(answer.bytes == NULL ? "" : answer.bytes, "HTTP/1.1 200", 12) == 0;
    textbuf_clear(&request);
    textbuf_clear(&answer);
    return 0;
}
