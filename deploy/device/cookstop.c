/* One cook on libcurl: reads what the sensors say on standard input, and opens a contact when the cook shall stop.
 *
 *     cc -std=c11 -O2 -Wall -o cookstop cookstop.c -lcurl
 *     sensors | ./cookstop http://127.0.0.1:8080
 *
 * The cook begins when the program does. Each line of input is one reading, made when it arrives:
 *
 *     pop                     a pop was heard
 *     humidity 45.2 23.1      relative humidity (%) in the exhaust and, if known, the temperature of its air (C)
 *     power 0                 share of full power from here on
 *
 * Answers go to standard output as they came, one a line; all else is told on standard error. A service that is gone is
 * asked again and again, and gets every reading when it is back; meanwhile the contact opens at the last deadline that
 * it gave. Exit status 0 after a stop, 1 where the service refused or the sensors went away, 2 for wrong use.
 *
 * COOKSTOP_KEY           bearer key; use https where others can listen
 * COOKSTOP_SETUP         what is known beforehand, as JSON: {"load_g": 85}
 * COOKSTOP_UNANSWERED_S  heating allowed on which the service has said nothing yet (30)
 * COOKSTOP_CLOCK=input   for trials: time stands still but for lines such as `at 12.5`, which set it (s)
 */

#define _POSIX_C_SOURCE 200809L

#include <curl/curl.h>
#include <poll.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { POPS, HUMIDITY, POWER, KINDS };
enum { LONGEST_ANSWER = 1 << 20, LONGEST_LINE = 200, DELIVER_S = 10, LATEST_S = 7200 };

static const char *const KIND[KINDS] = {"pops", "humidity", "power"};
static const double TIMEOUT_S = 4.0, FIRST_RETRY_S = 0.25, MOST_RETRY_S = 4.0, SOONEST_S = 0.1, LATEST_AGAIN_S = 10.0;

struct text { /* grows; always ends with a zero byte once something was added */
    char *at;
    size_t length, room;
};

struct cook {
    CURL *curl;
    struct curl_slist *headers;
    struct text kept[KINDS]; /* readings by kind, each with a comma after it */
    struct text answer;
    char *state;
    double asked_s, due_s, stop_by_s, give_up_s;
    int failures;
    bool stopped, refused;
};

static bool clock_is_input;
static double input_s;

static double now_s(void)
{
    static struct timespec start;
    struct timespec now;

    if (clock_is_input)
        return input_s;
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (start.tv_sec == 0)
        start = now;
    return (double)(now.tv_sec - start.tv_sec) + (double)(now.tv_nsec - start.tv_nsec) / 1e9;
}

static double least(double one, double other)
{
    return one < other ? one : other;
}

static double most(double one, double other)
{
    return one > other ? one : other;
}

/* Where the heating is switched: drive your output here. It must wait for nothing. */
static void open_contact(const char *why)
{
    fprintf(stderr, "contact open at %.3f s: %s\n", now_s(), why);
}

static void add_bytes(struct text *text, const char *bytes, size_t length)
{
    if (text->length + length + 1 > text->room) {
        text->room = 2 * (text->length + length + 1);
        text->at = realloc(text->at, text->room);
        if (text->at == NULL) {
            open_contact("no memory");
            exit(1);
        }
    }
    memcpy(text->at + text->length, bytes, length);
    text->length += length;
    text->at[text->length] = '\0';
}

static void add(struct text *text, const char *format, ...)
{
    char piece[LONGEST_LINE];
    va_list values;

    va_start(values, format);
    vsnprintf(piece, sizeof piece, format, values);
    va_end(values);
    add_bytes(text, piece, strlen(piece));
}

static size_t received(char *bytes, size_t size, size_t count, void *text)
{
    if (((struct text *)text)->length + size * count > LONGEST_ANSWER)
        return 0;
    add_bytes(text, bytes, size * count);
    return size * count;
}

/* The value of a name in the outermost object of a JSON text, up to its end; NULL where there is none. */
static const char *field(const char *json, const char *name)
{
    size_t length = strlen(name);
    int depth = 0;

    for (; *json != '\0'; json++) {
        if (*json == '{' || *json == '[')
            depth++;
        else if (*json == '}' || *json == ']')
            depth--;
        else if (*json == '"') {
            const char *word = ++json;
            while (*json != '\0' && *json != '"')
                json += *json == '\\' && json[1] != '\0' ? 2 : 1;
            if (*json == '\0')
                return NULL;
            if (depth == 1 && (size_t)(json - word) == length && memcmp(word, name, length) == 0) {
                const char *value = json + 1 + strspn(json + 1, " \t\r\n");
                if (*value == ':')
                    return value + 1 + strspn(value + 1, " \t\r\n");
            }
        }
    }
    return NULL;
}

static bool number_field(const char *json, const char *name, double *value)
{
    const char *at = field(json, name);
    char *end;

    if (at == NULL)
        return false;
    *value = strtod(at, &end);
    return end != at && *value >= 0.0 && *value <= 1e6;
}

static void stop(struct cook *cook, const char *why)
{
    open_contact(why);
    cook->stopped = true;
    cook->give_up_s = now_s() + DELIVER_S;
    add(&cook->kept[POWER], "{\"t\":%.3f,\"level\":0},", now_s());
}

static bool goes_on(struct cook *cook)
{
    if (!cook->stopped && now_s() >= cook->stop_by_s)
        stop(cook, "deadline");
    return !cook->stopped;
}

static bool has_unsent(const struct cook *cook)
{
    for (int kind = 0; kind < KINDS; kind++)
        if (cook->kept[kind].length > 0)
            return true;
    return false;
}

static void try_again(struct cook *cook, const char *why, double asked_s)
{
    double longest_s = FIRST_RETRY_S * (double)(1 << (cook->failures < 10 ? cook->failures : 10));

    cook->failures++;
    longest_s = least(longest_s, MOST_RETRY_S);
    /* Half of the wait is by chance, so that hubs do not all come back together. */
    cook->due_s = now_s() + most(longest_s * (0.5 + 0.5 * rand() / RAND_MAX), asked_s);
    fprintf(stderr, "%.3f s: no answer: %s\n", now_s(), why);
}

static void write_body(struct text *body, const struct cook *cook, double as_of_s)
{
    const char *setup = getenv("COOKSTOP_SETUP");
    const char *between = "";

    if (cook->state != NULL) {
        add(body, "{\"state\":\"");
        add_bytes(body, cook->state, strlen(cook->state));
        add(body, "\"");
    } else {
        add(body, "{\"program\":\"popcorn\"");
        if (setup != NULL) {
            add(body, ",\"setup\":");
            add_bytes(body, setup, strlen(setup));
        }
    }
    add(body, ",\"as_of\":%.3f,\"readings\":{", as_of_s);
    for (int kind = 0; kind < KINDS; kind++)
        if (cook->kept[kind].length > 0) {
            add(body, "%s\"%s\":[", between, KIND[kind]);
            add_bytes(body, cook->kept[kind].at, cook->kept[kind].length - 1);
            add(body, "]");
            between = ",";
        }
    add(body, "}}");
}

static bool is_decision(const char *value)
{
    return strncmp(value, "\"continue\"", 10) == 0 || strncmp(value, "\"warn\"", 6) == 0
        || strncmp(value, "\"stop\"", 6) == 0;
}

static void take(struct cook *cook, double as_of_s)
{
    const char *json = cook->answer.at;
    const char *decision = field(json, "decision"), *state = field(json, "state");
    double stop_by_s, again_s;

    /* No cook lasts longer than LATEST_S: a deadline beyond it would be none. */
    if (decision == NULL || !is_decision(decision) || state == NULL || *state != '"'
        || !number_field(json, "stop_by_s", &stop_by_s) || stop_by_s > LATEST_S
        || !number_field(json, "post_again_in_s", &again_s)) {
        try_again(cook, "no decision: is this the service?", 0.0);
        return;
    }
    printf("%.*s\n", (int)strcspn(json, "\n"), json);
    fflush(stdout);
    free(cook->state);
    cook->state = strndup(state + 1, strcspn(state + 1, "\""));
    for (int kind = 0; kind < KINDS; kind++)
        cook->kept[kind].length = 0;
    cook->asked_s = as_of_s;
    cook->failures = 0;
    cook->due_s = now_s() + least(most(again_s, SOONEST_S), LATEST_AGAIN_S);
    if (cook->stopped)
        return;
    if (strncmp(decision, "\"stop\"", 6) == 0)
        stop(cook, "service");
    else
        cook->stop_by_s = stop_by_s;
}

static void ask(struct cook *cook)
{
    struct text body = {0};
    double as_of_s = most(now_s(), cook->asked_s);
    /* No reply is worth waiting for beyond the deadline. */
    double wait_s = cook->stopped ? TIMEOUT_S : least(TIMEOUT_S, most(cook->stop_by_s - now_s(), 0.05));
    curl_off_t asked_s = 0;
    long status = 0;
    CURLcode code;

    write_body(&body, cook, as_of_s);
    cook->answer.length = 0;
    add(&cook->answer, "");
    curl_easy_setopt(cook->curl, CURLOPT_POSTFIELDSIZE, (long)body.length);
    curl_easy_setopt(cook->curl, CURLOPT_POSTFIELDS, body.at);
    curl_easy_setopt(cook->curl, CURLOPT_TIMEOUT_MS, (long)(wait_s * 1e3));
    code = curl_easy_perform(cook->curl);
    curl_easy_getinfo(cook->curl, CURLINFO_RESPONSE_CODE, &status);
    curl_easy_getinfo(cook->curl, CURLINFO_RETRY_AFTER, &asked_s);
    free(body.at);
    if (code != CURLE_OK) {
        try_again(cook, curl_easy_strerror(code), 0.0);
    } else if (status == 200) {
        take(cook, as_of_s);
    } else if (status >= 400 && status < 500 && status != 408 && status != 425 && status != 429) {
        fprintf(stderr, "refused: status %ld: %s\n", status, cook->answer.at);
        cook->refused = true;
    } else {
        try_again(cook, "the service is busy", (double)asked_s);
    }
}

static void read_line(struct cook *cook, const char *line)
{
    double one, two;

    if (strcmp(line, "pop") == 0) {
        add(&cook->kept[POPS], "%.3f,", now_s());
    } else if (sscanf(line, "humidity %lf %lf", &one, &two) == 2) {
        add(&cook->kept[HUMIDITY], "{\"t\":%.3f,\"rh_pct\":%.2f,\"air_c\":%.2f},", now_s(), one, two);
    } else if (sscanf(line, "humidity %lf", &one) == 1) {
        add(&cook->kept[HUMIDITY], "{\"t\":%.3f,\"rh_pct\":%.2f},", now_s(), one);
    } else if (sscanf(line, "power %lf", &one) == 1) {
        add(&cook->kept[POWER], "{\"t\":%.3f,\"level\":%.3f},", now_s(), one);
    } else if (clock_is_input && sscanf(line, "at %lf", &one) == 1) {
        input_s = one;
    } else {
        fprintf(stderr, "passed over: %s\n", line);
    }
}

static void step(struct cook *cook)
{
    if ((goes_on(cook) || has_unsent(cook)) && now_s() >= cook->due_s)
        ask(cook);
    goes_on(cook);
}

/* Wait for input, but not beyond the next thing to do; false when the sensors are gone. */
static bool listen_to_sensors(struct cook *cook)
{
    static char line[LONGEST_LINE];
    static size_t length;
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    double next_s = cook->stopped ? least(cook->due_s, cook->give_up_s) : least(cook->due_s, cook->stop_by_s);
    double left_s = most(next_s - now_s(), 0.0);
    char bytes[512];
    ssize_t count;

    if (poll(&input, 1, clock_is_input ? -1 : (int)(least(left_s, 1.0) * 1e3) + 1) <= 0)
        return true;
    count = read(STDIN_FILENO, bytes, sizeof bytes);
    for (ssize_t at = 0; at < count; at++) {
        if (bytes[at] != '\n') {
            if (length < sizeof line - 1)
                line[length++] = bytes[at];
            continue;
        }
        line[length] = '\0';
        length = 0;
        read_line(cook, line);
        step(cook);
    }
    return count > 0;
}

static void begin(struct cook *cook, const char *url)
{
    const char *key = getenv("COOKSTOP_KEY"), *unanswered = getenv("COOKSTOP_UNANSWERED_S"), *clock = getenv("COOKSTOP_CLOCK");
    struct text path = {0}, header = {0};

    clock_is_input = clock != NULL && strcmp(clock, "input") == 0;
    add_bytes(&path, url, strlen(url));
    add(&path, "/v1/decisions");
    cook->headers = curl_slist_append(NULL, "Content-Type: application/json");
    if (key != NULL) {
        add(&header, "Authorization: Bearer ");
        add_bytes(&header, key, strlen(key));
        cook->headers = curl_slist_append(cook->headers, header.at);
    }
    cook->curl = curl_easy_init();
    curl_easy_setopt(cook->curl, CURLOPT_URL, path.at);
    curl_easy_setopt(cook->curl, CURLOPT_HTTPHEADER, cook->headers);
    curl_easy_setopt(cook->curl, CURLOPT_WRITEFUNCTION, received);
    curl_easy_setopt(cook->curl, CURLOPT_WRITEDATA, &cook->answer);
    curl_easy_setopt(cook->curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(cook->curl, CURLOPT_PROXY, "");
    free(path.at);
    free(header.at);
    cook->stop_by_s = unanswered == NULL ? 30.0 : atof(unanswered);
}

int main(int count, char **words)
{
    struct cook cook = {0};
    bool listening = true;

    if (count != 2) {
        fprintf(stderr, "usage: %s URL\n", words[0]);
        return 2;
    }
    srand((unsigned)time(NULL) ^ (unsigned)getpid());
    curl_global_init(CURL_GLOBAL_DEFAULT);
    begin(&cook, words[1]);
    while (listening && !cook.refused) {
        step(&cook);
        if (cook.stopped && (!has_unsent(&cook) || now_s() >= cook.give_up_s))
            break;
        listening = cook.refused || listen_to_sensors(&cook);
    }
    if (!cook.stopped)
        stop(&cook, cook.refused ? "refused" : "the sensors are gone");
    curl_slist_free_all(cook.headers);
    curl_easy_cleanup(cook.curl);
    return cook.refused || !listening ? 1 : 0;
}
