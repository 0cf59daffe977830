// SPDX-License-Identifier: GPL-3.0-or-later
// Goal files: the inputs as of a study, then what is to be best and within which limits.
#include "optimum/goal_file.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "base/units.h"
#include "cell/cell.h"
#include "design/requirements.h"
#include "optimum/free_wall.h"
#include "optimum/mean.h"
#include "optimum/point.h"
#include "optimum/rates.h"
#include "optimum/reach.h"
#include "optimum/robust.h"
#include "scan/study_base.h"
#include "scan/study_inputs.h"
#include "scan/study_reader.h"
#include "scan/study_wanted.h"
#include "solve/figure_chain.h"
#include "solve/figure_policy.h"

enum {
  DEFAULT_STARTS = 4,
  MOST_STARTS = 1000,
  DEFAULT_SOLVES = 60,
  MOST_SOLVES = 10000,
  MOST_FRONT_POINTS = 10000
};
static const double DEFAULT_TOLERANCE = 1e-4;
// Of the straight wall where the goal says nothing.
static const double LEAST_STRAIGHT_MM = 1.0;

/** The top level of a goal file. */
typedef struct goal_top {
  const char *title, *cell;
  const cavum_yaml_node *cells, *vary, *linked, *hold, *minimise, *maximise, *limits, *steps,
      *front, *robust, *free_wall;
  int coupling, mode, starts, solves;
  double tolerance;
} goal_top;

static const cavum_yaml_field top_fields[] = {
    {.key = "title", .offset = offsetof(goal_top, title), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "cell", .offset = offsetof(goal_top, cell), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "cells", .offset = offsetof(goal_top, cells), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "vary",
     .offset = offsetof(goal_top, vary),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    {.key = "linked", .offset = offsetof(goal_top, linked), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "hold", .offset = offsetof(goal_top, hold), .kind = CAVUM_YAML_FIELD_MAPPING},
    // A key, or a mapping of keys and powers.
    {.key = "minimise", .offset = offsetof(goal_top, minimise), .kind = CAVUM_YAML_FIELD_NODE},
    {.key = "maximise", .offset = offsetof(goal_top, maximise), .kind = CAVUM_YAML_FIELD_NODE},
    {.key = "limits", .offset = offsetof(goal_top, limits), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "steps", .offset = offsetof(goal_top, steps), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "front", .offset = offsetof(goal_top, front), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "robust", .offset = offsetof(goal_top, robust), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "free_wall", .offset = offsetof(goal_top, free_wall), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "coupling",
     .offset = offsetof(goal_top, coupling),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = cavum_study_coupling_words},
    {.key = "mode",
     .offset = offsetof(goal_top, mode),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = 1000},
    {.key = "starts",
     .offset = offsetof(goal_top, starts),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = MOST_STARTS},
    {.key = "solves",
     .offset = offsetof(goal_top, solves),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = MOST_SOLVES},
    {.key = "tolerance", .offset = offsetof(goal_top, tolerance), .low = 1e-14, .high = 1},
};

/** Another cell that shares the dimensions. */
typedef struct cell_section {
  const char *cell;
  int coupling, mode;
} cell_section;

static const cavum_yaml_field cell_fields[] = {
    {.key = "cell",
     .offset = offsetof(cell_section, cell),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "coupling",
     .offset = offsetof(cell_section, coupling),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = cavum_study_coupling_words},
    {.key = "mode",
     .offset = offsetof(cell_section, mode),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = 1000},
};

/** What is to hold within the tolerances. */
typedef struct robust_section {
  int value;
  double deviations;
  const char *tolerances;
} robust_section;

static const cavum_yaml_word robust_words[] = {
    {"worst", CAVUM_ROBUST_WORST}, {"mean", CAVUM_ROBUST_MEAN}, {NULL, 0}};

static const cavum_yaml_field robust_fields[] = {
    {.key = "value",
     .offset = offsetof(robust_section, value),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = robust_words},
    {.key = "deviations", .offset = offsetof(robust_section, deviations), .low = 1e-6, .high = 100},
    {.key = "tolerances",
     .offset = offsetof(robust_section, tolerances),
     .kind = CAVUM_YAML_FIELD_TEXT},
};

/** A range of a front. */
typedef struct front_range {
  double from, to;
  int points;
} front_range;

static const cavum_yaml_field front_fields[] = {
    {.key = "from",
     .offset = offsetof(front_range, from),
     .required = true,
     .low = -1e15,
     .high = 1e15},
    {.key = "to",
     .offset = offsetof(front_range, to),
     .required = true,
     .low = -1e15,
     .high = 1e15},
    {.key = "points",
     .offset = offsetof(front_range, points),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .required = true,
     .low = 2,
     .high = MOST_FRONT_POINTS},
};

/** A goal that is being read. */
typedef struct goal_reader {
  cavum_goal *goal;
  const cavum_yaml_reader *reader;
  cavum_study_reader study;
  goal_top top;
} goal_reader;

static cavum_status read_base_cell(cavum_study_reader *r, const cavum_cell *cell) {
  cavum_status status = cavum_study_read_base(r, cell);
  if (status != CAVUM_OK || r->study->cell.kind != CAVUM_CONTOUR_MESH_FILE) return status;
  return cavum_yaml_reader_fail(r->reader, r->top.vary, "vary: a mesh file has no dimensions");
}

// The inputs of the goal in another cell, which must have each of them.
static cavum_status read_other_inputs(cavum_study_reader *other, const cavum_yaml_node *node) {
  cavum_place_finder finder = {0};
  cavum_study *study = other->study;
  cavum_error what = {0};
  cavum_yaml_reader reader = *other->reader;
  cavum_error *error = reader.error;
  cavum_status status = cavum_place_finder_open(&finder, &study->cell, study->cell_path, error);
  if (status != CAVUM_OK) return status;
  reader.error = &what;
  other->finder = &finder;
  other->reader = &reader;
  status = cavum_study_read_inputs(other);
  if (status == CAVUM_OK) study->base = cavum_place_make_base(&finder, study->cell_path);
  cavum_place_finder_clear(&finder);
  if (status == CAVUM_OK) return status;
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  return cavum_fail(error, status, "%s (in the cell '%s', which shares them)", what.message,
                    node->key);
}

static cavum_status read_other_cell(goal_reader *r, cavum_goal_cell *cell,
                                    const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  cell_section section = {.mode = 1};
  cavum_yaml_path path = cavum_yaml_path_join("cells", node->key);
  cavum_yaml_table table = CAVUM_YAML_TABLE(cell_fields);
  cavum_study *study = cell->study;
  cavum_study_reader other = {.reader = r->reader, .study = study, .top = r->study.top};
  if (strlen(node->key) >= sizeof cell->name || strchr(node->key, '.')) {
    return cavum_yaml_reader_fail(r->reader, node, "cells: expected a name of at most %d letters",
                                  (int)sizeof cell->name - 1);
  }
  snprintf(cell->name, sizeof cell->name, "%s", node->key);
  cavum_cell_set_defaults(&study->cell);
  study->table.block = -1;
  study->hold.input = -1;
  study->limits = (cavum_limits){.wall_angle_rad = NAN, .iris_curvature_m = NAN};
  study->path = cavum_copy_text(r->goal->study->path);
  if (!study->path) return cavum_fail_memory(r->reader->error);
  CAVUM_TRY(cavum_yaml_read_fields(&section, r->reader, node, path.text, table));
  other.top.cell = section.cell;
  other.top.coupling = section.coupling;
  other.top.mode = section.mode;
  CAVUM_TRY(read_base_cell(&other, NULL));
  CAVUM_TRY(cavum_files_add_all(&r->goal->study->files, &study->files, r->reader->error));
  CAVUM_TRY(cavum_study_read_coupling(&other));
  CAVUM_TRY(cavum_study_read_modes(&other));
  CAVUM_TRY(read_other_inputs(&other, node));
done:
  return status;
}

// Cells that share the dimensions of the first.
static cavum_status read_cells(goal_reader *r) {
  cavum_goal *goal = r->goal;
  if (!r->top.cells) return CAVUM_OK;
  if (r->top.cells->num_children >= CAVUM_GOAL_MOST_CELLS) {
    return cavum_yaml_reader_fail(r->reader, r->top.cells, "cells: more than %d",
                                  (int)CAVUM_GOAL_MOST_CELLS - 1);
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.cells);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_goal_cell *cell = &goal->cells[goal->num_cells];
    cell->study = cavum_alloc(1, sizeof *cell->study);
    if (!cell->study) return cavum_fail_memory(r->reader->error);
    goal->num_cells++;
    cavum_status status = read_other_cell(r, cell, node);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Variables are the varied inputs and the held one.
static cavum_status take_variables(goal_reader *r) {
  cavum_goal *goal = r->goal;
  const cavum_study *study = goal->study;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.vary);
  goal->num_variables = study->sampling.num_axes + (study->hold.input >= 0);
  if (goal->num_variables > CAVUM_GOAL_MOST_VARIABLES) {
    return cavum_yaml_reader_fail(r->reader, r->top.vary, "vary: more than %d dimensions",
                                  (int)CAVUM_GOAL_MOST_VARIABLES);
  }
  for (int j = 0; j < study->sampling.num_axes;
       j++, node = cavum_yaml_reader_next(r->reader, node)) {
    const cavum_axis *axis = &study->sampling.axes[j];
    if (axis->list) {
      return cavum_yaml_reader_fail(r->reader, node, "vary.%s: expected {from: A, to: B}",
                                    node->key);
    }
    goal->low[j] = axis->low;
    goal->high[j] = axis->high;
  }
  if (study->hold.input >= 0) {
    goal->low[study->hold.input] = study->hold.low;
    goal->high[study->hold.input] = study->hold.high;
  }
  for (int k = 0; k < goal->num_variables * goal->num_cells; k++) {
    int j = k % goal->num_variables;
    const cavum_place *place = &goal->cells[k / goal->num_variables].study->inputs[j].place;
    if (goal->low[j] >= place->low && goal->high[j] <= place->high) continue;
    return cavum_yaml_reader_fail(r->reader, r->top.vary,
                                  "%s from %g to %g: within %g to %g was expected", place->name,
                                  goal->low[j], goal->high[j], place->low, place->high);
  }
  return CAVUM_OK;
}

// The cell of a key "NAME.FIGURE", and the figure behind the dot.
static const char *find_cell(int *cell, const cavum_goal *goal, const char *key) {
  const char *dot = strchr(key, '.');
  *cell = 0;
  for (int c = 1; dot && c < goal->num_cells; c++) {
    const char *name = goal->cells[c].name;
    if (strncmp(name, key, strlen(name)) != 0 || key + strlen(name) != dot) continue;
    *cell = c;
    return dot + 1;
  }
  return key;
}

static cavum_status take_quantity(cavum_goal_quantity **taken, goal_reader *r,
                                  const cavum_yaml_node *node, const char *key,
                                  const char *section) {
  cavum_goal *goal = r->goal;
  cavum_goal_quantity *q = &goal->quantities[goal->num_quantities];
  int most =
      strcmp(section, "limits") == 0 ? (int)CAVUM_GOAL_MOST_QUANTITIES : (int)CAVUM_GOAL_MOST_TERMS;
  if (goal->num_quantities >= most) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: too many figures", section);
  }
  const char *figure = find_cell(&q->cell, goal, key);
  bool is_path = cavum_goal_study_of(goal, q)->cell.kind == CAVUM_CONTOUR_PATH;
  q->is_of_wall = is_path && cavum_requirement_find_radius(&q->what, figure);
  cavum_status status = CAVUM_OK;
  if (!q->is_of_wall) {
    status = cavum_requirement_take_key(&q->what, r->reader, node, figure, section);
  }
  if (status != CAVUM_OK) return status;
  bool of_splines =
      q->what.kind == CAVUM_REQUIRE_WALL_ANGLE || q->what.kind == CAVUM_REQUIRE_APERTURE_RADIUS;
  q->is_of_wall = q->is_of_wall || (is_path && of_splines);
  if (q->is_of_wall && strcmp(section, "limits") != 0) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: %s of a path goes with limits alone",
                                  section, key);
  }
  if (strlen(key) >= sizeof q->what.key) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: '%s' is longer than any key", section, key);
  }
  snprintf(q->what.key, sizeof q->what.key, "%s", key);
  if (q->what.kind == CAVUM_REQUIRE_K_CC && !cavum_goal_study_of(goal, q)->coupling) {
    return cavum_yaml_reader_fail(r->reader, node,
                                  "%s: k_cc needs 'coupling: yes', or 'inner-cell'", section);
  }
  if (q->what.kind == CAVUM_REQUIRE_FIGURE && !cavum_figure_chain_of(q->what.figure, 0.0).known) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: %s is not differentiated", section, key);
  }
  goal->num_quantities++;
  *taken = q;
  return CAVUM_OK;
}

// A key, or a mapping of keys and powers.
static cavum_status read_objective(goal_reader *r, const cavum_yaml_node *section, const char *name,
                                   double sign) {
  cavum_goal_quantity *q = NULL;
  if (!section) return CAVUM_OK;
  if (section->kind == CAVUM_YAML_NODE_SCALAR) {
    cavum_status status = take_quantity(&q, r, section, section->text, name);
    if (status == CAVUM_OK) q->weight = sign;
    return status;
  }
  if (section->kind != CAVUM_YAML_NODE_MAPPING || section->num_children < 1) {
    return cavum_yaml_reader_fail(r->reader, section,
                                  "%s: expected a figure, or {FIGURE: POWER, ...}", name);
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, section);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    double power = 0.0;
    cavum_status status = take_quantity(&q, r, node, node->key, name);
    if (status == CAVUM_OK) {
      status = cavum_yaml_read_number(&power, r->reader, node,
                                      cavum_yaml_path_join(name, node->key).text);
    }
    if (status != CAVUM_OK) return status;
    if (!(power > 0.0)) {
      return cavum_yaml_reader_fail(r->reader, node, "%s.%s: expected a power above 0", name,
                                    node->key);
    }
    q->weight = sign * power;
  }
  return CAVUM_OK;
}

static cavum_status read_objectives(goal_reader *r) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_node *root = &r->reader->tree.nodes[0];
  if (!r->top.minimise && !r->top.maximise) {
    return cavum_yaml_reader_fail(r->reader, root, "expected minimise or maximise with a figure");
  }
  CAVUM_TRY(read_objective(r, r->top.minimise, "minimise", 1.0));
  CAVUM_TRY(read_objective(r, r->top.maximise, "maximise", -1.0));
  r->goal->num_terms = r->goal->num_quantities;
done:
  return status;
}

// The aperture of two ellipses is a dimension: bounds and a limit that exclude each other are told
// before any solve.
static cavum_status check_aperture(const goal_reader *r, const cavum_goal_quantity *q,
                                   const cavum_yaml_node *node) {
  const cavum_goal *goal = r->goal;
  if (q->what.kind != CAVUM_REQUIRE_APERTURE_RADIUS || q->is_of_wall) return CAVUM_OK;
  for (int j = 0; j < goal->num_variables; j++) {
    if (strcmp(goal->study->inputs[j].place.name, "contour.iris_radius_mm") != 0) continue;
    if (q->what.least <= goal->high[j] && q->what.most >= goal->low[j]) continue;
    return cavum_yaml_reader_fail(
        r->reader, node, "limits.%s: no shape keeps it, since iris_radius_mm goes from %g to %g",
        node->key, goal->low[j], goal->high[j]);
  }
  return CAVUM_OK;
}

// So is a limit on the frequency that the held one breaks.
static cavum_status check_held(const goal_reader *r, const cavum_goal_quantity *q,
                               const cavum_yaml_node *node) {
  const cavum_study *study = r->goal->study;
  bool of_frequency = q->what.kind == CAVUM_REQUIRE_FIGURE && q->cell == 0 &&
                      q->what.figure == CAVUM_FIGURE_FREQUENCY;
  if (!of_frequency || study->hold.input < 0) return CAVUM_OK;
  double held = study->hold.frequency_hz / q->what.unit_si;
  if (q->what.least <= held && q->what.most >= held) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, node,
                                "limits.%s: no shape keeps it, since the frequency is held at "
                                "%.10g MHz",
                                node->key, cavum_in_mhz(study->hold.frequency_hz));
}

static cavum_status read_limits(goal_reader *r) {
  cavum_goal_quantity *q = NULL;
  if (!r->top.limits) return CAVUM_OK;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.limits);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_status status = take_quantity(&q, r, node, node->key, "limits");
    if (status == CAVUM_OK) {
      status = cavum_requirement_take_bounds(&q->what, r->reader, node, "limits", true);
    }
    if (status != CAVUM_OK) return status;
    bool least = isfinite(q->what.least) && !isfinite(q->what.most);
    bool positive = q->what.kind == CAVUM_REQUIRE_WALL_ANGLE || q->what.least > 0.0;
    if (q->is_of_wall && !(least && positive)) {
      return cavum_yaml_reader_fail(r->reader, node, "limits.%s: of a path, expected {least: A}%s",
                                    node->key, positive ? "" : " above 0");
    }
    status = check_aperture(r, q, node);
    if (status == CAVUM_OK) status = check_held(r, q, node);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Which way a figure is better; false: neither.
static bool is_better_smaller(bool *smaller, const cavum_requirement *what) {
  cavum_figure_better better = CAVUM_BETTER_LARGER;  // openings, angles and couplings
  if (what->kind == CAVUM_REQUIRE_FIGURE) better = cavum_figure_policy_of(what->figure)->better;
  *smaller = better == CAVUM_BETTER_SMALLER;
  return better != CAVUM_BETTER_NEITHER;
}

static cavum_status read_axis(goal_reader *r, const cavum_yaml_node *node) {
  cavum_goal *goal = r->goal;
  front_range range = {0};
  cavum_goal_quantity *q = NULL;
  cavum_goal_axis *axis = &goal->axes[goal->num_axes];
  cavum_yaml_path path = cavum_yaml_path_join("front", node->key);
  cavum_yaml_table table = CAVUM_YAML_TABLE(front_fields);
  cavum_status status = cavum_yaml_read_fields(&range, r->reader, node, path.text, table);
  axis->quantity = goal->num_quantities;
  if (status == CAVUM_OK) status = take_quantity(&q, r, node, node->key, "limits");
  if (status != CAVUM_OK) return status;
  if (q->cell > 0 || q->is_of_wall) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: expected a figure of the first cell%s",
                                  path.text, q->is_of_wall ? ", not of splines" : "");
  }
  if (!is_better_smaller(&axis->smaller, &q->what)) {
    return cavum_yaml_reader_fail(r->reader, node,
                                  "%s: neither less nor more of it is better: a limit was expected",
                                  path.text);
  }
  if (!(range.from < range.to)) {
    return cavum_yaml_reader_fail(r->reader, node, "%s: expected from < to, found %g and %g",
                                  path.text, range.from, range.to);
  }
  axis->loose = axis->smaller ? range.to : range.from;
  axis->tight = axis->smaller ? range.from : range.to;
  axis->num_points = range.points;
  q->what.least = axis->smaller ? -HUGE_VAL : axis->loose;
  q->what.most = axis->smaller ? axis->loose : HUGE_VAL;
  goal->num_axes++;
  return CAVUM_OK;
}

// One figure against one or two others: each of them is a limit that moves.
static cavum_status read_front(goal_reader *r) {
  cavum_goal *goal = r->goal;
  const cavum_yaml_node *front = r->top.front;
  int64_t points = 1;
  if (!front) return CAVUM_OK;
  if (front->num_children < 1 || front->num_children > CAVUM_FRONT_MOST_AXES) {
    return cavum_yaml_reader_fail(r->reader, front, "front: expected one or two figures");
  }
  if (goal->num_terms != 1 || goal->quantities[0].cell > 0) {
    return cavum_yaml_reader_fail(
        r->reader, front, "front: expected one figure to minimise or maximise, of the first cell");
  }
  if (r->top.steps) {
    return cavum_yaml_reader_fail(r->reader, r->top.steps, "steps: not with a front");
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, front);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_status status = read_axis(r, node);
    if (status != CAVUM_OK) return status;
    points *= goal->axes[goal->num_axes - 1].num_points;
  }
  if (points <= MOST_FRONT_POINTS) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, front, "front: more than %d points",
                                (int)MOST_FRONT_POINTS);
}

// The frequency that is held is a limit as well, the last.
static cavum_status add_hold(goal_reader *r) {
  cavum_goal_quantity *q = NULL;
  const cavum_study *study = r->goal->study;
  if (study->hold.input < 0) return CAVUM_OK;
  cavum_status status = take_quantity(&q, r, r->top.hold, "frequency_MHz", "limits");
  if (status == CAVUM_OK) q->what.least = q->what.most = study->hold.frequency_hz / q->what.unit_si;
  return status;
}

// Shapes of two ellipses end where the straight wall vanishes: a limit keeps the search from there.
static cavum_status add_straight_length(goal_reader *r) {
  cavum_goal *goal = r->goal;
  cavum_goal_quantity *q = NULL;
  if (goal->study->cell.kind != CAVUM_CONTOUR_TWO_ELLIPSE) return CAVUM_OK;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_requirement *what = &goal->quantities[i].what;
    bool own = goal->quantities[i].cell == 0 && what->kind == CAVUM_REQUIRE_STRAIGHT_LENGTH &&
               what->least > 0.0;
    if (own && isfinite(what->least)) return CAVUM_OK;
  }
  cavum_status status = take_quantity(&q, r, r->top.vary, "straight_length_mm", "limits");
  if (status != CAVUM_OK) return status;
  q->what.least = LEAST_STRAIGHT_MM;
  q->what.most = HUGE_VAL;
  q->is_default = true;
  return CAVUM_OK;
}

// Which way a figure is worse: of terms by their power, of limits by their one side.
static void find_worse(cavum_goal_quantity *q) {
  bool least = isfinite(q->what.least), most = isfinite(q->what.most);
  q->worse = q->weight > 0.0   ? 1
             : q->weight < 0.0 ? -1
             : most && !least  ? 1
             : least && !most  ? -1
                               : 0;
}

// Deviations belong to the worst case alone.
static cavum_status read_deviations(goal_reader *r, const robust_section *section) {
  bool mean = section->value == CAVUM_ROBUST_MEAN;
  r->goal->robust = (cavum_robust_kind)section->value;
  r->goal->deviations = section->deviations;
  if (mean && section->deviations > 0.0) {
    return cavum_yaml_reader_fail(r->reader, r->top.robust,
                                  "robust.deviations: a mean has none, it is for value: worst");
  }
  if (mean || section->deviations > 0.0) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, r->top.robust,
                                "robust: expected deviations, or value: mean");
}

// Limits and objective in the worst case, or their means. In the worst case a limit with two sides
// has no worse one, but for a value that is held exactly, which is tuned in the end.
static cavum_status read_robust(goal_reader *r) {
  cavum_goal *goal = r->goal;
  robust_section section = {.value = CAVUM_ROBUST_WORST};
  cavum_yaml_table table = CAVUM_YAML_TABLE(robust_fields);
  if (!r->top.robust) return CAVUM_OK;
  if (r->top.front)
    return cavum_yaml_reader_fail(r->reader, r->top.robust, "robust: not with a front");
  cavum_status status = cavum_yaml_read_fields(&section, r->reader, r->top.robust, "robust", table);
  if (status == CAVUM_OK) status = read_deviations(r, &section);
  if (status != CAVUM_OK) return status;
  bool mean = goal->robust == CAVUM_ROBUST_MEAN;
  for (int i = 0; i < goal->num_quantities; i++) {
    cavum_goal_quantity *q = &goal->quantities[i];
    find_worse(q);
    q->by_places = mean || q->worse > 0;
    if (q->is_of_wall) {
      return cavum_yaml_reader_fail(r->reader, r->top.robust, "robust: not with %s of a path",
                                    q->what.key);
    }
    if (mean || q->worse != 0 || q->what.least == q->what.most) continue;
    return cavum_yaml_reader_fail(r->reader, r->top.robust,
                                  "robust: the limit on %s has two sides: expected one",
                                  q->what.key);
  }
  status = cavum_robust_read(goal, section.tolerances, r->reader->error);
  if (status != CAVUM_OK || !mean) return status;
  return cavum_mean_draws_make(&goal->mean_draws, goal->tolerances, r->reader->error);
}

static cavum_status read_steps(goal_reader *r) {
  cavum_goal *goal = r->goal;
  if (!r->top.steps) return CAVUM_OK;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.steps);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_error what;
    cavum_place place;
    int j = 0;
    cavum_status status = cavum_place_find(&place, r->study.finder, node->key, &what);
    if (status != CAVUM_OK) return cavum_study_reader_fail(&r->study, node, status, &what);
    while (j < goal->num_variables && strcmp(goal->study->inputs[j].place.name, place.name) != 0) {
      j++;
    }
    if (j == goal->num_variables) {
      return cavum_yaml_reader_fail(r->reader, node, "steps.%s: it is not varied", node->key);
    }
    if (j == goal->study->hold.input) {
      return cavum_yaml_reader_fail(r->reader, node, "steps.%s: it holds the frequency", node->key);
    }
    status = cavum_yaml_read_number(&goal->step[j], r->reader, node, node->key);
    if (status != CAVUM_OK) return status;
    if (!(goal->step[j] > 0.0)) {
      return cavum_yaml_reader_fail(r->reader, node, "steps.%s: expected a step above 0",
                                    node->key);
    }
    if (goal->step[j] <= goal->high[j] - goal->low[j]) continue;
    return cavum_yaml_reader_fail(r->reader, node,
                                  "steps.%s: a step of %.9g is more than its range, %.9g to %.9g",
                                  node->key, goal->step[j], goal->low[j], goal->high[j]);
  }
  return CAVUM_OK;
}

/** Everything that needs the base cell. */
static cavum_status read_body(goal_reader *r) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_study_read_coupling(&r->study));
  CAVUM_TRY(cavum_study_read_modes(&r->study));
  CAVUM_TRY(cavum_study_read_inputs(&r->study));
  CAVUM_TRY(read_cells(r));
  CAVUM_TRY(take_variables(r));
  CAVUM_TRY(read_objectives(r));
  CAVUM_TRY(read_limits(r));
  CAVUM_TRY(read_front(r));
  CAVUM_TRY(add_straight_length(r));
  CAVUM_TRY(add_hold(r));
  CAVUM_TRY(read_steps(r));
  CAVUM_TRY(read_robust(r));
  CAVUM_TRY(cavum_free_wall_read(r->goal, r->reader));
done:
  return status;
}

static void hand_over(goal_reader *r) {
  cavum_goal *goal = r->goal;
  goal->num_starts = r->top.starts;
  goal->most_solves = r->top.solves;
  goal->tolerance = r->top.tolerance;
  r->study.top = (cavum_study_top){.title = r->top.title,
                                   .cell = r->top.cell,
                                   .coupling = r->top.coupling,
                                   .vary = r->top.vary,
                                   .linked = r->top.linked,
                                   .hold = r->top.hold,
                                   .mode = r->top.mode,
                                   .starts = 1 + CAVUM_GOAL_TRIES * r->top.starts};
}

// Tolerances of both halves say nothing of halves that differ: asked of a shape that the goal may
// come to.
static cavum_status check_tolerances(const goal_reader *r) {
  static const double AWAY = 0.01;
  const cavum_goal *goal = r->goal;
  double place[CAVUM_GOAL_MOST_VARIABLES], values[CAVUM_STUDY_MOST_INPUTS], value;
  cavum_cell cell;
  bool owned = false;
  // Each dimension at a part of its range of its own, so that none agree by chance.
  for (int j = 0; j < goal->num_variables; j++) place[j] = 0.37 + AWAY * j;
  cavum_optimum_inputs(values, goal, place);
  cavum_status status = cavum_study_apply(&cell, &owned, goal->study, values, NULL);
  if (status != CAVUM_OK) return status == CAVUM_ERR_MEMORY ? status : CAVUM_OK;  // no shape there
  for (int t = 0; t < goal->tolerances->count && status == CAVUM_OK; t++) {
    const char *key = goal->tolerances->list[t].key;
    if (cavum_cell_get(&value, &cell, key, NULL) == CAVUM_OK) continue;
    status = cavum_yaml_reader_fail(r->reader, r->top.robust,
                                    "robust: the tolerance of %s is of both halves, which differ "
                                    "in it: expected left.%s, right.%s, or both",
                                    key, key, key);
  }
  if (owned) cavum_cell_clear(&cell);
  return status;
}

// Where a limit stands: among the limits or the figures of a front; what is there by default, with
// the dimensions.
static const cavum_yaml_node *find_limit(const goal_reader *r, const char *key) {
  const cavum_yaml_node *sections[] = {r->top.limits, r->top.front};
  for (int k = 0; k < 2; k++) {
    const cavum_yaml_node *node =
        sections[k] ? cavum_yaml_reader_first(r->reader, sections[k]) : NULL;
    for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
      if (strcmp(node->key, key) == 0) return node;
    }
  }
  return r->top.vary;
}

// Limits on the shape that no shape within the bounds keeps are told before any solve.
static cavum_status check_reach(const goal_reader *r) {
  const cavum_goal *goal = r->goal;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    cavum_reach reach;
    if (q->is_of_wall || !cavum_optimum_is_of_shape(q)) continue;
    cavum_status status = cavum_reach_find(&reach, goal, i, r->reader->error);
    if (status != CAVUM_OK) return status;
    if (!reach.any || reach.excess <= CAVUM_REACH_BROKEN) continue;
    return cavum_yaml_reader_fail(
        r->reader, find_limit(r, q->what.key),
        "limits.%s: no shape within the bounds keeps it%s, the nearest has %.6g", q->what.key,
        q->is_default ? " (at least 1 mm where a goal does not say)" : "",
        reach.value / q->what.unit_si);
  }
  return CAVUM_OK;
}

cavum_status cavum_goal_read(cavum_goal *goal, const cavum_cell *cell, cavum_error *error) {
  cavum_study *study = goal->study;
  cavum_yaml_reader reader;
  cavum_place_finder finder = {0};
  goal_reader r = {.goal = goal,
                   .reader = &reader,
                   .study = {.reader = &reader, .study = study, .finder = &finder},
                   .top = {.mode = 1,
                           .starts = DEFAULT_STARTS,
                           .solves = DEFAULT_SOLVES,
                           .tolerance = DEFAULT_TOLERANCE}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(top_fields);
  cavum_status status = cavum_yaml_reader_open(&reader, study->text, strlen(study->text),
                                               CAVUM_YAML_LARGEST_TEXT, study->path, error);
  if (status != CAVUM_OK) return status;
  study->hold.input = -1;
  study->limits = (cavum_limits){.wall_angle_rad = NAN, .iris_curvature_m = NAN};
  CAVUM_TRY(cavum_yaml_read_fields(&r.top, &reader, &reader.tree.nodes[0], "", table));
  hand_over(&r);
  CAVUM_TRY(read_base_cell(&r.study, cell));
  CAVUM_TRY(cavum_place_finder_open(&finder, &study->cell, study->cell_path, error));
  CAVUM_TRY(read_body(&r));
  study->base = cavum_place_make_base(&finder, study->cell_path);
  if (goal->tolerances) CAVUM_TRY(check_tolerances(&r));
  CAVUM_TRY(check_reach(&r));
done:
  cavum_place_finder_clear(&finder);
  cavum_yaml_reader_clear(&reader);
  return status;
}
