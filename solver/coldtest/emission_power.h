// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/emission_power.h
 * The power that field-emitted electrons take.
 */
#ifndef CAVUM_COLDTEST_EMISSION_POWER_H
#define CAVUM_COLDTEST_EMISSION_POWER_H

#include "coldtest/fowler_nordheim.h"

/**
 * Continues the Q0 curve below the onset above it and fills what `emission` has about power.
 * Without an onset, or enough readings below it, there is none.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_emission_find_power(cavum_field_emission *emission, const cavum_coldtest *test,
                                       const cavum_field_emission_options *options,
                                       cavum_error *error);

/** The bath of most readings within a range of gradients: those within the tolerance of it. NAN
 * without temperatures. */
cavum_status cavum_emission_find_bath(double *bath_k, const cavum_coldtest *test,
                                      const cavum_field_emission_options *options,
                                      double tolerance_k, cavum_error *error);

#endif
