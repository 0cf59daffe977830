// SPDX-License-Identifier: GPL-3.0-or-later
// What the check of contours accepts and refuses.
#include <string.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/curve.h"
#include "contour/spline.h"
#include "support.h"

enum { AXIS = CAVUM_BOUNDARY_AXIS, METAL = CAVUM_BOUNDARY_METAL };

/** A contour under construction: a pen that moves. */
typedef struct pen {
  cavum_contour_builder outline;
  cavum_point position;
} pen;

static void add_curve(pen *p, const cavum_curve *curve) {
  ck_assert_int_eq(cavum_contour_builder_append(&p->outline, curve, "x", NULL), CAVUM_OK);
  p->position = curve->end;
}

static void line_to(pen *p, double z, double r, int boundary) {
  cavum_point end = {z, r};
  cavum_curve line = cavum_curve_make_line(p->position, end, (cavum_boundary)boundary);
  add_curve(p, &line);
}

static void arc_to(pen *p, double z, double r, double centre_z, double centre_r, bool left) {
  cavum_arc arc = {.start = p->position,
                   .end = {z, r},
                   .centre = {centre_z, centre_r},
                   .turn_left = left,
                   .boundary = CAVUM_BOUNDARY_METAL};
  cavum_curve curve;
  cavum_error error = {0};
  cavum_status status = cavum_curve_make_arc(&curve, &arc, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  add_curve(p, &curve);
}

/** One cubic from the pen with the control points of a Bezier curve. */
static void bezier_to(pen *p, cavum_point b, cavum_point c, cavum_point d) {
  cavum_point a = p->position;
  cavum_curve curve = {.kind = CAVUM_CURVE_CUBIC, .boundary = CAVUM_BOUNDARY_METAL};
  curve.start = a;
  curve.end = d;
  curve.cubic[0] = a;
  curve.cubic[1].z_m = 3 * (b.z_m - a.z_m);
  curve.cubic[1].r_m = 3 * (b.r_m - a.r_m);
  curve.cubic[2].z_m = 3 * (a.z_m - 2 * b.z_m + c.z_m);
  curve.cubic[2].r_m = 3 * (a.r_m - 2 * b.r_m + c.r_m);
  curve.cubic[3].z_m = d.z_m - a.z_m + 3 * (b.z_m - c.z_m);
  curve.cubic[3].r_m = d.r_m - a.r_m + 3 * (b.r_m - c.r_m);
  add_curve(p, &curve);
}

/** Checks and releases; expects a word in the message, or NULL for a good contour. */
static void expect(pen *p, const char *word, int culprit) {
  cavum_error error = {0};
  cavum_index found = -2;
  cavum_status status = cavum_contour_check(&p->outline.contour, NULL, &found, &error);
  printf("culprit %d: %s\n", found, status == CAVUM_OK ? "good" : error.message);
  if (word) {
    ck_assert_int_eq(status, CAVUM_ERR_GEOMETRY);
    ck_assert_msg(strstr(error.message, word) != NULL, "no '%s' in: %s", word, error.message);
    ck_assert_int_eq(found, culprit);
  } else {
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  }
  cavum_contour_builder_clear(&p->outline);
}

START_TEST(good_contours) {
  pen box = {.position = {-1, 0}};
  line_to(&box, 1, 0, AXIS);
  line_to(&box, 1, 1, METAL);
  line_to(&box, -1, 1, METAL);
  line_to(&box, -1, 0, METAL);
  CAVUM_CHECK_NEAR(cavum_contour_area_m2(&box.outline.contour), 2.0, 1e-15);
  expect(&box, NULL, 0);
  pen sphere = {.position = {-1, 0}};
  line_to(&sphere, 1, 0, AXIS);
  arc_to(&sphere, -1, 0, 0, 0, true);
  CAVUM_CHECK_NEAR(cavum_contour_area_m2(&sphere.outline.contour), 0.5 * CAVUM_PI, 1e-15);
  expect(&sphere, NULL, 0);
  pen ring = {.position = {1, 2}};  // never touches the axis
  arc_to(&ring, -1, 2, 0, 2, true);
  arc_to(&ring, 1, 2, 0, 2, true);
  CAVUM_CHECK_NEAR(cavum_contour_area_m2(&ring.outline.contour), CAVUM_PI, 1e-14);
  expect(&ring, NULL, 0);
  pen leaf = {.position = {0, 1}};  // two cubics
  bezier_to(&leaf, (cavum_point){1, 0.5}, (cavum_point){2, 0.5}, (cavum_point){3, 1});
  bezier_to(&leaf, (cavum_point){2, 2}, (cavum_point){1, 2}, (cavum_point){0, 1});
  // z = 3 t: an arch with both control points at height h has the area 1.5 h; here h = 0.5 and 1.
  CAVUM_CHECK_NEAR(cavum_contour_area_m2(&leaf.outline.contour), 2.25, 1e-14);
  expect(&leaf, NULL, 0);
  pen two_gaps = {.position = {0, 0}};  // two stretches of axis
  line_to(&two_gaps, 1, 0, AXIS);
  line_to(&two_gaps, 1, 1, METAL);
  line_to(&two_gaps, 2, 1, METAL);
  line_to(&two_gaps, 2, 0, METAL);
  line_to(&two_gaps, 3, 0, AXIS);
  line_to(&two_gaps, 3, 2, METAL);
  line_to(&two_gaps, 0, 2, METAL);
  line_to(&two_gaps, 0, 0, METAL);
  expect(&two_gaps, NULL, 0);
}
END_TEST

START_TEST(axis_rules) {
  pen wrong_kind = {.position = {-1, 0}};
  line_to(&wrong_kind, 1, 0, METAL);
  line_to(&wrong_kind, 1, 1, METAL);
  line_to(&wrong_kind, -1, 1, METAL);
  line_to(&wrong_kind, -1, 0, METAL);
  expect(&wrong_kind, "runs along r = 0", 0);
  pen lifted = {.position = {-1, 0}};
  line_to(&lifted, 1, 0.1, AXIS);
  line_to(&lifted, -1, 1, METAL);
  line_to(&lifted, -1, 0, METAL);
  expect(&lifted, "leaves r = 0", 0);
  pen touching = {.position = {0, 0}};
  line_to(&touching, 1, 1, METAL);
  line_to(&touching, -1, 1, METAL);
  line_to(&touching, 0, 0, METAL);
  expect(&touching, "touch the axis in one point", 2);
  pen below = {.position = {-1, 1}};
  line_to(&below, 0, -0.5, METAL);
  line_to(&below, 1, 1, METAL);
  line_to(&below, -1, 1, METAL);
  expect(&below, "below the axis", 0);
  pen sagging = {.position = {-1, 0.5}};
  arc_to(&sagging, 1, 0.5, 0, 0.5, true);
  line_to(&sagging, -1, 0.5, METAL);
  expect(&sagging, "crosses the axis", 0);
  pen kissing = {.position = {-1, 1}};
  arc_to(&kissing, 1, 1, 0, 1, true);
  line_to(&kissing, -1, 1, METAL);
  expect(&kissing, "touches the axis", 0);
  pen dipping = {.position = {0, 1}};
  bezier_to(&dipping, (cavum_point){1, -1}, (cavum_point){2, -1}, (cavum_point){3, 1});
  line_to(&dipping, 0, 1, METAL);
  expect(&dipping, "crosses the axis", 0);
}
END_TEST

START_TEST(chain_and_sense) {
  pen open = {.position = {-1, 0}};
  line_to(&open, 1, 0, AXIS);
  line_to(&open, 1, 1, METAL);
  line_to(&open, -1, 1, METAL);
  expect(&open, "does not end where", 2);
  pen clockwise = {.position = {-1, 0}};
  line_to(&clockwise, -1, 1, METAL);
  line_to(&clockwise, 1, 1, METAL);
  line_to(&clockwise, 1, 0, METAL);
  line_to(&clockwise, -1, 0, AXIS);
  expect(&clockwise, "clockwise", -1);
  pen stuck = {.position = {-1, 0}};
  line_to(&stuck, 1, 0, AXIS);
  line_to(&stuck, 1, 0, METAL);
  line_to(&stuck, 1, 1, METAL);
  line_to(&stuck, -1, 0, METAL);
  expect(&stuck, "has no length", 1);
  pen nothing = {.position = {0, 0}};
  expect(&nothing, "at least two pieces", -1);
  pen infinite = {.position = {-1, 0}};
  line_to(&infinite, HUGE_VAL, 0, AXIS);
  line_to(&infinite, -1, 0, METAL);
  expect(&infinite, "not finite", 0);
}
END_TEST

START_TEST(crossings_of_lines) {
  pen bow = {.position = {0, 1}};
  line_to(&bow, 2, 1, METAL);
  line_to(&bow, 0, 3, METAL);
  line_to(&bow, 2, 3, METAL);
  line_to(&bow, 0, 1, METAL);
  expect(&bow, "crosses or touches piece 2, at z = 1000 mm, r = 2000 mm", 3);
  pen slit = {.position = {0, 0}};  // out and back along the same line
  line_to(&slit, 2, 0, AXIS);
  line_to(&slit, 2, 2, METAL);
  line_to(&slit, 3, 3, METAL);
  line_to(&slit, 2, 2, METAL);
  line_to(&slit, 0, 2, METAL);
  line_to(&slit, 0, 0, METAL);
  expect(&slit, "turn back on themselves", 2);
  pen foot = {.position = {0, 1}};  // a corner that stands on another piece
  line_to(&foot, 4, 1, METAL);
  line_to(&foot, 4, 3, METAL);
  line_to(&foot, 2, 1, METAL);
  line_to(&foot, 0, 3, METAL);
  line_to(&foot, 0, 1, METAL);
  expect(&foot, "crosses or touches piece 1", 3);
}
END_TEST

/** Two facing semicircles of radius 1 with a gap between them, joined far outside. */
static void facing_arcs(pen *p, double gap) {
  p->position = (cavum_point){-2, 5};
  line_to(p, -1, 5, METAL);
  arc_to(p, 1, 5, 0, 5, false);  // top at (0, 6)
  line_to(p, 2, 5, METAL);
  line_to(p, 2, 7 + gap, METAL);
  line_to(p, 1, 7 + gap, METAL);
  arc_to(p, -1, 7 + gap, 0, 7 + gap, false);  // bottom at (0, 6 + gap)
  line_to(p, -2, 7 + gap, METAL);
  line_to(p, -2, 5, METAL);
}

// The size is about 4.5, so that touching means closer than 4.5e-10 (and certainly so up to twice).
START_TEST(near_misses_are_told_from_contacts) {
  pen p = {0};
  facing_arcs(&p, 1e-3);
  expect(&p, NULL, 0);
  memset(&p, 0, sizeof p);
  facing_arcs(&p, 2e-9);
  expect(&p, NULL, 0);
  memset(&p, 0, sizeof p);
  facing_arcs(&p, 1e-10);
  expect(&p, "crosses or touches piece 2, at z = ", 5);
  memset(&p, 0, sizeof p);
  facing_arcs(&p, -1e-9);
  expect(&p, "crosses or touches piece 2, at z = ", 5);
  memset(&p, 0, sizeof p);
  facing_arcs(&p, -0.5);
  expect(&p, "crosses or touches piece 2, at z = ", 5);
}
END_TEST

// A shell between concentric arcs: parallel over their whole length.
START_TEST(parallel_arcs_are_decided) {
  const double gaps[] = {1e-2, 1e-6, 1e-8};
  for (int i = 0; i < 3; i++) {
    double inner = 1.0 - gaps[i];
    pen shell = {.position = {1, 2}};
    arc_to(&shell, -1, 2, 0, 2, true);
    line_to(&shell, -inner, 2, METAL);
    arc_to(&shell, inner, 2, 0, 2, false);
    line_to(&shell, 1, 2, METAL);
    expect(&shell, NULL, 0);
  }
}
END_TEST

START_TEST(arcs_that_meet_at_a_flat_angle) {
  // A lens: two arcs that enclose 2 asin(0.01) at both ends.
  double radius = 100.0, height = sqrt(radius * radius - 1.0);
  pen lens = {.position = {-1, 200}};
  arc_to(&lens, 1, 200, 0, 200 + height, true);
  arc_to(&lens, -1, 200, 0, 200 - height, true);
  expect(&lens, NULL, 0);
  // Two arcs that leave a point in the same direction.
  pen cusp = {.position = {0, 1}};
  arc_to(&cusp, 0, 5, 0, 3, true);
  line_to(&cusp, 1, 2, METAL);
  arc_to(&cusp, 0, 1, 0, 2, false);
  expect(&cusp, "turn back on themselves", 2);
}
END_TEST

START_TEST(cubics_that_loop_or_stop) {
  pen loop = {.position = {0, 1}};
  bezier_to(&loop, (cavum_point){4, 3}, (cavum_point){-1, 3}, (cavum_point){3, 1});
  line_to(&loop, 3, 0.5, METAL);
  line_to(&loop, 0, 0.5, METAL);
  line_to(&loop, 0, 1, METAL);
  expect(&loop, "crosses itself", 0);
  // A cusp at t = 1/2, in directions where its derivative is an exact zero and where it is not.
  for (int i = 0; i < 6; i++) {
    double c = cos(0.1 * i), d = sin(0.1 * i);
    pen cusp = {.position = {3 * c, 9 + 3 * d}};
    bezier_to(&cusp, (cavum_point){2 * -d, 9 + 2 * c},
              (cavum_point){3 * c - 2 * d, 9 + 3 * d + 2 * c}, (cavum_point){0, 9});
    line_to(&cusp, 0, 1, METAL);
    line_to(&cusp, 4, 1, METAL);
    line_to(&cusp, 3 * c, 9 + 3 * d, METAL);
    expect(&cusp, "has a cusp", 0);
  }
}
END_TEST

// A long spline: the check stays quick and finds the one place where a wave reaches the floor.
static void wavy_contour(pen *p, double depth) {
  enum { N = 1001 };
  static cavum_point points[N];
  static cavum_curve spans[N - 1];
  for (int i = 0; i < N; i++) {
    double s = (double)i / (N - 1);
    points[i].z_m = 10.0 - 10.0 * s;
    points[i].r_m =
        2.0 + 0.3 * cos(60.0 * CAVUM_PI * s) - depth * exp(-900.0 * (s - 0.5) * (s - 0.5));
  }
  p->position = (cavum_point){0, 1};
  line_to(p, 10, 1, METAL);
  line_to(p, points[0].z_m, points[0].r_m, METAL);
  ck_assert_int_eq(cavum_spline_through_points(spans, points, N, CAVUM_BOUNDARY_METAL, NULL, NULL),
                   CAVUM_OK);
  for (int i = 0; i + 1 < N; i++) add_curve(p, &spans[i]);
  line_to(p, 0, 1, METAL);
}

START_TEST(long_splines) {
  pen p = {0};
  wavy_contour(&p, 0.2);
  expect(&p, NULL, 0);
  memset(&p, 0, sizeof p);
  wavy_contour(&p, 0.9);
  cavum_index culprit = -1;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_contour_check(&p.outline.contour, NULL, &culprit, &error),
                   CAVUM_ERR_GEOMETRY);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "crosses or touches piece 1,"));
  ck_assert(culprit > 450 && culprit < 550);
  cavum_contour_builder_clear(&p.outline);
}
END_TEST

/** Next number in [0, 1) of a linear congruential sequence: the same on every machine. */
static double next_random(uint64_t *state) {
  *state = *state * 6364136223846793005ULL + 1442695040888963407ULL;
  return (double)(*state >> 11) / 9007199254740992.0;
}

/** A ring of cubics and arcs through random points around (0, 10). */
static void random_contour(pen *p, uint64_t *state, double wildness) {
  enum { N = 5 };
  cavum_point corners[N];
  for (int i = 0; i < N; i++) {
    double angle = 2.0 * CAVUM_PI * (i + 0.4 * next_random(state)) / N;
    double radius = 2.0 + 3.0 * next_random(state);
    corners[i].z_m = radius * cos(angle);
    corners[i].r_m = 10.0 + radius * sin(angle);
  }
  p->position = corners[0];
  for (int i = 0; i < N; i++) {
    cavum_point a = p->position, d = corners[(i + 1) % N], control[2];
    for (int k = 0; k < 2; k++) {
      control[k].z_m = a.z_m + (k + 1) / 3.0 * (d.z_m - a.z_m);
      control[k].r_m = a.r_m + (k + 1) / 3.0 * (d.r_m - a.r_m);
      control[k].z_m += wildness * (next_random(state) - 0.5);
      control[k].r_m += wildness * (next_random(state) - 0.5);
    }
    if (next_random(state) < 0.3) {  // a circle whose centre is on the chord's perpendicular
      double offset = 4.0 * next_random(state) - 2.0;
      arc_to(p, d.z_m, d.r_m, 0.5 * (a.z_m + d.z_m) - offset * (d.r_m - a.r_m),
             0.5 * (a.r_m + d.r_m) + offset * (d.z_m - a.z_m), offset > 0.0);
    } else {
      bezier_to(p, control[0], control[1], d);
    }
  }
}

static double side_of(cavum_point a, cavum_point b, cavum_point c) {
  return (b.z_m - a.z_m) * (c.r_m - a.r_m) - (b.r_m - a.r_m) * (c.z_m - a.z_m);
}

/** Parameters dense at both ends, where neighbours may cross close to their joint. */
static double graded(double s) {
  return s < 0.5 ? 4.0 * s * s * s : 1.0 - 4.0 * (1.0 - s) * (1.0 - s) * (1.0 - s);
}

/** Whether a fine polygon through the curves crosses itself: a second, cruder route. */
static bool polygon_crosses(const cavum_contour *contour) {
  enum { STEPS = 100 };
  static cavum_point points[STEPS * 8];
  int n = contour->num_curves * STEPS;
  for (int i = 0; i < n; i++) {
    points[i] = cavum_curve_point(&contour->curves[i / STEPS], graded((double)(i % STEPS) / STEPS));
  }
  for (int i = 0; i < n; i++) {
    cavum_point a = points[i], b = points[(i + 1) % n];
    for (int j = i + 2; j < n - (i == 0); j++) {
      cavum_point c = points[j], d = points[(j + 1) % n];
      if (side_of(a, b, c) * side_of(a, b, d) < 0.0 && side_of(c, d, a) * side_of(c, d, b) < 0.0) {
        return true;
      }
    }
  }
  return false;
}

// The two routes may differ only where curves nearly touch: a polygon misses its curves by up to
// (length / 35)^2 / 8 of their curvature, some 1e-3 of the size, so in some cases in a thousand.
START_TEST(random_contours_agree_with_polygons) {
  enum { CASES = 1500 };
  uint64_t state = 20;
  int crossed = 0, simple = 0, different = 0;
  for (int i = 0; i < CASES; i++) {
    pen p = {0};
    cavum_error error = {0};
    random_contour(&p, &state, 1.0 + 8.0 * next_random(&state));
    bool refused = cavum_contour_check(&p.outline.contour, NULL, NULL, &error) != CAVUM_OK;
    bool crosses = polygon_crosses(&p.outline.contour);
    if (refused != crosses) {
      different++;
      printf("case %d: polygon %s, check: %s\n", i, crosses ? "crosses" : "does not cross",
             error.message);
    }
    crossed += crosses;
    simple += !crosses;
    cavum_contour_builder_clear(&p.outline);
  }
  printf("%d cross, %d do not, %d differ\n", crossed, simple, different);
  ck_assert_int_gt(crossed, CASES / 10);
  ck_assert_int_gt(simple, CASES / 10);
  ck_assert_int_le(different, CASES / 200);
}
END_TEST

START_TEST(too_many_curves_are_refused) {
  pen p = {0};
  cavum_curve line = {.kind = CAVUM_CURVE_LINE};
  for (int i = 0; i < CAVUM_LARGEST_CONTOUR; i++) add_curve(&p, &line);
  ck_assert_int_eq(cavum_contour_builder_append(&p.outline, &line, "x", NULL), CAVUM_ERR_GEOMETRY);
  cavum_contour_builder_clear(&p.outline);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, good_contours);
  tcase_add_test(tests, axis_rules);
  tcase_add_test(tests, chain_and_sense);
  tcase_add_test(tests, crossings_of_lines);
  tcase_add_test(tests, near_misses_are_told_from_contacts);
  tcase_add_test(tests, parallel_arcs_are_decided);
  tcase_add_test(tests, arcs_that_meet_at_a_flat_angle);
  tcase_add_test(tests, cubics_that_loop_or_stop);
  tcase_add_test(tests, long_splines);
  tcase_add_test(tests, random_contours_agree_with_polygons);
  tcase_add_test(tests, too_many_curves_are_refused);
}

CAVUM_TEST_MAIN("contour_check", add_tests)
