// SPDX-License-Identifier: GPL-3.0-or-later
// HDF5 linked: the linker fills the table. For the archive and for programs.
#define CAVUM_HDF5_TABLE_ONLY
#include "hdf5/hdf5_calls.h"

CAVUM_LATE_LINKED(cavum_hdf5_table, cavum_hdf5_calls, cavum_hdf5_reach, CAVUM_HDF5_NAMES)
