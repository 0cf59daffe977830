// SPDX-License-Identifier: GPL-3.0-or-later
// A solver that remembers: it stays inside the stated uncertainties of a fresh one, the same order
// of cells gives the same bits, and what it is told to forget leaves no trace.
#include "cavum/solver.h"
#include "grid_msh.h"
#include "neighbour.h"
#include "solve/solve.h"
#include "warm_cold.h"

// CAVUM_LONG_TESTS=1 asks for more.
#ifdef CAVUM_SANITIZED
enum { NUM_SHAPES = 10, NUM_ORDERED = 4, NUM_MIXED = 4, LONG_FACTOR = 1 };
#else
enum { NUM_SHAPES = 80, NUM_ORDERED = 12, NUM_MIXED = 30, LONG_FACTOR = 3 };
#endif
static int some_of(int count) { return getenv("CAVUM_LONG_TESTS") ? count * LONG_FACTOR : count; }

// Every tenth cell is a path.
static cavum_cell draw_cell(random_state *state, int shape) {
  return shape % 10 == 9 ? random_path(state, shape / 10) : random_two_ellipse(state);
}

static cavum_solver *make_solver(void) {
  cavum_solver *solver = NULL;
  ck_assert_int_eq(cavum_solver_create(&solver, NULL, NULL), CAVUM_OK);
  return solver;
}

// The result of a cell, labelled or not as converged; NULL when there is none.
static cavum_result *solve_warm(cavum_solver *solver, const cavum_cell *cell) {
  cavum_result *result = NULL;
  (void)cavum_solver_solve(&result, solver, cell, NULL);
  return result;
}

static cavum_result *solve_cold(const cavum_cell *cell) {
  cavum_result *result = NULL;
  (void)cavum_solve(&result, cell, NULL, NULL);
  return result;
}

// Where the intervals of the two do not even overlap, one of them misses the true value. It must
// not be that of the warm solve: its uncertainties hold against a finer run.
static void check_warm(const cavum_result *warm, const cavum_cell *cell, int shape) {
  static tally finer;
  char where[48];
  finer = (tally){0};
  snprintf(where, sizeof where, "warm, shape %d", shape);
  random_compare_result(&finer, warm, cell, where);
  printf("shape %d: warm and cold are apart; %d of %d figures of warm hold\n", shape, finer.inside,
         finer.count);
  ck_assert_int_eq(finer.inside, finer.count);
}

// Compares the two ways to solve a cell.
static void compare_warm_cold(warm_cold *all, cavum_solver *solver, const cavum_cell *cell,
                              int shape) {
  warm_cold here = {0};
  cavum_result *warm = solve_warm(solver, cell), *cold = solve_cold(cell);
  warm_cold_add(&here, warm, cold, shape);
  warm_cold_add(all, warm, cold, shape);
  if (here.largest > 1.0) check_warm(warm, cell, shape);
  cavum_result_destroy(&warm);
  cavum_result_destroy(&cold);
}

// The solver goes from a shape to a neighbour and from there to the next shape, which is another
// one altogether.
START_TEST(warm_and_cold_agree) {
  random_state state = {7654321};
  warm_cold all = {0};
  cavum_solver *solver = make_solver();
  for (int i = 0; i < some_of(NUM_SHAPES); i++) {
    cavum_cell cell = draw_cell(&state, i), neighbour;
    bool exists = neighbour_make(&neighbour, &cell, &state, NEIGHBOUR_STEP);
    cavum_result *first = solve_warm(solver, &cell);
    if (exists) compare_warm_cold(&all, solver, &neighbour, i);
    cavum_result_destroy(&first);
    neighbour_clear(&neighbour);
    cavum_cell_clear(&cell);
  }
  cavum_solver_destroy(&solver);
  warm_cold_print(&all, "neighbours of random cells");
  // No bound on the largest difference here: the widths of the intervals may be very different,
  // because a warm solve may keep a finer mesh or a higher degree than a cold one would choose.
  ck_assert_int_gt(all.compared, 0);
  ck_assert_int_eq(all.unlike, 0);
}
END_TEST

// Other modes and another accuracy than before; some cells look for modes near a frequency.
static void draw_wishes(cavum_cell *cell, random_state *state) {
  static const double accuracies[3][2] = {{1e-4, 1e-2}, {1e-6, 1e-4}, {1e-8, 1e-5}};
  int which = (int)random_between(state, 0.0, 3.0);
  cell->num_modes = 1 + (int)random_between(state, 0.0, 4.0);
  cell->accuracy_frequency = accuracies[which][0];
  cell->accuracy_other_figures = accuracies[which][1];
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE && random_happens(state, 0.15)) {
    // k R = 4: above the lowest mode of most of these cells.
    cell->near_hz = 4.0 * 299792458.0 / (2.0 * acos(-1.0) * cell->left.equator_radius_m);
  }
}

// One solver for cells of every kind in turn: each is a cell of its own, a neighbour of the one
// before or that one again, with wishes of its own.
START_TEST(kinds_modes_and_accuracies_change) {
  random_state state = {3456712};
  warm_cold all = {0};
  cavum_solver *solver = make_solver();
  cavum_cell cell = draw_cell(&state, 0);
  for (int i = 0; i < some_of(NUM_MIXED); i++) {
    cavum_cell next;
    bool fresh = random_happens(&state, 0.5);
    if (fresh) {
      cavum_cell_clear(&cell);
      cell = random_happens(&state, 0.5) ? random_path(&state, i) : random_two_ellipse(&state);
    }
    double step = random_happens(&state, 0.2) ? 0.0 : NEIGHBOUR_STEP;
    if (neighbour_make(&next, &cell, &state, step)) {
      draw_wishes(&next, &state);
      compare_warm_cold(&all, solver, &next, i);
    }
    neighbour_clear(&next);
  }
  cavum_cell_clear(&cell);
  cavum_solver_destroy(&solver);
  warm_cold_print(&all, "a mixture of cells and wishes");
  ck_assert_int_gt(all.compared, 0);
  ck_assert_int_eq(all.unlike, 0);
}
END_TEST

// Of a cell that needs less than the usual degree the solver learns so, and its figures are still
// within what is asked for; forgetting brings the usual degree back.
START_TEST(degrees_are_learned) {
  static const char text[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
      "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
      "ends:\n  left: {kind: tube, length_mm: 150.0, close: electric}\n"
      "  right: {kind: tube, length_mm: 150.0, close: electric}\n";
  enum { CELLS = 40 };
  random_state state = {97531};
  cavum_solver *solver = make_solver();
  cavum_cell cell;
  int usual = 0, lower = 0, climbs = 0;
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), "cell.yaml", NULL), CAVUM_OK);
  for (int i = 0; i < CELLS; i++) {
    cavum_cell neighbour;
    ck_assert(neighbour_make(&neighbour, &cell, &state, NEIGHBOUR_STEP));
    if (i == CELLS - 1) cavum_solver_forget(solver);
    cavum_result *result = solve_warm(solver, &neighbour);
    ck_assert_ptr_nonnull(result);
    ck_assert(result->accuracy_reached);
    if (i == 0) usual = result->degree;
    if (i == CELLS - 1) ck_assert_int_eq(result->degree, usual);
    lower += result->degree < usual;
    climbs += result->num_steps > 3;  // a first level has three degrees
    cavum_result_destroy(&result);
    neighbour_clear(&neighbour);
  }
  printf("%d of %d cells below degree %d, %d climbed\n", lower, CELLS, usual, climbs);
  // Most of these cells can do with less; tries that fail stay rare.
  ck_assert_int_gt(lower, CELLS / 2);
  ck_assert_int_lt(climbs, CELLS / 3);
  cavum_cell_clear(&cell);
  cavum_solver_destroy(&solver);
}
END_TEST

// The demo nose cone with magnetic tube ends, where the voltage of slow particles comes from the
// axis.
static cavum_cell read_open_nose_cone(void) {
  cavum_cell cell;
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/nose-cone-cell.yaml", NULL),
                   CAVUM_OK);
  for (cavum_index i = 0; i < cell.path.num_curves; i++) {
    cavum_boundary *boundary = &cell.path.curves[i].boundary;
    if (*boundary == CAVUM_BOUNDARY_ELECTRIC) *boundary = CAVUM_BOUNDARY_MAGNETIC;
  }
  cell.num_modes = 1;
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-6;
  return cell;
}

// Of this nose cone degree 9 never is enough at tight accuracies, 10 is, and a failed try of 9 ends
// at 12: what was learned of 9 must not keep the next cells from 11 and 10.
START_TEST(a_degree_that_fails_leaves_those_above) {
  enum { CELLS = 30 };
  random_state state = {2468};
  cavum_solver *solver = make_solver();
  cavum_cell cell = read_open_nose_cone();
  int needed = 1000, at_needed = 0, climbs = 0, degree[CELLS];
  for (int i = 0; i < CELLS; i++) {
    cavum_cell neighbour;
    ck_assert(neighbour_make(&neighbour, &cell, &state, NEIGHBOUR_STEP));
    cavum_result *result = solve_warm(solver, &neighbour);
    ck_assert(result && result->accuracy_reached);
    degree[i] = result->degree;
    needed = needed < degree[i] ? needed : degree[i];
    climbs += i > 0 && result->num_steps > 3;
    cavum_result_destroy(&result);
    neighbour_clear(&neighbour);
  }
  for (int i = 0; i < CELLS; i++) at_needed += degree[i] == needed;
  printf("%d of %d nose cones at degree %d, %d climbed\n", at_needed, CELLS, needed, climbs);
  ck_assert_int_gt(climbs, 0);  // else this tests nothing
  ck_assert_int_gt(at_needed, CELLS / 2);
  cavum_cell_clear(&cell);
  cavum_solver_destroy(&solver);
}
END_TEST

static void check_same_bits(const cavum_result *a, const cavum_result *b, int shape,
                            const char *what) {
  ck_assert_msg(!a == !b, "shape %d: only one result, %s", shape, what);
  if (!a || !b) return;
  ck_assert_int_eq(a->num_modes, b->num_modes);
  ck_assert_int_eq(a->degree, b->degree);
  for (int m = 0; m < a->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *x = &a->modes[m].figures[id], *y = &b->modes[m].figures[id];
      ck_assert_msg(x->state == y->state && memcmp(&x->value, &y->value, sizeof x->value) == 0 &&
                        memcmp(&x->uncertainty, &y->uncertainty, sizeof x->uncertainty) == 0,
                    "shape %d mode %d %s: %.17g +- %.3g and %.17g +- %.3g, %s", shape, m + 1,
                    cavum_figure_describe((cavum_figure_id)id).key, x->value, x->uncertainty,
                    y->value, y->uncertainty, what);
    }
  }
}

// How many meshes a solve climbed on.
static int count_meshes(const cavum_result *result) {
  int count = 1;
  for (int i = 1; i < result->num_steps; i++) {
    count += result->steps[i].num_elements != result->steps[i - 1].num_elements;
  }
  return count;
}

// A random cell whose first mesh is too coarse for five modes; the next ones are finer.
static cavum_cell draw_difficult_cell(random_state *state) {
  for (;;) {
    cavum_cell cell = random_two_ellipse(state);
    cell.num_modes = 5;
    cavum_result *cold = solve_cold(&cell);
    bool is_difficult = cold && cold->accuracy_reached && count_meshes(cold) == 2;
    cavum_result_destroy(&cold);
    if (is_difficult) return cell;
    cavum_cell_clear(&cell);
  }
}

// A pillbox of radius and length 100 mm from a file of 16 elements.
static cavum_cell read_mesh_cell(const char *folder, int num_modes) {
  double breaks[5];
  char path[160], text[512];
  grid_equal_steps(breaks, 4, 0.0, 100.0);
  const grid_msh grid = {.num_s = 4,
                         .num_t = 4,
                         .s = breaks,
                         .t = breaks,
                         .order = 1,
                         .unit_m = 1e-3,
                         .map = grid_identity,
                         .region_names = {"vacuum"},
                         .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                                   CAVUM_BOUNDARY_METAL}};
  snprintf(path, sizeof path, "%s/pillbox.msh", folder);
  grid_write(&grid, path);
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour: {kind: mesh, file: %s, unit: mm, axis: x}\n"
           "modes: {count: %d}\n",
           path, num_modes);
  return solving_read(text);
}

// A mesh file after a cell on a finer mesh, with the same wishes. It has one mesh only: an attempt
// on another would fail and leave its message.
static void check_mesh_file_after(cavum_solver *solver, const cavum_cell *difficult) {
  char folder[128];
  cavum_error error = {0};
  cavum_result *before = solve_warm(solver, difficult), *warm = NULL;
  temporary_folder_make(folder);
  cavum_cell cell = read_mesh_cell(folder, difficult->num_modes);
  ck_assert_int_eq(cavum_solver_solve(&warm, solver, &cell, &error), CAVUM_OK);
  ck_assert_str_eq(error.message, "");
  ck_assert_int_eq(error.status, CAVUM_OK);
  cavum_result *cold = solve_cold(&cell);
  check_same_bits(warm, cold, 0, "a mesh file after a cell on a finer mesh and alone");
  cavum_result_destroy(&before);
  cavum_result_destroy(&warm);
  cavum_result_destroy(&cold);
  cavum_cell_clear(&cell);
  temporary_folder_delete(folder);
}

// Neighbours of a cell that needs its second mesh begin with that, all but the second, the fourth,
// the eighth and the sixteenth, which try the first once more. A cell of another kind starts anew.
START_TEST(meshes_are_learned) {
  enum { CELLS = 16 };
  const double step = 1e-4;  // small: what is too coarse for one is so for all
  random_state state = {86420};
  warm_cold all = {0};
  cavum_solver *solver = make_solver();
  cavum_cell cell = draw_difficult_cell(&state), path = random_path(&state, 1);
  for (int i = 0; i < CELLS; i++) {
    cavum_cell neighbour;
    ck_assert(neighbour_make(&neighbour, &cell, &state, step));
    cavum_result *warm = solve_warm(solver, &neighbour), *cold = solve_cold(&neighbour);
    warm_cold_add(&all, warm, cold, i);
    ck_assert(warm && cold && warm->accuracy_reached);
    bool tries_first = i == 0 || i == 1 || i == 3 || i == 7 || i == 15;
    ck_assert_msg(count_meshes(warm) == (tries_first ? 2 : 1), "cell %d: %d meshes", i,
                  count_meshes(warm));
    ck_assert_int_eq(warm->mesh.num_elements, cold->mesh.num_elements);
    cavum_result_destroy(&warm);
    cavum_result_destroy(&cold);
    neighbour_clear(&neighbour);
  }
  warm_cold_print(&all, "neighbours on a finer mesh");
  ck_assert_int_eq(all.unlike, 0);
  cavum_result *warm = solve_warm(solver, &path), *cold = solve_cold(&path);
  check_same_bits(warm, cold, CELLS, "after cells on a finer mesh and alone");
  cavum_result_destroy(&warm);
  cavum_result_destroy(&cold);
  check_mesh_file_after(solver, &cell);
  cavum_cell_clear(&cell);
  cavum_cell_clear(&path);
  cavum_solver_destroy(&solver);
}
END_TEST

START_TEST(same_order_gives_same_bits) {
  random_state state = {1234567};
  cavum_solver *one = make_solver(), *other = make_solver();
  for (int i = 0; i < some_of(NUM_ORDERED); i++) {
    cavum_cell cell = draw_cell(&state, i);
    for (int k = 0; k < 3; k++) {
      cavum_cell neighbour;
      if (neighbour_make(&neighbour, &cell, &state, k * NEIGHBOUR_STEP)) {
        cavum_result *a = solve_warm(one, &neighbour), *b = solve_warm(other, &neighbour);
        check_same_bits(a, b, i, "two solvers");
        cavum_result_destroy(&a);
        cavum_result_destroy(&b);
      }
      neighbour_clear(&neighbour);
    }
    cavum_cell_clear(&cell);
  }
  cavum_solver_destroy(&one);
  cavum_solver_destroy(&other);
}
END_TEST

// A pillbox of radius 100 mm whose TM01p and TM020 have the same k^2 at longer = 0: (x02 / R)^2 =
// (x01 / R)^2 + (p pi / L)^2, closed form. TM020 is even, TM01p as p.
static cavum_cell read_pillbox(int p, double longer, int num_modes) {
  double x01 = 2.404825557695773, x02 = 5.520078110286311;
  double length_mm = 100.0 * p * acos(-1.0) / sqrt(x02 * x02 - x01 * x01) * (1.0 + longer);
  char text[1024];
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n"
           "  path:\n    - {line_to: {z_mm: %.15g, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %.15g, r_mm: 100}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\nmodes: {count: %d}\n",
           length_mm, length_mm, num_modes);
  return solving_read(text);
}

static cavum_result *solve_pillbox(cavum_solver *solver, double longer) {
  cavum_cell cell = read_pillbox(1, longer, 2);
  cavum_result *result = solve_warm(solver, &cell);
  ck_assert_ptr_nonnull(result);
  cavum_cell_clear(&cell);
  return result;
}

START_TEST(modes_of_both_symmetries_change_places) {
  static const double longer[] = {2e-3, -2e-3, 1e-4, -1e-4, 1e-6, -1e-6};
  cavum_solver *solver = make_solver();
  for (size_t i = 0; i < sizeof longer / sizeof *longer; i++) {
    cavum_result *result = solve_pillbox(solver, longer[i]);
    ck_assert_int_eq(result->num_modes, 2);
    ck_assert_str_eq(result->modes[1].label, longer[i] > 0.0 ? "TM011" : "TM020");
    ck_assert(result->accuracy_reached);
    cavum_result_destroy(&result);
  }
  cavum_solver_destroy(&solver);
}
END_TEST

// Of two modes 1e-7 apart the lower one is given, alone and again and again, to the same bits in
// two solvers, and nothing is said about the one that is left out.
START_TEST(nearly_degenerate_modes_are_in_order) {
  cavum_solver *one = make_solver(), *other = make_solver();
  for (int i = 0; i < 12; i++) {
    double longer = (i % 2 ? -1e-7 : 1e-7) * (1.0 + i);
    cavum_result *a = solve_pillbox(one, longer), *b = solve_pillbox(other, longer);
    ck_assert_str_eq(a->modes[1].label, longer > 0.0 ? "TM011" : "TM020");
    ck_assert(a->accuracy_reached);
    check_same_bits(a, b, i, "nearly degenerate modes in two solvers");
    cavum_cell cell = read_pillbox(1, longer, 3);
    cavum_result *three = solve_cold(&cell);
    const cavum_figure *left_out = &three->modes[2].figures[CAVUM_FIGURE_FREQUENCY];
    ck_assert_double_lt(a->complete_below_hz, left_out->value + left_out->uncertainty);
    ck_assert_double_gt(a->complete_below_hz, (1.0 - 1e-6) * left_out->value);
    cavum_cell_clear(&cell);
    cavum_result_destroy(&a);
    cavum_result_destroy(&b);
    cavum_result_destroy(&three);
  }
  cavum_solver_destroy(&one);
  cavum_solver_destroy(&other);
}
END_TEST

// Also where the accuracy is out of reach.
START_TEST(the_order_does_not_wait_for_the_accuracy) {
  cavum_cell cell = read_pillbox(1, 3e-7, 2);
  cavum_solve_options options = cavum_solve_options_default();
  cavum_result *result = NULL;
  cell.accuracy_frequency = 1e-13;
  cell.accuracy_other_figures = 1e-12;
  options.degree = 8;
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, NULL), CAVUM_OK);
  ck_assert_int_eq(result->num_modes, 2);
  ck_assert_str_eq(result->modes[1].label, "TM011");
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Two modes of one class cannot be out of order: nothing is solved again. Of two classes they can.
START_TEST(one_class_is_in_order) {
  for (int p = 1; p <= 2; p++) {
    cavum_solver_memory memory = {0};
    cavum_cell cell = read_pillbox(p, 1e-7, p + 1);
    cavum_solve_options options = cavum_solve_options_default();
    cavum_result *result = NULL;
    ck_assert_int_eq(cavum_solve_remembering(&result, &memory, &cell, &options, NULL), CAVUM_OK);
    ck_assert_str_eq(result->modes[p].label, p == 1 ? "TM011" : "TM012");
    ck_assert(memory.main.topology > 0);
    ck_assert_msg((memory.close.topology > 0) == (p == 1), "TM01%d and TM020", p);
    cavum_result_destroy(&result);
    cavum_solver_memory_clear(&memory);
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(what_is_forgotten_leaves_no_trace) {
  random_state state = {2345671};
  cavum_solver *used = make_solver();
  for (int i = 0; i < some_of(NUM_ORDERED); i++) {
    cavum_cell cell = draw_cell(&state, i), neighbour;
    if (neighbour_make(&neighbour, &cell, &state, NEIGHBOUR_STEP)) {
      cavum_result *before = solve_warm(used, &cell);
      cavum_solver *fresh = make_solver();
      cavum_solver_forget(used);
      cavum_result *a = solve_warm(used, &neighbour), *b = solve_warm(fresh, &neighbour);
      cavum_result *cold = solve_cold(&neighbour);
      check_same_bits(a, b, i, "forgotten and fresh");
      check_same_bits(b, cold, i, "fresh and without a solver");
      cavum_result_destroy(&before);
      cavum_result_destroy(&a);
      cavum_result_destroy(&b);
      cavum_result_destroy(&cold);
      cavum_solver_destroy(&fresh);
    }
    neighbour_clear(&neighbour);
    cavum_cell_clear(&cell);
  }
  cavum_solver_destroy(&used);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, warm_and_cold_agree);
  tcase_add_test(tests, degrees_are_learned);
  tcase_add_test(tests, a_degree_that_fails_leaves_those_above);
  tcase_add_test(tests, meshes_are_learned);
  tcase_add_test(tests, kinds_modes_and_accuracies_change);
  tcase_add_test(tests, same_order_gives_same_bits);
  tcase_add_test(tests, modes_of_both_symmetries_change_places);
  tcase_add_test(tests, nearly_degenerate_modes_are_in_order);
  tcase_add_test(tests, the_order_does_not_wait_for_the_accuracy);
  tcase_add_test(tests, one_class_is_in_order);
  tcase_add_test(tests, what_is_forgotten_leaves_no_trace);
}

CAVUM_TEST_MAIN("figures.solver", add_tests)
