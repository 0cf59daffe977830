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
cavum_step_reader cavum_step_read_change;

/** Another pressure on the wall, by a stated sensitivity. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_step_reader cavum_step_read_pressure;

/** Lorentz force at a gradient, by its stated coefficient. @retval CAVUM_ERR_INPUT  as
 * cavum_steps_open(). */
cavum_step_reader cavum_step_read_lorentz;

#endif
