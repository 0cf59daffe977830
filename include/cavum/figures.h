// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures.h
 * The figures of merit: one table names each, its unit and its definition.
 *
 * Peak phasors, exp(+j omega t). U is the stored energy, omega = 2 pi f, V = |int E_z(0,z) exp(j
 * omega z/(beta c)) dz| over the whole axis of the domain, E_acc = V / L_acc. Surface integrals are
 * over `metal` alone. The definitions are those of the trade: H. Padamsee, J. Knobloch, T. Hays,
 * RF Superconductivity for Accelerators (1998), chapter 2.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_FIGURES_H
#define CAVUM_FIGURES_H

#include <stdbool.h>

#include "cavum/contour.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * Rows: name, key in JSON and HDF5, SI unit (UDUNITS spelling), long name, definition. Where the
 * key ends in another unit, files have the figure in that.
 */
#define CAVUM_FIGURE_TABLE(X)                                                                     \
  X(FREQUENCY, "frequency_Hz", "Hz", "frequency", "eigenfrequency f")                             \
  X(R_OVER_Q_LINAC, "r_over_q_linac_ohm", "ohm", "R/Q, linac convention", "V^2 / (omega U)")      \
  X(R_OVER_Q_CIRCUIT, "r_over_q_circuit_ohm", "ohm", "R/Q, circuit convention",                   \
    "V^2 / (2 omega U)")                                                                          \
  X(GEOMETRY_FACTOR, "geometry_factor_ohm", "ohm", "geometry factor G",                           \
    "2 omega U / oint |H|^2 dS over metal")                                                       \
  X(G_TIMES_R_OVER_Q, "g_times_r_over_q_linac_ohm2", "ohm2", "G x R/Q (linac)",                   \
    "product of the geometry factor and the linac R/Q")                                           \
  X(EPK_OVER_EACC, "epk_over_eacc", "1", "E_pk / E_acc",                                          \
    "largest |E| on metal over E_acc = V / L_acc")                                                \
  X(BPK_OVER_EACC, "bpk_over_eacc_mT_per_MV_per_m", "T/(V/m)", "B_pk / E_acc",                    \
    "largest mu0 |H| on metal over E_acc = V / L_acc")                                            \
  X(TRANSIT_TIME_FACTOR, "transit_time_factor", "1", "transit-time factor V / |int E_z dz|",      \
    "V over |int E_z(0,z) dz|")                                                                   \
  X(TRANSIT_TIME_FACTOR_ABS, "transit_time_factor_of_abs", "1",                                   \
    "transit-time factor V / int |E_z| dz", "V over int |E_z(0,z)| dz")                           \
  X(LOSS_FACTOR, "loss_factor_V_per_C", "V/C", "loss factor k_loss", "omega (R/Q linac) / 4")     \
  X(VOLTAGE_AT_1_J, "voltage_at_1_J_V", "V", "accelerating voltage V at U = 1 J",                 \
    "V for a stored energy of one joule")                                                         \
  X(EACC_AT_1_J, "eacc_at_1_J_V_per_m", "V/m", "gradient E_acc at U = 1 J",                       \
    "V / L_acc for a stored energy of one joule")                                                 \
  X(BETA_OPTIMUM, "beta_of_largest_r_over_q", "1", "beta of the largest R/Q",                     \
    "particle speed over c at which R/Q is largest, searched in 0.05 to 1")                       \
  X(R_OVER_Q_OPTIMUM, "r_over_q_linac_largest_ohm", "ohm", "largest R/Q over beta, linac",        \
    "V^2 / (omega U) at that beta")                                                               \
  X(SURFACE_RESISTANCE, "surface_resistance_ohm", "ohm", "surface resistance R_s",                \
    "of the stated wall at this frequency")                                                       \
  X(Q0, "q0", "1", "unloaded quality factor Q0", "G / R_s")                                       \
  X(SHUNT_IMPEDANCE, "shunt_impedance_linac_ohm", "ohm", "shunt impedance, linac",                \
    "V^2 / P_d = (R/Q linac) Q0")                                                                 \
  X(WALL_POWER, "wall_power_at_1_MV_per_m_W", "W", "dissipated power at E_acc = 1 MV/m",          \
    "(R_s / 2) oint |H|^2 dS over metal at E_acc = 1 MV/m, peak phasors")                         \
  X(TUBE_CUT_FREQUENCY, "tube_cut_frequency_change_Hz", "Hz", "change of f by the tube cut",      \
    "frequency with the tube ends magnetic less that with them electric, from the decayed field") \
  X(TUBE_CUT_R_OVER_Q, "tube_cut_r_over_q_linac_change_ohm", "ohm",                               \
    "change of R/Q by the tube cut",                                                              \
    "linac R/Q with the tube ends magnetic less that with them electric, from the decayed field")

/** Names of the figures, CAVUM_FIGURE_FREQUENCY first. */
typedef enum cavum_figure_id {
#define CAVUM_FIGURE_ENUM(name, key, unit, long_name, definition) CAVUM_FIGURE_##name,
  CAVUM_FIGURE_TABLE(CAVUM_FIGURE_ENUM)
#undef CAVUM_FIGURE_ENUM
      CAVUM_NUM_FIGURES
} cavum_figure_id;

/** What a figure is; static texts. */
typedef struct cavum_figure_info {
  const char *key;        /**< Key in JSON and HDF5, with the unit there. */
  const char *unit;       /**< SI unit of the value, "1" for ratios. */
  const char *long_name;  /**< For people. */
  const char *definition; /**< One line. */
} cavum_figure_info;

/** Description of a figure; of a number that no figure has, one with the key "unknown". */
CAVUM_API cavum_figure_info cavum_figure_describe(cavum_figure_id id);

/**
 * The figure of a key, which may end in another unit of the same quantity: "frequency_MHz" for
 * "frequency_Hz".
 *
 * @param[out] id        Untouched unless CAVUM_OK.
 * @param[out] unit_si   How many SI units one of the key's unit is: 1e6 for "frequency_MHz".
 * @param[in]  key       Of CAVUM_FIGURE_TABLE, or with such a unit.
 * @param[out] error     May be NULL; the message names the nearest key there is.
 * @retval CAVUM_ERR_INPUT  no figure of this key.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 */
CAVUM_API cavum_status cavum_figure_find(cavum_figure_id *id, double *unit_si, const char *key,
                                         cavum_error *error);

/** Whether a figure has a value. */
typedef enum cavum_figure_state {
  CAVUM_FIGURE_ABSENT = 0,   /**< Does not exist for this mode. */
  CAVUM_FIGURE_PRESENT = 1,  /**< value and uncertainty hold. */
  CAVUM_FIGURE_UNBOUNDED = 2 /**< Infinite: a sharp re-entrant corner at `at`. */
} cavum_figure_state;

/** What stands behind the number of a figure, and so what its uncertainty is of. */
typedef enum cavum_figure_basis {
  CAVUM_BASIS_COMPUTED = 0, /**< The solution: the uncertainty is numerical. */
  CAVUM_BASIS_STATED = 1,   /**< The cell states the number: the uncertainty is 0. */
  CAVUM_BASIS_FIT = 2,      /**< A fit to measured material: the uncertainty holds that of the fit,
                                 cavum_wall_resistance_error_ohm(), which is no bound. */
  CAVUM_BASIS_WITH_FIT = 3, /**< Computed for the surface resistance of such a fit, whose
                               uncertainty it does not hold: G / R_s is as uncertain as G. */
  CAVUM_BASIS_END_OF_RANGE = 4 /**< The largest value lies at an end of the range that was searched:
                                 no uncertainty where it stays there. */
} cavum_figure_basis;

/** One figure of one mode, in the SI unit of its table row. */
typedef struct cavum_figure {
  cavum_figure_state state;
  double value;
  double uncertainty; /**< Numerical, unless the basis says otherwise: the true value lies within
                           value +- uncertainty. */
  bool has_position;  /**< Peaks: `at` holds. */
  cavum_figure_basis basis;
  cavum_point at;
} cavum_figure;

#ifdef __cplusplus
}
#endif
#endif
