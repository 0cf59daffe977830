// SPDX-License-Identifier: GPL-3.0-or-later
// What a scan says to the log hook, in whose process, and options that never saw their defaults.
#include <signal.h>
#include <stdatomic.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "study_files.h"
#include "support.h"

// The key of the accuracy is a former one, so that the cell has a note.
static const char CELL[] =
    "contour:\n"
    "  kind: two-ellipse\n"
    "  half_length_mm: 57.7\n"
    "  iris_radius_mm: 35.0\n"
    "  equator_radius_mm: 103.3\n"
    "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
    "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
    "ends:\n"
    "  left: {kind: magnetic}\n"
    "  right: {kind: magnetic}\n"
    "accuracy: {frequency: 1.0e-3, peak_field: 1.0e-1}\n";
static const char STUDY[] =
    "cell: cell.yaml\n"
    "vary:\n"
    "  iris_radius_mm: {from: 34.0, to: 36.0}\n"
    "sampling: {kind: sobol, points: 4}\n"
    "batch: 2\n";

static study_files files;

/** All messages, one a line: severity, place, text. */
typedef struct heard {
  char text[4096];
  int count, foreign;
  pid_t process;
} heard;

static void hear(cavum_log_severity severity, const char *where, const char *message, void *data) {
  heard *h = data;
  size_t used = strlen(h->text);
  h->count++;
  h->foreign += getpid() != h->process;
  snprintf(h->text + used, sizeof h->text - used, "%d %s: %s\n", (int)severity, where, message);
}

static void run(heard *h, cavum_scan_options options) {
  cavum_error error = {0};
  cavum_study *study = study_files_open(&files);
  *h = (heard){.process = getpid()};
  options.workers = 1;
  options.log = hear;
  options.log_data = h;
  cavum_status status = cavum_scan_run(NULL, study, files.output, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_study_close(&study);
  ck_assert_int_eq(h->foreign, 0);
}

START_TEST(work_and_note_are_said) {
  heard h;
  study_files_make(&files, CELL, STUDY);
  run(&h, cavum_scan_options_default());
  ck_assert_msg(strstr(h.text, "1 cell: ") && strstr(h.text, "peak_field"), "%s", h.text);
  ck_assert_msg(strstr(h.text, "0 scan: 0 of 2 batches stored, 1 workers for the others\n"), "%s",
                h.text);
  ck_assert_int_eq(h.count, 2);
  run(&h, cavum_scan_options_default());
  ck_assert_msg(strstr(h.text, "0 scan: 2 of 2 batches stored"), "%s", h.text);
  temporary_folder_delete(files.folder);
}
END_TEST

/** What the question whether to stop knows in all processes. */
typedef struct killer {
  pid_t watcher;
  atomic_int killed;
} killer;

// The first worker that asks is killed.
static bool kill_once(void *data) {
  killer *k = data;
  if (getpid() != k->watcher && atomic_exchange(&k->killed, 1) == 0) raise(SIGKILL);
  return false;
}

START_TEST(a_worker_that_dies_is_said) {
  heard h;
  killer *k = mmap(NULL, sizeof *k, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  ck_assert(k != MAP_FAILED);
  k->watcher = getpid();
  study_files_make(&files, CELL, STUDY);
  cavum_scan_options options = cavum_scan_options_default();
  options.stop = kill_once;
  options.stop_data = k;
  run(&h, options);
  ck_assert_msg(strstr(h.text, "1 scan: a worker was ended by signal 9; its batch"), "%s", h.text);
  temporary_folder_delete(files.folder);
  munmap(k, sizeof *k);
}
END_TEST

START_TEST(options_without_defaults_are_refused) {
  cavum_error error = {0};
  study_files_make(&files, CELL, STUDY);
  cavum_study *study = study_files_open(&files);
  cavum_scan_options options = cavum_scan_options_default();
  ck_assert_uint_eq(options.struct_size, sizeof options);
  options.struct_size = 0;
  ck_assert_int_eq(cavum_scan_run(NULL, study, files.output, &options, &error), CAVUM_ERR_USAGE);
  ck_assert_msg(strstr(error.message, "cavum_scan_options_default()"), "%s", error.message);
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, work_and_note_are_said);
  tcase_add_test(tests, a_worker_that_dies_is_said);
  tcase_add_test(tests, options_without_defaults_are_refused);
}

CAVUM_TEST_MAIN("scan_log", add)
