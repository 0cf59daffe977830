// SPDX-License-Identifier: GPL-3.0-or-later
// HDF5 opened when it is first needed. For the shared library.
#define CAVUM_HDF5_TABLE_ONLY
#include "base/late.h"
#include "hdf5/hdf5_calls.h"

cavum_hdf5_table cavum_hdf5_calls;

cavum_status cavum_hdf5_reach(cavum_error *error) {
  static const char *const names[] = {
#define CAVUM_HDF5_NAME(name) #name,
      CAVUM_HDF5_FUNCTIONS(CAVUM_HDF5_NAME) CAVUM_HDF5_IDENTIFIERS(CAVUM_HDF5_NAME)};
  static cavum_late late = {.file = CAVUM_HDF5_FILE,
                            .purpose = "result files",
                            .count = sizeof names / sizeof names[0],
                            .names = names,
                            .places = &cavum_hdf5_calls};
  _Static_assert(sizeof cavum_hdf5_calls == sizeof names, "one place for each name");
  return cavum_late_open(&late, error);
}
