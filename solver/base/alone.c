// SPDX-License-Identifier: GPL-3.0-or-later
// Locks of the process.
#include "base/alone.h"

#include <pthread.h>

static pthread_mutex_t locks[] = {[CAVUM_ALONE_ARPACK] = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP,
                                  [CAVUM_ALONE_HDF5] = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP,
                                  [CAVUM_ALONE_GSL] = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP,
                                  [CAVUM_ALONE_LOADER] = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP};

void cavum_alone_enter(cavum_alone library) { pthread_mutex_lock(&locks[library]); }

void cavum_alone_leave(cavum_alone library) { pthread_mutex_unlock(&locks[library]); }
