// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/label.h
 * Names of modes after the pillbox pattern they resemble.
 */
#ifndef CAVUM_FIGURES_LABEL_H
#define CAVUM_FIGURES_LABEL_H

#include <stdbool.h>
#include <stdint.h>

#include "figures/view.h"

/**
 * "TM0np" where the pattern supports one, else "": p is the number of sign changes of E_z along the
 * axis, and H_phi changes its sign 2 (n - 1) + p times along the rest of the outline, as in a
 * pillbox.
 * @param[out] label  Shape [16].
 * @param[in]  view   The mode; without an axis there is no label.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_label_mode(char label[16], const cavum_view *view, cavum_error *error);

/** 10 n + p of "TM0np"; 0 for every other text. Both are single digits, n from 1. */
uint8_t cavum_label_code(const char *label);

enum { CAVUM_LABEL_CODES = 100 };

/**
 * One label for one mode: of two modes with the same nodes along the outline the higher one has
 * another pattern inside, and loses its label.
 * @param[in,out] taken  By code: labels of lower modes; this one is added.
 * @param[in,out] label  "" where a lower mode has it.
 */
void cavum_label_take(bool taken[CAVUM_LABEL_CODES], char label[16]);

/** The label of a code, "" for codes that no label has. @param[out] label  Shape [16]. */
void cavum_label_of_code(char label[16], int code);

#endif
