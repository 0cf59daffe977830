// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/sector_exponent.h
 * How singular a field is where different materials meet: at a corner of the outline, on the axis
 * or inside.
 *
 * Off the axis H_phi goes as rho^lambda f(theta) with (f' / eps)' + lambda^2 f / eps = 0, f' = 0 at
 * a natural side and f = 0 at a magnetic one [Grisvard1985]; E goes as rho^(lambda - 1). On the
 * axis E is the gradient of rho^nu g(theta) with (eps sin(theta) g')' + nu (nu + 1) eps sin(theta)
 * g = 0, which Legendre functions solve in each material [Olver2010] 14; g = 0 on metal.
 * Permeability does not matter to either.
 */
#ifndef CAVUM_ELEMENT_SECTOR_EXPONENT_H
#define CAVUM_ELEMENT_SECTOR_EXPONENT_H

#include <stdbool.h>

/** What is found when no exponent is smaller. */
#define CAVUM_SECTOR_EXPONENT_MOST 2.0

/** A part of the surroundings of a corner, with one material. */
typedef struct cavum_sector {
  double angle_rad, eps_r;
} cavum_sector;

/** What bounds the sectors at a corner on the axis. */
typedef enum cavum_sector_end {
  CAVUM_SECTOR_END_AXIS,    /**< The axis goes on behind the corner. */
  CAVUM_SECTOR_END_METAL,   /**< A natural side. */
  CAVUM_SECTOR_END_MAGNETIC /**< One with w = 0. */
} cavum_sector_end;

/**
 * The smallest lambda of a corner off the axis.
 * @param[in] sectors      Shape [count], in their order from one side to the other.
 * @param[in] zero_before  The first side has w = 0, not a natural boundary.
 * @param[in] zero_after   The same of the last.
 */
double cavum_sector_corner_exponent(const cavum_sector *sectors, int count, bool zero_before,
                                    bool zero_after);

/**
 * The smallest lambda of a point inside the domain; 1 where the field goes on as in one material.
 * @param[in] sectors  Shape [count], once around.
 */
double cavum_sector_ring_exponent(const cavum_sector *sectors, int count);

/**
 * The smallest nu of a point on the axis that is not 0.
 * @param[in] sectors  Shape [count], in their order from the axis on.
 */
double cavum_sector_tip_exponent(const cavum_sector *sectors, int count, cavum_sector_end end);

#endif
