// SPDX-License-Identifier: GPL-3.0-or-later
// Degrees from a low one up, until what one leaves out of a spread is small.
#include "design/spread_degree.h"

#include "base/base.h"
#include "solve/solver.h"

// Part of a spread that may be left out: a thousand shapes give it to 0.022 of itself.
static const double MOST_ERROR = 0.03;
// A spread below this part of a figure is rounding.
static const double LEAST_SPREAD = 1e-9;
enum { LEAST_DEGREE = 4 };

// Figures of the cell and of the shapes that are compared, at one degree.
typedef struct checks {
  double nominal[CAVUM_NUM_FIGURES], at[CAVUM_SPREAD_CHECKS][CAVUM_NUM_FIGURES];
} checks;

bool cavum_spread_is_figure(cavum_figure_id id) {
  return id != CAVUM_FIGURE_TUBE_CUT_FREQUENCY && id != CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
}

static cavum_status open_at(cavum_solver **solver, double nominal[CAVUM_NUM_FIGURES],
                            const cavum_solve_options *options, int degree,
                            const cavum_drawn *drawn, cavum_error *error) {
  cavum_solver *made = NULL;
  cavum_solve_options at = *options;
  at.degree = degree;
  cavum_status status = cavum_solver_create(&made, &at, error);
  if (status != CAVUM_OK) return status;
  cavum_solver_use_one_degree(made);
  status = cavum_drawn_solve_one(nominal, made, drawn, drawn->nominal, error);
  if (status == CAVUM_OK) {
    *solver = made;
  } else {
    cavum_solver_destroy(&made);
  }
  return status;
}

static cavum_status solve_checks(checks *to, cavum_solver *solver, const cavum_drawn *drawn,
                                 const double *shapes, cavum_error *error) {
  for (int i = 0; i < CAVUM_SPREAD_CHECKS; i++) {
    cavum_status status = cavum_drawn_solve_one(
        to->at[i], solver, drawn, shapes + (int64_t)i * drawn->trial->num_dimensions, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// What a degree leaves out of the changes of a figure, over its spread.
static double find_error(const checks *low, const checks *high, const cavum_figure_spread *f,
                         int id) {
  double off = 0.0, square = 0.0;
  int count = 0;
  for (int i = 0; i < CAVUM_SPREAD_CHECKS; i++) {
    double change = high->at[i][id] - high->nominal[id];
    double apart = low->at[i][id] - low->nominal[id] - change;
    if (isnan(apart)) continue;
    off += apart * apart;
    square += change * change;
    count++;
  }
  double spread = f->has_linear ? f->deviation : count > 0 ? sqrt(square / count) : 0.0;
  if (count == 0 || !(spread > LEAST_SPREAD * fabs(f->value))) return 0.0;
  return sqrt(off / count) / spread;
}

static double find_largest_error(const checks *low, const checks *high,
                                 const cavum_spread *linear) {
  double largest = 0.0;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *f = &linear->figures[id];
    if (f->state != CAVUM_FIGURE_PRESENT || !cavum_spread_is_figure((cavum_figure_id)id)) continue;
    largest = cavum_max(largest, find_error(low, high, f, id));
  }
  return largest;
}

// The highest degree, to which others are compared.
static cavum_status solve_high(checks *high, const cavum_solve_options *options,
                               const cavum_drawn *drawn, const double *shapes, int highest,
                               cavum_error *error) {
  cavum_solver *solver = NULL;
  cavum_status status = open_at(&solver, high->nominal, options, highest, drawn, error);
  if (status == CAVUM_OK) status = solve_checks(high, solver, drawn, shapes, error);
  cavum_solver_destroy(&solver);
  return status;
}

cavum_status cavum_spread_degree_open(cavum_spread_samples *samples, cavum_solve_options *options,
                                      const cavum_drawn *drawn, const cavum_spread *linear,
                                      const double *shapes, int highest, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_spread_samples made = {.degree = options->degree > 0 ? options->degree : LEAST_DEGREE};
  checks low = {{0}, {{0}}}, high = {{0}, {{0}}};
  bool chosen = options->degree > 0;
  if (!chosen && highest > LEAST_DEGREE) {
    CAVUM_TRY(solve_high(&high, options, drawn, shapes, highest, error));
  }
  for (;; made.degree++) {
    CAVUM_TRY(open_at(&made.solver, low.nominal, options, made.degree, drawn, error));
    if (chosen || made.degree >= highest) {
      made.error = 0.0;
      break;
    }
    CAVUM_TRY(solve_checks(&low, made.solver, drawn, shapes, error));
    made.error = find_largest_error(&low, &high, linear);
    if (made.error <= MOST_ERROR) break;
    cavum_solver_destroy(&made.solver);
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) made.nominal[id] = low.nominal[id];
  options->degree = made.degree;
  *samples = made;
  return CAVUM_OK;
done:
  cavum_solver_destroy(&made.solver);
  return status;
}
