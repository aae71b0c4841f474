/* downs.c: knockdowns and counts as events, however they were entered. */
#include "tally/downs.h"

static bool is_marked(const struct entry *entry)
{
    return entry->kind == ENTRY_STRIKE && (entry->strike.technique & TECHNIQUE_KNOCKDOWN);
}

static bool is_incident(const struct entry *entry, enum entry_code code)
{
    return entry->kind == ENTRY_INCIDENT && entry->code == code;
}

bool down_speaks(const struct entry *entry)
{
    return is_marked(entry) || is_incident(entry, CODE_KNOCKED_DOWN) ||
           is_incident(entry, CODE_COUNT);
}

/* Who went down. */
static enum corner down_corner(const struct entry *entry)
{
    enum corner corner = (enum corner)entry->strike.corner;
    return is_marked(entry) ? corner_other(corner) : corner;
}

/* How much an entry says: what says more stands for what says less. */
static int weight(const struct entry *entry)
{
    return is_marked(entry) ? 2 : entry->code == CODE_KNOCKED_DOWN ? 1 : 0;
}

static bool told_by_another(const struct subject *subjects, const size_t *list, size_t count,
                            size_t at)
{
    const struct entry *own = &subjects[list[at]].now;
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[list[i]];
        const struct entry *other = &subject->now;
        int64_t gap = other->at_ms - own->at_ms;
        bool near = other->round == own->round && gap <= DOWN_NEAR_MS && gap >= -DOWN_NEAR_MS;
        bool earlier = other->at_ms < own->at_ms || (other->at_ms == own->at_ms && i < at);
        if (i != at && subject->counts && down_speaks(other) && near &&
            down_corner(other) == down_corner(own) &&
            (weight(other) > weight(own) || (weight(other) == weight(own) && earlier))) {
            return true;
        }
    }
    return false;
}

bool down_stands(const struct subject *subjects, const size_t *list, size_t count, size_t at)
{
    const struct subject *subject = &subjects[list[at]];
    return subject->counts && down_speaks(&subject->now) &&
           (is_marked(&subject->now) || !told_by_another(subjects, list, count, at));
}

const struct entry *fold_knockdown(const struct fold *fold, size_t *at)
{
    const struct subject *subjects = NULL;
    const size_t *list = NULL;
    size_t count = fold_downs(fold, &list);
    fold_subjects(fold, &subjects);
    while (*at < count) {
        size_t i = (*at)++;
        if (down_stands(subjects, list, count, i) &&
            !is_incident(&subjects[list[i]].now, CODE_COUNT)) {
            return &subjects[list[i]].now;
        }
    }
    return NULL;
}

enum corner knockdown_by(const struct entry *knockdown)
{
    return corner_other(down_corner(knockdown));
}

void down_add(struct round_tally *tally, const struct entry *down)
{
    enum corner corner = down_corner(down);
    tally->corner[corner].downs++;
    tally->corner[corner_other(corner)].knockdowns += !is_incident(down, CODE_COUNT);
}

void downs_count(struct tally *tally, const struct subject *subjects, const size_t *list,
                 size_t count)
{
    for (int round = 0; round <= ROUND_MAX; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct round_tally *of = round ? &tally->round[round] : &tally->all;
            of->corner[corner].knockdowns = of->corner[corner].downs = 0;
        }
    }
    for (size_t i = 0; i < count; i++) {
        if (down_stands(subjects, list, count, i)) {
            const struct entry *now = &subjects[list[i]].now;
            down_add(&tally->all, now);
            down_add(&tally->round[now->round], now);
        }
    }
}
