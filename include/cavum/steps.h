// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps.h
 * From the drawing to the cold cavity: the frequency through every step of fabrication and
 * cool-down, forwards and backwards, with correlated uncertainties.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_STEPS_H
#define CAVUM_STEPS_H

#include <stdint.h>

#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** State of moist air. */
typedef struct cavum_air {
  double temperature_c;    /**< -20 to 50 degrees Celsius. */
  double pressure_pa;      /**< Of the moist air, up to 2e5. */
  double humidity_percent; /**< Relative, 0 to 100. */
} cavum_air;

/**
 * Radio refractivity N of air, n = 1 + 1e-6 N, and the standard uncertainty of the formula:
 *
 *     N = (77.6 / T) (P + 4810 e / T),  e = H e_s / 100,
 *     e_s = 6.1121 hPa exp(17.502 t / (240.97 + t)),
 *
 * P and e in hPa, T in K, t in degrees Celsius. The recommendation gives its error as below 0.5 %
 * up to 100 GHz: the uncertainty is that of a uniform distribution of that half width [ITU1999].
 *
 * @param[out] refractivity_ppm  N; untouched unless CAVUM_OK.
 * @param[out] uncertainty_ppm   Standard, of the formula alone; may be NULL.
 * @param[in]  air               State.
 * @param[out] error             May be NULL.
 * @retval CAVUM_ERR_RANGE  temperature, pressure or humidity out of range.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 */
CAVUM_API cavum_status cavum_air_refractivity(double *refractivity_ppm, double *uncertainty_ppm,
                                              const cavum_air *air, cavum_error *error);

/**
 * Contraction of a material between two temperatures, c = (L_from - L_to) / L_from, from the
 * integrated contractions of its table.
 *
 * @param[out] contraction  Untouched unless CAVUM_OK.
 * @param[out] uncertainty  Standard, an estimate; may be NULL.
 * @param[out] source       One line that names the table, static; may be NULL.
 * @param[in]  material     "niobium", "copper", "titanium", "aluminium", "niobium-titanium",
 * "stainless steel".
 * @param[in]  from_k       Within the table, 0 to 303 K.
 * @param[in]  to_k         The same.
 * @param[out] error        May be NULL.
 * @retval CAVUM_ERR_INPUT  an unknown material.
 * @retval CAVUM_ERR_RANGE  a temperature outside of the table.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_contraction(double *contraction, double *uncertainty,
                                         const char **source, const char *material, double from_k,
                                         double to_k, cavum_error *error);

/** What a step does; numbers are fixed, kinds are appended. */
typedef enum cavum_step_kind {
  CAVUM_STEP_DRAWING = 0, /**< The cell as drawn, in vacuum: where every chain begins. */
  CAVUM_STEP_CHANGE = 1,  /**< A stated change of the frequency. */
  CAVUM_STEP_ANNEAL = 2,  /**< The same, of a heat treatment. */
  CAVUM_STEP_AIR = 3,     /**< Another gas in the cell, or none. */
  CAVUM_STEP_COOL = 4,    /**< Another temperature. */
  CAVUM_STEP_REMOVE = 5,  /**< Metal taken off the wall, by etching or polishing. */
  CAVUM_STEP_DEPOSIT = 6, /**< Metal put onto the wall. */
  CAVUM_STEP_STRETCH = 7, /**< Lengths along the axis scaled: tuning. */
  CAVUM_STEP_TRIM = 8,    /**< A length cut off each side at the equator or the iris. */
  CAVUM_STEP_WELD = 9,    /**< The same, lost in a weld. */
  CAVUM_STEP_PRESSURE =
      10, /**< Another pressure on the wall, by a stated or measured sensitivity. */
  CAVUM_STEP_LORENTZ = 11, /**< Lorentz force at a gradient, by its stated coefficient. */
  CAVUM_STEP_PRELOAD = 12  /**< A force along the axis, by a stated or measured stiffness. */
} cavum_step_kind;

/** Word for a kind, as in step files: "air", "cool"; static. */
CAVUM_API const char *cavum_step_kind_name(cavum_step_kind kind);

/** Most steps of a chain, and bytes of a name or of a line about a step with the final zero. */
enum { CAVUM_STEPS_MOST = 64, CAVUM_STEP_NAME_SIZE = 64, CAVUM_STEP_LINE_SIZE = 192 };

/** Bytes of the sentence about measurements that contradict each other, with the final zero. */
enum { CAVUM_STEP_SENTENCE_SIZE = 640 };

/** Opaque: a step file with its cell. */
typedef struct cavum_steps cavum_steps;

/**
 * Reads a step file (YAML; REFERENCE.md lists the keys) and the cell that it names.
 *
 * @param[out] steps  Owned by the caller (cavum_steps_close()); untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL; the message begins with file, line and column.
 * @retval CAVUM_ERR_FILE      a file that cannot be read.
 * @retval CAVUM_ERR_INPUT     syntax, unknown key, missing key, bad value, unknown material.
 * @retval CAVUM_ERR_RANGE     a temperature outside of a table, air outside of the formula.
 * @retval CAVUM_ERR_GEOMETRY  a cell that has no contour.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_steps_open(cavum_steps **steps, const char *path, cavum_error *error);

/**
 * Like cavum_steps_open() for text in memory.
 * @param[out] steps   As there.
 * @param[in]  text    UTF-8, shape [length].
 * @param[in]  length  Bytes of text.
 * @param[in]  name    File name for messages and for the path of the cell; NULL: "text".
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_FILE      as cavum_steps_open(), and so the rest.
 * @retval CAVUM_ERR_INPUT
 * @retval CAVUM_ERR_RANGE
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_USAGE
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_steps_open_text(cavum_steps **steps, const char *text, size_t length,
                                             const char *name, cavum_error *error);

/** Frees steps and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_steps_close(cavum_steps **steps);

/** Path of the cell file of a chain, as it is opened; borrowed, "" without steps. */
CAVUM_API const char *cavum_steps_cell_path(const cavum_steps *steps);

/** All files that a chain was read from, those of its cell too; borrowed; NULL without steps. */
CAVUM_API const cavum_files *cavum_steps_files(const cavum_steps *steps);

/**
 * One step of a chain. A frequency is what would be measured behind the step, with the gas that is
 * in the cell there. Uncertainties are standard ones (k = 1). Numbers that do not exist are NAN.
 * Members are appended only.
 */
typedef struct cavum_step {
  cavum_step_kind kind;
  char name[CAVUM_STEP_NAME_SIZE];
  char what[CAVUM_STEP_LINE_SIZE]; /**< What it does, with the source of its numbers. */
  double frequency_hz;             /**< From the drawing, every step as stated. */
  double uncertainty_hz;           /**< Of it, by all steps so far, correlations kept. */
  double change_hz;                /**< By this step alone. */
  double change_uncertainty_hz;    /**< Of it. */
  double aim_hz;                   /**< What leads to the wanted frequency behind the last step. */
  double aim_uncertainty_hz;       /**< By the steps that follow. */
  double tolerance_hz;             /**< To either side: the tolerance of the target less, in
                                        quadrature, 1.96 times aim_uncertainty_hz; 0: the steps that
                                        follow use it up; NAN: no tolerance is stated. */
  double measured_hz;              /**< As the file has it. */
  double measured_uncertainty_hz;  /**< Standard. */
  double expected_hz;              /**< From all that is measured, before and behind. */
  double expected_uncertainty_hz;  /**< Of it. */
  bool solved;        /**< The contour was moved and solved: the members below are there. */
  double estimate_hz; /**< Change as the derivative before the step gives it; NAN: none. */
  char reason[CAVUM_STEP_LINE_SIZE]; /**< Where the two differ; else "". */
  double amount;                     /**< Of the step, in metres, as the file has it; NAN: none. */
  double amount_uncertainty;         /**< Standard. */
  double slope_hz_per_m; /**< Change of frequency_hz with the amount, behind the step. */
  double next_amount; /**< Of a step behind the last measured one: the amount that would lead to the
                           target by itself; NAN: none, or not asked for. */
  double next_amount_uncertainty; /**< Of it, by what is not known now. */
  double found_amount; /**< Of a step before a measured one: the amount that was done, as far as the
                            measurements tell; NAN: none. */
  double found_amount_uncertainty;          /**< Of it. */
  cavum_figure figures[CAVUM_FIGURES_ROOM]; /**< In vacuum, by cavum_figure_id. */
  /** Of two halves joined at the iris, between plates at their equators, where the file asks for
   * them: both modes, all with the gas that is there; NAN: not asked for. A half between two plates
   * has the frequency of the 0 mode. */
  double zero_hz, pi_hz;
  double zero_uncertainty_hz, pi_uncertainty_hz; /**< By all steps so far. */
  double zero_aim_hz, pi_aim_hz; /**< What they show when the cell is at aim_hz; NAN: no target. */
  double zero_expected_hz, pi_expected_hz;  /**< From all that is measured. */
  double measured_zero_hz, measured_pi_hz;  /**< As the file has them. */
  double coupling;                          /**< k_cc = 2 (pi_hz - zero_hz) / (pi_hz + zero_hz). */
  char next_obstacle[CAVUM_STEP_LINE_SIZE]; /**< Why next_amount cannot be, "the wrong way",
                                                 "impossible: ..."; "": it can, as far as the shape
                                                 tells. */
  char
      found_obstacle[CAVUM_STEP_LINE_SIZE]; /**< Why found_amount cannot have been, as in
                                                 next_obstacle: what is measured or stated is wrong;
                                                 "": it can. */
  char next_caution[CAVUM_STEP_LINE_SIZE];  /**< Of a next_amount that is far beyond what a linear
                                                 estimate covers; "": none. */
  double zero_expected_uncertainty_hz, pi_expected_uncertainty_hz; /**< Of zero_expected_hz and
                                                                        pi_expected_hz. */
  /** Where measured frequencies contradict each other: measured_hz, measured_zero_hz or
   * measured_pi_hz fits the others least of all, or nearly so. */
  bool contradicts, zero_contradicts, pi_contradicts;
  bool uncertainty_not_stated; /**< Of what the step does, of the drawing as it is formed: taken
                                    as 0. */
} cavum_step;

/** A source of uncertainty: one unknown number that may act in several steps. */
typedef struct cavum_step_source {
  char name[CAVUM_STEP_NAME_SIZE];
  double found;             /**< What the measurements say of it, in its standard deviations. */
  double found_uncertainty; /**< Of it; 1: they say nothing. */
} cavum_step_source;

/** What a chain came to. Made by the library; members are appended only. */
typedef struct cavum_steps_result {
  char *title;                /**< Owned; may be empty. */
  int mode;                   /**< Whose frequency, from 0. */
  char label[16];             /**< Of the mode. */
  int num_steps;              /**< With the drawing, which is the first. */
  cavum_step **steps;         /**< Owned, shape [num_steps], each owned. */
  double target_hz;           /**< Wanted behind the last step; NAN: not stated. */
  double target_tolerance_hz; /**< To either side; NAN: not stated. */
  int num_sources;
  cavum_step_source **sources; /**< Owned, shape [num_sources], each owned. */
  double *sensitivity_hz; /**< Owned, shape [num_steps, num_sources]: change of the frequency behind
                               a step by one standard deviation of a source. */
  /** The same of zero_hz and pi_hz; owned; NULL: not asked for. */
  double *zero_sensitivity_hz, *pi_sensitivity_hz;
  /** Whether the measured frequencies go together: chi-square of what is measured, with the
   * uncertainties of measurements and sources, its degrees of freedom (0: nothing to compare), and
   * the probability that consistent measurements have as large a one. Below 0.01 they contradict
   * each other. */
  double chi_square, chi_square_probability;
  int chi_square_freedom;
  int odd_step; /**< Whose measurement fits the others least, where they contradict; -1: none. */
  char contradiction[CAVUM_STEP_SENTENCE_SIZE]; /**< One sentence about it; "": none. */
  char not_stated[CAVUM_STEP_SENTENCE_SIZE];    /**< One sentence that names the steps whose
                                                     uncertainty is not stated; "": all are. */
} cavum_steps_result;

/**
 * The cell as it is behind a step, with the exact curves of the steps so far, as cavum_solve() and
 * cavum_cell_to_text() take it. Nothing is solved.
 *
 * @param[out] cell   Released with cavum_cell_clear(); untouched unless CAVUM_OK.
 * @param[in]  steps  Of cavum_steps_open().
 * @param[in]  step   From 0, the drawing, as in cavum_steps_result.
 * @param[out] error  May be NULL; the message begins with the place of the step that cannot be.
 * @retval CAVUM_ERR_INPUT     a cell from a mesh file.
 * @retval CAVUM_ERR_GEOMETRY  a step that cannot be.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given, or no such step.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_steps_shape(cavum_cell *cell, const cavum_steps *steps, int step,
                                         cavum_error *error);

/** Number of a step by its name in the file, from 0, the drawing; -1 where none has it. */
CAVUM_API int cavum_steps_find(const cavum_steps *steps, const char *name);

/** What its cell has to tell, as cavum_cell.note: valid as long as the steps; "": nothing. */
CAVUM_API const char *cavum_steps_note(const cavum_steps *steps);

/** Frees a result and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_steps_result_destroy(cavum_steps_result **result);

/**
 * Runs a chain both ways: the frequency behind each step from the drawing, and from the wanted one
 * behind the last step the one to aim for at each.
 *
 * Uncertainties are linear in independent sources; one that several steps name acts in all of them
 * (JCGM 100, 5.2). What was measured conditions the sources, all of them normal: the frequencies
 * that are expected are those given all measurements, before and behind [JCGM100].
 *
 * @param[out] result   Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  steps    Of cavum_steps_open().
 * @param[in]  options  Of each solve; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given, a mode that the cell does not ask for,
 *                             options that never saw their defaults.
 * @retval CAVUM_ERR_INPUT     as cavum_solve(), and so the rest.
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_RANGE
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_NOT_CONVERGED
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_steps_run(cavum_steps_result **result, const cavum_steps *steps,
                                       const cavum_solve_options *options, cavum_error *error);

/**
 * A chain as JSON text, keys as documented in REFERENCE.md.
 * @param[out] text    Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  result  Of cavum_steps_run().
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_steps_to_json(char **text, const cavum_steps_result *result,
                                                 cavum_error *error);

/**
 * Writes a chain as HDF5, which cavum draw and report take.
 * @param[in]  path    File name.
 * @param[in]  result  Of cavum_steps_run().
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given.
 * @retval CAVUM_ERR_FILE     unwritable folder, full disk; an old file is left as it was.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused, most often for want of memory.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_steps(const char *path, const cavum_steps_result *result,
                                               cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
