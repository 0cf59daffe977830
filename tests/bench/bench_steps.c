// SPDX-License-Identifier: GPL-3.0-or-later
// What a chain of 12 steps costs, both ways with uncertainty: from its text in one process, and of
// the program, each time in a process of its own. Asserts nothing.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "cavum/cavum.h"

enum { NUM_RUNS = 9, NUM_PROCESSES = 21 };

static const char CHAIN[] =
    "cell: " CAVUM_CELLS_FOLDER
    "/mid-cell.yaml\n"
    "drawing: {uncertainty_kHz: 300, equator_allowance_mm: 1}\n"
    "target: {frequency_MHz: 1302, tolerance_kHz: 50}\n"
    "steps:\n"
    "  - {name: bench, air: {temperature_C: 21, temperature_uncertainty_C: 1, humidity_percent: "
    "45},\n"
    "     measured_MHz: 1287.1, measured_uncertainty_kHz: 2}\n"
    "  - {name: trimmed, trim: {at: equator, each_side_mm: 0.6, uncertainty_mm: 0.02}}\n"
    "  - {name: welded, weld: {at: equator, each_side_mm: 0.4, uncertainty_mm: 0.05}}\n"
    "  - {name: bulk, remove: {depth_um: 120, uncertainty_um: 12, source: rate}}\n"
    "  - {name: furnace, anneal: {change_kHz: -30, uncertainty_kHz: 10}}\n"
    "  - {name: tuned, stretch: {length_mm: 0.2, uncertainty_mm: 0.01}}\n"
    "  - {name: light, remove: {depth_um: 20, uncertainty_um: 2, source: rate}}\n"
    "  - {name: coated, deposit: {depth_um: 2, uncertainty_um: 0.2}}\n"
    "  - {name: tuned again, stretch: {length_mm: -0.1, uncertainty_mm: 0.01}}\n"
    "  - {name: polished, remove: {depth_um: 5, uncertainty_um: 1}}\n"
    "  - {name: pumped, air: {gas: vacuum}}\n"
    "  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 2}}\n";

static double work_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double child_seconds(void) {
  struct rusage used;
  getrusage(RUSAGE_CHILDREN, &used);
  return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
         1e-6 * (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

static double wall_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

// Runs the program on a file of steps once, what it prints unseen.
static int run_program(const char *path) {
  fflush(stdout);
  pid_t child = fork();
  if (child == 0) {
    if (!freopen("/dev/null", "w", stdout)) _exit(1);
    execl(CAVUM_PROGRAM, "cavum", "steps", path, (char *)NULL);
    _exit(1);
  }
  int state = 1;
  return child > 0 && waitpid(child, &state, 0) == child ? state : 1;
}

static int print_fresh(const char *path) {
  double wall_s[NUM_PROCESSES], work_s[NUM_PROCESSES];
  for (int i = 0; i < NUM_PROCESSES; i++) {
    double work = child_seconds(), wall = wall_seconds();
    if (run_program(path) != 0) {
      printf("cavum steps %s failed\n", path);
      return 1;
    }
    wall_s[i] = wall_seconds() - wall;
    work_s[i] = child_seconds() - work;
  }
  qsort(wall_s, NUM_PROCESSES, sizeof *wall_s, by_size);
  qsort(work_s, NUM_PROCESSES, sizeof *work_s, by_size);
  printf(
      "The program on them, median of %d fresh processes: %.1f ms on the clock, %.1f ms of "
      "processor time\n",
      NUM_PROCESSES, 1e3 * wall_s[NUM_PROCESSES / 2], 1e3 * work_s[NUM_PROCESSES / 2]);
  return 0;
}

static int time_program(void) {
  char path[] = "/tmp/bench_steps_XXXXXX";
  int place = mkstemp(path);
  FILE *file = place >= 0 ? fdopen(place, "w") : NULL;
  if (!file) return 1;
  fputs(CHAIN, file);
  int failed = fclose(file) != 0 || print_fresh(path) != 0;
  unlink(path);
  return failed;
}

int main(void) {
  double least_s = 1e300, first_s = 0.0;
  cavum_error error = {CAVUM_OK, ""};
  for (int run = 0; run < NUM_RUNS; run++) {
    cavum_steps *steps = NULL;
    cavum_steps_result *result = NULL;
    double start_s = work_seconds();
    cavum_status status = cavum_steps_open_text(&steps, CHAIN, strlen(CHAIN),
                                                CAVUM_CELLS_FOLDER "/steps.yaml", &error);
    if (status == CAVUM_OK) status = cavum_steps_run(&result, steps, NULL, &error);
    double work_s = work_seconds() - start_s;
    if (status != CAVUM_OK) {
      printf("%s\n", error.message);
      return 1;
    }
    if (run == 0) first_s = work_s;
    if (work_s < least_s) least_s = work_s;
    cavum_steps_result_destroy(&result);
    cavum_steps_close(&steps);
  }
  printf("Processor time of 12 steps both ways: %.1f ms the first time, %.1f ms at least\n",
         1e3 * first_s, 1e3 * least_s);
  return time_program();
}
