// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/run.h
 * Running a chain: cavum_steps_run() of cavum/steps.h.
 */
#ifndef CAVUM_STEPS_RUN_H
#define CAVUM_STEPS_RUN_H

#include "steps/chain.h"

#endif
