// SPDX-License-Identifier: GPL-3.0-or-later
// Strips along a needle, by hand: how many, where, and that the mesh stays one.
#include <string.h>

#include "base/base.h"
#include "element/thin_conductor.h"
#include "mesh_shapes.h"
#include "mesher/strips.h"
#include "support.h"

static const double LENGTH_MM = 100.0, TIP_MM = 50.0, RADIUS_MM = 80.0;

/** A pillbox with a rod on its axis, in three quadrilaterals. */
typedef struct rod_mesh {
  cavum_pen pen;
  cavum_contour contour;
  cavum_quads quads;
} rod_mesh;

enum { ROD, TIP, AXIS, RIGHT, OUTER, LEFT };

// A rod of the radius a whose end is flat; the axis at b_mm, 0 where the cell is not coaxial.
static void make(rod_mesh *m, double a_mm, double b_mm) {
  *m = (rod_mesh){.pen = pen_start(0, a_mm)};
  pen_line(&m->pen, TIP_MM, a_mm, CAVUM_BOUNDARY_METAL);
  pen_line(&m->pen, TIP_MM, b_mm, CAVUM_BOUNDARY_METAL);
  pen_line(&m->pen, LENGTH_MM, b_mm, b_mm > 0.0 ? CAVUM_BOUNDARY_METAL : CAVUM_BOUNDARY_AXIS);
  pen_line(&m->pen, LENGTH_MM, RADIUS_MM, CAVUM_BOUNDARY_METAL);
  pen_line(&m->pen, 0, RADIUS_MM, CAVUM_BOUNDARY_METAL);
  pen_line(&m->pen, 0, a_mm, CAVUM_BOUNDARY_METAL);
  m->contour = pen_contour(&m->pen);
  m->quads.contour = &m->contour;
  const cavum_point vertices[] = {pen_point(0, a_mm),
                                  pen_point(TIP_MM, a_mm),
                                  pen_point(TIP_MM, RADIUS_MM),
                                  pen_point(0, RADIUS_MM),
                                  pen_point(TIP_MM, b_mm),
                                  pen_point(LENGTH_MM, b_mm),
                                  pen_point(LENGTH_MM, RADIUS_MM),
                                  pen_point(0.5 * (TIP_MM + LENGTH_MM), RADIUS_MM)};
  for (int i = 0; i < 8; i++) ck_assert_int_eq(cavum_quads_add_vertex(&m->quads, vertices[i]), i);
  const double middle = 0.5, from = 1.0 - TIP_MM / LENGTH_MM;
  const cavum_quad quads[] = {
      {{0, 1, 2, 3}, {ROD, -1, OUTER, LEFT}, {{0, 1}, {0}, {from, 1}, {0, 1}}},
      {{1, 4, 5, 6}, {TIP, AXIS, RIGHT, -1}, {{0, 1}, {0, 1}, {0, 1}, {0}}},
      {{1, 6, 7, 2},
       {-1, OUTER, OUTER, -1},
       {{0}, {0, middle * from}, {middle * from, from}, {0}}}};
  for (int i = 0; i < 3; i++) ck_assert(cavum_quads_add(&m->quads, &quads[i]));
}

static double area_of(const cavum_quads *quads) {
  double twice = 0.0;
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    for (int k = 0; k < 4; k++) {
      cavum_point a = quads->vertices[quads->quads[q].vertex[k]];
      cavum_point b = quads->vertices[quads->quads[q].vertex[(k + 1) % 4]];
      twice += a.z_m * b.r_m - b.z_m * a.r_m;
    }
  }
  return 0.5 * twice;
}

// Each side inside is that of one neighbour, run the other way; those on curves have none, and lie
// where their parameters say.
static void check_sides(const cavum_quads *quads) {
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    const cavum_quad *quad = &quads->quads[q];
    for (int k = 0; k < 4; k++) {
      cavum_index a = quad->vertex[k], b = quad->vertex[(k + 1) % 4];
      int neighbours = 0;
      for (cavum_index p = 0; p < quads->num_quads; p++) {
        for (int j = 0; j < 4; j++) {
          const cavum_quad *other = &quads->quads[p];
          neighbours += other->vertex[j] == b && other->vertex[(j + 1) % 4] == a;
        }
      }
      ck_assert_int_eq(neighbours, quad->curve[k] < 0);
      if (quad->curve[k] < 0) continue;
      const cavum_curve *curve = &quads->contour->curves[quad->curve[k]];
      cavum_point start = cavum_curve_point(curve, quad->t[k][0]);
      ck_assert_double_lt(
          hypot(start.z_m - quads->vertices[a].z_m, start.r_m - quads->vertices[a].r_m), 1e-15);
    }
  }
}

// Vertices on the left plate.
static int count_on_left(const cavum_quads *quads) {
  int count = 0;
  for (cavum_index i = 0; i < quads->num_vertices; i++) count += quads->vertices[i].z_m == 0.0;
  return count;
}

// What strips.h and thin_conductor.h promise of the left end of the rod: 1 % at degree 8, for the
// lowest mode of a pillbox, each strip half as far out as the one before.
static int strips_needed(double a_m) {
  double k = 2.405 / (1e-3 * RADIUS_MM), out_m = 1e-3 * RADIUS_MM - a_m;
  int count = 0;
  for (;; count++, out_m *= 0.5) {
    const cavum_thin_place at = {a_m, a_m + out_m, 1e-3 * TIP_MM, 1e-3 * TIP_MM};
    if (cavum_thin_lack(&at, 8, k * k) <= 1e-2) return count;
  }
}

static const double rods_mm[] = {2.0, 0.2, 0.02, 2e-3};

START_TEST(strips_are_as_many_as_a_needle_needs) {
  rod_mesh m;
  double a_mm = rods_mm[_i];
  make(&m, a_mm, 0.0);
  double area = area_of(&m.quads);
  ck_assert_int_eq(cavum_strips_add(&m.quads, NULL), CAVUM_OK);
  int strips = count_on_left(&m.quads) - 2, needed = strips_needed(1e-3 * a_mm);
  printf("radius %g mm: %d strips, %d needed at the plate, %d elements\n", a_mm, strips, needed,
         (int)m.quads.num_quads);
  ck_assert_int_eq(strips, needed);
  CAVUM_CHECK_RELATIVE(area_of(&m.quads), area, 1e-14);
  check_sides(&m.quads);
  for (int k = 1; k <= strips; k++) {
    double r_m = 1e-3 * (a_mm + ldexp(RADIUS_MM - a_mm, -k));
    int found = 0;
    for (cavum_index i = 0; i < m.quads.num_vertices; i++) {
      const cavum_point *v = &m.quads.vertices[i];
      found += v->z_m == 0.0 && fabs(v->r_m - r_m) < 1e-12;
    }
    ck_assert_int_eq(found, 1);
  }
  cavum_quads_clear(&m.quads);
}
END_TEST

// A thick rod, and one that the axis is not beside of: not a number changes.
START_TEST(other_meshes_are_left_as_they_are) {
  static const double cases_mm[][2] = {{30.0, 0.0}, {0.02, 0.01}};
  for (int i = 0; i < 2; i++) {
    rod_mesh m, before;
    make(&m, cases_mm[i][0], cases_mm[i][1]);
    make(&before, cases_mm[i][0], cases_mm[i][1]);
    ck_assert_int_eq(cavum_strips_add(&m.quads, NULL), CAVUM_OK);
    ck_assert_int_eq(m.quads.num_quads, 3);
    ck_assert_int_eq(m.quads.num_vertices, 8);
    ck_assert_mem_eq(m.quads.quads, before.quads.quads, 3 * sizeof(cavum_quad));
    cavum_quads_clear(&m.quads);
    cavum_quads_clear(&before.quads);
  }
  cavum_quads none = {0};
  ck_assert_int_eq(cavum_strips_add(&none, NULL), CAVUM_OK);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, strips_are_as_many_as_a_needle_needs, 0,
                      sizeof rods_mm / sizeof rods_mm[0]);
  tcase_add_test(tests, other_meshes_are_left_as_they_are);
}

CAVUM_TEST_MAIN("strips", add)
