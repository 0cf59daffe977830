// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/scan_rate.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"

cavum_scan_rate cavum_scan_rate_of(const cavum_scan_progress *progress) {
  double all = (double)progress->num_shapes;
  double done = cavum_min((double)progress->shapes_done, all);
  double computed = (double)(progress->shapes_done - progress->shapes_before);
  cavum_scan_rate rate = {.percent = 100.0, .seconds_left = NAN};
  if (all > 0.0) rate.percent = cavum_in_percent(cavum_max(done, 0.0) / all);
  if (progress->seconds > 0.0 && computed > 0.0) {
    rate.shapes_per_second = computed / progress->seconds;
    rate.seconds_left = (all - done) / rate.shapes_per_second;
  }
  return rate;
}
