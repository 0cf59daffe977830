// SPDX-License-Identifier: GPL-3.0-or-later
// The field of a mode at any points: points are sorted by the element that probably holds them,
// eight of one element at a time are followed back to the reference element by Newton's method, and
// those that lie outside of it are tried in the next element.
#include "solve/mode_field.h"

#include <math.h>

#include "base/base.h"

// Points that are sorted at a time: their work space stays in the cache.
enum { BLOCK = 32768, LANES = CAVUM_LANES, STEPS_MOST = 30 };

// How far beyond its element a point still belongs to it, in reference coordinates: outlines are
// met with the rounding of the caller's points.
static const double TOLERANCE = 1e-9;
// The same in space, against the extent of the mesh and the distance of the point from the origin:
// at sharp corners elements may be so small that the rounding of positions, which the polynomials
// raise, is far more of them than that.
static const double NEAR = 2e-12;
// Where the search is held back, since polynomials of high degree say nothing far outside.
static const double REACH = 1.1;
// A step of Newton's method after which the next would be its square: rounding.
static const double SHORT_STEP = 1e-7;

struct cavum_mode_field {
  cavum_field_polynomials all;
  cavum_field_places places;
  bool half_model;
  double mirror_m;
  double image[3];               // Factors of H_phi, e_z and e_r left of the mirror plane.
  const double *uncertainty[2];  // Of H_phi and E by elements, borrowed from the result; or NULL.
};

cavum_status cavum_mode_field_create(cavum_mode_field **field, const cavum_result *result, int mode,
                                     cavum_error *error) {
  if (!field || !result) return cavum_fail_null(error, __func__);
  if (mode < 0 || mode >= result->num_modes) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "mode %d of a result with %d modes", mode,
                      result->num_modes);
  }
  const cavum_field_grid *grid = &result->modes[mode].field;
  if (grid->num_points == 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "the result has no field grid: expected field_order other than 0");
  }
  if (grid->order > CAVUM_MODE_FIELD_ORDER_MOST) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "a field grid of order %d, expected at most %d",
                      grid->order, CAVUM_MODE_FIELD_ORDER_MOST);
  }
  cavum_status status = CAVUM_OK;
  cavum_mode_field *made = cavum_alloc(1, sizeof *made);
  if (!made) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_field_polynomials_create(&made->all, &result->mesh, grid, error));
  CAVUM_TRY(cavum_field_places_create(&made->places, &made->all, grid, error));
  made->half_model = result->half_model;
  made->mirror_m = cavum_mesh_mirror_plane_m(&result->mesh);
  double image = result->modes[mode].parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  made->image[0] = made->image[1] = image;
  made->image[2] = -image;
  made->uncertainty[0] = result->modes[mode].field_h_uncertainty_a_per_m;
  made->uncertainty[1] = result->modes[mode].field_e_uncertainty_v_per_m;
  *field = made;
  made = NULL;
done:
  cavum_mode_field_destroy(&made);
  return status;
}

void cavum_mode_field_destroy(cavum_mode_field **field) {
  if (!field || !*field) return;
  cavum_field_polynomials_clear(&(*field)->all);
  cavum_field_places_clear(&(*field)->places);
  free(*field);
  *field = NULL;
}

// Positions and outputs of one call, and its work space.
typedef struct search {
  const cavum_mode_field *field;
  const double *z_m, *r_m;
  double *out[3];          // H_phi, e_z, e_r
  double *uncertainty[2];  // of H_phi and E
  int64_t num_outside;
  int32_t *head;  // Owned: first point of a block in each element, -1: none.
  int num_waiting, num_touched;
  int32_t waiting[BLOCK], place[BLOCK], next[BLOCK];
  cavum_index touched[BLOCK];
} search;

static double folded(const cavum_mode_field *field, double z) {
  return field->half_model && z < field->mirror_m ? 2.0 * field->mirror_m - z : z;
}

// Where the lines of constant y of a triangle end in one point, a is not defined.
static const double APEX = 1.0 - 1e-10;

// Coordinates that the polynomials of an element are made for.
static void to_square(cavum_lanes *a, cavum_lanes *b, const cavum_lanes *x, const cavum_lanes *y,
                      int corners) {
  *a = *x;
  *b = *y;
  for (int i = 0; corners == 3 && i < LANES; i++) {
    (*b)[i] = fmin((*y)[i], APEX);
    (*a)[i] = fmax(-REACH, fmin(REACH, 2.0 * (1.0 + (*x)[i]) / (1.0 - (*b)[i]) - 1.0));
  }
}

// Map of an element with its derivatives by x and y.
static void map_at(cavum_map_lanes *p, const cavum_field_polynomials *all, cavum_index element,
                   const cavum_lanes *x, const cavum_lanes *y) {
  int corners = all->elements[element].num_corners;
  cavum_lanes a, b;
  to_square(&a, &b, x, y, corners);
  cavum_field_polynomials_map(p, all, element, &a, &b);
  if (corners == 4) return;
  cavum_lanes a_x = 2.0 / (1.0 - b), a_y = (1.0 + a) / (1.0 - b);
  p->z_y += p->z_x * a_y;
  p->r_y += p->r_x * a_y;
  p->z_x *= a_x;
  p->r_x *= a_x;
}

// One step of Newton's method in all lanes: how far each moved; the largest of it.
static double step(cavum_lanes *x, cavum_lanes *y, double *moved, const cavum_map_lanes *p,
                   const double *z, const double *r) {
  double largest = 0.0;
  for (int i = 0; i < LANES; i++) {
    double dz = z[i] - p->z[i], dr = r[i] - p->r[i];
    double det = p->z_x[i] * p->r_y[i] - p->z_y[i] * p->r_x[i];
    double new_x = (*x)[i] + (dz * p->r_y[i] - dr * p->z_y[i]) / det;
    double new_y = (*y)[i] + (dr * p->z_x[i] - dz * p->r_x[i]) / det;
    // Comparisons that hold for numbers only: a vanishing determinant ends at the rim.
    new_x = new_x > -REACH ? (new_x < REACH ? new_x : REACH) : -REACH;
    new_y = new_y > -REACH ? (new_y < REACH ? new_y : REACH) : -REACH;
    moved[i] = fmax(fabs(new_x - (*x)[i]), fabs(new_y - (*y)[i]));
    largest = fmax(largest, moved[i]);
    (*x)[i] = new_x;
    (*y)[i] = new_y;
  }
  return largest;
}

static double limited(double x) { return x > -1.0 ? (x < 1.0 ? x : 1.0) : -1.0; }

// Moves a point that lies beyond its element onto its side; how far along x and y.
static void pull_in(double out[2], double *x, double *y, int corners) {
  double from_x = *x, from_y = *y;
  double beyond = corners == 3 ? fmax(0.0, 0.5 * (*x + *y)) : 0.0;
  *x = limited(*x - beyond);
  *y = limited(*y - beyond);
  if (corners == 3 && *x + *y > 0.0) *(*x > *y ? x : y) = -fmin(*x, *y);
  out[0] = fabs(from_x - *x);
  out[1] = fabs(from_y - *y);
}

// Whether the search has ended at a point of the element; it is pulled in where it is beyond it by
// no more than rounding. `moved` is its last step.
static bool is_inside(cavum_lanes *x, cavum_lanes *y, double moved, const cavum_map_lanes *p,
                      int lane, int corners, double near_m) {
  double at_x = (*x)[lane], at_y = (*y)[lane], out[2];
  pull_in(out, &at_x, &at_y, corners);
  bool in_element = moved < SHORT_STEP && fmax(out[0], out[1]) <= TOLERANCE;
  double off_m = (fabs(p->z_x[lane]) + fabs(p->r_x[lane])) * (out[0] + moved) +
                 (fabs(p->z_y[lane]) + fabs(p->r_y[lane])) * (out[1] + moved);
  if (!in_element && !(off_m <= near_m)) return false;
  (*x)[lane] = at_x;
  (*y)[lane] = at_y;
  return true;
}

// What the solution and the polynomials of an element leave uncertain.
static double uncertainty_in(const cavum_mode_field *field, cavum_index element, int of_e) {
  const cavum_field_element *here = &field->all.elements[element];
  const double *of_solution = field->uncertainty[of_e];
  return of_solution ? of_solution[element] + (of_e ? here->e_rest : here->h_rest) : HUGE_VAL;
}

static void put(search *s, int64_t point, cavum_index element, const cavum_lanes *values,
                int lane) {
  bool is_image = folded(s->field, s->z_m[point]) != s->z_m[point];
  for (int q = 0; q < 3; q++) {
    if (s->out[q]) s->out[q][point] = values[q][lane] * (is_image ? s->field->image[q] : 1.0);
  }
  for (int q = 0; q < 2; q++) {
    if (s->uncertainty[q]) s->uncertainty[q][point] = uncertainty_in(s->field, element, q);
  }
}

static void put_outside(search *s, int64_t point) {
  for (int q = 0; q < 3; q++) {
    if (s->out[q]) s->out[q][point] = NAN;
  }
  for (int q = 0; q < 2; q++) {
    if (s->uncertainty[q]) s->uncertainty[q][point] = NAN;
  }
  s->num_outside++;
}

// A point that is not in the element goes on to the next one that may hold it.
static void try_next(search *s, int64_t first, int32_t point) {
  int32_t next = s->field->places.places[s->place[point]].next;
  if (next < 0) {
    put_outside(s, first + point);
    return;
  }
  s->place[point] = next;
  s->waiting[s->num_waiting++] = point;
}

// Up to LANES points of one element.
static void find_lanes(search *s, int64_t first, cavum_index element, const int32_t *points,
                       int count) {
  const cavum_field_polynomials *all = &s->field->all;
  cavum_lanes x, y;
  double z[LANES], r[LANES], moved[LANES];
  for (int i = 0; i < LANES; i++) {
    int32_t point = points[i < count ? i : 0];
    const cavum_field_place *place = &s->field->places.places[s->place[point]];
    x[i] = place->x;
    y[i] = place->y;
    z[i] = folded(s->field, s->z_m[first + point]);
    r[i] = s->r_m[first + point];
  }
  cavum_map_lanes p;
  for (int k = 0; k < STEPS_MOST; k++) {
    map_at(&p, all, element, &x, &y);
    if (step(&x, &y, moved, &p, z, r) < SHORT_STEP) break;
  }
  int corners = all->elements[element].num_corners;
  bool inside[LANES];
  for (int i = 0; i < count; i++) {
    double near_m = NEAR * (all->size_m + hypot(z[i], r[i]));
    inside[i] = is_inside(&x, &y, moved[i], &p, i, corners, near_m);
  }
  cavum_lanes values[3], a, b;
  to_square(&a, &b, &x, &y, corners);
  cavum_field_polynomials_field(values, all, element, &a, &b);
  for (int i = 0; i < count; i++) {
    if (inside[i]) {
      put(s, first + points[i], element, values, i);
    } else {
      try_next(s, first, points[i]);
    }
  }
}

// Sorts the points that wait by their elements.
static void sort_waiting(search *s) {
  for (int k = 0; k < s->num_waiting; k++) {
    int32_t point = s->waiting[k];
    cavum_index element = s->field->places.places[s->place[point]].element;
    if (s->head[element] < 0) s->touched[s->num_touched++] = element;
    s->next[point] = s->head[element];
    s->head[element] = point;
  }
  s->num_waiting = 0;
}

static void find_block(search *s, int64_t first, int count) {
  s->num_waiting = s->num_touched = 0;
  for (int k = 0; k < count; k++) {
    s->place[k] = cavum_field_places_of(&s->field->places, folded(s->field, s->z_m[first + k]),
                                        s->r_m[first + k]);
    if (s->place[k] < 0) {
      put_outside(s, first + k);
    } else {
      s->waiting[s->num_waiting++] = k;
    }
  }
  while (s->num_waiting > 0) {
    sort_waiting(s);
    for (int t = 0; t < s->num_touched; t++) {
      cavum_index element = s->touched[t];
      int32_t point = s->head[element], lanes[LANES];
      s->head[element] = -1;
      while (point >= 0) {
        int n = 0;
        for (; n < LANES && point >= 0; point = s->next[point]) lanes[n++] = point;
        find_lanes(s, first, element, lanes, n);
      }
    }
    s->num_touched = 0;
  }
}

// A search without outputs so far; to be freed with end().
static cavum_status begin(search **out, const cavum_mode_field *field, int64_t num_points,
                          const double *z_m, const double *r_m, cavum_error *error) {
  if (num_points < 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "number of points %lld: expected 0 or more",
                      (long long)num_points);
  }
  search *s = *out = cavum_alloc(1, sizeof *s);
  if (!s) return cavum_fail_memory(error);
  s->field = field;
  s->z_m = z_m;
  s->r_m = r_m;
  s->head = cavum_alloc(field->all.num_elements, sizeof *s->head);
  if (!s->head) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < field->all.num_elements; e++) s->head[e] = -1;
  return CAVUM_OK;
}

static void find_all(search *s, int64_t num_points) {
  for (int64_t first = 0; first < num_points; first += BLOCK) {
    find_block(s, first, (int)(num_points - first < BLOCK ? num_points - first : BLOCK));
  }
}

static void end(search *s) {
  if (s) free(s->head);
  free(s);
}

cavum_status cavum_mode_field_at(const cavum_mode_field *field, int64_t num_points,
                                 const double *z_m, const double *r_m, double *h_phi_a_per_m,
                                 double *e_z_v_per_m, double *e_r_v_per_m, int64_t *num_outside,
                                 cavum_error *error) {
  if (!field || (num_points > 0 && (!z_m || !r_m))) return cavum_fail_null(error, __func__);
  search *s = NULL;
  cavum_status status = begin(&s, field, num_points, z_m, r_m, error);
  if (status == CAVUM_OK) {
    s->out[0] = h_phi_a_per_m;
    s->out[1] = e_z_v_per_m;
    s->out[2] = e_r_v_per_m;
    find_all(s, num_points);
    if (num_outside) *num_outside = s->num_outside;
  }
  end(s);
  return status;
}

cavum_status cavum_mode_field_uncertainty_at(const cavum_mode_field *field, int64_t num_points,
                                             const double *z_m, const double *r_m,
                                             double *h_phi_a_per_m, double *e_v_per_m,
                                             cavum_error *error) {
  if (!field || (num_points > 0 && (!z_m || !r_m))) return cavum_fail_null(error, __func__);
  search *s = NULL;
  cavum_status status = begin(&s, field, num_points, z_m, r_m, error);
  if (status == CAVUM_OK) {
    s->uncertainty[0] = h_phi_a_per_m;
    s->uncertainty[1] = e_v_per_m;
    find_all(s, num_points);
  }
  end(s);
  return status;
}
