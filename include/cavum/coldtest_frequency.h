// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_frequency.h
 * Frequency of a cold test against field and bath pressure.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_FREQUENCY_H
#define CAVUM_COLDTEST_FREQUENCY_H

#include "cavum/coldtest.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Radiation pressure of a mode on the whole wall, at a stored energy of 1 J. */
typedef struct cavum_wall_pressure {
  bool known;
  double force_n;      /**< Integral of p dA, p = (mu0 H^2 - eps0 E^2)/4 outward. */
  double square_pa2m2; /**< Integral of p^2 dA. */
} cavum_wall_pressure;

/**
 * Integrates the radiation pressure p = (mu0 H^2 - eps0 E^2)/4 of peak fields [Padamsee1998] over a
 * wall by the trapezoidal rule.
 * @param[out] pressure   Untouched unless CAVUM_OK.
 * @param[in]  count      Samples along the wall, in its order.
 * @param[in]  arc_length_m  Along the wall, which does not advance from one run of metal to the
 * next, shape [count].
 * @param[in]  r_m        Radii, shape [count].
 * @param[in]  e_v_per_m, h_a_per_m  Fields there at 1 J, shape [count].
 * @param[in]  h_square_a2 Integral of H^2 dA over the whole wall at 1 J, 2 omega / G: samples of
 * half a cavity count for all of it. 0: the samples are the whole wall.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  fewer than two samples, or no magnetic field.
 */
CAVUM_API cavum_status cavum_wall_integrate_pressure(cavum_wall_pressure *pressure, int64_t count,
                                                     const double *arc_length_m, const double *r_m,
                                                     const double *e_v_per_m,
                                                     const double *h_a_per_m, double h_square_a2,
                                                     cavum_error *error);

/** What is fitted, and with what uncertainties. Members are appended only. */
typedef struct cavum_frequency_options {
  size_t struct_size;           /**< Set by cavum_frequency_options_default(). */
  double reading_hz;            /**< Of one frequency; 0: from the scatter. */
  double pressure_pa;           /**< Of one bath pressure. */
  double pressure_scale;        /**< Relative, of the gauge: all readings are off alike. */
  double stiffness_pa_per_m;    /**< Of the wall, for the comparison; 0: none. */
  double highest_e_acc_v_per_m; /**< Readings above it are left out; 0: none are. */
  int run;                      /**< Number of the run whose readings count, from 1; 0: all. */
} cavum_frequency_options;

/** What cavum_frequency_options_default() calls; struct_size is sizeof(cavum_frequency_options). */
CAVUM_API void cavum_frequency_options_set_defaults(cavum_frequency_options *options,
                                                    size_t struct_size);

/** Defaults: nothing is stated, all readings. */
static inline cavum_frequency_options cavum_frequency_options_default(void) {
  cavum_frequency_options options;
  cavum_frequency_options_set_defaults(&options, sizeof options);
  return options;
}

/** Frequency against the square of the gradient and against the bath pressure. Members are appended
 * only. */
typedef struct cavum_frequency_fit {
  size_t struct_size; /**< Set by cavum_frequency_make_fit(). */
  int64_t num_readings;
  bool has_pressure;                   /**< Three or more readings carry pressures, which differ. */
  cavum_estimate frequency_hz;         /**< At no field and the mean pressure. */
  double mean_pressure_pa;             /**< NAN without pressures. */
  cavum_estimate lorentz_hz_m2_per_v2; /**< df / d(E_acc^2). */
  cavum_estimate pressure_hz_per_pa;   /**< df / dp; NAN without pressures. */
  double scatter_hz;                   /**< Standard deviation of the residuals. */
  double chi_squared;                  /**< NAN where no uncertainty of a reading is stated. */
  int degrees_of_freedom;
  double expected_lorentz_hz_m2_per_v2; /**< From the radiation pressure; NAN: not known. */
  double expected_pressure_hz_per_pa;   /**< Likewise. */
} cavum_frequency_fit;

/** What cavum_frequency_make_fit() calls; struct_size is sizeof(cavum_frequency_fit). */
CAVUM_API cavum_status cavum_frequency_make_fit_sized(cavum_frequency_fit *fit, size_t struct_size,
                                                      const cavum_coldtest *test,
                                                      const cavum_frequency_options *options,
                                                      const cavum_wall_pressure *pressure,
                                                      cavum_error *error);

/**
 * Fits f = f0 + k E_acc^2 + (df/dp) (p - mean p), k being the Lorentz-force coefficient.
 *
 * Readings with a frequency are used; where three or more carry a bath pressure, and these lie
 * further apart than four times the uncertainty of one, only those with a pressure, too. Errors of
 * E_acc that all readings share stretch E^2 and are carried through the fit; those of a reading,
 * and of its pressure, go into its weight (effective variance).
 *
 * Where a stiffness s is stated, the wall is taken as a bed of springs: it gives way by pressure /
 * s wherever it is, across itself. With [Slater1950], df/f = (1/4U) integral of (mu0 H^2 - eps0
 * E^2) over the volume that is lost, the radiation pressure p of the mode moves it outward by p /
 * s: df / d(E^2) = -f / (s U E^2) integral p^2 dA, and a bath pressure moves it inward: df/dp = f /
 * (s U) integral p dA. (Derived here.) A real cavity is stiffer where it is curved and gives way
 * with its frame: the comparison is of the order of magnitude and of the ratio of the two.
 *
 * @param[out] fit       Untouched unless CAVUM_OK.
 * @param[in]  test      Its points with a frequency are used.
 * @param[in]  options   NULL: nothing is stated.
 * @param[in]  pressure  Of the mode at 1 J; NULL, or not known: no comparison.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  no place or test, options that never saw their defaults, or one that is
 *                          negative or no number.
 * @retval CAVUM_ERR_INPUT  too few readings, or fields that are all alike.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_frequency_make_fit(cavum_frequency_fit *fit,
                                                    const cavum_coldtest *test,
                                                    const cavum_frequency_options *options,
                                                    const cavum_wall_pressure *pressure,
                                                    cavum_error *error) {
  return cavum_frequency_make_fit_sized(fit, sizeof(cavum_frequency_fit), test, options, pressure,
                                        error);
}

#ifdef __cplusplus
}
#endif
#endif
