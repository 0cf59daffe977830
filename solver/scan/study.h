// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study.h
 * A study inside the library: what its file says, bound to places in the base cell.
 */
#ifndef CAVUM_SCAN_STUDY_H
#define CAVUM_SCAN_STUDY_H

#include "cavum/requirement.h"
#include "cavum/scan.h"
#include "cell/place.h"
#include "scan/expression.h"
#include "scan/layout.h"
#include "scan/sampling.h"
#include "scan/shape_table.h"

/** Bounds on what a study may ask for. */
enum {
  CAVUM_STUDY_MOST_INPUTS = 100,
  CAVUM_STUDY_MOST_AXES = 40, /**< As many dimensions as the Sobol sequence of GSL has. */
  CAVUM_STUDY_MOST_CONDITIONS = 32,
  CAVUM_STUDY_DEFAULT_BATCH = 64,
  CAVUM_STUDY_LARGEST_BATCH = 4096,
  CAVUM_STUDY_MOST_BATCHES = 1 << 24 /**< So that records need about a gigabyte at most. */
};

/** Where the value of an input comes from. */
typedef enum cavum_input_role {
  CAVUM_STUDY_VARIED, /**< Sampled, or read from the table. */
  CAVUM_STUDY_LINKED, /**< An expression in the others. */
  CAVUM_STUDY_HELD    /**< Solved for. */
} cavum_input_role;

/** One number that the study sets. */
typedef struct cavum_input {
  cavum_place place;
  cavum_input_role role;
  cavum_expression *expression; /**< LINKED: owned. */
} cavum_input;

/** A frequency to hold. */
typedef struct cavum_hold {
  int input;           /**< Index of the dimension that is solved for; -1: nothing is held. */
  double frequency_hz; /**< Target. */
  double low, high;    /**< Range of the dimension, in the unit of the cell file. */
} cavum_hold;

/** Shapes beyond these are marked; NAN: no limit. Conditions: study_conditions.h. */
typedef struct cavum_limits {
  double wall_angle_rad;   /**< Smallest lean of the straight wall from the vertical. */
  double iris_curvature_m; /**< Smallest radius of curvature of the iris. */
  int num_conditions;
  cavum_expression *conditions[CAVUM_STUDY_MOST_CONDITIONS]; /**< Owned. */
  bool of_figures[CAVUM_STUDY_MOST_CONDITIONS];              /**< Known after the solve only. */
} cavum_limits;

struct cavum_study {
  char *path;                     /**< Owned. */
  char *text;                     /**< Owned. */
  char *title;                    /**< Owned. */
  char *cell_path;                /**< Owned. */
  char *aims;                     /**< Owned: KEY:smaller,KEY:larger; NULL: none are stated. */
  bool in_memory, cell_in_memory; /**< Text or cell came from no file: the paths name them. */
  char settings[65];    /**< Of all that decides a row but its varied numbers (study_digest.h). */
  char fingerprint[65]; /**< Of settings and shapes. */
  char mesh_sha256[65]; /**< Of the mesh file when the study was opened; "": it has none. */
  cavum_cell cell;      /**< The base cell. */
  cavum_files files;    /**< Owned: all that was read. */
  cavum_place_base base;
  int num_inputs;
  cavum_input *inputs; /**< Owned, shape [num_inputs]: varied, held, linked. */
  cavum_sampling sampling;
  cavum_shape_table table; /**< In use when sampling.kind is CAVUM_SAMPLING_TABLE. */
  cavum_hold hold;
  cavum_limits limits;
  bool coupling, coupling_of_inner_cell;
  int mode;      /**< Mode that is held and whose figures have their own keys, from 0. */
  int num_modes; /**< The figures of so many lowest modes are kept, too; 0: of `mode` alone. */
  bool wanted[CAVUM_NUM_FIGURES];
  bool differentiated[CAVUM_NUM_FIGURES]; /**< Their derivatives by the inputs are kept. */
  cavum_requirements *requirements;       /**< Owned: of the base cell's file; NULL: none. */
  bool wanted_geometry[CAVUM_NUM_GEOMETRY_FIGURES];
  int batch_size;
  int64_t num_shapes;
  cavum_row_layout layout;
};

/**
 * Fills the linked inputs from the others.
 * @param[in,out] values  Shape [num_inputs]: varied and held ones are set.
 * @param[in]     study   Open study.
 */
void cavum_study_link(double *values, const cavum_study *study);

/** Number of varied inputs: they come first. */
static inline int cavum_study_num_varied(const cavum_study *study) {
  int count = 0;
  while (count < study->num_inputs && study->inputs[count].role == CAVUM_STUDY_VARIED) count++;
  return count;
}

/**
 * Sets all inputs in the base cell, like cavum_place_apply().
 * @param[out] cell    Untouched unless CAVUM_OK.
 * @param[out] owned   True when the cell must be cleared by the caller; else it borrows the base.
 * @param[in]  study   Open study.
 * @param[in]  values  Shape [num_inputs], in units of the file.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  out of range.
 */
cavum_status cavum_study_apply(cavum_cell *cell, bool *owned, const cavum_study *study,
                               const double *values, cavum_error *error);

/** Shapes of a batch: batch_size, or fewer in the last. */
int cavum_study_batch_rows(const cavum_study *study, int64_t batch);

#endif
