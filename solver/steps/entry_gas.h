// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_gas.h
 * Steps that change the gas in the cell.
 */
#ifndef CAVUM_STEPS_ENTRY_GAS_H
#define CAVUM_STEPS_ENTRY_GAS_H

#include "steps/step_section.h"

/** Air, another gas, or none. @retval CAVUM_ERR_INPUT  as cavum_steps_open(). */
cavum_status cavum_step_read_air(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *path);

#endif
