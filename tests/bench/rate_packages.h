// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file rate_packages.h
 * The same cells by general-purpose packages, in the same run and on the same core.
 */
#ifndef CAVUM_BENCH_RATE_PACKAGES_H
#define CAVUM_BENCH_RATE_PACKAGES_H

#include "cavum/solve.h"
#include "rate_report.h"

/**
 * Times SciPy's eigsh on the assembled matrices of a result, and checks its eigenvalue. Prints that
 * it is left out when there is no SciPy. Sets scipy_SUFFIX_ms, scipy_SUFFIX_ratio (to warm_s) and
 * scipy_SUFFIX_cold_ratio; an empty suffix comes without its underscore.
 *
 * @param[in] folder          For the matrices.
 * @param[in] warm_s, cold_s  What the whole solve takes here.
 */
void rate_packages_scipy(json_t *report, const cavum_result *result, const char *folder,
                         const char *suffix, double warm_s, double cold_s);

/** Times the script of general_package.h against the mid cell; sets fem_script_ratio. */
void rate_packages_script(json_t *report);

#endif
