// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/agreement.h
 * Whether measured frequencies go together, as far as their uncertainties and those of what was
 * done allow.
 *
 * Frequencies off those from the drawing are y = G s + d + e: sources s of variance 1, errors e of
 * the measurements, and d the drawing where nothing is stated of it, which y itself determines. Of
 * consistent ones y^T W y has the distribution of chi-square, W the inverse of the covariance
 * without what d takes up.
 */
#ifndef CAVUM_STEPS_AGREEMENT_H
#define CAVUM_STEPS_AGREEMENT_H

#include "cavum/status.h"

/** Consistent measurements are called contradictory in this part of all cases. */
#define CAVUM_AGREEMENT_LEVEL 0.01

/** What was measured. */
typedef struct cavum_measured_set {
  int num_measured, num_sources;
  double *off_hz;     /**< Shape [num_measured]: measured less computed from the drawing. */
  double *variance;   /**< Shape [num_measured]: of the measurement alone, Hz^2, above 0. */
  double *rows;       /**< Shape [num_measured, num_sources]: Hz by one standard deviation. */
  double *by_drawing; /**< Shape [num_measured]: by an unstated drawing; all 0: it is stated. */
} cavum_measured_set;

/** How it goes together. */
typedef struct cavum_agreement {
  double chi_square, probability; /**< That consistent ones have as large a chi-square or more. */
  int freedom;                    /**< Degrees of freedom; 0: nothing can be said, the rest is 0. */
  double *deviation_hz; /**< Owned, shape [num_measured]: from what the rest says; NAN: nothing. */
  double *deviation;    /**< Owned, likewise in its standard deviations. */
  double *source; /**< Owned, shape [num_sources]: how far each source would be off its statement
                     if all else held, in standard deviations of what is known then. */
} cavum_agreement;

/** Judges; release with cavum_agreement_clear(). */
cavum_status cavum_agreement_judge(cavum_agreement *agreement, const cavum_measured_set *set,
                                   cavum_error *error);

/** Frees what it owns. */
void cavum_agreement_clear(cavum_agreement *agreement);

/** Whether they contradict each other. */
static inline bool cavum_agreement_fails(const cavum_agreement *agreement) {
  return agreement->freedom > 0 && agreement->probability < CAVUM_AGREEMENT_LEVEL;
}

#endif
