// SPDX-License-Identifier: GPL-3.0-or-later
// The main job in figures: contour to all figures with uncertainties, in-process and as a whole
// process; a large mesh file; closed forms. With FreeFEM installed, a general-purpose script at
// equal frequency accuracy in the same run. Prints medians and ratios, asserts nothing.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "general_package.h"

void openblas_set_num_threads(int threads);

enum { REPEATS = 25 };

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double median(double *values, int count) {
  qsort(values, (size_t)count, sizeof *values, by_value);
  return values[count / 2];
}

static bool read_demo(cavum_cell *cell, const char *name) {
  char path[512];
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s", CAVUM_CELLS_FOLDER, name);
  if (cavum_cell_read_file(cell, path, &error) == CAVUM_OK) return true;
  printf("%s\n", error.message);
  return false;
}

static double solve_in_process(const char *name, double frequency, double peak, int modes) {
  cavum_cell cell;
  double seconds[REPEATS];
  cavum_timings stages = {0};
  int degree = 0, elements = 0, unknowns = 0;
  bool reached = true;
  cavum_cell_set_defaults(&cell);
  if (!read_demo(&cell, name)) return 0.0;
  cell.accuracy_frequency = frequency;
  cell.accuracy_other_figures = peak;
  cell.num_modes = modes;
  for (int i = 0; i < REPEATS; i++) {
    cavum_result *result = NULL;
    double start = cavum_seconds();
    cavum_solve(&result, &cell, NULL, NULL);
    seconds[i] = cavum_seconds() - start;
    if (result) {
      stages = result->timings;
      degree = result->degree;
      elements = (int)result->mesh.num_elements;
      unknowns = (int)result->num_unknowns;
      reached = result->accuracy_reached;
    }
    cavum_result_destroy(&result);
  }
  double middle = median(seconds, REPEATS);
  printf(
      "%-24s %.0e/%.0e modes %d: median %8.2f ms  (last: contour %.2f mesh %.2f coefficients %.2f "
      "eigen %.2f figures %.2f ms; degree %d, %d elements, %d unknowns%s)\n",
      name, frequency, peak, modes, 1e3 * middle, 1e3 * stages.contour_s, 1e3 * stages.mesh_s,
      1e3 * stages.assembly_s, 1e3 * stages.eigen_s, 1e3 * stages.figures_s, degree, elements,
      unknowns, reached ? "" : ", NOT REACHED");
  cavum_cell_clear(&cell);
  return middle;
}

static void solve_process(void) {
  char command[1200];
  double seconds[11];
  char folder[] = "/tmp/cavum-bench-XXXXXX";
  if (!mkdtemp(folder)) return;
  snprintf(command, sizeof command,
           "%s solve %s/injector-cell.yaml --quiet -o %s/cell.hdf >/dev/null", CAVUM_PROGRAM,
           CAVUM_CELLS_FOLDER, folder);
  for (int i = 0; i < 11; i++) {
    double start = cavum_seconds();
    if (system(command) != 0) printf("the program failed\n");
    seconds[i] = cavum_seconds() - start;
  }
  printf("whole process with HDF5 written: median %.1f ms\n", 1e3 * median(seconds, 11));
  snprintf(command, sizeof command, "rm -rf %s", folder);
  if (system(command) != 0) printf("%s is left behind\n", folder);
}

// Closed forms: TM010 of a pillbox, f and the peaks in closed form (zeros of J0 and the maximum of
// J1 are textbook constants).
static void closed_forms(void) {
  const double x01 = 2.404825557695773, j1_most = 0.5818652242815964, pi = CAVUM_PI;
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_cell_set_defaults(&cell);
  if (!read_demo(&cell, "pillbox.yaml")) return;
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-6;
  cell.num_modes = 1;
  if (cavum_solve(&result, &cell, NULL, NULL) == CAVUM_OK) {
    const cavum_figure *f = result->modes[0].figures;
    double radius = 0.1, length = 0.1, k = x01 / radius, phase = 0.5 * k * length;
    double epk = phase / sin(phase), frequency = CAVUM_C_M_PER_S * k / (2.0 * pi);
    double bpk = epk * j1_most / CAVUM_C_M_PER_S;
    printf("pillbox at 1e-9/1e-6: relative errors f %.1e, E_pk/E_acc %.1e, B_pk/E_acc %.1e\n",
           f[CAVUM_FIGURE_FREQUENCY].value / frequency - 1.0,
           f[CAVUM_FIGURE_EPK_OVER_EACC].value / epk - 1.0,
           f[CAVUM_FIGURE_BPK_OVER_EACC].value / bpk - 1.0);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

// A rectangle of n x n quadrilaterals, straight: a mesh file of about n^2 p^2 unknowns.
static bool write_grid(const char *path, int n) {
  FILE *out = fopen(path, "w");
  if (!out) return false;
  fprintf(out, "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$Nodes\n%d\n", (n + 1) * (n + 1));
  for (int j = 0; j <= n; j++) {
    for (int i = 0; i <= n; i++) {
      fprintf(out, "%d %.17g %.17g 0\n", j * (n + 1) + i + 1, 100.0 * i / n, 100.0 * j / n);
    }
  }
  fprintf(out, "$EndNodes\n$Elements\n%d\n", n * n);
  for (int j = 0; j < n; j++) {
    for (int i = 0; i < n; i++) {
      int a = j * (n + 1) + i + 1;
      fprintf(out, "%d 3 2 0 1 %d %d %d %d\n", j * n + i + 1, a, a + 1, a + n + 2, a + n + 1);
    }
  }
  fprintf(out, "$EndElements\n");
  return fclose(out) == 0;
}

static void solve_large(void) {
  char folder[] = "/tmp/cavum-bench-XXXXXX", path[128], text[512];
  cavum_cell cell;
  cavum_error error = {0};
  cavum_result *result = NULL;
  if (!mkdtemp(folder)) return;
  snprintf(path, sizeof path, "%s/grid.msh", folder);
  snprintf(text, sizeof text,
           "contour: {kind: mesh, file: %s, unit: mm, axis: x}\naccelerating_length_mm: 100\n"
           "modes: {count: 3}\n",
           path);
  cavum_cell_set_defaults(&cell);
  if (write_grid(path, 250) &&
      cavum_cell_read_text(&cell, text, strlen(text), "bench", &error) == CAVUM_OK) {
    cavum_solve_options options = cavum_solve_options_default();
    options.degree = 4;
    openblas_set_num_threads((int)sysconf(_SC_NPROCESSORS_ONLN));
    double start = cavum_seconds();
    cavum_status status = cavum_solve(&result, &cell, &options, &error);
    double seconds = cavum_seconds() - start;
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf(
        "mesh file, 3 modes, degrees 2 to 4: %.1f s for %d unknowns at the last (%s), peak memory "
        "%.2f GB\n",
        seconds, result ? (int)result->num_unknowns : 0, cavum_status_text(status),
        (double)usage.ru_maxrss / 1048576.0);
  } else {
    printf("%s\n", error.message);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  unlink(path);
  rmdir(folder);
}

int main(void) {
  openblas_set_num_threads(1);
  solve_in_process("injector-cell.yaml", 1e-6, 1e-4, 1);
  solve_in_process("injector-cell.yaml", 1e-6, 1e-4, 5);
  solve_in_process("injector-cell.yaml", 1e-9, 1e-6, 1);
  double mid_cell_s = solve_in_process("mid-cell.yaml", 1e-6, 1e-4, 1);
  solve_in_process("nose-cone-cell.yaml", 1e-6, 1e-4, 1);
  solve_in_process("coaxial-resonator.yaml", 1e-6, 1e-4, 1);
  solve_process();
  closed_forms();
  // Quadratic elements on straight triangles.
  if (general_package_time_s(20, mid_cell_s) > 0.0) general_package_time_s(40, mid_cell_s);
  solve_large();
  return 0;
}
