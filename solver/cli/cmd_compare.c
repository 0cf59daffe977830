// SPDX-License-Identifier: GPL-3.0-or-later
// cavum compare: results side by side, as a table and as a picture.
#include <argp.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/colour.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/compare_inputs.h"
#include "cli/compare_tests.h"
#include "cli/input_kind.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "format/quantity.h"

enum { CAVUM_COMPARE_MOST = CAVUM_COMPARE_TESTS_MOST };

typedef struct compare_arguments {
  const char *paths[CAVUM_COMPARE_MOST], *picture_path, *json_path, *csv_path;
  int modes[CAVUM_COMPARE_MOST], num_paths;
  bool overwrite, has_width;
  cavum_picture_options options;
} compare_arguments;

// One of the results with the inputs that its file tells.
typedef struct compared_result {
  cavum_result *result;
  cavum_stored_origin origin;
  cavum_inputs inputs;
} compared_result;

enum { NAME_WIDTH = 36, VALUE_WIDTH = 16 };

// Fits of one material at one frequency are the same number but for the frequency's own rounding.
static const double SAME_FIT = 1e-9;

enum { MOST_MODES = 100000 };
enum { KEY_MODE = 256, KEY_MODE_B, KEY_WIDTH, KEY_JSON, KEY_CSV };

static const struct argp_option option_table[] = {
    {"output", 'o', "FILE", 0,
     "Also draw both over each other: .png, .svg or .pdf; of cold tests also a report (.html) or "
     "everything (.hdf)",
     0},
    {"mode", KEY_MODE, "N", 0, "Mode of all results, from 1 (default 1)", 0},
    {"mode-b", KEY_MODE_B, "N", 0, "Mode of the second result, if it is another", 0},
    {"width", KEY_WIDTH, "PIXELS", 0, "Width of a PNG, 200 to 16000 (default 1600)", 0},
    {"json", KEY_JSON, "FILE", 0, "Cold tests: what changed, and the ratios, as JSON", 0},
    {"csv", KEY_CSV, "FILE", 0, "Cold tests: the ratios of Q0 as CSV", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {0},
};

// Two or more results, or two or more test files.
static void check_paths(const compare_arguments *arguments, struct argp_state *state) {
  int tests = 0;
  for (int i = 0; i < arguments->num_paths; i++)
    tests += cavum_compare_is_test(arguments->paths[i]);
  if (tests > 0 && (tests < arguments->num_paths || tests < 2)) {
    argp_error(state, "expected two or more test files of cold tests, or two or more result files");
  }
  if (tests == 0 && arguments->num_paths < 2) {
    argp_error(state, "expected two or more result files");
  }
  if (tests == 0 && arguments->num_paths > CAVUM_PICTURE_FILES_MOST && arguments->picture_path) {
    argp_error(state, "-o: a picture has at most %d results", CAVUM_PICTURE_FILES_MOST);
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
        argp_error(state, "%s: at most %d files were expected", value, CAVUM_COMPARE_TESTS_MOST);
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
  // A mesh file may be gone, and then the stored text is all that can be said of the cell.
  cavum_cell cell;
  const char *text = side->origin.cell_text;
  cavum_cell_set_defaults(&cell);
  bool readable = cavum_cell_read_text(&cell, text, strlen(text), path, NULL) == CAVUM_OK;
  status = cavum_inputs_read(&side->inputs, readable ? &cell : NULL, text, error);
  cavum_cell_clear(&cell);
  return status;
}

// Values as they are shown: one unit for a row.
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

static const cavum_figure *figure_of(const compare_arguments *arguments,
                                     const compared_result *sides, int k, int id) {
  return &sides[k].result->modes[arguments->modes[k] - 1].figures[id];
}

// The first result that has a figure; -1: none has.
static int first_with(const compare_arguments *arguments, const compared_result *sides, int id) {
  for (int k = 0; k < arguments->num_paths; k++) {
    if (figure_of(arguments, sides, k, id)->state == CAVUM_FIGURE_PRESENT) return k;
  }
  for (int k = 0; k < arguments->num_paths; k++) {
    if (figure_of(arguments, sides, k, id)->state != CAVUM_FIGURE_ABSENT) return k;
  }
  return -1;
}

// Uncertainties are bounds, so two values differ when their difference is larger than both
// together. Both may rest on one fit, whose error they share: then the numerical part decides,
// which is that of Q0 to G.
static bool differ(const cavum_figure *a, const cavum_figure *b) {
  if (a->state != b->state) return true;
  if (a->state != CAVUM_FIGURE_PRESENT) return false;
  if (a->basis == CAVUM_BASIS_FIT && b->basis == CAVUM_BASIS_FIT) {
    return fabs(a->value - b->value) > SAME_FIT * fabs(a->value);
  }
  return fabs(a->value - b->value) > a->uncertainty + b->uncertainty;
}

static void print_heads(const char *title, int count, int first) {
  printf("\n%s%-*s", cavum_colour(stdout, CAVUM_ROLE_HEAD), NAME_WIDTH + 2, title);
  for (int k = first; k < count; k++) printf("  %*c", VALUE_WIDTH, 'A' + k);
  printf("%s\n", cavum_colour(stdout, CAVUM_ROLE_END));
}

// A row that says the same of all results says it once.
static void print_figure(const compare_arguments *arguments, const compared_result *sides, int id) {
  char texts[CAVUM_COMPARE_MOST][CAVUM_QUANTITY_SIZE], basis[CAVUM_BASIS_SIZE];
  int count = arguments->num_paths, shown = first_with(arguments, sides, id);
  bool same = true;
  if (shown < 0) return;
  const cavum_figure *figure = figure_of(arguments, sides, shown, id);
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, figure->value);
  for (int k = 0; k < count; k++) {
    format_figure(texts[k], figure_of(arguments, sides, k, id), unit.conversion);
    same = same && strcmp(texts[k], texts[0]) == 0;
  }
  cavum_quantity_basis(basis, figure);
  printf("  %-*s", NAME_WIDTH, cavum_figure_describe((cavum_figure_id)id).long_name);
  for (int k = 0; k < count; k++) {
    printf("  %*s", VALUE_WIDTH, !same ? texts[k] : k == 0 ? texts[0] : "same");
  }
  printf("%s%s%s%s\n", *unit.name || *basis ? "  " : "", unit.name,
         *unit.name && *basis ? ", " : "", basis);
}

// Differences from the first result, in the units of the rows above; nothing where there is none.
static bool print_difference(const compare_arguments *arguments, const compared_result *sides,
                             int id) {
  char text[CAVUM_QUANTITY_SIZE];
  const cavum_figure *a = figure_of(arguments, sides, 0, id);
  bool any = false;
  for (int k = 1; k < arguments->num_paths; k++) {
    const cavum_figure *b = figure_of(arguments, sides, k, id);
    any = any ||
          (a->state == CAVUM_FIGURE_PRESENT && b->state == CAVUM_FIGURE_PRESENT && differ(a, b));
  }
  if (!any) return false;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, a->value);
  printf("  %-*s", NAME_WIDTH, cavum_figure_describe((cavum_figure_id)id).long_name);
  for (int k = 1; k < arguments->num_paths; k++) {
    const cavum_figure *b = figure_of(arguments, sides, k, id);
    snprintf(text, sizeof text, "none");
    if (b->state != CAVUM_FIGURE_PRESENT) {
      snprintf(text, sizeof text, "-");
    } else if (differ(a, b)) {
      cavum_quantity_format(text, cavum_in_unit(b->value - a->value, unit.conversion),
                            cavum_in_unit(a->uncertainty + b->uncertainty, unit.conversion));
    }
    printf("  %*s", VALUE_WIDTH, text);
  }
  printf("%s%s\n", *unit.name ? "  " : "", unit.name);
  return true;
}

static const cavum_verdict *verdict_of(const compared_result *side, const char *key) {
  for (int i = 0; i < side->origin.num_requirements; i++) {
    const cavum_stored_requirement *of = &side->origin.requirements[i];
    if (strcmp(of->requirement.key, key) == 0) return &of->verdict;
  }
  return NULL;
}

// Requirements of all results, each once: what became of them, and by how much.
static void print_requirements(const compare_arguments *arguments, const compared_result *sides) {
  bool begun = false;
  for (int k = 0; k < arguments->num_paths; k++) {
    for (int i = 0; i < sides[k].origin.num_requirements; i++) {
      const char *key = sides[k].origin.requirements[i].requirement.key;
      bool told = false;
      for (int m = 0; m < k; m++) told = told || verdict_of(&sides[m], key);
      if (told) continue;
      if (!begun) print_heads("Requirements, mode 1", arguments->num_paths, 0);
      begun = true;
      printf("  %-*s", NAME_WIDTH, key);
      for (int m = 0; m < arguments->num_paths; m++) {
        const cavum_verdict *v = verdict_of(&sides[m], key);
        char text[48] = "-";
        if (v) snprintf(text, sizeof text, "%s", cavum_verdict_word(v->kind));
        if (v && v->kind != CAVUM_VERDICT_ABSENT && isfinite(v->margin)) {
          snprintf(text, sizeof text, "%s by %.3g", cavum_verdict_word(v->kind), fabs(v->margin));
        }
        printf("  %*s", VALUE_WIDTH, text);
      }
      putchar('\n');
    }
  }
}

static void print_table(const compare_arguments *arguments, const compared_result *sides) {
  int count = arguments->num_paths;
  for (int k = 0; k < count; k++) {
    const cavum_mode_result *mode = &sides[k].result->modes[arguments->modes[k] - 1];
    printf("%c  %s: %s, mode %d %s%s\n", 'A' + k, arguments->paths[k], sides[k].result->title,
           arguments->modes[k], mode->label,
           mode->accuracy_reached ? "" : " (ACCURACY NOT REACHED)");
  }
  printf("\n");
  cavum_inputs inputs[CAVUM_COMPARE_MOST];
  for (int k = 0; k < count; k++) inputs[k] = sides[k].inputs;
  (void)cavum_inputs_print_differences(stdout, inputs, count);
  print_heads("Figures", count, 0);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) print_figure(arguments, sides, id);
  print_requirements(arguments, sides);
  print_heads("Differences from A", count, 1);
  int rows = 0;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) rows += print_difference(arguments, sides, id);
  if (rows == 0) printf("  none\n");
  printf(
      "  Only those larger than both numerical uncertainties together, which stand in "
      "parentheses.\n"
      "  They are of the two models: their inputs above, not of tolerances of manufacture.\n");
}

static cavum_status draw(const compare_arguments *arguments, const compared_result *sides,
                         cavum_error *error) {
  char *bytes = NULL;
  size_t size = 0;
  if (arguments->num_paths > 2) {
    cavum_picture_layout layout = cavum_picture_layout_default();
    cavum_picture_options options = arguments->options;
    options.mode = arguments->modes[0] - 1;
    cavum_status drawn = cavum_picture_draw_files(&bytes, &size, arguments->num_paths,
                                                  arguments->paths, &options, &layout, error);
    if (drawn == CAVUM_OK) drawn = cavum_picture_write(arguments->picture_path, bytes, size, error);
    free(bytes);
    return drawn;
  }
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
  for (int k = 0; k < arguments->num_paths; k++) cavum_outputs_read(&outputs, arguments->paths[k]);
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
  compared_result sides[CAVUM_COMPARE_MOST] = {0};
  int count = arguments->num_paths;
  cavum_status status = check_files(arguments, &error);
  for (int k = 0; k < count && status == CAVUM_OK; k++) {
    status = open_side(&sides[k], arguments->paths[k], arguments->modes[k], &error);
  }
  if (status == CAVUM_OK && arguments->picture_path) status = draw(arguments, sides, &error);
  if (status == CAVUM_OK) print_table(arguments, sides);
  for (int k = 0; k < count; k++) {
    cavum_result_destroy(&sides[k].result);
    cavum_stored_origin_clear(&sides[k].origin);
    cavum_inputs_clear(&sides[k].inputs);
  }
  return cavum_process_report(status, &error);
}

int cavum_cmd_compare(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "A.hdf B.hdf...\nA.yaml B.yaml...",
      .doc =
          "Compares results: every input in which they differ, figures, and the differences that "
          "are "
          "larger than the uncertainties; with -o also outlines and profiles over each other. "
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
  for (int k = 1; k < CAVUM_COMPARE_MOST; k++) {
    if (arguments.modes[k] == 0) arguments.modes[k] = arguments.modes[0];
  }
  return run(&arguments);
}
