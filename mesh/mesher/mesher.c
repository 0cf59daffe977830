// SPDX-License-Identifier: GPL-3.0-or-later
// The mesher: contour -> size field -> chain of segments -> triangles -> quadrilaterals -> grading
// -> mesh. Each attempt ends with a check of every element; where one is poor, the size field gets
// a limit there and the next attempt follows. With shrinking sizes boundary pieces become straight
// against their elements and all elements convex, so this ends.
#include "mesher/mesher.h"

#include <string.h>

#include "base/base.h"
#include "element/topology.h"
#include "mesher/columns.h"
#include "mesher/frame.h"
#include "mesher/quads_smooth.h"

// Element shape that ends the attempts at once, and the least that is accepted after the last one.
static const double wanted_shape = 0.12, accepted_shape = 0.02;
// Weight of the scaled Jacobian against the angles once corners are graded.
static const double graded_weight = 4.0;
static const cavum_smoothing full_smoothing = {8, 0.25};
// Columns are used when their worst element is at least this good, or a little better when they
// had to be mended; the grading at junctions upsets them little, so a few rounds settle them (after
// two, a fifth of random two-ellipse cells need a second, finer mesh; after five, an eighth).
static const double columns_shape = 0.15, mended_shape = 0.2;
static const cavum_smoothing columns_smoothing = {5, 0.0}, poor_columns_smoothing = {4, 0.25};
// Size at a poor element over what the element has.
static const double shrink = 0.6;
enum {
  MOST_REFINEMENT = 64,
  MOST_ELEMENTS = 50000,
  MOST_ATTEMPTS = 12,
  CUT_ATTEMPTS = 2,
  MOST_CROSSINGS = 20,
  MOST_SEGMENTS = 2500,
  MOST_POINTS = 8000,
  CHECK_SAMPLES = 7
};

cavum_mesh_options cavum_mesh_options_default(void) {
  return (cavum_mesh_options){.largest_size_m = 0.0,
                              .largest_turn_rad = 0.0,
                              .corner_layers = -1,
                              .junction_layers = -1,
                              .refinement = 0.0};
}

static cavum_status resolve_options(cavum_mesh_options *resolved, const cavum_mesh_options *options,
                                    cavum_error *error) {
  *resolved = options ? *options : cavum_mesh_options_default();
  if (!(resolved->largest_size_m >= 0.0) || !(resolved->largest_turn_rad >= 0.0) ||
      !(resolved->refinement >= 0.0)) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "mesh sizes, turn and refinement must be numbers that are not negative");
  }
  if (resolved->largest_turn_rad == 0.0) resolved->largest_turn_rad = 0.25 * CAVUM_PI;
  if (resolved->refinement == 0.0) resolved->refinement = 1.0;
  if (resolved->corner_layers < 0) resolved->corner_layers = 4;
  if (resolved->junction_layers < 0) resolved->junction_layers = 1;
  if (resolved->refinement > MOST_REFINEMENT || resolved->refinement < 1.0 / MOST_REFINEMENT) {
    return cavum_fail(error, CAVUM_ERR_MESH, "refinement %g is not between 1/%d and %d",
                      resolved->refinement, (int)MOST_REFINEMENT, (int)MOST_REFINEMENT);
  }
  // Above a quarter turn an edge of the coarse mesh would turn by more than it can.
  resolved->largest_turn_rad = cavum_min(resolved->largest_turn_rad, 0.5 * CAVUM_PI);
  return CAVUM_OK;
}

// Lowers the size at one segment so that it will be divided.
static cavum_status shrink_segment(cavum_mesher *mesher, cavum_index index, cavum_error *error) {
  const cavum_segment *piece = &mesher->chain.segments[index];
  const cavum_curve *curve = &mesher->contour->curves[piece->curve];
  cavum_point a = cavum_curve_point(curve, piece->t[0]);
  cavum_point b = cavum_curve_point(curve, piece->t[1]);
  double size = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
  return cavum_size_field_add(&mesher->field, b, size, error);
}

// Chain whose chords do not cross: where two touch, both places get smaller sizes.
static cavum_status make_chain(cavum_mesher *mesher, cavum_error *error) {
  for (int attempt = 0; attempt < MOST_CROSSINGS; attempt++) {
    cavum_status status = cavum_density_build(&mesher->density, mesher->contour, &mesher->field,
                                              MOST_SEGMENTS, error);
    if (status == CAVUM_OK) status = cavum_chain_build(&mesher->chain, &mesher->density, error);
    if (status != CAVUM_OK) return status;
    status = cavum_coarse_set_chain(&mesher->coarse, mesher->contour, &mesher->chain, error);
    if (status != CAVUM_OK) return status;
    cavum_index first = -1, second, found = 0;
    while (
        found < MOST_CROSSINGS &&
        cavum_delaunay_find_crossing(&first, &second, &mesher->coarse.triangulation, first + 1)) {
      status = shrink_segment(mesher, first, error);
      if (status == CAVUM_OK) status = shrink_segment(mesher, second, error);
      if (status != CAVUM_OK) return status;
      found++;
    }
    if (found == 0) return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_MESH,
                    "the contour crosses or touches itself, or is too narrow somewhere");
}

// Lowers the sizes around one element.
static cavum_status shrink_around(cavum_mesher *mesher, const cavum_quad *quad,
                                  cavum_error *error) {
  double longest = 0.0;
  for (int k = 0; k < 4; k++) {
    cavum_point a = mesher->quads.vertices[quad->vertex[k]];
    cavum_point b = mesher->quads.vertices[quad->vertex[(k + 1) % 4]];
    longest = cavum_max(longest, hypot(b.z_m - a.z_m, b.r_m - a.r_m));
  }
  cavum_point centre = cavum_quads_map(&mesher->quads, quad, 0.0, 0.0);
  // Sizes are those of patches, two elements long. A poor element next to one that was dealt with
  // needs no limit of its own; one that is much larger than its size already gets a lower one.
  double size = shrink * 2.0 * longest, now = cavum_size_field_at(&mesher->field, centre);
  if (now < size) size = mesher->num_shrunk > 0 ? now : shrink * now;
  if (size >= now) return CAVUM_OK;
  mesher->num_shrunk++;
  return cavum_size_field_add(&mesher->field, centre, size, error);
}

// Takes the worst shape into *worst and lowers the sizes at elements that are too poor. Elements
// beside a graded corner are trapezoids whose Jacobian varies by design, so it weighs less then.
static cavum_status check_shapes(double *worst, cavum_mesher *mesher, double jacobian_weight,
                                 cavum_error *error) {
  for (cavum_index q = 0; q < mesher->quads.num_quads; q++) {
    const cavum_quad *quad = &mesher->quads.quads[q];
    cavum_quad_shape shape = cavum_quads_measure(&mesher->quads, quad, CHECK_SAMPLES);
    double value = cavum_min(jacobian_weight * shape.scaled_jacobian, shape.sine);
    *worst = cavum_min(*worst, value);
    if (value >= wanted_shape) continue;
    cavum_status status = shrink_around(mesher, quad, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static void swap_quads(cavum_quads *a, cavum_quads *b) {
  cavum_quads keep = *a;
  *a = *b;
  *b = keep;
}

// Patches by cuts; none when the sizes want points inside.
static cavum_status cut_patches(cavum_mesher *mesher, cavum_error *error) {
  cavum_status status =
      cavum_density_build(&mesher->density, mesher->contour, &mesher->field, MOST_SEGMENTS, error);
  if (status != CAVUM_OK) return status;
  return cavum_patches_by_cuts(&mesher->patches, mesher->contour, &mesher->field, &mesher->density,
                               error);
}

// Patches from triangles, which always exist.
static cavum_status pair_patches(cavum_mesher *mesher, cavum_error *error) {
  cavum_status status = make_chain(mesher, error);
  if (status == CAVUM_OK) {
    status = cavum_coarse_fill(&mesher->coarse, &mesher->field, MOST_POINTS, error);
  }
  if (status != CAVUM_OK) return status;
  return cavum_patches_from_coarse(&mesher->patches, &mesher->coarse, error);
}

static cavum_status split_quads(cavum_mesher *mesher, cavum_error *error) {
  int64_t wanted = (int64_t)mesher->parts * mesher->parts * mesher->quads.num_quads;
  if (wanted > MOST_ELEMENTS) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "refinement %d would make %lld elements, more than the limit of %d",
                      mesher->parts, (long long)wanted, (int)MOST_ELEMENTS);
  }
  return cavum_quads_split(&mesher->quads, mesher->parts, error);
}

static cavum_status finish_quads(double *worst, cavum_mesher *mesher, cavum_error *error) {
  cavum_status status =
      cavum_quads_from_patches(&mesher->quads, &mesher->patches, mesher->contour, error);
  if (status == CAVUM_OK) status = cavum_quads_smooth(&mesher->quads, &full_smoothing, error);
  if (status == CAVUM_OK) status = check_shapes(worst, mesher, 1.0, error);
  if (status == CAVUM_OK) status = split_quads(mesher, error);
  if (status == CAVUM_OK) status = cavum_mesher_grade(mesher, error);
  if (status == CAVUM_OK) status = check_shapes(worst, mesher, graded_weight, error);
  return status;
}

static double worst_shape(const cavum_quads *quads, double jacobian_weight) {
  double worst = 1.0;
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    cavum_quad_shape shape = cavum_quads_measure(quads, &quads->quads[q], CHECK_SAMPLES);
    worst = cavum_min(worst, cavum_min(jacobian_weight * shape.scaled_jacobian, shape.sine));
  }
  return worst;
}

// Columns, where the contour is that of a cell and they come out well; else `best` stays empty.
static cavum_status try_columns(cavum_mesher *mesher, cavum_error *error) {
  cavum_status status =
      cavum_quads_by_columns(&mesher->quads, mesher->contour, &mesher->options, error);
  if (status != CAVUM_OK || mesher->quads.num_quads == 0) return status;
  if (worst_shape(&mesher->quads, 1.0) < columns_shape) {
    status = cavum_quads_smooth(&mesher->quads, &poor_columns_smoothing, error);
    if (status != CAVUM_OK || worst_shape(&mesher->quads, 1.0) < mended_shape) return status;
  }
  status = split_quads(mesher, error);
  if (status == CAVUM_OK) status = cavum_mesher_grade(mesher, error);
  // Grading cuts long elements awkwardly; the inner vertices settle around the layers.
  if (status == CAVUM_OK) {
    status = cavum_quads_smooth(&mesher->quads, &columns_smoothing, error);
  }
  if (status == CAVUM_OK && worst_shape(&mesher->quads, graded_weight) < columns_shape) {
    status = cavum_quads_smooth(&mesher->quads, &full_smoothing, error);
  }
  if (status != CAVUM_OK || worst_shape(&mesher->quads, graded_weight) < columns_shape)
    return status;
  swap_quads(&mesher->best, &mesher->quads);
  return CAVUM_OK;
}

// One attempt; *cutting becomes false when the sizes want points inside.
static cavum_status attempt_quads(double *worst, bool *cutting, cavum_mesher *mesher,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (*cutting) {
    status = cut_patches(mesher, error);
    if (status == CAVUM_OK && mesher->patches.num_patches == 0) *cutting = false;
  }
  if (status == CAVUM_OK && !*cutting) status = pair_patches(mesher, error);
  *worst = 1.0;
  mesher->num_shrunk = 0;
  return status == CAVUM_OK ? finish_quads(worst, mesher, error) : status;
}

// Attempts until all elements are good; leaves the best quadrilaterals in mesher->best.
static cavum_status make_quads(cavum_mesher *mesher, cavum_error *error) {
  double best = -INFINITY;
  bool cutting = true;
  for (int attempt = 0; attempt < MOST_ATTEMPTS && best < wanted_shape; attempt++) {
    double worst;
    cavum_error trouble = {CAVUM_OK, ""};
    if (attempt == CUT_ATTEMPTS) cutting = false;
    cavum_status status = attempt_quads(&worst, &cutting, mesher, &trouble);
    if (status == CAVUM_ERR_MESH && best >= accepted_shape) break;
    if (status != CAVUM_OK) return cavum_fail(error, status, "%s", trouble.message);
    if (worst <= best) continue;
    best = worst;
    swap_quads(&mesher->best, &mesher->quads);
  }
  if (best >= accepted_shape) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_MESH,
                    "no valid mesh was found: the worst element has a scaled Jacobian of %.2g; the "
                    "contour may have a corner of nearly zero or a full turn",
                    best);
}

static cavum_status copy_contour(cavum_mesh *mesh, const cavum_contour *contour,
                                 cavum_error *error) {
  mesh->num_curves = contour->num_curves;
  mesh->curves = cavum_alloc(contour->num_curves, sizeof *mesh->curves);
  mesh->regions = cavum_alloc(1, sizeof *mesh->regions);
  if (!mesh->curves || !mesh->regions) return cavum_fail_memory(error);
  memcpy(mesh->curves, contour->curves, (size_t)contour->num_curves * sizeof *mesh->curves);
  mesh->num_regions = 1;
  mesh->regions[0] = (cavum_region){.name = cavum_copy_text(""), .eps_r = 1.0, .mu_r = 1.0};
  return mesh->regions[0].name ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status copy_quads(cavum_mesh *mesh, const cavum_quads *quads, cavum_error *error) {
  mesh->num_vertices = quads->num_vertices;
  mesh->num_elements = quads->num_quads;
  mesh->vertices = cavum_alloc(mesh->num_vertices, sizeof *mesh->vertices);
  mesh->elements = cavum_alloc(mesh->num_elements, sizeof *mesh->elements);
  if (!mesh->vertices || !mesh->elements) return cavum_fail_memory(error);
  memcpy(mesh->vertices, quads->vertices, (size_t)mesh->num_vertices * sizeof *mesh->vertices);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    mesh->elements[e].num_corners = 4;
    memcpy(mesh->elements[e].vertex, quads->quads[e].vertex, sizeof quads->quads[e].vertex);
  }
  cavum_status status = cavum_topology_build_edges(mesh, error);
  if (status != CAVUM_OK) return status;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_quad *quad = &quads->quads[e];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] < 0) continue;
      cavum_edge *edge = &mesh->edges[mesh->elements[e].edge[k]];
      int first = mesh->elements[e].reversed[k] ? 1 : 0;
      edge->curve = quad->curve[k];
      edge->boundary = mesh->curves[quad->curve[k]].boundary;
      edge->t[0] = quad->t[k][first];
      edge->t[1] = quad->t[k][1 - first];
    }
  }
  return CAVUM_OK;
}

static void clear_mesher(cavum_mesher *mesher) {
  cavum_size_field_clear(&mesher->field);
  cavum_density_clear(&mesher->density);
  cavum_chain_clear(&mesher->chain);
  cavum_patches_clear(&mesher->patches);
  cavum_coarse_clear(&mesher->coarse);
  cavum_quads_clear(&mesher->quads);
  cavum_quads_clear(&mesher->best);
}

static cavum_status run_mesher(cavum_mesh *made, const cavum_contour *contour, cavum_mesher *mesher,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_frame frame;
  cavum_contour inside = {0};
  CAVUM_TRY(cavum_frame_choose(&frame, &inside, contour, error));
  mesher->contour = &inside;
  // Columns know nothing of a size limit.
  if (mesher->options.largest_size_m == 0.0) CAVUM_TRY(try_columns(mesher, error));
  if (mesher->best.num_quads == 0) {
    CAVUM_TRY(cavum_size_field_build(&mesher->field, &inside, &mesher->options, error));
    CAVUM_TRY(make_quads(mesher, error));
  }
  cavum_frame_restore(&mesher->best, &frame, contour);
  CAVUM_TRY(copy_contour(made, contour, error));
  CAVUM_TRY(copy_quads(made, &mesher->best, error));
done:
  cavum_contour_clear(&inside);
  return status;
}

cavum_status cavum_mesh_from_contour(cavum_mesh *mesh, const cavum_contour *contour,
                                     const cavum_mesh_options *options, cavum_error *error) {
  cavum_mesher mesher = {0};
  cavum_mesh made = {0};
  if (contour->num_curves < 1) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the contour has no curves");
  }
  cavum_status status = resolve_options(&mesher.options, options, error);
  if (status != CAVUM_OK) return status;
  // Whole-numbered refinement divides the elements of one layout; the rest shrinks the sizes.
  mesher.parts = (int)cavum_max(1.0, floor(mesher.options.refinement + 1e-9));
  mesher.options.refinement /= mesher.parts;
  status = run_mesher(&made, contour, &mesher, error);
  clear_mesher(&mesher);
  if (status != CAVUM_OK) {
    cavum_mesh_clear(&made);
    return status;
  }
  *mesh = made;
  return CAVUM_OK;
}
