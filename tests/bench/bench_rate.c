// SPDX-License-Identifier: GPL-3.0-or-later
// How fast one core goes from contour to figures, stage by stage, and whether what is fast is
// right: cold solves, and warm ones of a solver that has just solved a neighbouring shape; several
// modes; the limit of the arithmetic; general-purpose packages; stated uncertainties; memory.
// Asserts nothing. Usage: bench_rate [--quick] [--json FILE]   quick: a tenth of the shapes
#include <cblas.h>
#include <sched.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "base/base.h"
#include "bench_study.h"
#include "cli/cores.h"
#include "rate_coverage.h"
#include "rate_packages.h"
#include "rate_problem.h"
#include "rate_series.h"

/** What all parts of the benchmark share. */
typedef struct bench {
  json_t *report;
  char folder[64]; /**< For files of packages and studies. */
  int part;        /**< Of the shapes: 1, or 10 when in a hurry. */
} bench;

static cavum_cell read_demo(const char *name, const rate_accuracy *accuracy, int modes) {
  char path[600];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s", CAVUM_CELLS_FOLDER, name);
  if (cavum_cell_read_file(&cell, path, &error) != CAVUM_OK) bench_study_quit(&error);
  cell.accuracy_frequency = accuracy->frequency;
  cell.accuracy_other_figures = accuracy->other_figures;
  cell.num_modes = modes;
  return cell;
}

static cavum_solver *make_solver(void) {
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  if (cavum_solver_create(&solver, NULL, &error) != CAVUM_OK) bench_study_quit(&error);
  return solver;
}

static void time_neighbours(rate_pair *pair, const cavum_cell *cell, int count) {
  random_state state = {20250101};
  cavum_solver *solver = make_solver();
  *pair = (rate_pair){0};
  for (int i = 0; i < count; i++) rate_pair_add(pair, solver, cell, &state, i);
  cavum_solver_destroy(&solver);
}

// Time against what the arithmetic alone would take at the rate of a large matrix product.
static void compare_limit(bench *b, const cavum_result *result, const char *suffix, double rate,
                          double warm_s) {
  double flops = 0.0;
  cavum_error error = {0};
  if (rate_problem_flops(&flops, result, &error) != CAVUM_OK) bench_study_quit(&error);
  printf(
      "degree %d, %d unknowns: %.3g operations, at the %.1f GFLOP/s of a matrix product (%s) %.1f "
      "us; a warm solve achieves %.2f GFLOP/s and takes %.1f times as long\n",
      result->degree, (int)result->num_unknowns, flops, 1e-9 * rate, openblas_get_corename(),
      1e6 * flops / rate, 1e-9 * flops / warm_s, warm_s * rate / flops);
  rate_report_set(b->report, warm_s * rate / flops, "limit%s_ratio", suffix);
  rate_report_set(b->report, 1e-9 * flops / warm_s, "achieved%s_gflops", suffix);
}

// The result of a warm solve, at the degree that neighbours of the cell are solved at.
static cavum_result *solve_warm(const cavum_cell *cell) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solver *solver = make_solver();
  for (int i = 0; i < 3; i++) {
    cavum_result_destroy(&result);
    if (cavum_solver_solve(&result, solver, cell, &error) != CAVUM_OK) bench_study_quit(&error);
  }
  cavum_solver_destroy(&solver);
  return result;
}

// One cell with tubes: the reference of limits and packages.
static void time_injector(bench *b) {
  static rate_pair pair;
  static const char *const suffixes[RATE_NUM_ACCURACIES] = {"", "_tight"};
  double rate = rate_problem_product_rate();
  rate_report_set(b->report, 1e-9 * rate, "product_gflops");
  for (int a = 0; a < RATE_NUM_ACCURACIES; a++) {
    cavum_cell cell = read_demo("injector-cell.yaml", &rate_accuracies[a], 1);
    time_neighbours(&pair, &cell, 200 / b->part);
    rate_pair_report(&pair, b->report, "", "injector cell with tubes, neighbours",
                     &rate_accuracies[a]);
    double warm_s = rate_series_median(&pair.warm, RATE_TOTAL);
    double cold_s = rate_series_median(&pair.cold, RATE_TOTAL);
    cavum_result *result = solve_warm(&cell);
    compare_limit(b, result, suffixes[a], rate, warm_s);
    rate_packages_scipy(b->report, result, b->folder, a == RATE_DEFAULT ? "" : "tight", warm_s,
                        cold_s);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}

// One right after the other, so that both see the same machine.
static void time_five_modes(bench *b) {
  static rate_pair one, five;
  const rate_accuracy *accuracy = &rate_accuracies[RATE_DEFAULT];
  cavum_cell cell = read_demo("injector-cell.yaml", accuracy, 1);
  time_neighbours(&one, &cell, 100 / b->part);
  cell.num_modes = 5;
  time_neighbours(&five, &cell, 100 / b->part);
  rate_pair_report(&five, b->report, "five_modes_", "injector cell, five modes", accuracy);
  double warm =
      rate_series_median(&five.warm, RATE_TOTAL) / rate_series_median(&one.warm, RATE_TOTAL);
  double cold =
      rate_series_median(&five.cold, RATE_TOTAL) / rate_series_median(&one.cold, RATE_TOTAL);
  printf("five modes take %.2f times as long as one, warm; %.2f times, cold\n", warm, cold);
  rate_report_set(b->report, warm, "five_modes_ratio");
  rate_report_set(b->report, cold, "five_modes_cold_ratio");
  cavum_cell_clear(&cell);
}

static void time_nose_cone(bench *b) {
  static rate_pair pair;
  for (int a = 0; a < RATE_NUM_ACCURACIES; a++) {
    cavum_cell cell = read_demo("nose-cone-cell.yaml", &rate_accuracies[a], 1);
    time_neighbours(&pair, &cell, 50 / b->part);
    rate_pair_report(&pair, b->report, "nose_cone_", "nose-cone cell, neighbours",
                     &rate_accuracies[a]);
    if (a == RATE_DEFAULT) {
      rate_report_set(b->report, 1e3 * rate_series_median(&pair.warm, RATE_TOTAL),
                      "nose_cone_warm_ms");
    }
    cavum_cell_clear(&cell);
  }
}

static void ask_for_one_mode(cavum_cell *cell, const rate_accuracy *accuracy) {
  cell->num_modes = 1;
  cell->accuracy_frequency = accuracy->frequency;
  cell->accuracy_other_figures = accuracy->other_figures;
}

static void time_random_cells(bench *b) {
  static rate_pair pair;
  for (int a = 0; a < RATE_NUM_ACCURACIES; a++) {
    random_state state = {24681357};
    cavum_solver *solver = make_solver();
    pair = (rate_pair){0};
    for (int i = 0; i < 1000 / b->part; i++) {
      cavum_cell cell = random_two_ellipse(&state);
      ask_for_one_mode(&cell, &rate_accuracies[a]);
      rate_pair_add(&pair, solver, &cell, &state, i);
      cavum_cell_clear(&cell);
    }
    cavum_solver_destroy(&solver);
    rate_pair_report(&pair, b->report, "random_", "random two-ellipse cells", &rate_accuracies[a]);
    rate_report_set(b->report, pair.apart.largest, "warm_cold_difference%s",
                    a == RATE_DEFAULT ? "" : "_tight");
    rate_report_set(b->report, pair.apart.unlike, "warm_cold_unlike%s",
                    a == RATE_DEFAULT ? "" : "_tight");
  }
}

static void time_random_paths(bench *b) {
  static rate_pair pair;
  for (int a = 0; a < RATE_NUM_ACCURACIES; a++) {
    random_state state = {13572468};
    cavum_solver *solver = make_solver();
    pair = (rate_pair){0};
    for (int i = 0; i < 100 / b->part; i++) {
      cavum_cell cell = random_path(&state, i);
      ask_for_one_mode(&cell, &rate_accuracies[a]);
      rate_pair_add(&pair, solver, &cell, &state, i);
      cavum_cell_clear(&cell);
    }
    cavum_solver_destroy(&solver);
    rate_pair_report(&pair, b->report, "path_", "random paths", &rate_accuracies[a]);
    if (a != RATE_DEFAULT) continue;
    rate_report_set(b->report, 1e3 * rate_series_median(&pair.warm, RATE_TOTAL), "path_default_ms");
  }
}

static void measure_worker(bench *b) {
  bench_study_copy_cell(b->folder);
  double bytes = bench_study_worker_memory_bytes(b->folder, 100000);
  printf("peak memory of a scan worker: %.1f MB\n", 1e-6 * bytes);
  rate_report_set(b->report, 1e-6 * bytes, "worker_peak_mb");
}

// Stays on the core where it is now.
static void pin(void) {
  cpu_set_t one;
  int core = sched_getcpu();
  CPU_ZERO(&one);
  if (core >= 0) CPU_SET((size_t)core, &one);
  if (core < 0 || sched_setaffinity(0, sizeof one, &one) != 0) printf("not pinned to a core\n");
}

static double processor_seconds(void) {
  double seconds = 0.0;
  for (int i = 0; i < 2; i++) {
    struct rusage usage;
    getrusage(i == 0 ? RUSAGE_SELF : RUSAGE_CHILDREN, &usage);
    seconds += (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
               1e-6 * (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
  }
  return seconds;
}

// Times on a core that others use too are too long: medians a little, percentiles a lot.
static void report_core(bench *b, double start_s) {
  double seconds = cavum_seconds() - start_s, share = processor_seconds() / seconds;
  printf("%.0f s in all, %.0f %% of them on the core%s\n", seconds, 100.0 * share,
         share < 0.98 ? ": OTHERS USED IT TOO" : "");
  rate_report_set(b->report, share, "core_share");
  rate_report_set(b->report, 1000 / b->part, "random_shapes");
}

static void run(bench *b) {
  double start_s = cavum_seconds();
  measure_worker(b);  // first: it starts with the memory of this process
  time_injector(b);
  time_five_modes(b);
  time_nose_cone(b);
  rate_packages_script(b->report);
  time_random_cells(b);
  time_random_paths(b);
  rate_coverage(b->report, 1000 / b->part);
  report_core(b, start_s);
}

int main(int argc, char **argv) {
  bench b = {.folder = "/tmp/cavum-bench-XXXXXX", .part = 1};
  const char *json_path = NULL;
  for (int i = 1; i < argc; i++) {
    if (strcmp(argv[i], "--quick") == 0) {
      b.part = 10;
    } else if (strcmp(argv[i], "--json") == 0 && i + 1 < argc) {
      json_path = argv[++i];
    } else {
      fprintf(stderr, "usage: bench_rate [--quick] [--json FILE]\n");
      return EXIT_FAILURE;
    }
  }
  setvbuf(stdout, NULL, _IOLBF, 0);
  pin();
  cavum_cores_use_one();
  openblas_set_num_threads(1);
  b.report = json_object();
  if (!b.report || !mkdtemp(b.folder)) return EXIT_FAILURE;
  run(&b);
  bool written = !json_path || rate_report_write(b.report, json_path);
  json_decref(b.report);
  char command[128];
  snprintf(command, sizeof command, "rm -r %s", b.folder);
  return system(command) == 0 && written ? EXIT_SUCCESS : EXIT_FAILURE;
}
