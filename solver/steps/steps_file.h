// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/steps_file.h
 * Reading a step file: cavum_steps_open() of cavum/steps.h.
 */
#ifndef CAVUM_STEPS_STEPS_FILE_H
#define CAVUM_STEPS_STEPS_FILE_H

#include "steps/chain.h"

#endif
