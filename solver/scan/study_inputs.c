// SPDX-License-Identifier: GPL-3.0-or-later
// What a study sets: what varies and how it is sampled, what is held, what follows.
#include "scan/study_inputs.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "base/sha256.h"
#include "base/units.h"
#include "scan/study_conditions.h"
#include "scan/study_reader.h"

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

// A range of a held dimension that the file does not give: this much to either side of the base.
static const double HOLD_REACH = 0.3;

// What is no number of a shape, or has a name that no column of a result can have.
static cavum_status check_name(cavum_study_reader *r, const cavum_yaml_node *node,
                               const char *name) {
  static const char *const sections[] = {"requirements.", "tolerances."};
  for (size_t i = 0; i < sizeof sections / sizeof *sections; i++) {
    if (strncmp(name, sections[i], strlen(sections[i])) != 0) continue;
    return cavum_yaml_reader_fail(
        r->reader, node, "'%s' is no number of a shape: %.*s stay as the cell file has them", name,
        (int)strlen(sections[i]) - 1, sections[i]);
  }
  if (!strchr(name, '/')) return CAVUM_OK;
  return cavum_yaml_reader_fail(
      r->reader, node, "'%s': no column of a result can have a name with '/': rename the region",
      name);
}

/** Adds an input under a name that is not yet in use. */
static cavum_status add_input(cavum_study_reader *r, const char *name, cavum_input_role role,
                              const cavum_yaml_node *node) {
  cavum_study *study = r->study;
  cavum_error what;
  cavum_place place;
  if (study->num_inputs == CAVUM_STUDY_MOST_INPUTS) {
    return cavum_yaml_reader_fail(r->reader, node, "more than %d inputs", CAVUM_STUDY_MOST_INPUTS);
  }
  cavum_status status = cavum_place_find(&place, r->finder, name, &what);
  if (status != CAVUM_OK) return cavum_study_reader_fail(r, node, status, &what);
  status = check_name(r, node, place.name);
  if (status != CAVUM_OK) return status;
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

static cavum_status read_axis_list(cavum_axis *axis, cavum_study_reader *r,
                                   const cavum_yaml_node *list, const char *path) {
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

static cavum_status read_axis(cavum_axis *axis, cavum_study_reader *r, const cavum_yaml_node *node,
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
        grid ? "is missing: how many values the grid takes" : "is for sampling.kind: grid only");
  }
  *axis = (cavum_axis){.low = range.from, .high = range.to, .num_points = range.points};
  return CAVUM_OK;
}

static cavum_status read_vary(cavum_study_reader *r) {
  cavum_status status = CAVUM_OK;
  cavum_sampling *sampling = &r->study->sampling;
  const cavum_yaml_node *vary = r->top.vary;
  sampling->axes = cavum_alloc(vary->num_children, sizeof *sampling->axes);
  if (!sampling->axes) return cavum_fail_memory(r->reader->error);
  if (vary->num_children < 1)
    return cavum_yaml_reader_fail(r->reader, vary, "vary: nothing varies");
  if (vary->num_children > CAVUM_STUDY_MOST_AXES) {
    return cavum_yaml_reader_fail(r->reader, vary, "vary: more than %d dimensions",
                                  CAVUM_STUDY_MOST_AXES);
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, vary);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    CAVUM_TRY(add_input(r, node->key, CAVUM_STUDY_VARIED, node));
    cavum_yaml_path path = cavum_yaml_path_join("vary", node->key);
    cavum_axis *axis = &sampling->axes[sampling->num_axes++];
    CAVUM_TRY(read_axis(axis, r, node, path.text));
  }
done:
  return status;
}

static cavum_status read_sampling(cavum_study_reader *r) {
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
                                  grid ? "is for the other kinds: a grid counts its own"
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

static cavum_status read_table(cavum_study_reader *r) {
  cavum_study *study = r->study;
  cavum_status status = CAVUM_OK;
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "table");
  char *path = cavum_study_beside(study->path, r->top.table);
  if (!path) return cavum_fail_memory(r->reader->error);
  CAVUM_TRY(cavum_shape_table_open(&study->table, path, r->reader->error));
  CAVUM_TRY(cavum_files_add(&study->files, path, r->reader->error));
  study->sampling.kind = CAVUM_SAMPLING_TABLE;
  study->sampling.num_points = study->table.num_rows;
  for (int i = 0; i < study->table.num_columns; i++) {
    CAVUM_TRY(add_input(r, study->table.names[i], CAVUM_STUDY_VARIED, node));
  }
done:
  free(path);
  return status;
}

// Values of one name, a shape each: a column of the table.
static cavum_status read_shapes_of(cavum_study_reader *r, const cavum_yaml_node *list, int column) {
  cavum_shape_table *table = &r->study->table;
  cavum_yaml_path path = cavum_yaml_path_join("shapes", list->key);
  cavum_axis axis = {0};
  if (list->kind != CAVUM_YAML_NODE_LIST || list->num_children != table->num_rows) {
    return cavum_yaml_reader_fail(r->reader, list, "%s: expected a list of %lld numbers%s",
                                  path.text, (long long)table->num_rows,
                                  column > 0 ? ", as many as of the others" : "");
  }
  cavum_status status = add_input(r, list->key, CAVUM_STUDY_VARIED, list);
  if (status == CAVUM_OK) status = read_axis_list(&axis, r, list, path.text);
  for (int64_t i = 0; i < table->num_rows && status == CAVUM_OK; i++) {
    table->values[i * table->num_columns + column] = axis.list[i];
  }
  free(axis.list);
  return status;
}

// Shapes that stand in the study file itself: a list of values for each name, a shape an entry.
static cavum_status read_shapes(cavum_study_reader *r) {
  cavum_study *study = r->study;
  cavum_shape_table *table = &study->table;
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.shapes);
  if (!node || node->num_children < 1) {
    return cavum_yaml_reader_fail(r->reader, r->top.shapes,
                                  "shapes: expected {NAME: [VALUE, ...]}");
  }
  table->num_columns = r->top.shapes->num_children;
  table->num_rows = node->num_children;
  table->values = cavum_alloc(table->num_rows * table->num_columns, sizeof *table->values);
  if (!table->values) return cavum_fail_memory(r->reader->error);
  for (int i = 0; node; i++, node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_status status = read_shapes_of(r, node, i);
    if (status != CAVUM_OK) return status;
  }
  size_t size = (size_t)(table->num_rows * table->num_columns) * sizeof *table->values;
  cavum_sha256(table->digest, table->values, size);
  study->sampling.kind = CAVUM_SAMPLING_TABLE;
  study->sampling.num_points = table->num_rows;
  return CAVUM_OK;
}

/** What varies: a table, shapes of the file itself, or axes with a way to sample them. */
static cavum_status read_points(cavum_study_reader *r) {
  const cavum_yaml_node *root = &r->reader->tree.nodes[0];
  cavum_status status = CAVUM_OK;
  if ((r->top.table != NULL) + (r->top.vary != NULL) + (r->top.shapes != NULL) != 1) {
    return cavum_yaml_reader_fail(r->reader, root,
                                  "expected exactly one of vary, shapes and table");
  }
  if (!r->top.vary && r->top.sampling) {
    return cavum_yaml_reader_fail(r->reader, r->top.sampling, "sampling: is for vary only");
  }
  if (r->top.table) return read_table(r);
  if (r->top.shapes) return read_shapes(r);
  if (r->top.starts > 0) {
    r->study->sampling.kind = CAVUM_SAMPLING_SOBOL;
    r->study->sampling.num_points = r->top.starts;
  } else {
    CAVUM_TRY(read_sampling(r));
  }
  CAVUM_TRY(read_vary(r));
  cavum_error what;
  status = cavum_sampling_prepare(&r->study->sampling, &what);
  if (status != CAVUM_OK) status = cavum_study_reader_fail(r, r->top.vary, status, &what);
done:
  return status;
}

/** A place that is set, and who may have used it before. */
typedef struct set_place {
  const cavum_place_finder *finder;
  const cavum_place *place;
} set_place;

// A cavum_expression_lookup that refuses the name of a place, or of a half that follows it.
static cavum_status refuse_set_place(cavum_expression_name *found, const char *name,
                                     const void *data, cavum_error *error) {
  const set_place *set = data;
  cavum_place used;
  cavum_status status = cavum_place_find(&used, set->finder, name, error);
  if (status != CAVUM_OK) return status;
  *found = (cavum_expression_name){.index = -1, .constant = used.base};
  if (strcmp(used.name, set->place->name) != 0 && !cavum_place_is_half_of(&used, set->place)) {
    return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "an expression above uses '%s': set it before that",
                    name);
}

// What the last input sets must not be in an expression of those before it, which had another value
// for it.
static cavum_status check_not_used_before(cavum_study_reader *r, const cavum_yaml_node *node) {
  const cavum_study *study = r->study;
  set_place set = {r->finder, &study->inputs[study->num_inputs - 1].place};
  for (int i = 0; i < study->num_inputs - 1; i++) {
    cavum_error what;
    cavum_expression *same = NULL;
    if (!study->inputs[i].expression) continue;
    cavum_status status = cavum_expression_create(
        &same, cavum_expression_text(study->inputs[i].expression), refuse_set_place, &set, &what);
    cavum_expression_destroy(&same);
    if (status != CAVUM_OK) return cavum_study_reader_fail(r, node, status, &what);
  }
  return CAVUM_OK;
}

/** One line "NAME = EXPRESSION". */
static cavum_status read_link(cavum_study_reader *r, const cavum_yaml_node *node) {
  char name[CAVUM_PLACE_NAME_SIZE];
  const char *equals = node->kind == CAVUM_YAML_NODE_SCALAR ? strchr(node->text, '=') : NULL;
  const char *end = equals;
  if (!equals || equals[1] == '=') {
    return cavum_yaml_reader_fail(r->reader, node, "linked: expected \"NAME = EXPRESSION\"");
  }
  while (end > node->text && end[-1] == ' ') end--;
  bool quoted = end - node->text > 1 && strchr("\"'", *node->text) && end[-1] == *node->text;
  snprintf(name, sizeof name, "%.*s", (int)(end - node->text) - 2 * quoted, node->text + quoted);
  // The expression sees the inputs before it: by its own name what it would be without this line.
  cavum_error what;
  cavum_expression *expression = NULL;
  cavum_study_names names = {r->study, r->finder};
  const char *right = equals + 1 + strspn(equals + 1, " ");
  cavum_status status =
      cavum_expression_create(&expression, right, cavum_study_look_up, &names, &what);
  if (status != CAVUM_OK) return cavum_study_reader_fail(r, node, status, &what);
  status = add_input(r, name, CAVUM_STUDY_LINKED, node);
  if (status == CAVUM_OK) status = check_not_used_before(r, node);
  if (status != CAVUM_OK) {
    cavum_expression_destroy(&expression);
    return status;
  }
  r->study->inputs[r->study->num_inputs - 1].expression = expression;
  return CAVUM_OK;
}

/** The held dimension has its place before the linked ones are read: they may depend on it. */
static cavum_status read_hold(cavum_study_reader *r) {
  hold_section section = {.from = NAN, .to = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(hold_fields);
  cavum_hold *hold = &r->study->hold;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_yaml_read_fields(&section, r->reader, r->top.hold, "hold", table));
  CAVUM_TRY(add_input(r, section.by, CAVUM_STUDY_HELD, r->top.hold));
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

static cavum_status read_linked(cavum_study_reader *r) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(r->reader, r->top.linked);
  for (; node; node = cavum_yaml_reader_next(r->reader, node)) {
    cavum_status status = read_link(r, node);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

cavum_status cavum_study_read_inputs(cavum_study_reader *r) {
  cavum_status status = CAVUM_OK;
  r->study->inputs = cavum_alloc(CAVUM_STUDY_MOST_INPUTS, sizeof *r->study->inputs);
  if (!r->study->inputs) return cavum_fail_memory(r->reader->error);
  CAVUM_TRY(read_points(r));
  r->study->num_shapes = r->study->sampling.num_points;
  if (r->top.hold) CAVUM_TRY(read_hold(r));
  if (r->top.linked) CAVUM_TRY(read_linked(r));
done:
  return status;
}
