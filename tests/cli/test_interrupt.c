// SPDX-License-Identifier: GPL-3.0-or-later
// Ctrl-C ends `solve` and `mesh` in order: exit status 3, one line, and nothing written.
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

static void add_tests(TCase *tests) {
  tcase_add_test(tests, solve_stops);
  tcase_add_test(tests, mesh_stops);
}

CAVUM_TEST_MAIN("cli.interrupt", add_tests)
