// SPDX-License-Identifier: GPL-3.0-or-later
// Figures are products of powers: what is added up is the change of their logarithms.
#include "solve/derivative_rates.h"

#include <float.h>

#include "base/base.h"
#include "cavum/wall.h"
#include "solve/derivative_reason.h"
#include "solve/figure_chain.h"

// Rounding of a derivative, of the sum of the sizes of what it is the sum of.
static const double ROUNDING = 1e-11;

// Part of the error of a vector that is left when it was polished.
static const double POLISHED_PART = 1e-2;
// Figures are quadratic in the vector, and their derivatives once more linear.
static const double VECTOR_FACTOR = 6.0;

// Part of the largest derivative of the frequency that an error of the vector may change in a small
// one: of 3,666 by lengths of tubes 12 lay outside without, by up to 5 uncertainties, now 2,
// by 1.6.
static const double OF_LARGEST = 0.01;

// Rates of one peak at two places that differ by less, of their terms, are the same.
static const double SAME_RATE = 1e-5;

static const cavum_functional_id PEAK_PARTS[CAVUM_NUM_PEAKS] = {CAVUM_FUNCTIONAL_PEAK_E,
                                                                CAVUM_FUNCTIONAL_PEAK_H},
                                 OTHER_PARTS[CAVUM_NUM_PEAKS] = {CAVUM_FUNCTIONAL_OTHER_E,
                                                                 CAVUM_FUNCTIONAL_OTHER_H};
static const cavum_figure_id FIGURES[CAVUM_NUM_PEAKS] = {CAVUM_FIGURE_EPK_OVER_EACC,
                                                         CAVUM_FIGURE_BPK_OVER_EACC};

// Change of the logarithm of a number by a dimension, and the size of what it is the sum of.
typedef struct log_rate {
  double value, size;
} log_rate;

static log_rate rate_of_part(const cavum_mode_functional *part, const cavum_shape_motion *m,
                             int dimension, const cavum_curve_rate *all) {
  const cavum_curve_rate *rates = all + (int64_t)dimension * m->num_curves;
  double size, sum = cavum_mesh_gradient_dot_of(&size, &part->gradient, rates, m->moved[dimension]);
  double by_beta = part->by_beta * m->others[dimension].beta;
  return (log_rate){(sum + by_beta) / part->value, (size + fabs(by_beta)) / fabs(part->value)};
}

// Size of what the derivative of the logarithm of V by the particle speed is the sum of:
// int |E_z k z / beta^2| dz / |V|, z within the accelerating length. The sum itself may cancel.
static double size_by_beta(const cavum_mode_values *values, const cavum_cell *cell) {
  double k_per_m = 2.0 * CAVUM_PI / CAVUM_C_M_PER_S * values->figures[CAVUM_FIGURE_FREQUENCY].value;
  double rcond = values->voltage_rcond, beta2 = cell->beta * cell->beta;
  return rcond > 0.0 ? 0.25 * k_per_m * values->length.value_m / (beta2 * rcond) : 0.0;
}

// The accelerating length is given, a sum of half lengths, or beta lambda / 2.
static log_rate rate_of_length(const cavum_mode_values *values, const cavum_cell *cell,
                               const log_rate *k2, const cavum_cell_rate *other) {
  bool from_shape = cell->accelerating_length_m > 0.0 || cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  double fixed = other->accelerating_length_m / values->length.value_m;
  if (from_shape) return (log_rate){fixed, fabs(fixed)};
  double beta = other->beta / cell->beta;
  return (log_rate){beta - 0.5 * k2->value, fabs(beta) + 0.5 * k2->size};
}

// d log R_s / d log f of the wall, from the formula alone.
static double resistance_power(const cavum_cell *cell, double frequency_hz) {
  static const double steps[2] = {1e-3, 2e-3};
  double slope[2];
  if (cell->wall.kind != CAVUM_WALL_METAL && cell->wall.kind != CAVUM_WALL_NIOBIUM) return 0.0;
  for (int i = 0; i < 2; i++) {
    double more, less, h = steps[i];
    bool holds =
        cavum_wall_resistance(&more, NULL, &cell->wall, frequency_hz * (1.0 + h), NULL) ==
            CAVUM_OK &&
        cavum_wall_resistance(&less, NULL, &cell->wall, frequency_hz * (1.0 - h), NULL) == CAVUM_OK;
    if (!holds) return NAN;
    slope[i] = (more - less) / (2.0 * h);
  }
  double at;
  if (cavum_wall_resistance(&at, NULL, &cell->wall, frequency_hz, NULL) != CAVUM_OK) return NAN;
  return (4.0 * slope[0] - slope[1]) / (3.0 * at);
}

// Value of a figure at a degree. That of a peak of E may have come from a region of its own.
static double value_of(cavum_figure_id id, const cavum_mode_values *values,
                       const cavum_mode_functionals *f) {
  const cavum_figure *eacc = &values->figures[CAVUM_FIGURE_EACC_AT_1_J];
  if (id == CAVUM_FIGURE_EPK_OVER_EACC)
    return f->parts[CAVUM_FUNCTIONAL_PEAK_E].value / eacc->value;
  return values->figures[id].value;
}

// Likewise of a dimension that moves mirrored peaks apart.
static const char *reason_for_odd(const cavum_mode_functionals *f, int peak) {
  const cavum_mode_functional *odd = &f->odd[(int)PEAK_PARTS[peak] - CAVUM_FUNCTIONAL_PEAK_E];
  return odd->exists ? odd->reason : NULL;
}

// The reason for a figure to have no derivative, or NULL.
static const char *reason_for(const cavum_figure_chain *chain, const cavum_mode_functionals *f) {
  if (!chain->known) return CAVUM_REASON_NOT_DIFFERENTIATED;
  for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
    if (chain->power[j] == 0.0) continue;
    bool as_integral = j == CAVUM_FUNCTIONAL_SIZES && f->sizes_as_integral;
    const cavum_mode_functional *part = &f->parts[as_integral ? (int)CAVUM_FUNCTIONAL_INTEGRAL : j];
    if (!part->exists) return CAVUM_REASON_NOT_DIFFERENTIATED;
    if (part->reason) return part->reason;
  }
  return NULL;
}

// Rates of all parts and of the accelerating length by all dimensions.
typedef struct part_rates {
  log_rate (*parts)[CAVUM_NUM_FUNCTIONALS];  // owned, [dimensions]
  log_rate (*odd)[CAVUM_NUM_PEAK_PARTS];     // owned, likewise: of peaks at one side of a plane
  log_rate *length;                          // owned, likewise
  log_rate *figure;                          // owned, likewise: of the figure under work
} part_rates;

// What is odd of a part; 0 of those that are no peaks.
static log_rate odd_rate(const part_rates *rates, int i, cavum_functional_id part) {
  return rates->odd[i][(int)part - CAVUM_FUNCTIONAL_PEAK_E];
}

// The parts that a figure is made of.
typedef struct figure_parts {
  int count, part[CAVUM_NUM_FUNCTIONALS];
  double power[CAVUM_NUM_FUNCTIONALS], length_power;
} figure_parts;

static figure_parts parts_of(const cavum_figure_chain *chain) {
  figure_parts parts;
  parts.count = 0;
  parts.length_power = chain->length_power;
  for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
    if (chain->power[j] == 0.0) continue;
    parts.part[parts.count] = j;
    parts.power[parts.count++] = chain->power[j];
  }
  return parts;
}

static log_rate rate_of_figure(const figure_parts *of, const part_rates *rates, int i) {
  log_rate sum = {of->length_power * rates->length[i].value,
                  fabs(of->length_power) * rates->length[i].size};
  for (int k = 0; k < of->count; k++) {
    int j = of->part[k];
    sum.value += of->power[k] * rates->parts[i][j].value;
    sum.size += fabs(of->power[k]) * rates->parts[i][j].size;
    if (j >= CAVUM_FUNCTIONAL_PEAK_E) sum.size += odd_rate(rates, i, (cavum_functional_id)j).size;
  }
  return sum;
}

// Rates of a figure by all dimensions. Of the sizes of what those by dimensions of one unit are
// sums of, the largest: what is left of a vector that was not solved for exactly is about the same
// in all of them, also where one happens to be small.
static void find_rates(const part_rates *rates, double largest[CAVUM_NUM_UNITS],
                       const cavum_derivative_values *w, const cavum_figure_chain *chain) {
  const figure_parts of = parts_of(chain);
  for (int unit = 0; unit < CAVUM_NUM_UNITS; unit++) largest[unit] = 0.0;
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    double *of_unit = &largest[w->motion->dimensions.list[i].unit];
    rates->figure[i] = rate_of_figure(&of, rates, i);
    *of_unit = cavum_max(*of_unit, rates->figure[i].size);
  }
}

// A place where a peak stands: the part that is the field there, and at which side.
typedef struct peak_place {
  cavum_functional_id part;
  double side;
} peak_place;

// All of them, the one of the figure first.
static int list_places(peak_place places[1 + CAVUM_OTHER_PLACES], const cavum_derivative_values *w,
                       const cavum_mode_functionals *f, int peak, int i) {
  int count = 0;
  for (int k = 0; k < 2; k++) {
    cavum_functional_id part = k == 0 ? PEAK_PARTS[peak] : OTHER_PARTS[peak];
    bool mirrored = w->motion->has_odd[i] && f->odd[(int)part - CAVUM_FUNCTIONAL_PEAK_E].exists;
    if (!f->parts[part].exists) continue;
    places[count++] = (peak_place){part, 1.0};
    if (mirrored) places[count++] = (peak_place){part, -1.0};
  }
  return count;
}

// What another place adds to the rate of a figure that is a peak, in place of the first. A peak
// that stands at several has one derivative where all have the same.
static void take_peak(cavum_derivative_values *w, int peak, int i, double value,
                      const cavum_mode_functionals *f, const log_rate *rate,
                      const part_rates *rates, double error) {
  peak_place places[1 + CAVUM_OTHER_PLACES];
  const log_rate *first = &rates->parts[i][PEAK_PARTS[peak]];
  int count = list_places(places, w, f, peak, i);
  double at_first = 0.0;
  bool split = false;
  for (int k = 0; k < count; k++) {
    const log_rate *part = &rates->parts[i][places[k].part];
    log_rate odd = odd_rate(rates, i, places[k].part);
    double more = part->value - first->value + places[k].side * odd.value;
    double size = cavum_max(first->size, part->size) + odd.size;
    if (k == 0) at_first = more;
    split = split || fabs(more - at_first) > SAME_RATE * size;
    cavum_derivative_sequence *to =
        k == 0 ? &w->values[i][FIGURES[peak]] : &w->other[i][peak][k - 1];
    cavum_derivative_sequence_add(to, value * (rate->value + more), error);
  }
  w->is_split[i][peak] = split;
}

// k^2 is stationary in the vector of the mode: nothing is solved for its derivatives.
static bool needs_adjoints(const cavum_figure_chain *chain) {
  for (int j = CAVUM_FUNCTIONAL_K2 + 1; j < CAVUM_NUM_FUNCTIONALS; j++) {
    if (chain->power[j] != 0.0) return true;
  }
  return false;
}

// What an error of the vectors may change in a derivative whose terms have the first size, where
// the largest of its unit have the second. What x^T A' d is for an error d of x, A' being the
// change of the forms, goes as the root of x^T A' x and of the same of d: a dimension that moves
// little of the field has little of its error too. But a long tube that is stretched moves the
// field at its mouth, whose parts cancel in x^T A' x and not for d.
static double size_of_error(const cavum_figure_chain *chain, double own, double largest) {
  return needs_adjoints(chain) ? largest : sqrt(own * largest) + OF_LARGEST * largest;
}

static void take_figure(cavum_derivative_values *w, cavum_figure_id id,
                        const cavum_figure_chain *chain, const cavum_mode_functionals *f,
                        const part_rates *rates, double value, double vector_error) {
  const char *reason = reason_for(chain, f);
  int peak = cavum_derivative_peak_of((int)id);
  double sizes[CAVUM_NUM_UNITS];
  find_rates(rates, sizes, w, chain);
  if (id == CAVUM_FIGURE_EPK_OVER_EACC) w->peak_of_mesh = value;
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    w->reason[i][id] = reason;
    if (!reason && peak >= 0 && w->motion->has_odd[i]) w->reason[i][id] = reason_for_odd(f, peak);
    if (w->reason[i][id]) continue;
    log_rate rate = rates->figure[i];
    double largest = sizes[w->motion->dimensions.list[i].unit];
    double size = size_of_error(chain, rate.size, largest);
    // A dimension that moves nothing of a figure has no terms, and nothing to be off by. Where the
    // contour moves by rounding alone, as the centre of a half circle along its chord, the terms
    // are rounding too.
    double error = rate.size == 0.0
                       ? 0.0
                       : fabs(value) * (size * (VECTOR_FACTOR * vector_error + ROUNDING) +
                                        largest * DBL_EPSILON);
    if (peak >= 0) {
      take_peak(w, peak, i, value, f, &rate, rates, error);
    } else {
      cavum_derivative_sequence_add(&w->values[i][id], value * rate.value, error);
    }
  }
}

static void fill_rates(part_rates *rates, const cavum_mode_functionals *f,
                       const cavum_mode_values *values, const cavum_cell *cell,
                       const cavum_shape_motion *m) {
  for (int i = 0; i < m->dimensions.count; i++) {
    log_rate *parts = rates->parts[i];
    for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
      if (f->parts[j].exists) parts[j] = rate_of_part(&f->parts[j], m, i, m->rates);
    }
    for (int k = 0; m->has_odd[i] && k < CAVUM_NUM_PEAK_PARTS; k++) {
      if (f->odd[k].exists) rates->odd[i][k] = rate_of_part(&f->odd[k], m, i, m->odd);
    }
    if (f->parts[CAVUM_FUNCTIONAL_VOLTAGE].exists) {
      double *size = &parts[CAVUM_FUNCTIONAL_VOLTAGE].size;
      *size = cavum_max(*size, size_by_beta(values, cell) * fabs(m->others[i].beta));
    }
    if (f->sizes_as_integral) parts[CAVUM_FUNCTIONAL_SIZES] = parts[CAVUM_FUNCTIONAL_INTEGRAL];
    rates->length[i] = rate_of_length(values, cell, &parts[CAVUM_FUNCTIONAL_K2], &m->others[i]);
  }
}

// What the rates of some parts change by with the degree.
static void take_followed(cavum_derivative_values *w, const part_rates *rates,
                          const cavum_mode_functionals *f) {
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    for (int j = 0; j < CAVUM_NUM_FOLLOWED_PARTS; j++) {
      int part = CAVUM_FUNCTIONAL_VOLTAGE + j;
      bool as_integral = part == CAVUM_FUNCTIONAL_SIZES && f->sizes_as_integral;
      if (!f->parts[as_integral ? (int)CAVUM_FUNCTIONAL_INTEGRAL : part].exists) continue;
      cavum_followed_rate *to = &w->followed[i][j];
      double value = rates->parts[i][part].value;
      to->change[1] = to->change[0];
      to->change[0] = to->count > 0 ? value - to->value : 0.0;
      to->value = value;
      to->count++;
    }
  }
}

// What the adjoint solves leave. Those of higher modes fall more slowly than their last step
// predicts, beside the modes below: five in 200 of these left 2 to 10 times what was asked of them.
static double adjoint_error(const cavum_problem *s, const cavum_solution_mode *mode) {
  const double of_higher_modes = 4.0;
  double accuracy = cavum_mode_functionals_accuracy(s->cell);
  return (mode->index > 0 ? of_higher_modes : 1.0) * accuracy / VECTOR_FACTOR;
}

cavum_status cavum_derivative_rates_take(cavum_derivative_values *w, const cavum_problem *s,
                                         const cavum_solution *solution, int mode, int below,
                                         const cavum_mode_functionals *f, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_values *values = &solution->modes[mode].values[below];
  int count = w->motion->dimensions.count;
  double vector_error = cavum_solution_vector_error(solution, mode, below);
  if (cavum_mode_functionals_polish(s->cell)) vector_error *= POLISHED_PART;
  vector_error += values->mixing;
  double of_adjoints = adjoint_error(s, &solution->modes[mode]);
  bool of_wall = (w->figures & ~(UINT64_C(1) << CAVUM_FIGURE_FREQUENCY)) != 0;  // may need R_s
  double resistance =
      of_wall ? resistance_power(s->cell, values->figures[CAVUM_FIGURE_FREQUENCY].value) : 0.0;
  part_rates rates = {.parts = cavum_alloc(count, sizeof *rates.parts),
                      .odd = cavum_alloc(count, sizeof *rates.odd),
                      .length = cavum_alloc(count, sizeof *rates.length),
                      .figure = cavum_alloc(count, sizeof *rates.figure)};
  if (!rates.parts || !rates.odd || !rates.length || !rates.figure)
    CAVUM_TRY(cavum_fail_memory(error));
  fill_rates(&rates, f, values, s->cell, w->motion);
  take_followed(w, &rates, f);
  if (w->only_followed_at_third && below == CAVUM_DEGREES_ON_SMOOTH) goto done;
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    bool present = values->figures[id].state == CAVUM_FIGURE_PRESENT;
    if (!present || !cavum_derivative_is_asked(w->figures, i)) continue;
    cavum_figure_chain chain = cavum_figure_chain_of(id, resistance);
    take_figure(w, id, &chain, f, &rates, value_of(id, values, f),
                vector_error + (needs_adjoints(&chain) ? of_adjoints : 0.0));
  }
done:
  free(rates.parts);
  free(rates.odd);
  free(rates.length);
  free(rates.figure);
  return status;
}
