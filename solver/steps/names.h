// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/names.h
 * Words for kinds of steps: cavum_step_kind_name() of cavum/steps.h.
 */
#ifndef CAVUM_STEPS_NAMES_H
#define CAVUM_STEPS_NAMES_H

#include "cavum/steps.h"

#endif
