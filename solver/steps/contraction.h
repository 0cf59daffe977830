// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/contraction.h
 * Tables of integrated thermal contraction: cavum_contraction() of cavum/steps.h.
 */
#ifndef CAVUM_STEPS_CONTRACTION_H
#define CAVUM_STEPS_CONTRACTION_H

#include "cavum/steps.h"

#endif
