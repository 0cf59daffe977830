// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives by the numbers of a mirrored path: half of it is solved where no peak is asked for.
// To first order what a number changes at one side alone is half of what it changes at both.
#include "solving.h"

static const char *const NAMES[] = {"capsule.yaml", "pillbox.yaml", "nose-cone-cell.yaml"};
enum { NUM_FILES = 3, NUM_TEXTS = 2 };

// A spline with a point on the plane, and one whose middle span the plane cuts.
#define CUP(points)                                                                           \
  "accelerating_length_mm: 120\ncontour:\n  kind: path\n  start: {z_mm: -60, r_mm: 0}\n"      \
  "  path:\n    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"                           \
  "    - {line_to: {z_mm: 60, r_mm: 40}, boundary: magnetic}\n    - spline_through:\n" points \
  "      boundary: metal\n    - {line_to: {z_mm: -60, r_mm: 0}, boundary: magnetic}\n"
#define AT(z, r) "        - {z_mm: " z ", r_mm: " r "}\n"
static const char *const TEXTS[NUM_TEXTS] = {
    CUP(AT("50", "52") AT("38", "90") AT("0", "108") AT("-38", "90") AT("-50", "52")
            AT("-60", "40")),
    CUP(AT("50", "52") AT("42", "85") AT("17", "106") AT("-17", "106") AT("-42", "85")
            AT("-50", "52") AT("-60", "40"))};

static cavum_cell read_cell(int i) {
  if (i >= NUM_FILES) return solving_read(TEXTS[i - NUM_FILES]);
  char path[512];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s", CAVUM_DEMO_FOLDER, NAMES[i]);
  cavum_status status = cavum_cell_read_file(&cell, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static cavum_result *solve(const cavum_cell *cell, bool use_symmetry, uint64_t figures) {
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  options.derivatives_of = figures;
  options.use_symmetry = use_symmetry;
  return solving_solve(cell, &options);
}

static bool has_plane(const cavum_result *result) {
  for (cavum_index e = 0; e < result->mesh.num_edges; e++) {
    if (result->mesh.edges[e].boundary == CAVUM_BOUNDARY_SYMMETRY) return true;
  }
  return false;
}

// What both state counts, and nothing more.
static void compare(const cavum_result *half, const cavum_result *whole, cavum_figure_id id) {
  for (int mode = 0; mode < whole->num_modes; mode++) {
    double largest = 0.0, uncertain = 0.0;
    for (int i = 0; i < whole->num_dimensions; i++) {
      cavum_derivative a = cavum_result_derivative(half, mode, i, id);
      cavum_derivative b = cavum_result_derivative(whole, mode, i, id);
      ck_assert_str_eq(half->dimensions[i].key, whole->dimensions[i].key);
      ck_assert_int_eq(a.state, b.state);
      if (b.state != CAVUM_FIGURE_PRESENT) continue;
      CAVUM_CHECK_NEAR(a.value, b.value, a.uncertainty + b.uncertainty);
      largest = fmax(largest, fabs(b.value));
      uncertain = fmax(uncertain, a.uncertainty);
    }
    // Of use: ten times the accuracy of the figures; where a wall across the axis turns, V has a
    // tip.
    ck_assert(uncertain <= (id == CAVUM_FIGURE_FREQUENCY ? 1e-3 : 1e-2) * largest);
  }
}

START_TEST(halves_have_the_derivatives_of_the_whole) {
  const uint64_t figures = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY |
                           UINT64_C(1) << CAVUM_FIGURE_R_OVER_Q_LINAC |
                           UINT64_C(1) << CAVUM_FIGURE_GEOMETRY_FACTOR;
  cavum_cell cell = read_cell(_i);
  cell.num_modes = 1;
  cavum_result *half = solve(&cell, true, figures), *whole = solve(&cell, false, figures);
  ck_assert(has_plane(half) && !has_plane(whole));
  ck_assert_int_eq(half->num_dimensions, whole->num_dimensions);
  ck_assert_int_gt(half->num_dimensions, 4);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (figures >> id & 1) compare(half, whole, (cavum_figure_id)id);
  }
  cavum_result_destroy(&half);
  cavum_result_destroy(&whole);
  cavum_cell_clear(&cell);
}
END_TEST

// A peak has two derivatives where it stands at both sides, which half a cell cannot tell.
START_TEST(peaks_are_those_of_the_whole) {
  cavum_cell cell = read_cell(_i);
  cell.num_modes = 1;
  cavum_result *result = solve(&cell, true, UINT64_C(1) << CAVUM_FIGURE_BPK_OVER_EACC);
  ck_assert(!has_plane(result));
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, halves_have_the_derivatives_of_the_whole, 0, NUM_FILES + NUM_TEXTS);
  tcase_add_loop_test(tests, peaks_are_those_of_the_whole, 0, 1);
}

CAVUM_TEST_MAIN("derivative_halves", add)
