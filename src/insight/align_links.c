/* align_links.c: the solved candidates as what is listed, in time order, and as ties. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "insight/align_fit.h"

#define FAINT 1e-9 /* a tie this unlikely is none */

/* A strike of B that is alone, and before which strike of A it is listed. */
struct place {
    size_t at;
    int32_t b;
    double likely;
};

struct lists {
    int32_t *pair_of;            /* by strike of A: its chosen pair; -1: alone */
    bool *taken;                 /* by strike of B */
    double *paired_a, *paired_b; /* the probability of being in any pair */
    struct place *alone;         /* of B */
    size_t alone_count;
};

static bool lists_init(struct lists *lists, const struct fit *fit)
{
    lists->pair_of = malloc((fit->a_count + 1) * sizeof *lists->pair_of);
    lists->taken = calloc(fit->b_count + 1, sizeof *lists->taken);
    lists->paired_a = calloc(fit->a_count + 1, sizeof *lists->paired_a);
    lists->paired_b = calloc(fit->b_count + 1, sizeof *lists->paired_b);
    lists->alone = calloc(fit->b_count + 1, sizeof *lists->alone);
    if (!lists->pair_of || !lists->taken || !lists->paired_a || !lists->paired_b || !lists->alone) {
        return false;
    }
    memset(lists->pair_of, -1, (fit->a_count + 1) * sizeof *lists->pair_of);
    return true;
}

static void lists_release(struct lists *lists)
{
    free(lists->pair_of);
    free(lists->taken);
    free(lists->paired_a);
    free(lists->paired_b);
    free(lists->alone);
}

static void write_ties(struct align *out, struct lists *lists, const struct fit *fit)
{
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        lists->paired_a[pair->a] += pair->likely;
        lists->paired_b[pair->b] += pair->likely;
        if (pair->likely > FAINT) {
            out->ties[out->tie_count++] = (struct align_tie){pair->a, pair->b, pair->likely};
            out->expected += pair->likely;
        }
        if (pair->chosen) {
            lists->pair_of[pair->a] = (int32_t)k;
            lists->taken[pair->b] = true;
        }
    }
}

/* Was the strike of A before that of B, lateness taken out. */
static bool is_before(const struct fit *fit, size_t a, size_t b)
{
    double late = fit_late(fit, a);
    if (fit->track[fit->a[a].round].base == ALIGN_UTC) {
        return (double)(fit->utc_b[b] - fit->utc_a[a]) >= late;
    }
    return fit->a[a].round != fit->b[b].round
               ? fit->a[a].round < fit->b[b].round
               : (double)(fit->moment_b[b] - fit->moment_a[a]) >= late;
}

static int compare_places(const void *one, const void *other)
{
    const struct place *a = one, *b = other;
    return a->at != b->at ? (a->at > b->at) - (a->at < b->at) : (a->b > b->b) - (a->b < b->b);
}

static void place_alone(struct lists *lists, const struct fit *fit)
{
    for (size_t j = 0; j < fit->b_count; j++) {
        if (!lists->taken[j]) {
            size_t at = 0;
            while (at < fit->a_count && is_before(fit, at, j)) {
                at++;
            }
            lists->alone[lists->alone_count++] =
                (struct place){at, (int32_t)j, 1 - fmin(lists->paired_b[j], 1)};
        }
    }
    qsort(lists->alone, lists->alone_count, sizeof *lists->alone, compare_places);
}

static void write_links(struct align *out, const struct lists *lists, const struct fit *fit)
{
    size_t next = 0;
    for (size_t i = 0; i <= fit->a_count; i++) {
        for (; next < lists->alone_count && lists->alone[next].at == i; next++) {
            out->links[out->count++] =
                (struct align_link){-1, lists->alone[next].b, lists->alone[next].likely};
            out->only_b++;
        }
        if (i < fit->a_count && lists->pair_of[i] >= 0) {
            const struct match_pair *pair = &fit->pairs[lists->pair_of[i]];
            out->links[out->count++] = (struct align_link){pair->a, pair->b, fmin(pair->likely, 1)};
            out->paired++;
            out->wrong += 1 - fmin(pair->likely, 1);
        } else if (i < fit->a_count) {
            out->links[out->count++] =
                (struct align_link){(int32_t)i, -1, 1 - fmin(lists->paired_a[i], 1)};
            out->only_a++;
        }
    }
}

int fit_links(struct align *out, const struct fit *fit)
{
    struct lists lists = {0};
    out->ties = calloc(fit->pair_count + 1, sizeof *out->ties);
    out->links = calloc(fit->a_count + fit->b_count + 1, sizeof *out->links);
    int code = out->ties && out->links && lists_init(&lists, fit) ? 0 : ERROR_MEMORY;
    if (!code) {
        write_ties(out, &lists, fit);
        place_alone(&lists, fit);
        write_links(out, &lists, fit);
    }
    lists_release(&lists);
    return code;
}
