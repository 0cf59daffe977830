// SPDX-License-Identifier: GPL-3.0-or-later
// CHOLMOD linked: the linker fills the table. For the archive and for programs.
#define CAVUM_CHOLMOD_TABLE_ONLY
#include "linalg/cholmod_calls.h"

CAVUM_LATE_LINKED(cavum_cholmod_table, cavum_cholmod_calls, cavum_cholmod_reach,
                  CAVUM_CHOLMOD_FUNCTIONS)
