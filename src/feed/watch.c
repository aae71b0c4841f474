/* watch.c: one bout: what a look at the database brings is folded in, and made into documents. */
#include "feed/watch.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/sheet/remarks_sheet.h"
#include "ringtally/sheet/coach_sheet.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/hash.h"
#include "ringtally/log/verify.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "ringtally/data/data.h"

struct watch *watch_new(const char *card_id, int number, const struct air *air)
{
    struct watch *watch = calloc(1, sizeof *watch);
    if (watch) {
        snprintf(watch->card_id, sizeof watch->card_id, "%s", card_id);
        watch->number = number;
        watch->air = air;
        watch->used_ms = mono_ms();
    }
    return watch;
}

static void slot_clear(struct slot *slot)
{
    doc_drop(slot->doc);
    *slot = (struct slot){0};
}

void watch_reset(struct watch *watch)
{
    for (int i = 0; i < WATCH_RECENT; i++) {
        doc_drop(watch->recent[i]);
        watch->recent[i] = NULL;
    }
    for (int what = 0; what < WATCH_DOCS; what++) {
        for (int round = 0; round <= ROUND_MAX; round++) {
            slot_clear(&watch->slot[what][round]);
        }
    }
    slot_clear(&watch->counts_event);
    slot_clear(&watch->beat_event);
    card_release(&watch->card);
    former_release(&watch->former);
    watch->has_former = false;
    free(watch->desks);
    free(watch->marks);
    free(watch->signs);
    free(watch->arrived);
    fold_free(watch->all);
    fold_free(watch->fold);
    late_release(&watch->late);
    watch->card = (struct card){0};
    watch->desks = NULL;
    watch->marks = NULL;
    watch->signs = NULL;
    watch->arrived = NULL;
    watch->all = watch->fold = NULL;
    watch->gate = (struct gate_state){.released = 0};
    watch->desk_count = 0;
    watch->arrived_count = watch->arrived_room = 0;
    watch->loaded = watch->missing = watch->live = false;
    watch->epoch++;
    watch->generation++;
}

void watch_free(struct watch *watch)
{
    if (watch) {
        watch_reset(watch);
        free(watch);
    }
}

void watch_news_release(struct watch_news *news)
{
    card_release(&news->card);
    free(news->desks);
    free(news->marks);
    free(news->entries);
    free(news->signs);
    *news = (struct watch_news){0};
}

static bool same_desks(const struct watch *watch, const struct watch_news *news)
{
    if (news->desk_count < watch->desk_count) {
        return false;
    }
    for (int i = 0; i < watch->desk_count; i++) {
        if (strcmp(watch->desks[i].uid, news->desks[i].uid) != 0) {
            return false;
        }
    }
    return true;
}

/* Desks and entries, and the marks behind them. */
static int read_log(struct watch_news *out, const struct watch *watch, struct log *log,
                    struct error *err)
{
    struct log_news news = {0};
    int code = log_news(log, out->bout.id, out->anew ? 0 : watch->arrival, &news, err);
    if (code) {
        return code;
    }
    free(out->desks);
    free(out->entries);
    free(out->marks);
    free(out->signs);
    out->desks = news.desks;
    out->desk_count = news.desk_count;
    out->entries = news.entries;
    out->entry_count = news.entry_count;
    out->arrival = news.arrival;
    size_t rows = (size_t)out->desk_count + 1;
    out->marks = calloc(rows, sizeof *out->marks);
    out->signs = calloc(rows, sizeof *out->signs);
    if (!out->marks || !out->signs) {
        return error_memory(err);
    }
    if (!out->anew && watch->desk_count && watch->desk_count <= out->desk_count) {
        memcpy(out->marks, watch->marks, (size_t)watch->desk_count * sizeof *out->marks);
    }
    for (size_t i = 0; i < out->entry_count; i++) {
        int64_t *mark = &out->marks[out->entries[i].name.desk];
        *mark = out->entries[i].name.seq > *mark ? out->entries[i].name.seq : *mark;
    }
    return 0;
}

int watch_read(struct watch_news *out, const struct watch *watch, struct log *log,
               struct error *err)
{
    char ref[80];
    *out = (struct watch_news){0};
    snprintf(ref, sizeof ref, "%s/%d", watch->card_id, watch->number);
    int64_t now_ms = when_now();
    struct error why = {0};
    int code = log_bout_find(log, ref, &out->bout, &why);
    out->missing = code == ERROR_MISSING || code == ERROR_USAGE;
    if (out->missing || code) {
        return out->missing ? 0 : error_set(err, code, "%s", why.text);
    }
    out->anew = !watch->loaded || !bout_same(&watch->bout, &out->bout);
    code = read_log(out, watch, log, err);
    if (!code && !out->anew && !same_desks(watch, out)) {
        out->anew = true;
        code = read_log(out, watch, log, err);
    }
    if (!code && out->anew) {
        code = log_card_get(log, watch->card_id, &out->card, err);
        code = code ? code : data_bout_rules(&out->rules, &out->bout, err);
    }
    if (code) {
        return code;
    }
    signs_read(log, out->desks, out->desk_count, now_ms, out->signs);
    return verify_seal(log, out->bout.id, &out->seal, err);
}

static int by_name(const void *left, const void *right)
{
    const struct entry_name *a = left, *b = right;
    if (a->desk != b->desk) {
        return a->desk < b->desk ? -1 : 1;
    }
    return a->seq < b->seq ? -1 : a->seq > b->seq;
}

/* Notes as arrived what the fold has and was not known, `names` in that many, in the one order of
 * the bout, so that corrections follow what they correct. */
static int note_arrived(struct watch *watch, struct entry_name *names, size_t count,
                        struct error *err)
{
    const struct entry *entries = NULL;
    size_t needed = watch->arrived_count + count;
    size_t known = fold_entries(watch->fold, &entries);
    if (!grow_array(&watch->arrived, sizeof *watch->arrived, watch->arrived_count, count,
                    &watch->arrived_room)) {
        return error_memory(err);
    }
    qsort(names, count, sizeof *names, by_name);
    for (size_t i = 0; i < known && watch->arrived_count < needed; i++) {
        struct entry_name name = entries[i].name;
        if (bsearch(&name, names, count, sizeof *names, by_name)) {
            struct doc **text = &watch->recent[watch->arrived_count % WATCH_RECENT];
            doc_drop(*text);
            *text = NULL;
            watch->arrived[watch->arrived_count++] = name;
        }
    }
    return 0;
}

/* Whether all that `before` tells stands in `now` word for word. */
static bool goes_on(const struct fold *before, const struct fold *now)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(before, &entries);
    for (size_t i = 0; i < count; i++) {
        const struct entry *same = fold_entry(now, entries[i].name);
        if (!same || !entry_equal(same, &entries[i])) {
            return false;
        }
    }
    return true;
}

/* What was told is void: streams begin anew. */
static void tell_anew(struct watch *watch)
{
    for (int i = 0; i < WATCH_RECENT; i++) {
        doc_drop(watch->recent[i]);
        watch->recent[i] = NULL;
    }
    watch->arrived_count = 0;
    watch->retold++;
}

/* Lets through what may be told of all, and notes what of it is new. */
static int pass_gate(struct watch *watch, int64_t *marks, struct error *err)
{
    struct gate_state state;
    struct fold *fold = NULL;
    const struct entry *entries = NULL;
    int code = gate_fold(&fold, &state, watch->all, &watch->bout, watch->air->holds, err);
    if (code) {
        return code;
    }
    if (watch->fold && (state.released != watch->gate.released || !goes_on(watch->fold, fold))) {
        tell_anew(watch);
    }
    const struct fold *before = watch->arrived_count ? watch->fold : NULL;
    size_t count = fold_entries(fold, &entries);
    size_t used = 0;
    struct entry_name *names = malloc((count + 1) * sizeof *names);
    for (size_t i = 0; names && i < count; i++) {
        int64_t *mark = &marks[entries[i].name.desk];
        *mark = entries[i].name.seq > *mark ? entries[i].name.seq : *mark;
        if (!before || !fold_entry(before, entries[i].name)) {
            names[used++] = entries[i].name;
        }
    }
    fold_free(watch->fold);
    watch->fold = fold;
    watch->gate = state;
    code = names ? note_arrived(watch, names, used, err) : error_memory(err);
    free(names);
    return code;
}

/* Folds the news in. `marks` are those of all that is told. */
static int take_entries(struct watch *watch, const struct watch_news *news, struct error *err)
{
    if (watch->air->holds) {
        int code =
            fold_add_all(watch->all, news->entries, news->entry_count) ? error_memory(err) : 0;
        memset(news->marks, 0, (size_t)news->desk_count * sizeof *news->marks);
        code = code ? code : pass_gate(watch, news->marks, err);
        watch->gate.delay_ms = watch->air->delay_ms;
        return code;
    }
    watch->gate.delay_ms = watch->air->delay_ms;
    if (news->entry_count == 0) {
        return 0;
    }
    struct entry_name *names = malloc(news->entry_count * sizeof *names);
    if (!names || fold_add_all(watch->fold, news->entries, news->entry_count)) {
        free(names);
        return error_memory(err);
    }
    for (size_t i = 0; i < news->entry_count; i++) {
        names[i] = news->entries[i].name;
    }
    int code = note_arrived(watch, names, news->entry_count, err);
    free(names);
    return code;
}

/* What documents say besides the entries: a different number where a desk's state changed. */
static uint64_t states_of(const struct desk_sign *signs, int count, bool *live)
{
    uint64_t states = HASH_BEGIN;
    *live = false;
    for (int i = 0; i < count; i++) {
        enum sign_state state = sign_state(&signs[i]);
        states = hash_step(states, state);
        *live = *live || state == SIGN_LIVE || state == SIGN_SILENT;
    }
    return states;
}

int watch_take(struct watch *watch, struct watch_news *news, bool *changed, struct error *err)
{
    *changed = false;
    if (news->missing) {
        *changed = !watch->missing;
        watch_reset(watch);
        watch->missing = true;
        return 0;
    }
    if (news->anew) {
        watch_reset(watch);
        watch->bout = news->bout;
        watch->rules = news->rules;
        watch->card = news->card;
        news->card = (struct card){0};
        watch->plan = clock_plan(&watch->rules, watch->bout.rounds);
        struct fold *fold = fold_new(&watch->plan, &watch->bout, FOLD_OFFICIAL);
        if (!fold) {
            return error_memory(err);
        }
        *(watch->air->holds ? &watch->all : &watch->fold) = fold;
    }
    for (int i = watch->desk_count; i < news->desk_count; i++) {
        if (fold_desk(watch->all ? watch->all : watch->fold, &news->desks[i])) {
            watch_reset(watch);
            return error_memory(err);
        }
    }
    if (air_signs(watch->air, &watch->late, news->signs, news->desk_count, err)) {
        watch_reset(watch);
        return ERROR_MEMORY;
    }
    *changed = news->anew || news->desk_count > watch->desk_count || news->entry_count > 0;
    int code = take_entries(watch, news, err);
    free(watch->desks);
    free(watch->marks);
    free(watch->signs);
    watch->desks = news->desks;
    watch->marks = news->marks;
    watch->signs = news->signs;
    watch->desk_count = news->desk_count;
    watch->arrival = news->arrival;
    watch->seal = news->seal;
    news->desks = NULL;
    news->marks = NULL;
    news->signs = NULL;
    if (code) {
        watch_reset(watch); /* all is read anew at the next look */
        return code;
    }
    watch->loaded = true;
    if (*changed) {
        watch->generation++;
        watch->made_ms = mono_ms();
        watch->face = clock_read(fold_clock(watch->fold), watch_view(watch, 0).now_ms);
        watch->states = states_of(watch->signs, watch->desk_count, &watch->live);
    }
    return 0;
}

bool watch_former(struct watch *watch, struct former *former)
{
    former_release(&watch->former);
    watch->former = *former;
    watch->has_former = true;
    *former = (struct former){.here = {.bout = NULL}};
    if (watch->former.here.bouts == 0) {
        return false;
    }
    watch->generation++;
    watch->made_ms = mono_ms();
    return true;
}

bool watch_tick(struct watch *watch, struct desk_sign *signs, int64_t now_ms)
{
    if (!watch->loaded) {
        return false;
    }
    if (air_signs(watch->air, &watch->late, signs, watch->desk_count, NULL)) {
        return false; /* the next second has them */
    }
    memcpy(watch->signs, signs, (size_t)watch->desk_count * sizeof *signs);
    struct clock_face face = clock_read(fold_clock(watch->fold), watch_view(watch, 0).now_ms);
    uint64_t states = states_of(watch->signs, watch->desk_count, &watch->live);
    bool due =
        (watch->live || face.state == CLOCK_RUNNING) && now_ms - watch->made_ms >= WATCH_REFRESH_MS;
    if (!due && states == watch->states && face.state == watch->face.state &&
        face.round == watch->face.round) {
        return false;
    }
    watch->states = states;
    watch->face = face;
    watch->generation++;
    watch->made_ms = now_ms;
    return true;
}

struct sheet_view watch_view(const struct watch *watch, int round)
{
    int64_t now = air_wall(watch->air);
    bool gated = watch->air->holds || watch->air->delay_ms;
    return (struct sheet_view){
        .card = &watch->card,
        .bout = &watch->bout,
        .rules = &watch->rules,
        .fold = watch->fold,
        .round = round,
        .now_ms = fold_now(watch->fold, now),
        .wall_ms = now,
        .former = watch->has_former ? &watch->former : NULL,
        .signs = watch->signs,
        .gate = gated ? &watch->gate : NULL,
        .seal = fold_signed(watch->fold) ? &watch->seal : NULL,
    };
}

static void add_seconds(struct buf *out, int64_t ms)
{
    const char *sign = ms <= -100 ? "-" : "";
    ms = ms < 0 ? -ms : ms;
    buf_addf(out, "%s%lld.%d", sign, (long long)(ms / 1000), (int)(ms / 100 % 10));
}

struct freshness watch_freshness(const struct watch *watch)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    struct freshness out = {.entry = ""};
    struct buf text = BUF_INIT;
    int64_t now = air_wall(watch->air);
    int64_t newest = fold_heard(watch->fold, now);
    if (newest) {
        add_seconds(&text, now - newest); /* negative: some machine's clock is ahead */
        snprintf(out.entry, sizeof out.entry, "%s", text.failed ? "" : text.text);
        text.size = 0;
    }
    for (int i = 0; i < 3; i++) {
        int desk = fold_official(watch->fold, codes[i]);
        buf_addf(&text, "%s%s=", i ? ", " : "", entry_code_names[codes[i]]);
        if (desk < 0) {
            buf_adds(&text, "none");
            continue;
        }
        struct desk_sign sign = watch->signs[desk];
        sign.age_ms = now > sign.seen_ms ? now - sign.seen_ms : 0;
        buf_adds(&text, sign_state_names[sign_state(&sign)]);
        if (sign.seen_ms) {
            buf_adds(&text, ";");
            add_seconds(&text, sign.age_ms);
        }
    }
    snprintf(out.desks, sizeof out.desks, "%s", text.failed ? "" : text.text);
    out.settled = fold_signed(watch->fold) && !watch->live;
    buf_release(&text);
    return out;
}

static int write_remarks(struct buf *out, const struct sheet_view *view, struct error *err)
{
    struct remarks remarks = {.item = NULL};
    struct remarks_view asked = {
        .bout = view->bout, .remarks = &remarks, .round = view->round, .now_ms = view->now_ms};
    int code = remarks_init(&remarks, view->fold, view->signs, view->former, &remark_rule_default,
                            view->now_ms, err);
    if (!code) {
        code = remarks_json(out, &asked, err);
        remarks_release(&remarks);
    }
    return code;
}

static int write_sheet(struct buf *out, const struct sheet_view *view, struct error *err)
{
    return sheet_write(out, view, SHEET_JSON, err);
}

static int write_coach_red(struct buf *out, const struct sheet_view *view, struct error *err)
{
    return coach_sheet_write(out, view, CORNER_RED, COACH_HTML, err);
}

static int write_coach_blue(struct buf *out, const struct sheet_view *view, struct error *err)
{
    return coach_sheet_write(out, view, CORNER_BLUE, COACH_HTML, err);
}

int watch_doc(struct watch *watch, enum watch_what what, int round, struct doc **out,
              struct error *err)
{
    static int (*const writers[WATCH_DOCS])(struct buf *, const struct sheet_view *,
                                            struct error *) = {
        counts_json, headline_json, write_sheet, write_remarks, write_coach_red, write_coach_blue};
    int known = fold_tally(watch->fold)->last_round;
    int last = known > watch->plan.rounds ? known : watch->plan.rounds;
    if (round < 0 || round > last) {
        return error_set(err, ERROR_USAGE, "%s/%d has no round %d (%d rounds)", watch->card_id,
                         watch->number, round, last);
    }
    struct slot *slot = &watch->slot[what][round];
    if (!slot->doc || slot->generation != watch->generation) {
        struct buf text = BUF_INIT;
        struct sheet_view view = watch_view(watch, round);
        int code = writers[what](&text, &view, err);
        struct doc *doc = doc_of(&text);
        if (code || !doc) {
            doc_drop(doc);
            return code ? code : error_memory(err);
        }
        doc_drop(slot->doc);
        *slot = (struct slot){doc, watch->generation};
    }
    *out = doc_hold(slot->doc);
    return 0;
}

int watch_window(const struct watch *watch, const struct window_ask *window, struct doc **out,
                 struct error *err)
{
    struct buf text = BUF_INIT;
    struct sheet_view view = watch_view(watch, 0);
    view.window = window;
    int code = counts_json(&text, &view, err);
    if (code) {
        buf_release(&text);
        return code;
    }
    *out = doc_of(&text);
    return *out ? 0 : error_memory(err);
}
