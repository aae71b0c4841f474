/* card_sheet.c: the card as a table and as JSON. */
#include <jansson.h>
#include <stdlib.h>

#include "ringtally/sheet/sheet.h"

int card_table(struct buf *out, const struct card *card, struct error *err)
{
    buf_addf(out, "%s  %s\n%s%s%s\n\n", card->id, card->title, card->date,
             card->venue[0] ? ", " : "", card->venue);
    buf_adds(out, " No  RED                             BLUE                            RULES\n");
    for (int i = 0; i < card->bouts; i++) {
        const struct bout *bout = &card->bout[i];
        const struct fighter *red = &bout->fighter[CORNER_RED];
        const struct fighter *blue = &bout->fighter[CORNER_BLUE];
        buf_addf(out, "%3d  ", bout->number);
        buf_add_fit(out, red->name, 30);
        buf_adds(out, "  ");
        buf_add_fit(out, blue->name, 30);
        buf_addf(out, "  %s\n     ", bout->rules);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct fighter *fighter = &bout->fighter[corner];
            struct buf line = BUF_INIT;
            buf_addf(&line, "%s%s%s%s%s", stance_names[fighter->stance],
                     fighter->record[0] ? ", " : "", fighter->record, fighter->from[0] ? ", " : "",
                     fighter->from);
            if (!line.failed) {
                buf_add_fit(out, line.text, 30);
            }
            out->failed = out->failed || line.failed;
            buf_adds(out, "  ");
            buf_release(&line);
        }
        buf_addf(out, "%s\n", bout->weight);
    }
    return out->failed ? error_memory(err) : 0;
}

static json_t *fighter_json(const struct fighter *fighter)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", fighter->name, "short",
                     fighter->short_name, "stance", stance_names[fighter->stance], "from",
                     fighter->from, "record", fighter->record);
}

static json_t *bout_json(const struct bout *bout)
{
    json_t *judges = json_array();
    for (int i = 0; judges && i < bout->judges; i++) {
        if (json_array_append_new(judges, json_string(bout->judge[i]))) {
            json_decref(judges);
            return NULL;
        }
    }
    return json_pack("{s:i, s:s, s:s, s:o, s:s, s:s, s:o, s:o, s:o}", "number", bout->number,
                     "weight", bout->weight, "rules", bout->rules, "rounds",
                     bout->rounds ? json_integer(bout->rounds) : json_null(), "terms", bout->terms,
                     "referee", bout->referee, "judges", judges, "red",
                     fighter_json(&bout->fighter[CORNER_RED]), "blue",
                     fighter_json(&bout->fighter[CORNER_BLUE]));
}

int card_json(struct buf *out, const struct card *card, struct error *err)
{
    char *text = NULL;
    json_t *bouts = json_array();
    for (int i = 0; bouts && i < card->bouts; i++) {
        if (json_array_append_new(bouts, bout_json(&card->bout[i]))) {
            json_decref(bouts);
            bouts = NULL;
        }
    }
    json_t *root = json_pack("{s:s, s:s, s:s, s:s, s:o}", "id", card->id, "title", card->title,
                             "date", card->date, "venue", card->venue, "bouts", bouts);
    if (root) {
        text = json_dumps(root, JSON_INDENT(2));
    }
    if (text) {
        buf_adds(out, text);
        buf_adds(out, "\n");
    }
    json_decref(root);
    int code = text && !out->failed ? 0 : error_memory(err);
    free(text);
    return code;
}
