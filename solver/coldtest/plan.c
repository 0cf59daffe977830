// SPDX-License-Identifier: GPL-3.0-or-later
// The way back: what a test will take, and the published limits that its fields come near to.
#include "base/sized.h"
#include "cavum/coldtest_series.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/setup.h"

// Of the forward power: 120 dB, below what any receiver tells from nothing.
static const double SMALLEST_REFLECTION = 1e-12;

// Inverse of cavum_coldtest_calibrate(): from the cavity port to the meter.
static void show_meters(cavum_plan *plan, const cavum_coldtest_setup *setup) {
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    const cavum_coldtest_channel *chain = &setup->channels[setup->channels[channel].chain];
    double power_w = plan->state.power_w[channel];
    plan->meter_w[channel] =
        channel >= CAVUM_CHANNEL_EXTRA
            ? NAN
            : power_w / cavum_coldtest_channel_factor(setup, channel) + chain->zero_w;
  }
}

// What is not stated is not known: no number.
static double known(cavum_estimate estimate) { return estimate.value > 0.0 ? estimate.value : NAN; }

static void compare_limits(cavum_plan *plan, const cavum_coldtest_setup *setup,
                           const cavum_plan_request *request) {
  for (int i = 0; i < CAVUM_MAX_LIMITS; i++) {
    const cavum_coldtest_limit *limit = &setup->limits[i];
    cavum_coldtest_quantity quantity = limit->quantity;
    double value = quantity == CAVUM_QUANTITY_B_PEAK       ? plan->b_peak_t
                   : quantity == CAVUM_QUANTITY_E_PEAK     ? plan->e_peak_v_per_m
                   : quantity == CAVUM_QUANTITY_E_ACC      ? request->e_acc_v_per_m
                   : quantity == CAVUM_QUANTITY_WALL_POWER ? plan->state.wall_power_w
                   : quantity == CAVUM_QUANTITY_BATH_HEAT
                       ? plan->state.wall_power_w + known(setup->static_heat_w)
                   : quantity == CAVUM_QUANTITY_FORWARD ? plan->state.power_w[CAVUM_CHANNEL_FORWARD]
                                                        : NAN;
    plan->limit_share[i] = i < setup->num_limits ? value / limit->value : NAN;
  }
}

static void find_largest(double *relative, cavum_coldtest_input *input, double *share,
                         const cavum_coldtest_budget *budget) {
  int largest = 0;
  for (int i = 1; i < CAVUM_NUM_INPUTS; i++) {
    if (fabs(budget->contribution[i]) > fabs(budget->contribution[largest])) largest = i;
  }
  double ratio = budget->contribution[largest] / budget->uncertainty;
  *relative = budget->uncertainty / budget->value;
  *input = (cavum_coldtest_input)largest;
  *share = budget->uncertainty > 0.0 ? ratio * ratio : NAN;
}

static cavum_plan_expected expect(const cavum_coldtest *test, int64_t index) {
  cavum_plan_expected out = {.q0_relative = NAN, .e_acc_relative = NAN};
  cavum_coldtest_budget q0, e_acc;
  if (cavum_coldtest_make_budget(&q0, test, index, CAVUM_QUANTITY_Q0, NULL) != CAVUM_OK ||
      cavum_coldtest_make_budget(&e_acc, test, index, CAVUM_QUANTITY_E_ACC, NULL) != CAVUM_OK) {
    return out;
  }
  out.possible = true;
  find_largest(&out.q0_relative, &out.q0_input, &out.q0_share, &q0);
  find_largest(&out.e_acc_relative, &out.e_acc_input, &out.e_acc_share, &e_acc);
  return out;
}

static cavum_estimate planned_q(const cavum_estimate *stated, double q) {
  cavum_estimate out = *stated;
  if (stated->value == 0.0) return out;
  out.value = q;
  out.uncertainty = stated->uncertainty * (q / stated->value);
  return out;
}

// The setup of the planned readings: a branch or a Q that is stated is that of the plan.
static cavum_coldtest_setup planned_setup(const cavum_plan *plan, const cavum_coldtest_setup *setup,
                                          const cavum_plan_request *request) {
  cavum_coldtest_setup out = *setup;
  out.frequency_hz = request->frequency_hz;
  out.q0_method = CAVUM_Q0_AUTO;
  out.q_external = planned_q(&setup->q_external, request->q_external);
  if (isfinite(request->q_pickup)) out.q_pickup = planned_q(&setup->q_pickup, request->q_pickup);
  if (out.branch != CAVUM_BRANCH_DECIDE) {
    out.branch = plan->state.coupling >= 1.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER;
  }
  return out;
}

// Evaluates a calibration and a later step as if they had been read. What cannot be evaluated (a
// coupler so close to critical that nothing is reflected) is said, and is no failure of the plan.
static cavum_status expect_uncertainty(cavum_plan *plan, const cavum_coldtest_setup *setup,
                                       const cavum_plan_request *request) {
  const cavum_plan_expected none = {.q0_relative = NAN, .e_acc_relative = NAN};
  cavum_coldtest_setup planned = planned_setup(plan, setup, request);
  cavum_coldtest *test = NULL;
  cavum_coldtest_reading items[2] = {cavum_coldtest_reading_empty(),
                                     cavum_coldtest_reading_empty()};
  for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA; channel++) {
    for (int i = 0; i < 2; i++) items[i].power_w[channel] = plan->meter_w[channel];
  }
  // Of a match that is exact but for rounding the meter shows its zero.
  const double *power_w = plan->state.power_w;
  bool matched =
      power_w[CAVUM_CHANNEL_REFLECTED] < SMALLEST_REFLECTION * power_w[CAVUM_CHANNEL_FORWARD];
  for (int i = 0; matched && i < 2; i++) {
    items[i].power_w[CAVUM_CHANNEL_REFLECTED] = setup->channels[CAVUM_CHANNEL_REFLECTED].zero_w;
  }
  items[0].decay_time_s = plan->state.decay_time_s;
  items[1].power_w[CAVUM_CHANNEL_EMITTED] = NAN;
  cavum_coldtest_readings readings = {
      .num_readings = isfinite(request->q_pickup) ? 2 : 1, .items = items, .file = "plan"};
  plan->by_decay = plan->by_pickup = none;
  cavum_status status = cavum_coldtest_evaluate(&test, &planned, &readings, NULL);
  if (status == CAVUM_ERR_INPUT || status == CAVUM_ERR_RANGE) return CAVUM_OK;
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < cavum_coldtest_num_points(test); i++) {
    bool by_decay = cavum_coldtest_get_point(test, i)->by_decay;
    *(by_decay ? &plan->by_decay : &plan->by_pickup) = expect(test, i);
  }
  cavum_coldtest_destroy(&test);
  return CAVUM_OK;
}

static const cavum_sized REQUEST = {.name = "request of a plan",
                                    .maker = "cavum_plan_request_default()",
                                    .first = sizeof(cavum_plan_request),
                                    .full = sizeof(cavum_plan_request)};

void cavum_plan_request_set_defaults(cavum_plan_request *request, size_t struct_size) {
  const cavum_plan_request defaults = {.q_pickup = INFINITY};
  if (request) cavum_sized_give(request, struct_size, &defaults, &REQUEST);
}

static cavum_status make_plan(cavum_plan *plan, const cavum_coldtest_setup *setup,
                              const cavum_plan_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double r_over_q = setup->r_over_q_linac_ohm.value, length_m = setup->accelerating_length_m.value;
  if (!(request->e_acc_v_per_m > 0.0) || !isfinite(request->e_acc_v_per_m) || !(r_over_q > 0.0) ||
      !(length_m > 0.0) || !(request->frequency_hz > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "plan: gradient, frequency, R/Q and accelerating length must be positive");
  }
  CAVUM_TRY(cavum_coldtest_check_length(length_m, request->frequency_hz, "plan", error));
  cavum_plan out = {.voltage_v = request->e_acc_v_per_m * length_m};
  double omega = 2.0 * CAVUM_PI * request->frequency_hz;
  out.stored_energy_j = out.voltage_v * out.voltage_v / (r_over_q * omega);
  cavum_circuit circuit = {.frequency_hz = request->frequency_hz,
                           .q0 = request->q0,
                           .q_external = request->q_external,
                           .q_pickup = request->q_pickup};
  CAVUM_TRY(cavum_circuit_drive(&out.state, &circuit, out.stored_energy_j, error));
  double epk = setup->epk_over_eacc.value, bpk = setup->bpk_over_eacc_t_per_v_per_m.value;
  double factor_ohm = setup->geometry_factor_ohm.value;
  out.e_peak_v_per_m = epk > 0.0 ? epk * request->e_acc_v_per_m : NAN;
  out.b_peak_t = bpk > 0.0 ? bpk * request->e_acc_v_per_m : NAN;
  out.surface_resistance_ohm = factor_ohm > 0.0 ? factor_ohm / request->q0 : NAN;
  out.matched_forward_w = out.state.wall_power_w + out.state.power_w[CAVUM_CHANNEL_TRANSMITTED];
  if (!isfinite(request->q_pickup)) out.state.power_w[CAVUM_CHANNEL_TRANSMITTED] = NAN;
  show_meters(&out, setup);
  compare_limits(&out, setup, request);
  status = expect_uncertainty(&out, setup, request);
  if (status != CAVUM_OK) {
    status = cavum_fail(error, status, "plan: its readings cannot be evaluated");
    goto done;
  }
  *plan = out;
done:
  return status;
}

cavum_status cavum_coldtest_make_plan(cavum_plan *plan, const cavum_coldtest_setup *setup,
                                      const cavum_plan_request *request, cavum_error *error) {
  if (!plan || !setup || !request) return cavum_fail_null(error, __func__);
  cavum_coldtest_setup full_setup;
  cavum_plan_request full_request;
  cavum_status status = cavum_coldtest_setup_take(&full_setup, setup, error);
  if (status == CAVUM_OK) status = cavum_sized_take(&full_request, request, &REQUEST, error);
  if (status != CAVUM_OK) return status;
  return make_plan(plan, &full_setup, &full_request, error);
}

// The first by Pudasaini et al., arXiv:1909.05695, abstract; the others are not checked against a
// source. The page of the demo's cold test names them.
static const cavum_coldtest_limit PUBLISHED_LIMITS[] = {
    {"superheating field of Nb, working number", "published, about 200 mT", CAVUM_QUANTITY_B_PEAK,
     0.2},
    {"superheating field of Nb at 0 K", "1.2 times a thermodynamic field of about 200 mT",
     CAVUM_QUANTITY_B_PEAK, 0.24},
    {"lower critical field of Nb", "about 170 to 180 mT", CAVUM_QUANTITY_B_PEAK, 0.17},
};

int cavum_coldtest_num_published_limits(void) {
  return (int)(sizeof PUBLISHED_LIMITS / sizeof *PUBLISHED_LIMITS);
}

cavum_coldtest_limit cavum_coldtest_published_limit(int index) {
  static const cavum_coldtest_limit unknown = {.name = "unknown", .source = ""};
  return index >= 0 && index < cavum_coldtest_num_published_limits() ? PUBLISHED_LIMITS[index]
                                                                     : unknown;
}
