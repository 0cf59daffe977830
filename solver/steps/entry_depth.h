// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_depth.h
 * Depths of metal off or onto the wall.
 */
#ifndef CAVUM_STEPS_ENTRY_DEPTH_H
#define CAVUM_STEPS_ENTRY_DEPTH_H

#include "steps/step_section.h"

/** The kind of the step says which way. @retval CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_step_reader cavum_step_read_depth;

#endif
