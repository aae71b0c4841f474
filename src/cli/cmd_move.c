/* cmd_move.c: `ringtally move`: what was logged on the wrong bout goes to the right one. */
#include <stdio.h>

#include "cli/cli.h"
#include "ringtally/data/move.h"

static const char *plural(size_t count, const char *many)
{
    return count == 1 ? "" : many;
}

/* Both corners of a bout, as they stand and as they will. */
static void tell_counts(const struct bout *bout, const struct tally *before,
                        const struct tally *after)
{
    printf("  bout %s/%d then counts", bout->card, bout->number);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct count *was = &before->all.corner[corner].all;
        const struct count *is = &after->all.corner[corner].all;
        printf("%s %s %d/%d (now %d/%d)", corner ? "," : "", corner_names[corner], is->landed,
               is->attempted, was->landed, was->attempted);
    }
    puts("");
}

static void tell(const struct move_ask *ask, const struct move_told *told)
{
    const struct bout *from = told->from, *to = told->to;
    printf("%zu entr%s, %zu strike%s and %zu incident%s among them, ", told->entries,
           told->entries == 1 ? "y" : "ies", told->strikes, plural(told->strikes, "s"),
           told->incidents, plural(told->incidents, "s"));
    if (ask->back) {
        printf("come back from %s/%d to %s/%d.\n", to->card, to->number, from->card, from->number);
    } else {
        printf("go from %s/%d to %s/%d (%s).\n", from->card, from->number, to->card, to->number,
               told->desks);
        printf("  red is then %s, blue %s\n", to->fighter[CORNER_RED].name,
               to->fighter[CORNER_BLUE].name);
    }
    tell_counts(from, &told->before[0], &told->after[0]);
    tell_counts(to, &told->before[1], &told->after[1]);
    if (told->clock) {
        puts("  the clock goes along");
    }
    if (told->clock_ends) {
        puts("  the clock of the bout that is left is taken back; the other one keeps its own");
    }
    if (told->apart > 0) {
        printf("  %zu strike%s will count apart: another desk was official there\n", told->apart,
               plural(told->apart, "s"));
    }
    if (told->changed > 0) {
        printf("  %zu entr%s changed since: left as they are\n", told->changed,
               told->changed == 1 ? "y was" : "ies were");
    }
}

static int move(const struct call *call, const struct move_ask *ask, bool yes, struct error *err)
{
    struct move *plan = NULL;
    bool go = false;
    int code = move_plan(&plan, call->db, ask, err);
    if (!code) {
        tell(ask, move_tell(plan));
        code = cli_ask(&go, yes, "Move them?", err);
    }
    code = code || !go ? code : move_write(plan, err);
    if (!code && !go) {
        puts("left unchanged");
    } else if (!code && ask->back) {
        puts("moved back");
    } else if (!code) {
        printf("moved; back again: ringtally move %s %s --back\n", ask->from, ask->to);
    }
    move_free(plan);
    return code;
}

int command_move(const struct call *call, struct error *err)
{
    static const char *const corners[] = {"red", "blue"};
    const char *bouts[2] = {NULL, NULL};
    const char *round = NULL, *since = NULL, *until = NULL, *corner = NULL, *operator_ = NULL;
    bool yes = false, back = false;
    const struct cli_option options[] = {
        {"--round", &round, NULL},        {"--since", &since, NULL},
        {"--until", &until, NULL},        {"--corner", &corner, NULL},
        {"--operator", &operator_, NULL}, {"--yes", NULL, &yes},
        {"--back", NULL, &back},          {NULL, NULL, NULL}};
    struct window_ask from, to;
    struct move_ask ask = {.corner = CORNER_NONE, .operator_ = cli_operator(NULL)};
    int count = 0;
    int code = cli_words(call, options, bouts, 2, &count, err);
    if (!code && (count < 2 || (back && (round || since || until || corner)))) {
        code = error_set(err, ERROR_USAGE,
                         count < 2 ? "move FROM TO is needed: two bouts"
                                   : "--back takes back the whole move: no part of it");
    }
    code = code || !round ? code : cli_number(&ask.round, "--round", round, 1, ROUND_MAX, err);
    code = code || !corner ? code : cli_choice(&ask.corner, "--corner", corner, corners, 2, err);
    code = code || !since ? code : window_parse(&from, since, NULL, err);
    code = code || !until ? code : window_parse(&to, until, NULL, err);
    if (code) {
        return code;
    }
    ask.from = bouts[0];
    ask.to = bouts[1];
    ask.since = since ? &from : NULL;
    ask.until = until ? &to : NULL;
    ask.operator_ = cli_operator(operator_);
    ask.back = back;
    return move(call, &ask, yes, err);
}
