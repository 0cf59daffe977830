// SPDX-License-Identifier: GPL-3.0-or-later
// How long a solve works between two of its questions whether to stop: the longest such time of its
// thread's processor, also before the first and after the last question. Asserts nothing.
// Usage: bench_stop [--large]     --large: minutes, with a mesh file of 100,000 triangles as well
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "grid_msh.h"
#include "random_cells.h"

typedef struct watch {
  int count;
  double last_s, longest_s;
} watch;

static double work_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void note(watch *w) {
  double now_s = work_seconds();
  if (now_s - w->last_s > w->longest_s) w->longest_s = now_s - w->last_s;
  w->last_s = now_s;
}

static bool ask(void *data) {
  watch *w = data;
  note(w);
  w->count++;
  return false;
}

static void time_solve(const char *name, const cavum_cell *cell, cavum_solve_options options) {
  watch w = {0};
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  options.stop = ask;
  options.stop_data = &w;
  w.last_s = work_seconds();
  double start_s = w.last_s;
  cavum_status status = cavum_solve(&result, cell, &options, &error);
  note(&w);
  printf("%-44s %8.1f %10d %12.1f  %.60s\n", name, 1e3 * (w.last_s - start_s), w.count,
         1e3 * w.longest_s, status == CAVUM_OK ? "" : error.message);
  fflush(stdout);
  cavum_result_destroy(&result);
}

static void time_demos(void) {
  static const char *const names[] = {"injector-cell",  "mid-cell", "nose-cone-cell",
                                      "reentrant-cell", "end-cell", "coaxial-resonator"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    char path[512];
    cavum_cell cell;
    cavum_cell_set_defaults(&cell);
    snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, names[i]);
    if (cavum_cell_read_file(&cell, path, NULL) == CAVUM_OK) {
      time_solve(names[i], &cell, cavum_solve_options_default());
    }
    cavum_cell_clear(&cell);
  }
}

// Cells in a row as one contour.
static void time_chain(int num_cells) {
  char *text = NULL, name[64];
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  cavum_cell cell;
  cavum_error error = {CAVUM_OK, ""};
  cavum_cell_set_defaults(&cell);
  if (!out) exit(1);
  fputs("contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n", out);
  fprintf(out, "    - {line_to: {z_mm: %d, r_mm: 0}, boundary: axis}\n", 100 * num_cells);
  fprintf(out, "    - {line_to: {z_mm: %d, r_mm: 35}, boundary: magnetic}\n", 100 * num_cells);
  for (int i = num_cells - 1; i >= 0; i--) {
    fprintf(out, "    - {line_to: {z_mm: %d, r_mm: 100}, boundary: metal}\n", 100 * i + 80);
    fprintf(out, "    - {line_to: {z_mm: %d, r_mm: 100}, boundary: metal}\n", 100 * i + 20);
    fprintf(out, "    - {line_to: {z_mm: %d, r_mm: 35}, boundary: metal}\n", 100 * i);
  }
  fputs("    - {line_to: {z_mm: 0, r_mm: 0}, boundary: magnetic}\n", out);
  fclose(out);
  snprintf(name, sizeof name, "chain of %d cells", num_cells);
  if (cavum_cell_read_text(&cell, text, size, "chain.yaml", &error) == CAVUM_OK) {
    time_solve(name, &cell, cavum_solve_options_default());
  } else {
    printf("%s: %s\n", name, error.message);
  }
  cavum_cell_clear(&cell);
  free(text);
}

static void time_mesh_file(int cells, int order) {
  double *breaks = malloc(((size_t)cells + 1) * sizeof *breaks);
  char path[] = "/tmp/bench_stop_XXXXXX.msh", text[256], name[64];
  int descriptor = mkstemps(path, 4);
  cavum_cell cell;
  cavum_error error = {CAVUM_OK, ""};
  if (!breaks || descriptor < 0) exit(1);
  grid_equal_steps(breaks, cells, 0.0, 0.1);
  grid_msh grid = {.num_s = cells,
                   .num_t = cells,
                   .s = breaks,
                   .t = breaks,
                   .order = order,
                   .triangles = true,
                   .unit_m = 1e-3,
                   .map = grid_identity,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  if (!grid_write_file(&grid, path)) exit(1);
  snprintf(text, sizeof text, "contour: {kind: mesh, file: %s, unit: mm, axis: x}\n", path);
  snprintf(name, sizeof name, "mesh file, %d triangles of order %d", 2 * cells * cells, order);
  cavum_cell_set_defaults(&cell);
  if (cavum_cell_read_text(&cell, text, strlen(text), NULL, &error) == CAVUM_OK) {
    time_solve(name, &cell, cavum_solve_options_default());
  } else {
    printf("%s: %s\n", name, error.message);
  }
  cavum_cell_clear(&cell);
  remove(path);
  close(descriptor);
  free(breaks);
}

static void time_random(int shapes) {
  random_state state = {1};
  for (int i = 0; i < shapes; i++) {
    char name[64];
    cavum_cell cell = random_path(&state, i);
    snprintf(name, sizeof name, "random path %d, 20 modes", i);
    cell.num_modes = 20;
    time_solve(name, &cell, cavum_solve_options_default());
    cavum_cell_clear(&cell);
  }
}

int main(int argc, char **argv) {
  bool large = argc > 1 && strcmp(argv[1], "--large") == 0;
  printf("%-44s %8s %10s %12s\n", "processor, ms", "all", "questions", "longest gap");
  time_demos();
  time_random(10);
  time_chain(10);
  time_mesh_file(6, 2);
  if (large) {
    time_chain(30);
    time_mesh_file(20, 2);
    time_mesh_file(224, 2);
  }
  return 0;
}
