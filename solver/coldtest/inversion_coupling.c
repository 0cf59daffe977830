// SPDX-License-Identifier: GPL-3.0-or-later
// The coupling beta* of one reading by each method, and the one that counts.
#include "coldtest/inversion.h"

static cavum_dual coupling_reflected(const cavum_working *w) {
  double one_less = 1.0 - w->rho.value;
  return cavum_dual_chain((1.0 + w->rho.value) / one_less, 2.0 / (one_less * one_less), &w->rho,
                          0.0, &w->rho);
}

// 1 / (2 sqrt(P_f / P_e) - 1) with factor = dual 1 (emitted), 1 / (1 - 2 rho sqrt(P_f / P_e))
// (both).
static bool coupling_with_emitted(cavum_dual *coupling, const cavum_working *w, bool both) {
  cavum_dual ratio = cavum_working_root(w, CAVUM_CHANNEL_FORWARD, CAVUM_CHANNEL_EMITTED);
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
static void add_loop_phase(cavum_dual *coupling, const cavum_working *w,
                           cavum_coupling_method method) {
  double factor, detuning = cavum_working_detuning(w, &factor);
  if (!(detuning > 0.0)) return;
  cavum_draw draw = cavum_working_draw(w);
  draw.detuning = detuning;
  double moved = cavum_coupling_value(method, &draw);
  if (moved > 0.0 && isfinite(moved)) {
    coupling->part[CAVUM_INPUT_NOISE_LOOP_PHASE] += (moved - coupling->value) / factor;
  }
}

static bool known_coupling(cavum_dual *coupling, const cavum_working *w,
                           cavum_coupling_method method) {
  bool reflected = cavum_working_has(w, CAVUM_CHANNEL_REFLECTED),
       emitted = cavum_working_has(w, CAVUM_CHANNEL_EMITTED);
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

static bool coupling_by(cavum_dual *coupling, const cavum_working *w,
                        cavum_coupling_method method) {
  if (!known_coupling(coupling, w, method)) return false;
  add_loop_phase(coupling, w, method);
  return true;
}

// All couplings that the reading allows and their largest mutual difference.
void cavum_working_compare_couplings(cavum_working *w) {
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
    cavum_working_flag(w, CAVUM_FLAG_INDEX_INCONSISTENT);
  }
}

static bool was_read(const cavum_working *w, cavum_coupling_method method) {
  bool reflected = cavum_working_has(w, CAVUM_CHANNEL_REFLECTED),
       emitted = cavum_working_has(w, CAVUM_CHANNEL_EMITTED);
  return (reflected || method == CAVUM_COUPLING_EMITTED) &&
         (emitted || method == CAVUM_COUPLING_REFLECTED);
}

// The method chosen is that of the calibrations; a later step takes it from what it has, since
// neither Q0 nor E_acc of it depend on the coupling.
cavum_status cavum_working_choose_coupling(cavum_working *w, bool by_decay, cavum_error *error) {
  cavum_coupling_method method = w->context->setup->coupling;
  if (method == CAVUM_COUPLING_AUTO || (!by_decay && !was_read(w, method))) {
    method = cavum_working_has(w, CAVUM_CHANNEL_REFLECTED) ? CAVUM_COUPLING_REFLECTED
                                                           : CAVUM_COUPLING_EMITTED;
  }
  w->out->method = method;
  if (coupling_by(&w->coupling, w, method)) {
    w->has_coupling = true;
    return CAVUM_OK;
  }
  if (cavum_working_has(w, CAVUM_CHANNEL_EMITTED) &&
      (method == CAVUM_COUPLING_EMITTED || cavum_working_has(w, CAVUM_CHANNEL_REFLECTED))) {
    return cavum_working_fail(
        w, error,
        "emitted power too large against the forward power (above 4 P_f, or above "
        "4 P_r undercoupled): no coupling gives it");
  }
  return cavum_working_fail(
      w, error,
      method == CAVUM_COUPLING_REFLECTED
          ? "the coupling was to come from the reflected power, which is missing"
          : "the coupling was to come from the emitted power, which is missing");
}
