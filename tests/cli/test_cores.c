// SPDX-License-Identifier: GPL-3.0-or-later
// Programs start with one core, so that OpenBLAS starts no threads, and get the others back.
#include <cblas.h>
#include <check.h>
#include <dirent.h>
#include <sched.h>
#include <stdbool.h>
#include <unistd.h>

#include "cli/cores.h"
#include "support.h"

static int count_cores(void) {
  cpu_set_t set;
  ck_assert_int_eq(sched_getaffinity(0, sizeof set, &set), 0);
  return CPU_COUNT(&set);
}

static int count_threads(int process) {
  char path[64];
  int count = 0;
  snprintf(path, sizeof path, "/proc/%d/task", process);
  DIR *folder = opendir(path);
  ck_assert_ptr_nonnull(folder);
  for (struct dirent *entry = readdir(folder); entry; entry = readdir(folder)) {
    count += entry->d_name[0] != '.';
  }
  closedir(folder);
  return count;
}

static bool is_left_alone(void) {
#ifdef CAVUM_SANITIZED
  return true;
#else
  return getenv("OMP_NUM_THREADS") || getenv("OPENBLAS_NUM_THREADS");
#endif
}

// Each test runs in a child of the process that loaded the libraries.
START_TEST(no_thread_is_started_at_load) {
  double one = 1.0;
  ck_assert_double_eq(cblas_ddot(1, &one, 1, &one, 1), 1.0);  // OpenBLAS is really here
  int threads = count_threads(getppid());
  printf("threads after loading: %d\n", threads);
  if (!is_left_alone()) ck_assert_int_eq(threads, 1);
}
END_TEST

START_TEST(all_cores_come_back) {
  if (!is_left_alone()) ck_assert_int_eq(count_cores(), 1);
  cavum_cores_restore();
  int given = count_cores();
  printf("cores: %d\n", given);
  ck_assert_int_ge(given, 1);
  cavum_cores_use_one();
  if (!is_left_alone()) ck_assert_int_eq(count_threads(getpid()), 1);
  ck_assert_int_eq(cavum_cores_count(), given);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, no_thread_is_started_at_load);
  tcase_add_test(tests, all_cores_come_back);
}

CAVUM_TEST_MAIN("cli.cores", add_tests)
