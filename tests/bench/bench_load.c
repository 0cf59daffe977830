// SPDX-License-Identifier: GPL-3.0-or-later
// What it costs to load the shared libraries: programs that do nothing, linked with neither, with
// libcavum, with both; and one that reads and solves a cell, for which libcavum loads what it
// computes with. Median and least of the time from start to end of such a process.
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { RUNS = 101, KINDS = 4 };

static int rises(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double now_ms(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec * 1e3 + (double)now.tv_nsec * 1e-6;
}

// Milliseconds from start to end; *busy_ms is the processor's time.
static double run_once(char *program, const posix_spawn_file_actions_t *quiet, double *busy_ms) {
  struct rusage used;
  char *arguments[] = {program, CAVUM_CELLS_FOLDER "/mid-cell.yaml", NULL};
  pid_t process = 0;
  int ended = 0;
  double start = now_ms();
  if (posix_spawn(&process, program, quiet, NULL, arguments, environ) != 0 ||
      wait4(process, &ended, 0, &used) != process || ended != 0) {
    fprintf(stderr, "bench_load: %s does not run\n", program);
    exit(1);
  }
  *busy_ms = (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e3 +
             (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) * 1e-3;
  return now_ms() - start;
}

int main(void) {
  static char programs[KINDS][sizeof CAVUM_LOAD_BOTH + 16] = {CAVUM_LOAD_NOTHING, CAVUM_LOAD_CORE,
                                                              CAVUM_LOAD_BOTH, CAVUM_LOAD_SOLVE};
  static const char *const names[KINDS] = {"neither", "libcavum", "libcavum and libcavum_pictures",
                                           "libcavum, solves the mid cell"};
  static double times[KINDS][RUNS], busy[KINDS][RUNS];
  posix_spawn_file_actions_t quiet;
  posix_spawn_file_actions_init(&quiet);
  posix_spawn_file_actions_addopen(&quiet, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  for (int i = 0; i < RUNS; i++) {  // in turn, so that a busy moment strikes all of them
    for (int k = 0; k < KINDS; k++) times[k][i] = run_once(programs[k], &quiet, &busy[k][i]);
  }
  for (int k = 0; k < KINDS; k++) {
    qsort(times[k], RUNS, sizeof times[k][0], rises);
    qsort(busy[k], RUNS, sizeof busy[k][0], rises);
  }
  posix_spawn_file_actions_destroy(&quiet);
  printf("A process from start to end, which does nothing but for the last, ms, %d runs\n", RUNS);
  printf("%-32s %8s %8s %16s %16s\n", "linked with", "median", "least", "over the first",
         "processor, least");
  for (int k = 0; k < KINDS; k++) {
    printf("%-32s %8.2f %8.2f %16.2f %16.2f\n", names[k], times[k][RUNS / 2], times[k][0],
           times[k][RUNS / 2] - times[0][RUNS / 2], busy[k][0]);
  }
  return 0;
}
