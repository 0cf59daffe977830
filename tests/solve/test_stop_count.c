// SPDX-License-Identifier: GPL-3.0-or-later
// Where a solve asks whether to stop. The clock of the library is replaced by one that goes on by a
// second at each look, so that every place that may ask does ask: counts do not depend on the
// machine, and each place in turn can be the one that is told to stop.
#include <time.h>

#include "cavum/cavum.h"
#include "eigen/pencil.h"
#include "grid_msh.h"
#include "linalg/block_plan.h"
#include "linalg/block_solve.h"
#include "random_cells.h"
#include "solving.h"
#include "support.h"
#include "test_cell.h"

int __real_clock_gettime(clockid_t clock, struct timespec *now);
int __wrap_clock_gettime(clockid_t clock, struct timespec *now);

// The clock that is looked at for questions alone: others are the test program's too.
int __wrap_clock_gettime(clockid_t clock, struct timespec *now) {
  static time_t now_s = 0;
  if (clock != CLOCK_MONOTONIC_COARSE) return __real_clock_gettime(clock, now);
  *now = (struct timespec){.tv_sec = ++now_s};
  return 0;
}

/** Who is asked, and says yes at the question `stop_at`; 0: never. */
typedef struct asked {
  int count, stop_at;
} asked;

static bool ask(void *data) {
  asked *who = data;
  who->count++;
  return who->stop_at > 0 && who->count >= who->stop_at;
}

static cavum_status solve(cavum_result **result, const cavum_cell *cell, asked *who) {
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = ask;
  options.stop_data = who;
  return cavum_solve(result, cell, &options, NULL);
}

static int count_questions(cavum_cell *cell, int num_modes) {
  asked who = {0, 0};
  cavum_result *result = NULL;
  cell->num_modes = num_modes;
  ck_assert_int_eq(solve(&result, cell, &who), CAVUM_OK);
  cavum_result_destroy(&result);
  return who.count;
}

// Stopped at each question in turn: the status says so, there is no result, nobody is asked again.
static void stop_everywhere(cavum_cell *cell, int num_modes) {
  int all = count_questions(cell, num_modes);
  ck_assert_int_ge(all, 10);
  for (int i = 1; i <= all; i++) {
    asked who = {0, i};
    cavum_result *result = NULL;
    ck_assert_int_eq(solve(&result, cell, &who), CAVUM_ERR_STOPPED);
    ck_assert_ptr_null(result);
    ck_assert_int_eq(who.count, i);
  }
  printf("%d modes: stopped at each of %d questions\n", num_modes, all);
}

START_TEST(each_question_can_be_the_last) {
  cavum_cell cell = solving_read(TEST_CELL);
  stop_everywhere(&cell, 1);
  stop_everywhere(&cell, 8);
  cavum_cell_clear(&cell);
}
END_TEST

// Right-hand sides are solved for six at a time: more modes are more questions.
START_TEST(more_modes_are_more_questions) {
  random_state state = {1};
  cavum_cell cell = random_path(&state, 0);
  int few = count_questions(&cell, 5), many = count_questions(&cell, 20);
  printf("5 modes: %d questions, 20 modes: %d\n", few, many);
  ck_assert_int_ge(many, few + 6);
  cavum_cell_clear(&cell);
}
END_TEST

// Steps of a solve that take long on a large mesh, watched: each asks while it runs.
enum { PRODUCT, SOLVE, PLAN, STEPS };
static struct {
  asked *who;
  int runs[STEPS], silent[STEPS];  // silent: without a question, of a mesh that is large
} watched;

static void note(int step, int count_before) {
  watched.runs[step]++;
  if (watched.who && watched.who->count == count_before) watched.silent[step]++;
}

static int count_now(void) { return watched.who ? watched.who->count : 0; }

void __real_cavum_pencil_apply_mass(double *y, const cavum_pencil *pencil, const double *x);
void __wrap_cavum_pencil_apply_mass(double *y, const cavum_pencil *pencil, const double *x);

void __wrap_cavum_pencil_apply_mass(double *y, const cavum_pencil *pencil, const double *x) {
  int before = count_now();
  __real_cavum_pencil_apply_mass(y, pencil, x);
  note(PRODUCT, before);
}

void __real_cavum_block_factor_solve(double *x, cavum_block_factor *f,
                                     const cavum_index *num_closed, int count, cavum_index stride);
void __wrap_cavum_block_factor_solve(double *x, cavum_block_factor *f,
                                     const cavum_index *num_closed, int count, cavum_index stride);

void __wrap_cavum_block_factor_solve(double *x, cavum_block_factor *f,
                                     const cavum_index *num_closed, int count, cavum_index stride) {
  int before = count_now();
  __real_cavum_block_factor_solve(x, f, num_closed, count, stride);
  note(SOLVE, before);
}

cavum_status __real_cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                            cavum_index num_blocks, const bool *exists,
                                            const int *nominal_size,
                                            const cavum_index *element_blocks,
                                            cavum_index num_elements, cavum_error *error);
cavum_status __wrap_cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                            cavum_index num_blocks, const bool *exists,
                                            const int *nominal_size,
                                            const cavum_index *element_blocks,
                                            cavum_index num_elements, cavum_error *error);

cavum_status __wrap_cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                            cavum_index num_blocks, const bool *exists,
                                            const int *nominal_size,
                                            const cavum_index *element_blocks,
                                            cavum_index num_elements, cavum_error *error) {
  int before = count_now();
  cavum_status status = __real_cavum_block_plan_create(
      plan, order, num_blocks, exists, nominal_size, element_blocks, num_elements, error);
  note(PLAN, before);
  return status;
}

static void write_pillbox(const char *path, int cells) {
  double breaks[65];
  grid_equal_steps(breaks, cells, 0.0, 0.1);
  grid_msh grid = {.num_s = cells,
                   .num_t = cells,
                   .s = breaks,
                   .t = breaks,
                   .order = 2,
                   .triangles = true,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  grid_write(&grid, path);
}

// 1,352 triangles are 169 batches and hundreds of fronts: products, solves and plans of
// such a mesh ask as they go on, and when the answer is yes what they leave half done goes nowhere.
START_TEST(long_steps_ask_as_they_go_on) {
  static const char *const names[STEPS] = {"products", "solves", "plans"};
  enum { CELLS = 26, PLACES = 30 };
  char folder[128], path[160], text[300];
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/pillbox.msh", folder);
  write_pillbox(path, CELLS);
  snprintf(text, sizeof text, "contour: {kind: mesh, file: %s, unit: m, axis: x}\n", path);
  cavum_cell cell = solving_read(text);
  cell.accuracy_other_figures = 1e-2;
  asked all = {0, 0};
  cavum_result *result = NULL;
  watched.who = &all;
  ck_assert_int_eq(solve(&result, &cell, &all), CAVUM_OK);
  watched.who = NULL;
  cavum_result_destroy(&result);
  for (int k = 0; k < STEPS; k++) {
    printf("%d %s, %d of them without a question\n", watched.runs[k], names[k], watched.silent[k]);
    ck_assert_int_ge(watched.runs[k], 1);
    ck_assert_int_eq(watched.silent[k], 0);
  }
  for (int i = 0; i < PLACES; i++) {
    asked who = {0, 1 + (int)((int64_t)(all.count - 1) * i / (PLACES - 1))};
    ck_assert_int_eq(solve(&result, &cell, &who), CAVUM_ERR_STOPPED);
    ck_assert_ptr_null(result);
    ck_assert_int_eq(who.count, who.stop_at);
  }
  cavum_cell_clear(&cell);
  temporary_folder_delete(folder);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, each_question_can_be_the_last);
  tcase_add_test(tests, long_steps_ask_as_they_go_on);
  tcase_add_test(tests, more_modes_are_more_questions);
}

CAVUM_TEST_MAIN("solve.stop_count", add_tests)
