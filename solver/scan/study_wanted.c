// SPDX-License-Identifier: GPL-3.0-or-later
// What a study wants of its shapes: modes, figures, limits, aims.
#include "scan/study_wanted.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "base/units.h"
#include "cell/geometry.h"
#include "scan/study_aims.h"
#include "scan/study_conditions.h"
#include "scan/study_geometry.h"
#include "solve/figure_chain.h"
#include "solve/figure_policy.h"

/** The modes section. */
typedef struct modes_section {
  int count;
} modes_section;

static const cavum_yaml_field modes_fields[] = {
    {.key = "count",
     .offset = offsetof(modes_section, count),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .required = true,
     .low = 1,
     .high = CAVUM_STUDY_MOST_MODES},
};

/** The limits section. */
typedef struct limits_section {
  double wall_angle_deg, iris_curvature_m;
  const cavum_yaml_node *where;
} limits_section;

static const cavum_yaml_field limit_fields[] = {
    {.key = "wall_angle_deg",
     .offset = offsetof(limits_section, wall_angle_deg),
     .low = -90,
     .high = 90},
    {.key = "iris_curvature_mm",
     .offset = offsetof(limits_section, iris_curvature_m),
     .unit = CAVUM_UNIT_MM,
     .low = 0,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "where", .offset = offsetof(limits_section, where), .kind = CAVUM_YAML_FIELD_LIST},
};

static cavum_status read_conditions(cavum_study_reader *r, const cavum_yaml_node *list) {
  cavum_study_names names = {r->study, r->finder};
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, list);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_error what;
    if (node->kind != CAVUM_YAML_NODE_SCALAR) {
      return cavum_yaml_reader_fail(r->reader, node, "limits.where: expected conditions");
    }
    cavum_status status = cavum_study_add_condition(&names, node->text, &what);
    if (status != CAVUM_OK) return cavum_study_reader_fail(r, node, status, &what);
  }
  return CAVUM_OK;
}

static cavum_status read_limits(cavum_study_reader *r) {
  limits_section section = {.wall_angle_deg = NAN, .iris_curvature_m = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(limit_fields);
  cavum_limits *limits = &r->study->limits;
  cavum_status status = cavum_yaml_read_fields(&section, r->reader, r->top.limits, "limits", table);
  if (status != CAVUM_OK) return status;
  bool of_halves = !isnan(section.wall_angle_deg) || !isnan(section.iris_curvature_m);
  if (of_halves && r->study->cell.kind != CAVUM_CONTOUR_TWO_ELLIPSE) {
    return cavum_yaml_reader_fail(r->reader, r->top.limits,
                                  "limits: wall_angle_deg and iris_curvature_mm go with cells of "
                                  "contour.kind: two-ellipse only");
  }
  limits->wall_angle_rad = cavum_from_unit(section.wall_angle_deg, CAVUM_UNIT_DEGREE);
  limits->iris_curvature_m = section.iris_curvature_m;
  return section.where ? read_conditions(r, section.where) : CAVUM_OK;
}

static cavum_status read_aims(cavum_study_reader *r) {
  cavum_study_names names = {r->study, r->finder};
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.aims);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_error what;
    if (node->kind != CAVUM_YAML_NODE_SCALAR) {
      return cavum_yaml_reader_fail(r->reader, node,
                                    "aims: expected FIGURE, FIGURE:smaller or FIGURE:larger");
    }
    cavum_status status = cavum_study_add_aim(&names, node->text, &what);
    if (status != CAVUM_OK) return cavum_study_reader_fail(r, node, status, &what);
  }
  return CAVUM_OK;
}

/** What a cell lacks for a figure; NULL: nothing. */
static const char *what_is_missing(const cavum_cell *cell, cavum_figure_id id) {
  // A cell that was moved is a path and keeps the ends of what it was.
  bool tube = cell->kind != CAVUM_CONTOUR_MESH_FILE &&
              (cell->left_end.kind == CAVUM_END_TUBE || cell->right_end.kind == CAVUM_END_TUBE);
  switch (cavum_figure_policy_of(id)->of_cell) {
    case CAVUM_CELL_WITH_STATED_WALL:
      return cell->wall.kind == CAVUM_WALL_NONE ? "a wall" : NULL;
    case CAVUM_CELL_WITH_TUBE:
      return tube ? NULL : "a tube";
    case CAVUM_CELL_WITH_ANY:
      break;
  }
  return NULL;
}

/** The figure that a node names by its key; CAVUM_NUM_FIGURES: none, and the nearest one. */
static int find_figure(cavum_nearest *nearest, const cavum_yaml_node *node) {
  int id = node->kind == CAVUM_YAML_NODE_SCALAR ? 0 : CAVUM_NUM_FIGURES;
  *nearest = (cavum_nearest){0};
  for (; id < CAVUM_NUM_FIGURES; id++) {
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    if (strcmp(key, node->text) == 0) break;
    cavum_nearest_offer(nearest, node->text, key);
  }
  for (int i = 0; i < CAVUM_NUM_GEOMETRY_FIGURES && id == CAVUM_NUM_FIGURES; i++) {
    if (node->kind != CAVUM_YAML_NODE_SCALAR) break;
    cavum_nearest_offer(nearest, node->text, cavum_geometry_describe((cavum_geometry_id)i).key);
  }
  return id;
}

// Angle and curvature always; the others when they are listed, or when nothing is.
static void want_geometry(cavum_study *study, bool all) {
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    bool always = id == CAVUM_GEOMETRY_WALL_ANGLE || id == CAVUM_GEOMETRY_IRIS_CURVATURE;
    study->wanted_geometry[id] = (all || always) && cavum_study_has_geometry(study, id);
  }
}

// A figure of the shape by its key; `found` says whether it is one.
static cavum_status want_listed_geometry(bool *found, cavum_study_reader *r,
                                         const cavum_yaml_node *node) {
  int id = node->kind == CAVUM_YAML_NODE_SCALAR ? (int)cavum_geometry_of_key(node->text)
                                                : CAVUM_NUM_GEOMETRY_FIGURES;
  *found = id < CAVUM_NUM_GEOMETRY_FIGURES;
  if (!*found) return CAVUM_OK;
  if (!cavum_study_has_geometry(r->study, id)) {
    return cavum_yaml_reader_fail(r->reader, node, "figures: this kind of cell has no %s",
                                  node->text);
  }
  r->study->wanted_geometry[id] = true;
  return CAVUM_OK;
}

/** Which figures to keep: those listed, or all that such a cell can have. */
static cavum_status read_figures(cavum_study_reader *r) {
  cavum_study *study = r->study;
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE];
  for (int id = 0; id < CAVUM_NUM_FIGURES && !r->top.figures; id++) {
    study->wanted[id] = what_is_missing(&study->cell, (cavum_figure_id)id) == NULL;
  }
  study->wanted[CAVUM_FIGURE_FREQUENCY] = true;
  want_geometry(study, !r->top.figures);
  if (!r->top.figures) return CAVUM_OK;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.figures);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    bool of_shape = false;
    cavum_status status = want_listed_geometry(&of_shape, r, node);
    if (status != CAVUM_OK) return status;
    if (of_shape) continue;
    int id = find_figure(&nearest, node);
    if (id == CAVUM_NUM_FIGURES) {
      return cavum_yaml_reader_fail(r->reader, node, "figures: '%s' is not a figure%s",
                                    cavum_yaml_tree_excerpt(node->text).text,
                                    cavum_nearest_write(hint, &nearest, ""));
    }
    const char *missing = what_is_missing(&study->cell, (cavum_figure_id)id);
    if (missing) {
      return cavum_yaml_reader_fail(r->reader, node,
                                    "figures: %s needs %s, which the cell does not have",
                                    node->text, missing);
    }
    study->wanted[id] = true;
  }
  return CAVUM_OK;
}

// Figures whose derivatives by the inputs are kept; they are kept themselves.
static cavum_status read_derivatives(cavum_study_reader *r) {
  cavum_study *study = r->study;
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE];
  if (study->cell.kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_yaml_reader_fail(r->reader, r->top.derivatives,
                                  "derivatives: a mesh file has no dimensions");
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.derivatives);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    int id = find_figure(&nearest, node);
    if (id == CAVUM_NUM_FIGURES) {
      return cavum_yaml_reader_fail(r->reader, node, "derivatives: '%s' is no figure of a mode%s",
                                    cavum_yaml_tree_excerpt(node->text).text,
                                    cavum_nearest_write(hint, &nearest, ""));
    }
    const char *missing = what_is_missing(&study->cell, (cavum_figure_id)id);
    if (missing) {
      return cavum_yaml_reader_fail(
          r->reader, node, "derivatives: %s needs %s, which the cell has not", node->text, missing);
    }
    if (!cavum_figure_chain_of((cavum_figure_id)id, 0.0).known) {
      return cavum_yaml_reader_fail(r->reader, node, "derivatives: %s is not differentiated",
                                    node->text);
    }
    study->wanted[id] = study->differentiated[id] = true;
  }
  return CAVUM_OK;
}

static const char *plural(int count) { return count == 1 ? "" : "s"; }

static cavum_status read_mode(cavum_study_reader *r) {
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "mode");
  r->study->mode = r->top.mode - 1;
  if (r->top.mode <= r->study->cell.num_modes) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, node, "mode: the cell file asks for %d mode%s only",
                                r->study->cell.num_modes, plural(r->study->cell.num_modes));
}

/** How many modes are kept beside that of the study; one is no more than without the key. */
static cavum_status read_mode_count(cavum_study_reader *r) {
  modes_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(modes_fields);
  if (!r->top.modes) return CAVUM_OK;
  cavum_status status = cavum_yaml_read_fields(&section, r->reader, r->top.modes, "modes", table);
  if (status != CAVUM_OK) return status;
  if (section.count > r->study->cell.num_modes) {
    return cavum_yaml_reader_fail(r->reader, r->top.modes,
                                  "modes.count: the cell file asks for %d mode%s only",
                                  r->study->cell.num_modes, plural(r->study->cell.num_modes));
  }
  if (section.count < r->top.mode) {
    return cavum_yaml_reader_fail(r->reader, r->top.modes,
                                  "modes.count: 'mode: %d' is not among %d modes", r->top.mode,
                                  section.count);
  }
  r->study->num_modes = section.count > 1 ? section.count : 0;
  return CAVUM_OK;
}

cavum_status cavum_study_read_modes(cavum_study_reader *r) {
  cavum_status status = read_mode(r);
  return status == CAVUM_OK ? read_mode_count(r) : status;
}

// What the file of the base cell states that a cell must meet.
static cavum_status read_requirements(cavum_study *study, cavum_error *error) {
  const char *text = study->cell.text;
  if (!text) return CAVUM_OK;
  return cavum_requirements_read_text(&study->requirements, text, strlen(text), study->cell_path,
                                      error);
}

cavum_status cavum_study_read_wanted(cavum_study_reader *r) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_figures(r));
  if (r->top.derivatives) CAVUM_TRY(read_derivatives(r));
  if (r->top.limits) CAVUM_TRY(read_limits(r));
  if (r->top.aims) CAVUM_TRY(read_aims(r));
  CAVUM_TRY(read_requirements(r->study, r->reader->error));
done:
  return status;
}
