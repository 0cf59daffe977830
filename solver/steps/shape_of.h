// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/shape_of.h
 * The shape behind a step: cavum_steps_shape() and cavum_steps_find() of cavum/steps.h.
 */
#ifndef CAVUM_STEPS_SHAPE_OF_H
#define CAVUM_STEPS_SHAPE_OF_H

#include "steps/chain.h"

#endif
