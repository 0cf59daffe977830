// SPDX-License-Identifier: GPL-3.0-or-later
// ARPACK linked: the linker fills the table. For the archive and for programs.
#define CAVUM_ARPACK_TABLE_ONLY
#include "eigen/arpack_calls.h"

CAVUM_LATE_LINKED(cavum_arpack_table, cavum_arpack_calls, cavum_arpack_reach,
                  CAVUM_ARPACK_FUNCTIONS)
