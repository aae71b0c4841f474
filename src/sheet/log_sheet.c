/* log_sheet.c: an entry is listed as it stands now; with --all every correction follows as a line
 * of its own, from what it was to what it became. */
#include "ringtally/sheet/log_sheet.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/sheet/sheet.h"
#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"

/* One line of the list. */
struct line {
    const struct entry *entry;     /* as written */
    const struct subject *subject; /* what it is about; NULL: nothing that can be corrected */
    struct entry now;              /* content to show */
    bool correction, hidden;
    const char *effect;      /* "" where it took effect; else why not */
    char from[240], to[240]; /* of a correction */
};

typedef int printer(void *out, const struct log_sheet_view *view, const struct line *line);

static void words_of(char *out, size_t size, const struct entry *entry)
{
    char words[128];
    entry_words(words, sizeof words, entry);
    snprintf(out, size, "%s%s", entry->kind == ENTRY_SCORE ? "" : entry_corner(entry), words);
}

/* The stance is said only where a correction changes it. */
static void state_words(char *out, size_t size, const struct entry *entry, bool stance)
{
    char words[176];
    words_of(words, sizeof words, entry);
    snprintf(out, size, "%s%s%s%s%s%s", entry->act == ACT_VOID ? "void: " : "", words,
             stance ? ", " : "", stance ? stance_names[entry->strike.stance] : "",
             entry->review ? ", flagged" : "", entry->accepted ? ", accepted" : "");
}

static struct line line_of(const struct log_sheet_view *view, size_t index)
{
    const struct entry *entries = NULL;
    fold_entries(view->fold, &entries);
    struct line line = {.entry = &entries[index], .now = entries[index]};
    line.correction = entries[index].act != ACT_ADD;
    line.effect = fold_effect_words[fold_effect(view->fold, entries[index].name)];
    line.subject = fold_subject(view->fold, entries[index].subject);
    if (line.correction) {
        const struct entry *was = fold_before(view->fold, entries[index].name);
        bool turned = was && was->kind == ENTRY_STRIKE && line.now.kind == ENTRY_STRIKE &&
                      was->strike.stance != line.now.strike.stance;
        state_words(line.to, sizeof line.to, &entries[index], turned);
        if (was) {
            state_words(line.from, sizeof line.from, was, turned);
        }
    } else if (line.subject) {
        line.now = line.subject->now;
    }
    if (view->closed && line.now.kind == ENTRY_SCORE) {
        line.hidden = true;
        snprintf(line.to, sizeof line.to, "a judge's score");
        memcpy(line.from, line.to, sizeof line.from);
    }
    return line;
}

static int each_line(const struct log_sheet_view *view, printer *print, void *out)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(view->fold, &entries);
    for (size_t i = 0; i < count; i++) {
        struct line line = line_of(view, i);
        if ((line.correction && !view->all) || (view->round && line.now.round != view->round)) {
            continue;
        }
        int code = print(out, view, &line);
        if (code) {
            return code;
        }
    }
    return 0;
}

static const struct desk_row *desk_of(const struct log_sheet_view *view, struct entry_name name)
{
    const struct desk_row *desks = NULL;
    fold_desks(view->fold, &desks);
    return &desks[name.desk];
}

/* Marks of a line: V voided, C corrected, F flagged, O off the clock, - not in the official count.
 */
static void marks_of(char out[8], const struct line *line)
{
    size_t used = 0;
    const struct subject *subject = line->subject;
    if (!line->correction && subject) {
        const struct {
            bool on;
            char mark;
        } marks[] = {{!subject->live, 'V'},
                     {subject->corrections > 0, 'C'},
                     {subject->now.review, 'F'},
                     {subject->now.kind == ENTRY_STRIKE && subject->now.off_clock, 'O'},
                     {subject->live && !subject->counts, '-'}};
        for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++) {
            if (marks[i].on) {
                out[used++] = marks[i].mark;
            }
        }
    }
    out[used] = '\0';
}

static void elapsed_text(char out[24], int32_t elapsed_ms)
{
    snprintf(out, 24, "%d:%02d.%d", (int)(elapsed_ms / 60000), (int)(elapsed_ms / 1000 % 60),
             (int)(elapsed_ms / 100 % 10));
}

static int print_row(void *user, const struct log_sheet_view *view, const struct line *line)
{
    struct buf *out = user;
    char elapsed[24], marks[8], what[640], utc[WHEN_SIZE], desk[96];
    elapsed_text(elapsed, line->now.elapsed_ms);
    marks_of(marks, line);
    when_rfc3339(utc, line->entry->utc_ms);
    if (line->correction) {
        const char *now = line->from[0] ? line->from : "?";
        snprintf(what, sizeof what, "  %s %s#%lld: %s -> %s", entry_act_names[line->entry->act],
                 desk_of(view, line->entry->subject)->name, (long long)line->entry->subject.seq,
                 line->effect[0] ? line->effect : now, line->to);
    } else {
        words_of(what, sizeof what, &line->now);
    }
    snprintf(desk, sizeof desk, "%s#%lld", desk_of(view, line->entry->name)->name,
             (long long)line->entry->name.seq);
    buf_addf(out, "%2d  %6s  %-4s  %.12s  ", line->now.round, elapsed, marks, utc + 11);
    buf_add_fit(out, desk, 12);
    buf_addf(out, "  %s\n", what);
    return 0;
}

int log_sheet_table(struct buf *out, const struct log_sheet_view *view, struct error *err)
{
    buf_addf(out, "%s/%d  %s v %s\n", view->bout->card, view->bout->number,
             view->bout->fighter[CORNER_RED].name, view->bout->fighter[CORNER_BLUE].name);
    buf_adds(out, "marks: V voided, C corrected, F flagged, O off the clock, - not official\n\n");
    buf_adds(out, " R  IN RND  MARK  UTC           DESK#ENTRY    WHAT\n");
    each_line(view, print_row, out);
    return out->failed ? error_memory(err) : 0;
}

static int print_csv(void *user, const struct log_sheet_view *view, const struct line *line)
{
    struct buf *out = user;
    char utc[WHEN_SIZE], marks[8], what[176];
    const struct entry *now = &line->now;
    bool strike = now->kind == ENTRY_STRIKE;
    marks_of(marks, line);
    words_of(what, sizeof what, now);
    csv_cell(out, desk_of(view, line->entry->name)->uid);
    buf_addf(out, ",%lld,%s,%d,%d,", (long long)line->entry->name.seq,
             when_rfc3339(utc, line->entry->utc_ms), now->round, (int)now->elapsed_ms);
    csv_cell(out, desk_of(view, line->entry->name)->operator_);
    buf_addf(out, ",%s,%s,%s,%s,%s,%s,%s,%s,%s,", entry_kind_names[now->kind],
             entry_act_names[line->entry->act], entry_code_names[now->code],
             strike || now->kind == ENTRY_INCIDENT ? corner_names[now->strike.corner] : "",
             strike ? limb_names[now->strike.limb] : "",
             strike ? target_names[now->strike.target] : "",
             strike ? stance_names[now->strike.stance] : "",
             strike ? outcome_names[now->strike.outcome] : "", marks);
    if (line->correction) {
        csv_cell(out, desk_of(view, line->entry->subject)->uid);
        buf_addf(out, ",%lld,", (long long)line->entry->subject.seq);
    } else {
        buf_adds(out, ",,");
    }
    csv_cell(out, line->from);
    buf_adds(out, ",");
    csv_cell(out, line->correction ? line->to : what);
    buf_adds(out, "\r\n");
    return 0;
}

int log_sheet_csv(struct buf *out, const struct log_sheet_view *view, struct error *err)
{
    buf_adds(out, "desk,seq,utc,round,elapsed_ms,operator,kind,act,code,corner,limb,target,stance,"
                  "outcome,marks,subject_desk,subject_seq,from,what\r\n");
    each_line(view, print_csv, out);
    return out->failed ? error_memory(err) : 0;
}

/* NULL: out of memory. */
static json_t *line_object(const struct log_sheet_view *view, const struct line *line)
{
    char utc[WHEN_SIZE], what[176];
    const struct entry *now = &line->now;
    const struct desk_row *desk = desk_of(view, line->entry->name);
    words_of(what, sizeof what, now);
    json_t *item = json_pack(
        "{s:s, s:I, s:s, s:s, s:s, s:i, s:i, s:b, s:s, s:s, s:s, s:s}", "desk", desk->uid, "seq",
        (json_int_t)line->entry->name.seq, "desk_name", desk->name, "operator", desk->operator_,
        "utc", when_rfc3339(utc, line->entry->utc_ms), "round", (int)now->round, "elapsed_ms",
        (int)now->elapsed_ms, "off_clock", (int)now->off_clock, "kind", entry_kind_names[now->kind],
        "act", entry_act_names[line->entry->act], "code", entry_code_names[now->code], "what",
        line->correction || line->hidden ? line->to : what);
    int failed = !item;
    if (item && now->kind == ENTRY_STRIKE) {
        json_t *strike = json_pack(
            "{s:s, s:s, s:s, s:s, s:s, s:s, s:b, s:b, s:b}", "corner",
            corner_names[now->strike.corner], "limb", limb_names[now->strike.limb], "target",
            target_names[now->strike.target], "stance", stance_names[now->strike.stance],
            "position", position_names[now->strike.position], "outcome",
            outcome_names[now->strike.outcome], "spinning",
            now->strike.technique & TECHNIQUE_SPINNING ? 1 : 0, "jumping",
            now->strike.technique & TECHNIQUE_JUMPING ? 1 : 0, "knockdown",
            now->strike.technique & TECHNIQUE_KNOCKDOWN ? 1 : 0);
        failed |= json_object_set_new(item, "strike", strike);
    }
    if (item && line->correction) {
        failed |= json_object_set_new(item, "subject",
                                      json_pack("{s:s, s:I}", "desk",
                                                desk_of(view, line->entry->subject)->uid, "seq",
                                                (json_int_t)line->entry->subject.seq));
        failed |= json_object_set_new(item, "from", json_string(line->from));
        failed |= json_object_set_new(item, "to", json_string(line->to));
    } else if (item && line->subject) {
        failed |= json_object_set_new(item, "live", json_boolean(line->subject->live));
        failed |= json_object_set_new(item, "official", json_boolean(line->subject->counts));
        failed |= json_object_set_new(item, "flagged", json_boolean(now->review));
        failed |=
            json_object_set_new(item, "corrections", json_integer(line->subject->corrections));
    }
    if (item && line->correction) {
        failed |= json_object_set_new(item, "effect",
                                      json_string(line->effect[0] ? line->effect : "taken"));
    }
    if (failed) {
        json_decref(item);
        return NULL;
    }
    return item;
}

static int print_json(void *user, const struct log_sheet_view *view, const struct line *line)
{
    return json_array_append_new(user, line_object(view, line)) ? ERROR_MEMORY : 0;
}

int log_sheet_entry(struct buf *out, const struct log_sheet_view *view, size_t index,
                    struct error *err)
{
    struct line line = line_of(view, index);
    return tree_put(out, line_object(view, &line), false, JSON_COMPACT, err);
}

int log_sheet_json(struct buf *out, const struct log_sheet_view *view, struct error *err)
{
    char name[64];
    json_t *list = json_array();
    int code = list ? each_line(view, print_json, list) : ERROR_MEMORY;
    snprintf(name, sizeof name, "%s/%d", view->bout->card, view->bout->number);
    json_t *root = json_pack("{s:s, s:o}", "bout", name, "entries", list);
    return tree_write(out, root, code != 0, JSON_INDENT(1), err);
}
