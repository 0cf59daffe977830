// SPDX-License-Identifier: GPL-3.0-or-later
// Figures on the elements of a mesh file and on a variant of them.
#include "solve/geometry_uncertainty.h"

#include "base/base.h"
#include "element/geometry_order.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"
#include "solve/ladder.h"
#include "solve/result_fill.h"

static double relative_change(const cavum_figure *figures, const cavum_figure *varied,
                              cavum_figure_id id) {
  const cavum_figure *figure = &figures[id], *other = &varied[id];
  if (figure->state != CAVUM_FIGURE_PRESENT || other->state != CAVUM_FIGURE_PRESENT) return 0.0;
  return fabs(figure->value - other->value) / fabs(figure->value);
}

void cavum_geometry_uncertainty_of_mode(cavum_figure *figures, const cavum_figure *varied,
                                        double part, bool against_polygon) {
  const double luck = 0.5;
  double least = luck * cavum_max(relative_change(figures, varied, CAVUM_FIGURE_FREQUENCY),
                                  relative_change(figures, varied, CAVUM_FIGURE_GEOMETRY_FACTOR));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure *figure = &figures[id];
    if (figure->state != CAVUM_FIGURE_PRESENT) continue;
    double change = relative_change(figures, varied, (cavum_figure_id)id);
    bool is_slope = cavum_figure_policy_of((cavum_figure_id)id)->wall == CAVUM_WALL_SLOPE;
    if (against_polygon && is_slope) change = 1.0;
    double own = is_slope && !against_polygon && part < 1.0 ? sqrt(part) : part;
    figure->uncertainty += own * cavum_max(change, least) * fabs(figure->value);
  }
}

cavum_status cavum_geometry_uncertainty_add(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh variant = {0};
  cavum_problem_memory variant_memory = {0};
  cavum_ladder other = {0};
  cavum_ladder_request request = s->request;
  if (s->memory->mesh.node_order == 0) return CAVUM_OK;
  bool differs;
  CAVUM_TRY(cavum_mesh_make_geometry_variant(&variant, &differs, &s->memory->mesh, error));
  if (!differs) goto done;
  cavum_problem_memory_set_mesh(&variant_memory, &variant);
  CAVUM_TRY(cavum_mesh_boundary_create(&variant_memory.boundary, &variant_memory.mesh, error));
  request.fixed = request.single = true;
  request.first_degree = request.last_degree = s->ladder.steps[s->ladder.num_steps - 1].degree;
  status = cavum_ladder_climb(&other, &variant_memory, &request, &s->result->timings, error);
  if (status == CAVUM_ERR_MESH) {  // the variant folds: say that nothing is known
    status = CAVUM_OK;
    CAVUM_TRY(cavum_result_warn(
        s,
        "the geometry of the mesh file could not be varied: the uncertainties do not "
        "cover how well its elements follow the wall",
        error));
  }
  for (int m = 0; m < s->ladder.num_modes && m < other.num_modes; m++) {
    cavum_figure *figures = s->ladder.solution->modes[m].values[0].figures;
    cavum_geometry_uncertainty_of_mode(figures, other.solution->modes[m].values[0].figures,
                                       cavum_mesh_geometry_part(&s->memory->mesh),
                                       s->memory->mesh.node_order == 2);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      s->ladder.reached = s->ladder.reached &&
                          cavum_accuracy_is_reached(&figures[id], (cavum_figure_id)id, s->cell);
    }
  }
done:
  cavum_ladder_clear(&other);
  cavum_problem_memory_clear(&variant_memory);
  cavum_mesh_clear(&variant);
  return status;
}
