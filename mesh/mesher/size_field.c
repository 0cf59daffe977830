// SPDX-License-Identifier: GPL-3.0-or-later
// The size field. Curves are sampled so that each step turns little; every sample gets a limit from
// its own curvature, the length of its curve, the gap it looks across and its distance from the
// axis. The field is the smallest of all limits, each growing with the distance from its place, so
// it is continuous and no two neighbours differ much.
#include "mesher/size_field.h"

#include <string.h>

#include "base/base.h"

// Step of the sampling: turn of a step, steps of a straight or gently bent curve, and the number of
// halvings after which a step is taken as it is (an ellipse of axes 1 : 10^5 needs about 20).
static const double STEP_TURN_RAD = 0.2;
enum { FIRST_STEPS = 8, MOST_HALVINGS = 24, MOST_SAMPLES = 20000 };

// Growth of the coarse size with distance: neighbours differ by a factor of about 2.
static const double GROWTH = 1.0;
// Coarse size over the width of a gap: with 1.7 and more, R/Q lags behind.
static const double GAP_FACTOR = 1.3;
// The same on the axis, where E_z is needed pointwise and the energy, weighted by r^3, hardly
// controls it.
static const double AXIS_FACTOR = 1.3;
// Coarse size over the radius on conductors that face away from the axis, where w goes as 1/r^2.
static const double RADIUS_FACTOR = 2.0;
// A wall is thin where it is longer than this times its radius: the coarse size is then a part of
// that length, and not less than what the radius would allow.
static const double THIN = 64.0, THIN_FACTOR = 0.125;
// Coarse size over the length of a curve that is shorter than all other limits.
static const double LENGTH_FACTOR = 1.5;
// Largest coarse size over the smaller side of the bounding box.
static const double EXTENT_FACTOR = 1.4;

void cavum_size_field_clear(cavum_size_field *field) {
  if (!field) return;
  free(field->first_sample);
  free(field->samples);
  free(field->sources);
  memset(field, 0, sizeof *field);
}

cavum_status cavum_size_field_add(cavum_size_field *field, cavum_point point, double size_m,
                                  cavum_error *error) {
  if (!cavum_grow((void **)&field->sources, &field->source_capacity,
                  (int64_t)field->num_sources + 1, sizeof *field->sources)) {
    return cavum_fail_memory(error);
  }
  field->sources[field->num_sources++] = (cavum_size_source){point, size_m};
  return CAVUM_OK;
}

double cavum_size_field_at(const cavum_size_field *field, cavum_point point) {
  double size = field->largest_m;
  for (cavum_index i = 0; i < field->num_sources; i++) {
    const cavum_size_source *source = &field->sources[i];
    double room = (size - source->size_m) / GROWTH;
    if (room <= 0.0) continue;
    double dz = point.z_m - source->point.z_m, dr = point.r_m - source->point.r_m;
    double square = dz * dz + dr * dr;
    if (square < room * room) size = source->size_m + GROWTH * sqrt(square);
  }
  return size;
}

static cavum_status append_sample(cavum_size_field *field, const cavum_curve *curve, double t,
                                  cavum_error *error) {
  if (field->num_samples >= MOST_SAMPLES) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "the contour turns too often to be meshed (more than %d samples)",
                      (int)MOST_SAMPLES);
  }
  if (!cavum_grow((void **)&field->samples, &field->sample_capacity,
                  (int64_t)field->num_samples + 1, sizeof *field->samples)) {
    return cavum_fail_memory(error);
  }
  cavum_point slope = cavum_curve_derivative(curve, t);
  double speed = hypot(slope.z_m, slope.r_m);
  cavum_size_sample *sample = &field->samples[field->num_samples++];
  *sample = (cavum_size_sample){.t = t, .point = cavum_curve_point(curve, t), .limit_m = INFINITY};
  if (speed > 0.0) sample->inward = (cavum_point){-slope.r_m / speed, slope.z_m / speed};
  return CAVUM_OK;
}

// Turn between the directions at two samples, which have the same angle between their normals.
static double turn_between(const cavum_size_sample *a, const cavum_size_sample *b) {
  double cross = a->inward.z_m * b->inward.r_m - a->inward.r_m * b->inward.z_m;
  double dot = a->inward.z_m * b->inward.z_m + a->inward.r_m * b->inward.r_m;
  return fabs(atan2(cross, dot));
}

// Appends samples in (t0, t1], halving until a step turns little.
static cavum_status sample_step(cavum_size_field *field, const cavum_curve *curve, double t0,
                                double t1, cavum_error *error) {
  double ends[MOST_HALVINGS + 1] = {t1};
  int depth = 0;
  double from = t0;
  while (depth >= 0) {
    cavum_status status = append_sample(field, curve, ends[depth], error);
    if (status != CAVUM_OK) return status;
    const cavum_size_sample *last = &field->samples[field->num_samples - 1];
    if (depth < MOST_HALVINGS && turn_between(last - 1, last) > STEP_TURN_RAD) {
      field->num_samples--;
      ends[depth + 1] = 0.5 * (from + ends[depth]);
      depth++;
      continue;
    }
    from = ends[depth--];
  }
  return CAVUM_OK;
}

static void add_up_samples(cavum_size_sample *first, const cavum_size_sample *last) {
  for (cavum_size_sample *b = first + 1; b <= last; b++) {
    const cavum_size_sample *a = b - 1;
    double chord = hypot(b->point.z_m - a->point.z_m, b->point.r_m - a->point.r_m);
    double turn = turn_between(a, b);
    b->length_m = a->length_m + chord * (1.0 + turn * turn / 24.0);
    b->turn_rad = a->turn_rad + turn;
  }
}

static cavum_status sample_curve(cavum_size_field *field, const cavum_contour *contour,
                                 cavum_index c, cavum_error *error) {
  const cavum_curve *curve = &contour->curves[c];
  field->first_sample[c] = field->num_samples;
  cavum_status status = append_sample(field, curve, 0.0, error);
  for (int i = 0; i < FIRST_STEPS && status == CAVUM_OK; i++) {
    status =
        sample_step(field, curve, (double)i / FIRST_STEPS, (double)(i + 1) / FIRST_STEPS, error);
  }
  if (status != CAVUM_OK) return status;
  add_up_samples(&field->samples[field->first_sample[c]], &field->samples[field->num_samples - 1]);
  double length = field->samples[field->num_samples - 1].length_m;
  if (!(length > 0.0) || !isfinite(length)) {
    return cavum_fail(error, CAVUM_ERR_MESH, "curve %d of the contour has length %g m", (int)c + 1,
                      length);
  }
  return CAVUM_OK;
}

// Distance along the ray from `from` to the chord a-b, or infinity.
static double ray_to_chord(const cavum_size_sample *from, cavum_point a, cavum_point b) {
  double nz = from->inward.z_m, nr = from->inward.r_m;
  double az = a.z_m - from->point.z_m, ar = a.r_m - from->point.r_m;
  double bz = b.z_m - from->point.z_m, br = b.r_m - from->point.r_m;
  double sa = nz * ar - nr * az, sb = nz * br - nr * bz;  // sides of the ray
  if ((sa > 0.0) == (sb > 0.0) || sa == sb) return INFINITY;
  double weight = sa / (sa - sb);
  double along = nz * (az + weight * (bz - az)) + nr * (ar + weight * (br - ar));
  return along > 0.0 ? along : INFINITY;
}

static bool are_neighbours(cavum_index a, cavum_index b, cavum_index count) {
  cavum_index distance = a > b ? a - b : b - a;
  return distance <= 1 || distance == count - 1;
}

// Width of the domain seen from a sample along its normal; pieces that touch its own do not count.
static double gap_at(const cavum_size_field *field, cavum_index own,
                     const cavum_size_sample *from) {
  double gap = INFINITY;
  for (cavum_index c = 0; c < field->num_curves; c++) {
    if (are_neighbours(own, c, field->num_curves)) continue;
    for (cavum_index j = field->first_sample[c]; j + 1 < field->first_sample[c + 1]; j++) {
      gap =
          cavum_min(gap, ray_to_chord(from, field->samples[j].point, field->samples[j + 1].point));
    }
  }
  return gap;
}

// Beside a wall that faces away from the axis. A straight one that is far longer than thick gets
// strips along it (strips.h), and samples of it would not do: sizes grow from one to the next.
static double radius_limit(const cavum_curve *curve, const cavum_size_sample *sample,
                           double length_m, bool touches_axis) {
  double radius = sample->point.r_m;
  bool thin = touches_axis && curve->kind == CAVUM_CURVE_LINE && length_m > THIN * radius;
  return thin ? THIN_FACTOR * length_m : RADIUS_FACTOR * radius;
}

static bool touches_the_axis(const cavum_contour *contour) {
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    if (contour->curves[c].boundary == CAVUM_BOUNDARY_AXIS) return true;
  }
  return false;
}

static void limit_samples(cavum_size_field *field, const cavum_contour *contour, cavum_index c,
                          bool touches_axis) {
  cavum_size_sample *first = &field->samples[field->first_sample[c]];
  cavum_size_sample *last = &field->samples[field->first_sample[c + 1] - 1];
  for (cavum_size_sample *sample = first; sample <= last; sample++) {
    double limit = LENGTH_FACTOR * last->length_m;
    for (const cavum_size_sample *a = sample - 1; a <= sample; a++) {
      if (a < first || a == last) continue;
      double turn = a[1].turn_rad - a->turn_rad;
      // Steps of a strongly bent curve; a limit of largest_turn for each.
      if (turn > 0.0) {
        limit = cavum_min(limit, field->largest_turn_rad * (a[1].length_m - a->length_m) / turn);
      }
    }
    bool axis = contour->curves[c].boundary == CAVUM_BOUNDARY_AXIS;
    double factor = axis ? AXIS_FACTOR : GAP_FACTOR;
    limit = cavum_min(limit, factor * gap_at(field, c, sample));
    if (!axis && sample->inward.r_m > 0.3 && sample->point.r_m > 0.0) {
      limit =
          cavum_min(limit, radius_limit(&contour->curves[c], sample, last->length_m, touches_axis));
    }
    sample->limit_m = limit;
  }
}

static int compare_limits(const void *left, const void *right) {
  const cavum_size_sample *a = *(const cavum_size_sample *const *)left;
  const cavum_size_sample *b = *(const cavum_size_sample *const *)right;
  if (a->limit_m != b->limit_m) return a->limit_m < b->limit_m ? -1 : 1;
  return a < b ? -1 : 1;
}

// Takes the samples as sources, smallest first, unless those already taken say as much.
static cavum_status collect_sources(cavum_size_field *field, double refinement,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = field->num_samples;
  const cavum_size_sample **sorted = cavum_alloc(n, sizeof *sorted);
  if (!sorted) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < n; i++) sorted[i] = &field->samples[i];
  qsort(sorted, (size_t)n, sizeof *sorted, compare_limits);
  for (cavum_index i = 0; i < n; i++) {
    double size = sorted[i]->limit_m / refinement;
    // A source that lowers the field by a few percent only is not worth its cost in every call.
    if (size > 0.95 * cavum_size_field_at(field, sorted[i]->point)) continue;
    CAVUM_TRY(cavum_size_field_add(field, sorted[i]->point, size, error));
  }
done:
  free(sorted);
  return status;
}

static double smaller_extent(const cavum_size_field *field) {
  cavum_point low = field->samples[0].point, high = low;
  for (cavum_index i = 1; i < field->num_samples; i++) {
    cavum_point point = field->samples[i].point;
    low.z_m = cavum_min(low.z_m, point.z_m);
    low.r_m = cavum_min(low.r_m, point.r_m);
    high.z_m = cavum_max(high.z_m, point.z_m);
    high.r_m = cavum_max(high.r_m, point.r_m);
  }
  return cavum_min(high.z_m - low.z_m, high.r_m - low.r_m);
}

cavum_status cavum_size_field_build(cavum_size_field *field, const cavum_contour *contour,
                                    const cavum_mesh_options *options, cavum_error *error) {
  cavum_size_field_clear(field);
  field->num_curves = contour->num_curves;
  field->largest_turn_rad = 2.0 * options->largest_turn_rad;
  field->first_sample = cavum_alloc((int64_t)contour->num_curves + 1, sizeof *field->first_sample);
  if (!field->first_sample) return cavum_fail_memory(error);
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    cavum_status status = sample_curve(field, contour, c, error);
    if (status != CAVUM_OK) return status;
  }
  field->first_sample[contour->num_curves] = field->num_samples;
  double largest = options->largest_size_m > 0.0 ? 2.0 * options->largest_size_m
                                                 : EXTENT_FACTOR * smaller_extent(field);
  field->largest_m = largest / options->refinement;
  bool touches_axis = touches_the_axis(contour);
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    limit_samples(field, contour, c, touches_axis);
  }
  return collect_sources(field, options->refinement, error);
}
