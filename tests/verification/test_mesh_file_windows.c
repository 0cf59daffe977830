// SPDX-License-Identifier: GPL-3.0-or-later
// Slanted windows from axis to wall in mesh files whose elements do not become smaller towards the
// ends of the window, against the same window on a mesh that is graded towards them, at 1e-9 of the
// frequency and 1e-7 of the other figures.
#include "grid_msh.h"

enum { MODES = 2, LAYERS = 4, BREAKS_MOST = 4 * LAYERS + 16 };

static const double LENGTH_M = 0.1, LAYER_RATIO = 0.12;

// A pillbox with a window: where its two faces meet the axis and the wall.
typedef struct window {
  double radius_m, first_m[2], second_m[2], eps_r;
} window;

static double between(double a, double b, double part) { return a + (b - a) * part; }

// s is 0 and 3 at the ends of the pillbox, 1 and 2 at the faces; t is 0 on the axis, 1 at the wall.
static cavum_point map_window(double s, double t, const void *context) {
  const window *w = context;
  double first = between(w->first_m[0], w->first_m[1], t);
  double second = between(w->second_m[0], w->second_m[1], t);
  double z = s <= 1.0   ? first * s
             : s <= 2.0 ? between(first, second, s - 1.0)
                        : between(second, LENGTH_M, s - 2.0);
  return (cavum_point){z, w->radius_m * t};
}

// Break points from a to b in equal steps, the first and the last of them in layers if wanted.
static int add_breaks(double *breaks, int count, double a, double b, int steps, int low, int high) {
  double step = (b - a) / steps;
  for (int k = low; k > 0; k--) breaks[count++] = a + step * pow(LAYER_RATIO, k);
  for (int i = 1; i < steps; i++) breaks[count++] = a + i * step;
  for (int k = 1; k <= high; k++) breaks[count++] = b - step * pow(LAYER_RATIO, k);
  breaks[count++] = b;
  return count;
}

typedef struct mesh_request {
  int along[3], across;  // elements before, in and behind the window, and from axis to wall
  int layers;            // towards both faces, axis and wall, beyond these
  bool triangles;
} mesh_request;

typedef struct window_mesh {
  const window *window;
  int first, second;  // break points of the faces
} window_mesh;

static cavum_point map_mesh(double s, double t, const void *context) {
  return map_window(s, t, ((const window_mesh *)context)->window);
}

static int region_of(int i, int j, const void *context) {
  const window_mesh *mesh = context;
  (void)j;
  return i >= mesh->first && i < mesh->second;
}

static cavum_result *solve_window(const window *w, const mesh_request *m, double frequency,
                                  double other) {
  double s[BREAKS_MOST] = {0.0}, t[BREAKS_MOST] = {0.0};
  char regions[64];
  int first = add_breaks(s, 1, 0.0, 1.0, m->along[0], 0, m->layers);
  int second = add_breaks(s, first, 1.0, 2.0, m->along[1], m->layers, m->layers);
  int num_s = add_breaks(s, second, 2.0, 3.0, m->along[2], m->layers, 0);
  int num_t = add_breaks(t, 1, 0.0, 1.0, m->across, m->layers, m->layers);
  const window_mesh mesh = {w, first - 1, second - 1};
  const grid_msh grid = {.num_s = num_s - 1,
                         .num_t = num_t - 1,
                         .s = s,
                         .t = t,
                         .order = 1,
                         .triangles = m->triangles,
                         .unit_m = 1.0,
                         .map = map_mesh,
                         .context = &mesh,
                         .region = region_of,
                         .region_names = {"vacuum", "window"},
                         .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                                   CAVUM_BOUNDARY_METAL}};
  snprintf(regions, sizeof regions, "vacuum: {}, window: {eps_r: %.17g}", w->eps_r);
  const grid_request request = {.regions = regions,
                                .more =
                                    "accelerating_length_mm: 100\n"
                                    "wall: {kind: resistance, surface_resistance_nohm: 15}\n",
                                .count = MODES,
                                .accuracy_frequency = frequency,
                                .accuracy_other_figures = other,
                                .may_miss = true};
  return grid_solve(&grid, &request, NULL);
}

static void compare(tally *all, const cavum_result *result, const cavum_result *truth,
                    const char *where) {
  for (int m = 0; m < MODES; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *is = &result->modes[m].figures[id], *be = &truth->modes[m].figures[id];
      if (is->state != CAVUM_FIGURE_PRESENT || be->state != CAVUM_FIGURE_PRESENT) continue;
      // What is not known well enough in place of the truth.
      if (be->uncertainty > 0.3 * is->uncertainty) continue;
      tally_add(all, where, (cavum_figure_id)id, is, be->value, be->uncertainty);
    }
  }
}

// Windows and meshes drawn by hand. Of 1,214 figures 36 were outside, by up to 2.2 uncertainties,
// while the last change alone told of what is to come; the median was 2.6 then, now 3.4.
START_TEST(slanted_windows_on_meshes_without_layers) {
  static const window windows[] = {
      {0.105, {0.060, 0.085}, {0.062, 0.087}, 3.7}, {0.105, {0.060, 0.085}, {0.070, 0.095}, 3.7},
      {0.090, {0.030, 0.010}, {0.036, 0.018}, 9.4}, {0.090, {0.050, 0.030}, {0.053, 0.045}, 11.5},
      {0.120, {0.020, 0.035}, {0.045, 0.040}, 2.3}, {0.080, {0.045, 0.045}, {0.050, 0.070}, 6.0}};
  static const mesh_request requests[] = {{{2, 1, 2}, 3, 0, false}, {{2, 1, 2}, 3, 0, true},
                                          {{3, 1, 3}, 5, 0, false}, {{3, 1, 3}, 5, 0, true},
                                          {{2, 1, 2}, 2, 1, false}, {{2, 1, 2}, 2, 1, true}};
  static const mesh_request graded = {{2, 1, 2}, 3, LAYERS, false};
  static tally all;
  for (size_t i = 0; i < sizeof windows / sizeof *windows; i++) {
    cavum_result *truth = solve_window(&windows[i], &graded, 1e-9, 1e-7);
    for (size_t k = 0; k < sizeof requests / sizeof *requests; k++) {
      char where[64];
      snprintf(where, sizeof where, "window %d mesh %d", (int)i, (int)k);
      cavum_result *result = solve_window(&windows[i], &requests[k], 1e-6, 1e-4);
      compare(&all, result, truth, where);
      cavum_result_destroy(&result);
    }
    cavum_result_destroy(&truth);
  }
  tally_check(&all, "slanted windows", 1.0, 7.0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, slanted_windows_on_meshes_without_layers);
}

CAVUM_TEST_MAIN("mesh_file_windows", add_tests)
