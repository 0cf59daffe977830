// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/step_entry.h
 * One step of a step file.
 */
#ifndef CAVUM_STEPS_STEP_ENTRY_H
#define CAVUM_STEPS_STEP_ENTRY_H

#include "steps/chain.h"
#include "yaml/reader.h"

/**
 * Reads one entry of the list of steps.
 * @param[out] step    Zeroed before; on failure some members may have been set.
 * @param[in]  reader  The file.
 * @param[in]  node    The entry.
 * @param[in]  path    Its dotted path.
 * @param[in]  number  From 1: the name of a step that has none.
 * @retval CAVUM_ERR_INPUT  as cavum_steps_open(), and so the next two.
 * @retval CAVUM_ERR_RANGE
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_step_entry_read(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node, const char *path, int number);

#endif
