// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest.h
 * The cold test: measured powers and decay times to gradient, Q0 and surface resistance, with
 * uncertainties, for a cavity with one input coupler, at most one pickup and a few extra ports.
 *
 * All powers are at the cavity ports unless "at the meter" is said. Uncertainties are standard
 * uncertainties (k = 1) of [JCGM100] unless "expanded" is said. R/Q is in the linac convention,
 * V^2 / (w U); E_acc = V / L_acc. Decay times are energy decay times, tau = Q_L / w.
 * In rows and results a number that does not exist is NAN; it is absent in every output.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_H
#define CAVUM_COLDTEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cavum/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How an input quantity is distributed; the standard uncertainty is given in any case. */
typedef enum cavum_distribution {
  CAVUM_DISTRIBUTION_NORMAL,
  CAVUM_DISTRIBUTION_RECTANGULAR, /**< Half width sqrt(3) u. */
  CAVUM_DISTRIBUTION_ARCSINE      /**< Half width sqrt(2) u: a phase that is not known. */
} cavum_distribution;

/**
 * A quantity with its standard uncertainty. One that was not given is 0, one that a result does not
 * have is NAN: cavum_estimate_is_known() tells.
 */
typedef struct cavum_estimate {
  double value;
  double uncertainty; /**< Standard, >= 0, same unit. */
  cavum_distribution distribution;
} cavum_estimate;

/**
 * True when an estimate is there, in a setup as well as in a result: its value is a number, and
 * value or uncertainty differ from 0. False for NULL.
 */
CAVUM_API bool cavum_estimate_is_known(const cavum_estimate *estimate);

/** Ports whose power is read. */
typedef enum cavum_coldtest_channel_id {
  CAVUM_CHANNEL_FORWARD,
  CAVUM_CHANNEL_REFLECTED,   /**< Steady state. */
  CAVUM_CHANNEL_TRANSMITTED, /**< Pickup. */
  CAVUM_CHANNEL_EMITTED,     /**< Out of the input coupler, at switch-off. */
  CAVUM_CHANNEL_EXTRA,       /**< First of the extra ports. */
  CAVUM_MAX_EXTRA = 4,
  CAVUM_NUM_CHANNELS = CAVUM_CHANNEL_EXTRA + CAVUM_MAX_EXTRA
} cavum_coldtest_channel_id;

/** Rows for one influence of every channel: name prefix, key prefix, text prefix. */
#define CAVUM_COLDTEST_CHANNEL_INPUTS(X, NAME, key, text)         \
  X(NAME##_FORWARD, key "_forward", text ", forward")             \
  X(NAME##_REFLECTED, key "_reflected", text ", reflected")       \
  X(NAME##_TRANSMITTED, key "_transmitted", text ", transmitted") \
  X(NAME##_EMITTED, key "_emitted", text ", emitted")             \
  X(NAME##_EXTRA_1, key "_extra_1", text ", extra port 1")        \
  X(NAME##_EXTRA_2, key "_extra_2", text ", extra port 2")        \
  X(NAME##_EXTRA_3, key "_extra_3", text ", extra port 3")        \
  X(NAME##_EXTRA_4, key "_extra_4", text ", extra port 4")

/**
 * Input quantities of the uncertainty budget: name, key, text. They are independent of each other;
 * what readings have in common is one quantity here, so correlations need no matrix.
 * The quantities from NOISE_FORWARD on belong to one reading; all others are shared by
 * all readings of a test.
 */
#define CAVUM_COLDTEST_INPUT_TABLE(X)                                                       \
  X(COMMON_GAIN, "common_gain", "gain common to all meters")                                \
  X(INPUT_LINE, "input_line", "loss between the directional coupler and the cavity")        \
  CAVUM_COLDTEST_CHANNEL_INPUTS(X, GAIN, "gain", "meter gain")                              \
  CAVUM_COLDTEST_CHANNEL_INPUTS(X, CABLE, "cable", "cables and attenuators")                \
  CAVUM_COLDTEST_CHANNEL_INPUTS(X, ZERO, "zero", "meter zero")                              \
  X(DIRECTIVITY, "directivity",                                                             \
    "leak of the forward wave into the reflected meter, phase unknown")                     \
  X(FORWARD_DIRECTIVITY, "forward_directivity",                                             \
    "leak of the reflected wave into the forward meter, phase unknown")                     \
  X(CIRCULATOR, "circulator", "match of the circulator, phase unknown")                     \
  X(LOOP_PHASE, "loop_phase", "phase of the loop in the calibrations: drive off resonance") \
  X(DECAY, "decay", "decay-time fit and time base")                                         \
  X(FREQUENCY, "frequency", "frequency")                                                    \
  X(R_OVER_Q, "r_over_q", "R/Q")                                                            \
  X(LENGTH, "accelerating_length", "accelerating length")                                   \
  X(GEOMETRY_FACTOR, "geometry_factor", "geometry factor")                                  \
  X(EPK_OVER_EACC, "epk_over_eacc", "E_pk / E_acc")                                         \
  X(BPK_OVER_EACC, "bpk_over_eacc", "B_pk / E_acc")                                         \
  X(STATIC_HEAT, "static_heat", "static heat of the bath")                                  \
  X(BRANCH, "branch", "coupling branch of the calibrations, where it is not decided")       \
  X(PICKUP, "pickup", "calibration of the pickup, stated or by readings")                   \
  X(EXTERNAL, "external", "external quality factor, stated or by readings")                 \
  CAVUM_COLDTEST_CHANNEL_INPUTS(X, NOISE, "reading", "reading")                             \
  X(NOISE_DECAY, "reading_decay", "reading, decay time")                                    \
  X(NOISE_LOOP_PHASE, "reading_loop_phase",                                                 \
    "phase of the loop in this reading: drive off resonance")                               \
  X(NOISE_BRANCH, "reading_branch", "coupling branch of this reading, where it is not decided")

/** Names of the input quantities, CAVUM_INPUT_COMMON_GAIN first. */
typedef enum cavum_coldtest_input {
#define CAVUM_COLDTEST_INPUT_ENUM(name, key, text) CAVUM_INPUT_##name,
  CAVUM_COLDTEST_INPUT_TABLE(CAVUM_COLDTEST_INPUT_ENUM)
#undef CAVUM_COLDTEST_INPUT_ENUM
      CAVUM_NUM_INPUTS
} cavum_coldtest_input;

/** Input quantities that there is room for in budgets. */
enum { CAVUM_INPUTS_ROOM = 96 };

/** Key of an input quantity, as in JSON and HDF5; static. */
CAVUM_API const char *cavum_coldtest_input_key(cavum_coldtest_input input);

/** One line that says what an input quantity is; static. */
CAVUM_API const char *cavum_coldtest_input_text(cavum_coldtest_input input);

/** Results of one point: name, key with unit, unit, long name, definition. */
#define CAVUM_COLDTEST_QUANTITY_TABLE(X)                                                      \
  X(FORWARD, "forward_power_W", "W", "forward power", "at the cavity")                        \
  X(REFLECTED, "reflected_power_W", "W", "reflected power", "at the cavity, steady state")    \
  X(TRANSMITTED, "transmitted_power_W", "W", "transmitted power", "at the pickup port")       \
  X(WALL_POWER, "wall_power_W", "W", "dissipated power P_d", "P_f - P_r - P_t - extra ports") \
  X(COUPLING, "coupling", "1", "coupling beta*",                                              \
    "Q_eff / Q_e with 1/Q_eff = 1/Q0 + 1/Q_t + extra ports")                                  \
  X(Q_LOADED, "q_loaded", "1", "loaded Q", "w tau, tau the energy decay time")                \
  X(Q0, "q0", "1", "unloaded Q0", "w U / P_d")                                                \
  X(Q_EXTERNAL, "q_external", "1", "external quality factor Q_e", "Q_L (1 + beta*) / beta*")  \
  X(Q_PICKUP, "q_pickup", "1", "external Q of the pickup, Q_t", "w U / P_t")                  \
  X(STORED_ENERGY, "stored_energy_J", "J", "stored energy U",                                 \
    "Q_L (1 + beta*) (P_f - P_r) / w, or Q_t P_t / w")                                        \
  X(E_ACC, "gradient_V_per_m", "V m-1", "gradient E_acc", "V / L_acc")                        \
  X(VOLTAGE, "voltage_V", "V", "accelerating voltage V", "sqrt(w U R/Q), linac R/Q")          \
  X(E_PEAK, "peak_electric_field_V_per_m", "V m-1", "peak electric field",                    \
    "(E_pk / E_acc) E_acc, on the wall")                                                      \
  X(B_PEAK, "peak_magnetic_field_T", "T", "peak magnetic field",                              \
    "(B_pk / E_acc) E_acc, on the wall")                                                      \
  X(SURFACE_RESISTANCE, "surface_resistance_ohm", "ohm", "surface resistance R_s",            \
    "G / Q0, an average over the wall")                                                       \
  X(BATH_HEAT, "bath_heat_W", "W", "heat to the bath", "P_d + static heat of the bath")

/** Names of the results, CAVUM_QUANTITY_FORWARD first. */
typedef enum cavum_coldtest_quantity {
#define CAVUM_COLDTEST_QUANTITY_ENUM(name, key, unit, long_name, definition) CAVUM_QUANTITY_##name,
  CAVUM_COLDTEST_QUANTITY_TABLE(CAVUM_COLDTEST_QUANTITY_ENUM)
#undef CAVUM_COLDTEST_QUANTITY_ENUM
      CAVUM_NUM_QUANTITIES
} cavum_coldtest_quantity;

/** What a result is; static texts. */
typedef struct cavum_coldtest_quantity_info {
  const char *key, *unit, *long_name, *definition;
} cavum_coldtest_quantity_info;

/** Description of a result. */
CAVUM_API cavum_coldtest_quantity_info
cavum_coldtest_describe_quantity(cavum_coldtest_quantity quantity);

/** Which side of critical coupling the input coupler is on. */
typedef enum cavum_branch {
  CAVUM_BRANCH_DECIDE, /**< From emitted against forward power, and from Q_t and Q_e, which are
                            constants of the whole test. */
  CAVUM_BRANCH_OVER,   /**< beta* > 1. */
  CAVUM_BRANCH_UNDER,  /**< beta* < 1. */
  CAVUM_BRANCH_UNKNOWN /**< Result only: nothing decides, and the result does not depend on it. */
} cavum_branch;

/** Word for a branch: "decide", "over", "under", "unknown"; static. */
CAVUM_API const char *cavum_branch_name(cavum_branch branch);

/** Where the coupling of a decay calibration comes from. */
typedef enum cavum_coupling_method {
  CAVUM_COUPLING_REFLECTED, /**< (1 + rho)/(1 - rho), rho = +- sqrt(P_r / P_f), + overcoupled. */
  CAVUM_COUPLING_EMITTED,   /**< 1 / (2 sqrt(P_f / P_e) - 1). */
  CAVUM_COUPLING_BOTH,      /**< 1 / (1 - 2 a / sqrt(P_e)), a = +- sqrt(P_r), + overcoupled. */
  CAVUM_NUM_COUPLING_METHODS,
  CAVUM_COUPLING_AUTO =
      CAVUM_NUM_COUPLING_METHODS /**< Reflected where it was read, else emitted. */
} cavum_coupling_method;

/** Word for a coupling method: "reflected", "emitted", "both", "auto"; static. */
CAVUM_API const char *cavum_coupling_method_name(cavum_coupling_method method);

/** Which readings give Q0 by which method. */
typedef enum cavum_q0_method {
  CAVUM_Q0_AUTO,  /**< Readings with a decay time by decay, all others by the pickup. */
  CAVUM_Q0_DECAY, /**< All by decay; a reading without decay time is an error. */
  CAVUM_Q0_PICKUP /**< All by the pickup; those with a decay time also calibrate it. */
} cavum_q0_method;

/** Word for a Q0 method: "auto", "decay", "pickup"; static. */
CAVUM_API const char *cavum_q0_method_name(cavum_q0_method method);

/** Calibration of one channel, from the cavity port to the meter. */
typedef struct cavum_coldtest_channel {
  char name[32];         /**< Extra ports: as in the column header. */
  int chain;             /**< Channel whose meter and cables carry this one; itself mostly. */
  double attenuation_db; /**< P_cavity = P_meter 10^(attenuation / 10). */
  double attenuation_uncertainty_db;
  double gain_uncertainty; /**< Relative, of this meter alone. */
  double zero_w;           /**< Reading of the meter without power. */
  double zero_uncertainty_w;
  double noise; /**< Relative, of one reading. */
} cavum_coldtest_channel;

/** A stated limit that results are compared with. It is never a pass mark. */
typedef struct cavum_coldtest_limit {
  char name[64];
  char source[256]; /**< Where the number comes from; never empty. */
  cavum_coldtest_quantity quantity;
  double value; /**< In the unit of the quantity. */
} cavum_coldtest_limit;

/** Most limits of one test. */
enum { CAVUM_MAX_LIMITS = 16 };

/** All about a test that is not a reading. Members are appended only. */
typedef struct cavum_coldtest_setup {
  size_t struct_size; /**< Set by cavum_coldtest_setup_default(). */
  char title[256];
  bool growing;            /**< The file of the readings is still being written: its last line
                                counts when it has ended. */
  char ended[256];         /**< Why the test ended, in words; "": not said. */
  char geometry_from[256]; /**< Where the figures come from, for the report. */
  cavum_estimate r_over_q_linac_ohm;
  cavum_estimate accelerating_length_m;
  cavum_estimate geometry_factor_ohm;         /**< May be absent: then no R_s. */
  cavum_estimate epk_over_eacc;               /**< May be absent. */
  cavum_estimate bpk_over_eacc_t_per_v_per_m; /**< May be absent; 1e-9 is 1 mT/(MV/m). */
  double frequency_hz;          /**< For readings without one; 0: each must have one. */
  double cell_frequency_hz;     /**< Computed, of the mode that the figures are of; 0: not known. */
  double frequency_uncertainty; /**< Relative. */
  int num_extra;                /**< Extra ports in use, 0 to CAVUM_MAX_EXTRA. */
  cavum_coldtest_channel channels[CAVUM_NUM_CHANNELS];
  double common_gain_uncertainty; /**< Relative, of all meters alike. */
  double input_line_loss_db;      /**< Between directional coupler and cavity; lowers P_f, raises
                                       P_r and P_e as seen at the coupler. */
  double input_line_uncertainty_db;
  double directivity_db;            /**< 0: perfect. Leak amplitude 10^(-D/20) of the forward wave
                                                 into the reflected meter. */
  double circulator_return_loss_db; /**< 0: perfect. */
  /** Of the angle in radian by which the drive is off resonance: its tangent is the detuning in
      half bandwidths, f / (2 Q_L). One sign or the other, it makes the reflection larger. */
  double loop_phase_uncertainty_rad;
  double decay_uncertainty;         /**< Relative, systematic: fit window, time base. */
  double decay_noise;               /**< Relative, of one reading. */
  double temperature_uncertainty_k; /**< Of one bath temperature. */
  double temperature_common_k;      /**< Calibration of the thermometer, common to all readings. */
  cavum_estimate static_heat_w;     /**< What the bath takes up without any power; absent: not
                                         known. By boil-off with the drive off, for example. */
  cavum_coupling_method coupling;
  cavum_branch branch;
  cavum_q0_method q0_method;
  cavum_estimate q_pickup;   /**< Stated Q_t; absent: from the readings with a decay time. */
  cavum_estimate q_external; /**< Stated Q_e; absent: from the readings with a decay time. */
  bool coupler_moved;        /**< The input coupler was moved between readings: Q_e is no constant
                                  of the test, and Q_t with the emitted power decides branches. */
  double coverage;           /**< Probability of expanded intervals, for example 0.95. */
  uint64_t seed;             /**< Of the Monte Carlo draws. */
  int digits;                /**< Significant digits of u that must be stable, 1 or 2. */
  int64_t max_draws;         /**< At most this many per point. */
  int num_limits;
  cavum_coldtest_limit limits[CAVUM_MAX_LIMITS];
  double forward_directivity_db; /**< 0: perfect. Leak amplitude 10^(-D/20) of the reflected wave
                                      into the forward meter. */
} cavum_coldtest_setup;

/** What cavum_coldtest_setup_default() calls; struct_size is sizeof(cavum_coldtest_setup). */
CAVUM_API void cavum_coldtest_setup_set_defaults(cavum_coldtest_setup *setup, size_t struct_size);

/**
 * A setup without calibration: perfect meters, no losses, auto methods, coverage 0.95, two digits,
 * 4e6 draws at most, emitted power through the reflected chain.
 */
static inline cavum_coldtest_setup cavum_coldtest_setup_default(void) {
  cavum_coldtest_setup setup;
  cavum_coldtest_setup_set_defaults(&setup, sizeof setup);
  return setup;
}

/** Runs of one test, and bytes of a name with its zero. */
enum { CAVUM_MAX_RUNS = 64, CAVUM_RUN_NAME_SIZE = 64 };

/** One row of readings. NAN where nothing was read. */
typedef struct cavum_coldtest_reading {
  double power_w[CAVUM_NUM_CHANNELS]; /**< At the meter. */
  double decay_time_s;                /**< Of the energy. */
  double frequency_hz;
  double bath_temperature_k;
  double radiation_sv_per_h;
  int64_t line; /**< In the file, for messages; 0: none. */
  double bath_pressure_pa;
  int32_t note;        /**< Where its note begins in cavum_coldtest_readings.notes; 0: none. */
  int32_t run;         /**< Number of its run, from 1; 0: none is named. */
  cavum_branch branch; /**< OVER or UNDER where it is stated for this reading, else DECIDE. */
} cavum_coldtest_reading;

/** A reading with nothing in it. */
CAVUM_API cavum_coldtest_reading cavum_coldtest_reading_empty(void);

/** A row that is not evaluated, and why. */
typedef struct cavum_coldtest_set_aside {
  int64_t line;     /**< In the file; 0: none. */
  char reason[512]; /**< One line. */
} cavum_coldtest_set_aside;

/**
 * Readings of a test: read from a table (coldtest_file.h), or filled in by the program, which sets
 * all bytes to 0 first and then num_readings and items, an array of its own; nothing is freed then
 * but by the program.
 */
typedef struct cavum_coldtest_readings {
  int64_t num_readings;
  cavum_coldtest_reading *items; /**< Owned, shape [num_readings]. */
  char file[256];                /**< For messages. */
  int64_t num_set_aside;
  cavum_coldtest_set_aside *set_aside; /**< Owned, shape [num_set_aside]: rows that are not among
                                            the items, in the order in which they were found. */
  char *notes; /**< Owned, shape [notes_size]: zero-terminated texts; NULL: no reading has one. */
  int64_t notes_size;
  char *text; /**< Owned: the file as it was read; NULL: not from a file, or above 16 MB. */
  int num_runs;
  char runs[CAVUM_MAX_RUNS][CAVUM_RUN_NAME_SIZE]; /**< Names of the runs, in the order of their
                                                       first rows. */
  char sha256[65]; /**< Of that file, also when its text is not kept; "": not from a file. */
} cavum_coldtest_readings;

/**
 * Adds a row to those set aside.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_set_row_aside(cavum_coldtest_readings *readings, int64_t line,
                                                    const char *reason, cavum_error *error);

/** Frees the readings; NULL is accepted. */
CAVUM_API void cavum_coldtest_readings_clear(cavum_coldtest_readings *readings);

/** What a result should be read with: name, key, text. */
#define CAVUM_COLDTEST_FLAG_TABLE(X)                                                              \
  X(COUPLING_FAR, "coupling_far",                                                                 \
    "coupling beta* outside 0.5 to 2.5: power-only results degrade quickly there")                \
  X(BRANCH_AMBIGUOUS, "branch_ambiguous",                                                         \
    "the readings do not decide the coupling branch: the uncertainty holds both")                 \
  X(BRANCH_UNKNOWN, "branch_unknown",                                                             \
    "nothing decides the coupling branch: coupling, Q_L and Q_e are not given")                   \
  X(PICKUP_NOT_SMALL, "pickup_not_small", "the transmitted power is more than 5 % of P_d")        \
  X(NO_PICKUP, "no_pickup", "no transmitted power: the one-port formulas count it to P_d")        \
  X(REFLECTION_UNRESOLVED, "reflection_unresolved",                                               \
    "reflected power is below twice its uncertainty: the linear propagation is rough")            \
  X(INCONSISTENT, "couplings_inconsistent",                                                       \
    "the couplings from reflected and emitted power disagree beyond their uncertainty")           \
  X(LOSS_UNRESOLVED, "loss_unresolved",                                                           \
    "the dissipated power is a difference below three times its uncertainty")                     \
  X(DIRECTIVITY_LARGE, "directivity_large",                                                       \
    "the leak of the directional coupler may exceed the reflected wave")                          \
  X(EXTERNAL_DRIFT, "external_drift",                                                             \
    "Q_e is more than three uncertainties from its calibration (by chance 1 reading in 370): "    \
    "branch, tuning or a reading may be wrong")                                                   \
  X(RESONANCE_UNCHECKED, "resonance_unchecked",                                                   \
    "emitted power was not read and no loop phase is stated: a drive off resonance looks like a " \
    "mismatch and makes Q0 wrong unseen")                                                         \
  X(LEFT_OUT, "left_out_of_calibration",                                                          \
    "all other readings with a decay time agree without this one: it gives neither Q_t nor Q_e")

/** Bits of cavum_coldtest_point.flags. */
typedef enum cavum_coldtest_flag {
#define CAVUM_COLDTEST_FLAG_ENUM(name, key, text) CAVUM_FLAG_INDEX_##name,
  CAVUM_COLDTEST_FLAG_TABLE(CAVUM_COLDTEST_FLAG_ENUM)
#undef CAVUM_COLDTEST_FLAG_ENUM
      CAVUM_NUM_FLAGS
} cavum_coldtest_flag;

/** Key of a flag, as in JSON and CSV; static. */
CAVUM_API const char *cavum_coldtest_flag_key(cavum_coldtest_flag flag);

/** Text of a flag; static. */
CAVUM_API const char *cavum_coldtest_flag_text(cavum_coldtest_flag flag);

/** Results of one reading. There may be a million: what is seldom asked for is in
    cavum_coldtest_checks. */
typedef struct cavum_coldtest_point {
  double value[CAVUM_NUM_QUANTITIES];       /**< SI; NAN: absent. */
  double uncertainty[CAVUM_NUM_QUANTITIES]; /**< Standard, linear propagation. */
  double correlation;                       /**< Of Q0 and E_acc, -1 to 1; 0 without uncertainty. */
  uint32_t flags;                           /**< Bit (1 << CAVUM_FLAG_INDEX_...). */
  bool by_decay;                            /**< Decay calibration; else pickup. */
  cavum_branch branch;                      /**< OVER, UNDER or UNKNOWN. */
  cavum_coupling_method method;             /**< Used for the coupling. */
} cavum_coldtest_point;

/** What the readings of one point say of each other, and of the directional coupler. */
typedef struct cavum_coldtest_checks {
  double coupling_by[CAVUM_NUM_COUPLING_METHODS]; /**< Coupling by each method, or NAN. */
  double coupling_by_uncertainty[CAVUM_NUM_COUPLING_METHODS]; /**< Standard, or NAN. */
  double disagreement; /**< Largest difference of two couplings over its uncertainty; NAN: one. */
  double q0_bounds[2]; /**< Q0 for the two extreme phases of the directivity leak, or NAN. */
  double e_acc_bounds_v_per_m[2]; /**< E_acc likewise. */
} cavum_coldtest_checks;

/** Calibration that the readings share. */
typedef struct cavum_coldtest_calibration {
  int64_t num_readings;   /**< With a decay time, that gave it; 0: stated. */
  cavum_estimate value;   /**< Absent when nothing gave it. */
  double chi_squared;     /**< Scatter about the mean over the uncertainty of the readings, with
                               the errors that they share. */
  int degrees_of_freedom; /**< num_readings - 1, or 0. */
} cavum_coldtest_calibration;

/** A test, evaluated; opaque beside the getters. */
typedef struct cavum_coldtest cavum_coldtest;

/**
 * Evaluates all readings, with linear uncertainties.
 *
 * Decay calibration: Q_L = w tau, the coupling by one of the three methods,
 * U = Q_L (1 + beta*)(P_f - P_r)/w, Q0 = Q_L (1 + beta_e + beta_t + extra). Pickup:
 * w U = Q_t P_t, Q0 = Q_t P_t / P_d. Both E_acc = sqrt(R/Q w U) / L_acc.
 * [Powers2005], [Padamsee1998] ch. 8 (not checked against the source); [JCGM100] 5.2 for the
 * propagation. Readings that no cavity can give, or that lack what the method needs, are set aside
 * with their reason; the others are the points.
 *
 * @param[out] test      New test (cavum_coldtest_destroy()); untouched unless CAVUM_OK.
 * @param[in]  setup     Copied.
 * @param[in]  readings  Copied.
 * @param[out] error     Names file, line and column of a bad reading. May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  every reading is set aside (the message is the first reason); no
 *                          readings; a setup out of range, or one that cannot be meant.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_evaluate(cavum_coldtest **test,
                                               const cavum_coldtest_setup *setup,
                                               const cavum_coldtest_readings *readings,
                                               cavum_error *error);

/** Frees a test and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_coldtest_destroy(cavum_coldtest **test);

/** Number of points, one for each reading that is not set aside. */
CAVUM_API int64_t cavum_coldtest_num_points(const cavum_coldtest *test);

/** Results of one point, borrowed; index from 0; NULL when there is none. */
CAVUM_API const cavum_coldtest_point *cavum_coldtest_get_point(const cavum_coldtest *test,
                                                               int64_t index);

/**
 * Couplings and bounds of one point, worked out anew from its reading.
 * @param[out] checks  Untouched unless CAVUM_OK.
 * @param[in]  test    Evaluated test.
 * @param[in]  index   Point, from 0.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such point.
 */
CAVUM_API cavum_status cavum_coldtest_check_point(cavum_coldtest_checks *checks,
                                                  const cavum_coldtest *test, int64_t index,
                                                  cavum_error *error);

/** The reading of one point, borrowed; index from 0; NULL when there is none. */
CAVUM_API const cavum_coldtest_reading *cavum_coldtest_get_reading(const cavum_coldtest *test,
                                                                   int64_t index);

/** The note of one point, one line, borrowed; index from 0; "" when it has none. */
CAVUM_API const char *cavum_coldtest_get_note(const cavum_coldtest *test, int64_t index);

/** Number of runs that readings name: before and after a quench, a warm-up, a bake. */
CAVUM_API int cavum_coldtest_num_runs(const cavum_coldtest *test);

/** Name of a run, one line, borrowed; number from 1; "" when there is none. */
CAVUM_API const char *cavum_coldtest_get_run_name(const cavum_coldtest *test, int number);

/** One run against the first. */
typedef struct cavum_coldtest_run_summary {
  int64_t num_points, first_point; /**< The first from 0; -1: all its rows are set aside. */
  double lowest_e_acc_v_per_m, highest_e_acc_v_per_m;
  double lowest_temperature_k, highest_temperature_k; /**< NAN: no bath temperatures. */
  cavum_estimate q0_ratio;    /**< Q0 over that of the first run; NAN: no two readings compare. */
  double ratio_e_acc_v_per_m; /**< Where it is taken. */
} cavum_coldtest_run_summary;

/**
 * Sums up a run and compares it with the first: Q0 of a pair of readings whose gradients are within
 * 5 % and whose bath temperatures (where both have one) are within 20 mK, at the largest such
 * gradient. What the two share (calibrations, lines, R/Q) leaves the ratio [JCGM100] 5.2.
 * @param[out] summary  Untouched unless CAVUM_OK.
 * @param[in]  test     Evaluated test.
 * @param[in]  number   From 1.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  no such run.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_summarise_run(cavum_coldtest_run_summary *summary,
                                                    const cavum_coldtest *test, int number,
                                                    cavum_error *error);

/** Number of rows that were set aside, by the reader of the file or as what no cavity can give. */
CAVUM_API int64_t cavum_coldtest_num_set_aside(const cavum_coldtest *test);

/** One of them, borrowed; index from 0; NULL: no such row. */
CAVUM_API const cavum_coldtest_set_aside *cavum_coldtest_get_set_aside(const cavum_coldtest *test,
                                                                       int64_t index);

/** Number of remarks: what is stated, but can hardly be meant. */
CAVUM_API int cavum_coldtest_num_remarks(const cavum_coldtest *test);

/** One remark, a line of text, borrowed; index from 0; NULL: no such remark. */
CAVUM_API const char *cavum_coldtest_get_remark(const cavum_coldtest *test, int index);

/** The setup, borrowed. */
CAVUM_API const cavum_coldtest_setup *cavum_coldtest_get_setup(const cavum_coldtest *test);

/** Pickup calibration Q_t. */
CAVUM_API cavum_coldtest_calibration cavum_coldtest_get_pickup(const cavum_coldtest *test);

/** Input coupler Q_e of the readings with a decay time, or as stated. */
CAVUM_API cavum_coldtest_calibration cavum_coldtest_get_external(const cavum_coldtest *test);

/** Uncertainty budget of one result: signed contributions in the unit of the result. */
typedef struct cavum_coldtest_budget {
  double value;
  double uncertainty;                     /**< Root of the sum of the squares. */
  double contribution[CAVUM_INPUTS_ROOM]; /**< (d result / d input) u(input); 0 from
                                               CAVUM_NUM_INPUTS on. */
} cavum_coldtest_budget;

/**
 * Budget of one result of one point.
 * @param[out] budget    Untouched unless CAVUM_OK.
 * @param[in]  test      Evaluated test.
 * @param[in]  index     Point, from 0.
 * @param[in]  quantity  A result that the point has.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such point.
 * @retval CAVUM_ERR_INPUT  the point has no such result.
 */
CAVUM_API cavum_status cavum_coldtest_make_budget(cavum_coldtest_budget *budget,
                                                  const cavum_coldtest *test, int64_t index,
                                                  cavum_coldtest_quantity quantity,
                                                  cavum_error *error);

/**
 * Budget of a calibration, Q_t or Q_e, in which the readings that made it count as one input.
 * @param[out] budget    Untouched unless CAVUM_OK.
 * @param[in]  test      Evaluated test.
 * @param[in]  quantity  CAVUM_QUANTITY_Q_PICKUP or CAVUM_QUANTITY_Q_EXTERNAL.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, or another quantity.
 * @retval CAVUM_ERR_INPUT  the test has no such calibration.
 */
CAVUM_API cavum_status cavum_coldtest_make_calibration_budget(cavum_coldtest_budget *budget,
                                                              const cavum_coldtest *test,
                                                              cavum_coldtest_quantity quantity,
                                                              cavum_error *error);

/**
 * Coverage factor of a result: how many of its standard uncertainties hold the truth with a
 * probability. 1.96 for 95 % where the parts are normal. A leak of the directional coupler and the
 * match of a circulator enter by the cosine of an unknown phase: where one dominates, 1.41 standard
 * uncertainties hold 95 % already. The distribution is that of the sum [JCGM101] 6.4.6.
 * @param[in] budget    A budget of this library.
 * @param[in] coverage  Probability, for example 0.95.
 * @return The factor; NaN for NULL or a coverage that is not between 0 and 1.
 */
CAVUM_API double cavum_coldtest_budget_coverage_factor(const cavum_coldtest_budget *budget,
                                                       double coverage);

/**
 * Covariance of two results of two points, through all that they share.
 * @param[out] covariance  In the product of the two units; untouched unless CAVUM_OK.
 * @param[in]  test        Evaluated test.
 * @param[in]  first, second        Points, from 0.
 * @param[in]  of_first, of_second  Results that the points have.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such point.
 * @retval CAVUM_ERR_INPUT  a point has no such result.
 */
CAVUM_API cavum_status cavum_coldtest_covariance(double *covariance, const cavum_coldtest *test,
                                                 int64_t first, cavum_coldtest_quantity of_first,
                                                 int64_t second, cavum_coldtest_quantity of_second,
                                                 cavum_error *error);

/** Results that are propagated by Monte Carlo. */
enum { CAVUM_MC_Q0, CAVUM_MC_E_ACC, CAVUM_MC_SURFACE_RESISTANCE, CAVUM_NUM_MC };

/** Distribution of one result. */
typedef struct cavum_coldtest_distribution {
  double mean, uncertainty; /**< Mean and standard deviation of the draws. */
  double median;
  double low, high;                     /**< Shortest interval of the coverage probability. */
  double symmetric_low, symmetric_high; /**< Interval with equal probability on both sides. */
  double linear_low, linear_high;       /**< value -+ k u of the linear propagation. */
  bool linear_holds;                    /**< Ends agree within one significant digit of u. */
} cavum_coldtest_distribution;

/** Outcome of a Monte Carlo propagation. */
typedef struct cavum_coldtest_monte_carlo {
  int64_t num_draws;
  int64_t num_impossible; /**< Draws that no cavity can give (no dissipated power); left out. */
  bool stable;            /**< The digits asked for are stable within max_draws. */
  cavum_coldtest_distribution results[CAVUM_NUM_MC]; /**< R_s: NAN without a geometry factor. */
} cavum_coldtest_monte_carlo;

/**
 * Propagates the distributions of all inputs to one point by Monte Carlo [JCGM101], adaptively
 * (7.9.4): blocks are added until twice the standard deviation of the mean, u and both interval
 * ends over the blocks is below half a unit of the last of setup->digits digits of u.
 *
 * The draws depend on setup->seed and the index alone. A point by pickup draws its calibration
 * readings anew each time, with the gains that it shares with them.
 *
 * @param[out] outcome    Untouched unless CAVUM_OK.
 * @param[in]  test       An evaluated test.
 * @param[in]  index      Point, from 0.
 * @param[in]  num_draws  0: adaptive; else this many (rounded up to whole blocks).
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such point.
 * @retval CAVUM_ERR_NOT_CONVERGED  more than 1 % of the draws are impossible.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_run_monte_carlo(cavum_coldtest_monte_carlo *outcome,
                                                      const cavum_coldtest *test, int64_t index,
                                                      int64_t num_draws, cavum_error *error);

/** Coverage factor k of a normal distribution, for example 1.96 for 0.95. */
CAVUM_API double cavum_coldtest_coverage_factor(double coverage);

/** A cavity in the circuit model. */
typedef struct cavum_circuit {
  double frequency_hz;
  double q0, q_external;
  double q_pickup;                 /**< INFINITY: no pickup. */
  double q_extra[CAVUM_MAX_EXTRA]; /**< 0 or INFINITY: no such port. */
} cavum_circuit;

/** What a circuit does at a stored energy. */
typedef struct cavum_circuit_state {
  double power_w[CAVUM_NUM_CHANNELS]; /**< By channel; EMITTED at switch-off. */
  double wall_power_w;
  double q_loaded, coupling; /**< Q_L and beta*. */
  double decay_time_s;       /**< Of the energy. */
  double bandwidth_hz;       /**< Full width at half power, f / Q_L. */
} cavum_circuit_state;

/**
 * Steady state on resonance: P_d = w U / Q0, P_t = w U / Q_t, P_e = w U / Q_e,
 * P_f = (1 + beta*)^2 / (4 beta*) (P_d + P_t + extra), P_r = ((beta* - 1)/(beta* + 1))^2 P_f.
 * [Padamsee1998] ch. 8 (not checked against the source).
 * @param[out] state            Untouched unless CAVUM_OK.
 * @param[in]  circuit          All > 0.
 * @param[in]  stored_energy_j  > 0.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  a value that is not positive.
 */
CAVUM_API cavum_status cavum_circuit_drive(cavum_circuit_state *state, const cavum_circuit *circuit,
                                           double stored_energy_j, cavum_error *error);

/** Energy decay time from the slope of a logarithmic trace in dB per second. */
CAVUM_API double cavum_decay_time_from_slope_s(double slope_db_per_s);

/** Watts of a power in dBm. */
CAVUM_API double cavum_watts_from_dbm(double dbm);

/** A short section on the hazards of a cold test, for the foot of every report; static. */
CAVUM_API const char *cavum_coldtest_cautions(void);

#ifdef __cplusplus
}
#endif
#endif
