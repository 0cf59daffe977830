// SPDX-License-Identifier: GPL-3.0-or-later
// OpenBLAS opened when it is first needed. For the shared library.
#define CAVUM_BLAS_TABLE_ONLY
#include "linalg/blas_calls.h"

CAVUM_LATE_OPENED(cavum_blas_table, cavum_blas_calls, cavum_blas_open, CAVUM_BLAS_FUNCTIONS,
                  CAVUM_OPENBLAS_FILE, "solving")
