// SPDX-License-Identifier: GPL-3.0-or-later
// How cost grows: processor time and peak memory against unknowns, cells of a chain and modes, each
// solve in a process of its own, with the exponents of power laws through the larger half. Prints
// tables as the documents have them, asserts nothing. `--full`: up to 4e6 unknowns, 81 cells, 100
// modes, some minutes. Parts run by name: unknowns, chains, sharp, modes; PART:FIRST-LAST runs some
// of its rows, counted from 1, whether or not --full is given.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/cavum.h"

void openblas_set_num_threads(int threads);

enum { CASES_MOST = 16, TEXT_MOST = 1 << 16 };
// A small solve is repeated for so long; no solve ends at its limit of work.
static const double REPEAT_S = 0.3, WORK_LIMIT_S = 1e6;

// One solve; what it cost.
typedef struct growth_case {
  double size;  // what cost is fitted against
  const char *text;
  double refinement;
  int degree, num_modes;
} growth_case;

typedef struct growth_cost {
  double unknowns, elements, time_s, memory_mb;
  int degree, num_modes;
  bool reached;
} growth_cost;

static double processor_s(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static bool solve(growth_cost *cost, const growth_case *c) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  if (cavum_cell_read_text(&cell, c->text, strlen(c->text), "growth", &error) != CAVUM_OK) {
    printf("%s\n", error.message);
    return false;
  }
  cell.num_modes = c->num_modes;
  options.refinement = c->refinement;
  options.degree = c->degree;
  options.work_limit_s = WORK_LIMIT_S;
  double start = processor_s();
  int count = 0;
  for (; count == 0 || processor_s() - start < REPEAT_S; count++) {
    cavum_result *result = NULL;
    (void)cavum_solve(&result, &cell, &options, &error);
    if (!result) {
      printf("%s\n", error.message);
      return false;
    }
    *cost = (growth_cost){.unknowns = result->num_unknowns,
                          .elements = result->mesh.num_elements,
                          .degree = result->degree,
                          .num_modes = result->num_modes,
                          .reached = result->accuracy_reached};
    cavum_result_destroy(&result);
    // The first solve of a process loads libraries.
    if (count == 0 && processor_s() - start < REPEAT_S) start = processor_s();
  }
  cost->time_s = (processor_s() - start) / (count > 1 ? count - 1 : 1);
  cavum_cell_clear(&cell);
  return true;
}

// In a process of its own, whose memory is its own too.
static bool measure(growth_cost *cost, const growth_case *c) {
  int ends[2], status = 0;
  struct rusage usage;
  if (pipe(ends) != 0) return false;
  fflush(stdout);
  pid_t child = fork();
  if (child == 0) {
    growth_cost mine = {0};
    bool done = solve(&mine, c) && write(ends[1], &mine, sizeof mine) == (ssize_t)sizeof mine;
    fflush(stdout);
    _exit(done ? 0 : 1);
  }
  close(ends[1]);
  bool got = child > 0 && read(ends[0], cost, sizeof *cost) == (ssize_t)sizeof *cost;
  close(ends[0]);
  if (child > 0) wait4(child, &status, 0, &usage);
  if (got) cost->memory_mb = (double)usage.ru_maxrss / 1000.0;
  return got;
}

// Slope of a line through logarithms.
static double exponent(const double *x, const double *y, int count) {
  double sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (int i = 0; i < count; i++) {
    double a = log(x[i]), b = log(y[i]);
    sx += a, sy += b, sxx += a * a, sxy += a * b;
  }
  return (count * sxy - sx * sy) / (count * sxx - sx * sx);
}

// Rows of a part that are asked for, from 1.
typedef struct rows {
  int first, last;
} rows;

static void run(const char *what, const growth_case *cases, int count, rows asked) {
  double size[CASES_MOST], time_s[CASES_MOST], memory_mb[CASES_MOST];
  int done = 0;
  printf("\n| %s | modes | elements | degree | unknowns | processor time | peak memory |\n", what);
  printf("| ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n");
  for (int i = 0; i < count; i++) {
    growth_cost cost;
    if (i + 1 < asked.first || i + 1 > asked.last || !measure(&cost, &cases[i])) continue;
    size[done] = cases[i].size > 0.0 ? cases[i].size : cost.unknowns;
    time_s[done] = cost.time_s;
    memory_mb[done++] = cost.memory_mb;
    printf("| %.0f | %d | %.0f | %d | %.0f | %.3g s | %.0f MB |%s\n", size[done - 1],
           cost.num_modes, cost.elements, cost.degree, cost.unknowns, cost.time_s, cost.memory_mb,
           cost.reached || cases[i].degree > 0 ? "" : " accuracy not reached");
    fflush(stdout);
  }
  int from = done / 2 < done - 2 ? done / 2 : (done > 2 ? done - 2 : 0), used = done - from;
  if (used < 2) return;
  printf("\nFrom %.0f on: time as size^%.2f, memory as size^%.2f.\n", size[from],
         exponent(size + from, time_s + from, used), exponent(size + from, memory_mb + from, used));
}

static const char CELL[] =
    "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";

// Cells of a closed chain, 115 mm each, with irises of 20 mm that are round or have sharp edges.
static char *make_chain(int cells, bool sharp) {
  char *text = malloc(TEXT_MOST);
  if (!text) return NULL;
  double end = 115.0 * cells;
  size_t n = (size_t)snprintf(
      text, TEXT_MOST,
      "accelerating_length_mm: %g\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: %g, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: %g, r_mm: 35}, boundary: metal}\n",
      end, end, end);
  for (int i = cells - 1; i >= 0; i--) {
    double low = 115.0 * i, high = low + 115.0;
    if (sharp) {
      n += (size_t)snprintf(text + n, TEXT_MOST - n,
                            "    - {line_to: {z_mm: %g, r_mm: 35}, boundary: metal}\n"
                            "    - {line_to: {z_mm: %g, r_mm: 103}, boundary: metal}\n"
                            "    - {line_to: {z_mm: %g, r_mm: 103}, boundary: metal}\n"
                            "    - {line_to: {z_mm: %g, r_mm: 35}, boundary: metal}\n"
                            "    - {line_to: {z_mm: %g, r_mm: 35}, boundary: metal}\n",
                            high - 10.0, high - 10.0, low + 10.0, low + 10.0, low);
      continue;
    }
    n += (size_t)snprintf(
        text + n, TEXT_MOST - n,
        "    - {arc_to: {z_mm: %g, r_mm: 45}, centre: {z_mm: %g, r_mm: 45}, turn: right, "
        "boundary: metal}\n"
        "    - {line_to: {z_mm: %g, r_mm: 73}, boundary: metal}\n"
        "    - {arc_to: {z_mm: %g, r_mm: 103}, centre: {z_mm: %g, r_mm: 73}, turn: left, "
        "boundary: metal}\n"
        "    - {line_to: {z_mm: %g, r_mm: 103}, boundary: metal}\n"
        "    - {arc_to: {z_mm: %g, r_mm: 73}, centre: {z_mm: %g, r_mm: 73}, turn: left, "
        "boundary: metal}\n"
        "    - {line_to: {z_mm: %g, r_mm: 45}, boundary: metal}\n"
        "    - {arc_to: {z_mm: %g, r_mm: 35}, centre: {z_mm: %g, r_mm: 45}, turn: right, "
        "boundary: metal}\n",
        high - 10.0, high, high - 10.0, high - 40.0, high - 40.0, low + 40.0, low + 10.0,
        low + 40.0, low + 10.0, low, low);
  }
  snprintf(text + n, TEXT_MOST - n, "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
  return text;
}

// The last meshes are as fine as they may be, of higher degree.
static void grow_unknowns(double most, rows asked) {
  static const struct {
    double refinement;
    int degree;
  } meshes[] = {{1, 8}, {2, 8}, {4, 8}, {8, 8}, {16, 8}, {32, 8}, {57, 9}};
  growth_case cases[CASES_MOST];
  int count = 0;
  for (size_t i = 0; i < sizeof meshes / sizeof *meshes; i++) {
    double finer = meshes[i].refinement * meshes[i].degree;
    // Some 15 elements for the square of the refinement.
    if (15.0 * finer * finer > most) continue;
    cases[count++] = (growth_case){.text = CELL,
                                   .refinement = meshes[i].refinement,
                                   .degree = meshes[i].degree,
                                   .num_modes = 3};
  }
  run("unknowns of one cell", cases, count, asked);
}

static void grow_chain(bool sharp, int most, rows asked) {
  growth_case cases[CASES_MOST];
  int count = 0;
  for (int cells = 1; cells <= most; cells *= 3) {
    cases[count++] = (growth_case){
        .size = cells, .text = make_chain(cells, sharp), .num_modes = cells < 9 ? cells : 9};
  }
  run(sharp ? "cells, sharp irises" : "cells, round irises", cases, count, asked);
  for (int i = 0; i < count; i++) free((void *)(uintptr_t)cases[i].text);
}

static void grow_modes(int most, rows asked) {
  static const int modes[] = {1, 2, 5, 10, 20, 50, 100};
  growth_case cases[CASES_MOST];
  int count = 0;
  for (size_t i = 0; i < sizeof modes / sizeof *modes; i++) {
    if (modes[i] > most) continue;
    cases[count++] = (growth_case){.size = modes[i], .text = CELL, .num_modes = modes[i]};
  }
  run("modes of one cell", cases, count, asked);
}

// Whether a part runs, and which rows of it: all of them where none are named.
static bool is_asked(rows *asked, int argc, char **argv, const char *part) {
  bool any = false;
  size_t length = strlen(part);
  *asked = (rows){1, CASES_MOST};
  for (int i = 1; i < argc; i++) {
    any = any || argv[i][0] != '-';
    if (strncmp(argv[i], part, length) != 0) continue;
    if (argv[i][length] == '\0') return true;
    if (argv[i][length] != ':') continue;
    char *end;
    asked->first = asked->last = (int)strtol(argv[i] + length + 1, &end, 10);
    if (*end == '-') asked->last = (int)strtol(end + 1, &end, 10);
    return true;
  }
  return !any;
}

static bool names_rows(int argc, char **argv) {
  for (int i = 1; i < argc; i++) {
    if (strchr(argv[i], ':')) return true;
  }
  return false;
}

int main(int argc, char **argv) {
  openblas_set_num_threads(1);
  bool full = (argc > 1 && strcmp(argv[1], "--full") == 0) || names_rows(argc, argv);
  rows asked;
  if (is_asked(&asked, argc, argv, "unknowns")) grow_unknowns(full ? 5e6 : 3e5, asked);
  if (is_asked(&asked, argc, argv, "chains")) grow_chain(false, full ? 81 : 27, asked);
  if (is_asked(&asked, argc, argv, "sharp")) grow_chain(true, full ? 81 : 9, asked);
  if (is_asked(&asked, argc, argv, "modes")) grow_modes(full ? 100 : 50, asked);
  return 0;
}
