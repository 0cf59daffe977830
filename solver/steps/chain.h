// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/chain.h
 * A step file as it was read: what cavum_steps holds.
 */
#ifndef CAVUM_STEPS_CHAIN_H
#define CAVUM_STEPS_CHAIN_H

#include "cavum/steps.h"
#include "contour/axial_length.h"
#include "contour/wall_depth.h"

/** A number with its standard uncertainty. */
typedef struct cavum_stated {
  double value, uncertainty; /**< NAN: not stated. */
} cavum_stated;

/** Gas in the cell. */
typedef enum cavum_gas { CAVUM_GAS_VACUUM, CAVUM_GAS_AIR, CAVUM_GAS_STATED } cavum_gas;

/** Which half of a cell is measured before welding. */
typedef enum cavum_half_side {
  CAVUM_HALF_NONE = 0,
  CAVUM_HALF_LEFT,
  CAVUM_HALF_RIGHT
} cavum_half_side;

/** A step of the file. Members of other kinds are 0. */
typedef struct cavum_chain_step {
  cavum_step_kind kind;
  int line, column; /**< Where it stands in the file. */
  char name[CAVUM_STEP_NAME_SIZE];
  char source[CAVUM_STEP_NAME_SIZE]; /**< Of its uncertainty; "": its own. */
  cavum_stated measured_hz;          /**< NAN: not measured. */
  double measured_zero_hz;           /**< Of halves between plates; NAN: not measured. */
  double measured_pi_hz;             /**< The same; both have the uncertainty of measured_hz. */
  cavum_stated change_hz;            /**< CHANGE, ANNEAL. */
  cavum_gas gas;                     /**< AIR. */
  cavum_air air, air_uncertainty;    /**< AIR of kind AIR. */
  cavum_stated refractivity_ppm;     /**< AIR: of any gas; without that of the formula. */
  double formula_ppm;                /**< AIR: standard uncertainty of the formula. */
  cavum_stated contraction;          /**< COOL. */
  double axial_factor;               /**< COOL: contraction along the axis over that of the rest. */
  cavum_stated amount_m; /**< REMOVE, DEPOSIT: depth; STRETCH: of the cell between its irises; TRIM,
                            WELD: of each side. */
  double plastic_share;  /**< STRETCH: part of the amount that stays. */
  double whole_over_cell;     /**< Whole length over that between the irises before the step: by how
                                 much a stretch of all is longer than that of the cell; 1 without
                                 tubes. */
  cavum_wall_place place;     /**< TRIM, WELD. */
  cavum_depth_shape depth;    /**< REMOVE, DEPOSIT; PRESSURE by a deflection table: moved outwards;
                                   LORENTZ: local deflection by pressure. */
  double gradient_v_per_m;    /**< LORENTZ by the radiation pressure; 0: by its coefficient. */
  double compliance_m_per_pa; /**< LORENTZ: the largest of its table, which depth is over; 0: no
                                   table. */
  cavum_stated stiffness_n_per_m;  /**< LORENTZ: along the axis; 0: none. */
  double relative_uncertainty;     /**< LORENTZ: of table or stiffness. */
  char what[CAVUM_STEP_LINE_SIZE]; /**< A line about it. */
  bool uncertainty_not_stated;     /**< No key states one, and no table has one. */
} cavum_chain_step;

struct cavum_steps {
  char *path;                    /**< Owned: of the file, for messages. */
  char *title;                   /**< Owned. */
  char *cell_path;               /**< Owned. */
  cavum_cell cell;               /**< Owned. */
  cavum_files files;             /**< Owned: all that was read. */
  int mode;                      /**< From 0. */
  int half;                      /**< cavum_half_side: what is between plates. */
  double drawing_uncertainty_hz; /**< Of the cell as it is formed; 0: none. */
  bool drawing_uncertainty_stated;
  double equator_allowance_m, iris_allowance_m; /**< Straight, of each half; 0: none. */
  double target_hz, target_tolerance_hz;        /**< NAN: not stated. */
  int target_line, target_column;               /**< Of the target in the file. */
  int num_steps;
  cavum_chain_step *steps; /**< Owned, shape [num_steps]. */
};

#endif
