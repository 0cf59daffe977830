// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figure_text.h
 * Figures as text for people.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_FIGURE_TEXT_H
#define CAVUM_FIGURE_TEXT_H

#include "cavum/figures.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Bytes that hold any text of cavum_figure_to_text(). */
enum { CAVUM_FIGURE_TEXT_SIZE = 96 };

/**
 * A figure with its uncertainty and the unit in which the command shows it: `1288.12567(31) MHz` is
 * 1288.12567 +- 0.00031 MHz. The uncertainty is rounded up; a value of 1e7 or more, or below 1e-3,
 * has an exponent. What an uncertainty is not of the solution alone says so in parentheses: `20
 * mohm (stated)`, `13.4(22) nohm (fit, about 16 %)`. A figure that does not exist for its mode is
 * "absent", an infinite one "unbounded".
 *
 * @param[out] text    Zero-terminated; nothing is done without it.
 * @param[in]  figure  NULL is absent.
 * @param[in]  id      Which figure it is; "absent" for a number that no figure has.
 */
CAVUM_API void cavum_figure_to_text(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure,
                                    cavum_figure_id id);

/**
 * The same in a unit that is asked for, as a key names it: `1.28812567(31) GHz` of
 * "frequency_GHz".
 *
 * @param[out] text     As above.
 * @param[in]  figure   As above.
 * @param[in]  id       As above.
 * @param[in]  unit_si  How many SI units one of it is, above 0 (cavum_figure_find()).
 * @param[in]  unit     Its name; NULL, "" or "1": of a pure number.
 */
CAVUM_API void cavum_figure_to_text_in(char text[CAVUM_FIGURE_TEXT_SIZE],
                                       const cavum_figure *figure, cavum_figure_id id,
                                       double unit_si, const char *unit);

#ifdef __cplusplus
}
#endif
#endif
