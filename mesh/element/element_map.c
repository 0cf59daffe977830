// SPDX-License-Identifier: GPL-3.0-or-later
// The element map. Blended quadrilaterals: Gordon and Hall's transfinite interpolation of the four
// edges; MSH elements: Lagrange interpolation on the equispaced lattice, in product (Silvester)
// form so that no small difference of node positions is divided by. Called for every element of
// every solve: no allocation, and in the tensor variant only 1D work is done per curve and basis.
#include "element/element_map.h"

#include "base/base.h"

enum { NODES_1D = CAVUM_MAP_LARGEST_ORDER + 1, NODES_TRIANGLE = NODES_1D * (NODES_1D + 1) / 2 };

typedef cavum_edge_position edge_point;

// 1D basis values and derivatives at one abscissa.
typedef struct basis_1d {
  double value[NODES_1D], slope[NODES_1D];
} basis_1d;

// Position and derivative by x of local edge k; `along` is 1 when x runs from corner k to corner
// k + 1 and -1 when it runs back.
static edge_point evaluate_edge(const cavum_mesh *mesh, const cavum_element *element, int k,
                                double along, double x) {
  const cavum_edge *edge = &mesh->edges[element->edge[k]];
  double direction = element->reversed[k] ? -along : along;
  double s = direction * x;
  if (edge->curve < 0) {
    const cavum_point *a = &mesh->vertices[edge->vertex[0]], *b = &mesh->vertices[edge->vertex[1]];
    double wa = 0.5 * (1.0 - s), wb = 0.5 * (1.0 + s), half = 0.5 * direction;
    return (edge_point){wa * a->z_m + wb * b->z_m, wa * a->r_m + wb * b->r_m,
                        half * (b->z_m - a->z_m), half * (b->r_m - a->r_m)};
  }
  const cavum_curve *curve = &mesh->curves[edge->curve];
  double t = 0.5 * (1.0 - s) * edge->t[0] + 0.5 * (1.0 + s) * edge->t[1];
  double t_x = 0.5 * direction * (edge->t[1] - edge->t[0]);
  cavum_point point, slope;
  cavum_curve_at(&point, &slope, curve, t);
  return (edge_point){point.z_m, point.r_m, t_x * slope.z_m, t_x * slope.r_m};
}

// What a curved edge adds to the chord between its ends; zero for a straight edge.
static edge_point evaluate_bump(const cavum_mesh *mesh, const cavum_element *element, int k,
                                double along, double x) {
  const cavum_edge *edge = &mesh->edges[element->edge[k]];
  if (edge->curve < 0) return (edge_point){0.0, 0.0, 0.0, 0.0};
  edge_point bump = evaluate_edge(mesh, element, k, along, x);
  double direction = element->reversed[k] ? -along : along;
  const cavum_point *a = &mesh->vertices[edge->vertex[0]], *b = &mesh->vertices[edge->vertex[1]];
  double wa = 0.5 * (1.0 - direction * x), wb = 0.5 * (1.0 + direction * x);
  bump.z -= wa * a->z_m + wb * b->z_m;
  bump.r -= wa * a->r_m + wb * b->r_m;
  bump.z_x -= 0.5 * direction * (b->z_m - a->z_m);
  bump.r_x -= 0.5 * direction * (b->r_m - a->r_m);
  return bump;
}

// X = (1 - eta)/2 bottom(xi) + (1 + eta)/2 top(xi) + (1 - xi)/2 left(eta) + (1 + xi)/2 right(eta),
// where left and right are only the bumps: that is Gordon and Hall's sum with the corner part
// already taken off, and it keeps a straight edge on r = 0 exactly there.
static inline cavum_map_point blend(const edge_point *bottom, const edge_point *top,
                                    const edge_point *left, const edge_point *right, double xi,
                                    double eta) {
  double b = 0.5 * (1.0 - eta), t = 0.5 * (1.0 + eta), l = 0.5 * (1.0 - xi), r = 0.5 * (1.0 + xi);
  return (cavum_map_point){
      .z = b * bottom->z + t * top->z + l * left->z + r * right->z,
      .r = b * bottom->r + t * top->r + l * left->r + r * right->r,
      .z_xi = b * bottom->z_x + t * top->z_x + 0.5 * (right->z - left->z),
      .r_xi = b * bottom->r_x + t * top->r_x + 0.5 * (right->r - left->r),
      .z_eta = 0.5 * (top->z - bottom->z) + l * left->z_x + r * right->z_x,
      .r_eta = 0.5 * (top->r - bottom->r) + l * left->r_x + r * right->r_x,
  };
}

static cavum_map_point map_blended(const cavum_mesh *mesh, const cavum_element *element, double xi,
                                   double eta) {
  edge_point bottom = evaluate_edge(mesh, element, 0, 1.0, xi);
  edge_point top = evaluate_edge(mesh, element, 2, -1.0, xi);
  edge_point left = evaluate_bump(mesh, element, 3, -1.0, eta);
  edge_point right = evaluate_bump(mesh, element, 1, 1.0, eta);
  return blend(&bottom, &top, &left, &right, xi, eta);
}

void cavum_element_blend_edges(cavum_blend_edges *parts, const cavum_mesh *mesh,
                               cavum_index element, int n, const double *x) {
  const cavum_element *shape = &mesh->elements[element];
  CAVUM_ASSERT(n >= 0 && n <= CAVUM_MAP_LARGEST_N && shape->num_corners == 4);
  CAVUM_ASSERT(mesh->node_order == 0);
  for (int i = 0; i < n; i++) {
    parts->bottom[i] = evaluate_edge(mesh, shape, 0, 1.0, x[i]);
    parts->top[i] = evaluate_edge(mesh, shape, 2, -1.0, x[i]);
    parts->left[i] = evaluate_bump(mesh, shape, 3, -1.0, x[i]);
    parts->right[i] = evaluate_bump(mesh, shape, 1, 1.0, x[i]);
  }
}

static void map_blended_tensor(cavum_map_point *out, const cavum_mesh *mesh, cavum_index element,
                               int n, const double *x) {
  cavum_blend_edges p;
  cavum_element_blend_edges(&p, mesh, element, n, x);
  for (int j = 0; j < n; j++) {
    for (int i = 0; i < n; i++) {
      out[j * n + i] = blend(&p.bottom[i], &p.top[i], &p.left[j], &p.right[j], x[i], x[j]);
    }
  }
}

// Lagrange basis of the nodes -1 + 2 i / g at x: with u = g (1 + x) / 2,
// l_i = prod_{k != i} (u - k) / (i - k), through products from both sides.
static void lagrange_basis(basis_1d *basis, int g, double x) {
  double u = 0.5 * g * (1.0 + x), u_x = 0.5 * g;
  double product = 1.0, slope = 0.0, scale = 1.0;
  for (int i = 0; i <= g; i++) {
    basis->value[i] = product;
    basis->slope[i] = slope;
    slope = slope * (u - i) + product;
    product *= u - i;
    if (i > 0) scale /= -i;  // ends as 1 / prod_{k > 0} (0 - k), the factor of l_0
  }
  product = 1.0, slope = 0.0;
  double factor[NODES_1D];
  factor[0] = scale;
  for (int i = 1; i <= g; i++) factor[i] = -factor[i - 1] * (g + 1 - i) / i;
  for (int i = g; i >= 0; i--) {
    basis->slope[i] = factor[i] * u_x * (basis->slope[i] * product + basis->value[i] * slope);
    basis->value[i] *= factor[i] * product;
    slope = slope * (u - i) + product;
    product *= u - i;
  }
}

// Silvester's polynomials R_m(u) = u (u - 1) ... (u - m + 1) / m! of u = g L, and d/dL.
static void silvester_basis(basis_1d *basis, int g, double coordinate) {
  double u = g * coordinate;
  basis->value[0] = 1.0;
  basis->slope[0] = 0.0;
  for (int m = 0; m < g; m++) {
    basis->value[m + 1] = basis->value[m] * (u - m) / (m + 1);
    basis->slope[m + 1] = (basis->slope[m] * (u - m) + g * basis->value[m]) / (m + 1);
  }
}

static void add_node(cavum_map_point *sum, const cavum_point *node, double value, double slope_xi,
                     double slope_eta) {
  sum->z += value * node->z_m;
  sum->r += value * node->r_m;
  sum->z_xi += slope_xi * node->z_m;
  sum->r_xi += slope_xi * node->r_m;
  sum->z_eta += slope_eta * node->z_m;
  sum->r_eta += slope_eta * node->r_m;
}

void cavum_element_triangle_lattice(double *value, double *d_xi, double *d_eta, int order,
                                    double xi, double eta) {
  basis_1d a, b, c;
  silvester_basis(&a, order, xi);
  silvester_basis(&b, order, eta);
  silvester_basis(&c, order, 1.0 - xi - eta);
  for (int j = 0; j <= order; j++) {
    for (int i = 0; i <= order - j; i++) {
      int k = order - i - j;
      double ab = a.value[i] * b.value[j], falling = ab * c.slope[k];
      *value++ = ab * c.value[k];
      *d_xi++ = a.slope[i] * b.value[j] * c.value[k] - falling;
      *d_eta++ = a.value[i] * b.slope[j] * c.value[k] - falling;
    }
  }
}

static cavum_map_point map_triangle_nodes(const cavum_point *nodes, int g, double xi, double eta) {
  double value[NODES_TRIANGLE], d_xi[NODES_TRIANGLE], d_eta[NODES_TRIANGLE];
  int count = cavum_element_lattice_count(3, g);
  cavum_map_point sum = {0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
  cavum_element_triangle_lattice(value, d_xi, d_eta, g, xi, eta);
  for (int i = 0; i < count; i++) add_node(&sum, &nodes[i], value[i], d_xi[i], d_eta[i]);
  return sum;
}

// Combines the rows of nodes at one eta: z, r and their eta derivatives as polynomials of xi.
static void combine_rows(edge_point *row, const cavum_point *nodes, int g, const basis_1d *eta) {
  for (int i = 0; i <= g; i++) row[i] = (edge_point){0.0, 0.0, 0.0, 0.0};
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i <= g; i++, nodes++) {
      row[i].z += eta->value[j] * nodes->z_m;
      row[i].r += eta->value[j] * nodes->r_m;
      row[i].z_x += eta->slope[j] * nodes->z_m;
      row[i].r_x += eta->slope[j] * nodes->r_m;
    }
  }
}

static cavum_map_point sum_row(const edge_point *row, int g, const basis_1d *xi) {
  cavum_map_point sum = {0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
  for (int i = 0; i <= g; i++) {
    sum.z += xi->value[i] * row[i].z;
    sum.r += xi->value[i] * row[i].r;
    sum.z_xi += xi->slope[i] * row[i].z;
    sum.r_xi += xi->slope[i] * row[i].r;
    sum.z_eta += xi->value[i] * row[i].z_x;
    sum.r_eta += xi->value[i] * row[i].r_x;
  }
  return sum;
}

static cavum_map_point map_quadrilateral_nodes(const cavum_point *nodes, int g, double xi,
                                               double eta) {
  basis_1d along_xi, along_eta;
  edge_point row[NODES_1D];
  lagrange_basis(&along_xi, g, xi);
  lagrange_basis(&along_eta, g, eta);
  combine_rows(row, nodes, g, &along_eta);
  return sum_row(row, g, &along_xi);
}

static void map_nodes_tensor(cavum_map_point *out, const cavum_point *nodes, int g, int n,
                             const double *x) {
  basis_1d basis[CAVUM_MAP_LARGEST_N];
  edge_point row[NODES_1D];
  for (int i = 0; i < n; i++) lagrange_basis(&basis[i], g, x[i]);
  for (int j = 0; j < n; j++) {
    combine_rows(row, nodes, g, &basis[j]);
    for (int i = 0; i < n; i++) out[j * n + i] = sum_row(row, g, &basis[i]);
  }
}

cavum_map_point cavum_element_map_at(const cavum_mesh *mesh, cavum_index element, double xi,
                                     double eta) {
  const cavum_element *shape = &mesh->elements[element];
  CAVUM_ASSERT(mesh->node_order >= 0 && mesh->node_order <= CAVUM_MAP_LARGEST_ORDER);
  if (mesh->node_order == 0) {
    CAVUM_ASSERT(shape->num_corners == 4);
    return map_blended(mesh, shape, xi, eta);
  }
  const cavum_point *nodes = &mesh->nodes[shape->first_node];
  return shape->num_corners == 3 ? map_triangle_nodes(nodes, mesh->node_order, xi, eta)
                                 : map_quadrilateral_nodes(nodes, mesh->node_order, xi, eta);
}

void cavum_element_map_tensor(cavum_map_point *out, const cavum_mesh *mesh, cavum_index element,
                              int n, const double *x) {
  const cavum_element *shape = &mesh->elements[element];
  CAVUM_ASSERT(n >= 0 && n <= CAVUM_MAP_LARGEST_N && shape->num_corners == 4);
  CAVUM_ASSERT(mesh->node_order >= 0 && mesh->node_order <= CAVUM_MAP_LARGEST_ORDER);
  if (mesh->node_order == 0) {
    map_blended_tensor(out, mesh, element, n, x);
  } else {
    map_nodes_tensor(out, &mesh->nodes[shape->first_node], mesh->node_order, n, x);
  }
}

void cavum_element_map_points(cavum_map_point *out, const cavum_mesh *mesh, cavum_index element,
                              int count, const double *xi, const double *eta) {
  for (int i = 0; i < count; i++) out[i] = cavum_element_map_at(mesh, element, xi[i], eta[i]);
}

void cavum_element_edge_point(double *xi, double *eta, const cavum_element *element, int k,
                              double s) {
  static const double corners[2][4][2] = {{{0.0, 0.0}, {1.0, 0.0}, {0.0, 1.0}, {0.0, 0.0}},
                                          {{-1.0, -1.0}, {1.0, -1.0}, {1.0, 1.0}, {-1.0, 1.0}}};
  const double *a = corners[element->num_corners == 4][k];
  const double *b = corners[element->num_corners == 4][(k + 1) % element->num_corners];
  double wa = 0.5 * (1.0 - s), wb = 0.5 * (1.0 + s);
  *xi = wa * a[0] + wb * b[0];
  *eta = wa * a[1] + wb * b[1];
}

void cavum_element_edge_direction(double *xi_s, double *eta_s, const cavum_element *element,
                                  int k) {
  double xi[2], eta[2];
  cavum_element_edge_point(&xi[0], &eta[0], element, k, -1.0);
  cavum_element_edge_point(&xi[1], &eta[1], element, k, 1.0);
  *xi_s = 0.5 * (xi[1] - xi[0]);
  *eta_s = 0.5 * (eta[1] - eta[0]);
}

cavum_edge_position cavum_element_edge_at(const cavum_mesh *mesh, cavum_index element, int k,
                                          double s) {
  const cavum_element *shape = &mesh->elements[element];
  if (mesh->node_order == 0) return evaluate_edge(mesh, shape, k, 1.0, s);
  double xi, eta, xi_s, eta_s;
  cavum_element_edge_point(&xi, &eta, shape, k, s);
  cavum_element_edge_direction(&xi_s, &eta_s, shape, k);
  cavum_map_point map = cavum_element_map_at(mesh, element, xi, eta);
  return (cavum_edge_position){map.z, map.r, map.z_xi * xi_s + map.z_eta * eta_s,
                               map.r_xi * xi_s + map.r_eta * eta_s};
}
