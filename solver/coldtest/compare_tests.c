// SPDX-License-Identifier: GPL-3.0-or-later
// Several tests of one cell: ratios and differences in which shared errors cancel.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/sized.h"
#include "base/units.h"
#include "cavum/coldtest_compare.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/compare_names.h"
#include "coldtest/emission_power.h"
#include "coldtest/gradient_order.h"
#include "coldtest/linear_fit.h"
#include "coldtest/resistance.h"

enum { SHARED = CAVUM_FIRST_LOCAL_INPUT };
static const double BATH_TOLERANCE_K = 0.02, REFERENCE_K = 2.0;
// Of one cell: treatments, tuning and cooling change less, relative; so does a measured shape.
static const double OTHER_FREQUENCY = 0.005, OTHER_FIGURE = 0.02;
// Readings closer together, relative to the gradient, are passed over in an interpolation.
static const double LEAST_STEP = 0.03;

/** A number with what all readings of its test share, and the rest. */
typedef struct figure {
  bool has;
  double value, part[SHARED], own;
  double thermometer;  // Part of the thermometer's calibration.
} figure;

/** A test as it is compared. */
typedef struct side {
  const cavum_coldtest_report *report;
  double bath_k;
  int64_t count;       // Readings of the bath, by rising gradient.
  cavum_dual *e, *q0;  // Owned, shape [count].
  int64_t *point;      // Owned, shape [count].
  figure figures[CAVUM_NUM_CHANGES];
} side;

cavum_change_info cavum_change_describe(cavum_change_id id) {
  static const cavum_change_info infos[CAVUM_NUM_CHANGES] = {
#define CAVUM_CHANGE_INFO(name, key, unit, text) {key, unit, text},
      CAVUM_CHANGE_TABLE(CAVUM_CHANGE_INFO)
#undef CAVUM_CHANGE_INFO
  };
  bool known = id >= 0 && id < CAVUM_NUM_CHANGES;
  return known ? infos[id] : (cavum_change_info){"unknown", "1", "unknown"};
}

// The first version ended with coverage_factor.
static const cavum_sized SIZED = {.name = "comparison",
                                  .maker = "cavum_coldtest_compare()",
                                  .first = sizeof(cavum_coldtest_comparison),
                                  .full = sizeof(cavum_coldtest_comparison)};

void cavum_coldtest_comparison_clear(cavum_coldtest_comparison *comparison) {
  if (!comparison) return;
  for (int i = 0; i < comparison->num_pairs; i++) free(comparison->pairs[i].ratios);
  free(comparison->pairs);
  // One that was never filled is at least as long as in the first version.
  size_t size = comparison->struct_size;
  memset(comparison, 0, cavum_sized_known(size, &SIZED));
}

static void side_clear(side *s) {
  free(s->e);
  free(s->q0);
  free(s->point);
}

static figure figure_of(const cavum_dual *number) {
  figure f = {.has = true, .value = number->value};
  double square = 0.0;
  for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
    if (k < SHARED) f.part[k] = number->part[k];
    if (k >= SHARED) square += number->part[k] * number->part[k];
  }
  f.own = sqrt(square);
  return f;
}

static double uncertainty_of(const figure *f) {
  double square = f->own * f->own + f->thermometer * f->thermometer;
  for (int k = 0; k < SHARED; k++) square += f->part[k] * f->part[k];
  return sqrt(square);
}

// Inputs that mean the same thing in two tests which name one calibration, or one shape.
static bool is_shared(int input, bool calibration, bool shape) {
  switch (input) {
    case CAVUM_INPUT_R_OVER_Q:
    case CAVUM_INPUT_LENGTH:
    case CAVUM_INPUT_GEOMETRY_FACTOR:
    case CAVUM_INPUT_EPK_OVER_EACC:
    case CAVUM_INPUT_BPK_OVER_EACC:
      return shape;
    case CAVUM_INPUT_DIRECTIVITY:
    case CAVUM_INPUT_FORWARD_DIRECTIVITY:
    case CAVUM_INPUT_CIRCULATOR:
    case CAVUM_INPUT_LOOP_PHASE:
    case CAVUM_INPUT_BRANCH:
    case CAVUM_INPUT_PICKUP:
    case CAVUM_INPUT_EXTERNAL:
      return false;
    default:
      return calibration;
  }
}

// later - first.
static cavum_estimate subtract(const figure *later, const figure *first, bool calibration,
                               bool shape) {
  double square = later->own * later->own + first->own * first->own;
  for (int k = 0; k <= SHARED; k++) {
    double a = k < SHARED ? later->part[k] : later->thermometer;
    double b = k < SHARED ? first->part[k] : first->thermometer;
    bool both = k < SHARED ? is_shared(k, calibration, shape) : calibration;
    square += both ? (a - b) * (a - b) : a * a + b * b;
  }
  return (cavum_estimate){.value = later->value - first->value, .uncertainty = sqrt(square)};
}

// The readings of the bath that have a Q0, by rising gradient.
static void find_places(cavum_gradient_place *places, side *s) {
  const cavum_coldtest *test = s->report->test;
  s->count = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    const cavum_coldtest_point *point = &test->points[i];
    double bath = test->readings.items[i].bath_temperature_k;
    bool here = isnan(s->bath_k) || fabs(bath - s->bath_k) <= BATH_TOLERANCE_K;
    if (!here || !isfinite(point->value[CAVUM_QUANTITY_Q0])) continue;
    places[s->count++] = (cavum_gradient_place){point->value[CAVUM_QUANTITY_E_ACC], i};
  }
  cavum_gradient_places_sort(places, s->count);
}

static cavum_status gather(side *s, cavum_error *error) {
  const cavum_coldtest *test = s->report->test;
  int64_t room = test->readings.num_readings;
  const cavum_field_emission_options all = {0};
  cavum_status status = CAVUM_OK;
  cavum_gradient_place *places = cavum_alloc(room, sizeof *places);
  if (!places) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_emission_find_bath(&s->bath_k, test, &all, BATH_TOLERANCE_K, error));
  find_places(places, s);
  s->e = cavum_alloc(s->count + 1, sizeof *s->e);
  s->q0 = cavum_alloc(s->count + 1, sizeof *s->q0);
  s->point = cavum_alloc(s->count + 1, sizeof *s->point);
  if (!s->e || !s->q0 || !s->point) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (int64_t at = 0; at < s->count; at++) {
    cavum_inverted inverted;
    CAVUM_TRY(cavum_coldtest_invert_reading(&inverted, test, places[at].index, error));
    s->e[at] = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_E_ACC]);
    s->q0[at] = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_Q0]);
    s->point[at] = places[at].index;
  }
done:
  free(places);
  return status;
}

static void set_resistance(side *s) {
  const cavum_coldtest_report *report = s->report;
  cavum_resistance_fit fit;
  cavum_resistance_shared shared;
  if (!report->has_fit) return;
  if (cavum_resistance_fit_gradient(&fit, &shared, report->test, &report->file.resistance, NULL) !=
      CAVUM_OK) {
    return;
  }
  double g[2][CAVUM_NUM_RESISTANCE_PARAMETERS] = {{0.0}};
  g[0][CAVUM_RESISTANCE_RESIDUAL] = 1.0;
  double bcs = cavum_resistance_bcs_gradient(g[1], &fit, REFERENCE_K);
  for (int which = 0; which < 2; which++) {
    figure *f = &s->figures[which == 0 ? CAVUM_CHANGE_RESIDUAL : CAVUM_CHANGE_BCS];
    double square = 0.0;
    f->has = true;
    f->value = which == 0 ? fit.residual_ohm.value : bcs;
    for (int j = 0; j < CAVUM_NUM_RESISTANCE_PARAMETERS; j++) {
      for (int k = 0; k <= SHARED; k++) {
        *(k < SHARED ? &f->part[k] : &f->thermometer) += g[which][j] * shared.moves[k][j];
      }
      for (int k = 0; k < CAVUM_NUM_RESISTANCE_PARAMETERS; k++) {
        square += g[which][j] * fit.statistical[j][k] * g[which][k];
      }
    }
    f->own = sqrt(cavum_max(square, 0.0));
  }
}

/** A fit of R_s = R_0 + a E^2, over (E / scale)^2. */
typedef struct line_fit {
  int64_t count;
  double scale;          // of E: the largest gradient
  double factor;         // G in ohm
  double relative;       // its relative uncertainty
  double *term, *value;  // shape [count, 2] and [count], in one piece with the next two
  double *own, *shared;  // shape [count] and [count, SHARED]
} line_fit;

// How many readings of the bath are below the onset: they come by rising gradient.
static int64_t count_below_onset(const side *s) {
  const cavum_coldtest_report *report = s->report;
  double below = report->has_emission ? report->emission.onset_e_acc_v_per_m.value : NAN;
  int64_t count = 0;
  while (count < s->count && !(s->e[count].value >= below)) count++;
  return count;
}

// One reading of the fit. E is uncertain too: what that does to R_s follows from the slope that was
// found before, 0 at first.
static void set_line_row(line_fit *line, const side *s, int64_t i, double slope) {
  double x = s->e[i].value / line->scale, r = line->factor / s->q0[i].value, square = 0.0;
  line->term[2 * i] = 1.0;
  line->term[2 * i + 1] = x * x;
  line->value[i] = r;
  for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
    double part =
        -r / s->q0[i].value * s->q0[i].part[k] - 2.0 * slope * x / line->scale * s->e[i].part[k];
    if (k == CAVUM_INPUT_GEOMETRY_FACTOR) part += r * line->relative;
    if (k < SHARED) line->shared[i * SHARED + k] = part;
    if (k >= SHARED) square += part * part;
  }
  line->own[i] = sqrt(square);
}

// R_0 and a from the coefficients of the fit.
static void set_line_figures(side *s, const cavum_linear_fit *fit, const cavum_linear_rows *rows,
                             double scale) {
  for (int which = 0; which < 2; which++) {
    figure *f = &s->figures[which == 0 ? CAVUM_CHANGE_LOW_FIELD : CAVUM_CHANGE_SLOPE];
    double unit = which == 0 ? 1.0 : 1.0 / (scale * scale);
    f->has = true;
    f->value = unit * fit->coefficient[which];
    f->own = unit * sqrt(fit->own[which][which]);
    for (int k = 0; k < SHARED; k++) {
      double move[CAVUM_MOST_TERMS];
      cavum_linear_fit_move(move, fit, rows, k);
      f->part[k] = unit * move[which];
    }
  }
}

// R_s = R_0 + a E^2 through the readings of the bath below the onset.
static cavum_status set_line(side *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_estimate *g = &s->report->test->setup.geometry_factor_ohm;
  line_fit line = {.count = count_below_onset(s), .factor = g->value};
  if (!(g->value > 0.0) || line.count < 3) return CAVUM_OK;
  line.relative = g->uncertainty / g->value;
  line.scale = s->e[line.count - 1].value;
  cavum_linear_fit fit = {.degrees_of_freedom = 0};
  line.term = cavum_alloc(line.count * (4 + SHARED), sizeof *line.term);
  if (!line.term) return cavum_fail_memory(error);
  line.value = line.term + 2 * line.count;
  line.own = line.value + line.count;
  line.shared = line.own + line.count;
  const cavum_linear_rows rows = {line.count, 2,      line.term,  line.value,
                                  line.own,   SHARED, line.shared};
  double slope = 0.0;
  for (int round = 0; round < 2 && status == CAVUM_OK; round++) {
    for (int64_t i = 0; i < line.count; i++) set_line_row(&line, s, i, slope);
    status = cavum_linear_fit_rows(&fit, &rows, "R_s over E_acc^2", NULL);
    slope = fit.coefficient[1];
  }
  if (status == CAVUM_OK) set_line_figures(s, &fit, &rows, line.scale);
  free(line.term);
  return status == CAVUM_ERR_INPUT ? CAVUM_OK : status;
}

// E_acc is off alike at all gradients: the onset has the shared relative parts of the readings.
static void set_fields(side *s) {
  const cavum_coldtest *test = s->report->test;
  int64_t highest = -1;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double e = test->points[i].value[CAVUM_QUANTITY_E_ACC];
    if (!isfinite(e)) continue;
    if (highest < 0 || e > test->points[highest].value[CAVUM_QUANTITY_E_ACC]) highest = i;
  }
  cavum_inverted inverted;
  if (highest < 0 || cavum_coldtest_invert_reading(&inverted, test, highest, NULL) != CAVUM_OK) {
    return;
  }
  cavum_dual e = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_E_ACC]);
  s->figures[CAVUM_CHANGE_HIGHEST] = figure_of(&e);
  if (!s->report->has_emission) return;
  cavum_estimate onset = s->report->emission.onset_e_acc_v_per_m;
  if (!isfinite(onset.value)) return;
  figure *f = &s->figures[CAVUM_CHANGE_ONSET];
  *f = s->figures[CAVUM_CHANGE_HIGHEST];
  double square = onset.uncertainty * onset.uncertainty;
  for (int k = 0; k < SHARED; k++) {
    f->part[k] *= onset.value / e.value;
    square -= f->part[k] * f->part[k];
  }
  f->value = onset.value;
  f->own = sqrt(cavum_max(square, 0.0));
}

// ln of the ratio at one reading of the later test; the first is interpolated between two readings.
static bool make_ratio(cavum_coldtest_ratio *out, const side *first, const side *later, int64_t i,
                       bool calibration, bool shape) {
  double e = later->e[i].value;
  int64_t k = 0;
  while (k + 1 < first->count && first->e[k + 1].value < e) k++;
  int64_t top = k + 1;
  if (top >= first->count || first->e[k].value > e || first->e[top].value < e) return false;
  // Two readings at one gradient say nothing of the slope between them.
  while (first->e[top].value - first->e[k].value < LEAST_STEP * e) {
    if (k > 0) k--;
    if (top + 1 < first->count) top++;
    if (k == 0 && top + 1 == first->count) break;
  }
  double step = first->e[top].value - first->e[k].value;
  if (!(step > 0.0)) return false;
  double w = (e - first->e[k].value) / step;
  double slope = log(first->q0[top].value / first->q0[k].value) / step;
  // What ln Q0 of the first test is at e: errors of its own readings, and of its gradients.
  cavum_dual from = {.value = log(first->q0[k].value) + slope * (e - first->e[k].value)};
  double square = 0.0;
  for (int n = 0; n < CAVUM_NUM_INPUTS; n++) {
    double low =
        (1.0 - w) * (first->q0[k].part[n] / first->q0[k].value - slope * first->e[k].part[n]);
    double high =
        w * (first->q0[top].part[n] / first->q0[top].value - slope * first->e[top].part[n]);
    from.part[n] = low + high;
    if (n >= SHARED) square += low * low + high * high;
  }
  figure a = figure_of(&from);
  a.own = sqrt(square);
  cavum_dual to = {.value = log(later->q0[i].value)};
  for (int n = 0; n < CAVUM_NUM_INPUTS; n++) {
    to.part[n] = later->q0[i].part[n] / later->q0[i].value - slope * later->e[i].part[n];
  }
  figure b = figure_of(&to);
  cavum_estimate log_ratio = subtract(&b, &a, calibration, shape);
  double ratio = exp(log_ratio.value);
  *out = (cavum_coldtest_ratio){
      .point = later->point[i],
      .e_acc_v_per_m = {.value = e, .uncertainty = cavum_dual_uncertainty(&later->e[i])},
      .q0_ratio = {.value = ratio, .uncertainty = ratio * log_ratio.uncertainty}};
  return true;
}

static bool same_name(const char *a, const char *b) { return a[0] && strcmp(a, b) == 0; }

// Of the reading in the middle: a test that drifts is that of one cell.
static double frequency_of(const cavum_coldtest *test) {
  int64_t middle = test->readings.num_readings / 2;
  double hz = test->readings.num_readings > 0 ? test->readings.items[middle].frequency_hz : NAN;
  return isnan(hz) ? test->setup.frequency_hz : hz;
}

static double positive_or_nan(double value) { return value > 0.0 ? value : NAN; }

// Bytes that hold one difference of what two tests state.
enum { DIFFERENCE_SIZE = 96 };

// The first thing that two tests of one cell would not state differently, or "".
static void describe_other_cell(char text[DIFFERENCE_SIZE], const cavum_coldtest *a,
                                const cavum_coldtest *b) {
  const cavum_coldtest_setup *x = &a->setup, *y = &b->setup;
  const struct {
    const char *name, *unit;
    double first, later, most;
  } rows[] = {
      {"f", "MHz", cavum_in_mhz(frequency_of(a)), cavum_in_mhz(frequency_of(b)), OTHER_FREQUENCY},
      {"L_acc", "mm", cavum_in_unit(x->accelerating_length_m.value, CAVUM_UNIT_MM),
       cavum_in_unit(y->accelerating_length_m.value, CAVUM_UNIT_MM), OTHER_FIGURE},
      {"R/Q", "ohm", x->r_over_q_linac_ohm.value, y->r_over_q_linac_ohm.value, OTHER_FIGURE},
      {"G", "ohm", x->geometry_factor_ohm.value, y->geometry_factor_ohm.value, OTHER_FIGURE}};
  text[0] = '\0';
  for (size_t i = 0; i < sizeof rows / sizeof *rows && !text[0]; i++) {
    double first = positive_or_nan(rows[i].first), later = positive_or_nan(rows[i].later);
    if (!(fabs(later - first) > rows[i].most * first)) continue;
    snprintf(text, DIFFERENCE_SIZE, "%s %.4g %s and %.4g %s", rows[i].name, first, rows[i].unit,
             later, rows[i].unit);
  }
}

// What makes tests differ whatever was done to the cell.
static void set_caution(cavum_coldtest_pair *pair, const side *first, const side *later) {
  char cell[DIFFERENCE_SIZE], *at = pair->caution;
  size_t left = sizeof pair->caution;
  describe_other_cell(cell, first->report->test, later->report->test);
  if (cell[0]) {
    int used =
        snprintf(at, left,
                 "the tests are of different cells or modes (%s): no change here is that of a "
                 "treatment",
                 cell);
    at += used;
    left -= (size_t)used;
  }
  if (!(fabs(first->bath_k - later->bath_k) > BATH_TOLERANCE_K)) return;
  snprintf(at, left,
           "%sthe tests were taken at other baths, %.4g K and %.4g K: Q0 differs by that alone",
           cell[0] ? "; " : "", first->bath_k, later->bath_k);
}

static cavum_status make_pair(cavum_coldtest_pair *pair, const side *first, const side *later,
                              double factor, cavum_error *error) {
  const cavum_coldtest_file *a = &first->report->file, *b = &later->report->file;
  const cavum_estimate none = {.value = NAN, .uncertainty = NAN};
  bool calibration = same_name(a->shared_calibration, b->shared_calibration);
  bool shape = same_name(a->shared_shape, b->shared_shape);
  cavum_status status =
      cavum_coldtest_check_names(first->report, later->report, calibration, shape, error);
  if (status != CAVUM_OK) return status;
  pair->shares_calibration = calibration;
  pair->shares_shape = shape;
  pair->first_bath_k = first->bath_k;
  pair->later_bath_k = later->bath_k;
  for (int i = 0; i < CAVUM_NUM_CHANGES; i++) {
    const figure *x = &first->figures[i], *y = &later->figures[i];
    cavum_coldtest_change *c = &pair->changes[i];
    c->first =
        x->has ? (cavum_estimate){.value = x->value, .uncertainty = uncertainty_of(x)} : none;
    c->later =
        y->has ? (cavum_estimate){.value = y->value, .uncertainty = uncertainty_of(y)} : none;
    c->change = x->has && y->has ? subtract(y, x, calibration, shape) : none;
    c->significant = fabs(c->change.value) > factor * c->change.uncertainty;
  }
  pair->ratios = cavum_alloc(later->count, sizeof *pair->ratios);
  if (!pair->ratios) return cavum_fail_memory(error);
  for (int64_t i = 0; i < later->count; i++) {
    pair->num_ratios +=
        make_ratio(&pair->ratios[pair->num_ratios], first, later, i, calibration, shape);
  }
  set_caution(pair, first, later);
  return CAVUM_OK;
}

cavum_status cavum_coldtest_compare_sized(cavum_coldtest_comparison *comparison, size_t struct_size,
                                          int count, const cavum_coldtest_report *const *reports,
                                          cavum_error *error) {
  if (!comparison || !reports) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_coldtest_comparison out = {0};
  if (count < 2) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "two tests or more were expected, not %d", count);
  }
  side *sides = cavum_alloc(count, sizeof *sides);
  out.pairs = cavum_alloc(count - 1, sizeof *out.pairs);
  if (!sides || !out.pairs) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (int i = 0; i < count; i++) {
    sides[i].report = reports[i];
    if (!reports[i] || !reports[i]->test) {
      status = cavum_fail(error, CAVUM_ERR_INPUT, "test %d has no readings to compare", i + 1);
      goto done;
    }
    CAVUM_TRY(gather(&sides[i], error));
    set_resistance(&sides[i]);
    CAVUM_TRY(set_line(&sides[i], error));
    set_fields(&sides[i]);
  }
  out.coverage_factor = cavum_coldtest_coverage_factor(reports[0]->file.setup.coverage);
  for (int i = 1; i < count; i++) {
    out.num_pairs = i;
    CAVUM_TRY(make_pair(&out.pairs[i - 1], &sides[0], &sides[i], out.coverage_factor, error));
  }
  cavum_sized_give(comparison, struct_size, &out, &SIZED);
  out = (cavum_coldtest_comparison){0};
done:
  for (int i = 0; sides && i < count; i++) side_clear(&sides[i]);
  free(sides);
  cavum_coldtest_comparison_clear(&out);
  return status;
}
