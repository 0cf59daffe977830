// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tests/bench/optimum_goal.h
 * The goal that bench_optimum searches: an inner cell of 1300 MHz.
 */
#ifndef CAVUM_BENCH_OPTIMUM_GOAL_H
#define CAVUM_BENCH_OPTIMUM_GOAL_H

#include "cavum/optimum.h"
#include "inner_shape.h"

#define OPTIMUM_CELL INNER_SHAPE_TUNED

/** Dimensions that vary, with their bounds; the equator radius holds the frequency. */
enum { OPTIMUM_NUM_VARIED = 5 };
extern const char *const optimum_names[OPTIMUM_NUM_VARIED];
extern const double optimum_low[OPTIMUM_NUM_VARIED], optimum_high[OPTIMUM_NUM_VARIED];

/** The section `vary` of a goal or a study. */
void optimum_write_vary(char text[1000], const double *low, const double *high);

/** Of the process, all its threads. */
double optimum_processor_seconds(void);

/** Prints what went wrong and ends the program. */
void optimum_die(const cavum_error *error);

cavum_cell optimum_read_cell(const char *text);
cavum_goal *optimum_open_goal(const char *cell_text, const char *text);

/** The goal with a limit on the electric peak and on the lean of the wall. */
cavum_goal *optimum_make_goal(double epk, double angle_deg, int starts);

/** Its best shape. */
cavum_optimum *optimum_search(double epk, double angle_deg, int starts);

/** Shapes at random beside the best one: points of a sequence until so many hold the frequency, and
 * small steps until so many are within the limits. */
void optimum_run_random(long shapes, long steps);

/** Processor time of a search over that of its own solves, in turn. */
void optimum_run_ratio(int repeats);

#endif
