// SPDX-License-Identifier: GPL-3.0-or-later
// SciPy and FreeFEM against the solver.
#include "rate_packages.h"

#include "base/base.h"
#include "cavum/cavum.h"
#include "general_package.h"
#include "rate_problem.h"

typedef struct scipy_answer {
  double k2_per_m2, seconds;
  long entries;
} scipy_answer;

// Runs the script; false when there is no SciPy.
static bool run_eigsh(scipy_answer *answer, const char *folder, double shift_per_m2) {
  char command[1200], line[256] = "", *rest = line;
  snprintf(command, sizeof command,
           "OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 '%s' '%s/bench/rate_eigsh.py' '%s' %.17g 9",
           CAVUM_PYTHON, CAVUM_TEST_FOLDER, folder, shift_per_m2);
  FILE *script = popen(command, "r");
  if (!script) return false;
  bool answered = fgets(line, sizeof line, script) != NULL;
  if (pclose(script) != 0 || !answered) return false;
  answer->k2_per_m2 = strtod(rest, &rest);
  answer->seconds = strtod(rest, &rest);
  answer->entries = strtol(rest, &rest, 10);
  return true;
}

void rate_packages_scipy(json_t *report, const cavum_result *result, const char *folder,
                         const char *suffix, double warm_s, double cold_s) {
  cavum_error error = {0};
  cavum_index rows;
  scipy_answer answer;
  const char *joint = suffix[0] ? "_" : "";
  double k2 = result->modes[0].k2_per_m2;
  if (rate_problem_export(&rows, result, folder, &error) != CAVUM_OK) {
    printf("%s\n", error.message);
    return;
  }
  // A little below the mode: what a user does who knows about where it is.
  if (!run_eigsh(&answer, folder, 0.99 * k2)) {
    printf("SciPy cannot be used: no comparison\n");
    return;
  }
  double apart = answer.k2_per_m2 / k2 - 1.0;
  printf(
      "eigsh of SciPy, matrices of degree %d given (%d rows, %ld entries): %.2f ms, k^2 apart by "
      "%.1e%s: %.1f times a warm solve, %.1f times a cold one\n",
      result->degree, (int)rows, answer.entries, 1e3 * answer.seconds, apart,
      fabs(apart) < 1e-9 ? "" : " (ANOTHER MODE?)", answer.seconds / warm_s,
      answer.seconds / cold_s);
  rate_report_set(report, 1e3 * answer.seconds, "scipy%s%s_ms", joint, suffix);
  rate_report_set(report, answer.seconds / warm_s, "scipy%s%s_ratio", joint, suffix);
  rate_report_set(report, answer.seconds / cold_s, "scipy%s%s_cold_ratio", joint, suffix);
}

static double time_mid_cell_s(void) {
  enum { REPEATS = 25 };
  double seconds[REPEATS];
  cavum_cell cell;
  cavum_error error = {0};
  if (cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/mid-cell.yaml", &error) != CAVUM_OK) {
    printf("%s\n", error.message);
    return 0.0;
  }
  cell.accuracy_frequency = 1e-6;
  cell.accuracy_other_figures = 1e-4;
  cell.num_modes = 1;
  for (int i = 0; i < REPEATS; i++) {
    cavum_result *result = NULL;
    double start = cavum_seconds();
    (void)cavum_solve(&result, &cell, NULL, NULL);
    seconds[i] = cavum_seconds() - start;
    cavum_result_destroy(&result);
  }
  cavum_cell_clear(&cell);
  return rate_quantile(seconds, REPEATS, 0.5);
}

void rate_packages_script(json_t *report) {
  const int points = 40;  // still four times the error that is asked for here
  double ours_s = time_mid_cell_s(), seconds = general_package_time_s(points, ours_s);
  if (seconds > 0.0) rate_report_set(report, seconds / ours_s, "fem_script_ratio");
}
