// SPDX-License-Identifier: GPL-3.0-or-later
// OpenBLAS linked: the linker fills the table. For the archive and for programs.
#define CAVUM_BLAS_TABLE_ONLY
#include "linalg/blas_calls.h"

CAVUM_LATE_LINKED(cavum_blas_table, cavum_blas_calls, cavum_blas_open, CAVUM_BLAS_FUNCTIONS)
