// SPDX-License-Identifier: GPL-3.0-or-later
// Words for kinds of steps.
#include "cavum/steps.h"

const char *cavum_step_kind_name(cavum_step_kind kind) {
  switch (kind) {
    case CAVUM_STEP_DRAWING:
      return "drawing";
    case CAVUM_STEP_CHANGE:
      return "change";
    case CAVUM_STEP_ANNEAL:
      return "anneal";
    case CAVUM_STEP_AIR:
      return "air";
    case CAVUM_STEP_COOL:
      return "cool";
    case CAVUM_STEP_REMOVE:
      return "remove";
    case CAVUM_STEP_DEPOSIT:
      return "deposit";
    case CAVUM_STEP_STRETCH:
      return "stretch";
    case CAVUM_STEP_TRIM:
      return "trim";
    case CAVUM_STEP_WELD:
      return "weld";
    case CAVUM_STEP_PRESSURE:
      return "pressure";
    case CAVUM_STEP_LORENTZ:
      return "lorentz";
    case CAVUM_STEP_PRELOAD:
      return "preload";
  }
  return "unknown";
}
