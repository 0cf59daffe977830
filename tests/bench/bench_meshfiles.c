// SPDX-License-Identifier: GPL-3.0-or-later
// Stated uncertainties of mesh files against the shape that their nodes lie on: orders 1 to 6, 8,
// 16 and 28 sides a turn, triangles and quadrilaterals, curved walls and curved interfaces. Asserts
// nothing. Usage: bench_meshfiles [--quick] [--tight] [--order N] [--misses]
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/solve.h"
#include "curved_mesh.h"
#include "random_cells.h"
#include "tally.h"

enum { ORDERS = 6, DENSITIES = 3, FAMILIES = 3, SHAPES_MOST = 24, MODES = 2 };

static const int SIDES_A_TURN[DENSITIES] = {8, 16, 28};
static const char *const FAMILY_NAMES[FAMILIES] = {"smooth walls", "walls of pieces", "interfaces"};
static const cavum_figure_id FIGURES[] = {CAVUM_FIGURE_FREQUENCY,
                                          CAVUM_FIGURE_R_OVER_Q_LINAC,
                                          CAVUM_FIGURE_GEOMETRY_FACTOR,
                                          CAVUM_FIGURE_EPK_OVER_EACC,
                                          CAVUM_FIGURE_BPK_OVER_EACC,
                                          CAVUM_FIGURE_TRANSIT_TIME_FACTOR,
                                          CAVUM_FIGURE_Q0};
enum { NUM_FIGURES = sizeof FIGURES / sizeof *FIGURES };

typedef struct shape {
  const char *name;
  int family;
  curved_rings rings; /**< num_layers = 0: a cell. */
  cavum_cell cell;
  double length_mm;
  cavum_result *truth;
} shape;

typedef struct bench {
  bool quick, tight, misses;
  int only_order;
  const char *only_shape;
  char path[64];
  shape shapes[SHAPES_MOST];
  int num_shapes;
} bench;

static tally by_order[ORDERS + 1][FAMILIES], by_figure[ORDERS + 1][NUM_FIGURES];
// Meshes, and those whose elements the bent sides fold: they are refused, and have no figures.
static int num_meshes[ORDERS + 1], num_refused[ORDERS + 1];

static void quit(const char *what, const cavum_error *error) {
  fprintf(stderr, "bench_meshfiles: %s: %s\n", what, error->message);
  exit(EXIT_FAILURE);
}

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  if (cavum_cell_read_text(&cell, text, strlen(text), "bench.yaml", &error) != CAVUM_OK) {
    quit("cell", &error);
  }
  return cell;
}

// Solves the mesh as a file; NULL when there is no result.
static cavum_result *solve_mesh(const bench *b, const cavum_mesh *mesh, double length_mm,
                                double frequency, double peak) {
  char text[1024];
  cavum_result *result = NULL;
  cavum_error error = {0};
  if (cavum_mesh_write_msh(mesh, b->path, 0, 1e-3, true, &error) != CAVUM_OK) quit("mesh", &error);
  snprintf(text, sizeof text,
           "accelerating_length_mm: %.17g\ncontour: {kind: mesh, file: %s, unit: mm, axis: x%s}\n"
           "modes: {count: %d}\naccuracy: {frequency: %g, other_figures: %g}\n"
           "wall: {kind: resistance, surface_resistance_nohm: 15}\n",
           length_mm, b->path,
           mesh->num_regions > 1 ? ", regions: {inner: {eps_r: 9.8}, outer: {eps_r: 1}}" : "",
           MODES, frequency, peak);
  cavum_cell cell = read_cell(text);
  cavum_status status = cavum_solve(&result, &cell, NULL, &error);
  if (!result) printf("no result (%d): %s\n", (int)status, error.message);
  cavum_cell_clear(&cell);
  return result;
}

static cavum_mesh make_mesh(const shape *s, int order, int sides, bool triangles) {
  if (s->rings.num_layers > 0) {
    curved_rings rings = s->rings;
    rings.order = order;
    rings.edges_half_turn = sides / 2;
    rings.triangles = triangles;
    return curved_rings_mesh(&rings);
  }
  cavum_contour contour = {0};
  cavum_error error = {0};
  if (cavum_cell_make_contour(&contour, &s->cell, CAVUM_PART_WHOLE, &error) != CAVUM_OK) {
    quit("contour", &error);
  }
  cavum_mesh mesh =
      curved_contour_mesh(&contour, 2.0 * CAVUM_PI / sides * 1.0001, order, triangles, 1.0);
  cavum_contour_clear(&contour);
  return mesh;
}

static void find_truth(bench *b, shape *s) {
  cavum_error error = {0};
  if (s->rings.num_layers > 0) {
    cavum_mesh mesh = make_mesh(s, 10, 40, false);
    s->truth = solve_mesh(b, &mesh, s->length_mm, 1e-9, 1e-6);
    cavum_mesh_clear(&mesh);
    return;
  }
  cavum_cell cell = s->cell;
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-6;
  cell.num_modes = MODES;
  cavum_solve_options options = cavum_solve_options_default();
  options.use_symmetry = false;
  cavum_solve(&s->truth, &cell, &options, &error);
  if (!s->truth) quit(s->name, &error);
}

static void compare(bench *b, const shape *s, const cavum_result *result, int order, int sides,
                    bool triangles) {
  char where[160];
  for (int m = 0; m < result->num_modes && m < s->truth->num_modes; m++) {
    for (int i = 0; i < NUM_FIGURES - 1; i++) {
      cavum_figure_id id = FIGURES[i];
      const cavum_figure *is = &result->modes[m].figures[id], *be = &s->truth->modes[m].figures[id];
      if (is->state != CAVUM_FIGURE_PRESENT || be->state != CAVUM_FIGURE_PRESENT) continue;
      double error = fabs(is->value - be->value);
      double open = s->rings.num_layers > 0 ? 1e-9 * fabs(be->value) : be->uncertainty;
      snprintf(where, sizeof where, "%s order %d sides %d %s mode %d %s", s->name, order, sides,
               triangles ? "tri" : "quad", m + 1, cavum_figure_describe(id).key);
      tally *tallies[2] = {&by_order[order][s->family], &by_figure[order][i]};
      bool inside = error <= is->uncertainty + open;
      for (int k = 0; k < 2; k++) {
        tally *t = tallies[k];
        t->count++;
        t->inside += inside;
        if (error > 1e-10 * fabs(be->value) && error > 10.0 * open &&
            t->num_inflations < TALLY_MOST)
          t->inflation[t->num_inflations++] = is->uncertainty / error;
      }
      if (b->misses && (!inside || b->quick))
        printf("%s %s: error %.2e stated %.2e ratio %.3g\n", inside ? "in  " : "MISS", where,
               error / fabs(be->value), is->uncertainty / fabs(be->value), error / is->uncertainty);
    }
  }
}

static void run_shape(bench *b, shape *s) {
  if (b->only_shape && strcmp(b->only_shape, s->name) != 0) return;
  if (!s->truth) find_truth(b, s);
  for (int order = 1; order <= ORDERS; order++) {
    if (b->only_order && order != b->only_order) continue;
    for (int d = 0; d < DENSITIES; d++) {
      for (int triangles = 0; triangles < 2; triangles++) {
        cavum_mesh mesh = make_mesh(s, order, SIDES_A_TURN[d], triangles);
        double accuracy = b->tight ? 1e-8 : 1e-6;
        cavum_result *result = solve_mesh(b, &mesh, s->length_mm, accuracy, 100.0 * accuracy);
        num_meshes[order]++;
        num_refused[order] += !result;
        if (result) compare(b, s, result, order, SIDES_A_TURN[d], triangles);
        cavum_result_destroy(&result);
        cavum_mesh_clear(&mesh);
      }
    }
  }
}

static void add_rings(bench *b, const char *name, int family, curved_layer inner,
                      curved_layer outer, double uneven) {
  int layers = inner.axial_m > 0.0 ? 2 : 1;
  shape *s = &b->shapes[b->num_shapes++];
  *s = (shape){.name = name, .family = family, .length_mm = 2e3 * outer.axial_m};
  s->rings = (curved_rings){.num_layers = layers,
                            .num_regions = layers,
                            .layer = {layers == 2 ? inner : outer, outer},
                            .region = {0, 1},
                            .uneven = uneven};
}

static void add_cell(bench *b, const char *name, cavum_cell cell) {
  shape *s = &b->shapes[b->num_shapes++];
  *s = (shape){.name = name, .family = 1, .cell = cell, .length_mm = 100.0};
  s->cell.accelerating_length_m = 0.1;
  s->cell.beta = 1.0;
}

static void add_shapes(bench *b) {
  const curved_layer none = {CURVED_ELLIPSE, 0.0, 0.0, 0.0};
  const curved_layer sphere = {CURVED_ELLIPSE, 0.1, 0.1, 0.0};
  const curved_layer spheroid = {CURVED_ELLIPSE, 0.13, 0.085, 0.0};
  const curved_layer egg = {CURVED_EGG, 0.1, 0.09, 0.0};
  const curved_layer box = {CURVED_RECTANGLE, 0.06, 0.1, 0.0};
  const curved_layer bead = {CURVED_ELLIPSE, 0.015, 0.015, 0.0};
  const curved_layer ball = {CURVED_ELLIPSE, 0.04, 0.04, 0.0};
  const curved_layer lens = {CURVED_ELLIPSE, 0.02, 0.045, 0.005};
  static const char *const names[] = {"two-ellipse 1", "two-ellipse 2", "two-ellipse 3",
                                      "two-ellipse 4"};
  random_state state = {20251101};
  add_rings(b, "sphere", 0, none, sphere, 0.0);
  add_rings(b, "spheroid", 0, none, spheroid, 0.25);
  add_rings(b, "egg", 0, none, egg, 0.1);
  add_rings(b, "bead in pillbox", 2, bead, box, 0.0);
  add_rings(b, "ball in sphere", 2, ball, sphere, 0.0);
  add_rings(b, "lens in egg", 2, lens, egg, 0.15);
  for (int i = 0; i < (b->quick ? 1 : 4); i++) add_cell(b, names[i], random_two_ellipse(&state));
  add_cell(
      b, "rounded pillbox",
      read_cell("contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
                "    - {line_to: {z_mm: 120, r_mm: 0}, boundary: axis}\n"
                "    - {line_to: {z_mm: 120, r_mm: 70}, boundary: metal}\n"
                "    - {arc_to: {z_mm: 90, r_mm: 100}, centre: {z_mm: 90, r_mm: 70}, turn: "
                "left, boundary: metal}\n"
                "    - {line_to: {z_mm: 40, r_mm: 100}, boundary: metal}\n"
                "    - {arc_to: {z_mm: 0, r_mm: 60}, centre: {z_mm: 40, r_mm: 60}, turn: left, "
                "boundary: metal}\n"
                "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"));
  add_cell(b, "rounded nose",
           read_cell("contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
                     "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
                     "    - {line_to: {z_mm: 60, r_mm: 90}, boundary: metal}\n"
                     "    - {line_to: {z_mm: 0, r_mm: 90}, boundary: metal}\n"
                     "    - {line_to: {z_mm: 0, r_mm: 26}, boundary: metal}\n"
                     "    - {line_to: {z_mm: 14, r_mm: 26}, boundary: metal}\n"
                     "    - {arc_to: {z_mm: 22, r_mm: 18}, centre: {z_mm: 14, r_mm: 18}, turn: "
                     "right, boundary: metal}\n"
                     "    - {arc_to: {z_mm: 14, r_mm: 10}, centre: {z_mm: 14, r_mm: 18}, turn: "
                     "right, boundary: metal}\n"
                     "    - {line_to: {z_mm: 0, r_mm: 10}, boundary: metal}\n"
                     "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"));
}

static void print_line(const char *name, tally *t) {
  if (t->count == 0) return;
  double median = tally_median_inflation(t);
  printf(
      "  %-28s %5d figures, %6.2f %% inside, worst error / uncertainty %.3g; %5d errors above "
      "rounding, median uncertainty / error %.3g\n",
      name, t->count, 100.0 * t->inside / t->count, tally_worst(t), t->num_inflations, median);
}

int main(int count, char **arguments) {
  static bench b;
  for (int i = 1; i < count; i++) {
    b.quick = b.quick || strcmp(arguments[i], "--quick") == 0;
    b.tight = b.tight || strcmp(arguments[i], "--tight") == 0;
    b.misses = b.misses || strcmp(arguments[i], "--misses") == 0;
    if (strcmp(arguments[i], "--shape") == 0 && i + 1 < count) b.only_shape = arguments[++i];
    if (strcmp(arguments[i], "--order") == 0 && i + 1 < count) b.only_order = atoi(arguments[++i]);
  }
  snprintf(b.path, sizeof b.path, "/tmp/bench_meshfiles_%d.msh", (int)getpid());
  setvbuf(stdout, NULL, _IOLBF, 0);
  add_shapes(&b);
  for (int i = 0; i < b.num_shapes; i++) run_shape(&b, &b.shapes[i]);
  for (int order = 1; order <= ORDERS; order++) {
    static tally all;
    all = (tally){0};
    for (int i = 0; i < NUM_FIGURES; i++) {
      const tally *t = &by_figure[order][i];
      all.count += t->count;
      all.inside += t->inside;
      for (int k = 0; k < t->num_inflations; k++)
        all.inflation[all.num_inflations++] = t->inflation[k];
    }
    if (all.count == 0) continue;
    printf("order %d: %d of %d meshes refused\n", order, num_refused[order], num_meshes[order]);
    print_line("all", &all);
    for (int f = 0; f < FAMILIES; f++) print_line(FAMILY_NAMES[f], &by_order[order][f]);
    for (int i = 0; i < NUM_FIGURES; i++) {
      print_line(cavum_figure_describe(FIGURES[i]).key, &by_figure[order][i]);
    }
  }
  for (int i = 0; i < b.num_shapes; i++) cavum_result_destroy(&b.shapes[i].truth);
  remove(b.path);
  return EXIT_SUCCESS;
}
