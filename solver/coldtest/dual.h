// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/dual.h
 * Numbers that carry their uncertainty budget: a value and, for each input quantity, the exact
 * first derivative times the standard uncertainty of that input (forward differentiation).
 *
 * The inputs are independent, so the variance of a number is the sum of the squares of its parts,
 * and the covariance of two numbers the sum of the products [JCGM100] 5.2.2.
 */
#ifndef CAVUM_COLDTEST_DUAL_H
#define CAVUM_COLDTEST_DUAL_H

#include "base/base.h"
#include "cavum/coldtest.h"

/** A value with its parts, one an input quantity. */
typedef struct cavum_dual {
  double value;
  double part[CAVUM_NUM_INPUTS];
} cavum_dual;

/** A constant. */
static inline cavum_dual cavum_dual_constant(double value) {
  cavum_dual result = {.value = value};
  return result;
}

/** A value with derivatives a and b after two other numbers: the chain rule. */
static inline cavum_dual cavum_dual_chain(double value, double a, const cavum_dual *x, double b,
                                          const cavum_dual *y) {
  cavum_dual result;
  result.value = value;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) result.part[i] = a * x->part[i] + b * y->part[i];
  return result;
}

/** The same where the other number has one part alone: a figure of the cavity. */
static inline cavum_dual cavum_dual_chain_one(double value, double a, const cavum_dual *x, double b,
                                              double part, cavum_coldtest_input input) {
  cavum_dual result;
  double nothing = b * 0.0;
  result.value = value;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) result.part[i] = a * x->part[i] + nothing;
  result.part[input] = a * x->part[input] + b * part;
  return result;
}

/** a x + b y + c. */
static inline cavum_dual cavum_dual_linear(double a, const cavum_dual *x, double b,
                                           const cavum_dual *y, double c) {
  return cavum_dual_chain(a * x->value + b * y->value + c, a, x, b, y);
}

/** x + y. */
static inline cavum_dual cavum_dual_add(const cavum_dual *x, const cavum_dual *y) {
  return cavum_dual_chain(x->value + y->value, 1.0, x, 1.0, y);
}

/** x - y. */
static inline cavum_dual cavum_dual_subtract(const cavum_dual *x, const cavum_dual *y) {
  return cavum_dual_chain(x->value - y->value, 1.0, x, -1.0, y);
}

/** x y. */
static inline cavum_dual cavum_dual_multiply(const cavum_dual *x, const cavum_dual *y) {
  return cavum_dual_chain(x->value * y->value, y->value, x, x->value, y);
}

/** x / y. */
static inline cavum_dual cavum_dual_divide(const cavum_dual *x, const cavum_dual *y) {
  double ratio = x->value / y->value;
  return cavum_dual_chain(ratio, 1.0 / y->value, x, -ratio / y->value, y);
}

/** 1 / x. */
static inline cavum_dual cavum_dual_invert(const cavum_dual *x) {
  double inverse = 1.0 / x->value;
  return cavum_dual_chain(inverse, -inverse * inverse, x, 0.0, x);
}

/** sqrt(x) for x > 0. */
static inline cavum_dual cavum_dual_root(const cavum_dual *x) {
  double root = sqrt(x->value);
  return cavum_dual_chain(root, 0.5 / root, x, 0.0, x);
}

/** Covariance of two numbers. */
static inline double cavum_dual_covariance(const cavum_dual *x, const cavum_dual *y) {
  double sum = 0.0;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) sum += x->part[i] * y->part[i];
  return sum;
}

/** Standard uncertainty of a number. */
static inline double cavum_dual_uncertainty(const cavum_dual *x) {
  return sqrt(cavum_dual_covariance(x, x));
}

#endif
