/* scorecard.c: judges' scores. */
#include "ringtally/bout/scorecard.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define TEN 20 /* half points */

static int highest(const struct rules *rules)
{
    return rules->scoring.system == SYSTEM_POINTS ? TEN : 99 * 2;
}

int score_parse(int *half, const struct rules *rules, const char *text, struct error *err)
{
    int whole = 0, digits = 0;
    const char *at = text;
    for (; isdigit((unsigned char)*at) && digits < 3; at++, digits++) {
        whole = whole * 10 + (*at - '0');
    }
    bool fraction = digits > 0 && (*at == '.' || *at == ',');
    bool sound = digits > 0;
    int score = 2 * whole;
    if (fraction) {
        sound = (at[1] == '0' || at[1] == '5') && at[2] == '\0';
        score += at[1] == '5';
    } else if (*at) {
        sound = false;
    }
    if (!sound) {
        return error_set(err, ERROR_FAILED, "%s: no score: points or half points are needed", text);
    }
    if (score > highest(rules)) {
        return error_set(err, ERROR_FAILED, "%s: more than %d points", text, highest(rules) / 2);
    }
    *half = score;
    return 0;
}

const char *score_words(char out[SCORE_BYTES], int half)
{
    snprintf(out, SCORE_BYTES, "%d%s", half / 2 % 10000, half % 2 ? ".5" : "");
    return out;
}

static void warn(char *out, size_t size, int *warnings, const char *format, ...) PRINTF_LIKE(4, 5);

static void warn(char *out, size_t size, int *warnings, const char *format, ...)
{
    size_t used = strlen(out);
    if (*warnings > 0) {
        snprintf(out + used, size - used, "; ");
        used = strlen(out);
    }
    va_list args;
    va_start(args, format);
    vsnprintf(out + used, size - used, format, args);
    va_end(args);
    ++*warnings;
}

int score_check(char *out, size_t size, const struct rules *rules, int red_half, int blue_half,
                const uint8_t deducted[CORNER_COUNT])
{
    const struct scoring_rules *scoring = &rules->scoring;
    int before[CORNER_COUNT] = {red_half, blue_half}; /* deductions */
    char words[SCORE_BYTES];
    int warnings = 0;
    out[0] = '\0';
    if (!scoring->half_points && (red_half % 2 || blue_half % 2)) {
        warn(out, size, &warnings, "the rules know no half points");
    }
    if (scoring->system != SYSTEM_POINTS) {
        return warnings;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (scoring->deductions == DEDUCTED_BY_JUDGES) {
            before[corner] += deducted[corner];
        }
        if (before[corner] > TEN) {
            warn(out, size, &warnings, "%s had %s taken off: is it off this score?",
                 corner_names[corner], score_words(words, deducted[corner]));
            before[corner] = TEN;
        }
    }
    int better = before[CORNER_RED] > before[CORNER_BLUE] ? CORNER_RED : CORNER_BLUE;
    if (before[better] != TEN) {
        warn(out, size, &warnings, "10-point must: one of them has 10");
    }
    if (!scoring->even_rounds && before[CORNER_RED] == before[CORNER_BLUE]) {
        warn(out, size, &warnings, "the rules know no even round");
    }
    int least = before[corner_other((enum corner)better)];
    if (scoring->lowest && least < 2 * scoring->lowest) {
        warn(out, size, &warnings, "%s is below %d, the lowest score that the rules name",
             score_words(words, least), scoring->lowest);
    }
    return warnings;
}

int scorecard_set(struct scorecard *card, const struct rules *rules, int boxed, int judge,
                  int round, int red_half, int blue_half, char *warning, size_t size,
                  struct error *err)
{
    const int half[CORNER_COUNT] = {red_half, blue_half};
    if (judge < 1 || judge > card->judges) {
        return error_set(err, ERROR_FAILED, "judge %d: the bout has %d", judge, card->judges);
    }
    if (round < 1 || round > ROUND_MAX || round > boxed) {
        return error_set(err, ERROR_FAILED, "round %d was not boxed: %d %s", round, boxed,
                         boxed == 1 ? "was" : "were");
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (half[corner] < 0 || half[corner] > highest(rules)) {
            return error_set(err, ERROR_FAILED, "%s: a score from 0 to %d points is needed",
                             corner_names[corner], highest(rules) / 2);
        }
    }
    score_check(warning, size, rules, red_half, blue_half, card->deducted[round - 1]);
    card->half[judge - 1][round - 1][CORNER_RED] = (uint8_t)red_half;
    card->half[judge - 1][round - 1][CORNER_BLUE] = (uint8_t)blue_half;
    card->given[judge - 1][round - 1] = true;
    return 0;
}

/* The corner that has more; CORNER_NONE: both the same. */
static enum corner more(const int value[CORNER_COUNT])
{
    return value[CORNER_RED] == value[CORNER_BLUE]  ? CORNER_NONE
           : value[CORNER_RED] > value[CORNER_BLUE] ? CORNER_RED
                                                    : CORNER_BLUE;
}

struct card_total scorecard_total(const struct scorecard *card, const struct rules *rules,
                                  int judge, int from, int to, bool names)
{
    struct card_total total = {.vote = CORNER_NONE};
    for (int round = from; round <= to; round++) {
        if (!card->given[judge - 1][round - 1]) {
            total.missing = total.missing ? total.missing : round;
            continue;
        }
        int half[CORNER_COUNT] = {0};
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            int off = rules->scoring.deductions == DEDUCTED_BY_OFFICIALS
                          ? card->deducted[round - 1][corner]
                          : 0;
            half[corner] = card->half[judge - 1][round - 1][corner] - off;
            /* Nobody scores below 0 in a round: N.M. Admin. Code 15.6.12.22 D. */
            half[corner] = half[corner] < 0 ? 0 : half[corner];
            total.half[corner] += half[corner];
        }
        if (more(half) != CORNER_NONE) {
            total.rounds[more(half)]++;
        }
    }
    total.vote =
        (uint8_t)(rules->scoring.system == SYSTEM_ROUNDS ? more(total.rounds) : more(total.half));
    if (total.vote == CORNER_NONE && names && card->named[judge - 1]) {
        total.named = true;
        total.vote = card->named[judge - 1] & 1 << CORNER_RED ? CORNER_RED : CORNER_BLUE;
    }
    return total;
}

struct vote scorecard_lead(const struct scorecard *card, const struct rules *rules, int round)
{
    struct vote vote = {0};
    for (int judge = 1; judge <= card->judges; judge++) {
        struct card_total total = scorecard_total(card, rules, judge, 1, round, false);
        int *count = total.missing               ? &vote.missing
                     : total.vote == CORNER_RED  ? &vote.red
                     : total.vote == CORNER_BLUE ? &vote.blue
                                                 : &vote.even;
        ++*count;
    }
    return vote;
}

const char *vote_words(char out[16], const struct vote *vote)
{
    snprintf(out, 16, "%d-%d-%d", vote->red % 100, vote->blue % 100, vote->even % 100);
    return out;
}
