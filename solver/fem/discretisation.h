// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/discretisation.h
 * The weak form on a mesh at one degree: coefficients at quadrature points (apply.h has the
 * products K x and M x that use them).
 *
 * With c(r) = r^3 for the unknown w = H_phi / r, and c(r) = 1 / r for u = r H_phi,
 *
 *     K(x, v) = int (1/eps_r) c grad x . grad v dr dz + [w only] oint (1/eps_r) 2 r^2 x v n_r ds,
 *     M(x, v) = int mu_r c x v dr dz,
 *
 * which for w is the form of r^3 w_z v_z + r (2 w + r w_r)(2 v + r v_r) after integrating
 * 2 r^2 (w v)_r by parts. u suits domains that do not touch the axis: the static field
 * H_phi = 1 / r is then the constant, exactly in the space.
 */
#ifndef CAVUM_FEM_DISCRETISATION_H
#define CAVUM_FEM_DISCRETISATION_H

#include "base/lanes.h"
#include "element/element_map.h"
#include "fem/reference.h"
#include "fem/space.h"

/** Which function is solved for. */
typedef enum cavum_unknown {
  CAVUM_UNKNOWN_H_OVER_R, /**< w = H_phi / r. */
  CAVUM_UNKNOWN_R_TIMES_H /**< u = r H_phi; the domain keeps away from the axis. */
} cavum_unknown;

/** Elements that are computed together, one to a lane. */
typedef struct cavum_batch {
  int num_corners;                  /**< Of all its elements: 3 or 4. */
  int count;                        /**< Elements, 1 to CAVUM_LANES. */
  cavum_index element[CAVUM_LANES]; /**< By lane; the last one again in lanes that are left. */
  bool has_mixed;                   /**< Some g12 is not zero. */
  int64_t first_coeff;              /**< Into coeff. */
  int64_t first_index;              /**< Into index. */
  int64_t first_sign;               /**< Into sign. */
  cavum_index first_interior;       /**< The first interior function of lane 0. */
  cavum_index first_edge_term, last_edge_term; /**< Into edge_terms; the last is excluded. */
} cavum_batch;

/** The boundary term of K on one element edge: quadrature coefficients along the edge. */
typedef struct cavum_edge_term {
  int lane;                           /**< Of its batch. */
  int local;                          /**< Local edge. */
  double coeff[CAVUM_POINTS_MOST];    /**< weight (-2 r^2 dz/ds) / eps_r at the points, [q]. */
  double radius_m[CAVUM_POINTS_MOST]; /**< Of the points, [q]. */
} cavum_edge_term;

/** Unknowns above which a discretisation is large. */
enum { CAVUM_LARGE_FROM = 100000 };

/** The weak form at one degree. */
typedef struct cavum_discretisation {
  const cavum_mesh *mesh;           /**< Borrowed. */
  const cavum_reference *reference; /**< Borrowed. */
  cavum_space space;
  cavum_unknown unknown;
  bool is_large; /**< Memory counts more than what it takes to compute something twice: condensed
                      matrices and pencils that are made for it keep one degree at a time. */
  cavum_index num_batches;
  cavum_batch *batches; /**< Owned. */
  cavum_lanes *coeff;   /**< Owned, batch by batch: g11, g12, g22, mass, [4][points]. */
  cavum_lanes *maps; /**< Owned: the maps of batches that are few, [CAVUM_MAP_PARTS][points]; NULL
                          where they are worked out each time. See cavum_batch_map_of(). */
  double *lattice;   /**< Owned, of meshes with nodes of their own and triangles: see
                          cavum_batch_map_tabulate(). */
  cavum_index (*index)[CAVUM_LANES]; /**< Owned, by batch and local function: global unknowns; of an
                                          interior function consecutive ones, also those of lanes
                                          that are left. */
  /**
   * Owned, by batch and skeleton function: what takes the plain products N_i(xi) N_j(eta), which
   * the kernels use inside an element, to the global functions. It holds both the direction of the
   * local edge against xi or eta and the orientation of the global edge.
   */
  cavum_lanes *sign;
  cavum_index num_edge_terms;
  int64_t edge_term_capacity;
  cavum_edge_term *edge_terms; /**< Owned, sorted by batch. */
} cavum_discretisation;

/** u if no vertex of the mesh is on the axis, else w. */
cavum_unknown cavum_discretisation_choose_unknown(const cavum_mesh *mesh);

/**
 * Points of the Gauss rule of a direction at a degree. The coefficient 1 / r of the u form is no
 * polynomial: on an element between radii a < b the rule of q points errs by about rho^(-2 q),
 * rho = (sqrt(b) + sqrt(a))^2 / (b - a) [Trefethen2008], and all degrees of one elimination share
 * it, so that their differences would not show it. It has to be negligible.
 */
int cavum_discretisation_points(const cavum_mesh *mesh, cavum_unknown unknown, int degree);

/**
 * Relative error that this rule leaves where even its most points are too few, beside conductors
 * that are much thinner than the elements on them: that of the integral of 1 / r over all elements,
 * errors of either sign added up, which is what a TEM wave of constant r H has as its energy. About
 * 0 of other meshes.
 */
double cavum_discretisation_quadrature_error(const cavum_discretisation *discretisation);

/**
 * Numbers the unknowns and evaluates the coefficients.
 * @retval CAVUM_ERR_MESH    det J is not positive at a quadrature point.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_discretisation_create(cavum_discretisation *discretisation,
                                         const cavum_mesh *mesh, const cavum_reference *reference,
                                         cavum_unknown unknown, cavum_error *error);

/**
 * Evaluates the coefficients again after the vertices or curves of the mesh moved or its materials
 * changed; the topology is that of before.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_MEMORY  as above.
 */
cavum_status cavum_discretisation_refill(cavum_discretisation *discretisation, cavum_error *error);

/** Frees the coefficients: no matrices and products until cavum_discretisation_refill(). */
void cavum_discretisation_drop_coefficients(cavum_discretisation *discretisation);

/** Frees what it owns; NULL is accepted. */
void cavum_discretisation_clear(cavum_discretisation *discretisation);

/** Weight of a point of the quadrature rule of an element with 3 or 4 corners. */
double cavum_discretisation_weight(const cavum_reference *reference, int num_corners, int point);

#endif
