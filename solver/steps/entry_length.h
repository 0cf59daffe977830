// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_length.h
 * Lengths along the axis.
 */
#ifndef CAVUM_STEPS_ENTRY_LENGTH_H
#define CAVUM_STEPS_ENTRY_LENGTH_H

#include "steps/step_section.h"

/** Lengths scaled. @retval CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_status cavum_step_read_stretch(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path);

/** What a cut or a weld takes off each side; the kind of the step says which. @retval
 * CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_status cavum_step_read_loss(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path);

/** A force along the axis, by a stated stiffness. @retval CAVUM_ERR_INPUT  as cavum_steps_open().
 */
cavum_status cavum_step_read_preload(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path);

#endif
