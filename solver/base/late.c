// SPDX-License-Identifier: GPL-3.0-or-later
// Libraries at first need.
#include "base/late.h"

#include <dlfcn.h>
#include <string.h>

#include "base/alone.h"
#include "base/base.h"

static cavum_status fail_to_load(const cavum_late *late, cavum_error *error) {
  const char *reason = dlerror();  // of this thread
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "%s, needed for %s, cannot be loaded: %.300s",
                    late->file, late->purpose, reason ? reason : "no reason given");
}

// A pointer to a function has the size and the bytes of one to a variable wherever dlsym() exists.
static cavum_status fill_places(const cavum_late *late, void *library, cavum_error *error) {
  for (int pass = 0; pass < 2; pass++) {  // at first to see that all of them are there
    for (int i = 0; i < late->count; i++) {
      void *place = dlsym(library, late->names[i]);
      if (!place) return fail_to_load(late, error);
      if (pass == 1) memcpy((char *)late->places + (size_t)i * sizeof place, &place, sizeof place);
    }
  }
  return CAVUM_OK;
}

static cavum_status load(cavum_late *late, cavum_error *error) {
  void *library = dlopen(late->file, RTLD_NOW | RTLD_LOCAL);
  if (!library) return fail_to_load(late, error);
  cavum_status status = fill_places(late, library, error);
  if (status != CAVUM_OK) {
    dlclose(library);
    return status;
  }
  atomic_store_explicit(&late->is_open, true, memory_order_release);
  return CAVUM_OK;
}

cavum_status cavum_late_open(cavum_late *late, cavum_error *error) {
  if (atomic_load_explicit(&late->is_open, memory_order_acquire)) return CAVUM_OK;
  cavum_alone_enter(CAVUM_ALONE_LOADER);
  bool is_open = atomic_load_explicit(&late->is_open, memory_order_relaxed);
  cavum_status status = is_open ? CAVUM_OK : load(late, error);
  cavum_alone_leave(CAVUM_ALONE_LOADER);
  return status;
}
