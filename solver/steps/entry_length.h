// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_length.h
 * Lengths along the axis.
 */
#ifndef CAVUM_STEPS_ENTRY_LENGTH_H
#define CAVUM_STEPS_ENTRY_LENGTH_H

#include "steps/step_section.h"

/** Lengths scaled. @retval CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_step_reader cavum_step_read_stretch;

/** What a cut or a weld takes off each side; the kind of the step says which. @retval
 * CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_step_reader cavum_step_read_loss;

/** A force along the axis, by a stated stiffness. @retval CAVUM_ERR_INPUT  as cavum_steps_open().
 */
cavum_step_reader cavum_step_read_preload;

#endif
