// SPDX-License-Identifier: GPL-3.0-or-later
// Plans of elimination are made when they are first needed.
#include "solve/skeletons.h"

void cavum_skeletons_clear(cavum_skeletons *skeletons) {
  for (int c = CAVUM_CLASSES - 1; c >= 0; c--) cavum_skeleton_clear(&skeletons->of_class[c]);
  skeletons->topology = 0;
}

cavum_status cavum_skeletons_get(const cavum_skeleton **skeleton, cavum_skeletons *skeletons,
                                 const cavum_mesh *mesh, int64_t topology, int of_class,
                                 cavum_error *error) {
  if (skeletons->topology != topology) cavum_skeletons_clear(skeletons);
  skeletons->topology = topology;
  cavum_skeleton *own = &skeletons->of_class[of_class];
  *skeleton = own;
  if (own->exists) return CAVUM_OK;
  // The plan for the natural closure serves both: the other one has fewer unknowns.
  cavum_skeleton *natural = &skeletons->of_class[0];
  cavum_closure closure = {.symmetry_is_magnetic = false};
  if (!natural->exists) {
    const cavum_skeleton *like = skeletons->like ? &skeletons->like->of_class[0] : NULL;
    cavum_status status = like && like->exists
                              ? cavum_skeleton_create_like(natural, like, &closure, error)
                              : cavum_skeleton_create(natural, mesh, &closure, error);
    if (status == CAVUM_OK) natural->mesh = mesh;
    if (status != CAVUM_OK || of_class == 0) return status;
  }
  closure.symmetry_is_magnetic = true;
  return cavum_skeleton_create_like(own, natural, &closure, error);
}
