// SPDX-License-Identifier: GPL-3.0-or-later
// Grading toward places where the field is not smooth. Around a vertex A every quadrilateral
// A B C D becomes A P Q R, P B C Q and R Q C D, with P, Q, R at a fixed fraction of the way from A;
// this changes nothing outside these quadrilaterals, so the mesh still fits together.
//
// What needs it: at a corner of angle alpha the field goes as rho^lambda with lambda = pi / alpha
// between two natural sides (metal, electric) or two magnetic ones, and pi / (2 alpha) between one
// of each; whole-numbered lambda are smooth [Grisvard1985]. Where the tangent goes on but the
// curvature jumps there is a term rho^2 log rho.
#include "mesher/grade.h"

#include "base/base.h"
#include "element/singular_exponent.h"

// Way from A to the new vertices over the whole side: 0.15 is the best factor for many layers
// [BabuskaGuo1986]. Corners have few, and do better with elements that are less distorted.
static const double CORNER_FRACTION = 0.17, JUNCTION_FRACTION = 0.15;
// Turns below this are no corners, and exponents nearer than this to whole numbers no singularity.
static const double SMOOTH_TURN_RAD = 1e-5, WHOLE_EXPONENT = 1e-4;
// The smallest elements are then 1e-9 of the others: smaller ones suffer from the rounding of
// places.
enum { MOST_LAYERS = 12 };
// Curvatures of the two sides that differ by less than this part are equal.
static const double EQUAL_CURVATURE = 1e-3;

typedef struct corner {
  double interior_rad;  // angle inside the domain
  double curvature[2];  // 1/m, before and after
  cavum_boundary boundary[2];
} corner;

static double curvature_at(const cavum_curve *curve, double t) {
  cavum_point first = cavum_curve_derivative(curve, t);
  cavum_point second = cavum_curve_second_derivative(curve, t);
  double speed = hypot(first.z_m, first.r_m);
  if (!(speed > 0.0)) return 0.0;
  return (first.z_m * second.r_m - first.r_m * second.z_m) / (speed * speed * speed);
}

static corner corner_between(const cavum_curve *before, const cavum_curve *after) {
  cavum_point a = cavum_curve_derivative(before, 1.0), b = cavum_curve_derivative(after, 0.0);
  double cross = a.z_m * b.r_m - a.r_m * b.z_m, dot = a.z_m * b.z_m + a.r_m * b.r_m;
  return (corner){CAVUM_PI - atan2(cross, dot),
                  {curvature_at(before, 1.0), curvature_at(after, 0.0)},
                  {before->boundary, after->boundary}};
}

// A corner of exponent lambda with n layers of factor q adds about q^(2 lambda n) p^(-4 lambda) to
// k^2 at degree p [BabuskaGuo1986]: stronger ones than the right-angled re-entrant corner, whose
// exponent is 2/3, get as many layers as make theirs about the same at degree 8.
static int layers_of_strong_corner(double exponent, int corner_layers) {
  const double right_angled = 2.0 / 3.0, degree = 8.0;
  if (corner_layers == 0 || exponent > right_angled - WHOLE_EXPONENT) return corner_layers;
  double more = right_angled / exponent, of_degree = 2.0 * log(degree) / -log(CORNER_FRACTION);
  double layers = ceil(more * corner_layers + (more - 1.0) * of_degree);
  return layers < MOST_LAYERS ? (int)layers : MOST_LAYERS;
}

static int layers_of_exponent(double exponent, int corner_layers) {
  if (fabs(exponent - round(exponent)) < WHOLE_EXPONENT || exponent > 3.0) return 0;
  if (exponent < 1.0) return layers_of_strong_corner(exponent, corner_layers);
  int layers = exponent < 2.0 ? 2 : 1;
  return layers < corner_layers ? layers : corner_layers;
}

static bool is_magnetic(cavum_boundary boundary) { return boundary == CAVUM_BOUNDARY_MAGNETIC; }

// Layers where the wall meets the axis. Up to a right angle two do; beyond, the voltage along the
// axis converges as at a corner of half the exponent of the tip.
static int layers_of_tip(const corner *here, int corner_layers) {
  bool regular = fabs(here->interior_rad - 0.5 * CAVUM_PI) < SMOOTH_TURN_RAD ||
                 fabs(here->interior_rad - CAVUM_PI) < SMOOTH_TURN_RAD;
  if (regular) return 0;
  int weak = corner_layers > 4 ? corner_layers - 2 : 2;
  if (here->interior_rad < 0.5 * CAVUM_PI) return corner_layers < weak ? corner_layers : weak;
  bool magnetic = is_magnetic(here->boundary[0]) || is_magnetic(here->boundary[1]);
  double exponent = cavum_tip_exponent(here->interior_rad, magnetic);
  return layers_of_strong_corner(0.5 * exponent, corner_layers);
}

// Layers at a corner; the fraction depends on how strong the singularity is.
static int layers_at(double *fraction, const corner *here, const cavum_mesh_options *options) {
  bool axis = here->boundary[0] == CAVUM_BOUNDARY_AXIS || here->boundary[1] == CAVUM_BOUNDARY_AXIS;
  bool symmetry =
      here->boundary[0] == CAVUM_BOUNDARY_SYMMETRY || here->boundary[1] == CAVUM_BOUNDARY_SYMMETRY;
  bool mixed = is_magnetic(here->boundary[0]) != is_magnetic(here->boundary[1]);
  *fraction = CORNER_FRACTION;
  if (axis) return layers_of_tip(here, options->corner_layers);
  if (fabs(here->interior_rad - CAVUM_PI) >= SMOOTH_TURN_RAD || mixed) {
    double angle = here->interior_rad;
    int layers = layers_of_exponent(cavum_corner_exponent(angle, mixed), options->corner_layers);
    if (!symmetry) return layers;
    int other = layers_of_exponent(cavum_corner_exponent(angle, !mixed), options->corner_layers);
    return layers > other ? layers : other;
  }
  *fraction = JUNCTION_FRACTION;
  double jump = fabs(here->curvature[0] - here->curvature[1]);
  double most = cavum_max(fabs(here->curvature[0]), fabs(here->curvature[1]));
  return jump > EQUAL_CURVATURE * most ? options->junction_layers : 0;
}

void cavum_grade_spokes_clear(cavum_grade_spokes *made) {
  free(made->list);
  *made = (cavum_grade_spokes){0};
}

cavum_index cavum_grade_spoke_vertex(cavum_grade_spokes *made, cavum_quads *quads, cavum_index a,
                                     cavum_index end, cavum_index curve, double t,
                                     double fraction) {
  for (cavum_index i = 0; i < made->count; i++) {
    if (made->list[i].from == a && made->list[i].end == end) return made->list[i].vertex;
  }
  cavum_point from = quads->vertices[a], to = quads->vertices[end];
  cavum_point place = {from.z_m + fraction * (to.z_m - from.z_m),
                       from.r_m + fraction * (to.r_m - from.r_m)};
  if (curve >= 0) place = cavum_curve_point(&quads->contour->curves[curve], t);
  if (!cavum_grow((void **)&made->list, &made->capacity, (int64_t)made->count + 1,
                  sizeof *made->list)) {
    return -1;
  }
  cavum_index vertex = cavum_quads_add_vertex(quads, place);
  if (vertex < 0) return -1;
  made->list[made->count++] = (struct cavum_grade_spoke){a, end, vertex};
  return vertex;
}

cavum_status cavum_grade_quad(cavum_grade_spokes *made, cavum_quads *quads, cavum_index q, int k,
                              double fraction, cavum_error *error) {
  cavum_quad old = quads->quads[q];
  int k1 = (k + 1) % 4, k2 = (k + 2) % 4, k3 = (k + 3) % 4;
  double tp = old.t[k][0] + fraction * (old.t[k][1] - old.t[k][0]);
  double tr = old.t[k3][1] + fraction * (old.t[k3][0] - old.t[k3][1]);
  // Corner k of the reference square, and the point at the fraction of the way to the opposite one.
  double xi = k == 0 || k == 3 ? -1.0 : 1.0, eta = k < 2 ? -1.0 : 1.0;
  double way = 1.0 - 2.0 * fraction;
  cavum_point inner = cavum_quads_map(quads, &old, xi * way, eta * way);
  cavum_index a = old.vertex[k], b = old.vertex[k1], c = old.vertex[k2], d = old.vertex[k3];
  cavum_index p = cavum_grade_spoke_vertex(made, quads, a, b, old.curve[k], tp, fraction);
  cavum_index r =
      p < 0 ? -1 : cavum_grade_spoke_vertex(made, quads, a, d, old.curve[k3], tr, fraction);
  cavum_index m = r < 0 ? -1 : cavum_quads_add_vertex(quads, inner);
  if (m < 0) return cavum_fail_memory(error);
  quads->quads[q] = (cavum_quad){{a, p, m, r},
                                 {old.curve[k], -1, -1, old.curve[k3]},
                                 {{old.t[k][0], tp}, {0}, {0}, {tr, old.t[k3][1]}}};
  cavum_quad beside_b = {{p, b, c, m},
                         {old.curve[k], old.curve[k1], -1, -1},
                         {{tp, old.t[k][1]}, {old.t[k1][0], old.t[k1][1]}, {0}, {0}}};
  cavum_quad beside_d = {{r, m, c, d},
                         {-1, -1, old.curve[k2], old.curve[k3]},
                         {{0}, {0}, {old.t[k2][0], old.t[k2][1]}, {old.t[k3][0], tr}}};
  if (!cavum_quads_add(quads, &beside_b) || !cavum_quads_add(quads, &beside_d)) {
    return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

static cavum_status grade_vertex(cavum_quads *quads, cavum_index a, double fraction,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_grade_spokes made = {0};
  cavum_index count = quads->num_quads;
  for (cavum_index q = 0; q < count; q++) {
    for (int k = 0; k < 4; k++) {
      if (quads->quads[q].vertex[k] != a) continue;
      CAVUM_TRY(cavum_grade_quad(&made, quads, q, k, fraction, error));
      break;
    }
  }
done:
  cavum_grade_spokes_clear(&made);
  return status;
}

// Vertex where a curve ends.
static cavum_index end_vertex(const cavum_quads *quads, cavum_index curve) {
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    const cavum_quad *quad = &quads->quads[q];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] == curve && quad->t[k][1] == 1.0) return quad->vertex[(k + 1) % 4];
    }
  }
  return -1;
}

cavum_status cavum_grade_corners(cavum_quads *quads, const cavum_mesh_options *options,
                                 cavum_error *error) {
  const cavum_curve *curves = quads->contour->curves;
  cavum_index n = quads->contour->num_curves;
  for (cavum_index c = 0; c < n; c++) {
    corner here = corner_between(&curves[c], &curves[c + 1 < n ? c + 1 : 0]);
    double fraction;
    int layers = layers_at(&fraction, &here, options);
    cavum_index vertex = layers > 0 ? end_vertex(quads, c) : -1;
    for (int layer = 0; vertex >= 0 && layer < layers; layer++) {
      cavum_status status = grade_vertex(quads, vertex, fraction, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}
