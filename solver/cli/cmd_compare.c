// SPDX-License-Identifier: GPL-3.0-or-later
// cavum compare: two results side by side, as a table and as a picture.
#include <argp.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/compare_tests.h"
#include "cli/input_kind.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "format/quantity.h"

typedef struct compare_arguments {
  const char *paths[CAVUM_COMPARE_TESTS_MOST], *picture_path, *json_path, *csv_path;
  int modes[2], num_paths;
  bool overwrite, has_width;
  cavum_picture_options options;
} compare_arguments;

// One of the two results with its cell, as far as the file tells.
typedef struct compared_result {
  cavum_result *result;
  cavum_stored_origin origin;
  cavum_cell cell;
  bool has_cell;
} compared_result;

enum { MOST_MODES = 100000 };
enum { KEY_MODE = 256, KEY_MODE_B, KEY_WIDTH, KEY_JSON, KEY_CSV };

static const struct argp_option option_table[] = {
    {"output", 'o', "FILE", 0,
     "Also draw both over each other: .png, .svg or .pdf; of cold tests also a report (.html) or "
     "everything (.hdf)",
     0},
    {"mode", KEY_MODE, "N", 0, "Mode of both results, from 1 (default 1)", 0},
    {"mode-b", KEY_MODE_B, "N", 0, "Mode of the second result, if it is another", 0},
    {"width", KEY_WIDTH, "PIXELS", 0, "Width of a PNG, 200 to 16000 (default 1600)", 0},
    {"json", KEY_JSON, "FILE", 0, "Cold tests: what changed, and the ratios, as JSON", 0},
    {"csv", KEY_CSV, "FILE", 0, "Cold tests: the ratios of Q0 as CSV", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {0},
};

// Two results, or two and more test files.
static void check_paths(const compare_arguments *arguments, struct argp_state *state) {
  int tests = 0;
  for (int i = 0; i < arguments->num_paths; i++)
    tests += cavum_compare_is_test(arguments->paths[i]);
  if (tests > 0 && (tests < arguments->num_paths || tests < 2)) {
    argp_error(state, "expected two or more test files of cold tests, or two result files");
  }
  if (tests == 0 && arguments->num_paths != 2) {
    if (arguments->num_paths > 2) {
      argp_error(state, "%s: expected two files only", arguments->paths[2]);
    }
    argp_error(state, "expected two result files");
  }
  if (tests > 0 && (arguments->modes[0] || arguments->modes[1])) {
    argp_error(state, "--mode: cold tests have none");
  }
  if (tests == 0 && (arguments->json_path || arguments->csv_path)) {
    argp_error(state, "--%s: goes with cold tests only", arguments->json_path ? "json" : "csv");
  }
}

static error_t parse(int key, char *value, struct argp_state *state) {
  compare_arguments *arguments = state->input;
  switch (key) {
    case 'o':
      arguments->picture_path = value;
      break;
    case KEY_MODE:
    case KEY_MODE_B:
      cavum_option_set_integer(&arguments->modes[key == KEY_MODE_B],
                               key == KEY_MODE ? "mode" : "mode-b", value, 1, MOST_MODES, state);
      break;
    case KEY_WIDTH:
      cavum_option_set_width(&arguments->options.width_px, value, state);
      arguments->has_width = true;
      break;
    case KEY_JSON:
      cavum_option_set_file(&arguments->json_path, value, state);
      break;
    case KEY_CSV:
      cavum_option_set_file(&arguments->csv_path, value, state);
      break;
    case CAVUM_OPTION_OVERWRITE:
      arguments->overwrite = true;
      break;
    case ARGP_KEY_ARG:
      if (arguments->num_paths == CAVUM_COMPARE_TESTS_MOST) {
        argp_error(state, "%s: at most %d tests were expected", value, CAVUM_COMPARE_TESTS_MOST);
      }
      arguments->paths[arguments->num_paths++] = value;
      break;
    case ARGP_KEY_END:
      check_paths(arguments, state);
      if (arguments->has_width && !arguments->picture_path) {
        argp_error(state, "--width: goes with -o only");
      }
      break;
    default:
      return ARGP_ERR_UNKNOWN;
  }
  return 0;
}

static cavum_status open_side(compared_result *side, const char *path, int mode,
                              cavum_error *error) {
  cavum_status status = cavum_store_read_result(&side->result, &side->origin, path, error);
  status = cavum_input_explain(status, path, CAVUM_INPUT_RESULT, error);
  if (status != CAVUM_OK) return status;
  if (mode > side->result->num_modes) {
    snprintf(error->message, sizeof error->message, "%.400s: no mode %d, it has %d", path, mode,
             side->result->num_modes);
    return error->status = CAVUM_ERR_INPUT;
  }
  // Dimensions are shown when the stored text can still be read; a mesh file may be gone.
  const char *text = side->origin.cell_text;
  side->has_cell = cavum_cell_read_text(&side->cell, text, strlen(text), path, NULL) == CAVUM_OK;
  return CAVUM_OK;
}

static void print_dimension(const char *name, double a_m, double b_m) {
  if (isnan(a_m) && isnan(b_m)) return;
  double difference = cavum_in_mm(b_m - a_m);
  printf("  %-37s %12.6g %12.6g %12.4g mm\n", name, cavum_in_mm(a_m), cavum_in_mm(b_m),
         fabs(difference) < 1e-9 ? 0.0 : difference);
}

static void print_half(const char *half, const cavum_half_cell *a, const cavum_half_cell *b) {
  const struct {
    const char *name;
    double a, b;
  } rows[] = {{"half length", a->half_length_m, b->half_length_m},
              {"iris radius", a->iris_radius_m, b->iris_radius_m},
              {"equator radius", a->equator_radius_m, b->equator_radius_m},
              {"equator ellipse, axial", a->equator_axial_m, b->equator_axial_m},
              {"equator ellipse, radial", a->equator_radial_m, b->equator_radial_m},
              {"iris ellipse, axial", a->iris_axial_m, b->iris_axial_m},
              {"iris ellipse, radial", a->iris_radial_m, b->iris_radial_m}};
  char name[64];
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    snprintf(name, sizeof name, "%s, %s", half, rows[i].name);
    print_dimension(name, rows[i].a, rows[i].b);
  }
}

static void find_extent(double *length_m, double *radius_m, const cavum_result *result) {
  double low = HUGE_VAL, high = -HUGE_VAL;
  *radius_m = 0.0;
  for (int i = 0; i < result->mesh.num_vertices; i++) {
    cavum_point point = result->mesh.vertices[i];
    low = fmin(low, point.z_m);
    high = fmax(high, point.z_m);
    *radius_m = fmax(*radius_m, point.r_m);
  }
  *length_m = (high - low) * (result->half_model ? 2.0 : 1.0);
}

static void print_dimensions(const compared_result *a, const compared_result *b) {
  double length[2], radius[2];
  printf("Dimensions %41s %12s %12s\n", "A", "B", "B - A");
  find_extent(&length[0], &radius[0], a->result);
  find_extent(&length[1], &radius[1], b->result);
  print_dimension("length of the model", length[0], length[1]);
  print_dimension("largest radius of a mesh corner", radius[0], radius[1]);
  print_dimension("accelerating length", a->result->accelerating_length.value_m,
                  b->result->accelerating_length.value_m);
  bool both = a->has_cell && b->has_cell && a->cell.kind == CAVUM_CONTOUR_TWO_ELLIPSE &&
              b->cell.kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  if (!both) return;
  print_half("left", &a->cell.left, &b->cell.left);
  print_half("right", &a->cell.right, &b->cell.right);
}

static void format_figure(char text[CAVUM_QUANTITY_SIZE], const cavum_figure *figure,
                          cavum_unit conversion) {
  if (figure->state == CAVUM_FIGURE_PRESENT) {
    cavum_quantity_format(text, cavum_in_unit(figure->value, conversion),
                          cavum_in_unit(figure->uncertainty, conversion));
  } else {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%s",
             figure->state == CAVUM_FIGURE_UNBOUNDED ? "unbounded" : "-");
  }
}

// Difference, and how it stands against the two uncertainties together, which are bounds.
static void print_figure(cavum_figure_id id, const cavum_figure *a, const cavum_figure *b) {
  char texts[3][CAVUM_QUANTITY_SIZE] = {"", "", "-"}, relative[32] = "-", against[32] = "-";
  if (a->state == CAVUM_FIGURE_ABSENT && b->state == CAVUM_FIGURE_ABSENT) return;
  const cavum_figure *shown = a->state == CAVUM_FIGURE_PRESENT ? a : b;
  cavum_quantity_unit unit = cavum_quantity_unit_of(id, shown->value);
  format_figure(texts[0], a, unit.conversion);
  format_figure(texts[1], b, unit.conversion);
  if (a->state == CAVUM_FIGURE_PRESENT && b->state == CAVUM_FIGURE_PRESENT) {
    double difference = b->value - a->value, sum = a->uncertainty + b->uncertainty;
    cavum_quantity_format(texts[2], cavum_in_unit(difference, unit.conversion),
                          cavum_in_unit(sum, unit.conversion));
    if (a->value != 0.0) {
      snprintf(relative, sizeof relative, "%+.2e", difference / fabs(a->value));
    }
    if (sum > 0.0) snprintf(against, sizeof against, "%.3g", fabs(difference) / sum);
  }
  char basis[CAVUM_BASIS_SIZE];
  cavum_quantity_basis(basis, shown);
  printf("  %-37s %21s %21s %18s %10s %9s  %s%s%s\n", cavum_figure_describe(id).long_name, texts[0],
         texts[1], texts[2], relative, against, unit.name, *unit.name && *basis ? ", " : "", basis);
}

static void print_table(const compare_arguments *arguments, const compared_result *sides) {
  for (int k = 0; k < 2; k++) {
    const cavum_mode_result *mode = &sides[k].result->modes[arguments->modes[k] - 1];
    printf("%c  %s: %s, mode %d %s%s\n", 'A' + k, arguments->paths[k], sides[k].result->title,
           arguments->modes[k], mode->label,
           mode->accuracy_reached ? "" : " (accuracy asked for not reached)");
  }
  printf("\n");
  print_dimensions(&sides[0], &sides[1]);
  printf("\n%-39s %21s %21s %18s %10s %9s\n", "Figures", "A", "B", "B - A", "relative", "over u");
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    print_figure((cavum_figure_id)id, &sides[0].result->modes[arguments->modes[0] - 1].figures[id],
                 &sides[1].result->modes[arguments->modes[1] - 1].figures[id]);
  }
  printf(
      "  over u: the difference over the sum of the two numerical uncertainties; above 1 the "
      "shapes differ,\n  not the numerics.\n");
}

static cavum_status draw(const compare_arguments *arguments, const compared_result *sides,
                         cavum_error *error) {
  char *bytes = NULL;
  size_t size = 0;
  const cavum_result *const results[2] = {sides[0].result, sides[1].result};
  const char *const names[2] = {"A", "B"};
  const int modes[2] = {arguments->modes[0] - 1, arguments->modes[1] - 1};
  cavum_status status = cavum_picture_compare_results(&bytes, &size, results, names, modes,
                                                      &arguments->options, error);
  if (status == CAVUM_OK) status = cavum_picture_write(arguments->picture_path, bytes, size, error);
  free(bytes);
  return status;
}

static cavum_status check_files(compare_arguments *arguments, cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  cavum_status status = CAVUM_OK;
  if (arguments->picture_path) {
    status = cavum_picture_find_format(&arguments->options.format, arguments->picture_path, error);
  }
  if (status == CAVUM_OK && arguments->has_width &&
      arguments->options.format != CAVUM_PICTURE_PNG) {
    return cavum_process_fail(error, CAVUM_ERR_USAGE, "--width", "goes with .png only");
  }
  if (status != CAVUM_OK) return status;
  for (int k = 0; k < 2; k++) cavum_outputs_read(&outputs, arguments->paths[k]);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_PICTURE, "-o", arguments->picture_path);
  return cavum_outputs_check(&outputs, error);
}

static int run_tests(const compare_arguments *arguments) {
  cavum_compare_tests_arguments tests = {.num_paths = arguments->num_paths,
                                         .output_path = arguments->picture_path,
                                         .json_path = arguments->json_path,
                                         .csv_path = arguments->csv_path,
                                         .overwrite = arguments->overwrite,
                                         .options = arguments->options};
  memcpy(tests.paths, arguments->paths, sizeof tests.paths);
  return cavum_compare_tests(&tests);
}

static int run(compare_arguments *arguments) {
  cavum_error error = {0};
  compared_result sides[2] = {0};
  for (int k = 0; k < 2; k++) cavum_cell_set_defaults(&sides[k].cell);
  cavum_status status = check_files(arguments, &error);
  for (int k = 0; k < 2 && status == CAVUM_OK; k++) {
    status = open_side(&sides[k], arguments->paths[k], arguments->modes[k], &error);
  }
  if (status == CAVUM_OK && arguments->picture_path) status = draw(arguments, sides, &error);
  if (status == CAVUM_OK) print_table(arguments, sides);
  for (int k = 0; k < 2; k++) {
    cavum_result_destroy(&sides[k].result);
    cavum_stored_origin_clear(&sides[k].origin);
    cavum_cell_clear(&sides[k].cell);
  }
  return cavum_process_report(status, &error);
}

int cavum_cmd_compare(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "A.hdf B.hdf\nA.yaml B.yaml...",
      .doc =
          "Compares two results: dimensions, figures, and their differences against the "
          "numerical uncertainties; with -o also outlines and profiles over each other. "
          "Of test files of cold tests (.yaml), before and after a treatment: Q0 over each other, "
          "ratios in which the errors cancel that the files say they share, and what changed, with "
          "uncertainty."
          "\vExamples:\n"
          "  cavum compare before.hdf after.hdf\n"
          "  cavum compare before.hdf after.hdf -o both.png\n"
          "  cavum compare before.yaml after.yaml -o both.html\n\n"
          "Exit status: 0 done (also when they differ), 1 the drawing failed, 2 bad input or "
          "usage."};
  compare_arguments arguments = {.options = cavum_picture_options_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  if (cavum_compare_is_test(arguments.paths[0])) return run_tests(&arguments);
  if (arguments.modes[0] == 0) arguments.modes[0] = 1;
  if (arguments.modes[1] == 0) arguments.modes[1] = arguments.modes[0];
  return run(&arguments);
}
