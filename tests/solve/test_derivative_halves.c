// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives by the numbers of a mirrored path, of which half is solved. To first order what a
// number changes at one side alone is half of what it changes at both; peaks, which stand at both
// sides, change by half of that and, with either sign, by half of what the opposite change at the
// other side makes of it.
#include "cavum/solver.h"
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

// Tubes alike, whose lengths are numbers of one side.
static const char TWO_ELLIPSES[] =
    "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "ends:\n  left: {kind: tube, length_mm: 20, close: electric}\n"
    "  right: {kind: tube, length_mm: 20, close: electric}\n";

// Two rounded noses, each with two places where E is nearly as large: the tops of its two edges.
#define EDGE(z, r, cz, cr, turn)                                                                 \
  "    - {arc_to: {z_mm: " z ", r_mm: " r "}, centre: {z_mm: " cz ", r_mm: " cr "}, turn: " turn \
  ", boundary: metal}\n"
#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
static const char TWO_NOSES[] =
    "modes: {count: 3}\naccelerating_length_mm: 90\ncontour:\n  kind: path\n"
    "  start: {z_mm: -70, r_mm: 0}\n  path:\n" TO("70", "0", "axis") TO("70", "12", "metal")
        TO("20", "12", "metal") EDGE("20", "20", "20", "16", "right") TO("45", "32", "metal")
            TO("45", "120", "metal") TO("-45", "120", "metal") TO("-45", "32", "metal")
                TO("-20", "20", "metal") EDGE("-20", "12", "-20", "16", "right")
                    TO("-70", "12", "metal") TO("-70", "0", "metal");

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

static const cavum_figure_id PEAKS[] = {CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_BPK_OVER_EACC};

// Those to either side of all modes; how many differ from one another is returned.
static int compare_peaks(const cavum_result *half, const cavum_result *whole) {
  int split = 0;
  for (int at = 0; at < 2 * whole->num_modes; at++) {
    int mode = at / 2;
    cavum_figure_id id = PEAKS[at % 2];
    for (int i = 0; i < whole->num_dimensions; i++) {
      cavum_derivative sides[2];
      for (int change = 0; change < 2; change++) {
        sides[change] = cavum_result_one_sided_derivative(half, mode, i, id, change);
        cavum_derivative b = cavum_result_one_sided_derivative(whole, mode, i, id, change);
        ck_assert_int_eq(sides[change].state, b.state);
        if (b.state != CAVUM_FIGURE_PRESENT) continue;
        printf("%s, mode %d: ", whole->dimensions[i].key, mode + 1);
        CAVUM_CHECK_NEAR(sides[change].value, b.value, sides[change].uncertainty + b.uncertainty);
      }
      split += sides[0].state == CAVUM_FIGURE_PRESENT && sides[0].value != sides[1].value;
    }
  }
  return split;
}

// Peaks on the plane, as those of the cups are, have one derivative.
START_TEST(peaks_are_those_of_the_whole) {
  cavum_cell cell = _i == NUM_FILES + NUM_TEXTS       ? solving_read(TWO_ELLIPSES)
                    : _i == NUM_FILES + NUM_TEXTS + 1 ? solving_read(TWO_NOSES)
                                                      : read_cell(_i);
  uint64_t figures = UINT64_C(1) << PEAKS[0] | UINT64_C(1) << PEAKS[1];
  cell.accuracy_other_figures = 1e-5;
  cavum_result *half = solve(&cell, true, figures), *whole = solve(&cell, false, figures);
  ck_assert(has_plane(half) && !has_plane(whole));
  int split = compare_peaks(half, whole);
  printf("%d are split\n", split);
  bool on_plane = _i >= NUM_FILES && _i < NUM_FILES + NUM_TEXTS;
  ck_assert(on_plane == (split == 0));
  cavum_result_destroy(&half);
  cavum_result_destroy(&whole);
  cavum_cell_clear(&cell);
}
END_TEST

// The same by the same solver, whose adjoint vectors of both symmetry classes begin with those of
// the shape before.
START_TEST(peaks_of_neighbours_are_those_of_the_whole) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  cavum_cell cell = solving_read(TWO_NOSES);
  uint64_t figures = UINT64_C(1) << PEAKS[0] | UINT64_C(1) << PEAKS[1];
  cell.num_modes = 1;
  options.derivatives = true;
  options.derivatives_of = figures;
  ck_assert_int_eq(cavum_solver_create(&solver, &options, &error), CAVUM_OK);
  for (int i = 0; i < 4; i++) {
    cavum_result *half = NULL, *whole;
    double r_mm = 120.0 + 0.1 * i;
    ck_assert_int_eq(cavum_cell_set(&cell, "path[6].line_to.r_mm", r_mm, &error), CAVUM_OK);
    ck_assert_int_eq(cavum_cell_set(&cell, "path[7].line_to.r_mm", r_mm, &error), CAVUM_OK);
    ck_assert_int_eq(cavum_solver_solve(&half, solver, &cell, &error), CAVUM_OK);
    whole = solve(&cell, false, figures);
    ck_assert(has_plane(half) && !has_plane(whole));
    ck_assert_int_gt(compare_peaks(half, whole), 0);
    cavum_result_destroy(&half);
    cavum_result_destroy(&whole);
  }
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
}
END_TEST

// Fields along both walls have derivatives of their own, which half a cell cannot tell.
START_TEST(fields_along_walls_are_those_of_the_whole) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_cell cell = read_cell(0);
  cell.num_modes = 1;
  options.derivatives = options.profiles = options.wall_derivatives = true;
  cavum_result *result = solving_solve(&cell, &options);
  ck_assert(!has_plane(result));
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, halves_have_the_derivatives_of_the_whole, 0, NUM_FILES + NUM_TEXTS);
  tcase_add_loop_test(tests, peaks_are_those_of_the_whole, 0, NUM_FILES + NUM_TEXTS + 2);
  tcase_add_test(tests, peaks_of_neighbours_are_those_of_the_whole);
  tcase_add_test(tests, fields_along_walls_are_those_of_the_whole);
}

CAVUM_TEST_MAIN("derivative_halves", add)
