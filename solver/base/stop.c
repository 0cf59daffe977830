// SPDX-License-Identifier: GPL-3.0-or-later
// The question whether to stop, one for each thread.
#include "base/stop.h"

#include <time.h>

#include "base/base.h"
#include "base/units.h"

static _Thread_local cavum_stop *current;

// A clock that the kernel sets forward every few milliseconds, and whose time is read without
// asking the processor: a short solve looks at it a hundred times.
#ifdef CLOCK_MONOTONIC_COARSE
#define ROUGH_CLOCK CLOCK_MONOTONIC_COARSE
#else
#define ROUGH_CLOCK CLOCK_MONOTONIC
#endif

static double rough_seconds(void) {
  struct timespec now;
  clock_gettime(ROUGH_CLOCK, &now);
  return (double)now.tv_sec + cavum_from_unit((double)now.tv_nsec, CAVUM_UNIT_NS);
}

cavum_stop *cavum_stop_set(cavum_stop *stop) {
  cavum_stop *before = current;
  current = stop && stop->ask ? stop : NULL;
  return before;
}

bool cavum_stop_asked(void) {
  cavum_stop *stop = current;
  if (!stop) return false;
  if (stop->stopped) return true;
  double now_s = rough_seconds();
  if (now_s < stop->next_s) return false;
  stop->stopped = stop->ask(stop->data);
  stop->next_s = now_s + CAVUM_STOP_EVERY_S;
  return stop->stopped;
}

cavum_status cavum_stop_check(cavum_error *error) {
  if (!cavum_stop_asked()) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_STOPPED, "stopped on request");
}
