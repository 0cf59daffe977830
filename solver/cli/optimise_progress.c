// SPDX-License-Identifier: GPL-3.0-or-later
// What a search for the best shape says while it runs.
#include "cli/optimise_progress.h"

#include <math.h>
#include <stdio.h>
#include <unistd.h>

#include "base/units.h"
#include "cli/solve_progress.h"
#include "format/optimum_cost.h"

// Seconds between lines.
static const double TERMINAL_EVERY = 0.2, LOG_EVERY = 60.0;

enum { LINE_SIZE = 200, PART_SIZE = 80 };

static void write_count(char text[PART_SIZE], const cavum_optimum_progress *p) {
  switch (p->stage) {
    case CAVUM_OPTIMUM_STAGE_STARTS:
      snprintf(text, PART_SIZE, "%d of %d start%s done", p->num_done, p->num_wanted,
               p->num_wanted == 1 ? "" : "s");
      break;
    case CAVUM_OPTIMUM_STAGE_TOLERANCES:
      snprintf(text, PART_SIZE, "within tolerances");
      break;
    case CAVUM_OPTIMUM_STAGE_ROUNDING:
      snprintf(text, PART_SIZE, "rounding");
      break;
    case CAVUM_OPTIMUM_STAGE_FREE_WALL:
      snprintf(text, PART_SIZE, "free wall");
      break;
    case CAVUM_OPTIMUM_STAGE_FRONT:
      snprintf(text, PART_SIZE, "front: %d of %d points found, at point %d", p->num_done,
               p->num_wanted, p->point + 1);
      break;
  }
}

static void write_best(char text[PART_SIZE], const cavum_optimum_progress *p) {
  if (!p->what) {
    snprintf(text, PART_SIZE, "product %.6g", exp(p->objective));
  } else if (p->what->kind == CAVUM_REQUIRE_FIGURE) {
    cavum_quantity_unit unit = cavum_quantity_unit_to_fit(p->what->figure, p->value);
    snprintf(text, PART_SIZE, "%s = %.6g%s%s", p->what->key,
             cavum_in_unit(p->value, unit.conversion), unit.name[0] ? " " : "", unit.name);
  } else {
    const char *unit = cavum_optimum_unit_of_limit(p->what);
    snprintf(text, PART_SIZE, "%s = %.6g%s%s", p->what->key, p->value / p->what->unit_si,
             unit[0] ? " " : "", unit);
  }
}

// "3 of 8 starts done, 52 solves, best so far: epk_over_eacc = 1.9, limits hold".
static void write_line(char line[LINE_SIZE], const cavum_optimum_progress *p) {
  char count[PART_SIZE] = "", best[PART_SIZE], limits[PART_SIZE] = "limits hold";
  write_count(count, p);
  if (!p->has_best) {
    snprintf(line, LINE_SIZE, "%s, %d solves", count, p->num_solves);
    return;
  }
  write_best(best, p);
  if (!p->within_limits) {
    double percent = cavum_in_unit(p->violation, CAVUM_UNIT_PERCENT);
    snprintf(limits, sizeof limits,
             percent < 99.5 ? "limits broken by %.2g %%" : "limits broken by %.0f %%", percent);
  }
  snprintf(line, LINE_SIZE, "%s, %d solves, best so far: %s, %s", count, p->num_solves, best,
           limits);
}

void cavum_optimise_tell_begin(cavum_optimise_teller *teller, bool quiet) {
  *teller =
      (cavum_optimise_teller){.telling = quiet                   ? CAVUM_OPTIMISE_TELL_NOTHING
                                         : isatty(STDERR_FILENO) ? CAVUM_OPTIMISE_TELL_TERMINAL
                                                                 : CAVUM_OPTIMISE_TELL_LOG};
  if (teller->telling == CAVUM_OPTIMISE_TELL_TERMINAL) cavum_solve_progress_begin();
}

void cavum_optimise_tell(const cavum_optimum_progress *progress, void *data) {
  cavum_optimise_teller *teller = data;
  char line[LINE_SIZE];
  bool terminal = teller->telling == CAVUM_OPTIMISE_TELL_TERMINAL;
  bool first = terminal && !teller->began;
  double every = terminal ? TERMINAL_EVERY : LOG_EVERY;
  teller->began = true;
  if (teller->telling == CAVUM_OPTIMISE_TELL_NOTHING) return;
  if (!first && progress->seconds - teller->told < every) return;
  teller->told = progress->seconds;
  write_line(line, progress);
  if (terminal) cavum_solve_progress_say(line);
  if (!terminal) fprintf(stderr, "%s\n", line);
}

void cavum_optimise_tell_solve(const cavum_solve_progress *progress, void *data) {
  const cavum_optimise_teller *teller = data;
  if (!teller->began) cavum_solve_progress_tell(progress, NULL);
}

void cavum_optimise_tell_end(cavum_optimise_teller *teller) {
  if (teller->telling == CAVUM_OPTIMISE_TELL_TERMINAL) cavum_solve_progress_end();
}
