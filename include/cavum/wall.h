// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file wall.h
 * Surface resistance of a wall: normal metal and niobium.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_WALL_H
#define CAVUM_WALL_H

#include "cavum/cell.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Classical skin effect R_s = sqrt(pi f mu0 / sigma) in ohm. Not for the anomalous regime. */
CAVUM_API double cavum_wall_skin_resistance_ohm(double frequency_hz, double conductivity_s_per_m);

/** Classical skin depth 1 / sqrt(pi f mu0 sigma) in metres. */
CAVUM_API double cavum_wall_skin_depth_m(double frequency_hz, double conductivity_s_per_m);

/**
 * BCS resistance of niobium in ohm: 2e-4 (f / 1.5 GHz)^2 exp(-17.67 K / T) / (T / K).
 *
 * A fit for medium-purity niobium, valid for T < T_c / 2 (about 4.6 K) and f well below 1 THz
 * [Padamsee1998] ch. 4 (not checked against the source).
 */
CAVUM_API double cavum_wall_niobium_bcs_ohm(double frequency_hz, double temperature_k);

/**
 * How well the surface resistance of a wall is known from its kind alone, in ohm: 0 where it is
 * stated or follows from the stated conductivity. For niobium 20 % (1 + |ln(f / 1.3 GHz)|) of the
 * BCS fit.
 *
 * The theory of the anomalous skin effect [MattisBardeen1958] with the gap of the fit differs from
 * it by that much from 0.2 to 10 GHz and 1.5 to 4.6 K where both agree at 1.3 GHz and 2.5 K: the
 * fit leaves out a logarithm of T / f. Niobium itself varies as much with its mean free path, and
 * more after heat treatments (common practice).
 *
 * @return An estimate, no bound; 0 as well for a wall or a frequency that
 *         cavum_wall_resistance() refuses.
 */
CAVUM_API double cavum_wall_resistance_error_ohm(const cavum_wall *wall, double frequency_hz);

/**
 * Surface resistance of a stated wall.
 * @param[out] resistance_ohm  Untouched unless CAVUM_OK.
 * @param[out] caution         One line about the range of validity, or "" ; shape [256], may be
 * NULL.
 * @param[in]  wall            Not CAVUM_WALL_NONE.
 * @param[in]  frequency_hz    > 0.
 * @param[out] error           May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  a wall of no kind, or of an unknown one.
 * @retval CAVUM_ERR_RANGE  niobium above its transition, or a value that is not positive.
 */
CAVUM_API cavum_status cavum_wall_resistance(double *resistance_ohm, char caution[256],
                                             const cavum_wall *wall, double frequency_hz,
                                             cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
