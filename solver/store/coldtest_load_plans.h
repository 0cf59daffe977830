// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_load_plans.h
 * Reads the plans of a cold-test file back.
 */
#ifndef CAVUM_STORE_COLDTEST_LOAD_PLANS_H
#define CAVUM_STORE_COLDTEST_LOAD_PLANS_H

#include "hdf5/hdf5_file.h"
#include "store/coldtest_load.h"

/** Reads /plans/1, 2, ...; the limits of the test are there. */
cavum_status cavum_stored_coldtest_read_plans(cavum_stored_coldtest *test,
                                              const cavum_hdf5_file *file, cavum_error *error);

/** Frees them. */
void cavum_stored_coldtest_clear_plans(cavum_stored_coldtest *test);

#endif
