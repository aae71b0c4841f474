/* agree_desks.c: two desks of a bout, each taken alone. */
#include <stdlib.h>

#include "ringtally/insight/agree.h"

uint8_t agree_corners(const struct fold *fold, int root)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(fold, &desks);
    uint8_t corners = 0;
    for (int i = 0; i < count; i++) {
        corners |= desks[i].root == root ? desks[i].corners : 0;
    }
    return corners;
}

int agree_read_alone(struct align_strike **out, size_t *count, const struct fold *fold,
                     const struct bout *bout, int root, uint8_t corners)
{
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    int desk_count = fold_desks(fold, &desks);
    size_t entry_count = fold_entries(fold, &entries);
    struct fold *own = fold_new(&fold_clock(fold)->plan, bout, root);
    int code = own ? 0 : ERROR_MEMORY;
    for (int i = 0; !code && i < desk_count; i++) {
        code = fold_desk(own, &desks[i]);
    }
    code = code ? code : fold_add_all(own, entries, entry_count);
    code = code ? code : align_read(out, count, own, root, corners);
    fold_free(own);
    return code;
}

int agree_desks(struct agree *out, const struct fold *fold, const struct bout *bout, int root_a,
                int root_b, uint8_t corners, const struct align_options *options,
                const struct rules *rules)
{
    struct align_strike *a = NULL;
    struct align_strike *b = NULL;
    size_t a_count = 0;
    size_t b_count = 0;
    *out = (struct agree){0};
    int code = agree_read_alone(&a, &a_count, fold, bout, root_a, corners);
    code = code ? code : agree_read_alone(&b, &b_count, fold, bout, root_b, corners);
    code = code ? code : agree_make(out, a, a_count, b, b_count, options, rules);
    free(a);
    free(b);
    return code;
}
