// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_rate.h
 * How fast a scan goes and how long it may still take, whatever the clock does.
 */
#ifndef CAVUM_STORE_SCAN_RATE_H
#define CAVUM_STORE_SCAN_RATE_H

#include "cavum/scan.h"

/** Where a scan stands. */
typedef struct cavum_scan_rate {
  double percent;           /**< Of the shapes that are there, 0 to 100. */
  double shapes_per_second; /**< Of this run, not negative; 0: not known. */
  double seconds_left;      /**< Not negative; NAN: not known. */
} cavum_scan_rate;

/** Where a scan stands by what it says; a clock that went back makes nothing negative. */
cavum_scan_rate cavum_scan_rate_of(const cavum_scan_progress *progress);

#endif
