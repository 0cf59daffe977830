// SPDX-License-Identifier: GPL-3.0-or-later
// The section `free_wall` of a goal file. What the two ellipses have and a spline has not is
// refused here, before any solve: nothing that a goal asks for is left out of the search for the
// free wall.
#include <math.h>

#include "base/base.h"
#include "cell/cell.h"
#include "optimum/free_wall.h"
#include "yaml/fields.h"

static const cavum_yaml_field free_wall_fields[] = {
    {.key = "points",
     .offset = offsetof(cavum_goal_free_wall, num_points),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .required = true,
     .low = 2,
     .high = CAVUM_GOAL_MOST_FREE_POINTS},
    {.key = "within_mm",
     .offset = offsetof(cavum_goal_free_wall, within_mm),
     .required = true,
     .low = 1e-6,
     .high = 1e6},
    {.key = "iris_side_radius_mm",
     .offset = offsetof(cavum_goal_free_wall, radius_mm[0]),
     .low = 1e-6,
     .high = 1e6},
    {.key = "equator_side_radius_mm",
     .offset = offsetof(cavum_goal_free_wall, radius_mm[1]),
     .low = 1e-6,
     .high = 1e6},
};

static const cavum_yaml_node *top_of(const cavum_yaml_reader *reader, const char *key) {
  return cavum_yaml_reader_child(reader, &reader->tree.nodes[0], key);
}

static bool halves_differ(const cavum_goal *goal) {
  bool differ = !cavum_cell_whole_is_symmetric(&goal->study->cell);
  for (int i = 0; i < goal->study->num_inputs; i++) {
    cavum_place_kind kind = goal->study->inputs[i].place.kind;
    differ = differ || kind == CAVUM_PLACE_LEFT || kind == CAVUM_PLACE_RIGHT;
  }
  return differ;
}

// Whether a figure of the shape is the least of values along the wall.
static bool is_least(const cavum_requirement *what) {
  return what->kind == CAVUM_REQUIRE_WALL_ANGLE || what->kind == CAVUM_REQUIRE_IRIS_CURVATURE ||
         what->kind == CAVUM_REQUIRE_APERTURE_RADIUS;
}

// What a spline does not have: the straight wall, shapes to be made best, limits that a wall cannot
// keep at every place.
static cavum_status check_quantity(const cavum_goal *goal, int i, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node) {
  const cavum_goal_quantity *q = &goal->quantities[i];
  bool term = i < goal->num_terms;
  const cavum_yaml_node *limits = top_of(reader, "limits");
  const cavum_yaml_node *own =
      !term && limits ? cavum_yaml_reader_child(reader, limits, q->what.key) : NULL;
  if (own) node = own;
  bool straight = q->what.kind == CAVUM_REQUIRE_STRAIGHT_LENGTH && !q->is_default;
  if (straight || (term && is_least(&q->what))) {
    return cavum_yaml_reader_fail(
        reader, node,
        "free_wall: %s is of two ellipses alone, a free wall has none%s; expected a goal without "
        "it, or without free_wall",
        q->what.key, straight ? "" : " to be made best");
  }
  bool least = isfinite(q->what.least) && !isfinite(q->what.most);
  if (term || !is_least(&q->what) || least) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, node, "free_wall: %s of a free wall: expected {least: A}",
                                q->what.key);
}

static cavum_status check(const cavum_goal *goal, const cavum_yaml_reader *reader,
                          const cavum_yaml_node *node) {
  const char *against = top_of(reader, "front")    ? "a front"
                        : top_of(reader, "robust") ? "robust"
                        : top_of(reader, "cells")  ? "more cells"
                                                   : NULL;
  if (against) return cavum_yaml_reader_fail(reader, node, "free_wall: not with %s", against);
  if (goal->study->cell.kind != CAVUM_CONTOUR_TWO_ELLIPSE) {
    return cavum_yaml_reader_fail(reader, node, "free_wall: expected a cell of two ellipses");
  }
  if (goal->study->coupling) {
    return cavum_yaml_reader_fail(
        reader, node, "free_wall: not with coupling, which is computed for two ellipses alone");
  }
  for (int i = 0; i < goal->num_quantities; i++) {
    cavum_status status = check_quantity(goal, i, reader, node);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// A limit on the curvature of the iris holds for the spline as well.
static void take_iris_curvature(cavum_goal_free_wall *made, const cavum_goal *goal) {
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_requirement *what = &goal->quantities[i].what;
    if (what->kind != CAVUM_REQUIRE_IRIS_CURVATURE) continue;
    double stated = made->radius_mm[0];
    made->radius_mm[0] = isnan(stated) ? what->least : cavum_max(stated, what->least);
  }
}

cavum_status cavum_free_wall_read(cavum_goal *goal, const cavum_yaml_reader *reader) {
  const cavum_yaml_node *node = top_of(reader, "free_wall");
  cavum_goal_free_wall made = {.radius_mm = {NAN, NAN}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(free_wall_fields);
  if (!node) return CAVUM_OK;
  cavum_status status = check(goal, reader, node);
  if (status == CAVUM_OK) {
    status = cavum_yaml_read_fields(&made, reader, node, "free_wall", table);
  }
  if (status != CAVUM_OK) return status;
  if (2 * made.num_points >= CAVUM_GOAL_MOST_VARIABLES && halves_differ(goal)) {
    return cavum_yaml_reader_fail(reader, node,
                                  "free_wall: at most %d points where the halves differ",
                                  (CAVUM_GOAL_MOST_VARIABLES - 1) / 2);
  }
  take_iris_curvature(&made, goal);
  goal->free_wall = made;
  return CAVUM_OK;
}
