// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_geometry.h
 * Which figures of the shape a study can have and wants.
 */
#ifndef CAVUM_SCAN_STUDY_GEOMETRY_H
#define CAVUM_SCAN_STUDY_GEOMETRY_H

#include "scan/study.h"

/** Whether the cells of a study have a figure of the shape (cavum_geometry_id). */
bool cavum_study_has_geometry(const cavum_study *study, int id);

/** Whether a study keeps figures of the shape that need the whole contour. */
bool cavum_study_wants_contour(const cavum_study *study);

#endif
