// SPDX-License-Identifier: GPL-3.0-or-later
// ARPACK opened when it is first needed. For the shared library.
#define CAVUM_ARPACK_TABLE_ONLY
#include "eigen/arpack_calls.h"

CAVUM_LATE_OPENED(cavum_arpack_table, cavum_arpack_calls, cavum_arpack_reach,
                  CAVUM_ARPACK_FUNCTIONS, CAVUM_ARPACK_FILE, "solving")
