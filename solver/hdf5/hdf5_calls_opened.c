// SPDX-License-Identifier: GPL-3.0-or-later
// HDF5 opened when it is first needed. For the shared library.
#define CAVUM_HDF5_TABLE_ONLY
#include "hdf5/hdf5_calls.h"

CAVUM_LATE_OPENED(cavum_hdf5_table, cavum_hdf5_calls, cavum_hdf5_reach, CAVUM_HDF5_NAMES,
                  CAVUM_HDF5_FILE, "result files")
