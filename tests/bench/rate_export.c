// SPDX-License-Identifier: GPL-3.0-or-later
// The assembled matrices of a result, column by column from the products K x and M x, in files that
// any program can read.
#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "fem/apply.h"
#include "fem/discretisation.h"
#include "fem/skeleton.h"
#include "rate_problem.h"

// Entries below this share of their diagonals are rounding errors of exact zeros.
static const double ROUNDING = 1e-15;

typedef struct matrix_files {
  FILE *pointers, *columns, *stiffness, *mass;
} matrix_files;

// Number of every unknown without the essential ones, or -1.
static cavum_index number_free(cavum_index *number, const cavum_space *space,
                               const cavum_skeleton *skeleton) {
  cavum_index count = 0;
  for (cavum_index i = 0; i < space->num_unknowns; i++)
    number[i] = i < space->num_skeleton ? 0 : -1;
  for (cavum_index e = 0; e < space->mesh->num_elements; e++) {
    int corners = space->mesh->elements[e].num_corners, degree = space->degree;
    int all = cavum_shape_count(corners, degree) - cavum_shape_count_skeleton(corners, degree);
    for (int k = 0; k < all; k++) number[space->first_interior[e] + k * space->stride] = 0;
  }
  for (cavum_index block = 0; block < skeleton->num_blocks; block++) {
    cavum_index first = cavum_skeleton_first_unknown(skeleton, block, space->degree);
    int size = cavum_skeleton_block_size(skeleton, block, space->degree);
    for (int k = 0; k < size && !skeleton->exists[block]; k++) number[first + k] = -1;
  }
  for (cavum_index i = 0; i < space->num_unknowns; i++) {
    if (number[i] >= 0) number[i] = count++;
  }
  return count;
}

static void put(FILE *file, const void *value, size_t size) { (void)fwrite(value, size, 1, file); }

// One row of both matrices; they are symmetric, so it is the column too.
static int64_t put_row(const matrix_files *files, const double *k, const double *m,
                       const double *diagonal, const cavum_index *number, cavum_index row,
                       cavum_index size) {
  int64_t entries = 0;
  const double *k_diagonal = diagonal, *m_diagonal = diagonal + size;
  for (cavum_index i = 0; i < size; i++) {
    double k_least = ROUNDING * sqrt(fabs(k_diagonal[i] * k_diagonal[row]));
    double m_least = ROUNDING * sqrt(fabs(m_diagonal[i] * m_diagonal[row]));
    if (number[i] < 0 || (fabs(k[i]) <= k_least && fabs(m[i]) <= m_least)) continue;
    int32_t column = (int32_t)number[i];
    put(files->columns, &column, sizeof column);
    put(files->stiffness, &k[i], sizeof k[i]);
    put(files->mass, &m[i], sizeof m[i]);
    entries++;
  }
  return entries;
}

// work: [5][num_unknowns].
static void put_matrices(const matrix_files *files, const cavum_discretisation *d,
                         const cavum_index *number, double *work) {
  cavum_index size = d->space.num_unknowns;
  double *x = work, *k = work + size, *m = k + size, *diagonal = m + size;
  int64_t entries = 0;
  put(files->pointers, &entries, sizeof entries);
  for (int pass = 0; pass < 2; pass++) {  // the diagonals first
    for (cavum_index row = 0; row < size; row++) {
      if (number[row] < 0) continue;
      x[row] = 1.0;
      cavum_discretisation_apply_stiffness(k, d, x);
      cavum_discretisation_apply_mass(m, d, x);
      x[row] = 0.0;
      diagonal[row] = pass == 0 ? k[row] : diagonal[row];
      diagonal[size + row] = pass == 0 ? m[row] : diagonal[size + row];
      if (pass == 0) continue;
      entries += put_row(files, k, m, diagonal, number, row, size);
      put(files->pointers, &entries, sizeof entries);
    }
  }
}

static FILE *open_file(const char *folder, const char *name) {
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return fopen(path, "wb");
}

static bool close_file(FILE *file) {
  if (!file) return false;
  bool good = !ferror(file);
  return fclose(file) == 0 && good;
}

static cavum_status put_files(const cavum_discretisation *d, const cavum_index *number,
                              const char *folder, cavum_error *error) {
  double *work = cavum_alloc(5 * (int64_t)d->space.num_unknowns, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  matrix_files files = {open_file(folder, "pointers.bin"), open_file(folder, "columns.bin"),
                        open_file(folder, "stiffness.bin"), open_file(folder, "mass.bin")};
  bool good = files.pointers && files.columns && files.stiffness && files.mass;
  if (good) put_matrices(&files, d, number, work);
  good = close_file(files.pointers) && good;
  good = close_file(files.columns) && good;
  good = close_file(files.stiffness) && good;
  good = close_file(files.mass) && good;
  free(work);
  return good ? CAVUM_OK
              : cavum_fail(error, CAVUM_ERR_FILE, "%s: matrices cannot be written", folder);
}

cavum_status rate_problem_export(cavum_index *num_rows, const cavum_result *result,
                                 const char *folder, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_reference reference = {0};
  cavum_discretisation discretisation = {0};
  cavum_skeleton skeleton = {0};
  cavum_index *number = NULL;
  const cavum_mesh *mesh = &result->mesh;
  cavum_unknown unknown = cavum_discretisation_choose_unknown(mesh);
  cavum_closure closure = {.symmetry_is_magnetic = result->modes[0].parity == CAVUM_PARITY_ODD};
  CAVUM_TRY(cavum_reference_create(&reference, result->degree,
                                   cavum_discretisation_points(mesh, unknown, result->degree), true,
                                   error));
  CAVUM_TRY(cavum_discretisation_create(&discretisation, mesh, &reference, unknown, error));
  CAVUM_TRY(cavum_skeleton_create(&skeleton, mesh, &closure, error));
  number = cavum_alloc(discretisation.space.num_unknowns, sizeof *number);
  if (!number) CAVUM_TRY(cavum_fail_memory(error));
  cavum_index rows = number_free(number, &discretisation.space, &skeleton);
  CAVUM_TRY(put_files(&discretisation, number, folder, error));
  *num_rows = rows;
done:
  free(number);
  cavum_skeleton_clear(&skeleton);
  cavum_discretisation_clear(&discretisation);
  cavum_reference_clear(&reference);
  return status;
}
