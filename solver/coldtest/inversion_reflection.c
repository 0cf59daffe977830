// SPDX-License-Identifier: GPL-3.0-or-later
// The reflection of one reading, with the sign of its branch, and the net power that follows.
#include "coldtest/inversion.h"

static const double REFLECTION_RESOLVED = 2.0;

// sqrt(P_r): its derivative 1/(2 sqrt(P_r)) is taken at the uncertainty of P_r where that is
// larger, since a reflected power that is not resolved must not give an infinite contribution.
static cavum_dual reflected_amplitude(const cavum_dual *power, double uncertainty) {
  double root = sqrt(cavum_max(power->value, uncertainty));
  return cavum_dual_chain(sqrt(power->value), root > 0.0 ? 0.5 / root : 0.0, power, 0.0, power);
}

static double sign_of(cavum_branch branch) { return branch == CAVUM_BRANCH_UNDER ? -1.0 : 1.0; }

// The meter shows P_f |1 + leak exp(j phase) rho|^2; to first order the cosine of the phase.
void cavum_working_set_forward_leak(cavum_working *w, cavum_branch branch) {
  const cavum_coldtest_inputs *inputs = w->context->inputs;
  double leak = inputs->forward_leak_amplitude;
  if (leak == 0.0) return;
  double forward_w = cavum_working_power_w(w, CAVUM_CHANNEL_FORWARD);
  double reflected_w = cavum_working_power_w(w, CAVUM_CHANNEL_REFLECTED);
  double emitted_w = cavum_working_power_w(w, CAVUM_CHANNEL_EMITTED);
  double rho = cavum_working_has(w, CAVUM_CHANNEL_REFLECTED)
                   ? sign_of(branch) * sqrt(reflected_w / forward_w)
                   : sqrt(emitted_w / forward_w) - 1.0;
  if (w->in != &w->with_leak) w->with_leak = *w->in;
  w->in = &w->with_leak;
  w->with_leak.power[CAVUM_CHANNEL_FORWARD].part[CAVUM_INPUT_FORWARD_DIRECTIVITY] =
      -2.0 * leak * rho * forward_w * inputs->uncertainty[CAVUM_INPUT_FORWARD_DIRECTIVITY];
}

// The reflection, with the sign of the branch, less the one that the emitted power shows: on the
// right branch nothing but errors.
static void set_mismatch(cavum_working *w) {
  w->out->has_mismatch =
      cavum_working_has(w, CAVUM_CHANNEL_REFLECTED) && cavum_working_has(w, CAVUM_CHANNEL_EMITTED);
  if (!w->out->has_mismatch) return;
  cavum_dual root = cavum_working_root(w, CAVUM_CHANNEL_EMITTED, CAVUM_CHANNEL_FORWARD);
  double factor, detuning = cavum_working_detuning(w, &factor);
  cavum_dual mismatch = cavum_dual_linear(1.0, &w->rho, -1.0, &root, 1.0);
  mismatch.part[CAVUM_INPUT_NOISE_LOOP_PHASE] +=
      (cavum_resonant_reflection(w->rho.value, detuning) - w->rho.value) / factor;
  w->out->mismatch = mismatch;
}

void cavum_working_set_reflection(cavum_working *w, cavum_branch branch) {
  double sign = sign_of(branch);
  const cavum_dual *forward = &w->in->power[CAVUM_CHANNEL_FORWARD];
  if (cavum_working_has(w, CAVUM_CHANNEL_REFLECTED)) {
    const cavum_dual *reflected = &w->in->power[CAVUM_CHANNEL_REFLECTED];
    double uncertainty = cavum_dual_uncertainty(reflected);
    if (reflected->value < REFLECTION_RESOLVED * uncertainty) {
      cavum_working_flag(w, CAVUM_FLAG_INDEX_REFLECTION_UNRESOLVED);
    }
    cavum_dual amplitude = reflected_amplitude(reflected, uncertainty);
    cavum_dual root = cavum_dual_root(forward), rho = cavum_dual_divide(&amplitude, &root);
    w->rho = cavum_dual_linear(sign, &rho, 0.0, &rho, 0.0);
    // The coupler adds leak exp(j phase) to the reflection; to first order its cosine.
    const cavum_coldtest_inputs *inputs = w->context->inputs;
    w->rho.part[CAVUM_INPUT_DIRECTIVITY] -=
        inputs->leak_amplitude * inputs->uncertainty[CAVUM_INPUT_DIRECTIVITY];
    if (inputs->leak_amplitude > 0.0 && inputs->leak_amplitude >= rho.value) {
      cavum_working_flag(w, CAVUM_FLAG_INDEX_DIRECTIVITY_LARGE);
    }
  } else {
    // P_e = (1 + rho)^2 P_f: the emitted wave is the drive's answer plus the prompt reflection.
    cavum_dual root = cavum_working_root(w, CAVUM_CHANNEL_EMITTED, CAVUM_CHANNEL_FORWARD);
    w->rho = cavum_dual_linear(1.0, &root, 0.0, &root, -1.0);
  }
  set_mismatch(w);
  // N = P_f (1 - rho^2), written out for the parts.
  double rho = w->rho.value;
  w->net = cavum_dual_chain(forward->value * (1.0 - rho * rho), 1.0 - rho * rho, forward,
                            -2.0 * rho * forward->value, &w->rho);
  if (!cavum_working_has(w, CAVUM_CHANNEL_REFLECTED)) {
    double factor, detuning = cavum_working_detuning(w, &factor);
    double moved = cavum_reflection_of_emitted(1.0 + rho, detuning);
    w->net.part[CAVUM_INPUT_NOISE_LOOP_PHASE] +=
        forward->value * (rho * rho - moved * moved) / factor;
  }
}
