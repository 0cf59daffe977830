// SPDX-License-Identifier: GPL-3.0-or-later
// Ctrl-C ends `solve` and `mesh` in order: exit status 3, one line, and nothing written. Of a
// search what it came to is written.
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

// Whether a process has a handler for a signal, as the system sees it.
static bool catches(pid_t process, int signal_number) {
  char path[64], line[256];
  unsigned long long caught = 0;
  snprintf(path, sizeof path, "/proc/%d/status", (int)process);
  FILE *file = fopen(path, "r");
  if (!file) return false;
  while (fgets(line, sizeof line, file)) sscanf(line, "SigCgt: %llx", &caught);
  fclose(file);
  return (caught >> (signal_number - 1)) & 1;
}

// Starts the program and returns when it has replaced the copy of this test, whose handlers are
// others.
static pid_t start(const char *const *arguments, const char *folder) {
  int ends[2];
  char byte;
  ck_assert_int_eq(pipe2(ends, O_CLOEXEC), 0);
  pid_t child = fork();
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    char errors[160];
    snprintf(errors, sizeof errors, "%s/errors.txt", folder);
    if (!freopen(errors, "w", stderr) || !freopen("/dev/null", "w", stdout)) _exit(99);
    execv(CAVUM_PROGRAM, (char *const *)arguments);
    _exit(99);
  }
  close(ends[1]);
  ck_assert_int_eq(read(ends[0], &byte, 1), 0);
  close(ends[0]);
  return child;
}

// Sends a signal as soon as the program catches it; the exit status, or -1 when the signal killed
// it.
static int interrupt(pid_t child, int signal_number) {
  const struct timespec pause = {0, 1000000};
  int status = 0;
  while (!catches(child, signal_number)) {
    ck_assert_int_eq(waitpid(child, &status, WNOHANG), 0);  // it must not end before
    nanosleep(&pause, NULL);
  }
  kill(child, signal_number);
  ck_assert_int_eq(waitpid(child, &status, 0), child);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static char *read_all(const char *path) {
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  enum { SIZE = 1 << 20 };
  char *text = malloc(SIZE);
  ck_assert_ptr_nonnull(text);
  text[fread(text, 1, SIZE - 1, file)] = '\0';
  fclose(file);
  return text;
}

static void check_stops(const char *command, const char *output, int signal_number) {
  char folder[128], cell[160], result[160], message[512] = "";
  temporary_folder_make(folder);
  snprintf(cell, sizeof cell, "%s/cell.yaml", folder);
  snprintf(result, sizeof result, "%s/%s", folder, output);
  ck_assert_int_eq(cavum_store_write_text(cell, TEST_CELL "modes: {count: 30}\n", NULL), CAVUM_OK);
  const char *arguments[] = {CAVUM_PROGRAM, command, cell, "-o", result, "--refine", "40", NULL};
  pid_t child = start(arguments, folder);
  ck_assert_int_eq(interrupt(child, signal_number), 3);
  ck_assert_int_eq(temporary_folder_count(folder), 2);  // the cell file and the messages
  snprintf(cell, sizeof cell, "%s/errors.txt", folder);
  FILE *errors = fopen(cell, "r");
  ck_assert_ptr_nonnull(errors);
  ck_assert_ptr_nonnull(fgets(message, sizeof message, errors));
  printf("%s", message);
  ck_assert_ptr_nonnull(strstr(message, "stopped by a signal"));
  ck_assert_ptr_null(fgets(message, sizeof message, errors));
  fclose(errors);
  temporary_folder_delete(folder);
}

START_TEST(solve_stops) {
  check_stops("solve", "result.hdf", SIGINT);
  check_stops("solve", "result.hdf", SIGTERM);
}
END_TEST

START_TEST(mesh_stops) { check_stops("mesh", "cell.msh", SIGINT); }
END_TEST

// Starts a search from very many starts and stops it after a while; the exit status.
static int stop_search(const char *folder, const char *const *arguments, long wait_ns) {
  const struct timespec pause = {wait_ns / 1000000000, wait_ns % 1000000000};
  pid_t child = start(arguments, folder);
  int status = 0;
  while (!catches(child, SIGTERM)) {
    ck_assert_int_eq(waitpid(child, &status, WNOHANG), 0);  // it must not end before
  }
  nanosleep(&pause, NULL);
  return interrupt(child, SIGTERM);
}

// The longer it may search, the sooner there is a shape: it is written with its label, and so is
// the line that says so. What stands there already stays.
START_TEST(a_search_keeps_its_best) {
  char folder[128], cell[160], goal[160], best[160], result[160], errors[160];
  temporary_folder_make(folder);
  snprintf(cell, sizeof cell, "%s/cell.yaml", folder);
  snprintf(goal, sizeof goal, "%s/goal.yaml", folder);
  snprintf(best, sizeof best, "%s/best.yaml", folder);
  snprintf(result, sizeof result, "%s/best.hdf", folder);
  snprintf(errors, sizeof errors, "%s/errors.txt", folder);
  ck_assert_int_eq(cavum_store_write_text(cell, TEST_CELL, NULL), CAVUM_OK);
  ck_assert_int_eq(
      cavum_store_write_text(goal,
                             "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                             "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                             "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1000\n",
                             NULL),
      CAVUM_OK);
  const char *arguments[] = {CAVUM_PROGRAM, "optimise", goal, "--cell", best,
                             "-o",          result,     "-q", NULL};
  for (long wait_ns = 10000000; access(best, F_OK) != 0; wait_ns *= 2) {
    ck_assert_int_eq(stop_search(folder, arguments, wait_ns), 3);
  }
  char *said = read_all(errors), *text = read_all(best);
  printf("%s%.120s\n", said, text);
  ck_assert_ptr_nonnull(strstr(said, "stopped"));
  ck_assert_ptr_nonnull(strstr(said, "written: "));
  ck_assert_ptr_nonnull(strstr(said, "best.hdf"));
  ck_assert_ptr_eq(strchr(said, '\n'), said + strlen(said) - 1);
  ck_assert_int_eq(strncmp(text, "# cavum optimise: NO", 20), 0);
  ck_assert_ptr_nonnull(strstr(text, "stopped"));
  cavum_optimum *optimum = NULL;
  ck_assert_int_eq(cavum_store_read_optimum(&optimum, NULL, result, NULL), CAVUM_OK);
  ck_assert_int_eq(optimum->end, CAVUM_OPTIMUM_STOPPED);
  cavum_optimum_destroy(&optimum);
  free(said);
  free(text);
  temporary_folder_delete(folder);
}
END_TEST

// A result that stands there already stays, byte by byte.
START_TEST(half_a_search_replaces_nothing) {
  char folder[128], cell[160], goal[160], result[160], errors[160];
  temporary_folder_make(folder);
  snprintf(cell, sizeof cell, "%s/cell.yaml", folder);
  snprintf(goal, sizeof goal, "%s/goal.yaml", folder);
  snprintf(result, sizeof result, "%s/best.json", folder);
  snprintf(errors, sizeof errors, "%s/errors.txt", folder);
  static const char text[] =
      "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: ";
  char whole[512];
  ck_assert_int_eq(cavum_store_write_text(cell, TEST_CELL, NULL), CAVUM_OK);
  snprintf(whole, sizeof whole, "%s1\n", text);
  ck_assert_int_eq(cavum_store_write_text(goal, whole, NULL), CAVUM_OK);
  const char *arguments[] = {CAVUM_PROGRAM, "optimise", goal, "--json", result, "-q", NULL};
  int status = 0;
  ck_assert_int_eq(waitpid(start(arguments, folder), &status, 0) > 0, 1);
  char *before = read_all(result), *said = NULL;
  snprintf(whole, sizeof whole, "%s1000\n", text);
  ck_assert_int_eq(cavum_store_write_text(goal, whole, NULL), CAVUM_OK);
  for (long wait_ns = 10000000; !said || !strstr(said, "stays"); wait_ns *= 2) {
    free(said);
    ck_assert_int_eq(stop_search(folder, arguments, wait_ns), 3);
    said = read_all(errors);
    ck_assert_ptr_nonnull(strstr(said, "stopped"));
  }
  char *after = read_all(result);
  printf("%s", said);
  ck_assert_ptr_nonnull(strstr(said, "no file is written"));
  ck_assert_str_eq(after, before);
  free(said);
  free(before);
  free(after);
  temporary_folder_delete(folder);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, solve_stops);
  tcase_add_test(tests, mesh_stops);
  tcase_add_test(tests, a_search_keeps_its_best);
  tcase_add_test(tests, half_a_search_replaces_nothing);
}

CAVUM_TEST_MAIN("cli.interrupt", add_tests)
