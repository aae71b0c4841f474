/* figures.c: the figures of a bout at a moment, which every form prints. */
#include "sheet/figures.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/tally/review.h"
#include "ringtally/tally/shares.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

const char *const figure_words[FIGURE_COUNT] = {"landed/attempted", "accuracy", "output a minute",
                                                "blocked", "knockdowns"};
const char *const office_names[OFFICE_COUNT] = {"red", "blue", "clock"};

void figures_clean(char *out, size_t size, const char *text)
{
    if (!text_clean(out, size, text)) {
        snprintf(out, size, "?");
    }
}

/* Integers only: a point in every locale, and no binary fraction to round wrongly. */
static void ratio(char *out, size_t size, int64_t numerator, int64_t denominator, int digits,
                  const char *otherwise)
{
    int64_t scale = 1;
    if (denominator <= 0) {
        snprintf(out, size, "%s", otherwise);
        return;
    }
    for (int i = 0; i < digits; i++) {
        scale *= 10;
    }
    int64_t scaled = (2 * numerator * scale + denominator) / (2 * denominator);
    snprintf(out, size, "%lld.%0*lld", (long long)(scaled / scale), digits,
             (long long)(scaled % scale));
}

void ratio_cell(char out[CELL_SIZE], int64_t numerator, int64_t denominator, int digits,
                const char *otherwise)
{
    ratio(out, CELL_SIZE, numerator, denominator, digits, otherwise);
}

void count_cell(char out[CELL_SIZE], const struct count *count)
{
    if (count->attempted == 0) {
        snprintf(out, CELL_SIZE, "-");
    } else {
        snprintf(out, CELL_SIZE, "%d/%d", count->landed, count->attempted);
    }
}

void accuracy_cell(char out[CELL_SIZE], const struct count *count)
{
    share_text(out, count->landed, count->attempted);
}

void scope_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner,
                const struct count *count)
{
    if (scope->seen[corner].tagged) {
        count_cell(out, count);
    } else {
        snprintf(out, CELL_SIZE, CELL_UNKNOWN);
    }
}

void add_count(struct buf *out, const char *cell, int width, bool apart)
{
    char shorter[CELL_SIZE + 4];
    size_t landed = strcspn(cell, "/");
    bool touches = apart && out->size > 0 && !strchr(" \n", out->text[out->size - 1]);
    if (text_width(cell) > width - touches && cell[landed]) {
        snprintf(shorter, sizeof shorter, "%.*s/\u2026", (int)landed, cell);
        cell = shorter;
    }
    buf_add_fit(out, cell, -width);
}

void number_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner, int number)
{
    if (scope->seen[corner].tagged || number > 0) {
        snprintf(out, CELL_SIZE, "%d", number);
    } else {
        snprintf(out, CELL_SIZE, CELL_UNKNOWN);
    }
}

void figure_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner,
                 enum figure figure)
{
    const struct corner_tally *tally = &scope->tally->corner[corner];
    const struct coverage_part *seen = &scope->seen[corner];
    if (!seen->tagged && (figure == FIGURE_ACCURACY || figure == FIGURE_OUTPUT)) {
        snprintf(out, CELL_SIZE, CELL_UNKNOWN);
        return;
    }
    switch (figure) {
    case FIGURE_STRIKES:
        scope_cell(out, scope, corner, &tally->all);
        if (!seen->tagged) {
            snprintf(out, CELL_SIZE, "not tagged");
        }
        break;
    case FIGURE_ACCURACY:
        accuracy_cell(out, &tally->all);
        break;
    case FIGURE_OUTPUT:
        rate_text(out, tally->all.attempted, scope->output_ms[corner]);
        break;
    case FIGURE_BLOCKED:
        number_cell(out, scope, corner, tally->blocked);
        break;
    default:
        number_cell(out, scope, corner, tally->knockdowns);
        break;
    }
}

void clock_words(char *out, size_t size, const struct clock_face *face)
{
    char left[WHEN_SIZE];
    when_clock(left, (int64_t)face->remaining_ms + 999);
    switch (face->state) {
    case CLOCK_READY:
        snprintf(out, size, "not started");
        break;
    case CLOCK_RUNNING:
    case CLOCK_STOPPED:
        snprintf(out, size, "round %d %s, %s left", face->round, clock_state_names[face->state],
                 left);
        break;
    case CLOCK_REST:
        snprintf(out, size, "rest after round %d, %s left", face->round, left);
        break;
    default:
        snprintf(out, size, "over after round %d", face->round);
        break;
    }
}

/* What of the scope's time was not seen, and what output goes by. */
static void set_unseen(struct scope *scope, const struct figures *figures)
{
    const struct sheet_view *view = figures->view;
    const struct window *window = &figures->window;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int64_t covered = scope->seen[corner].covered_ms;
        int64_t unseen =
            scope->tally != &figures->part
                ? fold_unseen(view->fold, scope->round, (enum corner)corner, view->now_ms)
                : fold_unseen_since(view->fold, window->round, window->elapsed_ms,
                                    (enum corner)corner, view->now_ms);
        scope->unseen_ms[corner] = unseen;
        scope->output_ms[corner] = !view->seen ? covered : covered > unseen ? covered - unseen : 0;
    }
}

static struct scope scope_of(const struct figures *figures, int round)
{
    const struct sheet_view *view = figures->view;
    const struct tally *tally = fold_tally(view->fold);
    const struct round_clock *clock = fold_clock(view->fold);
    struct scope scope = {.round = round,
                          .tally = round ? &tally->round[round] : &tally->all,
                          .ran_ms = clock_ran(clock, round, view->now_ms),
                          .seen = {*coverage_of(&figures->coverage, round, CORNER_RED),
                                   *coverage_of(&figures->coverage, round, CORNER_BLUE)}};
    for (int r = 1; r <= ROUND_MAX; r++) {
        scope.stops += round == 0 || r == round ? clock->stops[r] : 0;
    }
    set_unseen(&scope, figures);
    return scope;
}

/* In place of round or whole: what the window asked for counts. */
static int window_init(struct figures *out, struct error *err)
{
    const struct sheet_view *view = out->view;
    if (!view->window || view->window->from == WINDOW_NONE) {
        return 0;
    }
    int code = window_find(&out->window, view->window, view->fold, view->now_ms, err);
    if (code) {
        return code;
    }
    window_count(&out->part, &out->window, view->fold);
    out->windowed = true;
    out->asked =
        (struct scope){.tally = &out->part,
                       .ran_ms = window_ran(&out->window, fold_clock(view->fold), view->now_ms)};
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        out->asked.seen[corner] =
            coverage_in(&out->coverage, &out->window, &out->part, (enum corner)corner);
    }
    set_unseen(&out->asked, out);
    return 0;
}

static void head_init(struct figures *out)
{
    const struct bout *bout = out->view->bout;
    const struct card *card = out->view->card;
    char id[sizeof bout->card];
    figures_clean(id, sizeof id, bout->card);
    snprintf(out->bout, sizeof out->bout, "%s/%d", id, bout->number);
    if (card) {
        figures_clean(out->title, sizeof out->title, card->title);
        figures_clean(out->date, sizeof out->date, card->date);
        figures_clean(out->venue, sizeof out->venue, card->venue);
    }
    figures_clean(out->weight, sizeof out->weight, bout->weight);
    figures_clean(out->rules, sizeof out->rules, out->view->rules->title);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct fighter *from = &bout->fighter[corner];
        struct fighter *to = &out->fighter[corner];
        figures_clean(to->name, sizeof to->name, from->name);
        figures_clean(to->short_name, sizeof to->short_name, from->short_name);
        figures_clean(to->from, sizeof to->from, from->from);
        figures_clean(to->record, sizeof to->record, from->record);
        to->stance = from->stance;
    }
}

static void split_add(struct figures *out, const char *group, const char *name,
                      const struct count *red, const struct count *blue)
{
    if (red->attempted + blue->attempted > 0) {
        out->split[out->splits++] = (struct split){group, name, {*red, *blue}};
    }
}

static void splits_init(struct figures *out)
{
    const struct corner_tally *red = &out->asked.tally->corner[CORNER_RED];
    const struct corner_tally *blue = &out->asked.tally->corner[CORNER_BLUE];
    for (int i = 0; i < GROUP_COUNT; i++) {
        split_add(out, "group", group_names[i], &red->group[i], &blue->group[i]);
    }
    for (int i = 0; i < STANCE_COUNT; i++) {
        split_add(out, "stance", stance_names[i], &red->stance[i], &blue->stance[i]);
    }
    for (int i = 0; i < POSITION_COUNT; i++) {
        split_add(out, "position", position_names[i], &red->position[i], &blue->position[i]);
    }
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        out->limb_shown[limb] = out->view->rules->targets[limb] ||
                                red->limb[limb].attempted + blue->limb[limb].attempted > 0;
    }
}

static bool belongs(const struct figures *figures, const struct subject *subject, uint8_t reasons,
                    enum list list)
{
    const struct entry *now = &subject->now;
    if (!subject->counts || (figures->asked.round && now->round != figures->asked.round)) {
        return false;
    }
    switch (list) {
    case LIST_KNOCKDOWNS:
        return now->kind == ENTRY_STRIKE && now->strike.technique & TECHNIQUE_KNOCKDOWN;
    case LIST_INCIDENTS:
        return now->kind == ENTRY_INCIDENT;
    case LIST_OFF_CLOCK:
        return now->kind == ENTRY_STRIKE && now->off_clock;
    default: /* strikes off the clock have a list of their own */
        return reasons & ~REVIEW_OFF_CLOCK;
    }
}

void rules_words(char *out, size_t size, const struct rules *rules, const struct entry *entry)
{
    struct entry now = *entry;
    if (now.kind == ENTRY_INCIDENT && now.code == CODE_FOUL) {
        for (int i = 0; i < rules->fouls; i++) {
            if (strcmp(rules->foul[i].id, now.text) == 0) {
                snprintf(now.text, sizeof now.text, "%s", rules->foul[i].words);
                break;
            }
        }
    }
    entry_words(out, (unsigned)size, &now);
}

static void happening_words(struct happening *out, const struct rules *rules, uint8_t reasons,
                            enum list list)
{
    struct entry now = out->subject->now;
    char words[sizeof out->words], why[96];
    if (list == LIST_KNOCKDOWNS) { /* that it landed and knocked down goes without saying */
        now.strike.outcome = OUTCOME_ATTEMPTED;
        now.strike.technique &= (uint8_t)~TECHNIQUE_KNOCKDOWN;
    }
    rules_words(words, sizeof words, rules, &now);
    figures_clean(out->words, sizeof out->words, words);
    if (list == LIST_REVIEW) {
        review_words(why, sizeof why, reasons);
        size_t used = strlen(out->words);
        snprintf(out->words + used, sizeof out->words - used, " (%s)", why);
    }
}

static int by_clock(const void *left, const void *right)
{
    const struct subject *a = ((const struct happening *)left)->subject;
    const struct subject *b = ((const struct happening *)right)->subject;
    if (a->now.round != b->now.round) {
        return a->now.round < b->now.round ? -1 : 1;
    }
    if (a->now.elapsed_ms != b->now.elapsed_ms) {
        return a->now.elapsed_ms < b->now.elapsed_ms ? -1 : 1;
    }
    return a < b ? -1 : a > b; /* one array, in the order of the log */
}

static int list_init(struct figures *out, enum list list, const uint8_t *reasons, struct error *err)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(out->view->fold, &subjects);
    size_t listed = 0;
    for (size_t i = 0; i < count; i++) {
        listed += belongs(out, &subjects[i], reasons[i], list);
    }
    if (listed == 0) {
        return 0;
    }
    out->list[list] = calloc(listed, sizeof *out->list[list]);
    if (!out->list[list]) {
        return error_memory(err);
    }
    for (size_t i = 0; i < count; i++) {
        if (belongs(out, &subjects[i], reasons[i], list)) {
            struct happening *happening = &out->list[list][out->listed[list]++];
            happening->subject = &subjects[i];
            happening->desk = out->desk[subjects[i].now.name.desk];
            happening_words(happening, out->view->rules, reasons[i], list);
        }
    }
    qsort(out->list[list], listed, sizeof *out->list[list], by_clock);
    return 0;
}

static int lists_init(struct figures *out, struct error *err)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(out->view->fold, &subjects);
    int code = 0;
    uint8_t *reasons = calloc(count ? count : 1, 1);
    if (!reasons) {
        return error_memory(err);
    }
    review_reasons(reasons, count, out->view->fold, out->view->rules);
    for (size_t i = 0; i < count; i++) {
        bool within = out->asked.round == 0 || subjects[i].now.round == out->asked.round;
        out->unlooked += within && reasons[i];
    }
    for (int list = 0; list < LIST_COUNT && !code; list++) {
        code = list_init(out, list, reasons, err);
    }
    free(reasons);
    return code;
}

static int desks_init(struct figures *out, struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(out->view->fold, &desks);
    out->desk = calloc(count ? (size_t)count : 1, sizeof *out->desk);
    if (!out->desk) {
        return error_memory(err);
    }
    for (int i = 0; i < count;
         i++) { /* a desk that continues another goes by the first one's name */
        figures_clean(out->desk[i], sizeof out->desk[i], desks[desks[i].root].name);
    }
    return 0;
}

static enum office office_of(enum entry_code code)
{
    return code == CODE_RED ? OFFICE_RED : code == CODE_BLUE ? OFFICE_BLUE : OFFICE_CLOCK;
}

/* Which desk held which office, one after the other. Where the fold is one desk's own view, that
 * desk holds them all. */
static int terms_init(struct figures *out, struct error *err)
{
    static const enum entry_code codes[OFFICE_COUNT] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    const struct fold *fold = out->view->fold;
    int desk_count = fold_desks(fold, &desks);
    size_t count = fold_entries(fold, &entries);
    size_t room = OFFICE_COUNT;
    int holder[OFFICE_COUNT] = {-1, -1, -1};
    for (size_t i = 0; i < count; i++) {
        room += entries[i].kind == ENTRY_OFFICIAL;
    }
    out->term = calloc(room, sizeof *out->term);
    if (!out->term) {
        return error_memory(err);
    }
    for (size_t i = 0; i < count; i++) {
        const struct entry *entry = &entries[i];
        enum office office = office_of(entry->code);
        int root = desks[entry->name.desk].root;
        if (entry->kind == ENTRY_OFFICIAL && holder[office] != root) {
            holder[office] = root;
            out->term[out->terms++] =
                (struct term){office, out->desk[root], entry->round, entry->elapsed_ms};
        }
    }
    for (int office = 0; office < OFFICE_COUNT; office++) {
        int now = fold_official(fold, codes[office]);
        if (now != holder[office] && now >= 0 && now < desk_count) {
            out->term[out->terms++] = (struct term){office, out->desk[now], 1, 0};
        }
    }
    return 0;
}

int figures_init(struct figures *out, const struct sheet_view *view, struct error *err)
{
    memset(out, 0, sizeof *out);
    out->view = view;
    out->plan = fold_clock(view->fold)->plan;
    out->face = clock_read(fold_clock(view->fold), view->now_ms);
    int code = coverage_init(&out->coverage, view->fold, view->signs, view->now_ms, err);
    if (code) {
        return code;
    }
    out->whole = scope_of(out, 0);
    out->asked = scope_of(out, view->round);
    int last = view->round ? view->round : fold_tally(view->fold)->last_round;
    for (int round = view->round ? view->round : 1; round <= last; round++) {
        out->round[out->rounds++] = scope_of(out, round);
    }
    code = window_init(out, err);
    if (code) {
        figures_release(out);
        return code;
    }
    officials_read(&out->officials, view->fold, view->rules, view->bout, view->now_ms);
    head_init(out);
    splits_init(out);
    figures_status(out);
    code = desks_init(out, err);
    code = code ? code : lists_init(out, err);
    code = code ? code : terms_init(out, err);
    if (code) {
        figures_release(out);
    }
    return code;
}

void figures_release(struct figures *figures)
{
    for (int list = 0; list < LIST_COUNT; list++) {
        free(figures->list[list]);
        figures->list[list] = NULL;
    }
    coverage_release(&figures->coverage);
    free(figures->term);
    free(figures->desk);
    figures->term = NULL;
    figures->desk = NULL;
}

void office_words(struct buf *out, const struct figures *figures, enum office office)
{
    bool first = true;
    for (size_t i = 0; i < figures->terms; i++) {
        const struct term *term = &figures->term[i];
        if (term->office == office) {
            char at[WHEN_SIZE];
            buf_addf(out, "%s%s", first ? "" : ", then ", term->desk);
            if (!first) {
                buf_addf(out, " from R%d %s", term->round, when_clock(at, term->elapsed_ms));
            }
            first = false;
        }
    }
    if (first) {
        buf_adds(out, "nobody");
    }
}

bool gap_asked(const struct figures *figures, const struct scope *scope,
               const struct coverage_gap *gap)
{
    if (figures->windowed && scope == &figures->asked) {
        return coverage_gap_in(gap, &figures->window);
    }
    return !scope->round || gap->round == scope->round;
}

/* What the tagger said of the view: blocked for so long, so many strikes not seen well. */
static void view_text(struct buf *out, const struct figures *figures, const char *between)
{
    const struct scope *asked = &figures->asked;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int64_t unseen = asked->unseen_ms[corner];
        int unsure = asked->tally->corner[corner].unsure;
        if (unseen >= 1000) {
            buf_addf(out, "%sview of %s blocked for %d:%02d, which output %s", between,
                     corner_names[corner], (int)(unseen / 60000), (int)(unseen / 1000 % 60),
                     figures->view->seen ? "leaves out" : "counts as time");
            between = "; ";
        }
        if (unsure > 0) {
            buf_addf(out, "%s%s: %d strike%s not seen well", between, corner_names[corner], unsure,
                     unsure == 1 ? "" : "s");
            between = "; ";
        }
    }
}

void coverage_text(struct buf *out, const struct figures *figures)
{
    const struct scope *asked = &figures->asked;
    const char *between = "";
    uint8_t untagged = 0;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (!asked->seen[corner].tagged) {
            buf_addf(out, "%s%s: not tagged", between, corner_names[corner]);
            untagged |= (uint8_t)(1u << corner);
            between = "; ";
        }
    }
    for (size_t i = 0; i < figures->coverage.gaps; i++) {
        struct coverage_gap gap = figures->coverage.gap[i];
        char words[96];
        gap.corners &= (uint8_t)~untagged;
        if (gap.corners && gap_asked(figures, asked, &gap)) {
            coverage_words(words, sizeof words, &gap);
            buf_addf(out, "%s%s", between, words);
            between = "; ";
        }
    }
    view_text(out, figures, between);
}

void record_words(struct buf *out, const struct figures *figures)
{
    const struct round_tally *tally = figures->asked.tally;
    buf_addf(out, "%zu entries; %s%d correction%s, %d off the clock, %zu not looked at yet",
             figures->entries, figures->asked.round ? "in this round " : "", tally->corrections,
             tally->corrections == 1 ? "" : "s", tally->off_clock, figures->unlooked);
}
