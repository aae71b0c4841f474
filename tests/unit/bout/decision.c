/* What cards and endings imply, against the clauses of rule books.
 *
 * In brackets how well a source is known, in the words of DEVELOPERS.md. Cards and the labels of
 * the cases (score-UD, stop-ko) are derived here from the clauses beside them. Two chapters are of
 * mixed martial arts and are taken for their names of decisions alone: N.J.A.C. 13:46-24A
 * (secondary: a forum that quotes it) and S.D. Admin. R. 20:81:05.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "officials.h"

static struct decision distance(const struct rules *rules, int rounds, const struct scorecard *card,
                                int boxed)
{
    struct decision decision;
    struct bout_end end = {
        .how = END_DISTANCE, .corner = N, .round = boxed, .elapsed_ms = rules->round_ms};
    decision_make(&decision, rules, rounds, card, &end, NULL);
    return decision;
}

/* --- derived cards --- */

struct derived_card {
    const char *id;
    const char *cards[JUDGE_MAX];
    int half[JUDGE_MAX][CORNER_COUNT]; /* totals, in points */
    enum decision_kind kind;
    enum corner winner;
};

#define WIN  "10-9 10-9 10-9" /* 30-27 */
#define RED  "10-9 10-9 9-10" /* 29-28 */
#define BLUE "10-9 9-10 9-10" /* 28-29 */
#define EVEN "10-9 9-10 10-10"

/* Names: N.J.A.C. 13:46-24A (bout results) [secondary], S.D. Admin. R. 20:81:05:18 [excerpt], both
 * of mixed martial arts; winner and draw: 58 Pa. Code 21.5(a)(6)-(7), Cal. Code Regs. tit. 4 s. 520
 * [excerpt]. The cards are derived. Points are taken off in the round of the foul, on every card:
 * Cal. tit. 4 s. 342 [excerpt]. */
static const struct derived_card derived[] = {
    {"score-UD", {WIN, RED, WIN}, {{30, 27}, {29, 28}, {30, 27}}, DECISION_UNANIMOUS, R},
    {"score-SD", {RED, BLUE, RED}, {{29, 28}, {28, 29}, {29, 28}}, DECISION_SPLIT, R},
    {"score-MD", {RED, RED, EVEN}, {{29, 28}, {29, 28}, {29, 29}}, DECISION_MAJORITY, R},
    {"score-UDraw", {EVEN, EVEN, EVEN}, {{29, 29}, {29, 29}, {29, 29}}, DECISION_UNANIMOUS_DRAW, N},
    {"score-MDraw",
     {EVEN, "10-10 10-10 10-10", RED},
     {{29, 29}, {30, 30}, {29, 28}},
     DECISION_MAJORITY_DRAW,
     N},
    {"score-SDraw", {RED, BLUE, EVEN}, {{29, 28}, {28, 29}, {29, 29}}, DECISION_SPLIT_DRAW, N},
    /* Totals decide, not rounds won. */
    {"score-knockdown-swing",
     {"10-8 9-10 9-10", "10-8 9-10 9-10", "10-8 9-10 9-10"},
     {{28, 28}, {28, 28}, {28, 28}},
     DECISION_UNANIMOUS_DRAW,
     N},
    {"score-two-knockdowns",
     {"10-7 9-10 9-10", "10-7 9-10 9-10", "10-8 9-10 9-10"},
     {{28, 27}, {28, 27}, {28, 28}},
     DECISION_MAJORITY,
     R},
    /* Red lost a point in round 2: 10-9, 10-9, 9-10 became 9-9, 9-9, 8-10. */
    {"score-deduction",
     {"10-9 9-9 10-9", "9-10 9-9 10-9", "9-10 8-10 10-9"},
     {{29, 27}, {28, 28}, {27, 29}},
     DECISION_SPLIT_DRAW,
     N},
    /* Red lost a point in round 3; without it unanimous for red. */
    {"score-deduction-changes-result",
     {"10-9 9-10 9-9", "10-9 9-10 9-9", "10-9 10-9 9-9"},
     {{28, 28}, {28, 28}, {29, 27}},
     DECISION_MAJORITY_DRAW,
     N},
    /* Five judges: no rule text seen names them all; the three-judge rule generalised [own choice].
     */
    {"score-5j-4-1", {RED, RED, RED, RED, BLUE}, {{29, 28}}, DECISION_SPLIT, R},
    {"score-5j-3-2", {RED, RED, RED, BLUE, BLUE}, {{29, 28}}, DECISION_SPLIT, R},
    {"score-5j-4-0-1",
     {RED, RED, RED, RED, EVEN},
     {{29, 28}, {29, 28}, {29, 28}, {29, 28}, {29, 29}},
     DECISION_MAJORITY,
     R},
    {"score-5j-3-0-2",
     {RED, RED, RED, EVEN, EVEN},
     {{29, 28}, {29, 28}, {29, 28}, {29, 29}, {29, 29}},
     DECISION_MAJORITY,
     R},
    {"score-5j-3-1-1", {RED, RED, RED, BLUE, EVEN}, {{29, 28}}, DECISION_SPLIT, R},
    {"score-5j-2-2-1", {RED, RED, BLUE, BLUE, EVEN}, {{29, 28}}, DECISION_SPLIT_DRAW, N},
    {"score-5j-2-1-2", {RED, RED, BLUE, EVEN, EVEN}, {{29, 28}}, DECISION_SPLIT_DRAW, N},
    {"score-5j-1-1-3", {RED, BLUE, EVEN, EVEN, EVEN}, {{29, 28}}, DECISION_MAJORITY_DRAW, N},
};

static void decision_make__derived_cards__as_the_clauses_say(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    for (size_t i = 0; i < sizeof derived / sizeof derived[0]; i++) {
        struct scorecard card = {0};
        for (int judge = 0; judge < JUDGE_MAX && derived[i].cards[judge]; judge++) {
            add_card(&card, &rules, derived[i].cards[judge]);
        }
        struct decision decision = distance(&rules, 3, &card, 3);
        if (decision.kind != derived[i].kind || decision.winner != derived[i].winner) {
            fail_msg("%s: %s", derived[i].id, decision.reason);
        }
        for (int judge = 0; judge < card.judges && derived[i].half[judge][R]; judge++) {
            assert_int_equal(decision.total[judge].half[R], 2 * derived[i].half[judge][R]);
            assert_int_equal(decision.total[judge].half[B], 2 * derived[i].half[judge][B]);
        }
    }
}

/* decision-table-3: the clauses above. decision-table-5: their generalisation [own choice]. Red,
 * blue, even. */
static const struct {
    int red, blue, even;
    enum corner winner;
    enum decision_kind kind;
} table[] = {
    {3, 0, 0, R, DECISION_UNANIMOUS},      {2, 1, 0, R, DECISION_SPLIT},
    {2, 0, 1, R, DECISION_MAJORITY},       {1, 2, 0, B, DECISION_SPLIT},
    {1, 1, 1, N, DECISION_SPLIT_DRAW},     {1, 0, 2, N, DECISION_MAJORITY_DRAW},
    {0, 3, 0, B, DECISION_UNANIMOUS},      {0, 2, 1, B, DECISION_MAJORITY},
    {0, 1, 2, N, DECISION_MAJORITY_DRAW},  {0, 0, 3, N, DECISION_UNANIMOUS_DRAW},
    {5, 0, 0, R, DECISION_UNANIMOUS},      {4, 1, 0, R, DECISION_SPLIT},
    {4, 0, 1, R, DECISION_MAJORITY},       {3, 2, 0, R, DECISION_SPLIT},
    {3, 1, 1, R, DECISION_SPLIT},          {3, 0, 2, R, DECISION_MAJORITY},
    {2, 3, 0, B, DECISION_SPLIT},          {2, 2, 1, N, DECISION_SPLIT_DRAW},
    {2, 1, 2, N, DECISION_SPLIT_DRAW},     {2, 0, 3, N, DECISION_MAJORITY_DRAW},
    {1, 4, 0, B, DECISION_SPLIT},          {1, 3, 1, B, DECISION_SPLIT},
    {1, 2, 2, N, DECISION_SPLIT_DRAW},     {1, 1, 3, N, DECISION_MAJORITY_DRAW},
    {1, 0, 4, N, DECISION_MAJORITY_DRAW},  {0, 5, 0, B, DECISION_UNANIMOUS},
    {0, 4, 1, B, DECISION_MAJORITY},       {0, 3, 2, B, DECISION_MAJORITY},
    {0, 2, 3, N, DECISION_MAJORITY_DRAW},  {0, 1, 4, N, DECISION_MAJORITY_DRAW},
    {0, 0, 5, N, DECISION_UNANIMOUS_DRAW},
};
#define ROWS (sizeof table / sizeof table[0])

/* Every combination of cards, in every order: one row of the table each, the same with the corners
 * swapped but for the winner. */
static void check_all(const struct rules *rules, int judges, bool *row_seen)
{
    static const char *const card_of[] = {"10-9", "9-10", "10-10"};
    static const int swapped[] = {1, 0, 2};
    int combinations = 1;
    for (int i = 0; i < judges; i++) {
        combinations *= 3;
    }
    for (int combination = 0; combination < combinations; combination++) {
        struct scorecard card = {0}, mirror = {0};
        int count[3] = {0}, rest = combination, rows = 0;
        for (int judge = 0; judge < judges; judge++, rest /= 3) {
            count[rest % 3]++;
            add_card(&card, rules, card_of[rest % 3]);
            add_card(&mirror, rules, card_of[swapped[rest % 3]]);
        }
        struct decision one = distance(rules, 1, &card, 1);
        struct decision other = distance(rules, 1, &mirror, 1);
        for (size_t row = 0; row < ROWS; row++) {
            if (table[row].red == count[0] && table[row].blue == count[1] &&
                table[row].even == count[2]) {
                assert_int_equal(one.kind, table[row].kind);
                assert_int_equal(one.winner, table[row].winner);
                row_seen[row] = true;
                rows++;
            }
        }
        assert_int_equal(rows, 1);
        assert_true(one.voted && !one.commission && !one.extension);
        assert_int_equal(one.vote.red, count[0]);
        assert_int_equal(one.vote.blue, count[1]);
        assert_int_equal(one.vote.even, count[2]);
        assert_int_equal(other.winner, one.winner == N ? N : (int)corner_other(one.winner));
        assert_int_equal(other.kind, one.kind);
        assert_int_equal(other.pattern, one.pattern);
        assert_int_equal(other.vote.red, one.vote.blue);
        assert_int_equal(other.vote.even, one.vote.even);
        assert_string_equal(other.name, one.name);
        assert_string_equal(other.clause, one.clause);
    }
}

static void decision_make__all_combinations__are_one_decision_each(void **state)
{
    (void)state;
    bool row_seen[ROWS] = {false};
    struct rules rules = load_rules("boxing");
    assert_int_equal(ROWS, 10 + 21);
    check_all(&rules, 3, row_seen);
    check_all(&rules, 5, row_seen);
    for (size_t row = 0; row < ROWS; row++) {
        assert_true(row_seen[row]);
    }
}

static void decision_vote__any_number_of_judges__has_at_most_one_winner(void **state)
{
    (void)state;
    for (int judges = 1; judges <= JUDGE_MAX; judges++) {
        for (int red = 0; red <= judges; red++) {
            for (int blue = 0; red + blue <= judges; blue++) {
                struct vote vote = {red, blue, judges - red - blue, 0};
                enum corner winner = N;
                enum decision_kind kind = decision_vote(&winner, &vote, NAMING_COMMISSION);
                bool won = kind == DECISION_UNANIMOUS || kind == DECISION_SPLIT ||
                           kind == DECISION_MAJORITY;
                assert_int_equal(won, 2 * red > judges || 2 * blue > judges);
                assert_int_equal(winner, !won ? N : red > blue ? R : B);
            }
        }
    }
}

static void decision_vote__half_of_the_cards_even__is_no_majority_draw(void **state)
{
    (void)state;
    enum corner winner = N;
    struct vote vote = {1, 1, 2, 0};
    assert_int_equal(decision_vote(&winner, &vote, NAMING_COMMISSION), DECISION_SPLIT_DRAW);
    vote = (struct vote){1, 0, 3, 0};
    assert_int_equal(decision_vote(&winner, &vote, NAMING_COMMISSION), DECISION_MAJORITY_DRAW);
}

/* An older amateur usage: 5-0 unanimous, 4-1 majority, 3-2 split [a scraped encyclopaedia, weak].
 */
static void decision_vote__amateur_naming__calls_four_to_one_a_majority(void **state)
{
    (void)state;
    enum corner winner = N;
    struct vote vote = {5, 0, 0, 0};
    assert_int_equal(decision_vote(&winner, &vote, NAMING_AMATEUR), DECISION_UNANIMOUS);
    vote = (struct vote){1, 4, 0, 0};
    assert_int_equal(decision_vote(&winner, &vote, NAMING_AMATEUR), DECISION_MAJORITY);
    assert_int_equal(winner, B);
    vote = (struct vote){3, 2, 0, 0};
    assert_int_equal(decision_vote(&winner, &vote, NAMING_AMATEUR), DECISION_SPLIT);
}

static void decision_make__reason__cites_the_clause(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    for (int i = 0; i < 5; i++) {
        add_card(&card, &rules, i < 3 ? BLUE : EVEN);
    }
    assert_string_equal(distance(&rules, 3, &card, 3).reason,
                        "3 cards for blue, 2 even, none for red: the cards imply a majority "
                        "decision for blue (58 Pa. Code 21.5(a)(6))");
    assert_string_equal(distance(&rules, 3, &card, 2).reason,
                        "2 of 3 rounds are over: nothing is implied yet");
    card.given[3][1] = false;
    struct decision open = distance(&rules, 3, &card, 3);
    assert_int_equal(open.kind, DECISION_OPEN);
    assert_false(open.voted);
    assert_string_equal(open.reason, "judge 4 has no score for round 2: nothing is implied yet");
}

/* N.M. Admin. Code 15.6.12.17 [excerpt]: 10-9.5 is a score. */
static void decision_make__half_points__decide(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    add_card(&card, &rules, "10-9.5 9.5-10 10-9.5");
    struct decision decision = distance(&rules, 3, &card, 3);
    assert_int_equal(decision.winner, R);
    assert_int_equal(decision.total[0].half[R], 59);
    assert_int_equal(decision.total[0].half[B], 58);
}

/* --- ties --- */

static void decision_make__even_with_extension__calls_for_it_and_judges_it_alone(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = {0};
    add_card(&card, &rules, RED " 9-10");
    add_card(&card, &rules, BLUE " 9-10");
    add_card(&card, &rules, EVEN " 10-10");
    struct decision decision = distance(&rules, 3, &card, 3);
    assert_int_equal(decision.kind, DECISION_EXTENSION);
    assert_true(decision.extension);
    assert_string_equal(decision.reason,
                        "1 card even, 1 for red, 1 for blue: the cards imply an extension round "
                        "(World Kickboxing Organisation, professional rules)");
    /* After it a tied judge names a winner. */
    decision = distance(&rules, 3, &card, 4);
    assert_int_equal(decision.kind, DECISION_OPEN);
    assert_string_equal(decision.reason, "judge 3 is even at 10-10 and by the rules names a "
                                         "winner: nothing is implied yet");
    card.named[2] = 1 << R;
    decision = distance(&rules, 3, &card, 4);
    assert_int_equal(decision.from, 4);
    assert_int_equal(decision.kind, DECISION_SPLIT);
    assert_int_equal(decision.winner, B);
    assert_true(decision.total[2].named);
    /* Added to the rounds before: 38-38, 37-39, 39-39. */
    override(&rules, "scoring.extension_scored", "added");
    override(&rules, "scoring.tie_after_extension", "draw");
    card.named[2] = 0;
    decision = distance(&rules, 3, &card, 4);
    assert_int_equal(decision.from, 1);
    assert_int_equal(decision.kind, DECISION_MAJORITY_DRAW);
    assert_int_equal(decision.total[0].half[R], 76);
    assert_int_equal(decision.total[1].half[B], 78);
}

static void decision_make__tied_judge_must_name__then_no_draw(void **state)
{
    (void)state;
    struct rules rules = load_rules("low-kick");
    struct scorecard card = {0};
    add_card(&card, &rules, RED);
    add_card(&card, &rules, BLUE);
    add_card(&card, &rules, EVEN);
    assert_int_equal(distance(&rules, 3, &card, 3).kind, DECISION_OPEN);
    card.named[2] = 1 << B;
    struct decision decision = distance(&rules, 3, &card, 3);
    assert_int_equal(decision.kind, DECISION_SPLIT);
    assert_int_equal(decision.winner, B);
}

/* --- rounds won: IWUF Art. 24 [secondary] --- */

static struct decision sanda(const char *cards, const struct round_facts *facts, int boxed)
{
    struct rules rules = load_rules("sanda");
    struct scorecard card = {0};
    struct decision decision;
    struct bout_end end = {.how = END_DISTANCE, .corner = N, .round = boxed, .elapsed_ms = 120000};
    for (int judge = 0; judge < 5; judge++) {
        add_card(&card, &rules, cards);
    }
    decision_make(&decision, &rules, 3, &card, &end, facts);
    return decision;
}

static void decision_make__sanda_bout__is_won_with_two_rounds(void **state)
{
    (void)state;
    /* sanda-bout, Art. 24.3.1. Rounds decide, not points: 5-4, 1-9, 5-4 is red's. */
    struct decision decision = sanda("5-4 1-9 5-4", NULL, 3);
    assert_int_equal(decision.kind, DECISION_ROUNDS);
    assert_int_equal(decision.winner, R);
    assert_string_equal(decision.reason, "2 rounds for red, 1 for blue: the cards imply a win on "
                                         "rounds for red (IWUF Art. 24.3.1)");
    assert_int_equal(decision.vote.red, 2);
    assert_int_equal(decision.vote.blue, 1);
    decision = sanda("5-4 6-2", NULL, 2);
    assert_int_equal(decision.kind, DECISION_ROUNDS);
    decision = sanda("5-4 2-6", NULL, 2);
    assert_int_equal(decision.kind, DECISION_OPEN);
    decision = sanda("5-4 2-6 3-3", NULL, 3);
    assert_int_equal(decision.kind, DECISION_DRAW);
    /* One round is not two: no article seen says whose that is. */
    decision = sanda("5-4 3-3 3-3", NULL, 3);
    assert_true(decision.commission);
}

static void decision_make__sanda_round__is_settled_in_order(void **state)
{
    (void)state;
    /* sanda-tie, Art. 24.2.4 and 24.2.5. */
    struct round_facts facts = {.weight_g = {70200, 69900}};
    assert_int_equal(sanda("3-3 3-3", &facts, 2).winner, B); /* lighter */
    facts.admonitions[0][B] = facts.admonitions[1][B] = 1;
    assert_int_equal(sanda("3-3 3-3", &facts, 2).winner, R); /* fewer admonitions */
    facts.warnings[0][R] = facts.warnings[1][R] = 1;
    assert_int_equal(sanda("3-3 3-3", &facts, 2).winner, B); /* fewer warnings */
    struct round_facts none = {.weight_g = {70000, 70000}};
    assert_int_equal(sanda("3-3 3-3 3-3", &none, 3).kind, DECISION_DRAW);
    /* sanda-round, Art. 24.2.2: the second forced count gives the round, whatever the cards say. */
    struct round_facts awarded = {.awarded = {1 << B, 1 << B}};
    assert_int_equal(sanda("9-1 9-1", &awarded, 2).winner, B);
}

/* --- stoppages --- */

static struct decision stopped(const struct rules *rules, int rounds, const struct scorecard *card,
                               struct bout_end end)
{
    struct decision decision;
    decision_make(&decision, rules, rounds, card, &end, NULL);
    return decision;
}

static struct bout_end ended(enum ending how, enum corner corner, int round, int seconds)
{
    return (struct bout_end){(uint8_t)how, (uint8_t)corner, round, seconds * 1000, false};
}

static struct scorecard three_cards(const struct rules *rules, const char *a, const char *b,
                                    const char *c)
{
    struct scorecard card = {0};
    add_card(&card, rules, a);
    add_card(&card, rules, b);
    add_card(&card, rules, c);
    return card;
}

/* Wis. Admin. Code SPS 192.59(6) [excerpt]: kickboxing. */
static void decision_make__accidental_foul_wisconsin__by_majority_of_rounds(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = three_cards(&rules, RED, RED, BLUE);
    /* stop-nc-accidental-early: (6)(a). */
    struct decision decision = stopped(&rules, 3, &card, ended(END_ACCIDENTAL, N, 1, 40));
    assert_int_equal(decision.kind, DECISION_NO_CONTEST);
    assert_string_equal(decision.reason,
                        "stopped by an accidental foul in round 1 at 0:40, 0 of 3 rounds over, too "
                        "early for the cards: the rules call this no contest (Wis. Admin. Code SPS "
                        "192.59(6))");
    assert_int_equal(stopped(&rules, 3, &card, ended(END_ACCIDENTAL, N, 2, 179)).kind,
                     DECISION_NO_CONTEST);
    /* stop-td-accidental-late: (6)(b), cards including the incomplete round 29-28, 29-28, 28-29. */
    decision = stopped(&rules, 3, &card, ended(END_ACCIDENTAL, N, 3, 60));
    assert_int_equal(decision.kind, DECISION_TECHNICAL);
    assert_int_equal(decision.winner, R);
    assert_int_equal(decision.pattern, DECISION_SPLIT);
    assert_string_equal(decision.reason,
                        "stopped by an accidental foul in round 3 at 1:00, 2 of 3 rounds over; 2 "
                        "cards for red, 1 for blue: the cards imply a technical decision for red, "
                        "split decision (Wis. Admin. Code SPS 192.59(6))");
    /* stop-td-empty-partial: (6)(b), 'the round shall be scored as an even round'. */
    struct scorecard two = three_cards(&rules, "10-9 10-9", "10-9 10-9", "10-9 9-10");
    struct bout_end end = ended(END_ACCIDENTAL, N, 3, 5);
    assert_int_equal(stopped(&rules, 3, &two, end).kind, DECISION_OPEN);
    end.no_action = true;
    decision = stopped(&rules, 3, &two, end);
    assert_int_equal(decision.kind, DECISION_TECHNICAL);
    assert_int_equal(decision.total[0].half[R], 60);
    assert_int_equal(decision.total[0].half[B], 56);
    assert_int_equal(decision.pattern, DECISION_MAJORITY);
}

/* Cal. Code Regs. tit. 4 s. 339(b) [excerpt]: boxing. */
static void decision_make__accidental_foul_california__by_the_bell_of_round_four(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    override(&rules, "stops.cards_from", "round 4");
    override(&rules, "stops.before_cards", "draw");
    struct scorecard card = three_cards(&rules, RED " 9-10", WIN " 10-10", WIN " 10-10");
    /* stop-draw-ca: also in the rest before round 4. */
    assert_int_equal(stopped(&rules, 8, &card, ended(END_ACCIDENTAL, N, 3, 20)).kind,
                     DECISION_DRAW);
    assert_int_equal(stopped(&rules, 8, &card, ended(END_ACCIDENTAL, N, 3, 180)).kind,
                     DECISION_DRAW);
    /* stop-cards-ca: completed rounds and the round in progress: 38-38, 40-37, 40-37. */
    struct decision decision = stopped(&rules, 8, &card, ended(END_ACCIDENTAL, N, 4, 10));
    assert_int_equal(decision.kind, DECISION_TECHNICAL);
    assert_int_equal(decision.pattern, DECISION_MAJORITY);
    assert_int_equal(decision.to, 4);
    assert_int_equal(decision.total[0].half[R], decision.total[0].half[B]);
}

/* S.D. Admin. R. 20:81:04:22 (boxing) and 20:81:05:18(6) [excerpt]. */
static void decision_make__accidental_foul_south_dakota__by_half_of_the_rounds(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard ahead = three_cards(&rules, RED, RED, RED);
    struct scorecard even = three_cards(&rules, EVEN, EVEN, EVEN);
    /* stop-nodecision-sd: (1). */
    assert_int_equal(stopped(&rules, 4, &ahead, ended(END_ACCIDENTAL, N, 2, 30)).kind,
                     DECISION_NO_DECISION);
    /* stop-td-sd: (2). */
    struct decision decision = stopped(&rules, 4, &ahead, ended(END_ACCIDENTAL, N, 3, 180));
    assert_int_equal(decision.kind, DECISION_TECHNICAL);
    assert_int_equal(decision.winner, R);
    /* stop-tdraw-sd: 20:81:05:18(6), of mixed martial arts. */
    decision = stopped(&rules, 4, &even, ended(END_ACCIDENTAL, N, 3, 180));
    assert_int_equal(decision.kind, DECISION_TECHNICAL_DRAW);
    assert_int_equal(decision.winner, N);
    /* Exactly half over is in neither sentence of the rule. */
    decision = stopped(&rules, 4, &ahead, ended(END_ACCIDENTAL, N, 2, 180));
    assert_true(decision.commission);
    assert_string_equal(decision.reason,
                        "stopped by an accidental foul at the end of round 2, 2 of 4 rounds over: "
                        "the rules leave this to the commission (S.D. Admin. R. 20:81:04:22)");
}

/* Utah Admin. Code R457-1-605(2), (3) [excerpt]; the same in N.J.A.C. 13:46-24A, bout results,
 * items 6 and 8 [secondary], of mixed martial arts. */
static void decision_make__intentional_foul__protects_the_injured(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = three_cards(&rules, RED, RED, BLUE);
    struct bout_end end = ended(END_INTENTIONAL, R, 3, 180);
    struct decision decision = stopped(&rules, 6, &card, end); /* the injured is ahead */
    assert_int_equal(decision.kind, DECISION_TECHNICAL);
    assert_int_equal(decision.winner, R);
    end.corner = B; /* stop-tdraw-nj: behind */
    decision = stopped(&rules, 6, &card, end);
    assert_int_equal(decision.kind, DECISION_TECHNICAL_DRAW);
    assert_int_equal(decision.winner, N);
    assert_int_equal(decision.pattern, DECISION_SPLIT);
    struct scorecard even = three_cards(&rules, RED, BLUE, EVEN); /* even */
    decision = stopped(&rules, 6, &even, end);
    assert_int_equal(decision.kind, DECISION_TECHNICAL_DRAW);
    /* stop-dq-foul: severe enough to end it at once. */
    decision = stopped(&rules, 6, &card, ended(END_DISQUALIFICATION, B, 3, 20));
    assert_int_equal(decision.kind, DECISION_DISQUALIFICATION);
    assert_string_equal(decision.reason,
                        "the referee disqualified red in round 3 at 0:20: the rules call this a "
                        "disqualification for blue (Utah Admin. Code R457-1-605(2))");
    /* Kickboxing: Wis. Admin. Code SPS 192.59(3) [excerpt] and (4) [excerpt: its beginning]. */
    rules = load_rules("kickboxing");
    decision = stopped(&rules, 6, &card, end);
    assert_int_equal(decision.kind, DECISION_TECHNICAL_DRAW);
    assert_string_equal(decision.clause, "Wis. Admin. Code SPS 192.59(4)");
    rules = load_rules("low-kick"); /* whose texts seen do not say */
    assert_true(stopped(&rules, 6, &card, end).commission);
}

static void decision_make__no_such_round__implies_nothing(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = three_cards(&rules, RED, RED, BLUE);
    static const int rounds[] = {-1, ROUND_MAX + 1, 0};
    for (int how = 0; how < END_COUNT; how++) {
        for (int i = 0; i < (how == END_INTENTIONAL || how == END_ACCIDENTAL ? 3 : 2); i++) {
            struct bout_end end = ended((enum ending)how, R, rounds[i], 0);
            end.no_action = true;
            assert_int_equal(stopped(&rules, 6, &card, end).kind, DECISION_OPEN);
        }
    }
}

/* World Muaythai Council rules 13 [excerpt]. */
static void decision_make__muay_thai_endings__as_rule_13_names_them(void **state)
{
    (void)state;
    struct rules rules = load_rules("muay-thai");
    struct scorecard card = {.judges = 3};
    struct decision decision = stopped(&rules, 5, &card, ended(END_KNOCKOUT, R, 2, 74));
    assert_int_equal(decision.kind, DECISION_KNOCKOUT); /* stop-ko, 13.2 */
    assert_string_equal(decision.reason, "blue was counted out in round 2 at 1:14: the rules call "
                                         "this a knockout for red (World Muaythai Council rules "
                                         "13.2)");
    decision = stopped(&rules, 5, &card, ended(END_BOTH_OUT, N, 2, 74)); /* stop-draw-both-down */
    assert_int_equal(decision.kind, DECISION_DRAW);
    assert_string_equal(decision.clause, "World Muaythai Council rules 13.6");
    decision =
        stopped(&rules, 5, &card, ended(END_NO_DECISION, N, 2, 74)); /* stop-nodecision-wmc */
    assert_int_equal(decision.kind, DECISION_NO_DECISION);
    assert_string_equal(decision.clause, "World Muaythai Council rules 13.7");
    decision = stopped(&rules, 5, &card, ended(END_WALKOVER, B, 0, 0)); /* stop-walkover */
    assert_int_equal(decision.kind, DECISION_WALKOVER);
    assert_int_equal(decision.winner, B);
    assert_string_equal(decision.reason, "red did not come to box: the rules call this a walkover "
                                         "for blue (World Muaythai Council rules 13.5)");
    decision = stopped(&rules, 5, &card, ended(END_RETIREMENT, R, 3, 180));
    assert_string_equal(decision.name, "technical knockout (retired)"); /* 13.3 */
    rules = load_rules("boxing"); /* whose texts seen do not say */
    assert_true(stopped(&rules, 5, &card, ended(END_BOTH_OUT, N, 2, 74)).commission);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decision_make__derived_cards__as_the_clauses_say),
        cmocka_unit_test(decision_make__all_combinations__are_one_decision_each),
        cmocka_unit_test(decision_vote__any_number_of_judges__has_at_most_one_winner),
        cmocka_unit_test(decision_vote__half_of_the_cards_even__is_no_majority_draw),
        cmocka_unit_test(decision_vote__amateur_naming__calls_four_to_one_a_majority),
        cmocka_unit_test(decision_make__reason__cites_the_clause),
        cmocka_unit_test(decision_make__half_points__decide),
        cmocka_unit_test(decision_make__even_with_extension__calls_for_it_and_judges_it_alone),
        cmocka_unit_test(decision_make__tied_judge_must_name__then_no_draw),
        cmocka_unit_test(decision_make__sanda_bout__is_won_with_two_rounds),
        cmocka_unit_test(decision_make__sanda_round__is_settled_in_order),
        cmocka_unit_test(decision_make__accidental_foul_wisconsin__by_majority_of_rounds),
        cmocka_unit_test(decision_make__accidental_foul_california__by_the_bell_of_round_four),
        cmocka_unit_test(decision_make__accidental_foul_south_dakota__by_half_of_the_rounds),
        cmocka_unit_test(decision_make__intentional_foul__protects_the_injured),
        cmocka_unit_test(decision_make__no_such_round__implies_nothing),
        cmocka_unit_test(decision_make__muay_thai_endings__as_rule_13_names_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
