/* panel.c: lays the parts out for the size at hand. */
#include "ringtally/screen/panel.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "screen/scene.h"

#define SIDE_MIN      40 /* columns beside the pad that are worth tables */
#define CLOCK_COLUMNS 16
#define SLOW_MS       2000 /* entries that wait longer get a banner */
#define HUB_BEHIND_S  5    /* that a hub may be behind before it is said */
#define FEED_QUIET_S  10   /* without a request */
#define STRIP_MIN     7    /* rows of what a mode asks for */
#define STRIP_LEAST   5    /* rows of the newest entries that stay below the rounds */
#define CARDS_ROUNDS  4    /* whose cards that has room for */

/* Why saving is not as it should be, in plain words; false while all is well. */
static bool trouble_text(char *out, size_t size, const struct saved_state *saved)
{
    if (!saved || (!saved->failing && saved->oldest_ms < SLOW_MS)) {
        return false;
    }
    snprintf(out, size, " NOT SAVED, logging goes on: %s",
             saved->trouble[0] ? saved->trouble : "the disk does not answer");
    return true;
}

typedef void page_fn(const struct scene *scene, const struct area *area);

/* The page that takes the room of pad and strip; NULL where that is not one of those. */
static page_fn *page_of(const struct scene *scene)
{
    static page_fn *const pages[PAGE_COUNT] = {
        [PAGE_READOUT] = readout_draw,   [PAGE_STANCE] = by_stance_draw, [PAGE_TAKEN] = taken_draw,
        [PAGE_TIMELINE] = timeline_draw, [PAGE_REMARKS] = said_draw,     [PAGE_CHECK] = check_draw};
    return pages[desk_page(scene->desk)];
}

/* How a feed of this database is used. It says so only once it is quiet, and then in steps, so that
 * nothing moves while all is well. */
static void feed_words(char *out, size_t size, const struct panel_view *view)
{
    const struct saved_state *saved = view->saved;
    out[0] = '\0';
    if (!saved || !saved->feed) {
        return;
    }
    int used = snprintf(out, size, "  feed %d", saved->feed_clients);
    int64_t quiet = (view->now_ms - saved->feed_read_ms) / 1000;
    if (saved->feed_read_ms == 0) {
        snprintf(out + used, size - (size_t)used, ", never read");
    } else if (quiet >= FEED_QUIET_S) {
        snprintf(out + used, size - (size_t)used, quiet < 3600 ? ", quiet %d:%02d" : ", quiet 1 h",
                 (int)(quiet / 60), (int)(quiet % 60 / 10 * 10));
    }
}

/* All pages in the order of their keys, the one that is shown in brackets. */
static void pages_text(char *out, size_t size, const struct scene *scene)
{
    static const char *const names[PAGE_COUNT] = {
        [PAGE_BOUT] = "pad",        [PAGE_READOUT] = "read", [PAGE_ROUNDS] = "rounds",
        [PAGE_STANCE] = "stance",   [PAGE_TAKEN] = "taken",  [PAGE_TIMELINE] = "time",
        [PAGE_REMARKS] = "remarks", [PAGE_CHECK] = "check"};
    char key[16];
    int used = snprintf(out, size, "%s", key_word(key, scene->keymap->action[ACTION_PAGE]));
    for (int page = 0; page < PAGE_COUNT && used > 0 && (size_t)used < size; page++) {
        bool here = page == (int)desk_page(scene->desk);
        if (!desk_has_page(scene->desk, (enum desk_page)page)) {
            continue;
        }
        used += snprintf(out + used, size - (size_t)used, here ? " [%s]" : " %s", names[page]);
    }
}

/* How the feed is used, what is behind the page that covers it, and the pages. */
static void title_right(char *out, size_t size, const struct scene *scene)
{
    char feed[64];
    char looks[48] = "";
    char pages[96];
    const uint8_t *reasons = NULL;
    size_t wanted = desk_looks(scene->desk, &reasons);
    feed_words(feed, sizeof feed, scene->view);
    if (page_of(scene) && wanted > 0 && scene->face.state != CLOCK_RUNNING) {
        snprintf(looks, sizeof looks, "  to look at: %zu", wanted);
    }
    pages_text(pages, sizeof pages, scene);
    snprintf(out, size, "%s%s  %s", feed, looks, pages);
}

/* The brackets' word stands out. */
static void page_mark(struct frame *frame, int row)
{
    int from = -1;
    for (int column = 0; column < frame->columns; column++) {
        int32_t point = frame->cell[row * frame->columns + column].point[0];
        from = point == '[' ? column : from;
        if (point == ']' && from >= 0) {
            frame_restyle(frame, row, from, column - from + 1, STYLE_STRONG);
        }
    }
}

/* On a recording: who tags, what is saved, and where the recording stands; the last line has the
 * player's keys. */
static bool reel_title(char *out, size_t size, const struct scene *scene)
{
    char place[64];
    const struct saved_state *saved = scene->view->saved;
    if (!reel_place(place, sizeof place, scene)) {
        return false;
    }
    long strikes = 0, entries = 0;
    int64_t unsaved = saved ? saved->given - saved->saved : 0;
    desk_stored(scene->desk, unsaved, &strikes, &entries);
    snprintf(out, size, "  %s %s  saved %ld  not yet %ld   %s", desk_self(scene->desk)->name,
             fold_whose(scene->fold) == FOLD_OFFICIAL ? "counts" : "apart",
             saved && !saved->lost ? entries : 0, (long)unsaved, place);
    return true;
}

static void title_draw(const struct scene *scene)
{
    char text[256];
    char right[256];
    struct frame *frame = scene->frame;
    int columns = frame->columns;
    if (trouble_text(text, sizeof text, scene->view->saved)) {
        frame_put(frame, 0, 0, columns, STYLE_URGENT, text);
        return;
    }
    if (reel_title(right, sizeof right, scene)) {
        /* where the recording stands */
    } else if (scene->view->script) {
        snprintf(right, sizeof right, " %s ", scene->view->script);
    } else {
        title_right(right, sizeof right, scene);
    }
    snprintf(text, sizeof text, "%s/%d   %s   %s", scene->bout->card, scene->bout->number,
             scene->bout->weight, scene->rules->title);
    int room = columns - 2 - text_width(right) - (scene->view->script != NULL);
    if (text_width(text) > room) { /* by whose rules is what one knows best */
        snprintf(text, sizeof text, "%s/%d   %s", scene->bout->card, scene->bout->number,
                 scene->bout->weight);
    }
    frame_put(frame, 0, 1, text_width(text) > room ? room : 0, STYLE_DIM, text);
    put_right(frame, 0, columns - 1, scene->view->script ? STYLE_URGENT : STYLE_DIM, right);
    if (!scene->view->script) {
        page_mark(frame, 0);
    }
}

/* A notice longer than a line takes the row above as well. */
static void notice_draw(const struct scene *scene, int row)
{
    bool urgent = false;
    struct frame *frame = scene->frame;
    const char *notice = desk_notice(scene->desk, scene->view->now_ms, &urgent);
    if (!urgent && desk_is_read_only(scene->desk)) {
        notice = desk_watches(scene->desk) ? "" : "the record is signed: keys write nothing";
    }
    if (!notice[0]) {
        return;
    }
    enum style style = urgent ? STYLE_URGENT : STYLE_NOTICE;
    size_t first =
        text_width(notice) + 1 > frame->columns ? line_bytes(notice, frame->columns - 2) : 0;
    if (first > 0) {
        frame_putf(frame, row - 1, 0, frame->columns, style, " %.*s", (int)first, notice);
    }
    frame_putf(frame, row, 0, frame->columns, style, " %s",
               notice + first + (notice[first] == ' '));
}

/* Whose count this is: "official: red blue clock", or that it is apart. */
static void role_text(char *out, size_t size, const struct desk *desk)
{
    static const enum entry_code roles[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    static const char *const words[] = {" red", " blue", " clock"};
    size_t used = (size_t)snprintf(out, size, "official:");
    bool any = false;
    for (int i = 0; i < 3; i++) {
        if (desk_is_official(desk, roles[i])) {
            used += (size_t)snprintf(out + used, size - used, "%s", words[i]);
            any = true;
        }
    }
    if (desk_watches(desk)) {
        snprintf(out, size, "WATCHING: writes nothing");
    } else if (desk_is_read_only(desk)) {
        snprintf(out, size, "SIGNED");
    } else if (!any) {
        snprintf(out, size, "%s",
                 desk_self(desk)->shadow ? "SHADOW: counted apart" : "NOT OFFICIAL");
    }
}

/* How far the hub is behind, in entries and seconds, in steps; "" while it keeps up. */
static void hub_words(char *out, size_t size, const struct panel_view *view)
{
    const struct saved_state *saved = view->saved;
    int64_t behind = saved->hub_since_ms ? (view->now_ms - saved->hub_since_ms) / 1000 : 0;
    out[0] = '\0';
    if (saved->hub && saved->hub_lost) {
        snprintf(out, size, "hub not followed");
    } else if (saved->hub && (saved->hub_away || behind >= HUB_BEHIND_S)) {
        behind = behind < 0 ? 0 : behind > 5999 ? 5999 : behind;
        snprintf(out, size, "hub %s%lld, %d:%02d", saved->hub_away ? "away " : "behind ",
                 (long long)saved->hub_waiting, (int)(behind / 60),
                 (int)(behind < 10 ? behind : behind % 60 / 10 * 10));
    }
}

static void desk_draw(const struct scene *scene, int row)
{
    char text[128];
    if (reel_line_draw(scene, row)) {
        return;
    }
    char key[16];
    struct frame *frame = scene->frame;
    const struct saved_state *saved = scene->view->saved;
    const char *name = desk_self(scene->desk)->name;
    int right = frame->columns - 1;
    char stored[96] = "rehearsal: nothing is saved";
    if (saved) {
        char hub[48];
        long strikes = 0, entries = 0;
        int64_t unsaved = saved->given - saved->saved;
        desk_stored(scene->desk, unsaved, &strikes, &entries);
        hub_words(hub, sizeof hub, scene->view);
        if (!hub[0]) {
            snprintf(hub, sizeof hub, "strikes %ld", saved->lost ? 0 : strikes);
        }
        snprintf(stored, sizeof stored, "%s  saved %ld  not yet %ld", hub,
                 saved->lost ? 0 : entries, (long)unsaved + desk_pending(scene->desk));
    }
    role_text(text, sizeof text, scene->desk);
    int room = right - 9 - text_width(stored) - text_width(text) - 5;
    int width = text_width(name) < room ? text_width(name) : room < 1 ? 1 : room;
    int end = frame_put(frame, row, 1, width, STYLE_STRONG, name);
    frame_put(frame, row, end + 2, 0, desk_is_read_only(scene->desk) ? STYLE_URGENT : STYLE_PLAIN,
              text);
    snprintf(text, sizeof text, "%s help", key_word(key, scene->keymap->action[ACTION_HELP]));
    put_right(frame, row, right, STYLE_DIM, text);
    put_right(frame, row, right - 9, STYLE_PLAIN, stored);
}

static void clear_area(struct frame *frame, const struct area *area)
{
    for (int row = area->row; row < area->row + area->rows; row++) {
        frame_fill(frame, row, area->column, area->columns, STYLE_PLAIN, " ");
    }
}

/* Where help covers the clock, the title line shows it. */
static void help_over(const struct scene *scene, const struct area *main)
{
    char left[32];
    char text[64];
    int rows = help_rows(scene, main->columns);
    struct area area = *main;
    int least = main->row + 6; /* below the corners, if that is enough */
    area.row = main->row + main->rows - rows;
    if (area.row > least) {
        area.row = least;
    } else if (area.row < main->row) {
        area.row = main->row;
    }
    area.rows = main->row + main->rows - area.row;
    clear_area(scene->frame, &area);
    help_draw(scene, &area);
    if (area.row < least) {
        snprintf(text, sizeof text, "  R%d %s %s", scene->face.round,
                 clock_text(left, scene->face.remaining_ms), clock_state_names[scene->face.state]);
        put_right(scene->frame, 0, main->column + main->columns - 1, STYLE_STRONG, text);
    }
}

static void corners_draw(const struct scene *scene, const struct area *area)
{
    int side = (area->columns - CLOCK_COLUMNS) / 2;
    struct area left = {area->row, area->column + 1, area->rows, side - 2};
    struct area right = {area->row, area->column + area->columns - side + 1, area->rows, side - 2};
    struct area middle = {area->row, left.column + left.columns, area->rows,
                          right.column - left.column - left.columns};
    corner_draw(scene, CORNER_RED, &left);
    corner_draw(scene, CORNER_BLUE, &right);
    clock_draw(scene, &middle);
}

static void main_draw(const struct scene *scene, const struct area *main, bool alone)
{
    int rows = main->rows + 3;
    int lines = rows >= 30 ? 3 : 2;
    int gap = rows >= 36 ? 1 : 0;
    struct area top = {main->row, main->column,
                       rows >= 56   ? 11
                       : rows >= 32 ? 7
                                    : 6,
                       main->columns};
    struct area pad = {top.row + top.rows + (rows >= 27), main->column, pad_rows(lines, gap),
                       main->columns};
    struct area strip = {pad.row + pad.rows, main->column, 0, main->columns};
    int end = main->row + main->rows;
    bool help = desk_help(scene->desk);
    struct strike cell;
    bool asked = desk_mode(scene->desk) != DESK_LIVE || desk_lookup(scene->desk, &cell);
    corners_draw(scene, &top);
    if (page_of(scene)) {
        struct area page = {pad.row, pad.column, end - pad.row, pad.columns};
        page_of(scene)(scene, &page);
    } else if (desk_page(scene->desk) == PAGE_ROUNDS) {
        int wanted = rounds_rows(scene);
        wanted += end - pad.row >= wanted + WINDOWS_ROWS + STRIP_LEAST ? WINDOWS_ROWS : 0;
        pad.rows = wanted < end - pad.row ? wanted : end - pad.row;
        rounds_draw(scene, &pad);
        strip.row = pad.row + pad.rows;
    } else {
        pad_draw(scene, &pad, lines, gap);
        if (alone && rows >= 44) {
            struct area rounds = {strip.row + 1, main->column, rounds_rows(scene), main->columns};
            rounds_draw(scene, &rounds);
            strip.row += rounds.rows + 1;
        }
    }
    strip.row += rows >= 36;
    if (asked && strip.row > end - STRIP_MIN) {
        strip.row = end - STRIP_MIN;
    }
    /* Twelve rounds of cards want the whole page; while the clock stands the pad can spare it. */
    if (desk_mode(scene->desk) == DESK_CARDS && scene->face.state != CLOCK_RUNNING &&
        scene_rounds(scene) > CARDS_ROUNDS) {
        strip.row = pad.row;
    }
    strip.rows = end - strip.row;
    result_draw(scene, pad.row, main->column + main->columns - 1);
    if (help) {
        help_over(scene, main);
    }
    if (asked || (strip.rows > 1 && !help && !page_of(scene))) {
        clear_area(scene->frame, &strip);
        strip_draw(scene, &strip);
    }
}

/* Too small for the panel: what matters most first, a line each. */
static void tiny_draw(const struct scene *scene)
{
    char text[256];
    char left[32];
    char now[32];
    char all[32];
    struct frame *frame = scene->frame;
    const struct clock_face *face = &scene->face;
    const struct saved_state *saved = scene->view->saved;
    int row = 0;
    frame_putf(frame, row++, 0, frame->columns, STYLE_URGENT,
               "Too small (%dx%d needed): logging goes on", PANEL_COLUMNS, PANEL_ROWS);
    frame_putf(frame, row++, 0, frame->columns, STYLE_STRONG, "R%d %s %s", face->round,
               clock_text(left, face->remaining_ms), clock_state_names[face->state]);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        frame_putf(frame, row++, 0, frame->columns, corner_style((enum corner)corner, false),
                   "%-4s round %s  bout %s", corner == CORNER_RED ? "RED" : "BLUE",
                   count_text(now, &scene_round(scene, face->round)->corner[corner].all),
                   count_text(all, &scene->tally->all.corner[corner].all));
    }
    if (trouble_text(text, sizeof text, saved)) {
        frame_put(frame, row++, 0, frame->columns, STYLE_URGENT, text);
    } else if (saved) {
        frame_putf(frame, row++, 0, frame->columns, STYLE_PLAIN, "saved %lld  not yet %lld",
                   (long long)saved->saved,
                   (long long)(saved->given - saved->saved) + desk_pending(scene->desk));
    }
    notice_draw(scene, ++row);
    row++;
    if (desk_mode(scene->desk) != DESK_LIVE && row + 2 <= frame->rows) {
        struct area strip = {row, 0, frame->rows - row, frame->columns};
        strip_draw(scene, &strip);
    }
}

void panel_compose(struct frame *frame, const struct panel_view *view)
{
    struct scene scene;
    frame_clear(frame);
    scene_look(&scene, frame, view);
    if (frame->rows < PANEL_ROWS || frame->columns < PANEL_COLUMNS) {
        tiny_draw(&scene);
        return;
    }
    int beside = frame->columns - PANEL_COLUMNS;
    beside = beside >= SIDE_MIN ? beside : 0;
    struct area main = {1, 0, frame->rows - 3, frame->columns - beside};
    struct area side = {1, main.columns, frame->rows - 3, beside};
    title_draw(&scene);
    main_draw(&scene, &main, beside == 0);
    side_draw(&scene, &side);
    notice_draw(&scene, frame->rows - 2);
    desk_draw(&scene, frame->rows - 1);
}
