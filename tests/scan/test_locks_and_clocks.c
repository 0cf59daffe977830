// SPDX-License-Identifier: GPL-3.0-or-later
// File systems without locks, locks that fail, a clock that jumps: the linker puts a lock and a
// clock of our own in the place of the system's (tests/CMakeLists.txt).
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "cli/scan_progress.h"
#include "scan/claim.h"
#include "scan/records.h"
#include "store/scan_rate.h"
#include "study_files.h"
#include "support.h"

static int lock_error;       // what locking fails with; 0: it works
static bool clock_jumps;     // by hours, forward and back, at each look
static int64_t clock_looks;  // so far

int __real_fcntl(int descriptor, int command, void *argument);
int __real_fcntl64(int descriptor, int command, void *argument);
double __real_cavum_seconds(void);
int __wrap_fcntl(int descriptor, int command, ...);
int __wrap_fcntl64(int descriptor, int command, ...);
double __wrap_cavum_seconds(void);

static bool lock_fails(int command) {
  if (command != F_SETLK || lock_error == 0) return false;
  errno = lock_error;
  return true;
}

int __wrap_fcntl(int descriptor, int command, ...) {
  va_list list;
  va_start(list, command);
  void *argument = va_arg(list, void *);
  va_end(list);
  return lock_fails(command) ? -1 : __real_fcntl(descriptor, command, argument);
}

int __wrap_fcntl64(int descriptor, int command, ...) {
  va_list list;
  va_start(list, command);
  void *argument = va_arg(list, void *);
  va_end(list);
  return lock_fails(command) ? -1 : __real_fcntl64(descriptor, command, argument);
}

double __wrap_cavum_seconds(void) {
  static const double jumps_s[] = {0.0, 7200.0, -86400.0, 3.0, -0.5, 1e9, -1e9};
  double now = __real_cavum_seconds();
  if (!clock_jumps) return now;
  return now + jumps_s[clock_looks++ % (int64_t)(sizeof jumps_s / sizeof *jumps_s)];
}

static study_files files;

static void set_up(void) {
  lock_error = 0;
  clock_jumps = false;
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\nvary: {iris_radius_mm: {from: 33, to: 36, points: 24}}\n"
                   "figures: [geometry_factor_ohm]\nbatch: 2\n");
}

static void tear_down(void) { temporary_folder_delete(files.folder); }

/** What was told of a run. */
typedef struct told {
  int count, wrong;
  cavum_scan_progress last;
} told;

static void watch(const cavum_scan_progress *progress, void *data) {
  told *so_far = data;
  cavum_scan_rate rate = cavum_scan_rate_of(progress);
  bool good = progress->seconds >= so_far->last.seconds && progress->seconds >= 0.0 &&
              rate.percent >= 0.0 && rate.percent <= 100.0 && rate.shapes_per_second >= 0.0 &&
              !(rate.seconds_left < 0.0) && isfinite(progress->seconds);
  so_far->wrong += !good;
  so_far->count++;
  so_far->last = *progress;
}

static cavum_status run(cavum_scan_progress *outcome, told *so_far, cavum_error *error) {
  cavum_study *study = study_files_open(&files);
  cavum_scan_options options = cavum_scan_options_default();
  options.workers = 2;
  options.watcher = watch;
  options.watcher_data = so_far;
  cavum_status status = cavum_scan_run(outcome, study, files.output, &options, error);
  cavum_study_close(&study);
  return status;
}

static int64_t count_stored(void) {
  cavum_study *study = study_files_open(&files);
  cavum_scan_records *records = NULL;
  ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, NULL), CAVUM_OK);
  int64_t stored = cavum_scan_records_num_stored(records);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
  return stored;
}

// What the program says of a run goes to a file.
static void tell(const cavum_scan_progress *outcome, cavum_scan_telling telling, const char *path) {
  cavum_scan_teller teller = {.telling = telling};
  fflush(stderr);
  int before = dup(STDERR_FILENO), file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  ck_assert_int_ge(before, 0);
  ck_assert_int_ge(file, 0);
  dup2(file, STDERR_FILENO);
  cavum_scan_tell(outcome, &teller);
  cavum_scan_tell_end(outcome, &teller);
  fflush(stderr);
  dup2(before, STDERR_FILENO);
  close(before);
  close(file);
}

// How often a word is in a file.
static int count_words(const char *path, const char *word) {
  char text[8192] = "";
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  size_t length = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  text[length] = '\0';
  int count = 0;
  for (const char *place = strstr(text, word); place; place = strstr(place + 1, word)) count++;
  return count;
}

static const int no_locks[] = {ENOLCK, ENOSYS, EOPNOTSUPP, EINVAL};

START_TEST(without_locks_a_run_computes_and_says_so) {
  cavum_scan_progress outcome = {0};
  cavum_error error = {0};
  told so_far = {0};
  char path[256];
  snprintf(path, sizeof path, "%s/err", files.folder);
  lock_error = no_locks[_i];
  cavum_status status = run(&outcome, &so_far, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(outcome.no_locks, 1);
  ck_assert_int_eq(so_far.last.no_locks, 1);
  ck_assert_int_eq(count_stored(), 12);
  tell(&outcome, CAVUM_SCAN_TELL_LOG, path);
  ck_assert_int_eq(count_words(path, "cavum: note: the file system has no locks"), 1);
  tell(&outcome, CAVUM_SCAN_TELL_NOTHING, path);
  ck_assert_int_eq(count_words(path, "locks"), 0);
}
END_TEST

START_TEST(with_locks_nothing_is_said) {
  cavum_scan_progress outcome = {0};
  told so_far = {0};
  char path[256];
  snprintf(path, sizeof path, "%s/err", files.folder);
  ck_assert_int_eq(run(&outcome, &so_far, NULL), CAVUM_OK);
  ck_assert_int_eq(outcome.no_locks, 0);
  tell(&outcome, CAVUM_SCAN_TELL_LOG, path);
  ck_assert_int_eq(count_words(path, "locks"), 0);
}
END_TEST

// A lock that cannot be had for another reason is no lack of locks: nothing is known then.
START_TEST(a_lock_that_fails_is_an_error) {
  cavum_scan_progress outcome = {0};
  cavum_error error = {0};
  told so_far = {0};
  lock_error = EIO;
  ck_assert_int_eq(run(&outcome, &so_far, &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, ".lock: cannot be locked: "));
  lock_error = 0;
  ck_assert_int_eq(count_stored(), 0);
}
END_TEST

// The age of the file of a lock says nothing: it is that of another year here.
START_TEST(no_lock_is_judged_by_time) {
  static const time_t times[] = {0, 4102444800};
  cavum_division whole = {1, 1};
  int pipe_ends[2], claim = -1;
  char byte = 0, path[256];
  ck_assert_int_eq(pipe(pipe_ends), 0);
  ck_assert_int_eq(cavum_records_make_folder(files.output, whole, NULL), CAVUM_OK);
  pid_t holder = fork();
  if (holder == 0) {
    cavum_status status = cavum_scan_claim_take(&claim, files.output, whole, NULL);
    if (status != CAVUM_OK || write(pipe_ends[1], "x", 1) != 1) _exit(1);
    for (;;) pause();
  }
  ck_assert_int_eq(read(pipe_ends[0], &byte, 1), 1);
  snprintf(path, sizeof path, "%s.parts/of-00001/part-00001.lock", files.output);
  for (int i = 0; i < 2; i++) {
    struct timespec both[2] = {{.tv_sec = times[i]}, {.tv_sec = times[i]}};
    ck_assert_int_eq(utimensat(AT_FDCWD, path, both, 0), 0);
    clock_jumps = true;
    ck_assert_int_eq(cavum_scan_claim_take(&claim, files.output, whole, NULL), CAVUM_ERR_FILE);
    clock_jumps = false;
  }
  kill(holder, SIGKILL);
  waitpid(holder, NULL, 0);
  ck_assert_int_eq(cavum_scan_claim_take(&claim, files.output, whole, NULL), CAVUM_OK);
  ck_assert_int_ge(claim, 0);
  cavum_scan_claim_drop(claim);
  close(pipe_ends[0]);
  close(pipe_ends[1]);
}
END_TEST

START_TEST(a_clock_that_jumps_makes_nothing_negative) {
  cavum_scan_progress outcome = {0};
  cavum_error error = {0};
  told so_far = {0};
  clock_jumps = true;
  cavum_status status = run(&outcome, &so_far, &error);
  clock_jumps = false;
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%d reports, %lld looks at the clock\n", so_far.count, (long long)clock_looks);
  ck_assert_int_ge(so_far.count, 1);
  ck_assert_int_eq(so_far.wrong, 0);
  ck_assert_int_eq(count_stored(), 12);
}
END_TEST

// Two runs of one part once made 101.6 %, -0 s left.
START_TEST(more_than_all_is_all) {
  cavum_scan_progress p = {.num_shapes = 64, .shapes_done = 65, .seconds = 2.0, .best_shape = -1};
  char path[256];
  snprintf(path, sizeof path, "%s/err", files.folder);
  cavum_scan_rate rate = cavum_scan_rate_of(&p);
  CAVUM_CHECK_NEAR(rate.percent, 100.0, 0.0);
  ck_assert_int_eq(signbit(rate.seconds_left), 0);
  tell(&p, CAVUM_SCAN_TELL_LOG, path);
  ck_assert_int_eq(count_words(path, "-0 s"), 0);
  ck_assert_int_ge(count_words(path, "(100.0 %)"), 1);
  p.seconds = -5.0;
  rate = cavum_scan_rate_of(&p);
  ck_assert(isnan(rate.seconds_left));
  char *json = cavum_store_scan_progress_to_json(&p, NULL);
  ck_assert_ptr_nonnull(json);
  ck_assert_ptr_null(strstr(json, "\"seconds_left\": -"));
  cavum_free(json);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, without_locks_a_run_computes_and_says_so, 0,
                      sizeof no_locks / sizeof *no_locks);
  tcase_add_test(tests, with_locks_nothing_is_said);
  tcase_add_test(tests, a_lock_that_fails_is_an_error);
  tcase_add_test(tests, no_lock_is_judged_by_time);
  tcase_add_test(tests, a_clock_that_jumps_makes_nothing_negative);
  tcase_add_test(tests, more_than_all_is_all);
}

CAVUM_TEST_MAIN("locks and clocks", add)
