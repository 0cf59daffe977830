// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_series.h
 * What a cold test says beyond single points: Q0 along a recorded decay, surface resistance against
 * temperature, predictions, and the plan of a test.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_SERIES_H
#define CAVUM_COLDTEST_SERIES_H

#include "cavum/coldtest.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A recorded decay: transmitted power at its meter after the drive was switched off. */
typedef struct cavum_decay_trace {
  int64_t num_samples;
  double *time_s;        /**< Owned, shape [num_samples], rising where there is a power. */
  double *transmitted_w; /**< Owned, shape [num_samples], at the meter; noise may make it negative.
                              NAN: nothing was recorded, the sample is left out. */
  char file[256];        /**< For messages. */
  int64_t *line;         /**< Owned, shape [num_samples]: in the file, for messages; NULL: none. */
} cavum_decay_trace;

/** Frees a trace; NULL is accepted. */
CAVUM_API void cavum_decay_trace_clear(cavum_decay_trace *trace);

/** Choices for a decay trace. */
typedef struct cavum_decay_options {
  size_t struct_size;  /**< Set by cavum_decay_options_default(). */
  double noise;        /**< Relative standard deviation of one sample; 0: from the residuals. */
  double floor_w;      /**< Absolute standard deviation of one sample at the meter, >= 0. */
  double first_time_s; /**< Samples before it are left out (transient of the switch). */
  double last_time_s;  /**< Samples after it are left out; 0: none. */
  int num_windows;     /**< Local fits; 0: 16, or fewer for short traces. */
} cavum_decay_options;

/** What cavum_decay_options_default() calls; struct_size is sizeof(cavum_decay_options). */
CAVUM_API void cavum_decay_options_set_defaults(cavum_decay_options *options, size_t struct_size);

/** Defaults: noise from the residuals, no floor, all samples. */
static inline cavum_decay_options cavum_decay_options_default(void) {
  cavum_decay_options options;
  cavum_decay_options_set_defaults(&options, sizeof options);
  return options;
}

/** Q0 at one place of a decay, from the local slope. */
typedef struct cavum_decay_point {
  double time_s; /**< Centre of the window. */
  int64_t num_samples;
  double q_loaded, q_loaded_uncertainty;
  double e_acc_v_per_m, e_acc_uncertainty_v_per_m; /**< NAN without Q_t. */
  double q0, q0_uncertainty; /**< NAN without Q_e, or where the slope leaves no loss. */
  double q0_statistical;     /**< Part of q0_uncertainty from the samples of this window. */
  double degrees_of_freedom; /**< Effective [JCGM100] G.4; INFINITY: noise was stated. */
  double coverage_factor;    /**< For setup->coverage and these degrees of freedom. */
} cavum_decay_point;

/** A decay trace, analysed. */
typedef struct cavum_decay_analysis {
  int64_t num_used, num_cut;   /**< Samples used; left out as too near the noise floor. */
  int64_t num_outliers;        /**< Left out alone: far from those beside them. */
  cavum_estimate decay_time_s; /**< Of the energy; one exponential over all samples used. */
  double chi_squared;          /**< NAN without stated noise. */
  int64_t degrees_of_freedom;
  double scatter;          /**< Relative standard deviation of the residuals. */
  double curvature;        /**< Second-order term of ln P over its uncertainty. */
  bool exponential;        /**< |curvature| below 3: one decay time says it all. */
  double *residuals;       /**< Owned, shape [num_used]: ln P less the exponential. */
  double *residual_time_s; /**< Owned, shape [num_used]. */
  int num_points;
  cavum_decay_point *points; /**< Owned, shape [num_points], by time. */
  double start_w; /**< Of the exponential at residual_time_s[0]: power at the pickup port. */
} cavum_decay_analysis;

/**
 * Turns a decay trace into Q0 against E_acc.
 *
 * P_t falls as the stored energy: w U = Q_t P_t, so 1/Q_L = -(1/w) d ln P_t / dt at each moment,
 * and 1/Q0 = 1/Q_L - 1/Q_e - 1/Q_t - extra ports, the couplings being constant. The slope of a
 * window is that of a weighted parabola through ln P_t, at its centre; the weights come from the
 * noise and the fitted power, not from single samples, which would bias the slope. Samples below
 * ten floors are cut, since the logarithm of a noisy small number is biased; a single low one amid
 * high ones is left out alone.
 *
 * @param[out] analysis  Release with cavum_decay_analysis_clear(); untouched unless CAVUM_OK.
 * @param[in]  test      Gives Q_t, Q_e, extra ports, R/Q, L_acc, frequency and uncertainties.
 * @param[in]  trace     Samples.
 * @param[in]  frequency_hz  Of the decay.
 * @param[in]  options   NULL: defaults.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  no place, test or trace, or options that never saw their defaults or are
 *                          out of range.
 * @retval CAVUM_ERR_INPUT  times do not rise, fewer than 12 samples left, power does not fall.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_decay_analyse(cavum_decay_analysis *analysis,
                                           const cavum_coldtest *test,
                                           const cavum_decay_trace *trace, double frequency_hz,
                                           const cavum_decay_options *options, cavum_error *error);

/** Frees an analysis; NULL is accepted. */
CAVUM_API void cavum_decay_analysis_clear(cavum_decay_analysis *analysis);

/** Choices for a series of surface resistance against temperature. */
typedef struct cavum_resistance_options {
  size_t struct_size;     /**< Set by cavum_resistance_options_default(). */
  double e_acc_v_per_m;   /**< Field of the series; 0: every reading with a temperature. */
  double e_acc_tolerance; /**< Relative distance of E_acc that still counts as this field. */
  double fixed_gap_k;     /**< Delta / k held at this value; 0: fitted. */
  int run;                /**< Number of the run whose readings count, from 1; 0: all. */
} cavum_resistance_options;

/** What cavum_resistance_options_default() calls; struct_size is sizeof(cavum_resistance_options).
 */
CAVUM_API void cavum_resistance_options_set_defaults(cavum_resistance_options *options,
                                                     size_t struct_size);

/** Defaults: every reading with a bath temperature, tolerance 10 %, gap fitted. */
static inline cavum_resistance_options cavum_resistance_options_default(void) {
  cavum_resistance_options options;
  cavum_resistance_options_set_defaults(&options, sizeof options);
  return options;
}

/** Parameters of the fit, in this order in covariances. */
enum {
  CAVUM_RESISTANCE_LOG_BCS,  /**< ln of R_BCS at the reference temperature, in ohm. */
  CAVUM_RESISTANCE_GAP,      /**< Delta / k in K. */
  CAVUM_RESISTANCE_RESIDUAL, /**< Residual resistance in ohm. */
  CAVUM_NUM_RESISTANCE_PARAMETERS
};

/** R_s(T) = A exp(-gap/T) / T + residual, fitted. */
typedef struct cavum_resistance_fit {
  int64_t num_readings;
  double reference_k; /**< Temperature at which the BCS term is a parameter. */
  double parameter[CAVUM_NUM_RESISTANCE_PARAMETERS];
  double statistical[CAVUM_NUM_RESISTANCE_PARAMETERS][CAVUM_NUM_RESISTANCE_PARAMETERS];
  double covariance[CAVUM_NUM_RESISTANCE_PARAMETERS][CAVUM_NUM_RESISTANCE_PARAMETERS];
  bool gap_fixed;
  cavum_estimate amplitude_ohm_k; /**< A. */
  cavum_estimate gap_k;
  cavum_estimate residual_ohm; /**< May come out negative. */
  double chi_squared;          /**< NAN where the readings have no uncertainty of their own. */
  int degrees_of_freedom;
  double probability;         /**< Of a larger chi squared; NAN without one. */
  double lowest_k, highest_k; /**< Range of the readings. */
  double e_acc_v_per_m;       /**< Mean over the readings. */
  double frequency_hz;        /**< Mean over the readings. */
  char caution[512];          /**< One line about the range of validity, or "". */
} cavum_resistance_fit;

/**
 * Splits a series at fixed field into a BCS term and a residual (weighted nonlinear least squares,
 * trust region, analytic derivatives).
 *
 * Weights come from the readings' own uncertainties, with dR/dT times that of the temperature
 * (effective variance). What all readings share (gains, G, Q_t) moves all R_s together: it is
 * propagated through the fit to first order and added to the covariance, not put into the weights.
 * Readings without uncertainty of their own are weighted alike and the scatter scales the result.
 *
 * The form is the fit of [Padamsee1998] ch. 4 (not checked against the source), meant for T < T_c /
 * 2, 4.6 K for Nb.
 *
 * @param[out] fit      Untouched unless CAVUM_OK.
 * @param[in]  test     Its points with bath temperature and R_s are used.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE          no place or test, or options that never saw their defaults or
 * are out of range.
 * @retval CAVUM_ERR_INPUT          fewer readings than parameters, or temperatures all alike.
 * @retval CAVUM_ERR_NOT_CONVERGED  the iteration did not end at a minimum.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_resistance_make_fit(cavum_resistance_fit *fit,
                                                 const cavum_coldtest *test,
                                                 const cavum_resistance_options *options,
                                                 cavum_error *error);

/** R_s of a fit at a temperature, with its uncertainty. */
CAVUM_API cavum_estimate cavum_resistance_at_ohm(const cavum_resistance_fit *fit,
                                                 double temperature_k);

/** BCS term of a fit at a temperature, with its uncertainty. */
CAVUM_API cavum_estimate cavum_resistance_bcs_at_ohm(const cavum_resistance_fit *fit,
                                                     double temperature_k);

/** Q0 and heat load predicted from a fit. */
typedef struct cavum_resistance_prediction {
  double temperature_k, e_acc_v_per_m;
  cavum_estimate surface_resistance_ohm, q0, wall_power_w;
  char caution[256]; /**< One line, or "". */
} cavum_resistance_prediction;

/**
 * Q0 = G / R_s and P_d = (E_acc L_acc)^2 / (R/Q Q0) at another temperature or gradient. R_s is
 * taken as independent of the field.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  temperature or gradient not positive, R_s not positive there.
 */
CAVUM_API cavum_status cavum_resistance_predict(cavum_resistance_prediction *prediction,
                                                const cavum_resistance_fit *fit,
                                                const cavum_coldtest_setup *setup,
                                                double temperature_k, double e_acc_v_per_m,
                                                cavum_error *error);

/**
 * Sensitivity of niobium to trapped flux in ohm per tesla: 0.3 nohm/mG sqrt(f / 1 GHz), full
 * trapping, [Padamsee1998] (not checked against the source). Doped niobium can be some ten times as
 * sensitive.
 */
CAVUM_API double cavum_trapped_flux_rule_ohm_per_t(double frequency_hz);

/** Resistance by trapped flux: sensitivity times trapped fraction times ambient field. */
CAVUM_API double cavum_trapped_flux_resistance_ohm(double ambient_t, double trapped_fraction,
                                                   double sensitivity_ohm_per_t);

/** What a test is planned for. Members are appended only. */
typedef struct cavum_plan_request {
  size_t struct_size; /**< Set by cavum_plan_request_default(). */
  double frequency_hz;
  double e_acc_v_per_m;
  double q0;
  double q_external;
  double q_pickup; /**< INFINITY: no pickup. */
} cavum_plan_request;

/** What cavum_plan_request_default() calls; struct_size is sizeof(cavum_plan_request). */
CAVUM_API void cavum_plan_request_set_defaults(cavum_plan_request *request, size_t struct_size);

/** Nothing stated, no pickup. */
static inline cavum_plan_request cavum_plan_request_default(void) {
  cavum_plan_request request;
  cavum_plan_request_set_defaults(&request, sizeof request);
  return request;
}

/** Uncertainty that a planned reading will have. */
typedef struct cavum_plan_expected {
  bool possible;                              /**< false: the readings would not give a result. */
  double q0_relative, e_acc_relative;         /**< Standard, linear. */
  cavum_coldtest_input q0_input, e_acc_input; /**< The inputs with the largest part. */
  double q0_share, e_acc_share; /**< Of the variance, by that input; NAN without uncertainty. */
} cavum_plan_expected;

/** What it takes. */
typedef struct cavum_plan {
  cavum_circuit_state state; /**< Powers, Q_L, coupling, decay time, bandwidth. */
  double stored_energy_j;
  double voltage_v;
  double e_peak_v_per_m;              /**< NAN without E_pk/E_acc. */
  double b_peak_t;                    /**< NAN without B_pk/E_acc. */
  double surface_resistance_ohm;      /**< NAN without G. */
  double matched_forward_w;           /**< Forward power if the coupler were critical. */
  double meter_w[CAVUM_NUM_CHANNELS]; /**< What each meter shows, through the stated chain and
                                           input line, with its zero; EMITTED right after
                                           switch-off. NAN: no such port. */
  cavum_plan_expected by_decay;       /**< Of a reading with a decay time. */
  cavum_plan_expected by_pickup;      /**< Of one without, after a calibration at the same field. */
  double limit_share[CAVUM_MAX_LIMITS]; /**< Over each limit of the setup; NAN: not known. */
} cavum_plan;

/**
 * Powers, times and fields of a test before it is made, what its meters will show, and the
 * uncertainty of what they give: the planned readings are evaluated as cavum_coldtest_evaluate()
 * does, with the uncertainties that the setup states. Without a pickup TRANSMITTED is NAN.
 * @param[out] plan     Untouched unless CAVUM_OK.
 * @param[in]  setup    Its figures, calibrations and limits are used; stated Q_t and Q_e give way
 *                      to those of the request, with their relative uncertainty.
 * @param[in]  request  All > 0.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  a value that is not positive.
 */
CAVUM_API cavum_status cavum_coldtest_make_plan(cavum_plan *plan, const cavum_coldtest_setup *setup,
                                                const cavum_plan_request *request,
                                                cavum_error *error);

/** Published quotes of niobium's limits that results can be compared with. */
CAVUM_API int cavum_coldtest_num_published_limits(void);

/** One of them; index from 0; the name "unknown" when there is none. */
CAVUM_API cavum_coldtest_limit cavum_coldtest_published_limit(int index);

#ifdef __cplusplus
}
#endif
#endif
