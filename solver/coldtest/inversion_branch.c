// SPDX-License-Identifier: GPL-3.0-or-later
// Over- or undercoupled, by what one reading says alone and against a known Q_e; branch.c decides
// by all readings together.
#include "coldtest/inversion.h"

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
static verdict judge_by_emitted(const cavum_working *w) {
  if (!cavum_working_has(w, CAVUM_CHANNEL_EMITTED)) return (verdict){CAVUM_BRANCH_UNKNOWN, 0.0};
  cavum_dual excess = cavum_dual_subtract(&w->in->power[CAVUM_CHANNEL_EMITTED],
                                          &w->in->power[CAVUM_CHANNEL_FORWARD]);
  return judge(&excess);
}

// With a known Q_e: beta* = 1/(Q_e/Q_L - 1), or Q_eff/Q_e with Q_eff = w U / N.
static verdict judge_by_external(const cavum_working *w, bool by_decay) {
  const cavum_dual *external = w->context->q_external;
  if (!external) return (verdict){CAVUM_BRANCH_UNKNOWN, 0.0};
  cavum_dual quality;
  if (by_decay) {
    quality = cavum_dual_multiply(&w->in->omega, &w->in->decay_time_s);
    quality = cavum_dual_linear(2.0, &quality, 0.0, &quality, 0.0);
  } else {
    cavum_dual net = w->in->power[CAVUM_CHANNEL_FORWARD];
    if (cavum_working_has(w, CAVUM_CHANNEL_REFLECTED)) {
      net = cavum_dual_subtract(&net, &w->in->power[CAVUM_CHANNEL_REFLECTED]);
    }
    quality = cavum_dual_multiply(w->context->q_pickup, &w->in->power[CAVUM_CHANNEL_TRANSMITTED]);
    quality = cavum_dual_divide(&quality, &net);
    quality = cavum_dual_linear(w->context->pickup_ratio, &quality, 0.0, &quality, 0.0);
  }
  cavum_dual excess = cavum_dual_subtract(&quality, external);
  return judge(&excess);
}

/** Judges a branch by a working reading. */
typedef verdict judge_of(const cavum_working *w, bool by_decay);

static verdict judge_emitted(const cavum_working *w, bool by_decay) {
  (void)by_decay;
  return judge_by_emitted(w);
}

// The reflected wave leaks into the forward meter with the sign of its branch: the branch that
// comes out is judged with its own sign. The leak changes uncertainties alone, no value.
static verdict judge_with_leak(cavum_working *w, bool by_decay, judge_of *judge_by) {
  cavum_working_set_forward_leak(w, CAVUM_BRANCH_OVER);
  verdict found = judge_by(w, by_decay);
  if (found.branch != CAVUM_BRANCH_UNDER) return found;
  cavum_working_set_forward_leak(w, CAVUM_BRANCH_UNDER);
  return judge_by(w, by_decay);
}

// True when the coupling of this reading comes from its emitted power, which then has the branch.
static bool is_by_emitted(const cavum_working *w) {
  cavum_coupling_method method = w->context->setup->coupling;
  if (!cavum_working_has(w, CAVUM_CHANNEL_EMITTED)) return false;
  return method == CAVUM_COUPLING_EMITTED ||
         (method == CAVUM_COUPLING_AUTO && !cavum_working_has(w, CAVUM_CHANNEL_REFLECTED));
}

cavum_branch cavum_working_decide_branch(cavum_working *w, bool by_decay) {
  const cavum_inversion_context *context = w->context;
  cavum_branch stated = context->setup->branch;
  bool is_stated = stated == CAVUM_BRANCH_OVER || stated == CAVUM_BRANCH_UNDER;
  verdict emitted = judge_with_leak(w, by_decay, judge_emitted);
  w->out->branch_distance = INFINITY;
  if (by_decay && is_by_emitted(w) && !is_stated) return emitted.branch;
  if (context->forced != CAVUM_BRANCH_DECIDE) return context->forced;
  if (is_stated) return stated;
  verdict external = judge_with_leak(w, by_decay, judge_by_external);
  bool by_emitted = emitted.branch != CAVUM_BRANCH_UNKNOWN && emitted.distance >= external.distance;
  verdict chosen = by_emitted ? emitted : external;
  // From emitted power alone the reflection has its sign by itself.
  bool matters =
      chosen.branch != CAVUM_BRANCH_UNKNOWN && cavum_working_has(w, CAVUM_CHANNEL_REFLECTED);
  if (matters) w->out->branch_distance = chosen.distance;
  return chosen.branch;
}
