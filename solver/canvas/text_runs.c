// SPDX-License-Identifier: GPL-3.0-or-later
// Texts split where they are raised or lowered.
#include "canvas/text_runs.h"

double cavum_text_raise(int height) { return height > 0 ? 0.36 : height < 0 ? -0.2 : 0.0; }

int cavum_text_split(cavum_text_run runs[CAVUM_TEXT_RUNS_MOST], const char *text, bool plain) {
  int count = 0;
  const char *at = text;
  while (*at && count < CAVUM_TEXT_RUNS_MOST) {
    bool small = !plain && (at[0] == '_' || at[0] == '^') && at[1] == '{';
    cavum_text_run run = {.start = small ? at + 2 : at};
    if (small) run.height = at[0] == '^' ? 1 : -1;
    const char *end = run.start;
    if (small) {
      while (*end && *end != '}') end++;
    } else {
      do end++;
      while (*end && (plain || !((end[0] == '_' || end[0] == '^') && end[1] == '{')));
    }
    run.length = (int)(end - run.start);
    if (run.length > 0) runs[count++] = run;
    at = small && *end ? end + 1 : end;
  }
  return count;
}
