// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/coldtest_private.h
 * What the files of the cold-test room share: scaled inputs, calibrated readings, the inversion.
 *
 * The one private header of the room, beside those of its algorithms (dual, draws, sample,
 * parabola, resistance). Who calls whom, without circles:
 *
 *     setup.c, port_power.c (meter to cavity port) <- inversion_reflection.c,
 *       inversion_branch.c, inversion_coupling.c <- inversion.c (circuit equations, with budgets)
 *       <- reading.c (one reading of a test) <- calibration.c (Q_t, Q_e)
 *       <- branch_fit.c, branch_search.c (one Q_t and one Q_e for all: which sides agree)
 *       <- disagreement.c (moved couplers, wrong readings) <- branch.c (over- or undercoupled)
 *       <- constancy.c, evaluate.c (points), plausibility.c, constancy_remark.c
 *
 * monte_carlo.c runs the first two steps on draws (draws.c).
 */
#ifndef CAVUM_COLDTEST_COLDTEST_PRIVATE_H
#define CAVUM_COLDTEST_COLDTEST_PRIVATE_H

#include "coldtest/dual.h"

/** ln(10) / 10: a relative power change is this times a change in dB. */
#define CAVUM_NEPER_PER_DB 0.23025850929940456840

/** No cavity has reached it. */
#define CAVUM_COLDTEST_LARGEST_GRADIENT_V_PER_M 100e6

/** Remarks on a test. */
enum { CAVUM_MAX_REMARKS = 24, CAVUM_REMARK_SIZE = 256 };

/** First input that belongs to one reading alone. */
enum { CAVUM_FIRST_LOCAL_INPUT = CAVUM_INPUT_NOISE_FORWARD };

/**
 * Standard uncertainties and distributions of the inputs. Units: relative for gains, readings,
 * decay times, frequency and figures; dB for cables and the input line; W at the meter for zeros;
 * the cosine of an unknown phase for both directivities and circulator; radian for the loop phase.
 */
typedef struct cavum_coldtest_inputs {
  double uncertainty[CAVUM_NUM_INPUTS];
  cavum_distribution distribution[CAVUM_NUM_INPUTS];
  double factor[CAVUM_NUM_CHANNELS]; /**< From meter to cavity; cavum_coldtest_channel_factor(). */
  double coverage_factor;            /**< k of the coverage of the setup. */
  double detuning;                   /**< At k uncertainties of the loop phase, half bandwidths. */
  double leak_amplitude;             /**< At the cavity: 10^(-D/20) 10^(line/10), or 0. */
  double forward_leak_amplitude;     /**< At the cavity: 10^(-D/20) 10^(-line/10), or 0. */
  double circulator_amplitude;       /**< At the cavity: 10^(-R/20) 10^(-line/10), or 0. */
} cavum_coldtest_inputs;

/** Checks a setup and derives its inputs. */
cavum_status cavum_coldtest_make_inputs(cavum_coldtest_inputs *inputs,
                                        const cavum_coldtest_setup *setup, cavum_error *error);

/** A reading at the cavity ports. */
typedef struct cavum_calibrated {
  bool has[CAVUM_NUM_CHANNELS];
  cavum_dual power[CAVUM_NUM_CHANNELS]; /**< W at the cavity. */
  bool has_decay;
  cavum_dual decay_time_s; /**< Without the circulator. */
  cavum_dual omega;        /**< rad/s. */
} cavum_calibrated;

/** Where a reading stands, for messages. */
typedef struct cavum_reading_place {
  const char *file;
  int64_t index; /**< From 0. */
  int64_t line;  /**< 0: none. */
} cavum_reading_place;

/** Starts an error about one reading: "file:line: " or "reading N: "; shape [300]. */
void cavum_reading_place_text(char text[300], const cavum_reading_place *place);

/** Carries one reading to the cavity ports. CAVUM_ERR_INPUT for values that cannot be. */
cavum_status cavum_coldtest_calibrate(cavum_calibrated *calibrated,
                                      const cavum_coldtest_setup *setup,
                                      const cavum_coldtest_inputs *inputs,
                                      const cavum_coldtest_reading *reading,
                                      const cavum_reading_place *place, cavum_error *error);

/** Name of a channel, for messages. */
const char *cavum_coldtest_channel_name(const cavum_coldtest_setup *setup, int channel);

/** Factor from meter to cavity of a channel at the estimates of all inputs. */
double cavum_coldtest_channel_factor(const cavum_coldtest_setup *setup, int channel);

/** Sign of the input-line exponent of a channel: -1 forward, +1 reflected and emitted, else 0. */
double cavum_coldtest_line_sign(int channel);

/** Net reading of a meter, W; a reflected power below the zero within its uncertainty gives 0. */
double cavum_coldtest_net_power_w(const cavum_coldtest_setup *setup, int channel, double power_w);

/** Results of one reading with their budgets. */
typedef struct cavum_inverted {
  bool has[CAVUM_NUM_QUANTITIES];
  cavum_dual result[CAVUM_NUM_QUANTITIES];
  cavum_branch branch;
  cavum_coupling_method method;
  double coupling_by[CAVUM_NUM_COUPLING_METHODS];
  double coupling_by_uncertainty[CAVUM_NUM_COUPLING_METHODS];
  double branch_distance; /**< Of what decided the branch from the other one, over its uncertainty;
                               INFINITY: stated, or exact. */
  bool has_mismatch;
  cavum_dual mismatch; /**< Reflection from reflected less that from emitted power. */
  double disagreement;
  double bounds[2][2]; /**< Q0 and E_acc at the two extreme phases of the leak. */
  uint32_t flags;
} cavum_inverted;

/**
 * Puts all that follows from w U and the wall power into an inverted reading: Q0, Q_t, stored
 * energy, fields, surface resistance, heat to the bath. `transmitted` NULL: no pickup.
 */
void cavum_coldtest_put_fields(cavum_inverted *out, const cavum_coldtest_setup *setup,
                               const cavum_dual *flow, const cavum_dual *wall,
                               const cavum_dual *omega, const cavum_dual *transmitted);

/** All that the inversion of a reading needs beside the reading. */
typedef struct cavum_inversion_context {
  cavum_branch forced; /**< DECIDE: not. */
  const cavum_coldtest_setup *setup;
  const cavum_coldtest_inputs *inputs;
  const cavum_dual *q_pickup;   /**< NULL: none known. */
  const cavum_dual *q_external; /**< NULL: none known. */
  double pickup_ratio; /**< Measured over stated Q_t where the decays contradict the stated one,
                            which then decides no branch; else 1. */
} cavum_inversion_context;

/** Inverts one calibrated reading by its decay time. */
cavum_status cavum_coldtest_invert_decay(cavum_inverted *inverted,
                                         const cavum_inversion_context *context,
                                         const cavum_calibrated *calibrated,
                                         const cavum_reading_place *place, cavum_error *error);

/** Inverts one calibrated reading by the pickup; context->q_pickup is not NULL. */
cavum_status cavum_coldtest_invert_pickup(cavum_inverted *inverted,
                                          const cavum_inversion_context *context,
                                          const cavum_calibrated *calibrated,
                                          const cavum_reading_place *place, cavum_error *error);

/** R/Q, L, G, E_pk/E_acc or B_pk/E_acc as a number with its part. */
cavum_dual cavum_coldtest_figure(const cavum_estimate *estimate, cavum_coldtest_input input);

/** Cavity quantities of one draw, as plain numbers; reflection has the sign of its branch. */
typedef struct cavum_draw {
  double forward_w, reflection, transmitted_w, extra_w, emitted_w;
  double decay_time_s;
  double circulator; /**< 2 Gamma cos(phase). */
  double detuning;   /**< Of the drive in half bandwidths, the tangent of the loop phase. */
  double omega;
  double q_pickup;
} cavum_draw;

/**
 * Reflection on resonance of one read off resonance by d half bandwidths: all of the net power,
 * P_f (1 - rho^2), falls by 1 + d^2. Where it cannot have been that far off, 0.
 */
static inline double cavum_resonant_reflection(double reflection, double detuning) {
  if (detuning == 0.0) return reflection;
  double square = 1.0 - (1.0 - reflection * reflection) * (1.0 + detuning * detuning);
  return copysign(sqrt(cavum_max(square, 0.0)), reflection);
}

/**
 * Forward power over that of a meter into which the reflected wave leaks: the meter shows
 * |1 + leak rho|^2 of it, of the leak the part in phase counts to first order.
 */
static inline double cavum_forward_without_leak(double reflection, double leak_in_phase) {
  double amplitude = 1.0 + leak_in_phase * reflection;
  return 1.0 / (amplitude * amplitude);
}

/** Reflection of a drive off resonance that lets sqrt(P_e / P_f) be emitted. */
static inline double cavum_reflection_of_emitted(double amplitude, double detuning) {
  if (detuning == 0.0) return amplitude - 1.0;
  double net = amplitude * (2.0 / sqrt(1.0 + detuning * detuning) - amplitude);
  return copysign(sqrt(cavum_max(1.0 - net, 0.0)), amplitude - 1.0);
}

/**
 * Coupling beta* by one of the three methods; see cavum_coupling_method. Off resonance P_e and the
 * net power both fall by 1 + d^2, so that P_r / P_e = rho^2 (P_f / P_e) has to lose d^2/(1 + d^2)
 * P_f / P_e.
 */
static inline double cavum_coupling_value(cavum_coupling_method method, const cavum_draw *draw) {
  double detuning = draw->detuning;
  if (method == CAVUM_COUPLING_REFLECTED) {
    double rho = cavum_resonant_reflection(draw->reflection, detuning);
    return (1.0 + rho) / (1.0 - rho);
  }
  double ratio = sqrt(draw->forward_w / draw->emitted_w);
  if (method == CAVUM_COUPLING_EMITTED) {
    return 1.0 / (2.0 * ratio / sqrt(1.0 + detuning * detuning) - 1.0);
  }
  double amplitude = draw->reflection * ratio;
  if (detuning != 0.0) {
    double part = detuning * detuning / (1.0 + detuning * detuning);
    double square = amplitude * amplitude - part * ratio * ratio;
    amplitude = copysign(sqrt(cavum_max(square, 0.0)), amplitude);
  }
  return 1.0 / (1.0 - 2.0 * amplitude);
}

/** w U by the decay time; the same equation as cavum_coldtest_invert_decay(). */
static inline double cavum_decay_power_value(cavum_coupling_method method, const cavum_draw *draw) {
  double coupling = cavum_coupling_value(method, draw);
  double decay_time_s = draw->decay_time_s * (1.0 + draw->circulator * coupling / (1.0 + coupling));
  double net_w = draw->forward_w * (1.0 - draw->reflection * draw->reflection);
  return draw->omega * decay_time_s * (1.0 + coupling) * net_w;
}

/** P_d; the same equation as in both inversions. */
static inline double cavum_wall_power_value(const cavum_draw *draw) {
  double net_w = draw->forward_w * (1.0 - draw->reflection * draw->reflection);
  return net_w - draw->transmitted_w - draw->extra_w;
}

/** Running weighted mean of a calibration over readings. */
typedef struct cavum_calibration_sum {
  int64_t num_readings;
  double origin; /**< First value; deviations from it are summed. */
  double weight, weighted_deviation, weighted_square;
  double local_variance; /**< Sum of weight^2 times the variance of one reading. */
  cavum_dual shared;     /**< Sum of weight times the shared parts. */
  bool has_variance;     /**< Readings have an uncertainty of their own. */
} cavum_calibration_sum;

/** Q_t and Q_e of a test. */
typedef struct cavum_coldtest_calibrations {
  bool has_pickup, has_external;
  cavum_dual q_pickup, q_external;
  cavum_dual inverse_extra; /**< Sum of 1/Q over the extra ports, from the first calibration. */
  cavum_coldtest_calibration pickup, external;
  double pickup_ratio; /**< As in cavum_inversion_context. */
  int64_t num_calibrating;
  int64_t *calibrating; /**< Owned, shape [num_calibrating]: readings that give Q_t. */
  cavum_coupling_method *calibrating_method; /**< Owned, shape [num_calibrating]. */
  double *calibrating_weight;                /**< Owned, shape [num_calibrating]: weights, sum 1. */
} cavum_coldtest_calibrations;

/** Frees what calibrations own. */
void cavum_coldtest_calibrations_clear(cavum_coldtest_calibrations *calibrations);

/** Most combinations of sides that are kept beside the best one. */
enum { CAVUM_MOST_ALTERNATIVES = 8, CAVUM_MOST_MIXED = CAVUM_MOST_ALTERNATIVES + 1 };

/** What a calibration leaves out of a reading. */
enum { CAVUM_LEAVE_NOTHING, CAVUM_LEAVE_EXTERNAL, CAVUM_LEAVE_ALL };

/** Which side of critical coupling the readings with a decay time are on; see branch.c. */
typedef struct cavum_decided_branches {
  unsigned char *branch;   /**< Owned, shape [num_readings], of cavum_branch; DECIDE: no decay. */
  float *other_weight;     /**< Owned, shape [num_readings]: probability of the other side. */
  unsigned char *left_out; /**< Owned, shape [num_readings], of CAVUM_LEAVE_.... */
  bool moved;              /**< The input coupler was moved: Q_e is no constant. */
  int num_alternatives;
  double *weight;             /**< Owned, shape [num_alternatives]: probability of each. */
  unsigned char *alternative; /**< Owned, shape [num_alternatives, num_readings], as branch. */
  cavum_coldtest_calibrations *calibrations; /**< Owned, shape [num_alternatives]. */
} cavum_decided_branches;

/** Frees what decided branches own. */
void cavum_decided_branches_clear(cavum_decided_branches *decided);

/** A test, evaluated. */
struct cavum_coldtest {
  cavum_coldtest_setup setup;
  cavum_coldtest_inputs inputs;
  cavum_coldtest_readings readings; /**< Owned. */
  cavum_coldtest_point *points;     /**< Owned, shape [readings.num_readings]. */
  cavum_coldtest_calibrations main;
  cavum_decided_branches decided;
  int num_remarks;
  char remarks[CAVUM_MAX_REMARKS][CAVUM_REMARK_SIZE];
};

/**
 * cavum_coldtest_evaluate() with readings that the test takes over: a million of them are not there
 * twice. They are empty afterwards, but for what was wrong before any was taken.
 */
cavum_status cavum_coldtest_evaluate_taken(cavum_coldtest **test, const cavum_coldtest_setup *setup,
                                           cavum_coldtest_readings *readings, cavum_error *error);

/** Adds a remark, while there is room for one more. */
__attribute__((format(printf, 2, 3))) void cavum_coldtest_remark(cavum_coldtest *test,
                                                                 const char *format, ...);

/** Adds to the error about a test whose rows are all set aside what is wrong with a chain. */
void cavum_coldtest_explain_rows(cavum_error *error, const cavum_coldtest_setup *setup);

/** Looks for what can hardly be meant; see plausibility.c. */
void cavum_coldtest_remark_on(cavum_coldtest *test);

/** Looks for bath temperatures at which helium does not boil at the bath's pressure. */
void cavum_coldtest_remark_on_bath(cavum_coldtest *test);

/** True when a length in half wavelengths can be meant. */
bool cavum_coldtest_length_fits(double length_m, double frequency_hz);

/** CAVUM_ERR_INPUT for figures that cannot belong to this frequency. */
cavum_status cavum_coldtest_check_length(double length_m, double frequency_hz, const char *where,
                                         cavum_error *error);

/**
 * Q_t and Q_e of a test, stated or from its readings with a decay time.
 * @param[out] out       Release with cavum_coldtest_calibrations_clear(); untouched unless OK.
 * @param[in]  test      Its setup, inputs, readings and decided branches are used.
 * @param[in]  branches  Of the readings with a decay time, shape [num_readings].
 * @param[in]  measured  From the readings even where they are stated.
 */
cavum_status cavum_coldtest_measure_calibrations(cavum_coldtest_calibrations *out,
                                                 const cavum_coldtest *test,
                                                 const unsigned char *branches, bool measured,
                                                 cavum_error *error);

/** Calibrations of a test with its branch decided by all readings together; see branch.c. */
cavum_status cavum_coldtest_decide_branch(cavum_coldtest *test, cavum_error *error);

/** Branch of a reading that its row or its test states; DECIDE: neither does. */
cavum_branch cavum_coldtest_stated_branch(const cavum_coldtest *test, int64_t index);

/** Inverts a reading by its decay time on one branch. */
cavum_status cavum_coldtest_invert_by_decay(cavum_inverted *inverted, const cavum_coldtest *test,
                                            cavum_branch branch, int64_t index, cavum_error *error);

/** Inverts a reading by its transmitted power with this Q_t on one branch. */
cavum_status cavum_coldtest_invert_step(cavum_inverted *inverted, const cavum_coldtest *test,
                                        const cavum_dual *q_pickup, cavum_branch branch,
                                        int64_t index, cavum_error *error);

/** What a number may be instead, and how probable each is. */
typedef struct cavum_mixture {
  int count;
  double weight[CAVUM_MOST_MIXED], value[CAVUM_MOST_MIXED], uncertainty[CAVUM_MOST_MIXED];
  bool own[CAVUM_MOST_MIXED]; /**< By the side of this reading, not by other calibrations. */
} cavum_mixture;

/** Adds what a number may be. */
void cavum_mixture_add(cavum_mixture *mixture, const cavum_dual *other, double weight, bool own);

/**
 * Gives a number the parts of an open branch, that of the calibrations and its own: so large
 * together that its expanded uncertainty holds the mixture of it and all others with the coverage.
 */
void cavum_mixture_widen(cavum_dual *number, const cavum_mixture *mixture, double coverage);

/** Q_t or Q_e of a test with the part of an open branch; no reading's own. */
cavum_dual cavum_coldtest_mixed_calibration(const cavum_coldtest *test, bool pickup);

/**
 * Makes the part of a reading's loop phase one of the shared inputs, as in whatever is a mean over
 * readings: a drive off resonance has the same sign of effect each time and does not average away.
 */
static inline cavum_dual cavum_coldtest_share_phase(cavum_dual number) {
  number.part[CAVUM_INPUT_LOOP_PHASE] += number.part[CAVUM_INPUT_NOISE_LOOP_PHASE];
  number.part[CAVUM_INPUT_NOISE_LOOP_PHASE] = 0.0;
  return number;
}

/** Evaluates one reading of a test again, with budgets. */
cavum_status cavum_coldtest_invert_reading(cavum_inverted *inverted, const cavum_coldtest *test,
                                           int64_t index, cavum_error *error);

/** Distance, in its uncertainty, from which what decides a branch decides it. */
#define CAVUM_BRANCH_DECIDED 3.0
/** From here on the verdict of one difference is left alone: it is wrong 1 in 30,000 times. */
#define CAVUM_BRANCH_CERTAIN 4.0

/** True when a reading of this test is inverted by its decay time. */
bool cavum_coldtest_reading_by_decay(const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_reading *reading);

#endif
