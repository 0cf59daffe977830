// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/options.h
 * Options of the series of a cold test: full ones from those of a program, checked.
 */
#ifndef CAVUM_COLDTEST_OPTIONS_H
#define CAVUM_COLDTEST_OPTIONS_H

#include "base/sized.h"
#include "cavum/coldtest_emission.h"
#include "cavum/coldtest_field.h"
#include "cavum/coldtest_frequency.h"

/** What is known of the results whose struct a program places. */
extern const cavum_sized cavum_resistance_field_sized, cavum_frequency_fit_sized,
    cavum_field_emission_sized;

/**
 * Takes options of a program.
 * @param[out] full  Untouched unless CAVUM_OK.
 * @param[in]  given  NULL: defaults.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  options that never saw their defaults, or a value out of its range.
 */
cavum_status cavum_decay_options_take(cavum_decay_options *full, const cavum_decay_options *given,
                                      cavum_error *error);

/** As cavum_decay_options_take(). */
cavum_status cavum_resistance_options_take(cavum_resistance_options *full,
                                           const cavum_resistance_options *given,
                                           cavum_error *error);

/** As cavum_decay_options_take(); the number of gradients is not checked. */
cavum_status cavum_resistance_field_options_take(cavum_resistance_field_options *full,
                                                 const cavum_resistance_field_options *given,
                                                 cavum_error *error);

/** As cavum_decay_options_take(). */
cavum_status cavum_frequency_options_take(cavum_frequency_options *full,
                                          const cavum_frequency_options *given, cavum_error *error);

/** As cavum_decay_options_take(); ranges are checked by the evaluation. */
cavum_status cavum_field_emission_options_take(cavum_field_emission_options *full,
                                               const cavum_field_emission_options *given,
                                               cavum_error *error);

#endif
