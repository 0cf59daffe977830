// SPDX-License-Identifier: GPL-3.0-or-later
// Estimates of memory.
#include "solve/memory_need.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/base.h"
#include "base/threads.h"
#include "solve/solution.h"

// Of a program without any solution.
static const double PROGRAM_BYTES = 1.2e7;
// Matrices and factors for each unknown: of all degrees at once, and where one is held at a time,
// in double precision for one mode and for slices, in single precision for a block of several.
static const double SMALL_BYTES = 1600.0, LARGE_BYTES = 700.0;
static const double LARGE_BYTES_OF_ONE = 950.0, LARGE_BYTES_OF_SLICES = 1100.0;
// Elements of a degree above this have more inside for each unknown; triangles have more edges. A
// bent mesh is there beside the one of the file, whose matrices are freed where they are large and
// of a block.
static const double DEGREE_USUAL = 8.0, TRIANGLES = 1.6, TRIANGLES_LARGE = 1.3, BENT_TOO = 2.0;
// Vectors for each mode: those of a block with directions, corrections and their products, and
// those behind that are iterated too; in slices those of three degrees, found and kept.
static const double OF_BLOCK = 14.0, BEHIND = 3.0, OF_SLICES = 7.0;
// Of a large block, of which few modes are corrected at a time.
static const double OF_LARGE_BLOCK = 10.5, BEHIND_LARGE = 1.0;
// Each thread beyond the first: what it touches of its stack and its share of the heap; fronts and
// update matrices of the subtree it is at, of which there are few large ones.
static const double THREAD_BYTES = 1e6, SUBTREE_BYTES = 3e6, SUBTREE_BYTES_OF_UNKNOWN = 7.0;
static const double SUBTREES_AT_ONCE = 8.0;
static const double SHARE = 0.8;

cavum_memory_case cavum_memory_case_of(const cavum_mesh *mesh, int degree, int num_modes) {
  cavum_index triangles = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    triangles += mesh->elements[e].num_corners == 3;
  }
  return (cavum_memory_case){.num_unknowns = (double)cavum_space_size(mesh, degree),
                             .degree = degree,
                             .num_modes = num_modes,
                             .num_threads = cavum_threads_count(),
                             .triangles = 2 * triangles > mesh->num_elements,
                             .from_file = mesh->node_order > 0};
}

static double bytes_of_threads(const cavum_memory_case *of) {
  double helpers = cavum_max(of->num_threads - 1.0, 0.0);
  double subtree = SUBTREE_BYTES + SUBTREE_BYTES_OF_UNKNOWN * of->num_unknowns;
  return helpers * THREAD_BYTES + cavum_min(helpers, SUBTREES_AT_ONCE) * subtree;
}

// Vectors that are held beside matrices and factors.
static double vectors_of(const cavum_memory_case *of) {
  if (of->num_modes >= CAVUM_SLICES_FROM) return OF_SLICES * of->num_modes;
  if (of->num_unknowns > CAVUM_LARGE_FROM) return OF_LARGE_BLOCK * (of->num_modes + BEHIND_LARGE);
  return OF_BLOCK * (of->num_modes + BEHIND);
}

static double matrix_bytes_of(const cavum_memory_case *of) {
  if (of->num_unknowns <= CAVUM_LARGE_FROM) return SMALL_BYTES;
  if (of->num_modes >= CAVUM_SLICES_FROM) return LARGE_BYTES_OF_SLICES;
  return of->num_modes == 1 ? LARGE_BYTES_OF_ONE : LARGE_BYTES;
}

double cavum_memory_estimate_bytes(const cavum_memory_case *of) {
  double each = matrix_bytes_of(of);
  bool large_block = of->num_unknowns > CAVUM_LARGE_FROM && of->num_modes < CAVUM_SLICES_FROM;
  each *= 1.0 + cavum_max(of->degree - DEGREE_USUAL, 0.0) / DEGREE_USUAL;
  if (of->triangles) each *= large_block ? TRIANGLES_LARGE : TRIANGLES;
  if (of->from_file && !large_block) each *= BENT_TOO;
  return PROGRAM_BYTES + of->num_unknowns * (each + vectors_of(of) * (double)sizeof(double)) +
         bytes_of_threads(of);
}

int cavum_memory_most_modes(const cavum_memory_case *of, bool scales, double limit_bytes) {
  cavum_memory_case fewer = *of;
  for (fewer.num_modes = of->num_modes; fewer.num_modes > 0; fewer.num_modes--) {
    double part = scales ? (double)fewer.num_modes / of->num_modes : 1.0;
    fewer.num_unknowns = part * of->num_unknowns;
    if (cavum_memory_estimate_bytes(&fewer) <= limit_bytes) break;
  }
  return fewer.num_modes;
}

// Bytes that the control group of the process may use; INFINITY where it says "max", or is not
// there.
static double group_limit_bytes(void) {
  char line[64] = "", *end = line;
  FILE *file = fopen("/sys/fs/cgroup/memory.max", "r");
  if (!file) return INFINITY;
  double bytes = fgets(line, sizeof line, file) ? strtod(line, &end) : 0.0;
  fclose(file);
  return end > line ? bytes : INFINITY;
}

double cavum_memory_limit_bytes(void) {
  double bytes = (double)sysconf(_SC_PHYS_PAGES) * (double)sysconf(_SC_PAGESIZE);
  return SHARE * cavum_min(bytes, group_limit_bytes());
}
