// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of forms by the shape of the mesh. Where all lengths grow together K grows as their
// third power and M as the fifth with H / r, by the weight r^3, and as their power -1 and 1 with
// r H, by 1 / r (Euler's theorem on homogeneous functions). A form among others is the form alone.
#include "fem/form_gradient.h"
#include "field_problem.h"

// Two rounds of forms with one x, and one more.
enum { NUM_FORMS = 18 };

typedef struct forms {
  cavum_form of[NUM_FORMS];
  cavum_mesh_gradient gradient[NUM_FORMS];
  double *vectors[NUM_FORMS];
} forms;

static void create(forms *f, const field_problem *p) {
  cavum_error error = {0};
  for (int i = 0; i < NUM_FORMS; i++) {
    ck_assert_int_eq(cavum_mesh_gradient_create(&f->gradient[i], &p->mesh, &error), CAVUM_OK);
    f->vectors[i] = field_problem_random(p, 40 + (uint64_t)i);
  }
  // The first is x itself, the last two have another x: one of them alone with it.
  for (int i = 0; i < NUM_FORMS; i++) {
    f->of[i] = (cavum_form){f->vectors[i], f->vectors[i < NUM_FORMS - 1 ? 0 : i], 3.0 * i, 7.0, 0};
  }
}

static void clear(forms *f) {
  for (int i = 0; i < NUM_FORMS; i++) {
    cavum_mesh_gradient_clear(&f->gradient[i]);
    free(f->vectors[i]);
  }
}

// What a form changes by where all lengths grow in the same proportion, and the sum of the sizes.
static double grow(double *size, const cavum_mesh_gradient *gradient) {
  const cavum_mesh *mesh = gradient->mesh;
  double sum = 0.0;
  *size = 0.0;
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    cavum_point at = mesh->vertices[v], by = gradient->vertices[v];
    sum += at.z_m * by.z_m + at.r_m * by.r_m;
    *size += fabs(at.z_m * by.z_m) + fabs(at.r_m * by.r_m);
  }
  for (cavum_index c = 0; c < mesh->num_curves; c++) {
    const cavum_curve *curve = &mesh->curves[c];
    cavum_curve_rate rate = {.start = curve->start,
                             .end = curve->end,
                             .centre = curve->centre,
                             .axial_m = curve->axial_m,
                             .radial_m = curve->radial_m};
    double part;
    memcpy(rate.cubic, curve->cubic, sizeof rate.cubic);
    sum += cavum_curve_rates_dot(&part, &gradient->curves[c], &rate, 1);
    *size += part;
  }
  return sum;
}

static double product(const field_problem *p, const double *u, const double *x, bool mass) {
  cavum_index size = field_problem_size(p);
  double *y = calloc((size_t)size, sizeof *y);
  if (mass) cavum_discretisation_apply_mass(y, &p->discretisation, x);
  if (!mass) cavum_discretisation_apply_stiffness(y, &p->discretisation, x);
  double sum = field_problem_dot(u, y, size);
  free(y);
  return sum;
}

static void check_growth(const field_problem *p, const forms *f, const char *name) {
  bool is_w = p->discretisation.unknown == CAVUM_UNKNOWN_H_OVER_R;
  double worst = 0.0;
  for (int i = 0; i < NUM_FORMS; i++) {
    const cavum_form *form = &f->of[i];
    double size, grown = grow(&size, &f->gradient[i]);
    double k = product(p, form->u, form->x, false);
    double m = form->mass_u * product(p, form->u, form->x, true) +
               form->mass_x * product(p, form->x, form->x, true);
    double expected = is_w ? 3.0 * k - 5.0 * m : -k - m;
    worst = fmax(worst, fabs(grown - expected) / size);
  }
  printf("%s, degree %d: off by %.1e of the terms\n", name, p->reference.degree, worst);
  ck_assert_double_le(worst, 1e-14);
}

static double distance(const cavum_mesh_gradient *a, const cavum_mesh_gradient *b) {
  const double *of_a = (const double *)a->vertices, *of_b = (const double *)b->vertices;
  double most = 0.0, largest = 0.0;
  for (cavum_index i = 0; i < 2 * a->mesh->num_vertices; i++) {
    most = fmax(most, fabs(of_a[i] - of_b[i]));
    largest = fmax(largest, fabs(of_a[i]));
  }
  return most / largest;
}

// Another order of the sums in a boundary term is all that may differ.
static void check_alone(const field_problem *p, const forms *f, const char *name) {
  double worst = 0.0;
  for (int i = 0; i < NUM_FORMS; i++) {
    cavum_mesh_gradient alone = {0};
    cavum_error error = {0};
    ck_assert_int_eq(cavum_mesh_gradient_create(&alone, &p->mesh, &error), CAVUM_OK);
    cavum_form_gradients_add((cavum_mesh_gradient *const[]){&alone}, &p->discretisation, &f->of[i],
                             1, NULL);
    worst = fmax(worst, distance(&f->gradient[i], &alone));
    cavum_mesh_gradient_clear(&alone);
  }
  printf("%s: alone and together differ by %.1e\n", name, worst);
  ck_assert_double_le(worst, 1e-14);
}

typedef struct shape {
  const char *name;
  void (*draw)(cavum_pen *);
} shape;

static const shape shapes[] = {
    {"pillbox", draw_pillbox},     {"coaxial", draw_coax},      {"sphere", draw_sphere},
    {"capsule", draw_capsule},     {"spheroid", draw_spheroid}, {"step", draw_step},
    {"nose cone", draw_nose_cone}, {"spline", draw_spline},     {"concentric", draw_concentric}};

START_TEST(forms_grow_as_powers_of_the_lengths) {
  bool small = false, large = false, on_axis = false, off_axis = false;
  for (size_t s = 0; s < sizeof shapes / sizeof *shapes; s++) {
    for (int degree = 2; degree <= 7; degree += 5) {
      field_problem p;
      forms f;
      cavum_mesh_gradient *gradients[NUM_FORMS];
      field_problem_create(&p, field_problem_mesh(shapes[s].draw), degree);
      create(&f, &p);
      for (int i = 0; i < NUM_FORMS; i++) gradients[i] = &f.gradient[i];
      cavum_form_gradients_add(gradients, &p.discretisation, f.of, NUM_FORMS, NULL);
      check_growth(&p, &f, shapes[s].name);
      check_alone(&p, &f, shapes[s].name);
      for (cavum_index b = 0; b < p.discretisation.num_batches; b++) {
        *(p.discretisation.batches[b].count > CAVUM_LANES / 2 ? &large : &small) = true;
      }
      *(p.discretisation.unknown == CAVUM_UNKNOWN_H_OVER_R ? &on_axis : &off_axis) = true;
      clear(&f);
      field_problem_clear(&p);
    }
  }
  ck_assert(small && large && on_axis && off_axis);  // all kernels
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, forms_grow_as_powers_of_the_lengths); }

CAVUM_TEST_MAIN("form_gradient", add_tests)
