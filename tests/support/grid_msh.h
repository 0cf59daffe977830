// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file grid_msh.h
 * Mesh files for tests: a grid of a rectangle taken through an exact map, with nodes of any order
 * up to 5, quadrilaterals or triangles, in a shuffled numbering if wanted. Written as MSH 2.2 in
 * ASCII, the simplest version of that format.
 */
#ifndef CAVUM_TEST_GRID_MSH_H
#define CAVUM_TEST_GRID_MSH_H

#include <stdint.h>

#include "solving.h"
#include "temporary_folder.h"

enum { GRID_LARGEST_ORDER = 5, GRID_REGIONS = 4 };

/** A grid; parameters (s, t) run over the break points. */
typedef struct grid_msh {
  int num_s, num_t;    /**< Cells along s and t. */
  const double *s, *t; /**< Break points, shapes [num_s + 1] and [num_t + 1]. */
  int order;           /**< Of the nodes. */
  bool triangles;      /**< Two triangles a cell instead of a quadrilateral. */
  uint64_t shuffle;    /**< Not 0: nodes, elements and corners are numbered in a random order. */
  double unit_m;       /**< Length of one unit of the file in metres. */
  cavum_point (*map)(double s, double t, const void *context);
  const void *context;
  /** Name of the region of cell (i, j), an index into region_names; NULL: all 0. */
  int (*region)(int i, int j, const void *context);
  const char *region_names[GRID_REGIONS];
  cavum_boundary sides[4]; /**< Of t = first, s = last, t = last, s = first. */
} grid_msh;

/** A map that leaves the rectangle of the break points as it is. */
static inline cavum_point grid_identity(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){s, t};
}

/** A small generator (xorshift64*), so that files are the same everywhere. */
static inline uint64_t grid_random(uint64_t *state) {
  *state ^= *state >> 12;
  *state ^= *state << 25;
  *state ^= *state >> 27;
  return *state * 2685821657736338717ULL;
}

/** A random order of 0..count-1; in order when *state is 0. */
static inline int *grid_order(int count, uint64_t *state) {
  int *order = malloc((size_t)count * sizeof *order);
  for (int i = 0; i < count; i++) order[i] = i;
  for (int i = count - 1; *state && i > 0; i--) {
    int k = (int)(grid_random(state) % (uint64_t)(i + 1)), keep = order[i];
    order[i] = order[k];
    order[k] = keep;
  }
  return order;
}

/** Lattice steps (i, j) of an element of an order in the order of the format: corners, edges, then
 * the inside as an element of lower order. Returns their number. */
static inline int grid_lattice(int (*out)[2], int corners, int order) {
  static const int quad[4][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
  static const int triangle[3][2] = {{0, 0}, {1, 0}, {0, 1}};
  const int(*corner)[2] = corners == 4 ? quad : triangle;
  int count = 0;
  if (order < 0) return 0;
  if (order == 0) {
    out[0][0] = out[0][1] = 0;
    return 1;
  }
  for (int k = 0; k < corners; k++, count++) {
    out[count][0] = order * corner[k][0];
    out[count][1] = order * corner[k][1];
  }
  for (int k = 0; k < corners; k++) {
    const int *a = corner[k], *b = corner[(k + 1) % corners];
    for (int m = 1; m < order; m++, count++) {
      out[count][0] = a[0] * (order - m) + b[0] * m;
      out[count][1] = a[1] * (order - m) + b[1] * m;
    }
  }
  int inner = grid_lattice(out + count, corners, order - (corners == 4 ? 2 : 3));
  for (int n = 0; n < inner; n++) {
    out[count + n][0]++;
    out[count + n][1]++;
  }
  return count + inner;
}

/** Position of lattice line I in the parameter whose break points are given. */
static inline double grid_parameter(const double *breaks, int order, int line) {
  int cell = line / order, part = line % order;
  if (part == 0) return breaks[cell];
  return breaks[cell] + (breaks[cell + 1] - breaks[cell]) * part / order;
}

/** One element of the file: its type, group and lattice points. */
typedef struct grid_element {
  int type, group, count;
  int node[(GRID_LARGEST_ORDER + 1) * (GRID_LARGEST_ORDER + 1)]; /**< I + J (columns). */
} grid_element;

/** An element whose corner 0 is (I, J), with its two directions as lattice steps. */
static inline grid_element grid_make_element(const grid_msh *grid, int corners, int group, int I,
                                             int J, const int x[2], const int y[2]) {
  static const int quads[6] = {0, 3, 10, 36, 37, 38}, triangles[6] = {0, 2, 9, 21, 23, 25};
  int lattice[(GRID_LARGEST_ORDER + 1) * (GRID_LARGEST_ORDER + 1)][2];
  int columns = grid->num_s * grid->order + 1;
  grid_element e = {.type = (corners == 4 ? quads : triangles)[grid->order], .group = group};
  e.count = grid_lattice(lattice, corners, grid->order);
  for (int n = 0; n < e.count; n++) {
    int i = lattice[n][0], j = lattice[n][1];
    e.node[n] = I + i * x[0] + j * y[0] + (J + i * x[1] + j * y[1]) * columns;
  }
  return e;
}

/** Corner and directions of a quadrilateral that starts at its corner `turn`. */
static inline grid_element grid_make_quad(const grid_msh *grid, int group, int i, int j, int turn) {
  static const int start[4][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
  static const int direction[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
  int g = grid->order, I = g * (i + start[turn][0]), J = g * (j + start[turn][1]);
  return grid_make_element(grid, 4, group, I, J, direction[turn], direction[(turn + 1) % 4]);
}

static inline int grid_collect(grid_element *out, const grid_msh *grid, uint64_t *state) {
  static const int right[2] = {1, 0}, up[2] = {0, 1}, left[2] = {-1, 0}, down[2] = {0, -1};
  static const int lines[6] = {0, 1, 8, 26, 27, 28};
  int g = grid->order, count = 0, columns = grid->num_s * g + 1;
  for (int j = 0; j < grid->num_t; j++) {
    for (int i = 0; i < grid->num_s; i++) {
      int group = 100 + (grid->region ? grid->region(i, j, grid->context) : 0);
      if (grid->triangles) {
        out[count++] = grid_make_element(grid, 3, group, g * i, g * j, right, up);
        out[count++] = grid_make_element(grid, 3, group, g * (i + 1), g * (j + 1), left, down);
      } else {
        int turn = *state ? (int)(grid_random(state) % 4) : 0;
        out[count++] = grid_make_quad(grid, group, i, j, turn);
      }
    }
  }
  for (int side = 0; side < 4; side++) {
    bool along_s = side % 2 == 0;
    int cells = along_s ? grid->num_s : grid->num_t;
    int fixed = side == 1 ? columns - 1 : (side == 2 ? columns * grid->num_t * g : 0);
    for (int i = 0; i < cells; i++) {
      grid_element *e = &out[count++];
      *e = (grid_element){lines[g], (int)grid->sides[side], g + 1, {0}};
      int step = along_s ? 1 : columns;
      for (int n = 0; n <= g; n++) {  // both ends first, then along
        int m = n == 0 ? 0 : (n == 1 ? g : n - 1);
        e->node[n] = fixed + step * (g * i + m);
      }
    }
  }
  return count;
}

/** Writes the file; the physical names are those of the boundaries and of the regions. False when
 * it cannot be written. For programs that are no tests as well. */
static inline bool grid_write_file(const grid_msh *grid, const char *path) {
  FILE *file = fopen(path, "w");
  if (!file) return false;
  uint64_t state = grid->shuffle;
  int columns = grid->num_s * grid->order + 1, rows = grid->num_t * grid->order + 1;
  int cells = 2 * grid->num_s * grid->num_t + 2 * (grid->num_s + grid->num_t);
  grid_element *elements = calloc((size_t)cells, sizeof *elements);
  int count = grid_collect(elements, grid, &state);
  int *nodes = grid_order(columns * rows, &state), *order = grid_order(count, &state);
  fprintf(file, "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n%d\n", 4 + GRID_REGIONS);
  for (int b = CAVUM_BOUNDARY_METAL; b <= CAVUM_BOUNDARY_AXIS; b++) {
    fprintf(file, "1 %d \"%s\"\n", b, cavum_boundary_name((cavum_boundary)b));
  }
  for (int r = 0; r < GRID_REGIONS; r++) {
    fprintf(file, "2 %d \"%s\"\n", 100 + r, grid->region_names[r] ? grid->region_names[r] : "rest");
  }
  fprintf(file, "$EndPhysicalNames\n$Nodes\n%d\n", columns * rows);
  for (int n = 0; n < columns * rows; n++) {
    int I = nodes[n] % columns, J = nodes[n] / columns;
    cavum_point p = grid->map(grid_parameter(grid->s, grid->order, I),
                              grid_parameter(grid->t, grid->order, J), grid->context);
    fprintf(file, "%d %.17g %.17g 0\n", nodes[n] + 1, p.z_m / grid->unit_m,
            fabs(p.r_m) < 1e-15 ? 0.0 : p.r_m / grid->unit_m);
  }
  fprintf(file, "$EndNodes\n$Elements\n%d\n", count);
  for (int n = 0; n < count; n++) {
    const grid_element *e = &elements[order[n]];
    fprintf(file, "%d %d 2 %d 1", n + 1, e->type, e->group);
    for (int k = 0; k < e->count; k++) fprintf(file, " %d", e->node[k] + 1);
    fprintf(file, "\n");
  }
  fprintf(file, "$EndElements\n");
  free(elements);
  free(nodes);
  free(order);
  return fclose(file) == 0;
}

/** The same in a test. */
static inline void grid_write(const grid_msh *grid, const char *path) {
  ck_assert(grid_write_file(grid, path));
}

/** Equal steps from a to b, shape [count + 1]. */
static inline void grid_equal_steps(double *breaks, int count, double a, double b) {
  for (int i = 0; i <= count; i++) breaks[i] = a + (b - a) * i / count;
}

/** What a solve of a grid wants beyond the grid. */
typedef struct grid_request {
  const char *regions; /**< Inside of `regions: {...}` or "". */
  const char *more;    /**< Further lines of the cell file. */
  int count;           /**< Modes. */
  double accuracy_frequency, accuracy_other_figures;
  const char *unit; /**< Word for unit_m. */
  bool may_miss;    /**< A result that misses the accuracy is wanted too. */
} grid_request;

/** Writes a grid as a mesh file in a folder of its own, solves it as a cell, deletes the folder. */
static inline cavum_result *grid_solve(const grid_msh *grid, const grid_request *request,
                                       const cavum_solve_options *options) {
  char folder[128], path[160], text[2048];
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/grid.msh", folder);
  grid_write(grid, path);
  snprintf(text, sizeof text,
           "contour: {kind: mesh, file: %s, unit: %s, axis: x, regions: {%s}}\nmodes: {count: %d}\n"
           "%s",
           path, request->unit ? request->unit : "m", request->regions ? request->regions : "",
           request->count, request->more ? request->more : "");
  cavum_cell cell = solving_read(text);
  cell.accuracy_frequency = request->accuracy_frequency;
  cell.accuracy_other_figures = request->accuracy_other_figures;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_solve(&result, &cell, options, &error);
  ck_assert_msg(
      status == CAVUM_OK || (request->may_miss && status == CAVUM_ERR_NOT_CONVERGED && result),
      "%s", error.message);
  cavum_cell_clear(&cell);
  temporary_folder_delete(folder);
  return result;
}

#endif
