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

/**
 * Reads a table of deflections along z, {z_mm, um_per_mbar}.
 * @param[out] largest_m_per_pa  Of its deflections, whatever their sign.
 * @param[out] depth             Their shares of it, outwards; zeroed before.
 * @param[in]  reader            The step file.
 * @param[in]  list              The table.
 * @param[in]  path              Of the list, for messages.
 * @retval CAVUM_ERR_INPUT  bad keys, too few or too many places, places that do not rise.
 */
cavum_status cavum_step_read_deflection(double *largest_m_per_pa, cavum_depth_shape *depth,
                                        const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *list, const char *path);

#endif
