// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/steps_rows.h
 * One waterfall of a chain: a row a step. A row has the bar of what is computed from the drawing;
 * below it, once anything is measured, what is measured there over what all measurements say; and
 * the aim.
 */
#ifndef CAVUM_PICTURE_STEPS_ROWS_H
#define CAVUM_PICTURE_STEPS_ROWS_H

#include "canvas/flow.h"
#include "cavum/steps.h"
#include "picture/page.h"

/** What a waterfall is of: the cell, or halves joined at the iris between plates. */
typedef enum cavum_steps_subject {
  CAVUM_STEPS_OF_CELL,
  CAVUM_STEPS_OF_ZERO_MODE,
  CAVUM_STEPS_OF_PI_MODE,
  CAVUM_NUM_STEPS_SUBJECTS
} cavum_steps_subject;

/** One waterfall. */
typedef struct cavum_waterfall {
  const cavum_steps_result *result; /**< Borrowed. */
  cavum_steps_subject of;
  double left, right; /**< Limits on the page. */
  bool narrow;        /**< Changes stand below the names. */
  double name_room;   /**< For the names of the steps; 0: the waterfall to the left has them. */
} cavum_waterfall;

/** What the waterfalls of a page have, so that the keys tell no more. */
typedef struct cavum_waterfall_parts {
  bool raises, lowers, aim, tolerance, lost_aim, measured, contradicting;
} cavum_waterfall_parts;

/** Tells names that do not fit before the waterfall: what is there of them, and all of it. */
void cavum_waterfall_add_cut_names(cavum_flow *flow, cavum_page *page, const cavum_waterfall *w);

/** Room that the names of the steps need on a line as wide as the waterfall. */
double cavum_waterfall_name_room(cavum_page *page, const cavum_waterfall *w);

/** Whether the chain has this subject. */
bool cavum_waterfall_is_there(const cavum_waterfall *w);

/** Adds what this one has. */
void cavum_waterfall_add_parts(cavum_waterfall_parts *parts, const cavum_waterfall *w);

/** Draws it from page->y on; returns the y behind it. */
double cavum_waterfall_draw(cavum_page *page, const cavum_waterfall *w);

#endif
