// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/figure_key.h
 * Figures by their keys, also those of a mode by its number: `modes[1].frequency_Hz`, counted from
 * 0 as in JSON.
 */
#ifndef CAVUM_FIGURES_FIGURE_KEY_H
#define CAVUM_FIGURES_FIGURE_KEY_H

#include "cavum/figures.h"

/**
 * Passes the number of a mode in front of a key, "modes[2]." and so on.
 * @param[out] mode  Its number; -1: there is none.
 * @param[in]  key   Any text.
 * @return What is behind it; NULL: it is there, but with no number.
 */
const char *cavum_key_behind_mode(int *mode, const char *key);

/**
 * Finds the figure that a key names.
 * @param[out] mode  Number of the mode in the key; -1: the key has none. May be NULL.
 * @param[in]  key   Key of a figure, with or without `modes[N].` in front.
 * @return The figure; CAVUM_NUM_FIGURES: the key is of none, and `mode` is untouched.
 */
cavum_figure_id cavum_figure_of_key(int *mode, const char *key);

#endif
