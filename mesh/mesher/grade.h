// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/grade.h
 * Geometric grading toward places where the field is not smooth.
 */
#ifndef CAVUM_MESHER_GRADE_H
#define CAVUM_MESHER_GRADE_H

#include "mesher/quads.h"

/**
 * Grades quadrilaterals toward corners and curvature jumps of their contour.
 * @param[in,out] quads    Any quadrilaterals of a contour.
 * @param[in]     options  Resolved; corner_layers and junction_layers are used.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_grade_corners(cavum_quads *quads, const cavum_mesh_options *options,
                                 cavum_error *error);

/** New vertices on the sides that leave graded vertices, so that neighbours share them. */
typedef struct cavum_grade_spokes {
  cavum_index count;
  int64_t capacity;
  struct cavum_grade_spoke {
    cavum_index from, end, vertex;
  } * list; /**< Owned. */
} cavum_grade_spokes;

/** Frees what they own and empties them. */
void cavum_grade_spokes_clear(cavum_grade_spokes *made);

/**
 * The vertex at a fraction of the side from one vertex to another, new or made before.
 * @param[in] curve  Of that side, or -1: straight.
 * @param[in] t      Parameter of the vertex on the curve.
 * @return -1 without memory.
 */
cavum_index cavum_grade_spoke_vertex(cavum_grade_spokes *made, cavum_quads *quads, cavum_index from,
                                     cavum_index end, cavum_index curve, double t, double fraction);

/**
 * Divides one quadrilateral into three toward its corner k.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_grade_quad(cavum_grade_spokes *made, cavum_quads *quads, cavum_index q, int k,
                              double fraction, cavum_error *error);

#endif
