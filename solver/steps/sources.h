// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/sources.h
 * Independent sources of uncertainty, and what each does to the frequency behind each step.
 */
#ifndef CAVUM_STEPS_SOURCES_H
#define CAVUM_STEPS_SOURCES_H

#include "steps/chain.h"

/** A step has at most four sources: three readings of air and its formula. */
enum { CAVUM_STEP_SOURCES_MOST = 3 * CAVUM_STEPS_MOST + 2 };

/** Sources as a chain is run. Zero-initialise. */
typedef struct cavum_sources {
  int count;
  char names[CAVUM_STEP_SOURCES_MOST][CAVUM_STEP_NAME_SIZE];
  double shape[CAVUM_STEP_SOURCES_MOST];   /**< Relative change of the frequency in vacuum. */
  double pair[2][CAVUM_STEP_SOURCES_MOST]; /**< The same of both modes of halves between plates. */
  double gas[CAVUM_STEP_SOURCES_MOST];     /**< Relative change by the gas that is in the cell. */
} cavum_sources;

/** Adds a relative change to that of a named source; a name that is new becomes a source. Both
 * modes of halves change alike, or by `pair` unless NULL. */
void cavum_sources_add_shape(cavum_sources *sources, const char *name, double relative,
                             const double pair[2]);

/** The same for the gas. */
void cavum_sources_add_gas(cavum_sources *sources, const char *name, double relative);

/** Another gas: what the one before did is gone. */
void cavum_sources_change_gas(cavum_sources *sources);

#endif
