// SPDX-License-Identifier: GPL-3.0-or-later
// Who watches a solve is told of each elimination before it starts, and changes nothing.
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"

enum { MOST_CALLS = 32 };

typedef struct watched {
  int count;
  cavum_solve_progress calls[MOST_CALLS];
} watched;

static void watch(const cavum_solve_progress *progress, void *data) {
  watched *seen = data;
  ck_assert_int_lt(seen->count, MOST_CALLS);
  seen->calls[seen->count++] = *progress;
  printf("%d elements, degree %d, %d unknowns, %d modes\n", (int)progress->num_elements,
         progress->degree, (int)progress->num_unknowns, progress->num_modes);
}

START_TEST(each_degree_is_told) {
  cavum_error error = {0};
  cavum_cell cell;
  cavum_result *plain = NULL, *result = NULL;
  watched seen = {0};
  cavum_solve_options options = cavum_solve_options_default();
  ck_assert_ptr_null(options.watcher);
  cavum_cell_set_defaults(&cell);
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/injector-cell.yaml", &error),
                   0);
  ck_assert_int_eq(cavum_solve(&plain, &cell, &options, &error), CAVUM_OK);
  options.watcher = watch;
  options.watcher_data = &seen;
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, &error), CAVUM_OK);
  // One elimination may serve several degrees.
  ck_assert_int_ge(seen.count, 1);
  ck_assert_int_le(seen.count, result->num_steps);
  for (int i = 0; i < seen.count; i++) ck_assert_int_eq(seen.calls[i].num_modes, cell.num_modes);
  // The last call is the solution that is reported.
  const cavum_solve_progress *last = &seen.calls[seen.count - 1];
  ck_assert_int_eq(last->num_elements, result->mesh.num_elements);
  ck_assert_int_eq(last->degree, result->degree);
  ck_assert_int_eq(last->num_unknowns, result->num_unknowns);
  for (int m = 0; m < result->num_modes; m++) {
    ck_assert_mem_eq(plain->modes[m].figures, result->modes[m].figures,
                     sizeof result->modes[m].figures);
  }
  cavum_result_destroy(&plain);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, each_degree_is_told); }

CAVUM_TEST_MAIN("figures.watcher", add_tests)
