// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/entry_change.h
 * Steps by what they do to the frequency.
 */
#ifndef CAVUM_STEPS_ENTRY_CHANGE_H
#define CAVUM_STEPS_ENTRY_CHANGE_H

#include "steps/step_section.h"

/** A stated change, of any cause or of a heat treatment. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_status cavum_step_read_change(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path);

/** Another pressure on the wall, by a stated sensitivity. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_status cavum_step_read_pressure(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *node, const char *path);

/** Lorentz force at a gradient, by its stated coefficient. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_status cavum_step_read_lorentz(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path);

#endif
