// SPDX-License-Identifier: GPL-3.0-or-later
// What a solver keeps.
#include "solve/problem_memory.h"

#include <string.h>

#include "base/base.h"
#include "element/mesh.h"

void cavum_problem_memory_clear(cavum_problem_memory *memory) {
  if (!memory) return;
  for (int i = 0; i < CAVUM_SOLUTION_SLOTS; i++) {
    cavum_solution_clear(memory->slots[i]);
    free(memory->slots[i]);
  }
  cavum_adjoint_memory_clear(&memory->adjoints);
  cavum_adjoint_memory_clear(&memory->odd_adjoints);
  cavum_text_path_clear(&memory->text_path);
  for (int i = 0; i < CAVUM_PEAK_REGIONS; i++) cavum_peak_region_clear(&memory->peak_regions[i]);
  cavum_skeletons_clear(&memory->skeletons);
  cavum_mesh_boundary_clear(&memory->boundary);
  cavum_mesh_follower_clear(&memory->follower);
  cavum_mesh_clear(&memory->mesh);
  memset(memory, 0, sizeof *memory);
}

void cavum_problem_memory_set_mesh(cavum_problem_memory *memory, cavum_mesh *mesh) {
  bool same = memory->topology > 0 && cavum_mesh_same_topology(&memory->mesh, mesh);
  cavum_mesh_clear(&memory->mesh);
  memory->mesh = *mesh;
  *mesh = (cavum_mesh){0};
  memory->topology += same ? 0 : 1;
  cavum_mesh_follower_clear(&memory->follower);
  memory->can_follow = false;
}

cavum_status cavum_problem_memory_make_follower(cavum_problem_memory *memory, cavum_error *error) {
  if (memory->can_follow) return CAVUM_OK;
  cavum_mesh_follower_clear(&memory->follower);
  cavum_status status = cavum_mesh_follower_create(&memory->follower, &memory->mesh, error);
  memory->can_follow = status == CAVUM_OK;
  return status;
}

static bool slot_fits(const cavum_problem_memory *memory, const cavum_solution *solution,
                      int degree, int num_degrees) {
  return solution && solution->topology == memory->topology &&
         solution->reference.degree == degree && solution->condensed.num_levels == num_degrees;
}

cavum_solution *cavum_problem_memory_slot(cavum_problem_memory *memory, int degree, int num_degrees,
                                          const cavum_solution *start, bool of_this_cell) {
  for (int i = 0; i < CAVUM_ROUGH_SLOT; i++) {
    bool taken = of_this_cell && memory->slots[i] == start;
    if (!taken && slot_fits(memory, memory->slots[i], degree, num_degrees)) {
      return memory->slots[i];
    }
  }
  int i = memory->slots[0] && memory->slots[0] == start ? 1 : 0;
  if (!memory->slots[i]) memory->slots[i] = cavum_alloc(1, sizeof *memory->slots[i]);
  return memory->slots[i];
}
