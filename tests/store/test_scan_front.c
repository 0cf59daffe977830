// SPDX-License-Identifier: GPL-3.0-or-later
// Non-dominated shapes of a result file: those of the definition, without shapes that are not done
// or lack an aim, by rising number, however many rows are read at a time.
#include <math.h>
#include <stdlib.h>

#include "grid_msh.h"
#include "made_scan.h"
#include "scan/non_dominated.h"
#include "support.h"

// More than are reduced at once.
enum { NUM_SHAPES = 90000 };

static const char *const keys[] = {"epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m",
                                   "r_over_q_linac_ohm", "geometry_factor_ohm"};
static study_files files;
static cavum_study *study;
static double figures[NUM_SHAPES][4];
static int states[NUM_SHAPES];

static double uniform(uint64_t *state) { return (double)(grid_random(state) >> 11) * 0x1p-53; }

// Figures near a surface on which none beats another, some rounded, some missing.
static void fill(unsigned char *row, const cavum_study *of, int64_t shape, void *data) {
  uint64_t *state = data;
  double *figure = figures[shape], sum = 0.0;
  for (int i = 0; i < 4; i++) {
    double value = uniform(state);
    figure[i] = i < 2 ? value : i == 2 ? sum - 0.01 * value : value;
    if (shape % 3 == 0) figure[i] = rint(100.0 * figure[i]) / 100.0;
    if (uniform(state) < 0.01) figure[i] = NAN;
    if (i < 2) sum += value;
    made_scan_set(row, of, keys[i], figure[i]);
  }
  states[shape] = uniform(state) < 0.1 ? CAVUM_SHAPE_FAILED : CAVUM_SHAPE_DONE;
  made_scan_set(row, of, "status", states[shape]);
}

static void set_up(void) {
  uint64_t state = 7;
  char text[256];
  snprintf(text, sizeof text,
           "cell: cell.yaml\nbatch: 4096\n"
           "vary: {iris_radius_mm: {from: 30, to: 40, points: %d}}\n",
           NUM_SHAPES);
  study_files_make(&files, STUDY_CELL, text);
  study = study_files_open(&files);
  made_scan_write(study, files.output, fill, &state);
}

static void tear_down(void) {
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}

// Members by the definition: the first aims whose values are all there, larger ones turned over.
static int64_t expect(int64_t *members, int num_aims, const bool *smaller) {
  int64_t count = 0, kept = 0;
  double *values = calloc((size_t)NUM_SHAPES * 4, sizeof *values);
  int64_t *shapes = calloc(NUM_SHAPES, sizeof *shapes);
  bool *marks = calloc(NUM_SHAPES, sizeof *marks);
  for (int64_t shape = 0; shape < NUM_SHAPES; shape++) {
    bool complete = states[shape] == CAVUM_SHAPE_DONE;
    for (int i = 0; i < num_aims; i++) {
      complete = complete && isfinite(figures[shape][i]);
      values[count * num_aims + i] = smaller[i] ? figures[shape][i] : -figures[shape][i];
    }
    if (complete) shapes[count++] = shape;
  }
  ck_assert_int_eq(cavum_non_dominated_mark(marks, values, count, num_aims, NULL), CAVUM_OK);
  for (int64_t i = 0; i < count; i++) {
    if (marks[i]) members[kept++] = shapes[i];
  }
  free(values);
  free(shapes);
  free(marks);
  return kept;
}

// Whether a shape counts, and how good it is: smaller is better.
static bool goodness(double *good, int64_t shape, bool smaller, int aim) {
  *good = smaller ? figures[shape][aim] : -figures[shape][aim];
  return states[shape] == CAVUM_SHAPE_DONE && isfinite(*good);
}

// As many as asked for, and at each place one that as many are better than, or as good.
static void check_best(const cavum_scan_summary *summary, const cavum_scan_aims *aims, int aim) {
  ck_assert_int_eq(summary->num_best, aims->num_best);
  for (int place = 0; place < aims->num_best; place++) {
    const cavum_scan_point *point = &summary->best[aim * aims->num_best + place];
    double listed, other;
    int better = 0, as_good = 0;
    ck_assert(goodness(&listed, point->shape, aims->smaller[aim], aim));
    for (int64_t shape = 0; shape < NUM_SHAPES; shape++) {
      if (!goodness(&other, shape, aims->smaller[aim], aim)) continue;
      better += other < listed;
      as_good += other == listed;
    }
    ck_assert_int_le(better, place);
    ck_assert_int_gt(better + as_good, place);
  }
}

START_TEST(members_are_those_of_the_definition) {
  cavum_stored_scan *scan = NULL;
  int64_t *members = calloc(NUM_SHAPES, sizeof *members);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, NULL), CAVUM_OK);
  for (int num_aims = 1; num_aims <= 4; num_aims++) {
    cavum_scan_summary summary = {0};
    cavum_error error = {0};
    cavum_scan_aims aims = {.struct_size = sizeof aims,
                            .count = num_aims,
                            .smaller = {true, true, false, num_aims % 2 == 0},
                            .num_best = 3};
    for (int i = 0; i < num_aims; i++) aims.columns[i] = cavum_stored_scan_find(scan, keys[i]);
    cavum_status status = cavum_scan_summarise(&summary, scan, &aims, &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
    int64_t expected = expect(members, num_aims, aims.smaller);
    printf("%d aims: %lld non-dominated, expected %lld\n", num_aims, (long long)summary.num_front,
           (long long)expected);
    ck_assert_int_eq(summary.num_front, expected);
    for (int64_t i = 0; i < expected; i++) {
      ck_assert_int_eq(summary.front[i].shape, members[i]);
      for (int k = 0; k < num_aims; k++) {
        ck_assert_double_eq(summary.front[i].values[k], figures[members[i]][k]);
      }
    }
    for (int i = 0; i < num_aims; i++) check_best(&summary, &aims, i);
    cavum_scan_summary_clear(&summary);
  }
  cavum_stored_scan_close(&scan);
  free(members);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_unchecked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, members_are_those_of_the_definition);
}

CAVUM_TEST_MAIN("scan front", add_tests)
