// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file general_package.h
 * The mid cell by FreeFEM, an independent general-purpose finite-element package.
 */
#ifndef CAVUM_TEST_GENERAL_PACKAGE_H
#define CAVUM_TEST_GENERAL_PACKAGE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"

/** Frequency of the mid cell by spectral elements with NumPy and SciPy
 * (tests/verification/spectral_elements.py, to a few 1e-13), as in test_reference_cells.c. */
#define GENERAL_PACKAGE_TRUTH_HZ 1300957950.1588

/** Frequency in Hz of the pi mode with so many points a border; 0 when FreeFem++ is not installed.
 */
static inline double general_package_frequency_hz(int points) {
  char command[700], line[256];
  double frequency = 0.0;
  snprintf(command, sizeof command, "FreeFem++ -nw -v 0 %s/bench/mid_cell.edp %d 2>/dev/null",
           CAVUM_TEST_FOLDER, points);
  FILE *script = popen(command, "r");
  while (script && fgets(line, sizeof line, script)) {
    if (strncmp(line, "FREQUENCY ", 10) == 0) frequency = strtod(line + 10, NULL);
  }
  if (script) pclose(script);
  return frequency;
}

/**
 * Seconds that it takes; prints them with the ratio to ours.
 * @param[in] ours_s  Time of mid-cell.yaml.
 * @return 0 when FreeFem++ is not installed.
 */
static inline double general_package_time_s(int points, double ours_s) {
  double start = cavum_seconds(), frequency = general_package_frequency_hz(points);
  double seconds = cavum_seconds() - start;
  if (frequency == 0.0) {
    printf("FreeFem++ is not installed: no comparison\n");
    return 0.0;
  }
  printf(
      "general-purpose script, %d points a border: %.2f s, relative error %.1e: %.0f times the "
      "time of mid-cell.yaml at 1e-6\n",
      points, seconds, frequency / GENERAL_PACKAGE_TRUTH_HZ - 1.0, seconds / ours_s);
  return seconds;
}

#endif
