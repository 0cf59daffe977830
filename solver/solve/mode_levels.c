// SPDX-License-Identifier: GPL-3.0-or-later
// One mode at the degrees p, p - 1 and p - 2, and the rest of a field's sequence.
#include "solve/mode_levels.h"

#include "base/base.h"
#include "figures/sharp_corner.h"

// The change at the last degree over that at the one before: not below what one lucky change makes
// of it, since beside a jump of the wall's curvature, where E converges slowly, every second change
// may be small; and not above that of an algebraic sequence, p^-2 at p = 10.
static const double RATIO_LEAST = 0.5, RATIO_MOST = 0.8;
// Of the rest of the sequence. Against degree 16 on the same mesh the errors of some edges of cells
// of ellipses, arcs and splines, of one to five cells, were up to 2.5 times the rest.
static const double SAFETY = 3.0;

// The solution that has a mode at a degree, and how far below its own; NULL: none.
static const cavum_solution *solution_at(int *below, const cavum_ladder *ladder, int m,
                                         int degree) {
  const cavum_solution *both[] = {ladder->solution, ladder->before};
  for (int i = 0; i < 2; i++) {
    const cavum_solution *s = both[i];
    if (!s || s == ladder->rough || s->num_modes <= m) continue;
    *below = s->reference.degree - degree;
    if (*below < 0 || *below >= s->num_degrees) continue;
    const cavum_solution_mode *mode = &s->modes[m];
    bool same_class = mode->in_class == ladder->solution->modes[m].in_class;
    if (same_class && mode->index < s->classes[mode->in_class].modes[*below].count) return s;
  }
  return NULL;
}

// Polynomials of degree p are off by C p^(-2 lambda) from rho^lambda next to rho = 0, in the
// largest difference, which is p / (2 lambda) times their last change d: a geometric sequence of
// the ratio of the last two changes would add up to p / (2 lambda + 1) d only. So the ratio is that
// of the geometric sequence with the same sum. Two degrees may agree there by chance, so that the
// ratio of their changes tells less.
static double ratio_at_corner(const cavum_view *view, int degree) {
  const cavum_weakest_exponents weakest = cavum_sharp_corner_weakest_exponents(view);
  double lambda = cavum_min(1.0, cavum_min(weakest.corner, 2.0 * weakest.tip));
  return cavum_max(RATIO_LEAST, degree / (degree + 2.0 * lambda));
}

cavum_mode_levels cavum_mode_levels_find(const cavum_problem *problem, int m) {
  const cavum_ladder *ladder = &problem->ladder;
  const cavum_mesh_boundary *boundary = &problem->memory->boundary;
  cavum_mode_levels levels = {.count = 1};
  levels.view[0] = cavum_solution_view(ladder->solution, m, 0, boundary);
  levels.vector_error = cavum_solution_vector_error(ladder->solution, m, 0) +
                        cavum_solution_mixing(ladder->solution, m);
  const cavum_figure *f = &ladder->solution->modes[m].values[0].figures[CAVUM_FIGURE_FREQUENCY];
  // What is off there reaches every place by a product of two errors, of the mode and of a Green's
  // function, as it does the eigenvalue.
  levels.spill = f->uncertainty / f->value;
  levels.ratio_at_corner = ratio_at_corner(&levels.view[0], ladder->solution->reference.degree);
  for (; levels.count < CAVUM_MODE_LEVELS; levels.count++) {
    int below = 0, degree = ladder->solution->reference.degree - levels.count;
    const cavum_solution *solution = solution_at(&below, ladder, m, degree);
    if (!solution) break;
    levels.view[levels.count] = cavum_solution_view(solution, m, below, boundary);
  }
  return levels;
}

double cavum_mode_levels_rest(const double *change, int count) {
  return cavum_mode_levels_rest_at_corner(change, count, RATIO_LEAST);
}

double cavum_mode_levels_rest_at_corner(const double *change, int count, double ratio_least) {
  if (count < 2) return HUGE_VAL;
  double last = change[0], ratio = RATIO_MOST;
  if (count > 2) {
    double before = change[1];
    ratio = last < RATIO_MOST * before ? cavum_max(last / before, RATIO_LEAST) : RATIO_MOST;
    last = cavum_max(last, RATIO_LEAST * RATIO_LEAST * before);
  }
  ratio = cavum_max(ratio, ratio_least);
  return SAFETY * last * ratio / (1.0 - ratio);
}
