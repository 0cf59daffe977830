// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/figure_chain.h
 * Figures as products of powers of a few numbers of a mode.
 */
#ifndef CAVUM_SOLVE_FIGURE_CHAIN_H
#define CAVUM_SOLVE_FIGURE_CHAIN_H

#include "cavum/figures.h"
#include "solve/mode_functionals.h"

/** What a figure is the product of besides parts of the mode. */
typedef struct cavum_figure_chain {
  bool known;                          /**< There is such a product. */
  double power[CAVUM_NUM_FUNCTIONALS]; /**< Of each part; that of k^2 is half of that of f. */
  double length_power;                 /**< Of the accelerating length. */
} cavum_figure_chain;

/**
 * The product that a figure is.
 * @param[in] resistance_power  d log R_s / d log f of the wall.
 */
cavum_figure_chain cavum_figure_chain_of(cavum_figure_id id, double resistance_power);

#endif
