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

#endif
