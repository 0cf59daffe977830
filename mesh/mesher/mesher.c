// SPDX-License-Identifier: GPL-3.0-or-later
// The mesher: contour -> columns, or size field -> density -> patches -> quadrilaterals; then
// smoothing, refinement, grading, mesh (README.md). Each attempt ends with a check of every
// element; where one is poor, the size field gets a limit there and the next attempt follows. With
// shrinking sizes boundary pieces become straight against their elements and all elements convex,
// so this ends.
#include <string.h>

#include "base/base.h"
#include "base/sized.h"
#include "base/stop.h"
#include "base/units.h"
#include "element/topology.h"
#include "mesher/canonical.h"
#include "mesher/coarse.h"
#include "mesher/columns.h"
#include "mesher/cut.h"
#include "mesher/divide.h"
#include "mesher/grade.h"
#include "mesher/pair.h"
#include "mesher/smooth.h"
#include "mesher/split.h"
#include "mesher/strips.h"

// Element shape that ends the attempts at once, and the least that is accepted after the last one.
static const double WANTED_SHAPE = 0.12, ACCEPTED_SHAPE = 0.02;
// Weight of the scaled Jacobian against the angles once corners are graded.
static const double GRADED_WEIGHT = 4.0;
static const cavum_smoothing full_smoothing = {8, 0.25};
// Columns are used when their worst element is at least this good, or a little better when they
// had to be mended; the grading at junctions upsets them little, so a few rounds settle them (after
// two, a fifth of random two-ellipse cells need a second, finer mesh; after five, an eighth).
static const double COLUMNS_SHAPE = 0.15, MENDED_SHAPE = 0.2;
static const cavum_smoothing columns_smoothing = {5, 0.0}, poor_columns_smoothing = {4, 0.25};
// Size at a poor element over what the element has.
static const double SHRINK = 0.6;
// Sizes of further rounds of attempts, where the first ends with an element that is just too poor,
// by no more than this part: divided by these. Wedges of no angle end with worse ones or none.
static const double NEARLY_ACCEPTED = 0.1;
static const double OTHER_SIZES[] = {1.0, 1.3, 1.7};
// Tips that are sharper than this, at junctions, may have no elements.
static const double TIP_MOST_DEG = 3.0;
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

// One run of the mesher.
typedef struct mesher {
  const cavum_contour *contour;  // Borrowed, in its canonical form.
  double z_sign;                 // -1 where that is the mirror image of what was given.
  cavum_mesh_options options;    // All defaults resolved, except largest_size_m.
  int divisions;                 // Divisions of every quadrilateral along each side.
  int num_shrunk;                // Places where this attempt lowered the sizes.
  bool is_nearly_good;           // A round has ended with an element that is just too poor.
  cavum_size_field field;
  cavum_density density;
  cavum_segments segments;
  cavum_coarse coarse;
  cavum_patches patches;
  cavum_quads quads;  // Of the attempt under way.
  cavum_quads best;   // Of the best attempt.
} mesher;

static const cavum_sized OPTIONS = {.name = "mesh options",
                                    .maker = "cavum_mesh_options_default()",
                                    .first = offsetof(cavum_mesh_options, stop),
                                    .full = sizeof(cavum_mesh_options)};

void cavum_mesh_options_set_defaults(cavum_mesh_options *options, size_t struct_size) {
  const cavum_mesh_options defaults = {.corner_layers = -1, .junction_layers = -1};
  if (options) cavum_sized_give(options, struct_size, &defaults, &OPTIONS);
}

static cavum_status resolve_options(cavum_mesh_options *resolved, const cavum_mesh_options *options,
                                    cavum_error *error) {
  const cavum_mesh_options defaults = cavum_mesh_options_default();
  cavum_status status = cavum_sized_take(resolved, options ? options : &defaults, &OPTIONS, error);
  if (status != CAVUM_OK) return status;
  if (!(resolved->largest_size_m >= 0.0) || !(resolved->largest_turn_rad >= 0.0) ||
      !(resolved->refinement >= 0.0)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "mesh sizes, turn and refinement must be numbers that are not negative");
  }
  if (resolved->corner_layers < -1 || resolved->junction_layers < -1) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "corner_layers %d and junction_layers %d: expected 0 or more, or -1",
                      resolved->corner_layers, resolved->junction_layers);
  }
  if (resolved->largest_turn_rad == 0.0) resolved->largest_turn_rad = 0.25 * CAVUM_PI;
  if (resolved->refinement == 0.0) resolved->refinement = 1.0;
  if (resolved->corner_layers < 0) resolved->corner_layers = 4;
  if (resolved->junction_layers < 0) resolved->junction_layers = 1;
  if (resolved->refinement > MOST_REFINEMENT || resolved->refinement < 1.0 / MOST_REFINEMENT) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "refinement %g is not between 1/%d and %d",
                      resolved->refinement, (int)MOST_REFINEMENT, (int)MOST_REFINEMENT);
  }
  // Above a quarter turn an edge of the coarse mesh would turn by more than it can.
  resolved->largest_turn_rad = cavum_min(resolved->largest_turn_rad, 0.5 * CAVUM_PI);
  return CAVUM_OK;
}

// Lowers the size at one segment so that it will be divided.
static cavum_status shrink_segment(mesher *run, cavum_index index, cavum_error *error) {
  const cavum_segment *piece = &run->segments.segments[index];
  const cavum_curve *curve = &run->contour->curves[piece->curve];
  cavum_point a = cavum_curve_point(curve, piece->t[0]);
  cavum_point b = cavum_curve_point(curve, piece->t[1]);
  double size = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
  return cavum_size_field_add(&run->field, b, size, error);
}

// Where a segment begins.
static cavum_point place_of(const mesher *run, cavum_index segment) {
  const cavum_segment *piece = &run->segments.segments[segment];
  return cavum_curve_point(&run->contour->curves[piece->curve], piece->t[0]);
}

// Where elements must be smallest.
static cavum_point finest_place(const cavum_size_field *field, cavum_index num_curves) {
  cavum_point place = {0.0, 0.0};
  double least = HUGE_VAL;
  for (cavum_index j = 0; j < field->first_sample[num_curves]; j++) {
    double size = cavum_size_field_at(field, field->samples[j].point);
    if (size < least) least = size, place = field->samples[j].point;
  }
  return place;
}

static cavum_status build_density(mesher *run, cavum_error *error) {
  cavum_status status =
      cavum_density_build(&run->density, run->contour, &run->field, MOST_SEGMENTS, error);
  if (status != CAVUM_ERR_MESH) return status;
  cavum_point place = finest_place(&run->field, run->contour->num_curves);
  return cavum_fail(error, CAVUM_ERR_MESH,
                    "the outline is too long against its finest detail or its narrowest place, "
                    "near z = %.4g mm, r = %.4g mm: more than %d segments would be needed",
                    run->z_sign * cavum_in_mm(place.z_m), cavum_in_mm(place.r_m),
                    (int)MOST_SEGMENTS);
}

// The junction nearest to a place, and the angle inside of the domain there.
static double nearest_junction_rad(cavum_point *junction, const mesher *run, cavum_point place) {
  const cavum_contour *contour = run->contour;
  double nearest = HUGE_VAL, angle = 0.0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *before = &contour->curves[i > 0 ? i - 1 : contour->num_curves - 1];
    cavum_point at = cavum_curve_point(&contour->curves[i], 0.0);
    double distance = hypot(at.z_m - place.z_m, at.r_m - place.r_m);
    if (distance >= nearest) continue;
    cavum_point in = cavum_curve_derivative(before, 1.0);
    cavum_point out = cavum_curve_derivative(&contour->curves[i], 0.0);
    double cross = in.z_m * out.r_m - in.r_m * out.z_m, dot = in.z_m * out.z_m + in.r_m * out.r_m;
    nearest = distance;
    angle = CAVUM_PI - atan2(cross, dot);
    *junction = at;
  }
  return angle;
}

// No segments of the outline are small enough; a sharp tip is named as one.
static cavum_status fail_too_narrow(const mesher *run, cavum_point narrow, cavum_error *error) {
  cavum_point tip = narrow;
  double degrees = nearest_junction_rad(&tip, run, narrow) * 180.0 / CAVUM_PI;
  if (degrees < TIP_MOST_DEG) {
    return cavum_fail(
        error, CAVUM_ERR_MESH,
        "no elements fit into the tip of %.3g degrees at z = %.4g mm, r = %.4g mm: end the "
        "domain by a wall across before it, where no field reaches any more, or make it "
        "at least %g degrees",
        degrees, run->z_sign * cavum_in_mm(tip.z_m), cavum_in_mm(tip.r_m), TIP_MOST_DEG);
  }
  return cavum_fail(
      error, CAVUM_ERR_MESH,
      "no elements fit near z = %.4g mm, r = %.4g mm: the domain is too narrow there, or "
      "its outline crosses itself",
      run->z_sign * cavum_in_mm(narrow.z_m), cavum_in_mm(narrow.r_m));
}

// Segments whose chords do not cross: where two touch, both places get smaller sizes.
static cavum_status make_segments(mesher *run, cavum_error *error) {
  cavum_point narrow = {0.0, 0.0};
  for (int attempt = 0; attempt < MOST_CROSSINGS; attempt++) {
    cavum_status status = build_density(run, error);
    if (status == CAVUM_OK) status = cavum_segments_build(&run->segments, &run->density, error);
    if (status != CAVUM_OK) return status;
    status = cavum_coarse_set_segments(&run->coarse, run->contour, &run->segments, error);
    if (status != CAVUM_OK) return status;
    cavum_index first = -1, second, found = 0;
    while (found < MOST_CROSSINGS &&
           cavum_delaunay_find_crossing(&first, &second, &run->coarse.triangulation, first + 1)) {
      narrow = place_of(run, first);
      status = shrink_segment(run, first, error);
      if (status == CAVUM_OK) status = shrink_segment(run, second, error);
      if (status != CAVUM_OK) return status;
      found++;
    }
    if (found == 0) return CAVUM_OK;
  }
  return fail_too_narrow(run, narrow, error);
}

// Lowers the sizes around one element.
static cavum_status shrink_around(mesher *run, const cavum_quad *quad, cavum_error *error) {
  double longest = 0.0;
  for (int k = 0; k < 4; k++) {
    cavum_point a = run->quads.vertices[quad->vertex[k]];
    cavum_point b = run->quads.vertices[quad->vertex[(k + 1) % 4]];
    longest = cavum_max(longest, hypot(b.z_m - a.z_m, b.r_m - a.r_m));
  }
  cavum_point centre = cavum_quads_map(&run->quads, quad, 0.0, 0.0);
  // Sizes are those of patches, two elements long. A poor element next to one that was dealt with
  // needs no limit of its own; one that is much larger than its size already gets a lower one.
  double size = SHRINK * 2.0 * longest, now = cavum_size_field_at(&run->field, centre);
  if (now < size) size = run->num_shrunk > 0 ? now : SHRINK * now;
  if (size >= now) return CAVUM_OK;
  run->num_shrunk++;
  return cavum_size_field_add(&run->field, centre, size, error);
}

// Takes the worst shape into *worst and lowers the sizes at elements that are too poor. Elements
// beside a graded corner are trapezoids whose Jacobian varies by design, so it weighs less then.
static cavum_status check_shapes(double *worst, mesher *run, double jacobian_weight,
                                 cavum_error *error) {
  for (cavum_index q = 0; q < run->quads.num_quads; q++) {
    const cavum_quad *quad = &run->quads.quads[q];
    cavum_quad_shape shape = cavum_quads_measure(&run->quads, quad, CHECK_SAMPLES);
    double value = cavum_min(jacobian_weight * shape.scaled_jacobian, shape.sine);
    *worst = cavum_min(*worst, value);
    if (value >= WANTED_SHAPE) continue;
    cavum_status status = shrink_around(run, quad, error);
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
static cavum_status cut_patches(mesher *run, cavum_error *error) {
  cavum_status status = build_density(run, error);
  if (status != CAVUM_OK) return status;
  return cavum_cut_patches(&run->patches, run->contour, &run->field, &run->density, error);
}

// Patches from triangles, which always exist.
static cavum_status pair_patches(mesher *run, cavum_error *error) {
  cavum_status status = make_segments(run, error);
  if (status == CAVUM_OK) {
    status = cavum_coarse_fill(&run->coarse, &run->field, MOST_POINTS, error);
  }
  if (status != CAVUM_OK) return status;
  return cavum_pair_triangles(&run->patches, &run->coarse, error);
}

static cavum_status split_quads(mesher *run, cavum_error *error) {
  int64_t wanted = (int64_t)run->divisions * run->divisions * run->quads.num_quads;
  if (wanted > MOST_ELEMENTS) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "refinement %d would make %lld elements, more than the limit of %d",
                      run->divisions, (long long)wanted, (int)MOST_ELEMENTS);
  }
  return cavum_split_quads(&run->quads, run->divisions, error);
}

static cavum_status finish_quads(double *worst, mesher *run, cavum_error *error) {
  cavum_status status = cavum_divide_patches(&run->quads, &run->patches, run->contour, error);
  if (status == CAVUM_OK) status = cavum_smooth_quads(&run->quads, &full_smoothing, error);
  if (status == CAVUM_OK) status = check_shapes(worst, run, 1.0, error);
  if (status == CAVUM_OK) status = split_quads(run, error);
  if (status == CAVUM_OK) status = cavum_grade_corners(&run->quads, &run->options, error);
  if (status == CAVUM_OK) status = cavum_strips_add(&run->quads, error);
  if (status == CAVUM_OK) status = check_shapes(worst, run, GRADED_WEIGHT, error);
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
static cavum_status try_columns(mesher *run, cavum_error *error) {
  cavum_status status = cavum_columns_build(&run->quads, run->contour, &run->options, error);
  if (status != CAVUM_OK || run->quads.num_quads == 0) return status;
  if (worst_shape(&run->quads, 1.0) < COLUMNS_SHAPE) {
    status = cavum_smooth_quads(&run->quads, &poor_columns_smoothing, error);
    if (status != CAVUM_OK || worst_shape(&run->quads, 1.0) < MENDED_SHAPE) return status;
  }
  status = split_quads(run, error);
  if (status == CAVUM_OK) status = cavum_grade_corners(&run->quads, &run->options, error);
  // Grading cuts long elements awkwardly; the inner vertices settle around the layers.
  if (status == CAVUM_OK) {
    status = cavum_smooth_quads(&run->quads, &columns_smoothing, error);
  }
  if (status == CAVUM_OK && worst_shape(&run->quads, GRADED_WEIGHT) < COLUMNS_SHAPE) {
    status = cavum_smooth_quads(&run->quads, &full_smoothing, error);
  }
  if (status != CAVUM_OK || worst_shape(&run->quads, GRADED_WEIGHT) < COLUMNS_SHAPE) return status;
  swap_quads(&run->best, &run->quads);
  return CAVUM_OK;
}

// One attempt; *cutting becomes false when the sizes want points inside.
static cavum_status attempt_quads(double *worst, bool *cutting, mesher *run, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (*cutting) {
    status = cut_patches(run, error);
    if (status == CAVUM_OK && run->patches.num_patches == 0) *cutting = false;
  }
  if (status == CAVUM_OK && !*cutting) status = pair_patches(run, error);
  *worst = 1.0;
  run->num_shrunk = 0;
  return status == CAVUM_OK ? finish_quads(worst, run, error) : status;
}

// Attempts until all elements are good; leaves the best quadrilaterals in run->best.
static cavum_status make_quads(mesher *run, cavum_error *error) {
  double best = -INFINITY;
  bool cutting = true;
  for (int attempt = 0; attempt < MOST_ATTEMPTS && best < WANTED_SHAPE; attempt++) {
    double worst;
    cavum_error trouble = {CAVUM_OK, ""};
    if (attempt == CUT_ATTEMPTS) cutting = false;
    cavum_status status = attempt_quads(&worst, &cutting, run, &trouble);
    if (cavum_stop_asked()) return cavum_stop_check(error);
    if (status == CAVUM_ERR_MESH && best >= ACCEPTED_SHAPE) break;
    if (status != CAVUM_OK) return cavum_fail(error, status, "%s", trouble.message);
    if (worst <= best) continue;
    best = worst;
    swap_quads(&run->best, &run->quads);
  }
  if (best >= ACCEPTED_SHAPE) return CAVUM_OK;
  run->is_nearly_good = best >= NEARLY_ACCEPTED * ACCEPTED_SHAPE;
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

static void clear_run(mesher *run) {
  cavum_size_field_clear(&run->field);
  cavum_density_clear(&run->density);
  cavum_segments_clear(&run->segments);
  cavum_patches_clear(&run->patches);
  cavum_coarse_clear(&run->coarse);
  cavum_quads_clear(&run->quads);
  cavum_quads_clear(&run->best);
}

// Where the attempts end with an element that is just too poor they are made again from other
// sizes, which lay all elements anew: a wedge, say, whose sides meet at a small nose needs them to
// fit around it.
static cavum_status make_quads_of_some_size(mesher *run, cavum_error *error) {
  cavum_mesh_options options = run->options;
  cavum_error first = {CAVUM_OK, ""};
  cavum_status status = CAVUM_OK;
  for (size_t i = 0; i < sizeof OTHER_SIZES / sizeof *OTHER_SIZES; i++) {
    cavum_error trouble = {CAVUM_OK, ""};
    options.refinement = run->options.refinement * OTHER_SIZES[i];
    cavum_quads_clear(&run->best);
    run->is_nearly_good = false;
    status = cavum_size_field_build(&run->field, run->contour, &options, &trouble);
    if (status == CAVUM_OK) status = make_quads(run, &trouble);
    if (i == 0) first = trouble;
    if (status == CAVUM_OK) return CAVUM_OK;
    if (status != CAVUM_ERR_MESH) return cavum_fail(error, status, "%s", trouble.message);
    if (!run->is_nearly_good) break;
  }
  return cavum_fail(error, status, "%s", first.message);
}

static cavum_status run_mesher(cavum_mesh *made, const cavum_contour *contour, mesher *run,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_canonical frame;
  cavum_contour inside = {0};
  CAVUM_TRY(cavum_canonical_choose(&frame, &inside, contour, error));
  run->contour = &inside;
  run->z_sign = frame.mirrored ? -1.0 : 1.0;
  // Columns know nothing of a size limit.
  if (run->options.largest_size_m == 0.0) CAVUM_TRY(try_columns(run, error));
  if (run->best.num_quads == 0) {
    CAVUM_TRY(make_quads_of_some_size(run, error));
  }
  cavum_canonical_restore(&run->best, &frame, contour);
  CAVUM_TRY(copy_contour(made, contour, error));
  CAVUM_TRY(copy_quads(made, &run->best, error));
done:
  cavum_contour_clear(&inside);
  return status;
}

cavum_status cavum_mesh_from_contour(cavum_mesh *mesh, const cavum_contour *contour,
                                     const cavum_mesh_options *options, cavum_error *error) {
  if (!mesh || !contour) return cavum_fail_null(error, __func__);
  mesher run = {0};
  cavum_mesh made = {0};
  if (contour->num_curves < 1) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the contour has no curves");
  }
  cavum_status status = resolve_options(&run.options, options, error);
  if (status != CAVUM_OK) return status;
  // Whole-numbered refinement divides the elements of one layout; the rest shrinks the sizes.
  run.divisions = (int)cavum_max(1.0, floor(run.options.refinement + 1e-9));
  run.options.refinement /= run.divisions;
  // Without a question of its own the mesher is asked about by the solve that it works for.
  cavum_stop stop = {.ask = run.options.stop, .data = run.options.stop_data}, *before = NULL;
  if (stop.ask) before = cavum_stop_set(&stop);
  status = run_mesher(&made, contour, &run, error);
  if (stop.ask) cavum_stop_set(before);
  if (stop.stopped)
    status = cavum_fail(error, CAVUM_ERR_STOPPED, "the mesher was stopped on request");
  clear_run(&run);
  if (status != CAVUM_OK) {
    cavum_mesh_clear(&made);
    return status;
  }
  *mesh = made;
  return CAVUM_OK;
}
