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
cavum_step_reader cavum_step_read_cool;

#endif
