// SPDX-License-Identifier: GPL-3.0-or-later
// Step files: a cell, a wanted frequency, and the steps in their order.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "base/units.h"
#include "cell/beside.h"
#include "steps/chain.h"
#include "steps/step_entry.h"
#include "yaml/fields.h"

static const double LARGEST_MHZ = 1e7, LARGEST_KHZ = 1e9, LARGEST_ALLOWANCE_MM = 1e3;

/** The file, before it is taken over. */
typedef struct file_section {
  const char *title, *cell;
  int mode;
  const cavum_yaml_node *drawing, *target, *steps, *dumb_bell;
} file_section;

enum { MOST_MODES = 200 };

static const cavum_yaml_field file_fields[] = {
    {.key = "title", .offset = offsetof(file_section, title), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "cell",
     .offset = offsetof(file_section, cell),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "mode",
     .offset = offsetof(file_section, mode),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = MOST_MODES},
    {.key = "drawing", .offset = offsetof(file_section, drawing), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "target", .offset = offsetof(file_section, target), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "dumb_bell",
     .offset = offsetof(file_section, dumb_bell),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "steps",
     .offset = offsetof(file_section, steps),
     .kind = CAVUM_YAML_FIELD_LIST,
     .required = true},
};

static cavum_status read_drawing(cavum_steps *steps, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node) {
  static const cavum_yaml_field fields[] = {
      {.key = "equator_allowance_mm",
       .offset = offsetof(cavum_steps, equator_allowance_m),
       .unit = CAVUM_UNIT_MM,
       .high = LARGEST_ALLOWANCE_MM},
      {.key = "iris_allowance_mm",
       .offset = offsetof(cavum_steps, iris_allowance_m),
       .unit = CAVUM_UNIT_MM,
       .high = LARGEST_ALLOWANCE_MM},
      {.key = "uncertainty_kHz",
       .offset = offsetof(cavum_steps, drawing_uncertainty_hz),
       .unit = CAVUM_UNIT_KHZ,
       .high = LARGEST_KHZ}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  if (!node) return CAVUM_OK;
  steps->drawing_uncertainty_stated =
      cavum_yaml_reader_child(reader, node, "uncertainty_kHz") != NULL;
  return cavum_yaml_read_fields(steps, reader, node, "drawing", table);
}

static cavum_status read_target(cavum_steps *steps, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node) {
  static const cavum_yaml_field fields[] = {{.key = "frequency_MHz",
                                             .offset = offsetof(cavum_steps, target_hz),
                                             .required = true,
                                             .unit = CAVUM_UNIT_MHZ,
                                             .low = 1e-3,
                                             .high = LARGEST_MHZ},
                                            {.key = "tolerance_kHz",
                                             .offset = offsetof(cavum_steps, target_tolerance_hz),
                                             .unit = CAVUM_UNIT_KHZ,
                                             .low = 1e-6,
                                             .high = LARGEST_KHZ}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  if (!node) return CAVUM_OK;
  steps->target_line = node->line;
  steps->target_column = node->column;
  return cavum_yaml_read_fields(steps, reader, node, "target", table);
}

static const cavum_yaml_word half_words[] = {
    {"left", CAVUM_HALF_LEFT}, {"right", CAVUM_HALF_RIGHT}, {NULL, 0}};

// The half is measured in its lowest mode: 0 and pi are those of the first mode of the cell.
static cavum_status read_dumb_bell(cavum_steps *steps, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node) {
  static const cavum_yaml_field fields[] = {{.key = "half",
                                             .offset = offsetof(cavum_steps, half),
                                             .kind = CAVUM_YAML_FIELD_WORD,
                                             .required = true,
                                             .words = half_words}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status =
      node ? cavum_yaml_read_fields(steps, reader, node, "dumb_bell", table) : CAVUM_OK;
  if (status != CAVUM_OK || !node || steps->mode == 0) return status;
  return cavum_yaml_reader_fail(reader, node, "dumb_bell: goes with mode: 1");
}

static cavum_status read_list(cavum_steps *steps, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *list) {
  if (list->num_children < 1 || list->num_children > CAVUM_STEPS_MOST - 1) {
    return cavum_yaml_reader_fail(reader, list, "steps: expected 1 to %d steps, found %d",
                                  CAVUM_STEPS_MOST - 1, (int)list->num_children);
  }
  steps->steps = cavum_alloc(list->num_children, sizeof *steps->steps);
  if (!steps->steps) return cavum_fail_memory(reader->error);
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  for (int i = 0; node; i++, node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("steps", i + 1);
    cavum_status status = cavum_step_entry_read(&steps->steps[i], reader, node, path.text, i + 1);
    if (status != CAVUM_OK) return status;
    steps->num_steps = i + 1;
  }
  return CAVUM_OK;
}

// A name is what --behind and measurements of others are about: it means one step.
static cavum_status check_names(const cavum_steps *steps, const cavum_yaml_reader *reader) {
  for (int i = 1; i < steps->num_steps; i++) {
    const cavum_chain_step *step = &steps->steps[i];
    for (int k = 0; k < i; k++) {
      if (strcmp(steps->steps[k].name, step->name) != 0) continue;
      return cavum_yaml_tree_fail(reader->error, CAVUM_ERR_INPUT, reader->name, step->line,
                                  step->column,
                                  "steps[%d]: steps[%d] has the name '%s' already, expected "
                                  "another name for each step",
                                  i + 1, k + 1, step->name);
    }
  }
  return CAVUM_OK;
}

static cavum_status read_cell(cavum_steps *steps, const cavum_yaml_reader *reader,
                              const char *cell) {
  cavum_error what = {0};
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, &reader->tree.nodes[0], "cell");
  steps->cell_path = cavum_cell_path_beside(reader->name, cell);
  if (!steps->cell_path) return cavum_fail_memory(reader->error);
  cavum_status status = cavum_cell_read_file(&steps->cell, steps->cell_path, &what);
  if (status != CAVUM_OK) return cavum_yaml_reader_relay(reader, node, status, "cell", &what);
  status = cavum_files_add_all(&steps->files, &steps->cell.files, reader->error);
  if (status != CAVUM_OK) return status;
  if (!steps->title[0] && steps->cell.title) {
    free(steps->title);  // A chain without a title has that of its cell.
    steps->title = cavum_copy_text(steps->cell.title);
    if (!steps->title) return cavum_fail_memory(reader->error);
  }
  if (steps->mode >= steps->cell.num_modes) {
    return cavum_yaml_reader_fail(reader, node,
                                  "mode: the cell asks for %d mode%s, expected at most that",
                                  steps->cell.num_modes, steps->cell.num_modes > 1 ? "s" : "");
  }
  return CAVUM_OK;
}

// The iris of a half with a tube is no end that could be cut or have an allowance.
static cavum_status check_irises(const cavum_steps *steps, const cavum_yaml_reader *reader) {
  const cavum_cell *cell = &steps->cell;
  bool left = cell->left_end.kind == CAVUM_END_TUBE, right = cell->right_end.kind == CAVUM_END_TUBE;
  if (cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE || !(left || right)) return CAVUM_OK;
  for (int i = 0; i < steps->num_steps; i++) {
    const cavum_chain_step *step = &steps->steps[i];
    bool loses = step->kind == CAVUM_STEP_TRIM || step->kind == CAVUM_STEP_WELD;
    bool here = step->place == CAVUM_AT_IRIS || (step->place == CAVUM_AT_LEFT_IRIS && left) ||
                (step->place == CAVUM_AT_RIGHT_IRIS && right);
    if (!loses || !here) continue;
    return cavum_yaml_tree_fail(reader->error, CAVUM_ERR_GEOMETRY, reader->name, step->line,
                                step->column,
                                "%s: a tube follows this iris, and there is no end that could be "
                                "cut: trim or weld at the equator%s",
                                step->name,
                                left && right ? ", and state a shorter tube in the cell file"
                                : left        ? " or the right iris, and state a shorter tube in "
                                                "the cell file"
                                              : " or the left iris, and state a shorter tube in "
                                                "the cell file");
  }
  if (steps->iris_allowance_m <= 0.0) return CAVUM_OK;
  return cavum_yaml_reader_fail(
      reader, cavum_yaml_reader_child(reader, &reader->tree.nodes[0], "drawing"),
      "drawing.iris_allowance_mm: a tube follows an iris: leave the allowance out, and state the "
      "full length of the tube in the cell file");
}

// Parts of the length of the cell between its irises. Force over stiffness is linear elasticity:
// metals yield at strains well below 1 %, and a cell that bends springs back from little more. A
// stretch that stays scales all lengths along the axis alike, which metal that flows by a tenth
// does not.
static const double MOST_ELASTIC = 0.02, MOST_STRETCH = 0.1;

// `cell_m`: the length before the step.
static cavum_status check_stretch(const cavum_chain_step *step, double cell_m,
                                  const cavum_yaml_reader *reader) {
  bool preload = step->kind == CAVUM_STEP_PRELOAD, stretch = step->kind == CAVUM_STEP_STRETCH;
  double most = preload ? MOST_ELASTIC : MOST_STRETCH, part = step->amount_m.value / cell_m;
  if (!(preload || stretch) || !(cell_m > 0.0) || fabs(part) <= most) return CAVUM_OK;
  return cavum_yaml_tree_fail(
      reader->error, CAVUM_ERR_GEOMETRY, reader->name, step->line, step->column,
      "%s: a change of length of %.4g mm is %.3g %% of the %.5g mm of the cell, expected at most "
      "%.3g %%: %s",
      step->name, cavum_in_mm(step->amount_m.value), cavum_in_unit(part, CAVUM_UNIT_PERCENT),
      cavum_in_mm(cell_m), cavum_in_unit(most, CAVUM_UNIT_PERCENT),
      preload ? "force over stiffness is linear elasticity, and metal yields before"
              : "lengths along the axis are scaled alike, as no cell is that is stretched so far");
}

// The tubes of a cell are stiff: what pulls at their flanges stretches the cell between its irises.
// All of it is scaled, as much more as it is longer: the fields in the tubes are too weak to
// matter.
static cavum_status set_whole_over_cell(cavum_steps *steps, const cavum_yaml_reader *reader) {
  const cavum_cell *cell = &steps->cell;
  const cavum_end *ends[] = {&cell->left_end, &cell->right_end};
  double cell_m = cell->left.half_length_m + cell->right.half_length_m, tubes_m = 0.0;
  int planes = 0;
  for (int i = 0; i < 2; i++) {
    if (ends[i]->kind == CAVUM_END_TUBE) tubes_m += ends[i]->tube_length_m;
    planes += ends[i]->kind != CAVUM_END_TUBE;
  }
  // A cell that was moved before knows its whole length alone.
  bool known = cell_m > 0.0;
  if (cell->kind == CAVUM_CONTOUR_PATH) cell_m = cavum_contour_length_m(&cell->path) - tubes_m;
  cell_m += 2.0 * steps->equator_allowance_m + planes * steps->iris_allowance_m;
  for (int i = 0; i < steps->num_steps; i++) {
    cavum_chain_step *step = &steps->steps[i];
    bool one = step->place == CAVUM_AT_LEFT_IRIS || step->place == CAVUM_AT_RIGHT_IRIS;
    cavum_status status = check_stretch(step, cell_m, reader);
    if (status != CAVUM_OK) return status;
    step->whole_over_cell = known && cell_m > 0.0 ? 1.0 + tubes_m / cell_m : 1.0;
    if (step->kind == CAVUM_STEP_TRIM || step->kind == CAVUM_STEP_WELD) {
      cell_m -= (one ? 1.0 : 2.0) * step->amount_m.value;
    } else if (step->kind == CAVUM_STEP_STRETCH || step->kind == CAVUM_STEP_PRELOAD) {
      double longer = 1.0 + step->plastic_share * step->amount_m.value / cell_m;
      cell_m *= longer;
      tubes_m *= longer;
    }
  }
  return CAVUM_OK;
}

// What is between plates ends at its iris, and is measured where it is asked for.
static cavum_status check_halves(const cavum_steps *steps, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *dumb_bell) {
  const cavum_cell *cell = &steps->cell;
  const cavum_end *end = steps->half == CAVUM_HALF_LEFT ? &cell->left_end : &cell->right_end;
  const cavum_end *other = steps->half == CAVUM_HALF_LEFT ? &cell->right_end : &cell->left_end;
  for (int i = 0; i < steps->num_steps && !dumb_bell; i++) {
    const cavum_chain_step *step = &steps->steps[i];
    if (isnan(step->measured_zero_hz) && isnan(step->measured_pi_hz)) continue;
    return cavum_yaml_tree_fail(reader->error, CAVUM_ERR_INPUT, reader->name, step->line,
                                step->column,
                                "%s: measured_zero_MHz and measured_pi_MHz go with dumb_bell: "
                                "{half: left} or {half: right}",
                                step->name);
  }
  if (!dumb_bell || cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE || end->kind != CAVUM_END_TUBE) {
    return CAVUM_OK;
  }
  return cavum_yaml_reader_fail(reader, dumb_bell, "dumb_bell: a tube follows this iris: %s",
                                other->kind == CAVUM_END_TUBE
                                    ? "only halves without a tube are measured between plates"
                                : steps->half == CAVUM_HALF_LEFT ? "the other one is half: right"
                                                                 : "the other one is half: left");
}

static cavum_status read_file(cavum_steps *steps, const cavum_yaml_reader *reader) {
  file_section section = {.mode = 1};
  cavum_yaml_table table = CAVUM_YAML_TABLE(file_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, &reader->tree.nodes[0], "", table);
  if (status != CAVUM_OK) return status;
  steps->mode = section.mode - 1;
  steps->title = cavum_copy_text(section.title);
  steps->path = cavum_copy_text(reader->name);
  if (!steps->title || !steps->path) return cavum_fail_memory(reader->error);
  status = read_drawing(steps, reader, section.drawing);
  if (status == CAVUM_OK) status = read_target(steps, reader, section.target);
  if (status == CAVUM_OK) status = read_dumb_bell(steps, reader, section.dumb_bell);
  if (status == CAVUM_OK) status = read_list(steps, reader, section.steps);
  if (status == CAVUM_OK) status = check_names(steps, reader);
  if (status == CAVUM_OK) status = read_cell(steps, reader, section.cell);
  if (status == CAVUM_OK) status = check_irises(steps, reader);
  if (status == CAVUM_OK) status = check_halves(steps, reader, section.dumb_bell);
  return status == CAVUM_OK ? set_whole_over_cell(steps, reader) : status;
}

void cavum_steps_close(cavum_steps **steps) {
  if (!steps || !*steps) return;
  free((*steps)->path);
  free((*steps)->title);
  free((*steps)->cell_path);
  free((*steps)->steps);
  cavum_files_clear(&(*steps)->files);
  cavum_cell_clear(&(*steps)->cell);
  free(*steps);
  *steps = NULL;
}

const char *cavum_steps_cell_path(const cavum_steps *steps) {
  return steps ? steps->cell_path : "";
}

const cavum_files *cavum_steps_files(const cavum_steps *steps) {
  return steps ? &steps->files : NULL;
}

cavum_status cavum_steps_open_text(cavum_steps **steps, const char *text, size_t length,
                                   const char *name, cavum_error *error) {
  if (!steps || !text) return cavum_fail_null(error, __func__);
  cavum_yaml_reader reader = {0};
  cavum_status status = CAVUM_OK;
  cavum_steps *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  cavum_cell_set_defaults(&made->cell);
  made->target_hz = made->target_tolerance_hz = NAN;
  CAVUM_TRY(cavum_yaml_reader_open(&reader, text, length, CAVUM_YAML_LARGEST_TEXT,
                                   name ? name : "text", error));
  CAVUM_TRY(read_file(made, &reader));
  *steps = made;
  made = NULL;
done:
  cavum_yaml_reader_clear(&reader);
  cavum_steps_close(&made);
  return status;
}

cavum_status cavum_steps_open(cavum_steps **steps, const char *path, cavum_error *error) {
  if (!steps || !path) return cavum_fail_null(error, __func__);
  char *text = NULL;
  size_t length = 0;
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_YAML_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  cavum_steps *opened = NULL;
  CAVUM_TRY(cavum_steps_open_text(&opened, text, length, path, error));
  CAVUM_TRY(cavum_files_add(&opened->files, path, error));
  *steps = opened;
  opened = NULL;
done:
  cavum_steps_close(&opened);
  free(text);
  return status;
}
