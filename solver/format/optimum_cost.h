// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/optimum_cost.h
 * What relaxing a limit or a bound gains, in the unit of the objective, as table and report say it.
 */
#ifndef CAVUM_FORMAT_OPTIMUM_COST_H
#define CAVUM_FORMAT_OPTIMUM_COST_H

#include "base/base.h"
#include "cavum/optimum.h"
#include "format/quantity.h"

enum { CAVUM_OPTIMUM_COST_SIZE = 96 };

/** What the objective is shown by: its figure where there is one, with power 1; else percent. */
typedef struct cavum_optimum_shown {
  const cavum_optimum_term *term; /**< Borrowed; NULL: percent of the product. */
  cavum_quantity_unit unit;
} cavum_optimum_shown;

/** How the objective of a search is shown. */
cavum_optimum_shown cavum_optimum_shown_of(const cavum_optimum *optimum);

/** Of a logarithm of the objective its value; of a product, by how many percent it is worse than
 * the best shape (below 0: better), whether it is to be large or small. */
double cavum_optimum_shown_value(const cavum_optimum_shown *shown, const cavum_optimum *optimum,
                                 double logarithm);

/** Likewise of where a start ended. Starts are searches without tolerances: those of a product are
 * compared with the best of these. */
double cavum_optimum_shown_start(const cavum_optimum_shown *shown, const cavum_optimum *optimum,
                                 double logarithm);

/** The start, from 0, whose shape the result has, of those that count as best; -1: none. */
int cavum_optimum_best_start(const cavum_optimum *optimum);

/** Logarithm of the objective of the best shape that the starts led to, before rounding and without
 * tolerances. */
double cavum_optimum_best_of_starts(const cavum_optimum *optimum);

/** Unit of that. */
const char *cavum_optimum_shown_unit(const cavum_optimum_shown *shown);

/** The value with its unit, "1.2 mT/(MV/m)", or "0.3 % worse", "0.3 % better" of a product; "no
 * shape" where it is not finite. */
void cavum_optimum_shown_text(char text[CAVUM_OPTIMUM_COST_SIZE], const cavum_optimum_shown *shown,
                              const cavum_optimum *optimum, double logarithm);

enum { CAVUM_OPTIMUM_REMARK_SIZE = 400 };

/** What is to be known of the tolerances in a search: peaks that are taken as a whole, tolerances
 * that are left out; "" where there is nothing. */
void cavum_optimum_remark_on_tolerances(char text[CAVUM_OPTIMUM_REMARK_SIZE],
                                        const cavum_optimum *optimum);

/** Whether the nominal best shape keeps the limits within tolerances, or which it breaks most. */
void cavum_optimum_nominal_at_limits(char text[CAVUM_OPTIMUM_BROKEN_SIZE],
                                     const cavum_optimum *optimum);

/** Unit of a limit; "" of a pure number. */
const char *cavum_optimum_unit_of_limit(const cavum_requirement *what);

/** "relaxed by 0.1 mm: gains 0.012 mT/(MV/m)" of an active limit; "" of another. */
void cavum_optimum_cost_of_limit(char text[CAVUM_OPTIMUM_COST_SIZE],
                                 const cavum_optimum_shown *shown,
                                 const cavum_optimum_limit *limit);

/** Likewise of a dimension at a bound; "" of another. */
void cavum_optimum_cost_of_bound(char text[CAVUM_OPTIMUM_COST_SIZE],
                                 const cavum_optimum_shown *shown,
                                 const cavum_optimum_variable *variable);

#endif
