// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_depth.h
 * Depths of metal off or onto the wall.
 */
#ifndef CAVUM_STEPS_ENTRY_DEPTH_H
#define CAVUM_STEPS_ENTRY_DEPTH_H

#include "steps/step_section.h"

/** The kind of the step says which way. @retval CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_status cavum_step_read_depth(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node, const char *path);

#endif
