// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file field.h
 * The field of a mode at any points.
 *
 * Threads: a cavum_mode_field may be asked by any number of threads at once.
 */
#ifndef CAVUM_FIELD_H
#define CAVUM_FIELD_H

#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A mode that is ready to be asked for its field; opaque. */
typedef struct cavum_mode_field cavum_mode_field;

/**
 * Makes the field of one mode ready. Takes about as long as 10,000 points.
 *
 * Shape and field between the points of the result's field grid are polynomials through them: with
 * CAVUM_FIELD_ORDER_CHOSEN they follow the solution to about 1e-6 of its largest value, 1e-4 in
 * elements between strongly curved ellipses. With an order of 1 to 4 points near a curved wall may
 * count as outside.
 *
 * How well the solution itself knows the field is another matter, and no part of the accuracy that
 * a cell file asks for, which is that of figures. H_phi and E near the axis are about as good as
 * figures. E is least known at walls: at an accuracy of 1e-4 of figures it is off by up to some
 * 1e-3 of its largest value where pieces of wall of different curvature meet, and by more beside
 * sharp edges, where it has no limit, and E along an interface of materials jumps by as much.
 * cavum_mode_field_uncertainty_at() tells it at any points, cavum_mode_result.
 * wall_e_uncertainty_v_per_m and its neighbours along wall and axis.
 *
 * @param[out] field   Owned by the caller (cavum_mode_field_destroy()).
 * @param[in]  result  Solved with options.field_order other than 0, or read from a file that has
 *                     the fields; it must live as long as `field`.
 * @param[in]  mode    Which mode, counted from 0.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  no place for the field, no result, no such mode, or no field grid.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mode_field_create(cavum_mode_field **field, const cavum_result *result,
                                               int mode, cavum_error *error);

/** Frees a field and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_mode_field_destroy(cavum_mode_field **field);

/**
 * The field at points of the whole cell, of a half model too, at a stored energy of one joule in
 * the whole cell. H_phi is in phase with the drive, E a quarter period behind: E = -j (e_z, e_r).
 *
 * Ask for many points at a time: each call sorts its points by elements.
 *
 * Positions are those of the cell's contour: z = 0 is the equator plane of a two-ellipse cell, and
 * what the file or the curves say of a path or a mesh.
 *
 * A point outside of the cell (also one with r below 0) gets NaN; points on its outline are inside,
 * also when rounding has put them some 1e-12 of the cell's size behind it.
 * Between two materials the value is that of either side, and between two elements that of either
 * one: E differs there by its error (see cavum_mode_field_create()).
 *
 * @param[in]  field          From cavum_mode_field_create().
 * @param[in]  num_points     How many points, 0 or more, in any order.
 * @param[in]  z_m, r_m       Their positions, shape [num_points].
 * @param[out] h_phi_a_per_m  H_phi, shape [num_points]; NULL: not wanted.
 * @param[out] e_z_v_per_m    e_z, shape [num_points]; NULL: not wanted.
 * @param[out] e_r_v_per_m    e_r, shape [num_points]; NULL: not wanted.
 * @param[out] num_outside    How many of them lie outside; may be NULL.
 * @param[out] error          May be NULL.
 * @retval CAVUM_ERR_USAGE  no field or no positions, or a number of points below 0.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mode_field_at(const cavum_mode_field *field, int64_t num_points,
                                           const double *z_m, const double *r_m,
                                           double *h_phi_a_per_m, double *e_z_v_per_m,
                                           double *e_r_v_per_m, int64_t *num_outside,
                                           cavum_error *error);

/**
 * How far the field that cavum_mode_field_at() gives may be from that of the mathematical shape:
 * what higher degrees would still change in the element that holds a point, and what polynomials
 * through the field grid are off in it. One number for all points of an element. Not in it is what
 * the sides of a mesh file leave uncertain of the shape.
 *
 * NaN outside of the cell. Infinite where the result tells nothing (solved at one degree alone, or
 * read from a file of an earlier version), and for E in elements that touch a corner of metal or
 * dielectrics at which it has no limit.
 *
 * @param[in]  field          From cavum_mode_field_create().
 * @param[in]  num_points     How many points, 0 or more, in any order.
 * @param[in]  z_m, r_m       Their positions, shape [num_points].
 * @param[out] h_phi_a_per_m  Uncertainty of H_phi, shape [num_points]; NULL: not wanted.
 * @param[out] e_v_per_m      Of E: the length of the difference of (e_z, e_r) is at most that,
 *                            shape [num_points]; NULL: not wanted.
 * @param[out] error          May be NULL.
 * @retval CAVUM_ERR_USAGE  no field or no positions, or a number of points below 0.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mode_field_uncertainty_at(const cavum_mode_field *field,
                                                       int64_t num_points, const double *z_m,
                                                       const double *r_m, double *h_phi_a_per_m,
                                                       double *e_v_per_m, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
