// SPDX-License-Identifier: GPL-3.0-or-later
// Progress of a search for the best shape: one line on a terminal, a line a minute elsewhere.
#include <check.h>
#include <math.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cli/optimise_progress.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }

static void tear_down(void) { temporary_folder_delete(folder); }

static const cavum_requirement peak = {.key = "bpk_over_eacc_mT_per_MV_per_m",
                                       .kind = CAVUM_REQUIRE_FIGURE,
                                       .figure = CAVUM_FIGURE_BPK_OVER_EACC};
static const cavum_requirement aperture = {
    .key = "aperture_radius_mm", .kind = CAVUM_REQUIRE_APERTURE_RADIUS, .unit_si = 1e-3};

// What is told goes to a file.
static const char *tell(const cavum_optimum_progress *progress, int count, bool quiet) {
  cavum_optimise_teller teller;
  char path[256];
  snprintf(path, sizeof path, "%s/err", folder);
  fflush(stderr);
  int before = dup(STDERR_FILENO);
  FILE *file = fopen(path, "w");
  ck_assert_int_ge(before, 0);
  ck_assert_ptr_nonnull(file);
  dup2(fileno(file), STDERR_FILENO);
  cavum_optimise_tell_begin(&teller, quiet);
  for (int i = 0; i < count; i++) cavum_optimise_tell(&progress[i], &teller);
  cavum_optimise_tell_end(&teller);
  fflush(stderr);
  dup2(before, STDERR_FILENO);
  close(before);
  fclose(file);
  const char *text = program_read_text(folder, "err");
  printf("%s", text);
  return text;
}

// Within the first minute nothing is told, then once a minute.
START_TEST(a_log_has_a_line_a_minute) {
  const cavum_optimum_progress progress[] = {
      {.num_wanted = 8, .num_solves = 1, .seconds = 0.1},
      {.num_wanted = 8, .num_done = 1, .num_solves = 30, .seconds = 59.0},
      {.num_wanted = 8,
       .num_done = 3,
       .num_solves = 52,
       .seconds = 61.0,
       .has_best = true,
       .within_limits = true,
       .what = &peak,
       .value = 4.1105e-9},
      {.num_wanted = 8, .num_done = 4, .num_solves = 80, .seconds = 119.0},
      {.stage = CAVUM_OPTIMUM_STAGE_FRONT,
       .num_wanted = 12,
       .num_done = 2,
       .point = 4,
       .num_solves = 99,
       .seconds = 122.0,
       .has_best = true,
       .violation = 0.0123,
       .what = &aperture,
       .value = 0.0305},
      {.stage = CAVUM_OPTIMUM_STAGE_ROUNDING,
       .num_solves = 120,
       .seconds = 200.0,
       .has_best = true,
       .within_limits = true,
       .objective = log(2.5),
       .value = NAN}};
  ck_assert_str_eq(tell(progress, 6, false),
                   "3 of 8 starts done, 52 solves, best so far: bpk_over_eacc_mT_per_MV_per_m = "
                   "4.1105 mT/(MV/m), limits hold\n"
                   "front: 2 of 12 points found, at point 5, 99 solves, best so far: "
                   "aperture_radius_mm = 30.5 mm, limits broken by 1.2 %\n"
                   "rounding, 120 solves, best so far: product 2.5, limits hold\n");
  ck_assert_str_eq(tell(progress, 6, true), "");
}
END_TEST

#define GOAL(starts)                                     \
  "cell: cell.yaml\n"                                    \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "  iris_ellipse.radial_mm: {from: 15, to: 24}\n"       \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\nlimits: {wall_angle_deg: {least: 5}}\nstarts: " starts

// What the program writes to a terminal: until there is a word in it, after which it is stopped, or
// until it ends.
static int run_on_terminal(char *text, size_t size, const char *option, const char *word) {
  int terminal = -1, status = 0;
  size_t length = 0;
  pid_t child = forkpty(&terminal, NULL, NULL, NULL);
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    char path[256];
    snprintf(path, sizeof path, "%s/out", folder);
    if (chdir(folder) != 0 || !freopen(path, "w", stdout)) _exit(9);
    execl(CAVUM_PROGRAM, "cavum", "optimise", "goal.yaml", "--workers", "1", option, (char *)NULL);
    _exit(9);
  }
  ssize_t part = 0;
  bool told = false;
  while (length < size - 1 && (part = read(terminal, text + length, size - 1 - length)) > 0) {
    length += (size_t)part;
    text[length] = '\0';
    if (!word || told || !strstr(text, word)) continue;
    told = true;
    kill(child, SIGINT);
  }
  text[length] = '\0';
  close(terminal);
  ck_assert_int_eq(waitpid(child, &status, 0), child);
  for (const char *c = text; *c; c++) printf(*c >= ' ' || *c == '\n' ? "%c" : "<%02x>", *c);
  ck_assert(WIFEXITED(status));
  return WEXITSTATUS(status);
}

// A search of many starts tells on its way, and erases what it told. Its end is not waited for.
START_TEST(a_terminal_has_one_line) {
  char text[65536] = "";
  program_write_text(folder, "cell.yaml", TEST_CELL);
  program_write_text(folder, "goal.yaml", GOAL("500\n"));
  int status = run_on_terminal(text, sizeof text, NULL, "best so far: ");
  ck_assert_int_eq(status, 3);
  ck_assert_ptr_nonnull(strstr(text, "\r\033[K"));
  ck_assert_ptr_nonnull(strstr(text, " of 500 starts done, "));
  ck_assert_ptr_nonnull(strstr(text, "bpk_over_eacc_mT_per_MV_per_m = 4."));
  ck_assert_ptr_nonnull(strstr(text, " mT/(MV/m), limits hold"));
}
END_TEST

START_TEST(a_quiet_search_says_nothing) {
  char text[4096] = "";
  program_write_text(folder, "cell.yaml", TEST_CELL);
  program_write_text(folder, "goal.yaml", GOAL("12\n"));
  ck_assert_int_eq(run_on_terminal(text, sizeof text, "-qobest.hdf", NULL), 0);
  ck_assert_str_eq(text, "");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, a_log_has_a_line_a_minute);
  tcase_add_test(tests, a_terminal_has_one_line);
  tcase_add_test(tests, a_quiet_search_says_nothing);
}

CAVUM_TEST_MAIN("cli.optimise_progress", add_tests)
