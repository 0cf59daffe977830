// SPDX-License-Identifier: GPL-3.0-or-later
// Rates of shape scans. Wanted: two workers on two cores 1.9 times one; sampling, storing and
// progress at most 5 % over bare warm solves; 100,000 two-ellipse shapes with the frequency held on
// two cores in 3 minutes; 64 MB a worker whatever the number of shapes; a million rows gathered in
// 10 s; the non-dominated ones of them in two aims in 2 s, in three in 20 s; a row
// with its coupling in twice the time of one without. Usage: bench_scan
// [SHAPES]   shapes of the timed scans (default 1500)
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/base.h"
#include "bench_study.h"
#include "cavum/cavum.h"
#include "cli/cores.h"
#include "scan/one_shape.h"
#include "scan/record_writer.h"

static const int64_t many_rows = 1000000, csv_rows = 100000;

static char folder[64] = "/tmp/cavum-bench-XXXXXX";

/** Seconds of a run. */
typedef struct run_time {
  double wall, processor;
} run_time;

static double processor_seconds(int who) {
  struct rusage usage;
  getrusage(who, &usage);
  return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
         1e-6 * (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

static void ignore_progress(const cavum_scan_progress *progress, void *data) {
  *(double *)data = progress->seconds;
}

static run_time scan(cavum_study *study, const char *name, int workers, int64_t num_parts,
                     cavum_scan_progress *outcome) {
  char output[128];
  double seen = 0.0;
  cavum_error error = {0};
  cavum_scan_options options = cavum_scan_options_default();
  options.workers = workers;
  options.num_parts = num_parts;
  options.watcher = ignore_progress;
  options.watcher_data = &seen;
  snprintf(output, sizeof output, "%s/%s", folder, name);
  double wall = cavum_seconds(), before = processor_seconds(RUSAGE_CHILDREN);
  if (cavum_scan_run(outcome, study, output, &options, &error) != CAVUM_OK)
    bench_study_quit(&error);
  return (run_time){cavum_seconds() - wall, processor_seconds(RUSAGE_CHILDREN) - before};
}

// The same shapes by a warm solver alone, in a process of its own like a worker.
static run_time bare(cavum_study *study) {
  double wall = cavum_seconds(), before = processor_seconds(RUSAGE_CHILDREN);
  pid_t process = fork();
  if (process == 0) {
    int64_t shapes = cavum_study_num_shapes(study);
    cavum_solver *solver = NULL;
    cavum_error error = {0};
    if (cavum_solver_create(&solver, NULL, &error) != CAVUM_OK) bench_study_quit(&error);
    for (int64_t shape = 0; shape < shapes; shape++) {
      double values[CAVUM_STUDY_MOST_INPUTS];
      cavum_cell cell;
      cavum_result *result = NULL;
      if (shape % cavum_study_batch_size(study) == 0) cavum_solver_forget(solver);
      cavum_study_sample(values, study, shape, &error);
      if (cavum_study_make_cell(&cell, study, values, &error) != CAVUM_OK) continue;
      (void)cavum_solver_solve(&result, solver, &cell, &error);
      cavum_result_destroy(&result);
      cavum_cell_clear(&cell);
    }
    cavum_solver_destroy(&solver);
    _exit(0);
  }
  waitpid(process, NULL, 0);
  return (run_time){cavum_seconds() - wall, processor_seconds(RUSAGE_CHILDREN) - before};
}

static void time_plain(long long shapes) {
  cavum_study *study = bench_study_make(folder, "plain.yaml", shapes, 0);
  run_time alone = bare(study);
  run_time one = scan(study, "one.hdf", 1, 1, NULL);
  run_time two = scan(study, "two.hdf", 2, 1, NULL);
  printf("bare warm solves            %8.3f ms a shape (%.3f ms of processor)\n",
         1e3 * alone.wall / (double)shapes, 1e3 * alone.processor / (double)shapes);
  printf(
      "scan, one worker            %8.3f ms a shape: %+.1f %% wall, %+.1f %% processor"
      "   [5 %% or less]\n",
      1e3 * one.wall / (double)shapes, 100.0 * (one.wall / alone.wall - 1.0),
      100.0 * (one.processor / alone.processor - 1.0));
  // On a machine that others use too, the processor seconds say what two workers cost each other.
  printf(
      "scan, two workers           %8.3f ms a shape: %.2f times one, %+.1f %% processor"
      "   [1.9 or more]\n",
      1e3 * two.wall / (double)shapes, one.wall / two.wall,
      100.0 * (two.processor / one.processor - 1.0));
  cavum_study_close(&study);
}

// The coupling takes the modes of both pairs of ends; one of them is that of the row.
static void time_coupling(long long shapes) {
  cavum_study *plain = bench_study_make(folder, "alone.yaml", shapes, 0);
  cavum_study *coupled =
      bench_study_make_with(folder, "coupled.yaml", shapes, 0, "coupling: yes\n");
  run_time without = scan(plain, "alone.hdf", 1, 1, NULL);
  run_time with = scan(coupled, "coupled.hdf", 1, 1, NULL);
  printf(
      "coupling: yes               %8.3f ms a shape: %.2f times without it, %.2f of processor"
      "   [2 or less]\n",
      1e3 * with.wall / (double)shapes, with.wall / without.wall,
      with.processor / without.processor);
  cavum_study_close(&plain);
  cavum_study_close(&coupled);
}

// Going to the last point of a sequence, which the last worker of a large study does.
static void time_sequence(void) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_error error = {0};
  const long long points = 10000000;
  cavum_study *study = bench_study_make(folder, "sequence.yaml", points, 0);
  double start = cavum_seconds();
  if (cavum_study_sample(values, study, points - 1, &error) != CAVUM_OK) bench_study_quit(&error);
  printf("stepping a Sobol sequence   %8.2f ns a point\n",
         1e9 * (cavum_seconds() - start) / (double)points);
  cavum_study_close(&study);
}

static void time_held(long long shapes) {
  cavum_scan_progress outcome;
  cavum_study *study = bench_study_make(folder, "held.yaml", shapes, 1);
  run_time two = scan(study, "held.hdf", 2, 1, &outcome);
  printf(
      "frequency held, two workers %8.3f ms a shape, %.2f solves a shape: 100000 in %.1f min"
      "   [3 or less, stretch 1]\n",
      1e3 * two.wall / (double)shapes, (double)outcome.num_solves / (double)shapes,
      two.wall / (double)shapes * 1e5 / 60.0);
  cavum_study_close(&study);
}

// What a worker keeps must not depend on the number of shapes.
static void measure_memory(void) {
  static const long long sizes[] = {1000, 100000000};
  for (int i = 0; i < 2; i++) {
    printf("memory of a worker          %8.1f MB in a study of %lld shapes    [64 or less]\n",
           bench_study_worker_memory_bytes(folder, sizes[i]) / 1e6, sizes[i]);
  }
}

// A row is known again by the varied numbers of its shape.
static void put_shape(unsigned char *row, cavum_study *study, int64_t shape) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_error error = {0};
  size_t offset = study->layout.columns[study->layout.first_input].offset;
  if (cavum_study_sample(values, study, shape, &error) != CAVUM_OK) bench_study_quit(&error);
  memcpy(row + study->layout.columns[study->layout.shape].offset, &shape, sizeof shape);
  memcpy(row + offset, values, (size_t)cavum_study_num_varied(study) * sizeof *values);
}

// Records of a million rows: those of a real batch with the last bits of all numbers stirred, so
// that they compress no better than real ones.
static void write_records(cavum_study *study, const char *output) {
  cavum_division whole = {1, 1};
  cavum_record_writer writer;
  cavum_scan_worker worker = {0};
  cavum_error error = {0};
  char reason[CAVUM_MESSAGE_SIZE];
  char *reasons[CAVUM_STUDY_DEFAULT_BATCH] = {0};
  int num_columns;
  const cavum_column *columns = cavum_study_columns(&num_columns, study);
  size_t row_size = cavum_study_row_size(study);
  unsigned char *model = calloc(1, row_size);
  uint64_t state = 1;
  if (!model || cavum_scan_worker_open(&worker, study, NULL, NULL, &error) != CAVUM_OK)
    bench_study_quit(&error);
  if (cavum_scan_compute(model, reason, &worker, 0, &error) != CAVUM_OK) bench_study_quit(&error);
  if (cavum_records_make_folder(output, whole, &error) != CAVUM_OK) bench_study_quit(&error);
  cavum_record_writer_open(&writer, study, output, whole);
  for (int64_t batch = 0; batch < cavum_study_num_batches(study); batch++) {
    int rows = cavum_study_batch_rows(study, batch);
    unsigned char *row = cavum_record_writer_begin(&writer, rows);
    for (int i = 0; i < rows; i++, row += row_size) {
      memcpy(row, model, row_size);
      for (int c = 0; c < num_columns; c++) {
        bool wide = columns[c].type == CAVUM_COLUMN_DOUBLE;
        if (!wide && columns[c].type != CAVUM_COLUMN_FLOAT) continue;
        state = state * UINT64_C(6364136223846793005) + 1;
        uint64_t stirred = state >> 16;  // the low bits of such a generator repeat early
        memcpy(row + columns[c].offset, &stirred, wide ? 6 : 2);
      }
      put_shape(row, study, batch * cavum_study_batch_size(study) + i);
    }
    if (cavum_record_writer_append(&writer, batch, rows, reasons, &error) != CAVUM_OK) {
      bench_study_quit(&error);
    }
  }
  if (cavum_record_writer_close(&writer, &error) != CAVUM_OK) bench_study_quit(&error);
  cavum_scan_worker_clear(&worker);
  free(model);
}

// Rows as text: what a spreadsheet reads.
static void time_csv(void) {
  char output[128], csv[128];
  cavum_error error = {0};
  cavum_scan_records *records = NULL;
  cavum_stored_scan *stored = NULL;
  cavum_study *study = bench_study_make(folder, "csv.yaml", csv_rows, 1);
  snprintf(output, sizeof output, "%s/csv.hdf", folder);
  snprintf(csv, sizeof csv, "%s/rows.csv", folder);
  write_records(study, output);
  if (cavum_scan_records_open(&records, study, output, &error) != CAVUM_OK ||
      cavum_store_write_scan(output, study, records, &error) != CAVUM_OK ||
      cavum_stored_scan_open(&stored, output, &error) != CAVUM_OK) {
    bench_study_quit(&error);
  }
  double start = cavum_seconds(), before = processor_seconds(RUSAGE_SELF);
  if (cavum_store_write_scan_csv(csv, stored, &error) != CAVUM_OK) bench_study_quit(&error);
  printf("CSV of %lld rows          %8.2f s for %d columns, %.2f s of processor   [3 s or less]\n",
         (long long)csv_rows, cavum_seconds() - start, cavum_stored_scan_num_columns(stored),
         processor_seconds(RUSAGE_SELF) - before);
  cavum_stored_scan_close(&stored);
  cavum_scan_records_close(&records);
  cavum_scan_records_remove(output, NULL);
  cavum_study_close(&study);
}

// Sums up a million rows. Of free figures few rows are non-dominated. When the number of a shape is
// to be small and large, all are, which is the most that there can be.
static void time_summary(const char *path) {
  static const struct {
    const char *what, *keys[3];
    int num_keys;
    bool opposed;
  } sets[] = {{"two free aims", {"epk_over_eacc", "r_over_q_linac_ohm"}, 2, false},
              {"two opposed aims", {"shape", "shape"}, 2, true},
              {"three free aims",
               {"epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m", "r_over_q_linac_ohm"},
               3,
               false},
              {"three aims, two opposed", {"shape", "shape", "epk_over_eacc"}, 3, true}};
  cavum_error error = {0};
  cavum_stored_scan *scan = NULL;
  if (cavum_stored_scan_open(&scan, path, &error) != CAVUM_OK) bench_study_quit(&error);
  for (size_t i = 0; i < sizeof sets / sizeof *sets; i++) {
    cavum_scan_summary summary = {0};
    cavum_scan_aims aims = {.struct_size = sizeof aims, .count = sets[i].num_keys, .num_best = 5};
    for (int k = 0; k < aims.count; k++) {
      aims.columns[k] = cavum_stored_scan_find(scan, sets[i].keys[k]);
      aims.smaller[k] = sets[i].opposed ? k != 1 : cavum_scan_smaller_is_better(sets[i].keys[k]);
    }
    double start = processor_seconds(RUSAGE_SELF);
    if (cavum_scan_summarise(&summary, scan, &aims, &error) != CAVUM_OK) bench_study_quit(&error);
    printf("summary, %-23s %6.2f s of processor, %lld of %lld rows non-dominated   [%s]\n",
           sets[i].what, processor_seconds(RUSAGE_SELF) - start, (long long)summary.num_front,
           (long long)summary.num_rows, aims.count == 2 ? "2 s or less" : "20 s or less");
    cavum_scan_summary_clear(&summary);
  }
  cavum_stored_scan_close(&scan);
}

static void time_gather(void) {
  char output[128];
  struct stat found;
  cavum_error error = {0};
  cavum_scan_records *records = NULL;
  cavum_study *study = bench_study_make(folder, "gather.yaml", many_rows, 1);
  snprintf(output, sizeof output, "%s/gather.hdf", folder);
  write_records(study, output);
  double start = cavum_seconds(), before = processor_seconds(RUSAGE_SELF);
  if (cavum_scan_records_open(&records, study, output, &error) != CAVUM_OK)
    bench_study_quit(&error);
  double opened = cavum_seconds();
  if (cavum_store_write_scan(output, study, records, &error) != CAVUM_OK) bench_study_quit(&error);
  double end = cavum_seconds(), after = processor_seconds(RUSAGE_SELF);
  if (stat(output, &found) != 0) exit(EXIT_FAILURE);
  printf(
      "gather of %lld rows      %8.2f s (finding the records %.2f s), %.2f s of processor, "
      "%.0f bytes a row, %.0f in the file   [10 s or less]\n",
      (long long)many_rows, end - start, opened - start, after - before,
      (double)cavum_study_row_size(study), (double)found.st_size / (double)many_rows);
  time_summary(output);
  cavum_scan_records_close(&records);
  cavum_scan_records_remove(output, NULL);
  cavum_study_close(&study);
}

/** A part of this benchmark, by name. */
typedef struct bench_part {
  const char *name;
  void (*with_shapes)(long long shapes);
  void (*run)(void);
} bench_part;

// Usage: bench_scan [SHAPES [PART...]]
int main(int argc, char **argv) {
  static const bench_part parts[] = {{"plain", time_plain, NULL},
                                     {"held", time_held, NULL},
                                     {"coupling", time_coupling, NULL},
                                     {"sequence", NULL, time_sequence},
                                     {"memory", NULL, measure_memory},
                                     {"gather", NULL, time_gather},
                                     {"csv", NULL, time_csv}};
  long long shapes = argc > 1 ? atoll(argv[1]) : 1500;
  setenv("OPENBLAS_NUM_THREADS", "1", 0);
  setvbuf(stdout, NULL, _IOLBF, 0);  // children must not print it again
  if (shapes < 1 || !mkdtemp(folder)) return EXIT_FAILURE;
  bench_study_copy_cell(folder);
  cavum_cores_restore();
  cavum_cores_use_one();
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    bool wanted = argc < 3;
    for (int k = 2; k < argc; k++) wanted = wanted || strcmp(argv[k], parts[i].name) == 0;
    if (wanted && parts[i].run) parts[i].run();
    if (wanted && parts[i].with_shapes) parts[i].with_shapes(shapes);
  }
  char command[128];
  snprintf(command, sizeof command, "rm -r %s", folder);
  return system(command) == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
