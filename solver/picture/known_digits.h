// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/known_digits.h
 * Figures in pictures with the digits that the screen's table has.
 */
#ifndef CAVUM_PICTURE_KNOWN_DIGITS_H
#define CAVUM_PICTURE_KNOWN_DIGITS_H

#include "base/units.h"
#include "cavum/figures.h"

/**
 * The number of a figure without its uncertainty: 1120.047 where the table has 1120.047(1), and no
 * digits that are not known.
 * @param[out] text    Zero-terminated.
 * @param[in]  figure  Present.
 * @param[in]  id      What it is: a frequency has more digits than other figures.
 * @param[in]  unit    To show it in.
 */
void cavum_known_digits_format(char text[64], const cavum_figure *figure, cavum_figure_id id,
                               cavum_unit unit);

#endif
