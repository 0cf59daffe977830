// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/front.h
 * Figures against each other. Its functions are public: cavum_optimise_front().
 */
#ifndef CAVUM_OPTIMUM_FRONT_H
#define CAVUM_OPTIMUM_FRONT_H

#include "optimum/goal.h"

#endif
