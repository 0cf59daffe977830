// SPDX-License-Identifier: GPL-3.0-or-later
// A program that may have little address space, from far too little to plenty: its solve succeeds
// or says that there is no memory. OpenBLAS alone would try for ever to get its work space; a solve
// that takes a thousand times as long as it may is taken for that.
#include <cavum/cavum.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { MEGABYTE = 1 << 20, HANGS_AFTER_S = 60, ODD = 99 };

static int solve(const char *path, int num_solves) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_cell cell;
  cavum_status status = cavum_cell_read_file(&cell, path, &error);
  for (int i = 0; status == CAVUM_OK && i < num_solves; i++) {
    cavum_result *result = NULL;
    status = cavum_solve(&result, &cell, NULL, &error);
    if ((status == CAVUM_OK) != (result != NULL)) return ODD;
    cavum_result_destroy(&result);
  }
  printf("  status %d %s\n", (int)status, status == CAVUM_OK ? "" : error.message);
  fflush(stdout);
  if (status != CAVUM_OK && !strstr(error.message, "out of memory")) return ODD;
  cavum_cell_clear(&cell);
  return (int)status;
}

// The status of solves within so much; ODD when they ended in no proper way.
static int solve_within(int resource, long megabytes, const char *path) {
  printf("%ld MB\n", megabytes);
  fflush(stdout);
  pid_t child = fork();
  if (child == 0) {
    struct rlimit limit = {(rlim_t)megabytes * MEGABYTE, (rlim_t)megabytes * MEGABYTE};
    alarm(HANGS_AFTER_S);
    if (setrlimit((__rlimit_resource_t)resource, &limit) != 0) _exit(ODD);
    _exit(solve(path, 3) & 0x7f);
  }
  int status = 0;
  if (child < 0 || waitpid(child, &status, 0) != child || !WIFEXITED(status)) return ODD;
  return WEXITSTATUS(status);
}

// More memory never makes it worse; the least is refused and the most is enough.
static int check(int resource, const char *path, const char *threads) {
  int failed = 0;
  bool good = false;
  setenv("OPENBLAS_NUM_THREADS", threads, 1);
  printf("%s, OpenBLAS with %s threads\n", resource == RLIMIT_AS ? "address space" : "data",
         threads);
  for (long megabytes = 60; megabytes <= 460; megabytes += 20) {
    int status = solve_within(resource, megabytes, path);
    if (status != CAVUM_OK && status != (CAVUM_ERR_MEMORY & 0x7f)) failed++;
    if (good && status != CAVUM_OK) failed++;
    if (megabytes == 60 && status == CAVUM_OK) failed++;
    good = status == CAVUM_OK;
  }
  return failed + !good;
}

int main(int argc, char **argv) {
  if (argc != 2) return 2;
  int failed = check(RLIMIT_AS, argv[1], "1") + check(RLIMIT_AS, argv[1], "2") +
               check(RLIMIT_DATA, argv[1], "1");
  printf("%d failed\n", failed);
  return failed ? 1 : 0;
}
