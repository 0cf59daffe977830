// SPDX-License-Identifier: GPL-3.0-or-later
// cavum mesh: the mesh of a cell as a MSH file, with a line about its quality.
#include <argp.h>
#include <stdio.h>

#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "store/written_json.h"

enum { LARGEST_ORDER = 10, USUAL_ORDER = 6 };

typedef struct mesh_arguments {
  cavum_common_arguments common;
  const char *cell_path;
  cavum_unit unit;
  double refinement;
  int order;
  bool binary;
} mesh_arguments;

enum { KEY_ORDER = 256, KEY_BINARY, KEY_UNIT, KEY_REFINE };

static const struct argp_option option_table[] = {
    {"output", 'o', "CELL.msh", 0, "File to write (required)", 0},
    {"order", KEY_ORDER, "N", 0,
     "Order of the elements, 1 to 10 (default: 6, or that of the mesh "
     "file)",
     0},
    {"unit", KEY_UNIT, "UNIT", 0, "Length unit of the file: m, cm, mm, um or inch (default mm)", 0},
    {"binary", KEY_BINARY, NULL, 0, "Write a binary file", 0},
    {"refine", KEY_REFINE, "X", 0, "Divide all element sizes by X, up to 64", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write size and quality of the mesh as JSON ('-': to standard output, in place of the lines)",
     0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print nothing", 0},
    {0},
};

static void set_unit(mesh_arguments *arguments, const char *value, struct argp_state *state) {
  static const char *const words[] = {"m", "cm", "mm", "um", "inch", NULL};
  int found = 0;
  cavum_option_set_word(&found, "unit", value, words, state);
  (void)cavum_unit_find_length(&arguments->unit, words[found]);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  mesh_arguments *arguments = state->input;
  switch (key) {
    case KEY_BINARY:
      arguments->binary = true;
      break;
    case KEY_ORDER:
      cavum_option_set_integer(&arguments->order, "order", value, 1, LARGEST_ORDER, state);
      break;
    case KEY_UNIT:
      set_unit(arguments, value, state);
      break;
    case KEY_REFINE:
      cavum_option_set_refinement(&arguments->refinement, value, state);
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->cell_path, value, "cell file", state);
      break;
    case ARGP_KEY_END:
      cavum_option_require(arguments->cell_path, "a cell file", state);
      cavum_option_require_output(arguments->common.output_path, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

static cavum_status check(const mesh_arguments *arguments, const cavum_cell *cell,
                          cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  if (arguments->refinement > 0.0 && cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_process_fail(error, CAVUM_ERR_USAGE, "--refine",
                              "the elements of a mesh file stay as they are");
  }
  cavum_outputs_read_all(&outputs, &cell->files);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_MESH, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_MESH_JSON, "--json", arguments->common.json_path);
  return cavum_outputs_check(&outputs, error);
}

static cavum_status make_mesh(cavum_mesh *mesh, cavum_mesh_notes *notes, const cavum_cell *cell,
                              double refinement, cavum_error *error) {
  cavum_contour contour = {0};
  cavum_mesh_options options = cavum_mesh_options_default();
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    if (!cell->mesh_data) return cavum_mesh_read_msh(mesh, notes, &cell->mesh, error);
    return cavum_mesh_read_msh_data(mesh, notes, &cell->mesh, cell->mesh_data, cell->mesh_size,
                                    error);
  }
  if (refinement > 0.0) options.refinement = refinement;
  options.stop = cavum_interrupt_came;
  cavum_status status = cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, error);
  if (status == CAVUM_OK) status = cavum_mesh_from_contour(mesh, &contour, &options, error);
  cavum_contour_clear(&contour);
  return status;
}

static void print_summary(const mesh_arguments *arguments, const cavum_mesh *mesh,
                          const cavum_mesh_notes *notes) {
  cavum_mesh_quality quality = cavum_mesh_measure_quality(mesh);
  printf("%s: %d elements, %d corners, lengths in %s\n", arguments->common.output_path,
         (int)mesh->num_elements, (int)mesh->num_vertices, cavum_unit_symbol(arguments->unit));
  printf("smallest over largest Jacobian %.3f (element %d), angles %.0f to %.0f degrees\n",
         quality.smallest_scaled_jacobian, (int)quality.worst_element,
         cavum_in_unit(quality.smallest_angle_rad, CAVUM_UNIT_DEGREE),
         cavum_in_unit(quality.largest_angle_rad, CAVUM_UNIT_DEGREE));
  if (notes->boundaries[0]) printf("%s\n", notes->boundaries);
  if (notes->kinks[0]) printf("%s\n", notes->kinks);
}

// As the file has it: that of the mesh itself, or of exact curves the usual one.
static int order_of(const mesh_arguments *arguments, const cavum_mesh *mesh) {
  if (arguments->order > 0) return arguments->order;
  return mesh->node_order > 0 ? mesh->node_order : USUAL_ORDER;
}

static cavum_status write_json(const mesh_arguments *arguments, const cavum_mesh *mesh,
                               const cavum_mesh_notes *notes, cavum_error *error) {
  char *json = NULL;
  const cavum_written_mesh written = {.path = arguments->common.output_path,
                                      .unit = cavum_unit_symbol(arguments->unit),
                                      .order = order_of(arguments, mesh),
                                      .binary = arguments->binary,
                                      .mesh = mesh,
                                      .notes = notes};
  if (!arguments->common.json_path) return CAVUM_OK;
  cavum_status status = cavum_written_mesh_json(&json, &written, error);
  return cavum_common_write_json(&arguments->common, status, &json, error);
}

static int run(const mesh_arguments *arguments) {
  cavum_error error = {0};
  cavum_cell cell;
  cavum_mesh mesh = {0};
  cavum_mesh_notes notes = {0};
  cavum_cell_set_defaults(&cell);
  cavum_status status = cavum_cell_read_file(&cell, arguments->cell_path, &error);
  status = cavum_input_explain(status, arguments->cell_path, CAVUM_INPUT_CELL, &error);
  if (status == CAVUM_OK) status = check(arguments, &cell, &error);
  if (status == CAVUM_OK) cavum_process_note(cell.note);
  cavum_interrupt_catch();
  if (status == CAVUM_OK) status = make_mesh(&mesh, &notes, &cell, arguments->refinement, &error);
  if (cavum_interrupt_came(NULL)) status = cavum_interrupt_check(&error);
  if (status == CAVUM_OK) {
    status = cavum_mesh_write_msh(&mesh, arguments->common.output_path, arguments->order,
                                  cavum_from_unit(1.0, arguments->unit), arguments->binary, &error);
  }
  if (status == CAVUM_OK) status = write_json(arguments, &mesh, &notes, &error);
  if (status == CAVUM_OK && cavum_common_prints(&arguments->common))
    print_summary(arguments, &mesh, &notes);
  cavum_mesh_clear(&mesh);
  cavum_cell_clear(&cell);
  return cavum_process_report(status, &error);
}

int cavum_cmd_mesh(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "CELL.yaml",
      .doc =
          "Writes the mesh of a cell as a MSH 4.1 file with curved elements and named boundaries."
          "\vExamples:\n"
          "  cavum mesh cell.yaml -o cell.msh\n"
          "  cavum mesh cell.yaml -o cell.msh --order 4 --unit m\n"
          "  cavum mesh cell.yaml -o cell.msh --json -\n\n"
          "Exit status: 0 done, 1 no valid mesh, 2 bad input or usage, 3 stopped by a signal, "
          "nothing written."};
  mesh_arguments arguments = {.unit = CAVUM_UNIT_MM};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  return run(&arguments);
}
