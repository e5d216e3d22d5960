/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "commands/event_source.h"
#include "commands/track_save.h"
#include "commands/track_server.h"
#include "format/csv_rows.h"
#include "system/files.h"
#include "track/car_track.h"

enum { ERROR_METRES = 5, GAP_SECONDS = 10, CARS_MAX = 10000 };

static const char about[] =
    "cairn track FOLDER CAR FILE.gpx... [options]\n"
    "cairn track FOLDER CAR=FILE.gpx... [options]\n"
    "cairn track URL CAR=FILE.gpx... [options]\n"
    "\n"
    "Finds in the tracks of cars' receivers (GPX 1.1) when each passed the points whose places\n"
    "event.json tells, with how far the time may be out, and makes readings of them.\n";

struct track_options {
    const char *list;
    const char *key_file;
    const char *ca_file;
    int64_t error;
    int64_t gap;
    bool csv;
    bool save;
};

static const struct option_row rows[] = {
    {"list", OPTION_TEXT, "FILE.csv", "more cars and files: a table with the columns car and file",
     .at = offsetof(struct track_options, list)},
    {"error", OPTION_NUMBER, "METRES", "what a receiver may be out by, 95 times of 100; default 5",
     .at = offsetof(struct track_options, error), .least = 1, .most = 1000},
    {"gap", OPTION_NUMBER, "SECONDS",
     "longer without a fix is a gap: nothing is read in it; default 10",
     .at = offsetof(struct track_options, gap), .least = 1, .most = 3600},
    {"csv", OPTION_FLAG, NULL, "print the readings instead of what the clerk reads",
     .at = offsetof(struct track_options, csv)},
    {"save", OPTION_FLAG, NULL,
     "add the readings to readings.csv of the folder, or send them to the server",
     .at = offsetof(struct track_options, save)},
    {"key-file", OPTION_TEXT, "FILE", "the organiser's key for a URL, or the link that holds it",
     .at = offsetof(struct track_options, key_file)},
    {"ca", OPTION_TEXT, "FILE", "certificates to trust instead of the system's",
     .at = offsetof(struct track_options, ca_file)},
    {0},
};

static const char notes[] =
    "Places are the keys place and places of the route in event.json: a line across the road, with\n"
    "the heading in which it is passed. Between two fixes the car is taken to drive straight on (on\n"
    "the ellipsoid) at one speed. Told are passages the wrong way, more passages than there are\n"
    "points, points that were not passed and how near the track came, gaps of the track, and the\n"
    "average from point to point: one above the published limit is a doubt for the clerk, no more.\n"
    "\n"
    "A reading of a track has the flag “track”, its uncertainty_ms, and the file and line that it\n"
    "comes from. Where a marshal has read the same passage, the item's key clock says whose reading\n"
    "counts: marshal (the default) or track. A passage that is read again is there once.\n"
    "\n"
    "With a URL, the event's address (https://HOST/SLUG/), rules and entries are asked of the\n"
    "server with an organiser's key: of --key-file, of the link, or of the environment variable\n"
    "CAIRN_KEY. What --csv prints also goes to a server by cairn send URL FILE.csv.\n"
    "\n"
    "Tracks tell where people were:\n"
    "they are read and not kept, and nothing of them is public but the times that count.\n"
    "\n"
    "Exit status: 0; 2 where a file could not be read to its end or holds no usable track (what was\n"
    "good in it is used); 1 where the machine fails.\n";

/* A file and the car whose track it is. */
struct job {
    int number;
    char *file; /* owned */
};

struct jobs {
    struct job *list;
    size_t count, cap;
};

static void jobs_clear(struct jobs *jobs) {
    for (size_t i = 0; i < jobs->count; i++)
        free(jobs->list[i].file);
    free(jobs->list);
}

/* Adds a file. Returns an exit code; a wrong car is reported. */
static int jobs_add(struct jobs *jobs, const char *car, const char *file) {
    int64_t number = 0;
    if (decimal_parse_whole(car, 1, INT64_C(1000) * CARS_MAX, &number) != ERR_OK)
        return usage_error(&command_track, "car “%s” is no number", car);
    struct job *list = array_reserve(jobs->list, &jobs->cap, jobs->count + 1, sizeof *list);
    if (list == NULL)
        return exit_code(ERR_NOMEM);
    jobs->list = list;
    list[jobs->count].number = (int)number;
    list[jobs->count].file = strdup(file);
    if (list[jobs->count].file == NULL)
        return exit_code(ERR_NOMEM);
    jobs->count++;
    return EXIT_GOOD;
}

/* CAR FILE..., or CAR=FILE... */
static int jobs_of_operands(struct jobs *jobs, char **operands, int count) {
    int code = EXIT_GOOD;
    if (count > 0 && strchr(operands[0], '=') == NULL) {
        if (count == 1)
            return usage_error(&command_track, "car “%s” has no file", operands[0]);
        for (int i = 1; i < count && code == EXIT_GOOD; i++)
            code = jobs_add(jobs, operands[0], operands[i]);
        return code;
    }
    for (int i = 0; i < count && code == EXIT_GOOD; i++) {
        char *equals = strchr(operands[i], '=');
        if (equals == NULL)
            return usage_error(&command_track, "“%s” is not CAR=FILE", operands[i]);
        *equals = '\0';
        code = jobs_add(jobs, operands[i], equals + 1);
    }
    return code;
}

/* The table of --list; its files stand beside it. */
static int jobs_of_list(struct jobs *jobs, const char *path) {
    struct csv_rows table = {0};
    char *text = NULL;
    size_t len = 0;
    int err = file_read(path, &text, &len);
    if (err == ERR_UNKNOWN || err == ERR_IO) {
        (void)fprintf(stderr, "cairn track: %s cannot be read: %s\n", path, strerror(errno));
        return EXIT_INPUT;
    }
    char *folder = file_folder(path);
    if (err == ERR_OK)
        err = folder == NULL ? ERR_NOMEM : csv_rows_read(&table, text, len, true);
    int code = exit_code(err);
    int car = csv_rows_find(&table, "car");
    int file = csv_rows_find(&table, "file");
    if (code == EXIT_GOOD && (car < 0 || file < 0))
        code = usage_error(&command_track, "%s needs the columns car and file", path);
    for (size_t row = 1; row < table.rows && code == EXIT_GOOD; row++) {
        const char *name = csv_rows_cell(&table, row, file);
        struct textbuf full = {0};
        if (*name != '/')
            textbuf_printf(&full, "%s/", folder);
        textbuf_puts(&full, name);
        code = full.failed ? exit_code(ERR_NOMEM)
                           : jobs_add(jobs, csv_rows_cell(&table, row, car), textbuf_text(&full));
        textbuf_clear(&full);
    }
    csv_rows_clear(&table);
    free(folder);
    free(text);
    return code;
}

/* Where the event is, roughly: to see that a track is elsewhere, or has its axes swapped. */
struct box {
    double south, north, west, east;
};

/* What one file is read into. */
struct feed {
    struct passage_search *search;
    const struct box *box;
    int file;
    size_t fixes, near, swapped;
};

static struct box box_of(const struct track_lines *lines) {
    struct box box = {90, -90, 180, -180};
    for (size_t i = 0; i < lines->count; i++) {
        const struct passage_line *line = &lines->list[i];
        box.south = line->lat < box.south ? line->lat : box.south;
        box.north = line->lat > box.north ? line->lat : box.north;
        box.west = line->lon < box.west ? line->lon : box.west;
        box.east = line->lon > box.east ? line->lon : box.east;
    }
    return (struct box){box.south - 1, box.north + 1, box.west - 1, box.east + 1};
}

static bool is_in(const struct box *box, double lat, double lon) {
    return lat >= box->south && lat <= box->north && lon >= box->west && lon <= box->east;
}

static int take_fix(void *owner, const struct track_fix *fix) {
    struct feed *feed = owner;
    feed->fixes++;
    feed->near += is_in(feed->box, fix->lat, fix->lon);
    feed->swapped += is_in(feed->box, fix->lon, fix->lat);
    return passages_take(feed->search, fix, feed->file);
}

static void tell(const char *file, const struct gpx_count *of, const char *what) {
    if (of->count > 0)
        (void)fprintf(stderr, "%s:%ld: %zu point%s %s\n", file, of->line, of->count,
                      of->count == 1 ? "" : "s", what);
}

/* Says what is wrong with a file. Returns true where it gave a track. */
static bool tell_file(const char *file, const struct gpx_report *report, const struct feed *feed) {
    tell(file, &report->untimed, "without a time: left out");
    tell(file, &report->mistimed, "with a time that is none: left out");
    tell(file, &report->misplaced,
         "without a latitude from -90 to 90 and a longitude from -180 to 180: left out; are they "
         "swapped?");
    tell(file, &report->repeated, "of the moment of the point before: left out");
    tell(file, &report->backwards, "earlier than the point before: the track begins anew there");
    tell(file, &report->zoneless, "whose time names no zone: taken as UTC");
    if (report->points == 0)
        (void)fprintf(stderr, "%s: it holds no track point (trkpt)\n", file);
    else if (feed->fixes == 0)
        (void)fprintf(stderr, "%s: none of its points can be used\n", file);
    else if (feed->near == 0 && feed->swapped > 0)
        (void)fprintf(stderr, "%s: latitude and longitude are swapped\n", file);
    else if (feed->near == 0)
        (void)fprintf(stderr, "%s: it is nowhere near the places of event.json\n", file);
    return feed->fixes > 0 && feed->near > 0;
}

/* Reads a file into a search. Returns an exit code. */
static int read_track(const char *file, struct feed *feed) {
    struct gpx_report report;
    struct textbuf why = {0};
    int fd = open(file, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        (void)fprintf(stderr, "%s: cannot be read: %s\n", file, strerror(errno));
        return EXIT_INPUT;
    }
    int err = gpx_read(fd, take_fix, feed, &report, &why);
    (void)close(fd);
    int code = err == ERR_INPUT ? EXIT_INPUT : EXIT_GOOD;
    if (err == ERR_INPUT)
        (void)fprintf(stderr, "%s: %s; what stands before it is used\n", file, textbuf_text(&why));
    else if (err == ERR_IO && why.len > 0)
        (void)fprintf(stderr, "cairn track: %s\n", textbuf_text(&why));
    else if (err == ERR_IO)
        (void)fprintf(stderr, "%s: cannot be read: %s\n", file, strerror(errno));
    if (err == ERR_IO)
        code = why.len > 0 ? EXIT_MACHINE : EXIT_INPUT;
    else if (err == ERR_NOMEM)
        code = exit_code(err);
    else if (!tell_file(file, &report, feed))
        code = EXIT_INPUT;
    textbuf_clear(&why);
    return code;
}

/* What all cars have in common. */
struct work {
    const struct track_options *options;
    const struct event *event;
    struct track_lines lines;
    struct box box;
    struct textbuf readings;
    int code; /* the gravest so far that lets others go on */
};

/* One car's files, from `first` on, as far as its number goes. Returns an exit code that ends all.
 */
static int do_car(struct work *work, const struct jobs *jobs, size_t first) {
    const struct passage_options how = {.error = (double)work->options->error,
                                        .gap_ms = work->options->gap * 1000};
    int number = jobs->list[first].number;
    struct car_track track = {.event = work->event, .lines = &work->lines};
    struct textbuf text = {0};
    const char **files = calloc(jobs->count, sizeof *files);
    struct feed feed = {.box = &work->box};
    track.car = entries_find(work->event->entries, number);
    if (track.car < 0) {
        (void)fprintf(stderr, "%s: car %d is not in the entry list\n", jobs->list[first].file,
                      number);
        work->code = EXIT_INPUT;
        free(files);
        return EXIT_GOOD;
    }
    int err = files == NULL
                  ? ERR_NOMEM
                  : passages_new(work->lines.list, work->lines.count, &how, &feed.search, &text);
    if (err == ERR_IO)
        (void)fprintf(stderr, "cairn track: %s\n", textbuf_text(&text));
    int code = err == ERR_IO ? EXIT_MACHINE : exit_code(err);
    textbuf_reset(&text);
    for (size_t i = first; i < jobs->count && code == EXIT_GOOD; i++) {
        if (jobs->list[i].number != number)
            continue;
        feed.file = (int)i;
        feed.fixes = feed.near = feed.swapped = 0;
        files[i] = jobs->list[i].file;
        int read = read_track(files[i], &feed);
        code = read == EXIT_MACHINE ? read : EXIT_GOOD;
        work->code = read == EXIT_GOOD ? work->code : read;
    }
    track.files = files;
    if (code == EXIT_GOOD) {
        track.found = passages_finish(feed.search);
        code = exit_code(track.found == NULL ? ERR_NOMEM : car_track_assign(&track));
    }
    if (code == EXIT_GOOD) {
        car_track_csv(&track, &work->readings);
        car_track_report(&track, &text);
        if (!work->options->csv)
            code = print_output(&text);
    }
    free(track.at);
    free(files);
    passages_free(feed.search);
    textbuf_clear(&text);
    return code;
}

static int do_cars(struct work *work, const struct jobs *jobs) {
    int code = EXIT_GOOD;
    for (size_t i = 0; i < jobs->count && code == EXIT_GOOD; i++) {
        bool done = false;
        for (size_t before = 0; before < i && !done; before++)
            done = jobs->list[before].number == jobs->list[i].number;
        if (!done)
            code = do_car(work, jobs, i);
    }
    return code;
}

/* Times of day are the event's: the process's zone is set to its zone. */
static int set_zone(const char *zone) {
    char path[PATH_MAX];
    (void)snprintf(path, sizeof path, "/usr/share/zoneinfo/%s", zone);
    if (access(path, R_OK) != 0) {
        (void)fprintf(stderr,
                      "cairn track: the time zone %s is not known here; on Debian: apt-get install "
                      "tzdata\n",
                      zone);
        return EXIT_MACHINE;
    }
    if (setenv("TZ", zone, 1) != 0)
        return exit_code(ERR_NOMEM);
    tzset();
    return EXIT_GOOD;
}

/* Where the event is from, and where readings go. */
struct where {
    struct event_source source;
    struct track_server *server; /* NULL for a folder */
    struct model *model;         /* of the server; NULL */
};

static int open_event(struct where *where, const struct track_options *o, char **operands) {
    if (track_server_is_address(operands[0]))
        return track_server_open(operands[0], o->key_file, o->ca_file, &where->server,
                                 &where->model);
    return event_source_open(&where->source,
                             &(const struct arguments){.operands = operands, .count = 1}, false);
}

static int find_readings(const struct track_options *o, struct where *where,
                         const struct jobs *jobs) {
    const struct model *model = where->server != NULL ? where->model : where->source.model;
    struct work work = {.options = o, .event = &model->event, .code = EXIT_GOOD};
    int code = set_zone(work.event->rules->timezone);
    if (code == EXIT_GOOD)
        code = exit_code(track_lines_make(work.event->rules, &work.lines));
    if (code == EXIT_GOOD && work.lines.count == 0) {
        (void)fprintf(stderr,
                      "cairn track: event.json tells no places: add “place” to its items\n");
        code = EXIT_INPUT;
    }
    work.box = box_of(&work.lines);
    car_track_csv_head(&work.readings);
    if (code == EXIT_GOOD)
        code = do_cars(&work, jobs);
    if (code == EXIT_GOOD && o->csv)
        code = print_output(&work.readings);
    if (code == EXIT_GOOD && o->save)
        code = where->server != NULL ? track_server_send(where->server, &work.readings)
                                     : track_save(&where->source, &work.readings);
    track_lines_clear(&work.lines);
    textbuf_clear(&work.readings);
    return code == EXIT_GOOD ? work.code : code;
}

static int run(const struct arguments *a) {
    const struct track_options *o = a->options;
    struct where where = {0};
    struct jobs jobs = {0};
    int code = jobs_of_operands(&jobs, a->operands + 1, a->count - 1);
    if (code == EXIT_GOOD && o->list != NULL)
        code = jobs_of_list(&jobs, o->list);
    if (code == EXIT_GOOD && jobs.count == 0)
        code = usage_error(&command_track, "it needs a car and its file, or --list");
    if (code == EXIT_GOOD)
        code = open_event(&where, o, a->operands);
    if (code == EXIT_GOOD)
        code = find_readings(o, &where, &jobs);
    event_source_close(&where.source);
    track_server_close(where.server);
    model_free(where.model);
    jobs_clear(&jobs);
    return code;
}

const struct command command_track = {
    .name = "track",
    .summary = "make readings of the tracks of cars' receivers",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = CARS_MAX,
    .needs = "an event folder or a server's address, and cars with their files",
    .defaults = &(const struct track_options){.error = ERROR_METRES, .gap = GAP_SECONDS},
    .size = sizeof(struct track_options),
    .run = run,
};
