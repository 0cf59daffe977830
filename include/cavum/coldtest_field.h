// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_field.h
 * What a cold test says against the field: surface resistance at several gradients, and what it is
 * at one place of the wall.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_FIELD_H
#define CAVUM_COLDTEST_FIELD_H

#include "cavum/coldtest_series.h"

#ifdef __cplusplus
extern "C" {
#endif

enum {
  CAVUM_MAX_GRADIENTS = 16,  /**< Of one test. */
  CAVUM_NUM_FIELD_TERMS = 4, /**< Powers of the field, 0 to 3. */
};

/** How the field of a mode is spread over the wall. */
typedef struct cavum_wall_weighting {
  bool known;
  /** Means of (H / H_pk)^n over the wall, weighted with the dissipated power, that is with H^2. */
  double moment[CAVUM_NUM_FIELD_TERMS];
} cavum_wall_weighting;

/**
 * Weighs a wall: moment n is the integral of h^(n + 2) r ds over that of h^2 r ds, h = |H| / H_pk,
 * by the trapezoidal rule.
 *
 * @param[out] weighting  Untouched unless CAVUM_OK.
 * @param[in]  count      Samples along the wall, in its order.
 * @param[in]  arc_length_m  Along the wall, which does not advance from one run of metal to the
 * next, shape [count].
 * @param[in]  r_m        Radii, shape [count].
 * @param[in]  h          H there in any unit, shape [count].
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  fewer than two samples, or no field.
 */
CAVUM_API cavum_status cavum_wall_weigh(cavum_wall_weighting *weighting, int64_t count,
                                        const double *arc_length_m, const double *r_m,
                                        const double *h, cavum_error *error);

/** What is fitted. Members are appended only. */
typedef struct cavum_resistance_field_options {
  size_t struct_size; /**< Set by cavum_resistance_field_options_default(). */
  int num_gradients;
  double e_acc_v_per_m[CAVUM_MAX_GRADIENTS]; /**< Fields of the series. */
  double e_acc_tolerance;                    /**< Relative; that still counts as this field. */
  double fixed_gap_k;                        /**< Delta / k held at this value; 0: fitted. */
  double reference_k;                        /**< Temperature at which the BCS part is given. */
  int degree; /**< Of the polynomial in B, below num_gradients; -1: 2, or what there can be. */
} cavum_resistance_field_options;

/** What cavum_resistance_field_options_default() calls; struct_size is
 * sizeof(cavum_resistance_field_options). */
CAVUM_API void cavum_resistance_field_options_set_defaults(cavum_resistance_field_options *options,
                                                           size_t struct_size);

/** Defaults: no gradients yet, tolerance 10 %, gap fitted, 2 K, degree 2 or what there can be. */
static inline cavum_resistance_field_options cavum_resistance_field_options_default(void) {
  cavum_resistance_field_options options;
  cavum_resistance_field_options_set_defaults(&options, sizeof options);
  return options;
}

/** R_s(T) of one gradient. */
typedef struct cavum_resistance_field_point {
  cavum_resistance_fit fit;
  cavum_estimate e_acc_v_per_m, b_peak_t;
  cavum_estimate bcs_ohm;      /**< Averaged over the wall, at the reference temperature. */
  cavum_estimate residual_ohm; /**< Averaged over the wall. */
  cavum_estimate local_bcs_ohm, local_residual_ohm; /**< Where the field is b_peak_t; NAN without
                                                         weighting. */
} cavum_resistance_field_point;

/** Parts of R_s that are followed against the field. */
enum { CAVUM_FIELD_BCS, CAVUM_FIELD_RESIDUAL, CAVUM_NUM_FIELD_PARTS };

/** Surface resistance against field. Members are appended only. */
typedef struct cavum_resistance_field {
  size_t struct_size; /**< Set by cavum_resistance_make_field(). */
  int num_points;
  cavum_resistance_field_point points[CAVUM_MAX_GRADIENTS]; /**< By rising field. */
  double reference_k;
  int degree;
  cavum_wall_weighting weighting;
  /** Of (B / 0.1 T)^n in ohm: of the average over the wall, B being the peak on it. */
  cavum_estimate average_ohm[CAVUM_NUM_FIELD_PARTS][CAVUM_NUM_FIELD_TERMS];
  /** Of (B / 0.1 T)^n in ohm: at a place of the wall, B being the field there; NAN: no weighting.
   */
  cavum_estimate local_ohm[CAVUM_NUM_FIELD_PARTS][CAVUM_NUM_FIELD_TERMS];
  double chi_squared[CAVUM_NUM_FIELD_PARTS]; /**< Of the polynomials; NAN: nothing to judge. */
  int degrees_of_freedom;
} cavum_resistance_field;

/** What cavum_resistance_make_field() calls; struct_size is sizeof(cavum_resistance_field). */
CAVUM_API cavum_status cavum_resistance_make_field_sized(
    cavum_resistance_field *field, size_t struct_size, const cavum_coldtest *test,
    const cavum_resistance_field_options *options, const cavum_wall_weighting *weighting,
    cavum_error *error);

/**
 * Fits R_s(T) at several gradients, the BCS part and the residual against field, and the local
 * R_s(B) behind the averages.
 *
 * A measured R_s = G / Q0 is an average over the wall with weight H^2. Where the local one is
 * R(B) = sum a_n B^n, the average at the peak field B_pk is sum a_n m_n B_pk^n with m_n the mean of
 * (H / H_pk)^n under that weight, because the field of a mode has the same shape at every
 * amplitude. So the polynomial through the averages gives the local one by a division of each
 * coefficient: a_n = (coefficient n of the averages) / m_n. It is exact for polynomials, and the
 * field dependence, which the average hides, is steeper by 1 / m_n. (Derived here.)
 *
 * The polynomials are fitted with the uncertainties that each series has for itself. What all
 * series share (gains, R/Q, G, B_pk/E_acc, the thermometer) moves all parts and all fields together
 * and is carried through both fits, so that it is not averaged away [JCGM100] 5.2.
 *
 * @param[out] field      Untouched unless CAVUM_OK.
 * @param[in]  test       Its points with bath temperature and R_s are used.
 * @param[in]  options    The gradients.
 * @param[in]  weighting  Of the wall; NULL, or not known: no local values.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE          no place, test or options, options that never saw their
 * defaults, or one out of its range: a gradient or a reference temperature that is not above 0.
 * @retval CAVUM_ERR_INPUT          as cavum_resistance_make_fit(); no B_pk/E_acc; fewer than two
 *                                  gradients, or two that share readings; a degree that they do not
 * allow.
 * @retval CAVUM_ERR_NOT_CONVERGED  a fit did not end at a minimum.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_resistance_make_field(
    cavum_resistance_field *field, const cavum_coldtest *test,
    const cavum_resistance_field_options *options, const cavum_wall_weighting *weighting,
    cavum_error *error) {
  return cavum_resistance_make_field_sized(field, sizeof(cavum_resistance_field), test, options,
                                           weighting, error);
}

#ifdef __cplusplus
}
#endif
#endif
