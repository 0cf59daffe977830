// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file rate_coverage.h
 * Whether what is fast is right: the share of figures inside their stated uncertainty.
 */
#ifndef CAVUM_BENCH_RATE_COVERAGE_H
#define CAVUM_BENCH_RATE_COVERAGE_H

#include "rate_report.h"

/**
 * Random two-ellipse cells of one to three modes against runs of four degrees more on a finer mesh;
 * prints each miss, and sets coverage and inflation_median (uncertainty / error over errors above
 * rounding).
 */
void rate_coverage(json_t *report, int shapes);

#endif
