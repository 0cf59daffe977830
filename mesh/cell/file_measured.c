// SPDX-License-Identifier: GPL-3.0-or-later
// contour.kind: measured. Points of the wall and the drawing that they are held against.
#include "cell/file_measured.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "base/units.h"
#include "cavum/cell_text.h"
#include "cell/beside.h"
#include "cell/file.h"
#include "cell/keys.h"
#include "cell/limits.h"
#include "survey/planes.h"

/** The section before it is taken over. */
typedef struct measured_section {
  const char *kind, *file, *drawing;
  cavum_survey_settings settings;
  double probe_uncertainty_m;
  int motion;
} measured_section;

static const cavum_yaml_word motion_words[] = {{"shift and tilt", CAVUM_MOTION_SHIFT_AND_TILT},
                                               {"shift", CAVUM_MOTION_SHIFT},
                                               {"none", CAVUM_MOTION_NONE},
                                               {NULL, 0}};

static const cavum_yaml_field measured_fields[] = {
    {.key = "kind", .offset = offsetof(measured_section, kind), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "file",
     .offset = offsetof(measured_section, file),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "drawing",
     .offset = offsetof(measured_section, drawing),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "scatter_um",
     .offset = offsetof(measured_section, settings.scatter_m),
     .required = true,
     .unit = CAVUM_UNIT_UM,
     .low = 1e-4,
     .high = 1e4},
    {.key = "probe_radius_mm",
     .offset = offsetof(measured_section, settings.probe_radius_m),
     .unit = CAVUM_UNIT_MM,
     .high = 100.0},
    {.key = "probe_uncertainty_um",
     .offset = offsetof(measured_section, probe_uncertainty_m),
     .unit = CAVUM_UNIT_UM,
     .high = 1e4},
    {.key = "largest_gap_mm",
     .offset = offsetof(measured_section, settings.largest_gap_m),
     .unit = CAVUM_UNIT_MM,
     .low = 1e-3,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "best_fit",
     .offset = offsetof(measured_section, motion),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = motion_words},
};

void cavum_measured_cell_clear(cavum_measured_cell *measured) {
  if (measured->drawing.struct_size > 0) cavum_cell_clear(&measured->drawing);
  cavum_survey_clear(&measured->survey);
  *measured = (cavum_measured_cell){0};
}

// A drawing that is a measured cell in turn could be its own.
static cavum_status check_kind(const char *text, size_t length, const char *path,
                               cavum_error *error) {
  cavum_yaml_reader reader;
  int kind = 0;
  cavum_status status =
      cavum_yaml_reader_open(&reader, text, length, CAVUM_CELL_LARGEST_TEXT, path, error);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *file = &reader.tree.nodes[0];
  const cavum_yaml_node *contour = file->kind == CAVUM_YAML_NODE_MAPPING
                                       ? cavum_yaml_reader_child(&reader, file, "contour")
                                       : NULL;
  const cavum_yaml_node *node = contour && contour->kind == CAVUM_YAML_NODE_MAPPING
                                    ? cavum_yaml_reader_child(&reader, contour, "kind")
                                    : NULL;
  if (node) {
    status = cavum_yaml_read_word(&kind, &reader, node, "contour.kind", cavum_cell_contour_words);
  }
  if (status == CAVUM_OK && (kind == CAVUM_CELL_MEASURED || kind == CAVUM_CONTOUR_MESH_FILE)) {
    status = cavum_yaml_reader_fail(&reader, node,
                                    "contour.kind: a drawing is of kind two-ellipse or path");
  }
  cavum_yaml_reader_clear(&reader);
  return status;
}

static cavum_status read_drawing(cavum_cell *drawing, const char *path, cavum_error *error) {
  char *text = NULL;
  size_t length = 0;
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_CELL_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  status = check_kind(text, length, path, error);
  if (status == CAVUM_OK) status = cavum_cell_read_text(drawing, text, length, path, error);
  free(text);
  return status;
}

// A cell of another length is solved with the planes of its drawing: a line about that.
static cavum_status note_length(cavum_cell *cell, const cavum_survey *survey, cavum_error *error) {
  static const char *const names[2] = {"left", "right"};
  cavum_survey_ends ends;
  cavum_status status = cavum_survey_ends_find(&ends, survey, error);
  if (status != CAVUM_OK || !(ends.is_elsewhere[0] || ends.is_elsewhere[1])) return status;
  char text[160] = "";
  size_t used = 0;
  for (int k = 0; k < 2; k++) {
    if (!ends.is_elsewhere[k]) continue;
    used += (size_t)snprintf(text + used, sizeof text - used, "%s%+.3f +- %.3f mm at the %s end",
                             used > 0 ? ", " : "", cavum_in_mm(ends.plane[k].beyond_m),
                             cavum_in_mm(ends.plane[k].uncertainty_m), names[k]);
  }
  size_t before = strlen(cell->note);
  snprintf(cell->note + before, sizeof cell->note - before,
           "%sthe measured wall has ANOTHER LENGTH than its drawing: %s; it is solved with the "
           "planes of the drawing: change the half length of the drawing by that",
           before > 0 ? "; " : "", text);
  return CAVUM_OK;
}

// What is to be said of the points: a line for whatever solves the cell.
static void note_points(cavum_cell *cell, const cavum_survey_points *points,
                        const cavum_survey *survey) {
  size_t before = strlen(cell->note);
  if (points->num_repeated > 0) {
    snprintf(cell->note + before, sizeof cell->note - before,
             "%s%lld measured points repeat others exactly and were left out",
             before > 0 ? "; " : "", (long long)points->num_repeated);
  }
  before = strlen(cell->note);
  if (!(survey->scatter_m > survey->settings.scatter_m)) return;
  snprintf(cell->note + before, sizeof cell->note - before,
           "%sthe measured points scatter by %.3g um, more than the stated scatter_um of %.3g by "
           "more than chance explains: the scatter found is used",
           before > 0 ? "; " : "", cavum_in_unit(survey->found_scatter_m, CAVUM_UNIT_UM),
           cavum_in_unit(survey->settings.scatter_m, CAVUM_UNIT_UM));
}

// Fits the points of a file to the drawing and makes the contour.
static cavum_status fit(cavum_measured_cell *measured, cavum_cell *cell,
                        const measured_section *section, const char *path, cavum_error *error) {
  cavum_contour drawing = {0};
  cavum_survey_points points = {0};
  cavum_status status = cavum_survey_points_read(&points, path, error);
  if (status != CAVUM_OK) return status;
  CAVUM_TRY(cavum_cell_make_contour(&drawing, &measured->drawing, CAVUM_PART_WHOLE, error));
  CAVUM_TRY(
      cavum_survey_fit(&measured->survey, &drawing, &points, &section->settings, path, error));
  note_points(cell, &points, &measured->survey);
  CAVUM_TRY(cavum_survey_contour(&cell->path, &measured->survey, error));
  CAVUM_TRY(note_length(cell, &measured->survey, error));
done:
  cavum_contour_clear(&drawing);
  cavum_survey_points_clear(&points);
  return status;
}

static bool is_stated(const cavum_yaml_reader *reader, const char *key) {
  return cavum_yaml_reader_child(reader, &reader->tree.nodes[0], key) != NULL;
}

// The cell that was built is the one that was drawn, in all that its file does not state.
static void take_unstated(cavum_cell *cell, const cavum_cell *drawing,
                          const cavum_yaml_reader *reader) {
  if (!is_stated(reader, "beta")) cell->beta = drawing->beta;
  if (!is_stated(reader, "wall")) cell->wall = drawing->wall;
  if (!is_stated(reader, "modes")) {
    cell->num_modes = drawing->num_modes;
    cell->near_hz = drawing->near_hz;
  }
  if (!is_stated(reader, "accuracy")) {
    cell->accuracy_frequency = drawing->accuracy_frequency;
    cell->accuracy_other_figures = drawing->accuracy_other_figures;
  }
  if (cell->accelerating_length_m > 0.0) return;
  cell->accelerating_length_m = drawing->accelerating_length_m;
  if (cell->accelerating_length_m <= 0.0 && drawing->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    cell->accelerating_length_m = drawing->left.half_length_m + drawing->right.half_length_m;
  }
}

// ---- the text

/** Lines of a key at the top of a text. */
typedef struct lines {
  size_t from, to; /**< Bytes; the same: not there. */
} lines;

static lines lines_of(const char *text, const cavum_yaml_reader *reader, const char *key) {
  const cavum_yaml_node *file = &reader->tree.nodes[0];
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, file);
  while (node && strcmp(node->key, key) != 0) node = cavum_yaml_reader_next(reader, node);
  if (!node) return (lines){0, 0};
  const cavum_yaml_node *next = cavum_yaml_reader_next(reader, node);
  lines found = {cavum_yaml_tree_byte(text, node->key_line, 1), strlen(text)};
  if (next) found.to = cavum_yaml_tree_byte(text, next->key_line, 1);
  return found;
}

// A mapping whose keys share lines cannot be cut by lines.
static bool has_own_lines(const cavum_yaml_reader *reader) {
  int line = 0;
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, &reader->tree.nodes[0]);
  for (; node; node = cavum_yaml_reader_next(reader, node)) {
    if (node->key_line <= line || node->key_column != 1) return false;
    line = node->key_line;
  }
  return true;
}

// Whether a section of the written text is to stand in the made one: the contour, and what was
// taken from the drawing, but for defaults.
static bool is_taken(const cavum_cell *cell, const cavum_yaml_reader *reader, const char *key) {
  cavum_cell usual;
  if (strcmp(key, "contour") == 0) return true;
  if (is_stated(reader, key)) return false;
  cavum_cell_set_defaults(&usual);
  if (strcmp(key, "beta") == 0) return cell->beta != usual.beta;
  if (strcmp(key, "modes") == 0) {
    return cell->num_modes != usual.num_modes || cell->near_hz != usual.near_hz;
  }
  if (strcmp(key, "accuracy") == 0) {
    return cell->accuracy_frequency != usual.accuracy_frequency ||
           cell->accuracy_other_figures != usual.accuracy_other_figures;
  }
  return true;  // where it is not there, it has no lines
}

// The text with the sections of another one in place of its contour.
static char *put_sections(const cavum_cell *cell, const cavum_yaml_reader *reader,
                          const char *written, const cavum_yaml_reader *of_written) {
  static const char *const keys[] = {
      "beta", "accelerating_length_mm", "contour", "modes", "accuracy", "wall"};
  const char *text = cell->text;
  lines contour = lines_of(text, reader, "contour");
  char *made = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&made, &size);
  if (!out) return NULL;
  fwrite(text, 1, contour.from, out);
  if (contour.from > 0 && text[contour.from - 1] != '\n') fputc('\n', out);
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    lines section = lines_of(written, of_written, keys[i]);
    if (section.to == section.from || !is_taken(cell, reader, keys[i])) continue;
    fwrite(written + section.from, 1, section.to - section.from, out);
    if (written[section.to - 1] != '\n') fputc('\n', out);
  }
  fputs(text + contour.to, out);
  bool good = ferror(out) == 0;
  good = fclose(out) == 0 && good;
  if (good) return made;
  free(made);
  return NULL;
}

cavum_status cavum_measured_cell_write(cavum_cell *cell, const cavum_yaml_reader *reader) {
  char *written = NULL, *made = NULL;
  cavum_yaml_reader of_written = {0};
  cavum_cell bare = *cell;
  bare.text = NULL;
  cavum_status status = cavum_cell_to_text(&written, &bare, reader->error);
  if (status != CAVUM_OK) return status;
  CAVUM_TRY(cavum_yaml_reader_open(&of_written, written, strlen(written), CAVUM_CELL_LARGEST_TEXT,
                                   "cell", reader->error));
  if (has_own_lines(reader) && has_own_lines(&of_written)) {
    made = put_sections(cell, reader, written, &of_written);
  } else {
    made = cavum_copy_text(written);
  }
  if (!made) CAVUM_TRY(cavum_fail_memory(reader->error));
  free(cell->text);
  cell->text = made;
done:
  cavum_yaml_reader_clear(&of_written);
  free(written);
  return status;
}

cavum_status cavum_measured_cell_read(cavum_measured_cell *measured, cavum_cell *cell,
                                      const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *contour) {
  measured_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(measured_fields);
  cavum_error what = {0};
  const char *key = "drawing";
  cavum_status status = cavum_yaml_read_fields(&section, reader, contour, "contour", table);
  if (status != CAVUM_OK) return status;
  section.settings.motion = (cavum_survey_motion)section.motion;
  measured->probe_uncertainty_m = section.probe_uncertainty_m;
  char *drawing = cavum_cell_path_beside(reader->name, section.drawing);
  char *file = cavum_cell_path_beside(reader->name, section.file);
  status =
      drawing && file ? read_drawing(&measured->drawing, drawing, &what) : cavum_fail_memory(&what);
  if (status == CAVUM_OK) {
    key = "file";
    status = fit(measured, cell, &section, file, &what);
  }
  if (status == CAVUM_OK) status = cavum_files_add(&cell->files, drawing, &what);
  if (status == CAVUM_OK) status = cavum_files_add(&cell->files, file, &what);
  free(drawing);
  free(file);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(reader->error);
  if (status == CAVUM_OK) {
    take_unstated(cell, &measured->drawing, reader);
    return CAVUM_OK;
  }
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, contour, key);
  cavum_yaml_path place = cavum_yaml_path_join("contour", key);
  return cavum_yaml_reader_relay(reader, node, status, place.text, &what);
}
