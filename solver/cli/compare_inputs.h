// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_inputs.h
 * In which inputs several cells differ.
 */
#ifndef CAVUM_CLI_COMPARE_INPUTS_H
#define CAVUM_CLI_COMPARE_INPUTS_H

#include "cavum/cell.h"
#include "cavum/mesh.h"
#include "cli/compare_table.h"

/** Room for a dotted name, and for a value as text. */
enum { CAVUM_INPUT_KEY_SIZE = 512, CAVUM_INPUT_VALUE_SIZE = 48 };

/** One input of a cell. */
typedef struct cavum_input_row {
  char key[CAVUM_INPUT_KEY_SIZE];     /**< Different inputs have different texts. */
  char value[CAVUM_INPUT_VALUE_SIZE]; /**< Equal values have equal texts. */
} cavum_input_row;

/** All inputs of a cell. Zero-initialise. */
typedef struct cavum_inputs {
  int count, capacity;
  cavum_input_row *rows; /**< Owned, shape [count]. */
} cavum_inputs;

/**
 * Lists the inputs of a cell under their dotted names, defaults too: `contour.left.iris_radius_mm`.
 * Both halves of a two-ellipse cell have names of their own, also where they are alike.
 * @param[out] inputs  Release with cavum_inputs_clear(); untouched unless CAVUM_OK.
 * @param[in]  cell    Read from `text`.
 * @param[in]  text    Taken as it is where it cannot be read as a cell any more (NULL for `cell`):
 * a mesh file that is gone.
 * @retval CAVUM_ERR_INPUT   no YAML.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_inputs_read(cavum_inputs *inputs, const cavum_cell *cell, const char *text,
                               cavum_error *error);

/**
 * Adds the mesh of a cell from a mesh file: a name does not tell which one it was.
 * @param[in] mesh  As it was solved.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_inputs_add_mesh(cavum_inputs *inputs, const cavum_mesh *mesh,
                                   cavum_error *error);

/** Frees inputs and empties them. */
void cavum_inputs_clear(cavum_inputs *inputs);

/**
 * Adds one row for each input in which the cells differ; halves that differ alike stand once.
 * @param[in,out] table   As many values as cells.
 * @param[in]     inputs  Shape [count].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_inputs_add_differences(cavum_compare_table *table, const cavum_inputs *inputs,
                                          int count, cavum_error *error);

#endif
