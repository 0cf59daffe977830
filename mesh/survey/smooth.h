// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/smooth.h
 * Smoothing splines of one variable whose scatter is known.
 *
 * Cubic B-splines on even knots with a penalty on the square of the second derivative, sum (y -
 * d)^2 / s^2 + lambda integral d''^2. Of all lambda the one is taken whose risk, estimated without
 * bias for the known scatter s, is least: V = sum (y - d)^2 / s^2 + 2 tr(H) - n [Craven1979].
 */
#ifndef CAVUM_SURVEY_SMOOTH_H
#define CAVUM_SURVEY_SMOOTH_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

/** Order of the splines: bands of their matrices. */
enum { CAVUM_SMOOTH_ORDER = 4 };

/** What a spline is made for. */
typedef struct cavum_smooth_settings {
  double length_m;             /**< Places are from 0 to this. */
  double scatter_m;            /**< Standard deviation of a value, above 0. */
  bool level_start, level_end; /**< The slope is 0 there, as at a plane that mirrors. */
} cavum_smooth_settings;

/** A smoothing spline on [0, length]. */
typedef struct cavum_smooth {
  double length_m;
  bool level_start, level_end;
  int num_coefficients;
  double *coefficients; /**< Owned, shape [num_coefficients]. */
  double *matrix;       /**< Owned: lower bands of the penalised matrix as a Cholesky factor, shape
                             [num_coefficients, CAVUM_SMOOTH_ORDER]. */
  double *gram;         /**< Owned: bands of the matrix without penalty, the same shape. */
  double scatter_m;
  double weight;             /**< Of the penalty. */
  double degrees_of_freedom; /**< Trace of the hat matrix. */
} cavum_smooth;

/** Frees a spline and empties it. */
void cavum_smooth_clear(cavum_smooth *smooth);

/**
 * Fits a spline.
 * @param[out] smooth      Untouched unless CAVUM_OK.
 * @param[in]  along_m     Places, at least two of them apart, shape [num_points]; in any order.
 * @param[in]  y_m         Values there.
 * @param[in]  num_points  At least 2.
 * @param[in]  settings    Of it.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_smooth_fit(cavum_smooth *smooth, const double *along_m, const double *y_m,
                              int64_t num_points, const cavum_smooth_settings *settings,
                              cavum_error *error);

/** Scatter of values whose scatter is not taken from anybody. */
typedef struct cavum_smooth_scatter {
  double squares_m2;         /**< Of the values about a spline that was made for this. */
  double degrees_of_freedom; /**< Of that spline; NAN: the values do not tell. */
} cavum_smooth_scatter;

/**
 * How far values scatter about a smooth curve. A spline that is smoothed for a scatter that is
 * stated too small follows the noise, and what is left about it is too small as well. So the weight
 * of the penalty is chosen here without any scatter, by generalised cross-validation: the least of
 * sum (y - d)^2 / (n - tr(H))^2 [Craven1979]; the scatter is then the root of sum (y - d)^2 / (n -
 * tr(H)) [Wahba1983].
 * @param[out] scatter     Untouched unless CAVUM_OK. Of several splines, sums are taken.
 * @param[in]  along_m     As cavum_smooth_fit(), and so the rest.
 * @param[in]  y_m
 * @param[in]  num_points
 * @param[in]  settings    Its scatter is a unit only.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_smooth_find_scatter(cavum_smooth_scatter *scatter, const double *along_m,
                                       const double *y_m, int64_t num_points,
                                       const cavum_smooth_settings *settings, cavum_error *error);

/** Value at a place. */
double cavum_smooth_at(const cavum_smooth *smooth, double along_m);

/** Standard deviation of the value at a place by the scatter of the values; NAN when GSL refused.
 */
double cavum_smooth_deviation_m(const cavum_smooth *smooth, double along_m);

/** Splines that are not 0 at a place: their values; gives the first of the four. */
int cavum_smooth_basis(double values[CAVUM_SMOOTH_ORDER], const cavum_smooth *smooth,
                       double along_m);

/**
 * What a linear function of the spline, sum_j weights[j] coefficients[j], is of each value:
 * rows[i] = its derivative by y_m[i].
 * @param[out] rows     Shape [num_points].
 * @param[in]  smooth   Fitted to values at along_m.
 * @param[in]  along_m  Those.
 * @param[in]  weights  Shape [num_coefficients].
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_smooth_rows(double *rows, const cavum_smooth *smooth, const double *along_m,
                               int64_t num_points, const double *weights, cavum_error *error);

/** How many numbers say how a spline bends: two an interval. */
int cavum_smooth_num_bends(const cavum_smooth *smooth);

/**
 * The spline of other values at the same places, smoothed alike, less this one: its coefficients.
 * Smoothing takes the spline for one of a random family, whose penalty has the place of the
 * values' scatter [Wahba1983]; with normal numbers of the scatter for both, the spline is as
 * uncertain as by that scatter and by what smoothing hides together.
 * @param[out] added       Shape [num_coefficients].
 * @param[in]  smooth      Fitted to values at along_m.
 * @param[in]  along_m     Those, shape [num_points].
 * @param[in]  more_m      What the values have more, shape [num_points].
 * @param[in]  bends_m     How it bends more than it is smoothed to, shape
 *                         [cavum_smooth_num_bends()]; NULL: not at all.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 */
cavum_status cavum_smooth_add(double *added, const cavum_smooth *smooth, const double *along_m,
                              const double *more_m, int64_t num_points, const double *bends_m,
                              cavum_error *error);

#endif
