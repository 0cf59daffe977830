// SPDX-License-Identifier: GPL-3.0-or-later
// CHOLMOD opened when it is first needed. For the shared library.
#define CAVUM_CHOLMOD_TABLE_ONLY
#include "linalg/cholmod_calls.h"

CAVUM_LATE_OPENED(cavum_cholmod_table, cavum_cholmod_calls, cavum_cholmod_reach,
                  CAVUM_CHOLMOD_FUNCTIONS, CAVUM_CHOLMOD_FILE, "solving")
