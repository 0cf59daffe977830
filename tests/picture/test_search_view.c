// SPDX-License-Identifier: GPL-3.0-or-later
// The path of a search as a chart.
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "picture/chart_draw.h"
#include "picture/search_view.h"
#include "support.h"

enum { STEPS = 4 };

// The third step is not taken; its conditions are not known.
static cavum_optimum_step steps[STEPS] = {
    {.objective = 0.1, .violation = 0.1, .residual = 0.1, .accepted = true},
    {.objective = 1e-3, .violation = 1e-3, .residual = 1e-3, .accepted = true},
    {.objective = -1e-2, .violation = 1e-2, .residual = NAN},
    {.objective = 1e-6, .violation = 0.0, .residual = 1e-5, .accepted = true}};

static const cavum_chart_series *line_of(const cavum_chart *chart, cavum_ink ink) {
  for (int i = 0; i < chart->num_series; i++) {
    const cavum_chart_series *s = &chart->series[i];
    if (s->guide && s->ink == ink) return s;
  }
  return NULL;
}

// Marks at one place hide each other: a line leads through those of each kind, and has no entry of
// its own in the key. Steps that were not taken are on none.
START_TEST(a_line_joins_each_kind) {
  cavum_optimum optimum = {.num_steps = STEPS, .steps = steps};
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  int num_marks = 0;
  ck_assert_ptr_nonnull(chart);
  cavum_search_view_fill(chart, &optimum);
  ck_assert_int_eq(cavum_chart_check(chart, NULL), CAVUM_OK);
  for (int i = 0; i < chart->num_series; i++) {
    const cavum_chart_series *s = &chart->series[i];
    if (!s->points || s->ink == CAVUM_INK_MUTED) continue;
    const cavum_chart_series *line = line_of(chart, s->ink);
    ck_assert_ptr_nonnull(line);
    ck_assert(!line->points && line->width > 0.0);
    ck_assert_str_eq(line->text, "");
    ck_assert_int_eq(line->count, s->count);
    ck_assert_int_eq(memcmp(line->x, s->x, (size_t)s->count * sizeof *s->x), 0);
    ck_assert_int_eq(memcmp(line->y, s->y, (size_t)s->count * sizeof *s->y), 0);
    num_marks += s->count;
  }
  ck_assert_int_eq(num_marks, 9);
  ck_assert_ptr_null(line_of(chart, CAVUM_INK_MUTED));
  cavum_chart_clear(chart);
  free(chart);
}
END_TEST

// The best shape is the last step: its distance from itself is none, and nothing of it is drawn.
// What is too small to be drawn is said.
START_TEST(the_best_has_no_distance_from_itself) {
  cavum_optimum optimum = {.num_steps = STEPS, .steps = steps, .objective_exact = 1e-6 + 1e-9};
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  ck_assert_ptr_nonnull(chart);
  cavum_search_view_fill(chart, &optimum);
  const cavum_chart_series *line = line_of(chart, CAVUM_INK_FIRST);
  ck_assert_ptr_nonnull(line);
  ck_assert_int_eq(line->count, 2);
  for (int i = 0; i < line->count; i++) ck_assert_double_gt(line->y[i], 1e-4);
  ck_assert_ptr_nonnull(strstr(chart->remark, "nor the best shape's own distance of 0"));
  cavum_chart_clear(chart);
  free(chart);
}
END_TEST

// With tolerances the path is that of the last search alone, which the picture says.
START_TEST(the_last_search_is_said) {
  cavum_optimum optimum = {.num_steps = STEPS, .steps = steps};
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  ck_assert_ptr_nonnull(chart);
  optimum.robust.kind = CAVUM_ROBUST_MEAN;
  cavum_search_view_fill(chart, &optimum);
  ck_assert_ptr_nonnull(strstr(chart->caption, "last search with tolerances"));
  cavum_chart_clear(chart);
  free(chart);
}
END_TEST

// Solves are counted: one alone stands in the middle between 0.5 and 1.5, and no mark of the axis
// is between two whole numbers.
START_TEST(solves_are_whole_numbers) {
  for (int count = 1; count <= STEPS; count += STEPS - 1) {
    cavum_optimum optimum = {.num_steps = count, .steps = steps};
    const cavum_draw_request request = {.kind = CAVUM_CANVAS_SVG, .image_scale = 1.0};
    char *svg = NULL;
    size_t size = 0;
    cavum_plot frame = {0};
    cavum_chart *chart = cavum_alloc(1, sizeof *chart);
    ck_assert_ptr_nonnull(chart);
    cavum_search_view_fill(chart, &optimum);
    cavum_chart_frame(&frame, chart);
    ck_assert_double_eq(frame.horizontal.low, 0.5);
    ck_assert_double_eq(frame.horizontal.high, count + 0.5);
    ck_assert_int_eq(cavum_search_view_draw(&svg, &size, &optimum, "", &request, NULL), CAVUM_OK);
    ck_assert_ptr_nonnull(strstr(svg, ">1<"));
    ck_assert_ptr_null(strstr(svg, ">1.5<"));
    ck_assert_ptr_null(strstr(svg, ">1.00<"));
    free(svg);
    cavum_chart_clear(chart);
    free(chart);
  }
}
END_TEST

// The key names what is drawn: each name stands for the numbers that it says.
START_TEST(names_are_those_of_the_numbers) {
  static const struct {
    const char *text;
    double first;
  } names[] = {{"objective above", 0.4}, {"limit that is broken", 0.2}, {"residual", 0.3}};
  cavum_optimum_step one[] = {
      {.objective = 0.4, .violation = 0.2, .residual = 0.3, .accepted = true},
      {.objective = 0.0, .violation = 0.0, .residual = 1e-5, .accepted = true}};
  cavum_optimum optimum = {.num_steps = 2, .steps = one};
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  ck_assert_ptr_nonnull(chart);
  cavum_search_view_fill(chart, &optimum);
  for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
    const cavum_chart_series *found = NULL;
    for (int i = 0; i < chart->num_series; i++) {
      const char *text = chart->series[i].text;
      if (strncmp(text, names[k].text, strlen(names[k].text)) == 0) found = &chart->series[i];
    }
    ck_assert_ptr_nonnull(found);
    ck_assert_int_ge(found->count, 1);
    // The distance of an objective is that of its exponential.
    double expected = k == 0 ? expm1(names[k].first) : names[k].first;
    CAVUM_CHECK_NEAR(found->y[0], expected, 1e-15);
  }
  cavum_chart_clear(chart);
  free(chart);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, names_are_those_of_the_numbers);
  tcase_add_test(tests, a_line_joins_each_kind);
  tcase_add_test(tests, the_best_has_no_distance_from_itself);
  tcase_add_test(tests, the_last_search_is_said);
  tcase_add_test(tests, solves_are_whole_numbers);
}

CAVUM_TEST_MAIN("path of a search", add)
