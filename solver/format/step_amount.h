// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/step_amount.h
 * Amounts of steps for people: with the digits that their uncertainty leaves, and what cannot be
 * done said so.
 */
#ifndef CAVUM_FORMAT_STEP_AMOUNT_H
#define CAVUM_FORMAT_STEP_AMOUNT_H

#include "cavum/steps.h"

/** Bytes that hold any text of an amount. */
enum { CAVUM_STEP_AMOUNT_SIZE = CAVUM_STEP_LINE_SIZE + 160 };

/**
 * What was done in a step, as measured: "0.696 +- 0.020 mm"; "cannot have been" with the reason
 * where there is one (found_obstacle). found_amount is there.
 */
void cavum_step_write_found(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step);

/**
 * What leads to the target by a step alone: "335 +- 20 um"; "not by this step" with the reason
 * where there is one (next_obstacle), and what next_caution says.
 * next_amount is there.
 */
void cavum_step_write_next(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step);

/** Whether the measurements say something of a source: its deviation is known better than before.
 */
bool cavum_step_source_is_found(const cavum_step_source *source);

/** What the file has: "120 um"; of depths also where they are meant, which is what the step does.
 */
void cavum_step_write_stated(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step);

#endif
