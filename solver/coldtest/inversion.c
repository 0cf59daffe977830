// SPDX-License-Identifier: GPL-3.0-or-later
// The inversion: powers at the ports and a decay time (or a pickup calibration) to coupling, Q's,
// stored energy and fields. Every number carries its budget, so correlations are kept throughout.
//
// Notation: that of inversion.h, and "flow" is w U. Formulas: [Powers2005], [Padamsee1998] ch. 8
// (not checked against the sources).
#include "coldtest/inversion.h"

// Published total uncertainties of power-only tests hold for beta* of 0.5 to 2.5
// [Melnychuk2014], abstract.
static const double COUPLING_LOW = 0.5;
static const double COUPLING_HIGH = 2.5;
static const double PICKUP_SHARE_HIGH = 0.05;
static const double LOSS_RESOLVED = 3.0;
static const double EXTERNAL_DRIFT = 3.0;
static const double IMPOSSIBLE_V_PER_M = 1e10;

static void put(cavum_working *w, cavum_coldtest_quantity quantity, const cavum_dual *result) {
  w->out->has[quantity] = true;
  w->out->result[quantity] = *result;
}

// Reads the powers, decides the branch and forms rho and N.
static cavum_status begin(cavum_working *w, bool by_decay, cavum_error *error) {
  w->out->flags = 0;
  w->out->disagreement = NAN;
  for (int quantity = 0; quantity < CAVUM_NUM_QUANTITIES; quantity++) w->out->has[quantity] = false;
  if (!cavum_working_has(w, CAVUM_CHANNEL_REFLECTED) &&
      !cavum_working_has(w, CAVUM_CHANNEL_EMITTED)) {
    return cavum_working_fail(w, error,
                              "neither reflected nor emitted power: one of them is needed");
  }
  double forward_w = w->in->power[CAVUM_CHANNEL_FORWARD].value;
  if (cavum_working_has(w, CAVUM_CHANNEL_REFLECTED) &&
      !(w->in->power[CAVUM_CHANNEL_REFLECTED].value < forward_w)) {
    return cavum_working_fail(w, error, "reflected power not below forward power at the cavity");
  }
  if (cavum_working_has(w, CAVUM_CHANNEL_EMITTED) &&
      !(w->in->power[CAVUM_CHANNEL_EMITTED].value < 4.0 * forward_w)) {
    return cavum_working_fail(w, error, "emitted power not below four times the forward power");
  }
  w->out->branch = cavum_working_decide_branch(w, by_decay);
  cavum_working_set_forward_leak(w, w->out->branch);
  cavum_working_set_reflection(w, w->out->branch);
  w->extra = cavum_dual_constant(0.0);
  for (int channel = CAVUM_CHANNEL_EXTRA; channel < CAVUM_NUM_CHANNELS; channel++) {
    if (cavum_working_has(w, channel)) w->extra = cavum_dual_add(&w->extra, &w->in->power[channel]);
  }
  return CAVUM_OK;
}

// The transmitted power that was not read, from w U and the Q_t of other readings.
static void take_unread_pickup(cavum_working *w, cavum_dual *lost, const cavum_dual *flow) {
  const cavum_dual *q_pickup = w->context->q_pickup;
  if (!flow || !q_pickup) {
    cavum_working_flag(w, CAVUM_FLAG_INDEX_NO_PICKUP);
    return;
  }
  cavum_dual transmitted = cavum_dual_divide(flow, q_pickup);
  *lost = cavum_dual_subtract(lost, &transmitted);
}

// P_d and the powers themselves; `flow`: w U by a decay time.
static cavum_status balance(cavum_working *w, cavum_dual *wall, const cavum_dual *flow,
                            cavum_error *error) {
  const cavum_calibrated *in = w->in;
  cavum_dual lost = cavum_dual_subtract(&w->net, &w->extra);
  put(w, CAVUM_QUANTITY_FORWARD, &in->power[CAVUM_CHANNEL_FORWARD]);
  if (cavum_working_has(w, CAVUM_CHANNEL_REFLECTED)) {
    cavum_dual reflected = in->power[CAVUM_CHANNEL_REFLECTED];
    // P_r = rho^2 P_f: the leak is in the reading, not in the power.
    reflected.part[CAVUM_INPUT_DIRECTIVITY] += 2.0 * w->rho.value *
                                               w->rho.part[CAVUM_INPUT_DIRECTIVITY] *
                                               in->power[CAVUM_CHANNEL_FORWARD].value;
    put(w, CAVUM_QUANTITY_REFLECTED, &reflected);
  }
  if (cavum_working_has(w, CAVUM_CHANNEL_TRANSMITTED)) {
    put(w, CAVUM_QUANTITY_TRANSMITTED, &in->power[CAVUM_CHANNEL_TRANSMITTED]);
    lost = cavum_dual_subtract(&lost, &in->power[CAVUM_CHANNEL_TRANSMITTED]);
    if (in->power[CAVUM_CHANNEL_TRANSMITTED].value > PICKUP_SHARE_HIGH * lost.value) {
      cavum_working_flag(w, CAVUM_FLAG_INDEX_PICKUP_NOT_SMALL);
    }
  } else {
    take_unread_pickup(w, &lost, flow);
  }
  if (!(lost.value > 0.0)) {
    return cavum_working_fail(
        w, error, "forward less reflected, transmitted and extra power leaves no dissipated power");
  }
  if (lost.value < LOSS_RESOLVED * cavum_dual_uncertainty(&lost)) {
    cavum_working_flag(w, CAVUM_FLAG_INDEX_LOSS_UNRESOLVED);
  }
  put(w, CAVUM_QUANTITY_WALL_POWER, &lost);
  *wall = lost;
  return CAVUM_OK;
}

// What follows from w U and P_d.
static void put_fields(cavum_working *w, const cavum_dual *flow, const cavum_dual *wall) {
  const cavum_dual *transmitted = cavum_working_has(w, CAVUM_CHANNEL_TRANSMITTED)
                                      ? &w->in->power[CAVUM_CHANNEL_TRANSMITTED]
                                      : NULL;
  cavum_coldtest_put_fields(w->out, w->context->setup, flow, wall, &w->in->omega, transmitted);
}

// A slip of a meter, not a field: the strongest fields on metal in vacuum are some hundred MV/m.
static cavum_status check_field(const cavum_working *w, cavum_error *error) {
  double field = w->out->result[CAVUM_QUANTITY_E_ACC].value;
  if (field < IMPOSSIBLE_V_PER_M) return CAVUM_OK;
  char where[300];
  cavum_reading_place_text(where, w->place);
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: E_acc of %.3g MV/m, which no cavity can have: a meter out of range?",
                    where, field * 1e-6);
}

static void put_coupling(cavum_working *w, const cavum_dual *q_loaded) {
  put(w, CAVUM_QUANTITY_COUPLING, &w->coupling);
  put(w, CAVUM_QUANTITY_Q_LOADED, q_loaded);
  // Q_e = Q_L (1 + beta*) / beta*.
  double beta = w->coupling.value;
  cavum_dual external = cavum_dual_chain(q_loaded->value * (1.0 + beta) / beta, (1.0 + beta) / beta,
                                         q_loaded, -q_loaded->value / (beta * beta), &w->coupling);
  put(w, CAVUM_QUANTITY_Q_EXTERNAL, &external);
  if (beta < COUPLING_LOW || beta > COUPLING_HIGH)
    cavum_working_flag(w, CAVUM_FLAG_INDEX_COUPLING_FAR);
}

// Q0 and E_acc with the leak of the directional coupler at its two extreme phases.
static void set_bounds(cavum_working *w, bool by_decay) {
  const cavum_coldtest_setup *setup = w->context->setup;
  double leak = w->context->inputs->leak_amplitude;
  bool known = leak > 0.0 && cavum_working_has(w, CAVUM_CHANNEL_REFLECTED);
  for (int side = 0; side < 2; side++) {
    w->out->bounds[0][side] = w->out->bounds[1][side] = NAN;
    double rho = w->rho.value + (side == 0 ? -leak : leak);
    if (!known || fabs(rho) >= 1.0) continue;
    cavum_draw draw = cavum_working_draw(w);
    draw.reflection = rho;
    double flow_w = by_decay ? cavum_decay_power_value(w->out->method, &draw)
                             : w->context->q_pickup->value * draw.transmitted_w;
    double wall_w = cavum_wall_power_value(&draw);
    if (!(wall_w > 0.0) || !(flow_w > 0.0)) continue;
    w->out->bounds[0][side] = flow_w / wall_w;
    w->out->bounds[1][side] =
        sqrt(setup->r_over_q_linac_ohm.value * flow_w) / setup->accelerating_length_m.value;
  }
}

cavum_status cavum_coldtest_invert_decay(cavum_inverted *inverted,
                                         const cavum_inversion_context *context,
                                         const cavum_calibrated *calibrated,
                                         const cavum_reading_place *place, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_working w = {.context = context, .in = calibrated, .place = place, .out = inverted};
  cavum_dual wall, tau = calibrated->decay_time_s;
  CAVUM_TRY(begin(&w, true, error));
  CAVUM_TRY(cavum_working_choose_coupling(&w, true, error));
  if (inverted->branch == CAVUM_BRANCH_UNKNOWN) {
    if (inverted->method != CAVUM_COUPLING_EMITTED) {
      return cavum_working_fail(
          &w, error,
          "nothing decides the coupling branch: state over or under, or read the "
          "emitted power at switch-off");
    }
    inverted->branch = w.coupling.value >= 1.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER;
  }
  cavum_working_compare_couplings(&w);
  bool phase_stated = context->inputs->uncertainty[CAVUM_INPUT_LOOP_PHASE] > 0.0;
  if (!cavum_working_has(&w, CAVUM_CHANNEL_EMITTED) && !phase_stated) {
    cavum_working_flag(&w, CAVUM_FLAG_INDEX_RESONANCE_UNCHECKED);
  }
  // A circulator that sends part of the emitted wave back changes the decay by 2 Gamma cos(phase)
  // times the share Q_L/Q_e = beta*/(1 + beta*) of the losses that leaves through the coupler.
  double share = w.coupling.value / (1.0 + w.coupling.value);
  tau.part[CAVUM_INPUT_CIRCULATOR] += tau.value * 2.0 * context->inputs->circulator_amplitude *
                                      share * context->inputs->uncertainty[CAVUM_INPUT_CIRCULATOR];
  cavum_dual q_loaded = cavum_dual_multiply(&calibrated->omega, &tau);
  // w U = Q_L (1 + beta*) (P_f - P_r).
  cavum_dual one_plus = cavum_dual_linear(1.0, &w.coupling, 0.0, &w.coupling, 1.0);
  cavum_dual flow = cavum_dual_multiply(&q_loaded, &one_plus);
  flow = cavum_dual_multiply(&flow, &w.net);
  CAVUM_TRY(balance(&w, &wall, &flow, error));
  put_coupling(&w, &q_loaded);
  put_fields(&w, &flow, &wall);
  CAVUM_TRY(check_field(&w, error));
  set_bounds(&w, true);
done:
  return status;
}

static void check_external_drift(cavum_working *w) {
  if (!w->context->q_external) return;
  cavum_dual difference =
      cavum_dual_subtract(&w->out->result[CAVUM_QUANTITY_Q_EXTERNAL], w->context->q_external);
  double uncertainty = cavum_dual_uncertainty(&difference);
  if (uncertainty > 0.0 && fabs(difference.value) > EXTERNAL_DRIFT * uncertainty) {
    cavum_working_flag(w, CAVUM_FLAG_INDEX_EXTERNAL_DRIFT);
  }
}

cavum_status cavum_coldtest_invert_pickup(cavum_inverted *inverted,
                                          const cavum_inversion_context *context,
                                          const cavum_calibrated *calibrated,
                                          const cavum_reading_place *place, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_working w = {.context = context, .in = calibrated, .place = place, .out = inverted};
  cavum_dual wall;
  if (!CAVUM_HOLDS(context->q_pickup))
    return cavum_fail_internal(error, "no calibration of the pickup");
  if (!cavum_working_has(&w, CAVUM_CHANNEL_TRANSMITTED)) {
    return cavum_working_fail(&w, error,
                              "no transmitted power: a reading without decay time needs it");
  }
  CAVUM_TRY(begin(&w, false, error));
  CAVUM_TRY(balance(&w, &wall, NULL, error));
  cavum_dual flow =
      cavum_dual_multiply(context->q_pickup, &calibrated->power[CAVUM_CHANNEL_TRANSMITTED]);
  cavum_working_compare_couplings(&w);
  if (inverted->branch == CAVUM_BRANCH_UNKNOWN && !cavum_working_has(&w, CAVUM_CHANNEL_EMITTED)) {
    cavum_working_flag(&w, CAVUM_FLAG_INDEX_BRANCH_UNKNOWN);
    inverted->method = CAVUM_COUPLING_REFLECTED;
    for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
      inverted->coupling_by[method] = inverted->coupling_by_uncertainty[method] = NAN;
    }
  } else {
    CAVUM_TRY(cavum_working_choose_coupling(&w, false, error));
    // Q_L = w U / ((1 + beta*) N).
    cavum_dual one_plus = cavum_dual_linear(1.0, &w.coupling, 0.0, &w.coupling, 1.0);
    cavum_dual both = cavum_dual_multiply(&one_plus, &w.net);
    cavum_dual q_loaded = cavum_dual_divide(&flow, &both);
    put_coupling(&w, &q_loaded);
    check_external_drift(&w);
  }
  put_fields(&w, &flow, &wall);
  CAVUM_TRY(check_field(&w, error));
  set_bounds(&w, false);
done:
  return status;
}
