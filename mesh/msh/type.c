// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of the MSH format that matter for plane meshes: type numbers and node order.
#include "msh/type.h"

#include "base/base.h"
#include "element/element_map.h"

// Type numbers by order - 1; 0 where the serendipity element is the complete one.
static const unsigned char line_types[10] = {1, 8, 26, 27, 28, 62, 63, 64, 65, 66};
static const unsigned char triangle_types[10] = {2, 9, 21, 23, 25, 42, 43, 44, 45, 46};
static const unsigned char quadrilateral_types[10] = {3, 10, 36, 37, 38, 47, 48, 49, 50, 51};
static const unsigned char serendipity_triangle_types[10] = {0, 0, 20, 22, 24, 52, 53, 54, 55, 56};
static const unsigned char serendipity_quadrilateral_types[10] = {0,  16, 39, 40, 41,
                                                                  57, 58, 59, 60, 61};
enum { POINT = 15 };

int cavum_msh_num_nodes(int num_corners, int order) {
  if (num_corners == 2) return order + 1;
  return cavum_element_lattice_count(num_corners, order);
}

static bool find_in(cavum_msh_type *type, const unsigned char *numbers, int64_t number,
                    int num_corners, bool complete) {
  for (int order = 1; order <= CAVUM_MSH_LARGEST_ORDER; order++) {
    if (numbers[order - 1] != number) continue;
    int num_nodes = complete ? cavum_msh_num_nodes(num_corners, order) : num_corners * order;
    *type = (cavum_msh_type){num_corners, order, complete, num_nodes};
    return true;
  }
  return false;
}

bool cavum_msh_type_find(cavum_msh_type *type, int64_t number) {
  if (number == POINT) {
    *type = (cavum_msh_type){1, 0, true, 1};
    return true;
  }
  return number > 0 && (find_in(type, line_types, number, 2, true) ||
                        find_in(type, triangle_types, number, 3, true) ||
                        find_in(type, quadrilateral_types, number, 4, true) ||
                        find_in(type, serendipity_triangle_types, number, 3, false) ||
                        find_in(type, serendipity_quadrilateral_types, number, 4, false));
}

bool cavum_msh_type_is_solid(int64_t number) {
  static const unsigned char ranges[][2] = {{4, 7},   {11, 14}, {17, 19},  {29, 33},
                                            {35, 35}, {71, 83}, {87, 132}, {139, 139}};
  for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
    if (number >= ranges[i][0] && number <= ranges[i][1]) return true;
  }
  return false;
}

int cavum_msh_type_number(int num_corners, int order) {
  CAVUM_ASSERT(order >= 1 && order <= CAVUM_MSH_LARGEST_ORDER);
  if (num_corners == 2) return line_types[order - 1];
  return num_corners == 3 ? triangle_types[order - 1] : quadrilateral_types[order - 1];
}

static int lattice_index(int num_corners, int order, int i, int j) {
  return num_corners == 3 ? j * (2 * order + 3 - j) / 2 + i : j * (order + 1) + i;
}

// Lattice position m steps along edge k of the ring `inset` steps inside, of ring order `order`.
static void ring_position(int num_corners, int order, int k, int m, int *i, int *j) {
  static const signed char corner[2][4][2] = {{{0, 0}, {1, 0}, {0, 1}, {0, 0}},
                                              {{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
  const signed char *a = corner[num_corners == 4][k];
  const signed char *b = corner[num_corners == 4][(k + 1) % num_corners];
  *i = a[0] * (order - m) + b[0] * m;
  *j = a[1] * (order - m) + b[1] * m;
}

int cavum_msh_lattice_edge(int num_corners, int order, int k, int m) {
  int i, j;
  ring_position(num_corners, order, k, m, &i, &j);
  return lattice_index(num_corners, order, i, j);
}

void cavum_msh_lattice(int *lattice, int num_corners, int order) {
  int count = 0, i, j;
  int step = num_corners == 3 ? 3 : 2;  // orders lost from one ring to the next
  for (int inset = 0, ring = order; ring >= 0; inset++, ring -= step) {
    for (int k = 0; k < (ring > 0 ? num_corners : 1); k++) {
      ring_position(num_corners, ring, k, 0, &i, &j);
      lattice[count++] = lattice_index(num_corners, order, inset + i, inset + j);
    }
    for (int k = 0; k < num_corners; k++) {
      for (int m = 1; m < ring; m++) {
        ring_position(num_corners, ring, k, m, &i, &j);
        lattice[count++] = lattice_index(num_corners, order, inset + i, inset + j);
      }
    }
  }
  CAVUM_ASSERT(count == cavum_msh_num_nodes(num_corners, order));
}

static cavum_point combine(double a, const cavum_point *p, double b, const cavum_point *q) {
  return (cavum_point){a * p->z_m + b * q->z_m, a * p->r_m + b * q->r_m};
}

static void complete_quadrilateral(cavum_point *nodes, int g) {
  int n = g + 1;
  const cavum_point *v00 = &nodes[0], *v10 = &nodes[g], *v01 = &nodes[n * g],
                    *v11 = &nodes[n * n - 1];
  for (int j = 1; j < g; j++) {
    for (int i = 1; i < g; i++) {
      double x = (double)i / g, y = (double)j / g;
      cavum_point rows = combine(1.0 - y, &nodes[i], y, &nodes[n * g + i]);
      cavum_point columns = combine(1.0 - x, &nodes[n * j], x, &nodes[n * j + g]);
      cavum_point low = combine(1.0 - x, v00, x, v10), high = combine(1.0 - x, v01, x, v11);
      cavum_point corners = combine(1.0 - y, &low, y, &high);
      nodes[n * j + i] =
          (cavum_point){rows.z_m + columns.z_m - corners.z_m, rows.r_m + columns.r_m - corners.r_m};
    }
  }
}

// Departure from the chord of edge k, divided by L_a L_b, as a polynomial of degree g - 2 through
// the g - 1 inner nodes of the edge: its value at m in (0, g), the position along the edge in
// steps.
static cavum_point edge_quotient(const cavum_point *nodes, int g, int k, double position) {
  const cavum_point *a = &nodes[cavum_msh_lattice_edge(3, g, k, 0)];
  const cavum_point *b = &nodes[cavum_msh_lattice_edge(3, g, k, g)];
  cavum_point sum = {0.0, 0.0};
  for (int m = 1; m < g; m++) {
    double basis = 1.0, t = (double)m / g;
    for (int other = 1; other < g; other++) {
      if (other != m) basis *= (position - other) / (m - other);
    }
    const cavum_point *node = &nodes[cavum_msh_lattice_edge(3, g, k, m)];
    cavum_point chord = combine(1.0 - t, a, t, b);
    sum.z_m += basis * (node->z_m - chord.z_m) / (t * (1.0 - t));
    sum.r_m += basis * (node->r_m - chord.r_m) / (t * (1.0 - t));
  }
  return sum;
}

static void complete_triangle(cavum_point *nodes, int g) {
  const cavum_point *corner[3] = {&nodes[0], &nodes[g], &nodes[cavum_msh_num_nodes(3, g) - 1]};
  for (int j = 1; j < g; j++) {
    for (int i = 1; i < g - j; i++) {
      double L[3] = {(double)(g - i - j) / g, (double)i / g, (double)j / g};
      cavum_point sum = {0.0, 0.0};
      for (int k = 0; k < 3; k++) {
        int next = (k + 1) % 3;
        cavum_point q = edge_quotient(nodes, g, k, 0.5 * g * (1.0 + L[next] - L[k]));
        sum.z_m += L[k] * corner[k]->z_m + L[k] * L[next] * q.z_m;
        sum.r_m += L[k] * corner[k]->r_m + L[k] * L[next] * q.r_m;
      }
      nodes[lattice_index(3, g, i, j)] = sum;
    }
  }
}

void cavum_msh_complete(cavum_point *nodes, int num_corners, int order) {
  if (num_corners == 4) {
    complete_quadrilateral(nodes, order);
  } else {
    complete_triangle(nodes, order);
  }
}
