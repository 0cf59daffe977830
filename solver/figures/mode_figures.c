// SPDX-License-Identifier: GPL-3.0-or-later
// The figures of one mode, from the field at one joule. Definitions: cavum/figures.h, as usual in
// the trade [Padamsee1998].
#include "figures/mode_figures.h"

#include "base/base.h"
#include "base/maximum.h"
#include "base/units.h"
#include "cavum/wall.h"
#include "figures/axis.h"
#include "figures/axis_speed.h"
#include "figures/outline_voltage.h"
#include "figures/sharp_corner.h"
#include "figures/surface.h"
#include "figures/tube_cut.h"

double cavum_mode_beta_point(int i) { return CAVUM_BETA_CURVE_FIRST + 0.01 * i; }

cavum_accelerating_length cavum_mode_accelerating_length(const cavum_cell *cell,
                                                         double frequency_hz) {
  if (cell->accelerating_length_m > 0.0) {
    return (cavum_accelerating_length){cell->accelerating_length_m, "given"};
  }
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    double sum = cell->left.half_length_m + cell->right.half_length_m;
    bool same = cell->left.half_length_m == cell->right.half_length_m;
    return (cavum_accelerating_length){
        sum, same ? "2 x half_length" : "left half_length + right half_length"};
  }
  return (cavum_accelerating_length){0.5 * cell->beta * CAVUM_C_M_PER_S / frequency_hz,
                                     "beta lambda / 2"};
}

static void put(cavum_mode_values *values, cavum_figure_id id, double value) {
  values->figures[id] = (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = value};
}

static void put_voltage_figures(cavum_mode_values *values, const cavum_view *view, double voltage,
                                double of_e, double of_abs) {
  double w = view->field.angular_frequency, r_over_q = voltage * voltage / w;
  put(values, CAVUM_FIGURE_R_OVER_Q_LINAC, r_over_q);
  put(values, CAVUM_FIGURE_R_OVER_Q_CIRCUIT, 0.5 * r_over_q);
  put(values, CAVUM_FIGURE_LOSS_FACTOR, 0.25 * w * r_over_q);
  put(values, CAVUM_FIGURE_VOLTAGE_AT_1_J, voltage);
  put(values, CAVUM_FIGURE_EACC_AT_1_J, voltage / values->length.value_m);
  put(values, CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, voltage / of_abs);
  if (of_e != 0.0) put(values, CAVUM_FIGURE_TRANSIT_TIME_FACTOR, voltage / fabs(of_e));
}

// Where the voltages of a mode come from, and the plain integrals of E_z, V.
typedef struct voltages {
  const cavum_view *view;
  const cavum_wall_samples *samples;  // or NULL: all are taken on the axis
  cavum_axis_field axis;              // owned
  double k_per_m, of_e, of_abs;
  double terms_of_e;  // what of_e is the sum of
  bool of_axis;       // of_e comes from the axis
} voltages;

// A voltage and what it is the sum of, V.
typedef struct voltage {
  cavum_phasor value;
  double size, terms;
  bool of_axis;  // it comes from the axis
} voltage;

// Where E_z has one sign the two integrals are the same; where it has not, the axis tells how far
// they are apart.
static void take_integral_of_outline(voltages *v) {
  double apart = v->of_abs - fabs(v->of_e), integral, terms;
  if (!v->samples || !cavum_outline_integral(&integral, &terms, v->view, v->samples)) return;
  if (terms > CAVUM_CANCELLATION_MOST * v->of_abs) return;
  v->of_e = integral;
  v->of_abs = fabs(integral) + apart;
  v->terms_of_e = cavum_max(v->of_abs, terms);
  v->of_axis = false;
}

// Without an axis there are none.
static cavum_status measure_voltages(voltages *v, const cavum_view *view,
                                     const cavum_wall_samples *samples, cavum_error *error) {
  *v = (voltages){.view = view, .samples = samples, .k_per_m = sqrt(view->field.k2_per_m2)};
  if (view->boundary->num_axis == 0) return CAVUM_OK;
  cavum_status status = cavum_axis_expand(&v->axis, view, error);
  if (status != CAVUM_OK) return status;
  cavum_axis_plain_integrals(&v->of_e, &v->of_abs, &v->axis);
  v->terms_of_e = v->of_abs;
  v->of_axis = true;
  take_integral_of_outline(v);
  return CAVUM_OK;
}

static voltage voltage_at(const voltages *v, double beta) {
  voltage at = {.terms = v->of_abs};
  double terms;
  bool holds = v->samples && cavum_outline_voltage(&at.value, &terms, v->view, v->samples, beta);
  if (holds && (beta == 1.0 || terms <= CAVUM_CANCELLATION_MOST * v->of_abs)) {
    at.terms = cavum_max(v->of_abs, terms);
  } else {
    at.value = cavum_axis_voltage(&v->axis, v->k_per_m, beta);
    at.of_axis = true;
  }
  at.size = hypot(at.value.re, at.value.im);
  return at;
}

// How far the voltage and the plain integral cancel.
static void set_cancellation(cavum_mode_values *values, const voltages *v, const voltage *at) {
  if (v->of_abs <= 0.0) return;
  values->integral_over_abs = fabs(v->of_e) / v->of_abs;
  values->voltage_over_abs = at->size / v->of_abs;
  values->integral_rcond = fabs(v->of_e) / v->terms_of_e;
  values->terms_v = at->terms;
  values->voltage_rcond = at->size / at->terms;
}

// Along the outline the error of a voltage is about the square of that on the axis: of a tip it has
// the exponent nu, not half of it. So it is until a voltage is known to come from the axis.
static void set_exponents(cavum_mode_values *values, const cavum_view *view) {
  cavum_weakest_exponents weakest = cavum_sharp_corner_weakest_exponents(view);
  double of_outline = cavum_min(weakest.corner, 2.0 * weakest.tip);
  values->corner_exponent = weakest.corner;
  values->voltage_exponent = values->integral_exponent = values->optimum_exponent = of_outline;
  values->axis_exponent = cavum_min(weakest.corner, weakest.tip);
}

// Where the voltage along the outline and that of the axis differ by more than this part, the axis
// does not tell well enough at which speed V is largest.
static const double OFF_AXIS_MOST = 1e-4;
// Speeds about the largest voltage, and what its place is good to: V is by the square of that.
static const double SPEED_STEP = 0.01, SPEED_TOLERANCE = 1e-5;
enum { PARABOLAS_MOST = 4 };

// The voltage along the outline over that of the axis, which changes little and slowly with the
// speed: a parabola through three.
typedef struct off_axis {
  const voltages *v;
  double middle, ratio[3];
} off_axis;

static double size_of_axis(const voltages *v, double beta) {
  cavum_phasor at = cavum_axis_voltage(&v->axis, v->k_per_m, beta);
  return hypot(at.re, at.im);
}

// About a speed whose voltage is known. False where the outline does not tell.
static bool compare_with_axis(off_axis *to, const voltages *v, double beta, const voltage *known) {
  double least = CAVUM_BETA_CURVE_FIRST + SPEED_STEP, most = 1.0 - SPEED_STEP;
  *to = (off_axis){.v = v, .middle = cavum_min(most, cavum_max(least, beta))};
  for (int i = 0; i < 3; i++) {
    double at = to->middle + (i - 1) * SPEED_STEP, of_axis = size_of_axis(v, at);
    voltage outline = at == beta ? *known : voltage_at(v, at);
    if (outline.of_axis || !(of_axis > 0.0)) return false;
    to->ratio[i] = outline.size / of_axis;
  }
  return true;
}

// The voltage along the outline, as far as the parabola holds.
static double size_at_speed(double beta, const void *context) {
  const off_axis *o = context;
  double x = (beta - o->middle) / SPEED_STEP, slope = 0.5 * (o->ratio[2] - o->ratio[0]);
  double bend = 0.5 * (o->ratio[0] + o->ratio[2]) - o->ratio[1];
  return size_of_axis(o->v, beta) * (o->ratio[1] + x * (slope + x * bend));
}

// The speed of the largest of these voltages from one nearby. 1 and the least speed are the ends of
// what is looked at.
static double climb(const off_axis *o, double beta) {
  double place[3] = {beta - SPEED_STEP, beta, beta + SPEED_STEP}, value[3];
  for (int i = 0; i < 3; i++) {
    place[i] = cavum_min(1.0, cavum_max(CAVUM_BETA_CURVE_FIRST, place[i]));
    value[i] = size_at_speed(place[i], o);
  }
  while (value[2] > value[1] && place[2] < 1.0) {
    place[0] = place[1], place[1] = place[2], value[0] = value[1], value[1] = value[2];
    place[2] = cavum_min(1.0, place[1] + SPEED_STEP);
    value[2] = size_at_speed(place[2], o);
  }
  while (value[0] > value[1] && place[0] > CAVUM_BETA_CURVE_FIRST) {
    place[2] = place[1], place[1] = place[0], value[2] = value[1], value[1] = value[0];
    place[0] = cavum_max(CAVUM_BETA_CURVE_FIRST, place[1] - SPEED_STEP);
    value[0] = size_at_speed(place[0], o);
  }
  bool has_end = place[2] == 1.0;
  if (has_end && size_at_speed(1.0 - SPEED_TOLERANCE, o) <= value[2]) return 1.0;
  cavum_maximum_find(place, value, SPEED_TOLERANCE, size_at_speed, o);
  return place[1];
}

// The largest voltage along the outline from one nearby, with its speed. Another parabola is made
// where the speed came farther than one tells.
static void climb_to_best(double *beta, voltage *at, const voltages *v) {
  for (int i = 0; i < PARABOLAS_MOST; i++) {
    off_axis o;
    if (!compare_with_axis(&o, v, *beta, at)) return;
    double from = *beta;
    *beta = climb(&o, from);
    if (*beta != from) *at = voltage_at(v, *beta);
    if (fabs(*beta - from) <= SPEED_STEP) return;
  }
}

// Whether the axis tells well enough that V is largest at a speed. At the speed of light it does
// where V falls off from there by more than the two voltages differ.
static bool axis_tells(const voltages *v, double beta, double of_axis, const voltage *at) {
  double apart = fabs(of_axis - at->size);
  if (at->of_axis || apart <= OFF_AXIS_MOST * at->size) return true;
  return beta == 1.0 && of_axis - size_of_axis(v, 1.0 - SPEED_STEP) > apart;
}

// A search that goes on falling ends so near the least speed, relative.
static const double AT_LEAST_BETA = 1e-6;

// The largest voltage of all speeds: the axis says at which, where V is flat.
static void compute_optimum(cavum_mode_values *values, const voltages *v, const voltage *of_cell,
                            const cavum_cell *cell, double beta_hint) {
  double largest, w = v->view->field.angular_frequency;
  double best =
      cavum_axis_best_beta(&largest, &v->axis, v->k_per_m, CAVUM_BETA_CURVE_FIRST, beta_hint);
  voltage at = best == cell->beta ? *of_cell : voltage_at(v, best);
  if (!axis_tells(v, best, largest, &at)) climb_to_best(&best, &at, v);
  values->optimum_rcond = at.size / at.terms;
  if (at.of_axis) values->optimum_exponent = values->axis_exponent;
  put(values, CAVUM_FIGURE_BETA_OPTIMUM, best);
  if (best == 1.0 || best <= (1.0 + AT_LEAST_BETA) * CAVUM_BETA_CURVE_FIRST) {
    values->figures[CAVUM_FIGURE_BETA_OPTIMUM].basis = CAVUM_BASIS_END_OF_RANGE;
  }
  put(values, CAVUM_FIGURE_R_OVER_Q_OPTIMUM, at.size * at.size / w);
}

// The curve comes from the axis, which is cheaper, but for the speeds of the cell and of light.
static void compute_curve(cavum_mode_values *values, const voltages *v, const voltage *of_cell,
                          const cavum_cell *cell) {
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    double beta = cavum_mode_beta_point(i);
    if (fabs(beta - cell->beta) < CAVUM_SAME_BETA) {
      values->voltage_of_beta[i] = of_cell->size;
    } else if (beta == 1.0) {
      values->voltage_of_beta[i] = voltage_at(v, beta).size;
    } else {
      values->voltage_of_beta[i] = size_of_axis(v, beta);
    }
  }
}

static double length_of(const cavum_axis_field *axis) {
  const cavum_axis_edge *first = &axis->edges[0], *last = &axis->edges[axis->num_edges - 1];
  double length = last->middle_m + last->half_m - (first->middle_m - first->half_m);
  return axis->parity == CAVUM_PARITY_NONE ? length : 2.0 * length;
}

// Voltage, transit time, the curve over beta and its maximum; gives V at the cell's beta.
static cavum_status compute_axis(cavum_mode_values *values, cavum_phasor *voltage_of_cell,
                                 const cavum_view *view, const cavum_wall_samples *samples,
                                 const cavum_cell *cell, bool curves, double beta_hint,
                                 cavum_error *error) {
  voltages v;
  cavum_status status = measure_voltages(&v, view, samples, error);
  if (status != CAVUM_OK || view->boundary->num_axis == 0) return status;
  voltage at = voltage_at(&v, cell->beta);
  *voltage_of_cell = at.value;
  set_cancellation(values, &v, &at);
  values->has_sums = true;
  values->axis_length_m = length_of(&v.axis);
  values->at_beta = at.value;
  values->at_beta_of_axis = at.of_axis;
  values->plain_v = v.of_e;
  values->plain_of_axis = v.of_axis;
  if (at.of_axis) values->voltage_exponent = values->axis_exponent;
  if (at.of_axis || v.of_axis) values->integral_exponent = values->axis_exponent;
  if (at.size > 0.0) put_voltage_figures(values, view, at.size, v.of_e, v.of_abs);
  if (curves) compute_curve(values, &v, &at, cell);
  if (v.of_abs > 0.0) compute_optimum(values, &v, &at, cell, beta_hint);
  cavum_axis_clear(&v.axis);
  return CAVUM_OK;
}

cavum_status cavum_mode_measure_cancellation(cavum_mode_values *values, const cavum_view *view,
                                             const cavum_cell *cell, cavum_error *error) {
  voltages v;
  cavum_status status = measure_voltages(&v, view, NULL, error);
  if (status != CAVUM_OK || view->boundary->num_axis == 0) return status;
  voltage at = voltage_at(&v, cell->beta);
  set_cancellation(values, &v, &at);
  cavum_axis_clear(&v.axis);
  return CAVUM_OK;
}

static void put_peak(cavum_mode_values *values, cavum_figure_id id, double value, cavum_point at) {
  values->figures[id] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = value, .has_position = true, .at = at};
}

static void compute_peaks(cavum_mode_values *values, const cavum_view *view,
                          const cavum_surface *surface) {
  double eacc = values->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  if (view->boundary->num_metal == 0) return;
  double eta0_ohm = CAVUM_MU0 * CAVUM_C_M_PER_S;
  values->wall_e_over_h = surface->electric.value / (eta0_ohm * surface->magnetic.value);
  put_peak(values, CAVUM_FIGURE_EPK_OVER_EACC, surface->electric.value / eacc,
           surface->electric.at);
  values->figures[CAVUM_FIGURE_EPK_OVER_EACC].uncertainty = surface->electric.gap / eacc;
  put_peak(values, CAVUM_FIGURE_BPK_OVER_EACC, CAVUM_MU0 * surface->magnetic.value / eacc,
           surface->magnetic.at);
}

// At a sharp corner E grows without bound at any level, so this holds without a gradient, too.
static void find_unbounded_peak(cavum_mode_values *values, const cavum_view *view) {
  cavum_point corner;
  if (view->boundary->num_metal == 0 || !cavum_sharp_corner_find(&corner, view)) return;
  values->figures[CAVUM_FIGURE_EPK_OVER_EACC] =
      (cavum_figure){.state = CAVUM_FIGURE_UNBOUNDED, .has_position = true, .at = corner};
}

// What the surface resistance rests on, and what then rests on it.
static void put_basis(cavum_mode_values *values, const cavum_wall *wall, double frequency_hz) {
  cavum_figure *figures = values->figures;
  if (wall->kind == CAVUM_WALL_RESISTANCE) {
    figures[CAVUM_FIGURE_SURFACE_RESISTANCE].basis = CAVUM_BASIS_STATED;
  }
  if (wall->kind != CAVUM_WALL_NIOBIUM) return;
  figures[CAVUM_FIGURE_SURFACE_RESISTANCE].basis = CAVUM_BASIS_FIT;
  figures[CAVUM_FIGURE_SURFACE_RESISTANCE].uncertainty =
      cavum_wall_resistance_error_ohm(wall, frequency_hz);
  figures[CAVUM_FIGURE_Q0].basis = CAVUM_BASIS_WITH_FIT;
  figures[CAVUM_FIGURE_SHUNT_IMPEDANCE].basis = CAVUM_BASIS_WITH_FIT;
  figures[CAVUM_FIGURE_WALL_POWER].basis = CAVUM_BASIS_WITH_FIT;
}

static cavum_status compute_losses(cavum_mode_values *values, const cavum_view *view, double h2,
                                   const cavum_cell *cell, bool has_voltage, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double w = view->field.angular_frequency, resistance;
  if (h2 <= 0.0) return CAVUM_OK;
  // 2 w U, with U one joule: w times the integral of mu |H|^2.
  double factor = 2.0 * w / h2;
  double r_over_q = values->figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value;
  put(values, CAVUM_FIGURE_GEOMETRY_FACTOR, factor);
  if (has_voltage) put(values, CAVUM_FIGURE_G_TIMES_R_OVER_Q, factor * r_over_q);
  if (cell->wall.kind == CAVUM_WALL_NONE) return CAVUM_OK;
  CAVUM_TRY(cavum_wall_resistance(&resistance, NULL, &cell->wall, w / (2.0 * CAVUM_PI), error));
  put(values, CAVUM_FIGURE_SURFACE_RESISTANCE, resistance);
  put(values, CAVUM_FIGURE_Q0, factor / resistance);
  if (has_voltage) {
    double per_mv =
        cavum_from_unit(1.0, CAVUM_UNIT_MV_PER_M) / values->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
    put(values, CAVUM_FIGURE_SHUNT_IMPEDANCE, r_over_q * factor / resistance);
    put(values, CAVUM_FIGURE_WALL_POWER, 0.5 * resistance * h2 * per_mv * per_mv);
  }
  put_basis(values, &cell->wall, w / (2.0 * CAVUM_PI));
done:
  return status;
}

// The tube at an end of a two-ellipse cell, or of one that was moved: what was done to the cell was
// done to its tubes.
static cavum_cut_tube find_tube(const cavum_cell *cell, const cavum_end *end, bool at_right) {
  cavum_cut_tube tube = {.close = end->tube_close,
                         .shape = {.length_m = end->tube_length_m, .radius_m = end->tube_radius_m}};
  if (end->kind != CAVUM_END_TUBE || end->tube_close == CAVUM_BOUNDARY_METAL) return tube;
  tube.is_there = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE ||
                  (cell->kind == CAVUM_CONTOUR_PATH &&
                   cavum_contour_find_tube(&tube.shape, &cell->path, at_right, tube.close));
  return tube;
}

static void compute_tube_cut(cavum_mode_values *values, const cavum_view *view, cavum_phasor v,
                             const cavum_cell *cell) {
  const cavum_cut_tube left = find_tube(cell, &cell->left_end, false);
  const cavum_cut_tube right = find_tube(cell, &cell->right_end, true);
  cavum_tube_cut cut = cavum_tube_cut_estimate(view, &left, &right, v, cell->beta);
  if (!cut.present) return;
  put(values, CAVUM_FIGURE_TUBE_CUT_FREQUENCY, cut.frequency_change_hz);
  put(values, CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, cut.r_over_q_change_ohm);
  values->figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].uncertainty = cut.frequency_error_hz;
  values->figures[CAVUM_FIGURE_TUBE_CUT_R_OVER_Q].uncertainty = cut.r_over_q_error_ohm;
}

cavum_status cavum_mode_compute_figures(cavum_mode_values *values, const cavum_view *view,
                                        const cavum_cell *cell, bool curves, double beta_hint,
                                        cavum_wall_samples *samples, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mode_values made = {0};
  cavum_phasor v = {0.0, 0.0};
  double frequency = view->field.angular_frequency / (2.0 * CAVUM_PI);
  made.length = cavum_mode_accelerating_length(cell, frequency);
  put(&made, CAVUM_FIGURE_FREQUENCY, frequency);
  cavum_surface_sample(samples, view);
  set_exponents(&made, view);
  CAVUM_TRY(compute_axis(&made, &v, view, samples, cell, curves, beta_hint, error));
  bool has_voltage = v.re != 0.0 || v.im != 0.0;
  cavum_surface surface = cavum_surface_measure(samples, view);
  if (has_voltage) {
    compute_peaks(&made, view, &surface);
    compute_tube_cut(&made, view, v, cell);
  }
  find_unbounded_peak(&made, view);
  CAVUM_TRY(compute_losses(&made, view, surface.integral_h2_a2, cell, has_voltage, error));
  *values = made;
done:
  return status;
}
