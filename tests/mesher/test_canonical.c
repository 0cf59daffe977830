// SPDX-License-Identifier: GPL-3.0-or-later
// The canonical form of an outline: mirror images of every kind of curve; sums of densities that
// end.
#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "contour/curve.h"
#include "contour/parallel.h"
#include "mesher/canonical.h"
#include "mesher/density.h"
#include "support.h"

// Two offsets with a stretch between them, and one of its own size in the last place that both
// kinds have room for.
static const cavum_parallel_layer LAYERS[CAVUM_PARALLEL_LAYERS] = {
    {2e-4, 1e-3}, {-1e-4, 2e-3}, {3e-4, -2e-3}, {0.0, 0.0}};

static cavum_curve make_curve(cavum_curve_kind kind) {
  cavum_curve c = {.kind = kind, .boundary = CAVUM_BOUNDARY_METAL};
  if (cavum_curve_is_of_ellipse(&c)) {
    c.centre = (cavum_point){-0.03, 0.05};
    c.axial_m = 0.012;
    c.radial_m = 0.019;
    c.angle_start_rad = 0.4;
    c.angle_end_rad = 2.1;
  } else {
    const cavum_point cubic[4] = {{0.0, 0.05}, {-0.02, 0.01}, {-0.003, -0.004}, {-0.001, 0.002}};
    memcpy(c.cubic, cubic, sizeof cubic);
  }
  if (cavum_curve_is_parallel(&c)) cavum_parallel_set(&c, LAYERS);
  // Ends beside those of the formula, so that inner points alone tell.
  c.start = cavum_curve_point(&c, 1e-9);
  c.end = cavum_curve_point(&c, 1.0 - 1e-9);
  return c;
}

// A curve and lines back, with a tail to the left; its image passes mirrored places in reverse.
START_TEST(mirror_images_pass_mirrored_places) {
  static const cavum_curve_kind kinds[] = {CAVUM_CURVE_ELLIPSE, CAVUM_CURVE_CUBIC,
                                           CAVUM_CURVE_PARALLEL_OF_ELLIPSE,
                                           CAVUM_CURVE_PARALLEL_OF_CUBIC};
  cavum_curve curves[4] = {make_curve(kinds[_i])};
  cavum_point top = {0.0, 1.0}, far = {-0.9, 0.05};
  curves[1] = cavum_curve_make_line(curves[0].end, top, CAVUM_BOUNDARY_METAL);
  curves[2] = cavum_curve_make_line(top, far, CAVUM_BOUNDARY_METAL);
  curves[3] = cavum_curve_make_line(far, curves[0].start, CAVUM_BOUNDARY_METAL);
  cavum_contour given = {4, curves}, inside = {0};
  cavum_canonical canonical;
  ck_assert_int_eq(cavum_canonical_choose(&canonical, &inside, &given, NULL), CAVUM_OK);
  ck_assert(canonical.mirrored);
  int found = 0;
  for (cavum_index i = 0; i < inside.num_curves; i++) {
    const cavum_curve *image = &inside.curves[i];
    if (image->kind == CAVUM_CURVE_LINE) continue;
    found++;
    ck_assert_int_eq(image->kind, kinds[_i]);
    for (double t = 0.1; t < 0.95; t += 0.2) {
      cavum_point p = cavum_curve_point(&curves[0], 1.0 - t), q = cavum_curve_point(image, t);
      cavum_point d = cavum_curve_derivative(&curves[0], 1.0 - t),
                  e = cavum_curve_derivative(image, t);
      // Rounding of some 0.05 m.
      CAVUM_CHECK_NEAR(q.z_m, -p.z_m, 1e-15);
      CAVUM_CHECK_NEAR(q.r_m, p.r_m, 1e-15);
      CAVUM_CHECK_NEAR(e.z_m, d.z_m, 1e-15);
      CAVUM_CHECK_NEAR(e.r_m, -d.r_m, 1e-15);
    }
  }
  ck_assert_int_eq(found, 1);
  cavum_contour_clear(&inside);
}
END_TEST

/** One line of a metre whose first step has no length. */
typedef struct one_line {
  cavum_curve curve;
  cavum_contour contour;
  cavum_size_sample samples[3];
  cavum_index first[2];
  cavum_size_field field;
} one_line;

static void make_line(one_line *line, double size_m) {
  const cavum_point from = {0.0, 1.0}, to = {1.0, 1.0};
  memset(line, 0, sizeof *line);
  line->curve = cavum_curve_make_line(from, to, CAVUM_BOUNDARY_METAL);
  line->samples[2].t = line->samples[2].length_m = 1.0;
  line->first[1] = 3;
  line->contour = (cavum_contour){1, &line->curve};
  line->field = (cavum_size_field){.largest_m = size_m,
                                   .largest_turn_rad = 1.0,
                                   .num_curves = 1,
                                   .first_sample = line->first,
                                   .num_samples = 3,
                                   .samples = line->samples};
}

// No length over no size is no number, and every comparison with it is false: a curve that was
// halved 2^40 times, each part of it kept.
START_TEST(sizes_of_nothing_are_refused_at_once) {
  static const double sizes_m[] = {0.0, 1e-9, NAN};
  one_line line;
  cavum_density density = {0};
  cavum_error error = {0};
  make_line(&line, sizes_m[_i]);
  ck_assert_int_eq(cavum_density_build(&density, &line.contour, &line.field, 2500, &error),
                   CAVUM_ERR_MESH);
  ck_assert_ptr_nonnull(strstr(error.message, "more than 2500 segments"));
  cavum_density_clear(&density);
  make_line(&line, 0.01);
  ck_assert_int_eq(cavum_density_build(&density, &line.contour, &line.field, 2500, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(cavum_density_total(&density, 0), 100.0 / 1.15, 1e-12);
  cavum_density_clear(&density);
}
END_TEST

static bool say_yes(void *data) {
  ++*(int *)data;
  return true;
}

START_TEST(sums_of_densities_are_stopped) {
  one_line line;
  int asked = 0;
  cavum_density density = {0};
  cavum_stop stop = {.ask = say_yes, .data = &asked}, *before = cavum_stop_set(&stop);
  make_line(&line, 1e-3);
  cavum_status status = cavum_density_build(&density, &line.contour, &line.field, 2500, NULL);
  cavum_stop_set(before);
  ck_assert_int_eq(status, CAVUM_ERR_STOPPED);
  ck_assert_int_eq(asked, 1);
  cavum_density_clear(&density);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, mirror_images_pass_mirrored_places, 0, 4);
  tcase_add_loop_test(tests, sizes_of_nothing_are_refused_at_once, 0, 3);
  tcase_add_test(tests, sums_of_densities_are_stopped);
}

CAVUM_TEST_MAIN("mesher canonical", add)
