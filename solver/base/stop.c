// SPDX-License-Identifier: GPL-3.0-or-later
// The question whether to stop, one for each thread.
#include "base/stop.h"

#include "base/base.h"

static _Thread_local cavum_stop *current;

cavum_stop *cavum_stop_set(cavum_stop *stop) {
  cavum_stop *before = current;
  current = stop && stop->ask ? stop : NULL;
  return before;
}

bool cavum_stop_asked(void) {
  cavum_stop *stop = current;
  if (!stop) return false;
  if (stop->stopped) return true;
  double now_s = cavum_seconds();
  if (now_s < stop->next_s) return false;
  stop->stopped = stop->ask(stop->data);
  stop->next_s = now_s + CAVUM_STOP_EVERY_S;
  return stop->stopped;
}

cavum_status cavum_stop_check(cavum_error *error) {
  if (!cavum_stop_asked()) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_STOPPED, "stopped on request");
}
