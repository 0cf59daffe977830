// SPDX-License-Identifier: GPL-3.0-or-later
// From a cell to the mesh that a memory holds.
#include "solve/cell_mesh.h"

#include "base/base.h"
#include "solve/mesh_regions.h"
#include "solve/mode_density.h"

// What sizes are divided by, and layers of small elements more where the curvature of the wall
// jumps.
static const struct {
  double size;
  int layers;
} REFINEMENTS[CAVUM_CELL_MESHES] = {{1.0, 0}, {1.2, 1}, {2.0, 1}, {3.0, 2}};
// Layers at sharp re-entrant corners on the first mesh; each of the next ones has two more.
enum { CORNER_LAYERS = 4 };
// Where the curvature of the wall jumps the field has a rho^2 log rho part: one graded layer of
// elements there lets the surface field settle to about 1e-6, two to about 1e-9.
static int junction_layers(const cavum_cell *cell, int which) {
  return REFINEMENTS[which].layers + (cell->accuracy_other_figures < 1e-5 ? 2 : 1);
}

// Phase over an element of usual size at the highest of many modes, at most, on the first mesh:
// some degree 10 is enough for it. What is made of it when it is more, and how often.
static const double REFINEMENT_MOST = 64.0;
static const double PHASE_MOST_RAD = 3.3, PHASE_AIM_RAD = 3.0;
enum { PHASE_TRIES = 4 };

double cavum_cell_mesh_ratio(int which) {
  return REFINEMENTS[which + 1].size / REFINEMENTS[which].size;
}

// New lists of the boundary edges of the mesh of the memory.
static cavum_status renew_boundary(cavum_problem_memory *memory, cavum_error *error) {
  cavum_mesh_boundary_clear(&memory->boundary);
  return cavum_mesh_boundary_create(&memory->boundary, &memory->mesh, error);
}

static cavum_status read_mesh(cavum_problem_memory *memory, cavum_mesh_notes *notes,
                              const cavum_cell *cell, cavum_error *error) {
  cavum_mesh mesh = {0};
  cavum_status status = cell->mesh_data
                            ? cavum_mesh_read_msh_data(&mesh, notes, &cell->mesh, cell->mesh_data,
                                                       cell->mesh_size, error)
                            : cavum_mesh_read_msh(&mesh, notes, &cell->mesh, error);
  if (status != CAVUM_OK) return status;
  status = cavum_mesh_regions_check(cell, &mesh, error);
  if (status != CAVUM_OK) {
    cavum_mesh_clear(&mesh);
    return status;
  }
  cavum_problem_memory_set_mesh(memory, &mesh);
  memory->refinement = 0;
  return renew_boundary(memory, error);
}

// How much too large the elements are for the modes that are asked for, over 1; else 1.
static double coarse_by(const cavum_cell_mesh_request *request, const cavum_mesh *mesh, int which) {
  if (!cavum_mode_phase_counts(request->cell)) return 1.0;
  double phase_rad =
      cavum_mode_phase_rad(request->cell, mesh, request->half_model) * REFINEMENTS[which].size;
  return phase_rad > PHASE_MOST_RAD ? phase_rad / PHASE_AIM_RAD : 1.0;
}

// The mesh of the cell before, fitted to this one; false when it does not fit well enough.
static bool follow_mesh(cavum_problem_memory *memory, const cavum_cell_mesh_request *request,
                        const cavum_contour *contour, int which) {
  bool fits = memory->topology > 0 && memory->half_model == request->half_model &&
              memory->refinement == which && memory->mesh.node_order == 0 &&
              memory->layers == junction_layers(request->cell, which);
  if (!fits || request->refinement > 0.0 || coarse_by(request, &memory->mesh, which) > 1.0) {
    return false;
  }
  // What it takes to move a mesh is made when a second cell comes.
  return cavum_problem_memory_make_follower(memory, NULL) == CAVUM_OK &&
         cavum_mesh_follow(&memory->mesh, &memory->follower, contour);
}

// Wavelengths of the modes that are asked for are too short for any mesh.
static cavum_status fail_too_fine(const cavum_cell *cell, double refinement, cavum_error *error) {
  const char *asks = cell->near_hz > 0.0 ? "near_MHz" : "count";
  return cavum_fail(error, CAVUM_ERR_RANGE,
                    "modes: %s asks for modes whose wavelengths need elements %.3g times smaller "
                    "than the shape does, at most %g times are made: ask for lower modes",
                    asks, refinement, REFINEMENT_MOST);
}

// The mesh whose elements are small enough for the modes that are asked for.
static cavum_status make_for_modes(cavum_mesh *mesh, cavum_mesh_options *options,
                                   const cavum_cell_mesh_request *request,
                                   const cavum_contour *contour, int which, cavum_error *error) {
  cavum_status status = cavum_mesh_from_contour(mesh, contour, options, error);
  for (int i = 0; status == CAVUM_OK && i < PHASE_TRIES; i++) {
    double factor = coarse_by(request, mesh, which);
    if (factor <= 1.0) break;
    options->refinement *= factor;
    cavum_mesh_clear(mesh);
    if (options->refinement > REFINEMENT_MOST) {
      return fail_too_fine(request->cell, options->refinement, error);
    }
    status = cavum_mesh_from_contour(mesh, contour, options, error);
  }
  return status;
}

// A refinement divides the elements of that mesh, so that none above 1 makes a coarser one.
static cavum_status make_refined(cavum_mesh *mesh, cavum_mesh_options *options,
                                 const cavum_cell_mesh_request *request,
                                 const cavum_contour *contour, int which, cavum_error *error) {
  if (cavum_mode_phase_counts(request->cell)) {
    cavum_status status = make_for_modes(mesh, options, request, contour, which, error);
    if (status != CAVUM_OK) return status;
    cavum_mesh_clear(mesh);
  }
  double needed = options->refinement;
  options->refinement *= request->refinement;
  if (needed > 1.0 && options->refinement > REFINEMENT_MOST) {
    return cavum_fail(
        error, CAVUM_ERR_USAGE,
        "refinement %g of elements that are %.3g times smaller for the modes that are "
        "asked for: at most %g times are made, so at most %.3g",
        request->refinement, needed, REFINEMENT_MOST, REFINEMENT_MOST / needed);
  }
  return cavum_mesh_from_contour(mesh, contour, options, error);
}

static cavum_status fit_mesh(cavum_problem_memory *memory, const cavum_cell_mesh_request *request,
                             const cavum_contour *contour, int which, cavum_error *error) {
  cavum_mesh mesh = {0};
  cavum_mesh_options options = cavum_mesh_options_default();
  options.refinement = REFINEMENTS[which].size;
  options.junction_layers = junction_layers(request->cell, which);
  options.corner_layers = CORNER_LAYERS + 2 * which;
  if (follow_mesh(memory, request, contour, which)) {
    return cavum_mesh_boundary_refresh(&memory->boundary, &memory->mesh, error);
  }
  cavum_status status = request->refinement > 0.0
                            ? make_refined(&mesh, &options, request, contour, which, error)
                            : make_for_modes(&mesh, &options, request, contour, which, error);
  if (status != CAVUM_OK) return status;
  cavum_problem_memory_set_mesh(memory, &mesh);
  memory->half_model = request->half_model;
  memory->refinement = which;
  memory->layers = options.junction_layers;
  return renew_boundary(memory, error);
}

static cavum_status make_contour(cavum_contour *contour, const cavum_cell_mesh_request *request,
                                 cavum_timings *timings, cavum_error *error) {
  double start = cavum_seconds();
  cavum_cell_part part = request->half_model ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
  cavum_status status = cavum_cell_make_contour(contour, request->cell, part, error);
  timings->contour_s += cavum_seconds() - start;
  return status;
}

cavum_status cavum_cell_mesh_make(cavum_problem_memory *memory, cavum_mesh_notes *notes,
                                  const cavum_cell_mesh_request *request, int which,
                                  cavum_timings *timings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_contour contour = {0};
  bool is_file = request->cell->kind == CAVUM_CONTOUR_MESH_FILE;
  if (!is_file) CAVUM_TRY(make_contour(&contour, request, timings, error));
  double start = cavum_seconds();
  if (is_file) CAVUM_TRY(read_mesh(memory, notes, request->cell, error));
  if (!is_file) CAVUM_TRY(fit_mesh(memory, request, &contour, which, error));
  timings->mesh_s += cavum_seconds() - start;
done:
  cavum_contour_clear(&contour);
  return status;
}

cavum_status cavum_cell_mesh_follow(bool *followed, cavum_problem_memory *memory,
                                    const cavum_cell_mesh_request *request, cavum_timings *timings,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_contour contour = {0};
  *followed = false;
  if (request->cell->kind == CAVUM_CONTOUR_MESH_FILE) return CAVUM_OK;
  CAVUM_TRY(make_contour(&contour, request, timings, error));
  double start = cavum_seconds();
  *followed = follow_mesh(memory, request, &contour, memory->refinement);
  if (*followed) CAVUM_TRY(cavum_mesh_boundary_refresh(&memory->boundary, &memory->mesh, error));
  timings->mesh_s += cavum_seconds() - start;
done:
  cavum_contour_clear(&contour);
  return status;
}
