// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/unit_letters.h
 * Units with the letters of print.
 */
#ifndef CAVUM_PICTURE_UNIT_LETTERS_H
#define CAVUM_PICTURE_UNIT_LETTERS_H

enum { CAVUM_UNIT_LETTERS = 32 };

/**
 * "uohm" becomes micro Omega, "ohm^2" Omega squared, "m3" and "cm^2" have their powers raised, and
 * "1", the unit of a plain number, nothing.
 * @param[out] letters  What is drawn, cut where it is too long.
 * @param[in]  unit     As on the screen.
 */
void cavum_unit_letters(char letters[CAVUM_UNIT_LETTERS], const char *unit);

#endif
