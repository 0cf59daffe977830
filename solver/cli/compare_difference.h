// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_difference.h
 * Whether a figure of two results differs, and how certain its difference is. A fit of R_s is off
 * by the same factor in both.
 */
#ifndef CAVUM_CLI_COMPARE_DIFFERENCE_H
#define CAVUM_CLI_COMPARE_DIFFERENCE_H

#include <stdbool.h>

#include "cavum/figures.h"

/** By uncertainties as files have them: what is made with R_s of a fit holds for exactly that. */
bool cavum_stored_differ(const cavum_figure *a, const cavum_figure *b);
double cavum_stored_difference_uncertainty(const cavum_figure *a, const cavum_figure *b);

/** By uncertainties as people are shown them, see cavum_quantity_shown_uncertainty(); all figures
 * of both modes, shape [CAVUM_NUM_FIGURES]. */
bool cavum_shown_differ(const cavum_figure *a, const cavum_figure *b, cavum_figure_id id);
double cavum_shown_difference_uncertainty(const cavum_figure *a, const cavum_figure *b,
                                          cavum_figure_id id);

#endif
