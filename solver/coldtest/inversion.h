// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/inversion.h
 * What the steps of the inversion of one reading share: reflection with its branch, coupling, w U.
 *
 * Notation: rho is the reflection with the sign of its branch (+ overcoupled), so that P_r = rho^2
 * P_f and beta* = (1 + rho)/(1 - rho) on both branches; N = P_f (1 - rho^2) is the net power.
 */
#ifndef CAVUM_COLDTEST_INVERSION_H
#define CAVUM_COLDTEST_INVERSION_H

#include "coldtest/coldtest_private.h"

/** Working quantities of one reading. */
typedef struct cavum_working {
  const cavum_inversion_context *context;
  const cavum_calibrated *in;
  cavum_calibrated with_leak; /**< `in`, where the reflected wave leaks into the forward meter. */
  const cavum_reading_place *place;
  cavum_inverted *out;
  cavum_dual rho;
  cavum_dual net;      /**< P_f - P_r. */
  cavum_dual extra;    /**< Sum over the extra ports. */
  cavum_dual coupling; /**< beta*. */
  bool has_coupling;
} cavum_working;

/** Error about the reading. */
static inline cavum_status cavum_working_fail(const cavum_working *w, cavum_error *error,
                                              const char *what) {
  char where[300];
  cavum_reading_place_text(where, w->place);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s", where, what);
}

/** Marks the reading. */
static inline void cavum_working_flag(cavum_working *w, cavum_coldtest_flag flag) {
  w->out->flags |= 1u << flag;
}

/** True when the channel was read. */
static inline bool cavum_working_has(const cavum_working *w, int channel) {
  return w->in->has[channel];
}

/** The detuning at k standard uncertainties of the loop phase, and k; 0: none stated. */
static inline double cavum_working_detuning(const cavum_working *w, double *factor) {
  *factor = w->context->inputs->coverage_factor;
  return w->context->inputs->detuning;
}

/** Square root of the ratio of two powers. */
static inline cavum_dual cavum_working_root(const cavum_working *w, int above, int below) {
  cavum_dual ratio = cavum_dual_divide(&w->in->power[above], &w->in->power[below]);
  return cavum_dual_root(&ratio);
}

/** Power of a channel, 0 where it was not read. */
static inline double cavum_working_power_w(const cavum_working *w, int channel) {
  return cavum_working_has(w, channel) ? w->in->power[channel].value : 0.0;
}

/** The estimates of this reading as one draw. */
static inline cavum_draw cavum_working_draw(const cavum_working *w) {
  return (cavum_draw){.forward_w = w->in->power[CAVUM_CHANNEL_FORWARD].value,
                      .reflection = w->rho.value,
                      .transmitted_w = cavum_working_power_w(w, CAVUM_CHANNEL_TRANSMITTED),
                      .extra_w = w->extra.value,
                      .emitted_w = cavum_working_power_w(w, CAVUM_CHANNEL_EMITTED),
                      .decay_time_s = w->in->decay_time_s.value,
                      .omega = w->in->omega.value};
}

/** Over or under: stated, or what the readings say; puts its distance into the reading. */
cavum_branch cavum_working_decide_branch(cavum_working *w, bool by_decay);

/**
 * Puts into the forward power of a branch what the reflected wave adds to it in its meter. After
 * it `in` is the reading's own copy; without such a leak nothing changes.
 */
void cavum_working_set_forward_leak(cavum_working *w, cavum_branch branch);

/** Sets rho and N on a branch, and how far the emitted power is from them. */
void cavum_working_set_reflection(cavum_working *w, cavum_branch branch);

/** Puts all couplings that the reading allows and their largest mutual difference into it. */
void cavum_working_compare_couplings(cavum_working *w);

/** Sets beta*. CAVUM_ERR_INPUT: no coupling gives these powers, or one is missing. */
cavum_status cavum_working_choose_coupling(cavum_working *w, bool by_decay, cavum_error *error);

#endif
