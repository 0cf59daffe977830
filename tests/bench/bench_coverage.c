// SPDX-License-Identifier: GPL-3.0-or-later
// How many figures lie inside their uncertainty on families of random outlines that nobody tuned
// to, with one and five modes at the default and a tight accuracy, against four degrees more on a
// mesh finer by 1.5; the same cells twice as large from another start, mirrored, with split
// curves and as a whole; and whether a tighter request makes a figure less certain.
//
// Usage: bench_coverage [SHAPES [FIRST_FAMILY [LAST_FAMILY [SEED]]]]   default 20, all, 1
#include "cavum/cell_text.h"
#include "random_paths.h"

enum { NUM_VARIANTS = 4, SEVERAL = 5 };

static const struct variant {
  const char *name;
  int num_modes;
  bool tight;
} VARIANTS[NUM_VARIANTS] = {{"1 mode, default", 1, false},
                            {"1 mode, tight", 1, true},
                            {"5 modes, default", SEVERAL, false},
                            {"5 modes, tight", SEVERAL, true}};

// A tally of a family, and of its invariances.
typedef struct family_tally {
  tally figures;
  int compared, alike;     // figures of invariances
  int asked_more, looser;  // figures of tight requests; those less certain than of the default
  int num_cells, num_not_reached;
  double longest_s;
} family_tally;

static const char *family_name(int family) {
  return family == 0 ? "two-ellipse cells" : RANDOM_FAMILIES[family - 1].name;
}

static cavum_cell draw(random_state *state, int family, const struct variant *variant) {
  cavum_cell cell = family == 0 ? random_two_ellipse(state)
                                : random_family_cell(state, &RANDOM_FAMILIES[family - 1]);
  cell.num_modes = variant->num_modes;
  cell.accuracy_frequency = variant->tight ? 1e-9 : cell.accuracy_frequency;
  cell.accuracy_other_figures = variant->tight ? 1e-6 : cell.accuracy_other_figures;
  return cell;
}

// Twice the size: what a figure becomes when all lengths are doubled, as a power of two.
static double power_of_size(cavum_figure_id id, const cavum_result *result) {
  bool fixed_length = result->accelerating_length.from[0] == 'g';
  switch (id) {
    case CAVUM_FIGURE_FREQUENCY:
    case CAVUM_FIGURE_LOSS_FACTOR:
      return -1.0;
    case CAVUM_FIGURE_VOLTAGE_AT_1_J:
      return -0.5;
    case CAVUM_FIGURE_EACC_AT_1_J:
    case CAVUM_FIGURE_EPK_OVER_EACC:
    case CAVUM_FIGURE_BPK_OVER_EACC:
    case CAVUM_FIGURE_WALL_POWER:
      return fixed_length                     ? NAN
             : id == CAVUM_FIGURE_EACC_AT_1_J ? -1.5
             : id == CAVUM_FIGURE_WALL_POWER  ? 2.0
                                              : 0.0;
    case CAVUM_FIGURE_R_OVER_Q_LINAC:
    case CAVUM_FIGURE_R_OVER_Q_CIRCUIT:
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS:
    case CAVUM_FIGURE_BETA_OPTIMUM:
    case CAVUM_FIGURE_R_OVER_Q_OPTIMUM:
      return 0.0;
    // The resistance is stated, not scaled.
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
    case CAVUM_FIGURE_Q0:
    case CAVUM_FIGURE_SHUNT_IMPEDANCE:
      return 0.0;
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
    case CAVUM_FIGURE_TUBE_CUT_R_OVER_Q:
    case CAVUM_NUM_FIGURES:
      break;
  }
  return NAN;
}

static void compare(family_tally *t, const cavum_result *a, const cavum_result *b, bool doubled,
                    const char *what, const char *where) {
  for (int m = 0; m < a->num_modes && m < b->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *x = &a->modes[m].figures[id], *y = &b->modes[m].figures[id];
      double power = doubled ? power_of_size((cavum_figure_id)id, a) : 0.0;
      if (x->state != CAVUM_FIGURE_PRESENT || y->state != x->state || isnan(power)) continue;
      double factor = pow(2.0, -power);
      bool alike = fabs(y->value * factor - x->value) <= x->uncertainty + y->uncertainty * factor;
      t->compared++;
      t->alike += alike;
      if (alike) continue;
      printf("UNLIKE %s mode %d %s, %s: %.15g +- %.1e, %.15g +- %.1e\n", where, m + 1,
             cavum_figure_describe((cavum_figure_id)id).key, what, x->value, x->uncertainty,
             y->value * factor, y->uncertainty * factor);
    }
  }
}

static void double_curve(cavum_curve *curve) {
  curve->start.z_m *= 2.0, curve->start.r_m *= 2.0;
  curve->end.z_m *= 2.0, curve->end.r_m *= 2.0;
  curve->centre.z_m *= 2.0, curve->centre.r_m *= 2.0;
  curve->axial_m *= 2.0, curve->radial_m *= 2.0;
  for (int k = 0; k < 4; k++) curve->cubic[k].z_m *= 2.0, curve->cubic[k].r_m *= 2.0;
}

// Twice as large, and it starts with the second curve.
static void make_double(cavum_contour *other, const cavum_contour *path) {
  for (cavum_index i = 0; i < path->num_curves; i++) {
    other->curves[i] = path->curves[(i + 1) % path->num_curves];
    double_curve(&other->curves[i]);
  }
}

// The mirror image of a curve, run the other way round.
static cavum_curve mirror_curve(const cavum_curve *curve) {
  cavum_curve made = *curve;
  const cavum_point *c = curve->cubic;
  made.start = (cavum_point){-curve->end.z_m, curve->end.r_m};
  made.end = (cavum_point){-curve->start.z_m, curve->start.r_m};
  made.centre.z_m = -curve->centre.z_m;
  made.angle_start_rad = CAVUM_PI - curve->angle_end_rad;
  made.angle_end_rad = CAVUM_PI - curve->angle_start_rad;
  made.cubic[0] = made.start;
  made.cubic[1] = (cavum_point){c[1].z_m + 2.0 * c[2].z_m + 3.0 * c[3].z_m,
                                -c[1].r_m - 2.0 * c[2].r_m - 3.0 * c[3].r_m};
  made.cubic[2] = (cavum_point){-c[2].z_m - 3.0 * c[3].z_m, c[2].r_m + 3.0 * c[3].r_m};
  made.cubic[3] = (cavum_point){c[3].z_m, -c[3].r_m};
  return made;
}

static void make_mirrored(cavum_contour *other, const cavum_contour *path) {
  for (cavum_index i = 0; i < path->num_curves; i++) {
    other->curves[i] = mirror_curve(&path->curves[path->num_curves - 1 - i]);
  }
}

// Straight lines and arcs in two pieces each.
static void make_split(cavum_contour *other, const cavum_contour *path) {
  const double part = 0.4;
  other->num_curves = 0;
  for (cavum_index i = 0; i < path->num_curves; i++) {
    cavum_curve *first = &other->curves[other->num_curves++], *second = first + 1;
    *first = path->curves[i];
    if (first->kind == CAVUM_CURVE_CUBIC) continue;
    *second = *first;
    first->end = second->start = cavum_curve_point(&path->curves[i], part);
    first->angle_end_rad = second->angle_start_rad =
        (1.0 - part) * second->angle_start_rad + part * first->angle_end_rad;
    other->num_curves++;
  }
}

static void check_invariances(family_tally *t, const cavum_cell *cell, const cavum_result *result,
                              const char *where) {
  cavum_result *again = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  if (result->half_model) {
    options.use_symmetry = false;
    (void)cavum_solve(&again, cell, &options, NULL);
    if (again) compare(t, result, again, false, "as a whole", where);
    cavum_result_destroy(&again);
  }
  if (cell->kind != CAVUM_CONTOUR_PATH) return;
  static const struct {
    const char *name;
    void (*make)(cavum_contour *other, const cavum_contour *path);
  } OTHERS[] = {{"twice as large from another start", make_double},
                {"mirrored", make_mirrored},
                {"in two pieces a curve", make_split}};
  for (size_t i = 0; i < sizeof OTHERS / sizeof *OTHERS; i++) {
    cavum_cell other = *cell;
    other.path.curves = malloc(2 * (size_t)cell->path.num_curves * sizeof *other.path.curves);
    if (!other.path.curves) exit(EXIT_FAILURE);
    OTHERS[i].make(&other.path, &cell->path);
    (void)cavum_solve(&again, &other, NULL, NULL);
    if (again) compare(t, result, again, i == 0, OTHERS[i].name, where);
    cavum_result_destroy(&again);
    free(other.path.curves);
  }
}

// A better request never loosens a figure. What the other one gets by chance beyond both requests
// does not count, and two solves that end on the same mesh and degree differ by what the iterations
// left in the last changes.
static const double ALIKE = 1.05;

static bool is_looser(const cavum_figure *x, const cavum_figure *tight, cavum_figure_id id,
                      const cavum_cell *cell) {
  double asked =
      id == CAVUM_FIGURE_FREQUENCY ? cell->accuracy_frequency : cell->accuracy_other_figures;
  double most = fmax(ALIKE * x->uncertainty, asked * fabs(x->value));
  return tight->state != x->state || tight->uncertainty > most;
}

static void check_request(family_tally *t, const cavum_cell *cell, const cavum_result *tight,
                          const char *where) {
  cavum_result *result = NULL;
  cavum_cell other = *cell;
  other.accuracy_frequency = 1e-6;  // the defaults
  other.accuracy_other_figures = 1e-4;
  (void)cavum_solve(&result, &other, NULL, NULL);
  for (int m = 0; result && m < result->num_modes && m < tight->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *x = &result->modes[m].figures[id], *y = &tight->modes[m].figures[id];
      if (x->state != CAVUM_FIGURE_PRESENT) continue;
      bool looser = is_looser(x, y, (cavum_figure_id)id, cell);
      t->asked_more++;
      t->looser += looser;
      if (!looser) continue;
      printf("LOOSER %s mode %d %s: %.15g +- %.1e, by default %.15g +- %.1e\n", where, m + 1,
             cavum_figure_describe((cavum_figure_id)id).key, y->value, y->uncertainty, x->value,
             x->uncertainty);
    }
  }
  cavum_result_destroy(&result);
}

static void run(family_tally *t, random_state *state, int family, const struct variant *variant,
                int shapes) {
  for (int i = 0; i < shapes; i++) {
    char where[64];
    cavum_error error = {0};
    cavum_result *result = NULL;
    cavum_cell cell = draw(state, family, variant);
    snprintf(where, sizeof where, "%s %d, %s", family_name(family), i, variant->name);
    double start = cavum_seconds();
    cavum_status status = cavum_solve(&result, &cell, NULL, &error);
    t->longest_s = fmax(t->longest_s, cavum_seconds() - start);
    t->num_cells++;
    if (status != CAVUM_OK) {
      t->num_not_reached++;
      printf("NOT REACHED %s: %s\n", where, error.message);
    }
    if (result) random_compare_result(&t->figures, result, &cell, where);
    if (result) check_invariances(t, &cell, result, where);
    if (result && variant->tight) check_request(t, &cell, result, where);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
    fflush(stdout);
  }
}

int main(int argc, char **argv) {
  static family_tally t;
  int shapes = argc > 1 ? atoi(argv[1]) : 20, first = argc > 2 ? atoi(argv[2]) : 0;
  int last = argc > 3 ? atoi(argv[3]) : RANDOM_NUM_FAMILIES;
  uint64_t seed = argc > 4 ? strtoull(argv[4], NULL, 10) : 1;
  printf("%-26s %-17s %9s %9s %9s %9s %9s %9s %11s %8s\n", "family", "request", "figures", "inside",
         "worst e/u", "u/error", "alike", "looser", "not reached", "longest");
  for (int family = first; family <= last && family <= RANDOM_NUM_FAMILIES; family++) {
    for (int v = 0; v < NUM_VARIANTS; v++) {
      random_state state = {seed * 7919 + (uint64_t)(family * NUM_VARIANTS + v)};
      memset(&t, 0, sizeof t);
      run(&t, &state, family, &VARIANTS[v], shapes);
      printf("%-26s %-17s %9d %8.3f%% %9.3g %9.1f %8.3f%% %9d %4d of %4d %6.2f s\n",
             family_name(family), VARIANTS[v].name, t.figures.count,
             100.0 * t.figures.inside / t.figures.count, tally_worst(&t.figures),
             tally_median_inflation(&t.figures), t.compared ? 100.0 * t.alike / t.compared : 100.0,
             t.looser, t.num_not_reached, t.num_cells, t.longest_s);
      fflush(stdout);
    }
  }
  return EXIT_SUCCESS;
}
