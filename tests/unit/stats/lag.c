/* Lag-sequential figures against known streams and tables. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/lag.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: the help page of R LagSequential. The long digits are own
 * arithmetic, done with two independent statistics packages; the short ones are what the source
 * prints. */

/* O'Connor BP 1999, Simple and flexible SAS and SPSS programs for analyzing lag-sequential
 * categorical data, Behavior Research Methods, Instruments & Computers 31:718-726; the
 * 122-code stream stands in the author's program file [excerpt] */
static const int oconnor_stream[] = {
    3, 5, 3, 4, 4, 6, 3, 4, 4, 1, 6, 3, 6, 6, 1, 6, 2, 4, 3, 4, 3, 4, 2, 6, 6, 3, 6, 3, 6, 3, 4,
    3, 5, 3, 4, 2, 5, 3, 4, 2, 6, 3, 4, 2, 5, 3, 6, 2, 6, 2, 6, 3, 3, 6, 3, 5, 3, 6, 6, 3, 3, 6,
    2, 6, 2, 6, 3, 3, 6, 3, 6, 3, 3, 6, 6, 2, 6, 2, 6, 2, 6, 3, 3, 5, 3, 6, 2, 6, 6, 3, 3, 5, 3,
    5, 3, 3, 5, 3, 3, 6, 6, 2, 6, 2, 6, 2, 6, 6, 2, 3, 6, 2, 6, 2, 6, 1, 6, 2, 6, 2, 6, 1};
static const int64_t oconnor_counts[] = {0, 0, 0, 0, 0, 3, 0, 0, 1, 1, 2, 17, 0, 0,  8,  8, 7, 13,
                                         1, 4, 3, 2, 0, 1, 0, 0, 9, 0, 0, 0,  3, 17, 14, 0, 0, 7};
static const double oconnor_z[] = {-0.3243018108085405,  -0.8037517957383002,
                                   -1.1189150243387447,  -0.5546414324985718,
                                   -0.497192481033378,   2.449995992606251,
                                   -0.9320504003099557,  -2.31,
                                   -2.6863844266543317,  -0.7590721152765896,
                                   0.40070857968756174,  5.012764427033166,
                                   -1.323645042711611,   -3.2805308035348757,
                                   -1.0583555109887826,  3.269906356717168,
                                   3.2756945242410427,   0.3367958909820146,
                                   1.125557791444021,    1.7458658651361558,
                                   -0.12680589189493158, 1.1,
                                   -0.9860636027008748,  -1.822120180234968,
                                   -0.5765566601970551,  -1.4289419162443235,
                                   4.88787546185582,     -0.9860636027008748,
                                   -0.8839285714285714,  -2.232296423288935,
                                   1.76679398959463,     5.012764427033166,
                                   0.9067180881812457,   -2.4902309129877898,
                                   -2.232296423288935,   -2.796951219512195};
static const double oconnor_q[] = {-1.0,
                                   -1.0,
                                   -1.0,
                                   -1.0,
                                   -1.0,
                                   1.0,
                                   -1.0,
                                   -1.0,
                                   -0.8230563002680965,
                                   -0.3793103448275862,
                                   0.16614420062695925,
                                   0.861671469740634,
                                   -1.0,
                                   -1.0,
                                   -0.23934426229508196,
                                   0.772972972972973,
                                   0.8184663536776213,
                                   0.07003610108303249,
                                   0.5620437956204379,
                                   0.515274949083503,
                                   -0.044897959183673466,
                                   0.4275618374558304,
                                   -1.0,
                                   -0.7021276595744681,
                                   -1.0,
                                   -1.0,
                                   1.0,
                                   -1.0,
                                   -1.0,
                                   -1.0,
                                   0.7236363636363636,
                                   0.861671469740634,
                                   0.18592964824120603,
                                   -1.0,
                                   -1.0,
                                   -0.564276048714479};

/* Griffin WA, Gottman JM 1990, in Patterson (ed.) Family Social Interaction, p. 137; table in
 * R LagSequential help page [secondary] */
static const int64_t griffin_gottman_counts[] = {0, 0,  0, 0, 2,  2, 0, 10, 5, 5, 60, 20,
                                                 0, 9,  2, 1, 3,  0, 0, 3,  0, 1, 5,  0,
                                                 3, 54, 6, 2, 24, 8, 1, 24, 2, 1, 3,  12};
static const double griffin_gottman_z[] = {
    -0.24804099308704394, -1.5546792006801329, -0.4906601623298885, -0.3967213528491206,
    0.5789129051450796,   1.9028492868448694,  -1.5546792006801329, -7.132950272631706,
    -0.32804003434337586, 0.8454381090067711,  6.256760232470586,   1.5038062331444364,
    -0.4906601623298885,  1.8698281957572427,  1.3415782408707941,  0.6173531397369737,
    -1.3432553319330802,  -1.7183957566156123, -0.3756356494026374, -0.2511382435156615,
    -0.7430604369823348,  1.1882461329177507,  1.2295019404344745,  -1.315555562738055,
    1.627214652299683,    4.679821289866714,   0.3156959535879592,  -1.0860838385081681,
    -2.938179924261685,   -2.5180359075689385, 0.4916784616542466,  2.737628224091645,
    -0.2944845522637146,  -0.5308197483063302, -4.351120433978847,  2.4086969241503855};
static const double griffin_gottman_q[] = {-1.0,
                                           -1.0,
                                           -1.0,
                                           -1.0,
                                           0.2803030303030303,
                                           0.696969696969697,
                                           -1.0,
                                           -0.8243243243243243,
                                           -0.09195402298850575,
                                           0.26356589147286824,
                                           0.683083511777302,
                                           0.24786324786324787,
                                           -1.0,
                                           0.4550898203592814,
                                           0.47919876733436056,
                                           0.31891891891891894,
                                           -0.405607476635514,
                                           -1.0,
                                           -1.0,
                                           -0.0898876404494382,
                                           -1.0,
                                           0.5527950310559007,
                                           0.3881961762261014,
                                           -1.0,
                                           0.6887417218543046,
                                           0.5467461044912924,
                                           0.08542713567839195,
                                           -0.3996316758747698,
                                           -0.38757974222106495,
                                           -0.4682193110140708,
                                           0.27586206896551724,
                                           0.42470119521912353,
                                           -0.11389759665621735,
                                           -0.2727272727272727,
                                           -0.8107392246568745,
                                           0.43119266055045874};

/* Bakeman R, Quera V 2011, Sequential Analysis and Observational Methods for the Behavioral
 * Sciences, p. 159 (75 codes); data in R LagSequential help page [secondary] */
static const int bakeman_quera_stream[] = {2, 1, 4, 3, 3, 4, 3, 4, 2, 1, 4, 4, 5, 4, 1, 3, 4, 5, 3,
                                           2, 2, 1, 4, 1, 2, 5, 2, 1, 2, 3, 3, 1, 4, 4, 1, 4, 1, 3,
                                           3, 3, 1, 5, 2, 1, 1, 3, 1, 4, 1, 2, 3, 3, 4, 5, 5, 2, 3,
                                           3, 5, 2, 5, 4, 4, 2, 3, 1, 5, 5, 2, 2, 1, 3, 3, 3, 3};
static const int64_t bakeman_quera_counts[] = {1, 3, 4, 6, 2, 6, 2, 4, 0, 2, 4, 1, 9,
                                               4, 1, 5, 2, 2, 3, 3, 0, 5, 1, 2, 2};
static const double bakeman_quera_z[] = {
    -1.6870939640105154, 0.14038907539522008, -0.20622496364936999,  1.9364237645486655,
    -0.1339470430611576, 2.1435070169447306,  -0.3583591849952864,   0.14450548160941007,
    -2.0951922366395346, 0.0938590635448906,  -0.06988334966666623,  -1.6348097685722336,
    2.315857698800084,   0.09839629920829743, -1.2201850985162654,   1.2339955362319925,
    -0.4826201927838121, -1.3374450099480208, -0.029160424634042666, 0.8229751731329566,
    -1.7859605741487667, 2.898014278629851,   -1.3037206372532422,   -0.02286042147591561,
    0.645174395028197};
static const double bakeman_quera_q[] = {-0.6791044776119403,
                                         0.051094890510948905,
                                         -0.06666666666666667,
                                         0.53125,
                                         -0.05660377358490566,
                                         0.5789473684210527,
                                         -0.14782608695652175,
                                         0.047619047619047616,
                                         -1.0,
                                         0.04,
                                         -0.022727272727272728,
                                         -0.667953667953668,
                                         0.5652173913043478,
                                         0.03225806451612903,
                                         -0.5576923076923077,
                                         0.37142857142857144,
                                         -0.19665271966527198,
                                         -0.4810126582278481,
                                         -0.010526315789473684,
                                         0.3,
                                         -1.0,
                                         0.75,
                                         -0.5833333333333334,
                                         -0.009708737864077669,
                                         0.2727272727272727};

static void sums(const int64_t *table, size_t q, int64_t *row, int64_t *column, int64_t *total)
{
    *total = 0;
    for (size_t i = 0; i < q; i++)
        row[i] = column[i] = 0;
    for (size_t i = 0; i < q; i++) {
        for (size_t j = 0; j < q; j++) {
            row[i] += table[i * q + j];
            column[j] += table[i * q + j];
            *total += table[i * q + j];
        }
    }
}

static void check_table(const int64_t *table, size_t q, const double *z, const double *yule,
                        int64_t n)
{
    int64_t row[8], column[8], total = 0;

    sums(table, q, row, column, &total);
    assert_int_equal(total, n);
    for (size_t i = 0; i < q; i++) {
        for (size_t j = 0; j < q; j++) {
            const size_t at = i * q + j;
            const struct lag_cell cell = lag_measure(table[at], row[i], column[j], total);
            assert_true(cell.defined && cell.has_z && cell.has_q);
            assert_near(at, cell.z, z[at], 1e-9);
            assert_near(at, cell.q, yule[at], 1e-9);
            assert_near(at, cell.expected, (double)row[i] * (double)column[j] / (double)n, 1e-9);
            assert_near(at, cell.probability, (double)table[at] / (double)row[i], 1e-12);
        }
    }
}

/* The streams of the sources count their codes from 1. */
static void check_stream(const int *stream, size_t length, size_t q, const int64_t *counts)
{
    int codes[122];
    int64_t table[36] = {0};

    assert_true(length <= ROWS(codes));
    for (size_t i = 0; i < length; i++)
        codes[i] = stream[i] - 1;
    assert_true(lag_transitions(table, q, codes, length, 1));
    for (size_t i = 0; i < q * q; i++)
        assert_int_equal(table[i], counts[i]);
}

static void lag__streams__known_values(void **state)
{
    (void)state;
    check_stream(oconnor_stream, ROWS(oconnor_stream), 6, oconnor_counts);
    check_stream(bakeman_quera_stream, ROWS(bakeman_quera_stream), 5, bakeman_quera_counts);
}

static void lag__residuals__known_values(void **state)
{
    (void)state;
    check_table(oconnor_counts, 6, oconnor_z, oconnor_q, 121);
    check_table(griffin_gottman_counts, 6, griffin_gottman_z, griffin_gottman_q, 268);
    check_table(bakeman_quera_counts, 5, bakeman_quera_z, bakeman_quera_q, 74);
}

/* As O'Connor's program prints them (excerpt): z of row 2 -.932 -2.31 -2.686 -.759 .401 5.013, row
 * 3 column 4 3.27, row 5 column 3 4.89; Yule's Q of 2 to 6 .86. */
static void lag__residuals__printed(void **state)
{
    (void)state;
    static const double second[] = {-.932, -2.31, -2.686, -.759, .401, 5.013};
    int64_t row[8], column[8], total = 0;

    sums(oconnor_counts, 6, row, column, &total);
    assert_int_equal(row[1], 21);
    for (size_t j = 0; j < 6; j++)
        assert_printed(j, lag_measure(oconnor_counts[6 + j], row[1], column[j], total).z, second[j],
                       3);
    assert_printed(0, lag_measure(oconnor_counts[15], row[2], column[3], total).z, 3.27, 2);
    assert_printed(1, lag_measure(oconnor_counts[26], row[4], column[2], total).z, 4.89, 2);
    assert_printed(2, lag_measure(oconnor_counts[11], row[1], column[5], total).q, .86, 2);
}

/* The same figure by its other name. Agresti A 2007, An Introduction to Categorical Data Analysis,
 * 2nd ed., p. 38-39 (party by gender): adjusted residuals of 762 327 468 / 484 239 477, table and
 * chi-square 30.07 excerpt in R help page chisq.test, residuals own arithmetic with it. */
static void lag__residuals__are_those_of_a_table(void **state)
{
    (void)state;
    static const int64_t table[2][3] = {{762, 327, 468}, {484, 239, 477}};
    static const double residual[] = {4.502053521086705, 0.6994517329844296, -5.315945542704928};
    double chi_square = 0.0;

    for (size_t j = 0; j < 3; j++) {
        const int64_t column = table[0][j] + table[1][j];
        const struct lag_cell upper = lag_measure(table[0][j], 1557, column, 2757);
        const struct lag_cell lower = lag_measure(table[1][j], 1200, column, 2757);
        assert_near(j, upper.z, residual[j], 1e-9);
        assert_near(j, lower.z, -residual[j], 1e-9);
        chi_square += pow((double)table[0][j] - upper.expected, 2) / upper.expected;
        chi_square += pow((double)table[1][j] - lower.expected, 2) / lower.expected;
    }
    assert_printed(0, chi_square, 30.07, 2);
}

static void lag__breaks_and_longer_lags__lead_nowhere(void **state)
{
    (void)state;
    static const int codes[] = {0, 1, LAG_BREAK, LAG_BREAK, 1, 0, 1, LAG_BREAK, 0};
    int64_t next[4] = {0}, second[4] = {0}, far[4] = {0};

    assert_true(lag_transitions(next, 2, codes, ROWS(codes), 1));
    assert_int_equal(next[0 * 2 + 1], 2);
    assert_int_equal(next[1 * 2 + 0], 1);
    assert_int_equal(next[0] + next[3], 0);
    assert_true(lag_transitions(second, 2, codes, ROWS(codes), 2));
    assert_int_equal(second[1 * 2 + 1], 1);
    assert_int_equal(second[0] + second[1] + second[2], 0);
    assert_true(lag_transitions(far, 2, codes, ROWS(codes), SIZE_MAX));
    assert_true(lag_transitions(far, 2, NULL, 0, 1));
    assert_int_equal(far[0] + far[1] + far[2] + far[3], 0);
}

static void lag__bad_codes__refused_untouched(void **state)
{
    (void)state;
    static const int high[] = {0, 1, 2}, low[] = {0, 1, -2};
    int64_t table[4] = {0};

    assert_false(lag_transitions(table, 2, high, 3, 1));
    assert_false(lag_transitions(table, 2, low, 3, 1));
    assert_false(lag_transitions(table, 2, high, 2, 0));
    assert_false(lag_transitions(table, 0, high, 2, 1));
    assert_int_equal(table[0] + table[1] + table[2] + table[3], 0);
}

static void lag__degenerate_counts__flagged(void **state)
{
    (void)state;
    static const int64_t impossible[][4] = {{0, 0, 0, 0}, {-1, 2, 2, 9},       {3, 2, 4, 9},
                                            {3, 4, 2, 9}, {1, 9, 9, 9},        {0, 10, 1, 9},
                                            {0, 5, 5, 9}, {0, 0, 0, INT64_MAX}};
    const struct lag_cell never = lag_measure(0, 0, 4, 9), all = lag_measure(4, 9, 4, 9);

    for (size_t i = 0; i < ROWS(impossible); i++) {
        const int64_t *n = impossible[i];
        const struct lag_cell cell = lag_measure(n[0], n[1], n[2], n[3]);
        assert_false(cell.defined || cell.has_z || cell.has_q);
    }
    assert_true(never.defined);
    assert_false(never.has_z || never.has_q);
    assert_true(never.probability == 0.0 && never.z == 0.0 && never.q == 0.0);
    assert_true(all.defined);
    assert_false(all.has_z || all.has_q);
    assert_near(0, all.expected, 4.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lag__streams__known_values),
        cmocka_unit_test(lag__residuals__known_values),
        cmocka_unit_test(lag__residuals__printed),
        cmocka_unit_test(lag__residuals__are_those_of_a_table),
        cmocka_unit_test(lag__breaks_and_longer_lags__lead_nowhere),
        cmocka_unit_test(lag__bad_codes__refused_untouched),
        cmocka_unit_test(lag__degenerate_counts__flagged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
