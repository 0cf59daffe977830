// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_density.h
 * How close modes lie, and how short their waves are against the elements of a mesh.
 */
#ifndef CAVUM_SOLVE_MODE_DENSITY_H
#define CAVUM_SOLVE_MODE_DENSITY_H

#include "cavum/cell.h"
#include "cavum/mesh.h"

/** Modes of one class per k^2, m^2: the area of the section over 4 pi [CourantHilbert1953], with
 * the material of each element. */
double cavum_mode_density(const cavum_mesh *mesh);

/**
 * The phase over an element of usual size at the highest mode that is asked for, k times the root
 * of its area, as it is expected from the density of the modes.
 * @param[in] half_model  The mesh is half of the cell.
 */
double cavum_mode_phase_rad(const cavum_cell *cell, const cavum_mesh *mesh, bool half_model);

/** Whether so many modes are asked for, or others than the lowest, that their wavelength decides
 * about mesh and degree. */
bool cavum_mode_phase_counts(const cavum_cell *cell);

#endif
