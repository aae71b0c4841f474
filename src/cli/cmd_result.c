/* cmd_result.c: `ringtally result` and `ringtally scores`: the officials' side from the shell. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/file.h"
#include "ringtally/tally/officials.h"
#include "ringtally/base/text.h"

/* What is entered: how the bout ended, what was announced, a round that the officials gave, or what
 * both weigh; and what belongs to it. */
struct result_call {
    const char *bout, *ended, *announce, *round_to, *weights, *corner, *vote, *round, *time,
        *referee, *operator_, *format;
    bool override, no_action;
};

/* The most that a weigh-in says, in kilograms. */
#define WEIGHT_MAX 400

static int read_time(int32_t *out, const char *text, struct error *err)
{
    int minutes = 0, seconds = 0;
    char rest = 0;
    *out = -1;
    if (!text) {
        return 0;
    }
    if (sscanf(text, "%d:%d%c", &minutes, &seconds, &rest) != 2 || minutes < 0 || minutes > 59 ||
        seconds < 0 || seconds > 59) {
        return error_set(err, ERROR_USAGE, "--time %s: minutes:seconds in the round are needed",
                         text);
    }
    *out = (minutes * 60 + seconds) * 1000;
    return 0;
}

static int read_result(struct result_text *out, const struct result_call *call, struct error *err)
{
    int corner = CORNER_NONE;
    char rest = 0;
    int code = 0;
    memset(out, 0, sizeof *out);
    if (call->corner) {
        code = cli_choice(&corner, "--winner", call->corner, corner_names, CORNER_COUNT, err);
    }
    if (!code && call->round) {
        code = cli_number(&out->round, "--round", call->round, 1, ROUND_MAX, err);
    }
    code = code ? code : read_time(&out->elapsed_ms, call->time, err);
    if (!code && call->vote) {
        out->voted = sscanf(call->vote, "%d-%d-%d%c", &out->vote.red, &out->vote.blue,
                            &out->vote.even, &rest) == 3;
        if (!out->voted) {
            code = error_set(err, ERROR_USAGE, "--vote %s: RED-BLUE-EVEN is needed", call->vote);
        }
    }
    if (!code && call->referee && !text_clean(out->referee, sizeof out->referee, call->referee)) {
        code = error_set(err, ERROR_USAGE, "--referee: at most %zu bytes", sizeof out->referee - 1);
    }
    out->corner = (uint8_t)corner;
    return code;
}

/* What the log says is held against what is announced, or against how it is said to have ended. */
static int check_against_log(struct result_text *text, const struct reading *reading, int kind,
                             bool ended, bool override, struct error *err)
{
    struct log_facts facts =
        officials_log(reading->fold, &reading->rules, &reading->bout, reading->view.now_ms);
    struct official official = {.kind = (uint8_t)kind,
                                .winner = text->corner,
                                .round = text->round,
                                .elapsed_ms = text->elapsed_ms,
                                .voted = text->voted,
                                .vote = text->vote};
    struct bout_end end = {.how = (uint8_t)kind,
                           .corner = text->corner,
                           .round = text->round,
                           .elapsed_ms = text->elapsed_ms};
    char reason[256];
    switch (ended ? ending_check(reason, sizeof reason, &reading->rules, &facts, &end)
                  : official_check(reason, sizeof reason, &reading->rules, &facts, &official)) {
    case OFFICIAL_IMPOSSIBLE:
        return error_set(err, ERROR_FAILED, "%s", reason);
    case OFFICIAL_ODD:
        if (!override) {
            return error_set(err, ERROR_FAILED, "%s; if it was ruled so, --override enters it",
                             reason);
        }
        text->overridden = true;
        return 0;
    default:
        return 0;
    }
}

/* How the bout ended, or what was announced. */
static int make_result(struct entry *out, const struct result_call *words,
                       const struct reading *reading, struct error *err)
{
    struct result_text text;
    int choice = 0;
    int code = read_result(&text, words, err);
    out->kind = ENTRY_RESULT;
    if (!code && words->ended) {
        out->code = CODE_ENDED;
        text.no_action = words->no_action;
        code = cli_choice(&choice, "--ended", words->ended, ending_ids, END_COUNT, err);
        code = code ? code : check_against_log(&text, reading, choice, true, words->override, err);
        snprintf(text.kind, sizeof text.kind, "%s", words->ended);
    } else if (!code) {
        out->code = CODE_ANNOUNCED;
        code = cli_choice(&choice, "--announce", words->announce, decision_ids, DECISION_KIND_COUNT,
                          err);
        code = code ? code : check_against_log(&text, reading, choice, false, words->override, err);
        snprintf(text.kind, sizeof text.kind, "%s", words->announce);
    }
    if (!code && !result_write(out->text, sizeof out->text, &text)) {
        code = error_set(err, ERROR_USAGE, "the result does not fit into %d bytes", TEXT_BYTES);
    }
    return code;
}

/* A round that the officials gave to a corner, under the limits: where rounds decide. */
static int make_award(struct entry *out, const struct result_call *words,
                      const struct reading *reading, struct error *err)
{
    static const char *const whom[] = {"red", "blue", "nobody"};
    int corner = 0, round = 0;
    int code = cli_choice(&corner, "--round-to", words->round_to, whom, 3, err);
    if (!code && !words->round) {
        code = error_set(err, ERROR_USAGE, "--round-to %s: --round is needed", words->round_to);
    }
    code = code ? code : cli_number(&round, "--round", words->round, 1, ROUND_MAX, err);
    if (!code && reading->rules.scoring.system != SYSTEM_ROUNDS) {
        code = error_set(err, ERROR_FAILED, "%s: the cards decide, not rounds won",
                         reading->rules.title);
    }
    if (!code && round > fold_clock(reading->fold)->round) {
        code = error_set(err, ERROR_FAILED, "round %d was not boxed", round);
    }
    *out = (struct entry){.kind = ENTRY_SCORE, .code = CODE_AWARDED, .round = (uint8_t)round};
    out->value = corner < CORNER_COUNT;
    out->strike.corner = corner < CORNER_COUNT ? (uint8_t)corner : CORNER_RED;
    snprintf(out->text, sizeof out->text, "round %d: given to %s by the officials", round,
             whom[corner]);
    return code;
}

/* What both weigh that day, RED-BLUE in kilograms: settles a round where rounds decide. */
static int make_weights(struct entry out[CORNER_COUNT], const struct result_call *words,
                        struct error *err)
{
    double kilograms[CORNER_COUNT] = {0};
    char rest = 0;
    if (sscanf(words->weights, "%lf-%lf%c", &kilograms[0], &kilograms[1], &rest) != 2 ||
        !(kilograms[0] > 0 && kilograms[0] < WEIGHT_MAX) ||
        !(kilograms[1] > 0 && kilograms[1] < WEIGHT_MAX)) {
        return error_set(err, ERROR_USAGE, "--weights %s: RED-BLUE in kilograms are needed",
                         words->weights);
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        out[corner] = (struct entry){.kind = ENTRY_SCORE, .code = CODE_WEIGHED};
        out[corner].strike.corner = (uint8_t)corner;
        out[corner].value = (int64_t)(kilograms[corner] * 1000 + 0.5);
        snprintf(out[corner].text, sizeof out[corner].text, "%s weighed %.3f kg",
                 corner_names[corner], kilograms[corner]);
    }
    return 0;
}

/* One thing is entered at a time, and what belongs to none is refused. */
static int check_call(const struct result_call *words, struct error *err)
{
    bool result = words->ended || words->announce;
    int things = !!words->ended + !!words->announce + !!words->round_to + !!words->weights;
    const struct {
        const char *option;
        bool said, fits;
    } parts[] = {
        {"--winner", words->corner, result},
        {"--vote", words->vote, words->announce},
        {"--round", words->round, result || words->round_to},
        {"--time", words->time, result},
        {"--referee", words->referee, words->announce},
        {"--override", words->override, result},
        {"--no-action", words->no_action, words->ended},
    };
    if (things > 1) {
        return error_set(err, ERROR_USAGE,
                         "one of --ended, --announce, --round-to, --weights at a time");
    }
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (parts[i].said && !parts[i].fits) {
            return error_set(err, ERROR_USAGE, "%s: says nothing %s", parts[i].option,
                             things ? "here" : "by itself: --ended or --announce is needed");
        }
    }
    return 0;
}

static int enter(const struct call *call, const struct result_call *words, struct reading *reading,
                 struct error *err)
{
    struct entry entries[CORNER_COUNT] = {0};
    size_t count = words->weights ? CORNER_COUNT : 1;
    int code = words->round_to  ? make_award(&entries[0], words, reading, err)
               : words->weights ? make_weights(entries, words, err)
                                : make_result(&entries[0], words, reading, err);
    code =
        code ? code
             : data_append(call->db, reading, cli_operator(words->operator_), entries, count, err);
    return code;
}

int command_result(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"text", "json"};
    struct result_call words = {.format = "text"};
    const struct cli_option options[] = {{"--ended", &words.ended, NULL},
                                         {"--announce", &words.announce, NULL},
                                         {"--winner", &words.corner, NULL},
                                         {"--corner", &words.corner, NULL},
                                         {"--vote", &words.vote, NULL},
                                         {"--round", &words.round, NULL},
                                         {"--time", &words.time, NULL},
                                         {"--referee", &words.referee, NULL},
                                         {"--round-to", &words.round_to, NULL},
                                         {"--weights", &words.weights, NULL},
                                         {"--operator", &words.operator_, NULL},
                                         {"--override", NULL, &words.override},
                                         {"--no-action", NULL, &words.no_action},
                                         {"--format", &words.format, NULL},
                                         {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct buf out = BUF_INIT;
    bool entered = false;
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, &words.bout, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "result BOUT is needed");
    }
    code = code ? code : check_call(&words, err);
    code = code ? code : cli_choice(&choice, "--format", words.format, formats, 2, err);
    code = code ? code : cli_reading(&reading, call, words.bout, NULL, err);
    if (!code && (words.ended || words.announce || words.round_to || words.weights)) {
        code = enter(call, &words, &reading, err);
        entered = code == 0;
        code = code ? code : reading_refresh(&reading, err);
    }
    reading.view.cards = true;
    code =
        code ? code : officials_sheet(&out, &reading.view, choice ? SHEET_JSON : SHEET_TEXT, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
    buf_release(&out);
    reading_release(&reading);
    return cli_shown(code, entered, err);
}

/* The entries that lead from the cards as they are to those of the file. */
static size_t differences(struct entry *out, const struct scorecard *before,
                          const struct scorecard *after)
{
    size_t count = 0;
    for (int seat = 0; seat < after->judges; seat++) {
        for (int round = 0; round < ROUND_MAX; round++) {
            const uint8_t *half = after->half[seat][round];
            if (!after->given[seat][round] ||
                (before->given[seat][round] &&
                 memcmp(half, before->half[seat][round], sizeof after->half[seat][round]) == 0)) {
                continue;
            }
            char red[SCORE_BYTES], blue[SCORE_BYTES];
            struct entry *entry = &out[count++];
            *entry = (struct entry){.kind = ENTRY_SCORE, .round = (uint8_t)(round + 1)};
            entry->value = score_value(seat, half[CORNER_RED], half[CORNER_BLUE]);
            snprintf(entry->text, sizeof entry->text, "judge %d: %s-%s", seat + 1,
                     score_words(red, half[CORNER_RED]), score_words(blue, half[CORNER_BLUE]));
        }
        if (after->named[seat] && after->named[seat] != before->named[seat]) {
            struct entry *entry = &out[count++];
            *entry = (struct entry){.kind = ENTRY_SCORE, .code = CODE_NAMED};
            entry->strike.corner = after->named[seat] & 1 << CORNER_RED ? CORNER_RED : CORNER_BLUE;
            entry->value = score_value(seat, 0, 0);
            snprintf(entry->text, sizeof entry->text, "judge %d names %s", seat + 1,
                     corner_names[entry->strike.corner]);
        }
    }
    return count;
}

static int load(const struct call *call, struct reading *reading, const char *file,
                const char *operator_, struct error *err)
{
    enum { ENTRIES = JUDGE_MAX * (ROUND_MAX + 1) };
    struct officials officials;
    struct buf warnings = BUF_INIT;
    struct entry *entries = NULL;
    char *text = NULL;
    size_t size = 0;
    size_t count = 0;
    officials_read(&officials, reading->fold, &reading->rules, &reading->bout,
                   reading->view.now_ms);
    struct scorecard before = officials.card;
    int code = file_read(&text, &size, file, err);
    code = code ? code
                : scorecard_load(&officials.card, &warnings, &reading->rules, &reading->bout,
                                 officials.boxed, text, size, file, err);
    if (!code) {
        entries = calloc(ENTRIES, sizeof *entries);
        code = entries ? 0 : error_memory(err);
    }
    if (!code) {
        count = differences(entries, &before, &officials.card);
        code = count ? data_append(call->db, reading, operator_, entries, count, err) : 0;
    }
    if (!code) {
        if (warnings.size) {
            fprintf(stderr, "%s", warnings.text);
        }
        printf("%zu scores entered\n", count);
    }
    free(entries);
    free(text);
    buf_release(&warnings);
    return code;
}

static int dump(struct reading *reading, const char *path, struct error *err)
{
    struct officials officials;
    struct buf out = BUF_INIT;
    officials_read(&officials, reading->fold, &reading->rules, &reading->bout,
                   reading->view.now_ms);
    scorecard_dump(&out, &officials.card, &reading->bout);
    int code =
        out.failed ? error_memory(err) : cli_output(reading, path, true, out.text, out.size, err);
    buf_release(&out);
    return code;
}

int command_scores(const struct call *call, struct error *err)
{
    const char *others[3] = {NULL, NULL, NULL};
    const char *path = NULL;
    const char *operator_ = NULL;
    const struct cli_option options[] = {
        {"-o", &path, NULL}, {"--operator", &operator_, NULL}, {NULL, NULL, NULL}};
    struct reading reading = {0};
    int count = 0;
    int code = cli_words(call, options, others, 3, &count, err);
    bool loads = count == 3 && strcmp(others[0], "load") == 0;
    bool dumps = count == 2 && strcmp(others[0], "dump") == 0;
    if (!code && !loads && !dumps) {
        code = error_set(err, ERROR_USAGE, "scores load BOUT FILE or scores dump BOUT is needed");
    }
    code = code ? code : cli_reading(&reading, call, others[1], NULL, err);
    if (!code) {
        code = loads ? load(call, &reading, others[2], cli_operator(operator_), err)
                     : dump(&reading, path, err);
    }
    reading_release(&reading);
    return code;
}
