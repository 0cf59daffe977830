// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/setup.h
 * Setups of programs that were built with this or another version of the headers.
 */
#ifndef CAVUM_COLDTEST_SETUP_H
#define CAVUM_COLDTEST_SETUP_H

#include "cavum/coldtest_series.h"

/**
 * The full setup of a program's.
 * @retval CAVUM_ERR_USAGE  a size that is none, or members that are not known.
 */
cavum_status cavum_coldtest_setup_take(cavum_coldtest_setup *full,
                                       const cavum_coldtest_setup *given, cavum_error *error);

/** Copies a full setup to a program's, which saw its defaults. */
void cavum_coldtest_setup_give(cavum_coldtest_setup *given, const cavum_coldtest_setup *full);

#endif
