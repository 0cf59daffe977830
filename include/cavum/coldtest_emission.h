// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_emission.h
 * Field emission in a cold test: onset, field enhancement, and the power that electrons take.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_EMISSION_H
#define CAVUM_COLDTEST_EMISSION_H

#include "cavum/coldtest.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Powers of the field in the Q0 curve below the onset, 0 to 2. */
enum { CAVUM_NUM_EMISSION_TERMS = 3 };

/** Work function in eV where none is stated: niobium is given 4.0 to 4.3 eV, common practice. */
#define CAVUM_NIOBIUM_WORK_FUNCTION_EV 4.3

/** What is known of the radiation monitor, and what is evaluated. Members are appended only. */
typedef struct cavum_field_emission_options {
  size_t struct_size;                 /**< Set by cavum_field_emission_options_default(). */
  double reading_relative;            /**< Of one reading of radiation; both 0: from the scatter. */
  double reading_sv_per_h;            /**< Likewise, absolute. */
  double calibration;                 /**< Relative, of the monitor: all readings are off alike. */
  cavum_estimate background_sv_per_h; /**< With an uncertainty: stated. Else from the readings. */
  cavum_estimate work_function_ev;    /**< Value 0: CAVUM_NIOBIUM_WORK_FUNCTION_EV. */
  double onset_over_background; /**< The onset is where emission is this many backgrounds; 0: 1. */
  double onset_sv_per_h;        /**< Above 0: it is where emission is this dose rate instead. */
  double lowest_e_acc_v_per_m;  /**< Readings below it are left out; 0: none are. */
  double highest_e_acc_v_per_m; /**< Readings above it are left out; 0: none are. */
  double bath_temperature_k; /**< Of the Q0 curve that tells the power; 0: that of most readings. */
  double bath_tolerance_k;   /**< Distance that still counts as this bath; 0: 20 mK. */
  double wall_e_acc_v_per_m; /**< Readings below it make the Q0 curve; 0: those without emission. */
  int wall_terms;            /**< Of the Q0 curve, 1 to 3; 0: 3, or what there can be. */
} cavum_field_emission_options;

/**
 * What cavum_field_emission_options_default() calls; struct_size is
 * sizeof(cavum_field_emission_options).
 */
CAVUM_API void cavum_field_emission_options_set_defaults(cavum_field_emission_options *options,
                                                         size_t struct_size);

/** Defaults: nothing is stated; the onset is where emission equals the background. */
static inline cavum_field_emission_options cavum_field_emission_options_default(void) {
  cavum_field_emission_options options;
  cavum_field_emission_options_set_defaults(&options, sizeof options);
  return options;
}

/**
 * A signal that is a current of field emission:
 * level (E/E_r)^2.5 exp(-slope (1/E - 1/E_r)), E being E_acc.
 */
typedef struct cavum_emission_fit {
  bool found; /**< It rises with the field by more than its uncertainty; else the rest is NAN. */
  int64_t num_readings;         /**< That were fitted. */
  double reference_v_per_m;     /**< E_r. */
  cavum_estimate level;         /**< At E_r: Sv/h, or A for the power. */
  cavum_estimate slope_v_per_m; /**< Of E_acc. */
  cavum_estimate enhancement;   /**< beta_FN; NAN without E_pk/E_acc. */
  double scatter;               /**< Of the readings about the fit: relative standard deviation. */
  double chi_squared;           /**< NAN where no uncertainty of a reading is stated. */
  int degrees_of_freedom;
} cavum_emission_fit;

/** Field emission of a test. Members are appended only. */
typedef struct cavum_field_emission {
  size_t struct_size; /**< Set by cavum_field_emission_evaluate(). */
  cavum_estimate work_function_ev;
  cavum_estimate background_sv_per_h;  /**< True dose rate, with the monitor's calibration. */
  cavum_emission_fit radiation;        /**< Taken as in proportion to the current. */
  cavum_estimate onset_sv_per_h;       /**< Emission at the onset: what the criterion says. */
  cavum_estimate onset_e_acc_v_per_m;  /**< NAN: no emission, or no background to compare with. */
  cavum_estimate onset_e_peak_v_per_m; /**< NAN without E_pk/E_acc. */
  double bath_temperature_k; /**< Of the readings of the Q0 curve; NAN without temperatures. */
  double wall_below_v_per_m; /**< Readings below it make the Q0 curve; 0: it is not known. */
  int64_t num_below;         /**< Readings of the Q0 curve below the onset; 0: no power. */
  int wall_terms;
  double wall_reference_v_per_m; /**< E_b of the curve below the onset. */
  /** 1/Q0 of the walls = sum of wall_coefficient[n] (E_acc / E_b)^n. */
  double wall_coefficient[CAVUM_NUM_EMISSION_TERMS];
  double wall_chi_squared; /**< NAN where no uncertainty of a reading is stated. */
  int wall_degrees_of_freedom;
  double wall_scaling;     /**< Of the uncertainties of readings, where chi squared wants it. */
  int64_t num_points;      /**< Of the test. */
  double *excess_sv_per_h; /**< Owned, shape [num_points]: radiation less background; NAN: not
                                read, or left out. */
  double *excess_uncertainty_sv_per_h; /**< Owned, shape [num_points], without the calibration. */
  cavum_estimate *power_w;  /**< Owned, shape [num_points]: what electrons take; NAN: below the
                                 onset, or another bath. */
  int64_t strongest;        /**< Point with the largest E_acc that has a power; -1: none. */
  cavum_emission_fit power; /**< Current in A: power over E_acc L_acc. */
  char caution[512];        /**< One line, or "". */
} cavum_field_emission;

/** What cavum_field_emission_evaluate() calls; struct_size is sizeof(cavum_field_emission). */
CAVUM_API cavum_status cavum_field_emission_evaluate_sized(
    cavum_field_emission *emission, size_t struct_size, const cavum_coldtest *test,
    const cavum_field_emission_options *options, cavum_error *error);

/**
 * Evaluates field emission.
 *
 * With [Fowler1928] in the form for a field that oscillates (as in [Padamsee1998] ch. 12, from
 * memory),
 *
 *     I = 5.7e-12 10^(4.52/sqrt(phi)) A_e (beta E)^2.5 / phi^1.75 exp(-6.53e9 phi^1.5/(beta E)),
 *
 * I in A, E the peak surface field in V/m, phi the work function in eV, beta the enhancement. So
 * ln(I / E^2.5) against 1/E is a straight line of slope -6.53e9 phi^1.5 / beta.
 *
 * Radiation is taken as in proportion to I: background + level f(E) is fitted to all readings that
 * carry radiation at once (weighted least squares, linear but for the slope), so that no reading is
 * chosen by what it shows and none below the background is lost in a logarithm. Errors of one
 * reading, of radiation and of E_acc, make its weight; what all share (calibrations, E_pk/E_acc,
 * phi, a stated background) is carried through the fit and not averaged away [JCGM100] 5.2.
 *
 * The onset is the E_acc at which the fitted emission is as large as the background times
 * `onset_over_background`: radiation is then twice the background. It needs no choice of readings
 * or of a last one without radiation. A stated dose rate can take the background's place.
 *
 * Electrons take what P_d exceeds that of the walls: 1/Q0 of the readings of one bath below the
 * gradient at which emission equals the background (less two uncertainties; whatever the criterion
 * of the onset is, since emission in the curve would hide the power) is fitted with a polynomial in
 * E_acc and continued above it: P = w U (1/Q0 - continued). Its uncertainty has that of the
 * reading, of the continuation and of all calibrations; that the walls follow the polynomial is
 * assumed. Electrons gain energy in proportion to the field, so P / (E_acc L_acc) stands for their
 * current, and gives an enhancement of its own.
 *
 * @param[out] emission  Release with cavum_field_emission_clear(); untouched unless CAVUM_OK.
 * @param[in]  test      Its points with radiation are used.
 * @param[in]  options   NULL: defaults.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given; options that never saw their defaults.
 * @retval CAVUM_ERR_INPUT  fewer readings of radiation than parameters; an option out of range.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_field_emission_evaluate(
    cavum_field_emission *emission, const cavum_coldtest *test,
    const cavum_field_emission_options *options, cavum_error *error) {
  return cavum_field_emission_evaluate_sized(emission, sizeof(cavum_field_emission), test, options,
                                             error);
}

/** Frees what it owns; NULL is accepted. */
CAVUM_API void cavum_field_emission_clear(cavum_field_emission *emission);

/** Emission part of a fit at a gradient, in the unit of its level; NAN when it has none. */
CAVUM_API double cavum_emission_fit_at(const cavum_emission_fit *fit, double e_acc_v_per_m);

/** Exponent 6.53e9 phi^1.5 in V/m of the emitted current, phi in eV. */
CAVUM_API double cavum_fowler_nordheim_slope_v_per_m(double work_function_ev);

#ifdef __cplusplus
}
#endif
#endif
