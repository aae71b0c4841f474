/* card_sheet.c: the card as a table and as JSON. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/sheet/sheet.h"
#include "ringtally/base/tree.h"

#define NAME_COLUMNS 28 /* of 80: twice, with blanks, and 15 for the rules and the weight */

/* "370 strikes in 3 rounds; open: ana; announced: knockout, blue; signed by A. Visor" */
static void state_line(struct buf *out, const struct bout_state *state)
{
    const struct {
        const char *label, *text;
    } parts[] = {
        {"open: ", state->desks}, {"announced: ", state->result}, {"signed by ", state->signer}};
    const char *before = "     ";
    if (state->rounds > 0 || state->strikes > 0) {
        buf_addf(out, "%s%d %s in %d %s", before, state->strikes,
                 state->strikes == 1 ? "strike" : "strikes", state->rounds,
                 state->rounds == 1 ? "round" : "rounds");
        before = "; ";
    }
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (parts[i].text[0]) {
            buf_addf(out, "%s%s%s", before, parts[i].label, parts[i].text);
            before = "; ";
        }
    }
    if (strcmp(before, "; ") == 0) {
        buf_adds(out, "\n");
    }
}

int card_table(struct buf *out, const struct card *card, const struct bout_state *states,
               struct error *err)
{
    buf_addf(out, "%s  %s\n%s%s%s\n\n", card->id, card->title, card->date,
             card->venue[0] ? ", " : "", card->venue);
    buf_adds(out, " No  RED                           BLUE                          RULES\n");
    for (int i = 0; i < card->bouts; i++) {
        const struct bout *bout = &card->bout[i];
        const struct fighter *red = &bout->fighter[CORNER_RED];
        const struct fighter *blue = &bout->fighter[CORNER_BLUE];
        buf_addf(out, "%3d  ", bout->number);
        buf_add_fit(out, red->name, NAME_COLUMNS);
        buf_adds(out, "  ");
        buf_add_fit(out, blue->name, NAME_COLUMNS);
        buf_addf(out, "  %s\n     ", bout->rules);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct fighter *fighter = &bout->fighter[corner];
            struct buf line = BUF_INIT;
            buf_addf(&line, "%s%s%s%s%s", stance_names[fighter->stance],
                     fighter->record[0] ? ", " : "", fighter->record, fighter->from[0] ? ", " : "",
                     fighter->from);
            if (!line.failed) {
                buf_add_fit(out, line.text, NAME_COLUMNS);
            }
            out->failed = out->failed || line.failed;
            buf_adds(out, "  ");
            buf_release(&line);
        }
        buf_addf(out, "%s\n", bout->weight);
        if (states) {
            state_line(out, &states[i]);
        }
    }
    return out->failed ? error_memory(err) : 0;
}

static json_t *fighter_json(const struct fighter *fighter)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", fighter->name, "short",
                     fighter->short_name, "stance", stance_names[fighter->stance], "from",
                     fighter->from, "record", fighter->record);
}

static json_t *text_or_null(const char *text)
{
    return text[0] ? json_string(text) : json_null();
}

static json_t *state_json(const struct bout_state *state)
{
    return json_pack("{s:I, s:i, s:i, s:o, s:o, s:o}", "entries", (json_int_t)state->entries,
                     "strikes", state->strikes, "rounds_begun", state->rounds, "desks_open",
                     text_or_null(state->desks), "announced", text_or_null(state->result),
                     "signed_by", text_or_null(state->signer));
}

static json_t *bout_json(const struct bout *bout, const struct bout_state *state, bool *failed)
{
    json_t *judges = json_array();
    for (int i = 0; i < bout->judges; i++) {
        tree_add(judges, json_string(bout->judge[i]), failed);
    }
    json_t *root = json_pack("{s:i, s:s, s:s, s:o, s:s, s:s, s:o, s:o, s:o}", "number",
                             bout->number, "weight", bout->weight, "rules", bout->rules, "rounds",
                             bout->rounds ? json_integer(bout->rounds) : json_null(), "terms",
                             bout->terms, "referee", bout->referee, "judges", judges, "red",
                             fighter_json(&bout->fighter[CORNER_RED]), "blue",
                             fighter_json(&bout->fighter[CORNER_BLUE]));
    if (state) {
        tree_set(root, "state", state_json(state), failed);
    }
    return root;
}

int card_json(struct buf *out, const struct card *card, const struct bout_state *states,
              struct error *err)
{
    bool failed = false;
    json_t *bouts = json_array();
    for (int i = 0; i < card->bouts; i++) {
        tree_add(bouts, bout_json(&card->bout[i], states ? &states[i] : NULL, &failed), &failed);
    }
    json_t *root = json_pack("{s:s, s:s, s:s, s:s, s:o}", "id", card->id, "title", card->title,
                             "date", card->date, "venue", card->venue, "bouts", bouts);
    return tree_write(out, root, failed, JSON_INDENT(2), err);
}
