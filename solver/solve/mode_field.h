// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_field.h
 * What the parts of a mode's field at any points share: the polynomials of each element
 * (mode_field_polynomial.c), which elements may hold a point (mode_field_places.c), and the search
 * for the point within them (mode_field.c).
 *
 * Reference coordinates x, y here run from -1 to 1 along the two directions of an element's
 * lattice; a triangle is the half of that square with x + y <= 0. Its polynomials are sums over a
 * and b = y, where a runs from -1 to 1 along each line of constant y, 1 + x = (1 + a) (1 - y) / 2:
 * a polynomial of degree p in x and y is one of degree p in each of a and b, and nothing is
 * extrapolated.
 */
#ifndef CAVUM_SOLVE_MODE_FIELD_H
#define CAVUM_SOLVE_MODE_FIELD_H

#include "base/lanes.h"
#include "cavum/field.h"

/** Largest order of a field grid and coefficients in one direction. */
enum { CAVUM_MODE_FIELD_ORDER_MOST = 16, CAVUM_MODE_FIELD_TERMS = CAVUM_MODE_FIELD_ORDER_MOST + 1 };

/** Products of Chebyshev polynomials: the sum of c[(l num_x + k) quantities + q] T_k(x) T_l(y). */
typedef struct cavum_chebyshev_sum {
  int num_x, num_y;
  int64_t first; /**< Of its coefficients. */
} cavum_chebyshev_sum;

/** One element: its map (z, r) and its field (H_phi, e_z, e_r). */
typedef struct cavum_field_element {
  int num_corners;
  cavum_chebyshev_sum map, field;
  double h_rest, e_rest; /**< Sizes of the last terms of H_phi and of E: what polynomials of higher
                              order would still add. */
} cavum_field_element;

/** Polynomials of all elements. */
typedef struct cavum_field_polynomials {
  cavum_index num_elements;
  cavum_field_element *elements; /**< Owned, shape [num_elements]. */
  int64_t num_coefficients, capacity;
  double *coefficients; /**< Owned. */
  double size_m;        /**< Largest extent of the mesh. */
} cavum_field_polynomials;

/** Fits the polynomials of a mode's field grid; what was made is to be cleared also after an error.
 */
cavum_status cavum_field_polynomials_create(cavum_field_polynomials *all, const cavum_mesh *mesh,
                                            const cavum_field_grid *grid, cavum_error *error);

/** Frees what it owns. */
void cavum_field_polynomials_clear(cavum_field_polynomials *all);

/** Map and its derivatives at CAVUM_LANES points of one element. */
typedef struct cavum_map_lanes {
  cavum_lanes z, r, z_x, r_x, z_y, r_y;
} cavum_map_lanes;

/** Evaluates the map of an element, by a and b in triangles. */
void cavum_field_polynomials_map(cavum_map_lanes *out, const cavum_field_polynomials *all,
                                 cavum_index element, const cavum_lanes *x, const cavum_lanes *y);

/** Evaluates H_phi, e_z and e_r of an element, by a and b in triangles. */
void cavum_field_polynomials_field(cavum_lanes out[3], const cavum_field_polynomials *all,
                                   cavum_index element, const cavum_lanes *x, const cavum_lanes *y);

/** An element that may hold the points of a cell of the raster, and where to begin the search. */
typedef struct cavum_field_place {
  cavum_index element;
  int32_t next; /**< Of the same cell, -1: none. */
  float x, y;
  float distance; /**< From the middle of the cell to where the search begins, squared, in cells. */
} cavum_field_place;

/** A raster over the mesh. */
typedef struct cavum_field_places {
  double z_m, r_m, cells_per_m; /**< Corner of the raster, and its scale. */
  int num_z, num_r;
  int32_t *first; /**< Owned, shape [num_r num_z]: nearest place of each cell, -1: none. */
  int64_t count, capacity;
  cavum_field_place *places; /**< Owned. */
} cavum_field_places;

/** Puts all elements on the raster; to be cleared also after an error. */
cavum_status cavum_field_places_create(cavum_field_places *places,
                                       const cavum_field_polynomials *all,
                                       const cavum_field_grid *grid, cavum_error *error);

/** Frees what it owns. */
void cavum_field_places_clear(cavum_field_places *places);

/** First place for a point, -1: it lies outside. */
static inline int32_t cavum_field_places_of(const cavum_field_places *places, double z_m,
                                            double r_m) {
  double i = (z_m - places->z_m) * places->cells_per_m;
  double j = (r_m - places->r_m) * places->cells_per_m;
  // Written so that NaN is outside.
  if (!(i >= 0.0 && j >= 0.0 && i < places->num_z && j < places->num_r)) return -1;
  return places->first[(int64_t)j * places->num_z + (int64_t)i];
}

#endif
