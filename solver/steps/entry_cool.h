// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_cool.h
 * Steps to another temperature.
 */
#ifndef CAVUM_STEPS_ENTRY_COOL_H
#define CAVUM_STEPS_ENTRY_COOL_H

#include "steps/step_section.h"

/** By a material and temperatures, or by a stated contraction. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_status cavum_step_read_cool(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path);

#endif
