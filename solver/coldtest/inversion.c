// SPDX-License-Identifier: GPL-3.0-or-later
// The inversion: powers at the ports and a decay time (or a pickup calibration) to coupling, Q's,
// stored energy and fields. Every number carries its budget, so correlations are kept throughout.
//
// Notation: rho is the reflection with the sign of its branch (+ overcoupled), so that P_r = rho^2
// P_f and beta* = (1 + rho)/(1 - rho) on both branches; N = P_f (1 - rho^2) is the net power and
// "flow" is w U. Formulas: [Powers2005], [Padamsee1998] ch. 8 (not checked against the sources).
#include <stdio.h>

#include "coldtest/coldtest_private.h"

// Published total uncertainties of power-only tests hold for beta* of 0.5 to 2.5
// [Melnychuk2014], abstract.
static const double COUPLING_LOW = 0.5;
static const double COUPLING_HIGH = 2.5;
static const double PICKUP_SHARE_HIGH = 0.05;
static const double REFLECTION_RESOLVED = 2.0;
static const double LOSS_RESOLVED = 3.0;
static const double EXTERNAL_DRIFT = 3.0;
static const double IMPOSSIBLE_V_PER_M = 1e10;

/** Working quantities of one reading. */
typedef struct working {
  const cavum_inversion_context *context;
  const cavum_calibrated *in;
  const cavum_reading_place *place;
  cavum_inverted *out;
  cavum_dual rho;
  cavum_dual net;       // P_f - P_r
  cavum_dual extra;     // Sum over the extra ports.
  cavum_dual coupling;  // beta*
  bool has_coupling;
} working;

static cavum_status fail_reading(const working *w, cavum_error *error, const char *what) {
  char where[300];
  cavum_reading_place_text(where, w->place);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s", where, what);
}

static void raise_flag(working *w, cavum_coldtest_flag flag) { w->out->flags |= 1u << flag; }

static void put(working *w, cavum_coldtest_quantity quantity, const cavum_dual *result) {
  w->out->has[quantity] = true;
  w->out->result[quantity] = *result;
}

static bool has(const working *w, int channel) { return w->in->has[channel]; }

// sqrt(P_r): its derivative 1/(2 sqrt(P_r)) is taken at the uncertainty of P_r where that is
// larger, since a reflected power that is not resolved must not give an infinite contribution.
static cavum_dual reflected_amplitude(const cavum_dual *power, double uncertainty) {
  double root = sqrt(cavum_max(power->value, uncertainty));
  return cavum_dual_chain(sqrt(power->value), root > 0.0 ? 0.5 / root : 0.0, power, 0.0, power);
}

static double value_or_zero(const working *w, int channel) {
  return has(w, channel) ? w->in->power[channel].value : 0.0;
}

// The estimates of this reading as one draw.
static cavum_draw as_draw(const working *w) {
  return (cavum_draw){.forward_w = w->in->power[CAVUM_CHANNEL_FORWARD].value,
                      .reflection = w->rho.value,
                      .transmitted_w = value_or_zero(w, CAVUM_CHANNEL_TRANSMITTED),
                      .extra_w = w->extra.value,
                      .emitted_w = value_or_zero(w, CAVUM_CHANNEL_EMITTED),
                      .decay_time_s = w->in->decay_time_s.value,
                      .omega = w->in->omega.value};
}

// The detuning at k standard uncertainties of the loop phase; 0: none stated.
static double expanded_detuning(const working *w, double *factor) {
  *factor = w->context->inputs->coverage_factor;
  return w->context->inputs->detuning;
}

static cavum_dual root_of_ratio(const working *w, int above, int below) {
  cavum_dual ratio = cavum_dual_divide(&w->in->power[above], &w->in->power[below]);
  return cavum_dual_root(&ratio);
}

// The reflection, with the sign of the branch, less the one that the emitted power shows: on the
// right branch nothing but errors.
static void set_mismatch(working *w) {
  w->out->has_mismatch = has(w, CAVUM_CHANNEL_REFLECTED) && has(w, CAVUM_CHANNEL_EMITTED);
  if (!w->out->has_mismatch) return;
  cavum_dual root = root_of_ratio(w, CAVUM_CHANNEL_EMITTED, CAVUM_CHANNEL_FORWARD);
  double factor, detuning = expanded_detuning(w, &factor);
  cavum_dual mismatch = cavum_dual_linear(1.0, &w->rho, -1.0, &root, 1.0);
  mismatch.part[CAVUM_INPUT_NOISE_LOOP_PHASE] +=
      (cavum_resonant_reflection(w->rho.value, detuning) - w->rho.value) / factor;
  w->out->mismatch = mismatch;
}

static void set_reflection(working *w, double sign) {
  const cavum_dual *forward = &w->in->power[CAVUM_CHANNEL_FORWARD];
  if (has(w, CAVUM_CHANNEL_REFLECTED)) {
    const cavum_dual *reflected = &w->in->power[CAVUM_CHANNEL_REFLECTED];
    double uncertainty = cavum_dual_uncertainty(reflected);
    if (reflected->value < REFLECTION_RESOLVED * uncertainty) {
      raise_flag(w, CAVUM_FLAG_INDEX_REFLECTION_UNRESOLVED);
    }
    cavum_dual amplitude = reflected_amplitude(reflected, uncertainty);
    cavum_dual root = cavum_dual_root(forward), rho = cavum_dual_divide(&amplitude, &root);
    w->rho = cavum_dual_linear(sign, &rho, 0.0, &rho, 0.0);
    // The coupler adds leak exp(j phase) to the reflection; to first order its cosine.
    const cavum_coldtest_inputs *inputs = w->context->inputs;
    w->rho.part[CAVUM_INPUT_DIRECTIVITY] -=
        inputs->leak_amplitude * inputs->uncertainty[CAVUM_INPUT_DIRECTIVITY];
    if (inputs->leak_amplitude > 0.0 && inputs->leak_amplitude >= rho.value) {
      raise_flag(w, CAVUM_FLAG_INDEX_DIRECTIVITY_LARGE);
    }
  } else {
    // P_e = (1 + rho)^2 P_f: the emitted wave is the drive's answer plus the prompt reflection.
    cavum_dual root = root_of_ratio(w, CAVUM_CHANNEL_EMITTED, CAVUM_CHANNEL_FORWARD);
    w->rho = cavum_dual_linear(1.0, &root, 0.0, &root, -1.0);
  }
  set_mismatch(w);
  // N = P_f (1 - rho^2), written out for the parts.
  double rho = w->rho.value;
  w->net = cavum_dual_chain(forward->value * (1.0 - rho * rho), 1.0 - rho * rho, forward,
                            -2.0 * rho * forward->value, &w->rho);
  if (!has(w, CAVUM_CHANNEL_REFLECTED)) {
    double factor, detuning = expanded_detuning(w, &factor);
    double moved = cavum_reflection_of_emitted(1.0 + rho, detuning);
    w->net.part[CAVUM_INPUT_NOISE_LOOP_PHASE] +=
        forward->value * (rho * rho - moved * moved) / factor;
  }
}

/** A branch and how far what decided it is from the other one, in its uncertainty. */
typedef struct verdict {
  cavum_branch branch;
  double distance;
} verdict;

static verdict judge(const cavum_dual *excess) {
  double uncertainty = cavum_dual_uncertainty(excess), size = fabs(excess->value);
  verdict out = {.branch = excess->value >= 0.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER};
  out.distance = uncertainty > 0.0 ? size / uncertainty : size > 0.0 ? INFINITY : 0.0;
  return out;
}

// P_e = 4 beta*^2/(1 + beta*)^2 P_f: above P_f when overcoupled, below when undercoupled.
static verdict judge_by_emitted(const working *w) {
  if (!has(w, CAVUM_CHANNEL_EMITTED)) return (verdict){CAVUM_BRANCH_UNKNOWN, 0.0};
  cavum_dual excess = cavum_dual_subtract(&w->in->power[CAVUM_CHANNEL_EMITTED],
                                          &w->in->power[CAVUM_CHANNEL_FORWARD]);
  return judge(&excess);
}

// With a known Q_e: beta* = 1/(Q_e/Q_L - 1), or Q_eff/Q_e with Q_eff = w U / N.
static verdict judge_by_external(const working *w, bool by_decay) {
  const cavum_dual *external = w->context->q_external;
  if (!external) return (verdict){CAVUM_BRANCH_UNKNOWN, 0.0};
  cavum_dual quality;
  if (by_decay) {
    quality = cavum_dual_multiply(&w->in->omega, &w->in->decay_time_s);
    quality = cavum_dual_linear(2.0, &quality, 0.0, &quality, 0.0);
  } else {
    cavum_dual net = w->in->power[CAVUM_CHANNEL_FORWARD];
    if (has(w, CAVUM_CHANNEL_REFLECTED)) {
      net = cavum_dual_subtract(&net, &w->in->power[CAVUM_CHANNEL_REFLECTED]);
    }
    quality = cavum_dual_multiply(w->context->q_pickup, &w->in->power[CAVUM_CHANNEL_TRANSMITTED]);
    quality = cavum_dual_divide(&quality, &net);
    quality = cavum_dual_linear(w->context->pickup_ratio, &quality, 0.0, &quality, 0.0);
  }
  cavum_dual excess = cavum_dual_subtract(&quality, external);
  return judge(&excess);
}

// True when the coupling of this reading comes from its emitted power, which then has the branch.
static bool is_by_emitted(const working *w) {
  cavum_coupling_method method = w->context->setup->coupling;
  if (!has(w, CAVUM_CHANNEL_EMITTED)) return false;
  return method == CAVUM_COUPLING_EMITTED ||
         (method == CAVUM_COUPLING_AUTO && !has(w, CAVUM_CHANNEL_REFLECTED));
}

static cavum_branch decide_branch(working *w, bool by_decay) {
  const cavum_inversion_context *context = w->context;
  cavum_branch stated = context->setup->branch;
  bool is_stated = stated == CAVUM_BRANCH_OVER || stated == CAVUM_BRANCH_UNDER;
  verdict emitted = judge_by_emitted(w);
  w->out->branch_distance = INFINITY;
  if (by_decay && is_by_emitted(w) && !is_stated) return emitted.branch;
  if (context->forced != CAVUM_BRANCH_DECIDE) return context->forced;
  if (is_stated) return stated;
  verdict external = judge_by_external(w, by_decay);
  bool by_emitted = emitted.branch != CAVUM_BRANCH_UNKNOWN && emitted.distance >= external.distance;
  verdict chosen = by_emitted ? emitted : external;
  // From emitted power alone the reflection has its sign by itself.
  bool matters = chosen.branch != CAVUM_BRANCH_UNKNOWN && has(w, CAVUM_CHANNEL_REFLECTED);
  if (matters) w->out->branch_distance = chosen.distance;
  return chosen.branch;
}

static cavum_dual coupling_reflected(const working *w) {
  double one_less = 1.0 - w->rho.value;
  return cavum_dual_chain((1.0 + w->rho.value) / one_less, 2.0 / (one_less * one_less), &w->rho,
                          0.0, &w->rho);
}

// 1 / (2 sqrt(P_f / P_e) - 1) with factor = dual 1 (emitted), 1 / (1 - 2 rho sqrt(P_f / P_e))
// (both).
static bool coupling_with_emitted(cavum_dual *coupling, const working *w, bool both) {
  cavum_dual ratio = root_of_ratio(w, CAVUM_CHANNEL_FORWARD, CAVUM_CHANNEL_EMITTED);
  if (both) ratio = cavum_dual_multiply(&w->rho, &ratio);
  double sign = both ? -2.0 : 2.0;
  cavum_dual inverse = cavum_dual_linear(sign, &ratio, 0.0, &ratio, both ? 1.0 : -1.0);
  if (!(inverse.value > 0.0)) return false;
  *coupling = cavum_dual_invert(&inverse);
  return true;
}

// A drive off resonance moves the coupling one way, by the square of the phase far from critical
// coupling and in proportion close to it: the derivative at 0 says nothing. Its part is 1/k of what
// k standard uncertainties do, so that the expanded uncertainty holds what they do.
static void add_loop_phase(cavum_dual *coupling, const working *w, cavum_coupling_method method) {
  double factor, detuning = expanded_detuning(w, &factor);
  if (!(detuning > 0.0)) return;
  cavum_draw draw = as_draw(w);
  draw.detuning = detuning;
  double moved = cavum_coupling_value(method, &draw);
  if (moved > 0.0 && isfinite(moved)) {
    coupling->part[CAVUM_INPUT_NOISE_LOOP_PHASE] += (moved - coupling->value) / factor;
  }
}

static bool known_coupling(cavum_dual *coupling, const working *w, cavum_coupling_method method) {
  bool reflected = has(w, CAVUM_CHANNEL_REFLECTED), emitted = has(w, CAVUM_CHANNEL_EMITTED);
  switch (method) {
    case CAVUM_COUPLING_REFLECTED:
      if (!reflected) return false;
      *coupling = coupling_reflected(w);
      return true;
    case CAVUM_COUPLING_EMITTED:
      return emitted && coupling_with_emitted(coupling, w, false);
    default:
      return emitted && reflected && coupling_with_emitted(coupling, w, true);
  }
}

static bool coupling_by(cavum_dual *coupling, const working *w, cavum_coupling_method method) {
  if (!known_coupling(coupling, w, method)) return false;
  add_loop_phase(coupling, w, method);
  return true;
}

// All couplings that the reading allows and their largest mutual difference.
static void compare_couplings(working *w) {
  cavum_dual coupling[CAVUM_NUM_COUPLING_METHODS];
  bool known[CAVUM_NUM_COUPLING_METHODS];
  cavum_inverted *out = w->out;
  out->disagreement = NAN;
  for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
    known[method] = coupling_by(&coupling[method], w, (cavum_coupling_method)method);
    out->coupling_by[method] = known[method] ? coupling[method].value : NAN;
    out->coupling_by_uncertainty[method] =
        known[method] ? cavum_dual_uncertainty(&coupling[method]) : NAN;
    for (int other = 0; known[method] && other < method; other++) {
      if (!known[other]) continue;
      cavum_dual difference = cavum_dual_subtract(&coupling[method], &coupling[other]);
      double uncertainty = cavum_dual_uncertainty(&difference);
      if (!(uncertainty > 0.0)) continue;
      double distance = fabs(difference.value) / uncertainty;
      if (!(out->disagreement >= distance)) out->disagreement = distance;
    }
  }
  if (out->disagreement > w->context->inputs->coverage_factor) {
    raise_flag(w, CAVUM_FLAG_INDEX_INCONSISTENT);
  }
}

static bool was_read(const working *w, cavum_coupling_method method) {
  bool reflected = has(w, CAVUM_CHANNEL_REFLECTED), emitted = has(w, CAVUM_CHANNEL_EMITTED);
  return (reflected || method == CAVUM_COUPLING_EMITTED) &&
         (emitted || method == CAVUM_COUPLING_REFLECTED);
}

// The method chosen is that of the calibrations; a later step takes it from what it has, since
// neither Q0 nor E_acc of it depend on the coupling.
static cavum_status choose_coupling(working *w, bool by_decay, cavum_error *error) {
  cavum_coupling_method method = w->context->setup->coupling;
  if (method == CAVUM_COUPLING_AUTO || (!by_decay && !was_read(w, method))) {
    method = has(w, CAVUM_CHANNEL_REFLECTED) ? CAVUM_COUPLING_REFLECTED : CAVUM_COUPLING_EMITTED;
  }
  w->out->method = method;
  if (coupling_by(&w->coupling, w, method)) {
    w->has_coupling = true;
    return CAVUM_OK;
  }
  if (has(w, CAVUM_CHANNEL_EMITTED) &&
      (method == CAVUM_COUPLING_EMITTED || has(w, CAVUM_CHANNEL_REFLECTED))) {
    return fail_reading(w, error,
                        "emitted power too large against the forward power (above 4 P_f, or above "
                        "4 P_r undercoupled): no coupling gives it");
  }
  return fail_reading(w, error,
                      method == CAVUM_COUPLING_REFLECTED
                          ? "the coupling was to come from the reflected power, which is missing"
                          : "the coupling was to come from the emitted power, which is missing");
}

// Reads the powers, decides the branch and forms rho and N.
static cavum_status begin(working *w, bool by_decay, cavum_error *error) {
  const cavum_calibrated *in = w->in;
  w->out->flags = 0;
  w->out->disagreement = NAN;
  for (int quantity = 0; quantity < CAVUM_NUM_QUANTITIES; quantity++) w->out->has[quantity] = false;
  if (!has(w, CAVUM_CHANNEL_REFLECTED) && !has(w, CAVUM_CHANNEL_EMITTED)) {
    return fail_reading(w, error, "neither reflected nor emitted power: one of them is needed");
  }
  double forward_w = in->power[CAVUM_CHANNEL_FORWARD].value;
  if (has(w, CAVUM_CHANNEL_REFLECTED) && !(in->power[CAVUM_CHANNEL_REFLECTED].value < forward_w)) {
    return fail_reading(w, error, "reflected power not below forward power at the cavity");
  }
  if (has(w, CAVUM_CHANNEL_EMITTED) &&
      !(in->power[CAVUM_CHANNEL_EMITTED].value < 4.0 * forward_w)) {
    return fail_reading(w, error, "emitted power not below four times the forward power");
  }
  w->out->branch = decide_branch(w, by_decay);
  set_reflection(w, w->out->branch == CAVUM_BRANCH_UNDER ? -1.0 : 1.0);
  w->extra = cavum_dual_constant(0.0);
  for (int channel = CAVUM_CHANNEL_EXTRA; channel < CAVUM_NUM_CHANNELS; channel++) {
    if (has(w, channel)) w->extra = cavum_dual_add(&w->extra, &in->power[channel]);
  }
  return CAVUM_OK;
}

// The transmitted power that was not read, from w U and the Q_t of other readings.
static void take_unread_pickup(working *w, cavum_dual *lost, const cavum_dual *flow) {
  const cavum_dual *q_pickup = w->context->q_pickup;
  if (!flow || !q_pickup) {
    raise_flag(w, CAVUM_FLAG_INDEX_NO_PICKUP);
    return;
  }
  cavum_dual transmitted = cavum_dual_divide(flow, q_pickup);
  *lost = cavum_dual_subtract(lost, &transmitted);
}

// P_d and the powers themselves; `flow`: w U by a decay time.
static cavum_status balance(working *w, cavum_dual *wall, const cavum_dual *flow,
                            cavum_error *error) {
  const cavum_calibrated *in = w->in;
  cavum_dual lost = cavum_dual_subtract(&w->net, &w->extra);
  put(w, CAVUM_QUANTITY_FORWARD, &in->power[CAVUM_CHANNEL_FORWARD]);
  if (has(w, CAVUM_CHANNEL_REFLECTED)) {
    cavum_dual reflected = in->power[CAVUM_CHANNEL_REFLECTED];
    // P_r = rho^2 P_f: the leak is in the reading, not in the power.
    reflected.part[CAVUM_INPUT_DIRECTIVITY] += 2.0 * w->rho.value *
                                               w->rho.part[CAVUM_INPUT_DIRECTIVITY] *
                                               in->power[CAVUM_CHANNEL_FORWARD].value;
    put(w, CAVUM_QUANTITY_REFLECTED, &reflected);
  }
  if (has(w, CAVUM_CHANNEL_TRANSMITTED)) {
    put(w, CAVUM_QUANTITY_TRANSMITTED, &in->power[CAVUM_CHANNEL_TRANSMITTED]);
    lost = cavum_dual_subtract(&lost, &in->power[CAVUM_CHANNEL_TRANSMITTED]);
    if (in->power[CAVUM_CHANNEL_TRANSMITTED].value > PICKUP_SHARE_HIGH * lost.value) {
      raise_flag(w, CAVUM_FLAG_INDEX_PICKUP_NOT_SMALL);
    }
  } else {
    take_unread_pickup(w, &lost, flow);
  }
  if (!(lost.value > 0.0)) {
    return fail_reading(
        w, error, "forward less reflected, transmitted and extra power leaves no dissipated power");
  }
  if (lost.value < LOSS_RESOLVED * cavum_dual_uncertainty(&lost)) {
    raise_flag(w, CAVUM_FLAG_INDEX_LOSS_UNRESOLVED);
  }
  put(w, CAVUM_QUANTITY_WALL_POWER, &lost);
  *wall = lost;
  return CAVUM_OK;
}

// What follows from w U and P_d.
static void put_fields(working *w, const cavum_dual *flow, const cavum_dual *wall) {
  const cavum_dual *transmitted =
      has(w, CAVUM_CHANNEL_TRANSMITTED) ? &w->in->power[CAVUM_CHANNEL_TRANSMITTED] : NULL;
  cavum_coldtest_put_fields(w->out, w->context->setup, flow, wall, &w->in->omega, transmitted);
}

// A slip of a meter, not a field: the strongest fields on metal in vacuum are some hundred MV/m.
static cavum_status check_field(const working *w, cavum_error *error) {
  double field = w->out->result[CAVUM_QUANTITY_E_ACC].value;
  if (field < IMPOSSIBLE_V_PER_M) return CAVUM_OK;
  char where[300];
  cavum_reading_place_text(where, w->place);
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: E_acc of %.3g MV/m, which no cavity can have: a meter out of range?",
                    where, field * 1e-6);
}

static void put_coupling(working *w, const cavum_dual *q_loaded) {
  put(w, CAVUM_QUANTITY_COUPLING, &w->coupling);
  put(w, CAVUM_QUANTITY_Q_LOADED, q_loaded);
  // Q_e = Q_L (1 + beta*) / beta*.
  double beta = w->coupling.value;
  cavum_dual external = cavum_dual_chain(q_loaded->value * (1.0 + beta) / beta, (1.0 + beta) / beta,
                                         q_loaded, -q_loaded->value / (beta * beta), &w->coupling);
  put(w, CAVUM_QUANTITY_Q_EXTERNAL, &external);
  if (beta < COUPLING_LOW || beta > COUPLING_HIGH) raise_flag(w, CAVUM_FLAG_INDEX_COUPLING_FAR);
}

// Q0 and E_acc with the leak of the directional coupler at its two extreme phases.
static void set_bounds(working *w, bool by_decay) {
  const cavum_coldtest_setup *setup = w->context->setup;
  double leak = w->context->inputs->leak_amplitude;
  bool known = leak > 0.0 && has(w, CAVUM_CHANNEL_REFLECTED);
  for (int side = 0; side < 2; side++) {
    w->out->bounds[0][side] = w->out->bounds[1][side] = NAN;
    double rho = w->rho.value + (side == 0 ? -leak : leak);
    if (!known || fabs(rho) >= 1.0) continue;
    cavum_draw draw = as_draw(w);
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
  working w = {.context = context, .in = calibrated, .place = place, .out = inverted};
  cavum_dual wall, tau = calibrated->decay_time_s;
  CAVUM_TRY(begin(&w, true, error));
  CAVUM_TRY(choose_coupling(&w, true, error));
  if (inverted->branch == CAVUM_BRANCH_UNKNOWN) {
    if (inverted->method != CAVUM_COUPLING_EMITTED) {
      return fail_reading(&w, error,
                          "nothing decides the coupling branch: state over or under, or read the "
                          "emitted power at switch-off");
    }
    inverted->branch = w.coupling.value >= 1.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER;
  }
  compare_couplings(&w);
  bool phase_stated = context->inputs->uncertainty[CAVUM_INPUT_LOOP_PHASE] > 0.0;
  if (!has(&w, CAVUM_CHANNEL_EMITTED) && !phase_stated) {
    raise_flag(&w, CAVUM_FLAG_INDEX_RESONANCE_UNCHECKED);
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

static void check_external_drift(working *w) {
  if (!w->context->q_external) return;
  cavum_dual difference =
      cavum_dual_subtract(&w->out->result[CAVUM_QUANTITY_Q_EXTERNAL], w->context->q_external);
  double uncertainty = cavum_dual_uncertainty(&difference);
  if (uncertainty > 0.0 && fabs(difference.value) > EXTERNAL_DRIFT * uncertainty) {
    raise_flag(w, CAVUM_FLAG_INDEX_EXTERNAL_DRIFT);
  }
}

cavum_status cavum_coldtest_invert_pickup(cavum_inverted *inverted,
                                          const cavum_inversion_context *context,
                                          const cavum_calibrated *calibrated,
                                          const cavum_reading_place *place, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  working w = {.context = context, .in = calibrated, .place = place, .out = inverted};
  cavum_dual wall;
  if (!CAVUM_HOLDS(context->q_pickup))
    return cavum_fail_internal(error, "no calibration of the pickup");
  if (!has(&w, CAVUM_CHANNEL_TRANSMITTED)) {
    return fail_reading(&w, error, "no transmitted power: a reading without decay time needs it");
  }
  CAVUM_TRY(begin(&w, false, error));
  CAVUM_TRY(balance(&w, &wall, NULL, error));
  cavum_dual flow =
      cavum_dual_multiply(context->q_pickup, &calibrated->power[CAVUM_CHANNEL_TRANSMITTED]);
  compare_couplings(&w);
  if (inverted->branch == CAVUM_BRANCH_UNKNOWN && !has(&w, CAVUM_CHANNEL_EMITTED)) {
    raise_flag(&w, CAVUM_FLAG_INDEX_BRANCH_UNKNOWN);
    inverted->method = CAVUM_COUPLING_REFLECTED;
    for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
      inverted->coupling_by[method] = inverted->coupling_by_uncertainty[method] = NAN;
    }
  } else {
    CAVUM_TRY(choose_coupling(&w, false, error));
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
