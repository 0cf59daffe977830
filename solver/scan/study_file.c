// SPDX-License-Identifier: GPL-3.0-or-later
// Study files: from YAML to a study whose names are bound to places in the base cell.
#include "scan/study_file.h"

#include <errno.h>
#include <libgen.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/cell_text.h"
#include "cell/keys.h"
#include "scan/study_aims.h"
#include "scan/study_conditions.h"
#include "solve/coupling.h"
#include "solve/figure_policy.h"

/** The top level of a study file. */
typedef struct study_top {
  const char *title, *cell, *table;
  const cavum_yaml_node *vary, *sampling, *linked, *hold, *limits, *figures, *modes, *aims;
  int coupling, mode, batch;
} study_top;

enum { COUPLING_NO, COUPLING_YES, COUPLING_INNER_CELL };
static const cavum_yaml_word coupling_words[] = {
    {"yes", COUPLING_YES}, {"no", COUPLING_NO}, {"inner-cell", COUPLING_INNER_CELL}, {NULL, 0}};

static const cavum_yaml_field top_fields[] = {
    {.key = "title", .offset = offsetof(study_top, title), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "cell", .offset = offsetof(study_top, cell), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "table", .offset = offsetof(study_top, table), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "vary", .offset = offsetof(study_top, vary), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "sampling", .offset = offsetof(study_top, sampling), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "linked", .offset = offsetof(study_top, linked), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "hold", .offset = offsetof(study_top, hold), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "limits", .offset = offsetof(study_top, limits), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "figures", .offset = offsetof(study_top, figures), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "coupling",
     .offset = offsetof(study_top, coupling),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = coupling_words},
    {.key = "mode",
     .offset = offsetof(study_top, mode),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = 1000},
    {.key = "modes", .offset = offsetof(study_top, modes), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "aims", .offset = offsetof(study_top, aims), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "batch",
     .offset = offsetof(study_top, batch),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = CAVUM_STUDY_LARGEST_BATCH},
};

static const cavum_yaml_word sampling_words[] = {
    {"grid", CAVUM_SAMPLING_GRID},
    {"sobol", CAVUM_SAMPLING_SOBOL},
    {"halton", CAVUM_SAMPLING_HALTON},
    {"latin-hypercube", CAVUM_SAMPLING_LATIN_HYPERCUBE},
    {NULL, 0}};

/** The sampling section. */
typedef struct sampling_section {
  int kind;
  double points, seed;
} sampling_section;

static const cavum_yaml_field sampling_fields[] = {
    {.key = "kind",
     .offset = offsetof(sampling_section, kind),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = sampling_words},
    {.key = "points", .offset = offsetof(sampling_section, points), .low = 1, .high = 1e15},
    {.key = "seed", .offset = offsetof(sampling_section, seed), .low = 0, .high = 4294967295.0},
};

/** A range of one name. */
typedef struct range_section {
  double from, to;
  int points;
} range_section;

static const cavum_yaml_field range_fields[] = {
    {.key = "from",
     .offset = offsetof(range_section, from),
     .required = true,
     .low = -1e15,
     .high = 1e15},
    {.key = "to",
     .offset = offsetof(range_section, to),
     .required = true,
     .low = -1e15,
     .high = 1e15},
    {.key = "points",
     .offset = offsetof(range_section, points),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 2,
     .high = 1e9},
};

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

/** The hold section. */
typedef struct hold_section {
  double frequency_hz, from, to;
  const char *by;
} hold_section;

static const cavum_yaml_field hold_fields[] = {
    {.key = "frequency_MHz",
     .offset = offsetof(hold_section, frequency_hz),
     .required = true,
     .unit = CAVUM_UNIT_MHZ,
     .low = 1e-6,
     .high = 1e9},
    {.key = "by",
     .offset = offsetof(hold_section, by),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "from", .offset = offsetof(hold_section, from), .low = -1e15, .high = 1e15},
    {.key = "to", .offset = offsetof(hold_section, to), .low = -1e15, .high = 1e15},
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

// A range of a held dimension that the file does not give: this much to either side of the base.
static const double HOLD_REACH = 0.3;

/** What reading one study shares. */
typedef struct study_reader {
  const cavum_yaml_reader *reader;
  cavum_study *study;
  cavum_place_finder *finder;
  study_top top;
} study_reader;

char *cavum_study_beside(const char *study_path, const char *name) {
  char *copy = cavum_copy_text(study_path);
  char *joined = NULL;
  if (copy)
    joined = cavum_format_text("%s%s%s", name[0] == '/' ? "" : dirname(copy),
                               name[0] == '/' ? "" : "/", name);
  free(copy);
  return joined;
}

/** Repeats an error without a place at the place of a node. */
static cavum_status fail_at(const study_reader *r, const cavum_yaml_node *node, cavum_status status,
                            const cavum_error *what) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(r->reader->error);
  return cavum_yaml_tree_fail(r->reader->error, status, r->reader->name, node->line, node->column,
                              "%s", what->message);
}

/** Adds an input under a name that is not yet in use. */
static cavum_status add_input(study_reader *r, const char *name, cavum_input_role role,
                              const cavum_yaml_node *node) {
  cavum_study *study = r->study;
  cavum_error what;
  cavum_place place;
  if (study->num_inputs == CAVUM_STUDY_MOST_INPUTS) {
    return cavum_yaml_reader_fail(r->reader, node, "more than %d inputs", CAVUM_STUDY_MOST_INPUTS);
  }
  cavum_status status = cavum_place_find(&place, r->finder, name, &what);
  if (status != CAVUM_OK) return fail_at(r, node, status, &what);
  for (int i = 0; i < study->num_inputs; i++) {
    if (strcmp(study->inputs[i].place.name, place.name) != 0) continue;
    return cavum_yaml_reader_fail(r->reader, node, "'%s' is set twice", place.name);
  }
  // A half that is set by itself no longer follows the contour section.
  for (int i = 0; i < study->num_inputs; i++) {
    cavum_place *other = &study->inputs[i].place;
    if (cavum_place_is_half_of(&place, other)) {
      if (place.kind == CAVUM_PLACE_LEFT) other->set_left = false;
      if (place.kind == CAVUM_PLACE_RIGHT) other->set_right = false;
    } else if (cavum_place_is_half_of(other, &place)) {
      if (other->kind == CAVUM_PLACE_LEFT) place.set_left = false;
      if (other->kind == CAVUM_PLACE_RIGHT) place.set_right = false;
    }
  }
  study->inputs[study->num_inputs++] = (cavum_input){.place = place, .role = role};
  return CAVUM_OK;
}

static cavum_status read_axis_list(cavum_axis *axis, study_reader *r, const cavum_yaml_node *list,
                                   const char *path) {
  if (list->num_children < 1)
    return cavum_yaml_reader_fail(r->reader, list, "%s: empty list", path);
  axis->num_points = list->num_children;
  axis->list = cavum_alloc(axis->num_points, sizeof *axis->list);
  if (!axis->list) return cavum_fail_memory(r->reader->error);
  const cavum_yaml_node *entry = cavum_yaml_reader_first(r->reader, list);
  for (cavum_index i = 0; entry; i++, entry = cavum_yaml_reader_next(r->reader, entry)) {
    cavum_status status = cavum_yaml_read_number(&axis->list[i], r->reader, entry,
                                                 cavum_yaml_path_index(path, i + 1).text);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status read_axis(cavum_axis *axis, study_reader *r, const cavum_yaml_node *node,
                              const char *path) {
  if (node->kind == CAVUM_YAML_NODE_LIST) return read_axis_list(axis, r, node, path);
  range_section range = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(range_fields);
  cavum_status status = cavum_yaml_read_fields(&range, r->reader, node, path, table);
  if (status != CAVUM_OK) return status;
  if (!(range.from < range.to)) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: expected from < to, found %g and %g", path,
                                  range.from, range.to);
  }
  bool grid = r->study->sampling.kind == CAVUM_SAMPLING_GRID;
  if (grid != (range.points > 0)) {
    return cavum_yaml_reader_fail(
        r->reader, node, "%s: points %s", path,
        grid ? "is missing: how many values the grid takes" : "goes with sampling.kind: grid only");
  }
  *axis = (cavum_axis){.low = range.from, .high = range.to, .num_points = range.points};
  return CAVUM_OK;
}

static cavum_status read_vary(study_reader *r) {
  cavum_status status = CAVUM_OK;
  cavum_sampling *sampling = &r->study->sampling;
  const cavum_yaml_node *vary = r->top.vary;
  sampling->axes = cavum_alloc(vary->num_children, sizeof *sampling->axes);
  if (!sampling->axes) return cavum_fail_memory(r->reader->error);
  if (vary->num_children < 1)
    return cavum_yaml_reader_fail(r->reader, vary, "vary: nothing varies");
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, vary);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    CAVUM_TRY(add_input(r, node->key, CAVUM_ROLE_VARIED, node));
    cavum_yaml_path path = cavum_yaml_path_join("vary", node->key);
    cavum_axis *axis = &sampling->axes[sampling->num_axes++];
    CAVUM_TRY(read_axis(axis, r, node, path.text));
  }
done:
  return status;
}

static cavum_status read_sampling(study_reader *r) {
  sampling_section section = {.kind = CAVUM_SAMPLING_GRID};
  cavum_yaml_table table = CAVUM_YAML_TABLE(sampling_fields);
  cavum_sampling *sampling = &r->study->sampling;
  cavum_status status = CAVUM_OK;
  const cavum_yaml_node *node = r->top.sampling;
  if (node) CAVUM_TRY(cavum_yaml_read_fields(&section, r->reader, node, "sampling", table));
  sampling->kind = (cavum_sampling_kind)section.kind;
  bool grid = section.kind == CAVUM_SAMPLING_GRID;
  if (node && grid != (section.points == 0.0)) {
    return cavum_yaml_reader_fail(r->reader, node, "sampling: points %s",
                                  grid ? "goes with the other kinds: a grid counts its own"
                                       : "is missing: how many shapes to take");
  }
  if (section.points != floor(section.points) || section.seed != floor(section.seed)) {
    return cavum_yaml_reader_fail(r->reader, node, "sampling: points and seed are whole numbers");
  }
  sampling->num_points = (int64_t)section.points;
  sampling->seed = (uint64_t)section.seed;
done:
  return status;
}

static cavum_status read_table(study_reader *r) {
  cavum_study *study = r->study;
  cavum_status status = CAVUM_OK;
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "table");
  char *path = cavum_study_beside(study->path, r->top.table);
  if (!path) return cavum_fail_memory(r->reader->error);
  CAVUM_TRY(cavum_shape_table_open(&study->table, path, r->reader->error));
  study->sampling.kind = CAVUM_SAMPLING_TABLE;
  study->sampling.num_points = study->table.num_rows;
  for (int i = 0; i < study->table.num_columns; i++) {
    CAVUM_TRY(add_input(r, study->table.names[i], CAVUM_ROLE_VARIED, node));
  }
done:
  free(path);
  return status;
}

/** What varies: a table, or axes with a way to sample them. */
static cavum_status read_points(study_reader *r) {
  const cavum_yaml_node *root = &r->reader->tree.nodes[0];
  cavum_status status = CAVUM_OK;
  if (!r->top.table == !r->top.vary) {
    return cavum_yaml_reader_fail(r->reader, root, "expected exactly one of vary and table");
  }
  if (r->top.table && r->top.sampling) {
    return cavum_yaml_reader_fail(r->reader, r->top.sampling, "sampling: goes with vary only");
  }
  if (r->top.table) return read_table(r);
  CAVUM_TRY(read_sampling(r));
  CAVUM_TRY(read_vary(r));
  cavum_error what;
  status = cavum_sampling_prepare(&r->study->sampling, &what);
  if (status != CAVUM_OK) status = fail_at(r, r->top.vary, status, &what);
done:
  return status;
}

/** One line "NAME = EXPRESSION". */
static cavum_status read_link(study_reader *r, const cavum_yaml_node *node) {
  char name[CAVUM_PLACE_NAME_SIZE];
  const char *equals = node->kind == CAVUM_YAML_NODE_SCALAR ? strchr(node->text, '=') : NULL;
  const char *end = equals;
  if (!equals || equals[1] == '=') {
    return cavum_yaml_reader_fail(r->reader, node, "linked: expected \"NAME = EXPRESSION\"");
  }
  while (end > node->text && end[-1] == ' ') end--;
  snprintf(name, sizeof name, "%.*s", (int)(end - node->text), node->text);
  cavum_status status = add_input(r, name, CAVUM_ROLE_LINKED, node);
  if (status != CAVUM_OK) return status;
  // The expression sees the inputs before it, not itself.
  cavum_input *input = &r->study->inputs[--r->study->num_inputs];
  cavum_error what;
  cavum_study_names names = {r->study, r->finder};
  status =
      cavum_expression_create(&input->expression, equals + 1, cavum_study_look_up, &names, &what);
  if (status != CAVUM_OK) return fail_at(r, node, status, &what);
  r->study->num_inputs++;
  return CAVUM_OK;
}

/** The held dimension has its place before the linked ones are read: they may depend on it. */
static cavum_status read_hold(study_reader *r) {
  hold_section section = {.from = NAN, .to = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(hold_fields);
  cavum_hold *hold = &r->study->hold;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_yaml_read_fields(&section, r->reader, r->top.hold, "hold", table));
  CAVUM_TRY(add_input(r, section.by, CAVUM_ROLE_HELD, r->top.hold));
  hold->input = r->study->num_inputs - 1;
  double base = r->study->inputs[hold->input].place.base;
  hold->frequency_hz = section.frequency_hz;
  hold->low = isnan(section.from) ? base - HOLD_REACH * fabs(base) : section.from;
  hold->high = isnan(section.to) ? base + HOLD_REACH * fabs(base) : section.to;
  if (!(hold->low < hold->high)) {
    return cavum_yaml_reader_fail(r->reader, r->top.hold,
                                  "hold: expected from < to around %g, found %g and %g", base,
                                  hold->low, hold->high);
  }
done:
  return status;
}

static cavum_status read_linked(study_reader *r) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.linked);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_status status = read_link(r, node);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status read_conditions(study_reader *r, const cavum_yaml_node *list) {
  cavum_study_names names = {r->study, r->finder};
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, list);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_error what;
    if (node->kind != CAVUM_YAML_NODE_SCALAR) {
      return cavum_yaml_reader_fail(r->reader, node, "limits.where: expected conditions");
    }
    cavum_status status = cavum_study_add_condition(&names, node->text, &what);
    if (status != CAVUM_OK) return fail_at(r, node, status, &what);
  }
  return CAVUM_OK;
}

static cavum_status read_limits(study_reader *r) {
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

static cavum_status read_aims(study_reader *r) {
  cavum_study_names names = {r->study, r->finder};
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.aims);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_error what;
    if (node->kind != CAVUM_YAML_NODE_SCALAR) {
      return cavum_yaml_reader_fail(r->reader, node,
                                    "aims: expected FIGURE, FIGURE:smaller or FIGURE:larger");
    }
    cavum_status status = cavum_study_add_aim(&names, node->text, &what);
    if (status != CAVUM_OK) return fail_at(r, node, status, &what);
  }
  return CAVUM_OK;
}

/** What a cell lacks for a figure; NULL: nothing. */
static const char *what_is_missing(const cavum_cell *cell, cavum_figure_id id) {
  bool tube = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE &&
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

/** Which figures to keep: those listed, or all that such a cell can have. */
static cavum_status read_figures(study_reader *r) {
  cavum_study *study = r->study;
  for (int id = 0; id < CAVUM_NUM_FIGURES && !r->top.figures; id++) {
    study->wanted[id] = what_is_missing(&study->cell, (cavum_figure_id)id) == NULL;
  }
  study->wanted[CAVUM_FIGURE_FREQUENCY] = true;
  if (!r->top.figures) return CAVUM_OK;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.figures);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    int id = 0;
    while (id < CAVUM_NUM_FIGURES && node->kind == CAVUM_YAML_NODE_SCALAR &&
           strcmp(cavum_figure_describe((cavum_figure_id)id).key, node->text) != 0) {
      id++;
    }
    if (id == CAVUM_NUM_FIGURES || node->kind != CAVUM_YAML_NODE_SCALAR) {
      return cavum_yaml_reader_fail(r->reader, node, "figures: '%s' is no figure",
                                    cavum_yaml_tree_excerpt(node->text).text);
    }
    const char *missing = what_is_missing(&study->cell, (cavum_figure_id)id);
    if (missing) {
      return cavum_yaml_reader_fail(r->reader, node, "figures: %s needs %s, which the cell has not",
                                    node->text, missing);
    }
    study->wanted[id] = true;
  }
  return CAVUM_OK;
}

static cavum_status read_mode(study_reader *r) {
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "mode");
  r->study->mode = r->top.mode - 1;
  if (r->top.mode <= r->study->cell.num_modes) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, node, "mode: the cell file asks for %d modes only",
                                r->study->cell.num_modes);
}

/** How many modes are kept beside that of the study; one is no more than without the key. */
static cavum_status read_modes(study_reader *r) {
  modes_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(modes_fields);
  if (!r->top.modes) return CAVUM_OK;
  cavum_status status = cavum_yaml_read_fields(&section, r->reader, r->top.modes, "modes", table);
  if (status != CAVUM_OK) return status;
  if (section.count > r->study->cell.num_modes) {
    return cavum_yaml_reader_fail(r->reader, r->top.modes,
                                  "modes.count: the cell file asks for %d modes only",
                                  r->study->cell.num_modes);
  }
  if (section.count < r->top.mode) {
    return cavum_yaml_reader_fail(r->reader, r->top.modes,
                                  "modes.count: 'mode: %d' is not among %d modes", r->top.mode,
                                  section.count);
  }
  r->study->num_modes = section.count > 1 ? section.count : 0;
  return CAVUM_OK;
}

/** What no shape of the study could have is refused here, not row by row. */
static cavum_status check_coupling(study_reader *r) {
  if (cavum_coupling_exists(&r->study->cell, r->study->coupling_of_inner_cell)) return CAVUM_OK;
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "coupling");
  return cavum_yaml_reader_fail(
      r->reader, node,
      "coupling: needs a two-ellipse cell whose ends are electric or magnetic planes; 'coupling: "
      "inner-cell' puts planes in the place of tubes");
}

/** Everything that needs the base cell. */
static cavum_status read_body(study_reader *r) {
  cavum_study *study = r->study;
  cavum_status status = CAVUM_OK;
  study->inputs = cavum_alloc(CAVUM_STUDY_MOST_INPUTS, sizeof *study->inputs);
  if (!study->inputs) return cavum_fail_memory(r->reader->error);
  study->coupling = r->top.coupling != COUPLING_NO;
  study->coupling_of_inner_cell = r->top.coupling == COUPLING_INNER_CELL;
  if (study->coupling) CAVUM_TRY(check_coupling(r));
  study->batch_size = r->top.batch;
  CAVUM_TRY(read_mode(r));
  CAVUM_TRY(read_modes(r));
  CAVUM_TRY(read_points(r));
  study->num_shapes = study->sampling.num_points;
  if (r->top.hold) CAVUM_TRY(read_hold(r));
  if (r->top.linked) CAVUM_TRY(read_linked(r));
  CAVUM_TRY(read_figures(r));
  if (r->top.limits) CAVUM_TRY(read_limits(r));
  if (r->top.aims) CAVUM_TRY(read_aims(r));
done:
  return status;
}

// The base cell of a program, by its text.
static cavum_status take_cell(cavum_study *study, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *text = NULL;
  CAVUM_TRY(cavum_cell_to_text(&text, cell, error));
  CAVUM_TRY(cavum_cell_read_text(&study->cell, text, strlen(text), study->cell_path, error));
done:
  free(text);
  return status;
}

static cavum_status read_base_cell(study_reader *r, const cavum_cell *cell) {
  cavum_study *study = r->study;
  if (!cell && !r->top.cell) {
    return cavum_yaml_reader_fail(r->reader, &r->reader->tree.nodes[0],
                                  "the file: missing key 'cell'");
  }
  study->title = cavum_copy_text(r->top.title);
  study->cell_path = cell ? cavum_copy_text("cell") : cavum_study_beside(study->path, r->top.cell);
  if (!study->title || !study->cell_path) return cavum_fail_memory(r->reader->error);
  if (cell) return take_cell(study, cell, r->reader->error);
  return cavum_cell_read_file(&study->cell, study->cell_path, r->reader->error);
}

cavum_status cavum_study_read(cavum_study *study, const cavum_cell *cell, cavum_error *error) {
  cavum_yaml_reader reader;
  cavum_place_finder finder = {0};
  study_reader r = {.reader = &reader, .study = study, .finder = &finder};
  cavum_yaml_table table = CAVUM_YAML_TABLE(top_fields);
  cavum_status status = cavum_yaml_reader_open(&reader, study->text, strlen(study->text),
                                               CAVUM_YAML_LARGEST_TEXT, study->path, error);
  if (status != CAVUM_OK) return status;
  r.top.mode = 1;
  r.top.batch = CAVUM_STUDY_DEFAULT_BATCH;
  study->hold.input = -1;
  study->limits = (cavum_limits){.wall_angle_rad = NAN, .iris_curvature_m = NAN};
  CAVUM_TRY(cavum_yaml_read_fields(&r.top, &reader, &reader.tree.nodes[0], "", table));
  CAVUM_TRY(read_base_cell(&r, cell));
  CAVUM_TRY(cavum_place_finder_open(&finder, &study->cell, study->cell_path, error));
  CAVUM_TRY(read_body(&r));
  study->base = cavum_place_make_base(&finder, study->cell_path);
done:
  cavum_place_finder_clear(&finder);
  cavum_yaml_reader_clear(&reader);
  return status;
}
