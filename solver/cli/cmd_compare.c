// SPDX-License-Identifier: GPL-3.0-or-later
// cavum compare: results side by side, as a table and as a picture.
#include <argp.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/base.h"
#include "base/units.h"
#include "base/utf8.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/compare_difference.h"
#include "cli/compare_inputs.h"
#include "cli/compare_json.h"
#include "cli/compare_requirements.h"
#include "cli/compare_scans.h"
#include "cli/compare_shape.h"
#include "cli/compare_table.h"
#include "cli/compare_tests.h"
#include "cli/input_kind.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "format/quantity.h"
#include "report/compared_results.h"

enum { CAVUM_COMPARE_MOST = CAVUM_COMPARE_TESTS_MOST };

typedef struct compare_arguments {
  const char *paths[CAVUM_COMPARE_MOST], *picture_path, *json_path, *csv_path;
  int modes[CAVUM_COMPARE_MOST], num_paths;
  bool overwrite, has_width, all, quiet;
  cavum_picture_options options;
} compare_arguments;

// One of the results with the inputs that its file tells.
typedef struct compared_result {
  cavum_result *result;
  cavum_stored_origin origin;
  cavum_inputs inputs;
  cavum_geometry *shape;  // owned; NULL: not known
  char *goal_title;       // owned: of the search that led to it; NULL: none
} compared_result;

// Titles have up to 200 bytes, of a cell and of a goal.
enum { CAVUM_COMPARE_LINE = 1024 };

// What is printed and reported.
typedef struct compare_tables {
  cavum_compare_table inputs, figures, requirements, differences;
} compare_tables;

// What the tables mean. Fits make two more sentences true.
typedef struct compare_words {
  const char *figures, *note[3];
  int num_notes;
} compare_words;

static const char of_models[] =
    "The uncertainties are those of the models with the inputs above; manufacturing tolerances are "
    "not included.";
static const compare_words computed_words = {
    "With numerical uncertainties, in units of the last digit",
    {"Only differences larger than both numerical uncertainties together are shown, with that sum "
     "in parentheses.",
     of_models},
    2};
static const compare_words fitted_words = {
    "With uncertainties, in units of the last digit: numerical, and that of the fit of R_s in "
    "figures that contain it",
    {"Only differences larger than both numerical uncertainties together are shown, with that sum "
     "in parentheses.",
     "A fit of R_s is off by the same factor in all results: for figures that contain it, the same "
     "fraction of the difference is in the parentheses as well.",
     of_models},
    3};

// Values of a row have one unit within these limits: 900 W and 1100 W, not 1.1 kW.
static const double SMALLEST_IN_ONE_UNIT = 1e-2, LARGEST_IN_ONE_UNIT = 1e5;

// As of --mode.
enum { MOST_MODES = 1000 };
enum { KEY_MODE = 256, KEY_MODE_B, KEY_WIDTH, KEY_JSON, KEY_CSV, KEY_ALL };

static const struct argp_option option_table[] = {
    {"output", 'o', "FILE", 0,
     "Also draw all over each other (.png, .svg or .pdf) or write a report (.html); of cold tests "
     "also everything (.hdf)",
     0},
    {"mode", KEY_MODE, "N", 0, "Mode of all results, from 1 (default 1)", 0},
    {"mode-b", KEY_MODE_B, "N", 0, "Mode of the second result, where it differs", 0},
    {"width", KEY_WIDTH, "PIXELS", 0, "Width of a PNG, 200 to 16000 (default 1600)", 0},
    {"json", KEY_JSON, "FILE", 0,
     "Write figures and differences as JSON ('-': to standard output, in place of the table); of "
     "cold tests the changes and the ratios of Q0; of studies their summaries",
     0},
    {"csv", KEY_CSV, "FILE", 0, "Cold tests: the ratios of Q0 as CSV", 0},
    {"all", KEY_ALL, NULL, 0,
     "Also figures that follow from others: R/Q in the circuit convention, G times R/Q, loss "
     "factor, values at 1 J",
     0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {0},
};

static bool is_page(const char *path) {
  const char *ending = strrchr(path, '.');
  return ending && (strcasecmp(ending, ".html") == 0 || strcasecmp(ending, ".htm") == 0);
}

// Two or more results, or two or more test files.
static void check_paths(const compare_arguments *arguments, struct argp_state *state) {
  const char *first = arguments->paths[0];
  bool tests = arguments->num_paths > 0 && cavum_compare_is_test(first);
  for (int i = 1; i < arguments->num_paths; i++) {
    const char *path = arguments->paths[i];
    if (cavum_compare_is_test(path) == tests) continue;
    argp_error(state,
               "%s and %s are not of one kind: expected two or more result files, or two or more "
               "test files of cold tests",
               first, path);
  }
  if (tests && arguments->num_paths < 2) {
    argp_error(state, "expected two or more test files of cold tests, or two or more result files");
  }
  if (!tests && arguments->num_paths < 2) {
    argp_error(state, "expected two or more result files");
  }
  if (!tests && arguments->num_paths > CAVUM_PICTURE_FILES_MOST && arguments->picture_path &&
      !is_page(arguments->picture_path)) {
    argp_error(state, "-o: a picture has at most %d results", CAVUM_PICTURE_FILES_MOST);
  }
  if (tests && (arguments->modes[0] || arguments->modes[1] || arguments->all)) {
    argp_error(state, "%s: is for results of cells only", arguments->all ? "--all" : "--mode");
  }
  if (!tests && arguments->csv_path) argp_error(state, "--csv: is for cold tests only");
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
      if (!*value) argp_error(state, "--json: expected a file name, or '-'");
      arguments->json_path = value;
      break;
    case KEY_CSV:
      cavum_option_set_file(&arguments->csv_path, "--csv", value, state);
      break;
    case KEY_ALL:
      arguments->all = true;
      break;
    case CAVUM_OPTION_OVERWRITE:
      arguments->overwrite = true;
      break;
    case 'q':
      arguments->quiet = true;
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
        argp_error(state, "--width: needs -o");
      }
      if (arguments->quiet && !arguments->picture_path && !arguments->json_path &&
          !arguments->csv_path) {
        argp_error(state, "--quiet: nothing is written");
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
  cavum_optimum *optimum = NULL;
  if (cavum_store_read_optimum(&optimum, &side->goal_title, path, NULL) == CAVUM_OK) {
    cavum_optimum_destroy(&optimum);
  }
  // A mesh file may be gone, and then the stored text is all that can be said of the cell.
  cavum_cell cell;
  const char *text = side->origin.cell_text;
  cavum_cell_set_defaults(&cell);
  bool readable = cavum_cell_read_text(&cell, text, strlen(text), path, NULL) == CAVUM_OK;
  status = cavum_inputs_read(&side->inputs, readable ? &cell : NULL, text, error);
  if (status == CAVUM_OK) {
    status = cavum_inputs_add_mesh(&side->inputs, &side->result->mesh, error);
  }
  // A mesh file has no exact shape.
  if (readable) (void)cavum_geometry_measure(&side->shape, &cell, false, NULL);
  cavum_cell_clear(&cell);
  return status;
}

// Values as they are shown: one unit for a row.
static void format_figure(char text[CAVUM_QUANTITY_SIZE], const cavum_figure *figures, int id,
                          cavum_unit conversion) {
  const cavum_figure *figure = &figures[id];
  if (figure->state == CAVUM_FIGURE_PRESENT) {
    double uncertainty = cavum_quantity_shown_uncertainty(figures, (cavum_figure_id)id);
    cavum_quantity_format(text, cavum_in_unit(figure->value, conversion),
                          cavum_in_unit(uncertainty, conversion));
  } else {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%s",
             figure->state == CAVUM_FIGURE_UNBOUNDED ? "unbounded" : "-");
  }
}

static const cavum_figure *figures_of(const compare_arguments *arguments,
                                      const compared_result *sides, int k) {
  CAVUM_ASSERT(sides[k].result);
  return sides[k].result->modes[arguments->modes[k] - 1].figures;
}

static const cavum_figure *figure_of(const compare_arguments *arguments,
                                     const compared_result *sides, int k, int id) {
  return &figures_of(arguments, sides, k)[id];
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

static bool rests_on_fit(const compare_arguments *arguments, const compared_result *sides) {
  for (int k = 0; k < arguments->num_paths; k++) {
    const cavum_figure *fit = figure_of(arguments, sides, k, CAVUM_FIGURE_SURFACE_RESISTANCE);
    if (fit->state == CAVUM_FIGURE_PRESENT && fit->basis == CAVUM_BASIS_FIT) return true;
  }
  return false;
}

static const compare_words *words_of(const compare_arguments *arguments,
                                     const compared_result *sides) {
  return rests_on_fit(arguments, sides) ? &fitted_words : &computed_words;
}

// The two transit-time factors are one where E_z nowhere changes its sign.
static bool repeats(const cavum_compare_table *table, const cavum_compare_cell *row) {
  if (table->num_rows < 2 || strncmp(row[0], "transit-time", 12) != 0) return false;
  const cavum_compare_cell *before = row - table->num_values - 2;
  if (strncmp(before[0], "transit-time", 12) != 0) return false;
  for (int k = 1; k <= table->num_values; k++) {
    if (strcmp(row[k], before[k]) != 0) return false;
  }
  return true;
}

// Whether the values of a row are best read in one unit: they are alike in size.
static bool share_unit(const compare_arguments *arguments, const compared_result *sides, int id,
                       cavum_unit unit) {
  for (int k = 0; k < arguments->num_paths; k++) {
    const cavum_figure *figure = figure_of(arguments, sides, k, id);
    if (figure->state != CAVUM_FIGURE_PRESENT || figure->value == 0.0) continue;
    double size = fabs(cavum_in_unit(figure->value, unit));
    const char *own = cavum_quantity_unit_to_fit((cavum_figure_id)id, figure->value).name;
    bool in_reach = size >= SMALLEST_IN_ONE_UNIT && size < LARGEST_IN_ONE_UNIT;
    if (!in_reach && strcmp(own, cavum_unit_symbol(unit)) != 0) return false;
  }
  return true;
}

// Fits of unlike results are uncertain by unlike parts of their values.
static void describe_fits(char text[CAVUM_COMPARE_CELL_SIZE], const compare_arguments *arguments,
                          const compared_result *sides, int id) {
  double least = HUGE_VAL, most = 0.0;
  for (int k = 0; k < arguments->num_paths; k++) {
    const cavum_figure *figure = figure_of(arguments, sides, k, id);
    if (figure->state == CAVUM_FIGURE_ABSENT) continue;
    double percent = cavum_in_percent(fabs(figure->uncertainty / figure->value));
    least = cavum_min(least, percent);
    most = cavum_max(most, percent);
  }
  snprintf(text, CAVUM_COMPARE_CELL_SIZE, "%s, about %.2g to %.2g %%",
           cavum_basis_word(CAVUM_BASIS_FIT), least, most);
}

// What a row rests on: one phrase where all rest on the same, or else each with the letters of
// those that it is said of.
static void describe_basis(char text[CAVUM_COMPARE_CELL_SIZE], const compare_arguments *arguments,
                           const compared_result *sides, int id) {
  char basis[CAVUM_COMPARE_MOST][CAVUM_BASIS_SIZE] = {{0}};
  const cavum_figure *first = NULL;
  int count = arguments->num_paths;
  bool alike = true, one_text = true;
  for (int k = 0; k < count; k++) {
    const cavum_figure *figure = figure_of(arguments, sides, k, id);
    if (figure->state == CAVUM_FIGURE_ABSENT) continue;
    cavum_quantity_basis(basis[k], figure);
    if (!first) {
      first = figure;
      snprintf(text, CAVUM_COMPARE_CELL_SIZE, "%s", basis[k]);
    }
    alike = alike && figure->basis == first->basis;
    one_text = one_text && strcmp(text, basis[k]) == 0;
  }
  bool fits = alike && first && first->basis == CAVUM_BASIS_FIT;
  if (fits && !one_text) describe_fits(text, arguments, sides, id);
  if (alike) return;
  size_t used = 0;
  for (int k = 0; k < count; k++) {
    bool said = !basis[k][0];
    for (int i = 0; i < k && !said; i++) said = strcmp(basis[i], basis[k]) == 0;
    for (int i = k; i < count && !said; i++) {
      if (strcmp(basis[i], basis[k]) != 0) continue;
      used += (size_t)snprintf(text + used, CAVUM_COMPARE_CELL_SIZE - used, "%s%c",
                               used > 0 ? ", " : "", 'A' + i);
    }
    if (said) continue;
    used += (size_t)snprintf(text + used, CAVUM_COMPARE_CELL_SIZE - used, ": %s", basis[k]);
  }
}

// A row that says the same of all results says it once.
static cavum_status add_figure(cavum_compare_table *table, const compare_arguments *arguments,
                               const compared_result *sides, int id, cavum_error *error) {
  char text[CAVUM_QUANTITY_SIZE], basis[CAVUM_COMPARE_CELL_SIZE] = "";
  int count = arguments->num_paths, shown = first_with(arguments, sides, id);
  cavum_compare_cell *row = NULL;
  if (shown < 0) return CAVUM_OK;
  double value = figure_of(arguments, sides, shown, id)->value;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, value);
  bool one_unit = share_unit(arguments, sides, id, unit.conversion);
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", cavum_figure_describe((cavum_figure_id)id).long_name);
  for (int k = 0; k < count; k++) {
    const cavum_figure *figure = figure_of(arguments, sides, k, id);
    cavum_quantity_unit own =
        one_unit ? unit : cavum_quantity_unit_to_fit((cavum_figure_id)id, figure->value);
    bool named = !one_unit && figure->state == CAVUM_FIGURE_PRESENT;
    format_figure(text, figures_of(arguments, sides, k), id, own.conversion);
    snprintf(row[1 + k], sizeof row[0], "%s%s%s", text, named ? " " : "", named ? own.name : "");
  }
  describe_basis(basis, arguments, sides, id);
  const char *name = one_unit ? unit.name : "";
  snprintf(row[1 + count], sizeof row[0], "%s%s%s", name, *name && *basis ? ", " : "", basis);
  if (repeats(table, row)) table->num_rows--;
  cavum_compare_table_join(row, table);
  return CAVUM_OK;
}

// Differences from the first result, in the unit that suits the largest; nothing where there is
// none.
static cavum_status add_difference(cavum_compare_table *table, const compare_arguments *arguments,
                                   const compared_result *sides, int id, cavum_error *error) {
  char text[CAVUM_QUANTITY_SIZE];
  const cavum_figure *a = figure_of(arguments, sides, 0, id);
  const cavum_figure *of_a = figures_of(arguments, sides, 0);
  cavum_compare_cell *row = NULL;
  bool any = false;
  double largest = a->value;
  for (int k = 1; k < arguments->num_paths; k++) {
    const cavum_figure *b = figure_of(arguments, sides, k, id);
    bool both = a->state == CAVUM_FIGURE_PRESENT && b->state == CAVUM_FIGURE_PRESENT;
    const cavum_figure *of_b = figures_of(arguments, sides, k);
    if (!both || !cavum_shown_differ(of_a, of_b, (cavum_figure_id)id)) continue;
    any = true;
    largest = fmax(fabs(largest), fabs(b->value - a->value));
  }
  if (!any) return CAVUM_OK;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, largest);
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", cavum_figure_describe((cavum_figure_id)id).long_name);
  for (int k = 1; k < arguments->num_paths; k++) {
    const cavum_figure *b = figure_of(arguments, sides, k, id);
    const cavum_figure *of_b = figures_of(arguments, sides, k);
    snprintf(text, sizeof text, "none");
    if (b->state != CAVUM_FIGURE_PRESENT) {
      snprintf(text, sizeof text, "-");
    } else if (cavum_shown_differ(of_a, of_b, (cavum_figure_id)id)) {
      double uncertainty = cavum_shown_difference_uncertainty(of_a, of_b, (cavum_figure_id)id);
      cavum_quantity_format(text, cavum_in_unit(b->value - a->value, unit.conversion),
                            cavum_in_unit(uncertainty, unit.conversion));
    }
    snprintf(row[k], sizeof row[0], "%s", text);
  }
  snprintf(row[arguments->num_paths], sizeof row[0], "%s", unit.name);
  if (repeats(table, row)) table->num_rows--;
  return CAVUM_OK;
}

static void describe(char text[CAVUM_COMPARE_LINE], const compare_arguments *arguments,
                     const compared_result *sides, int k) {
  CAVUM_ASSERT(sides[k].result);
  const cavum_mode_result *mode = &sides[k].result->modes[arguments->modes[k] - 1];
  const char *title = sides[k].result->title, *goal = sides[k].goal_title;
  bool titled = goal && goal[0];
  char path[304];
  cavum_utf8_cut(path, sizeof path, arguments->paths[k]);
  snprintf(text, CAVUM_COMPARE_LINE, "%c  %s: %s%s%s%s%smode %d %s%s", 'A' + k, path, title,
           title[0] ? ", " : "", titled ? "goal: " : "", titled ? goal : "", titled ? ", " : "",
           arguments->modes[k], mode->label,
           mode->accuracy_reached ? "" : " (ACCURACY NOT REACHED)");
}

// Figures that others in the table give without more: with --all alone.
static bool follows_from_others(int id) {
  static const cavum_figure_id following[] = {
      CAVUM_FIGURE_R_OVER_Q_CIRCUIT, CAVUM_FIGURE_G_TIMES_R_OVER_Q, CAVUM_FIGURE_LOSS_FACTOR,
      CAVUM_FIGURE_VOLTAGE_AT_1_J, CAVUM_FIGURE_EACC_AT_1_J};
  for (size_t i = 0; i < sizeof following / sizeof following[0]; i++) {
    if ((cavum_figure_id)id == following[i]) return true;
  }
  return false;
}

static cavum_status fill_tables(compare_tables *tables, const compare_arguments *arguments,
                                const compared_result *sides, cavum_error *error) {
  int count = arguments->num_paths;
  cavum_status status = CAVUM_OK;
  cavum_inputs inputs[CAVUM_COMPARE_MOST];
  const cavum_stored_origin *origins[CAVUM_COMPARE_MOST];
  const cavum_geometry *shapes[CAVUM_COMPARE_MOST];
  for (int k = 0; k < count; k++) {
    inputs[k] = sides[k].inputs;
    origins[k] = &sides[k].origin;
    shapes[k] = sides[k].shape;
  }
  tables->inputs = (cavum_compare_table){.head = "Inputs that differ", .num_values = count};
  tables->figures = (cavum_compare_table){.head = "Figures", .num_values = count};
  tables->requirements = (cavum_compare_table){.head = "Requirements, mode 1", .num_values = count};
  tables->differences =
      (cavum_compare_table){.head = "Differences from A", .first = 1, .num_values = count - 1};
  CAVUM_TRY(cavum_inputs_add_differences(&tables->inputs, inputs, count, error));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (follows_from_others(id) && !arguments->all) continue;
    CAVUM_TRY(add_figure(&tables->figures, arguments, sides, id, error));
    CAVUM_TRY(add_difference(&tables->differences, arguments, sides, id, error));
  }
  CAVUM_TRY(cavum_compare_add_shapes(&tables->figures, &tables->differences, shapes, count, error));
  CAVUM_TRY(cavum_compare_add_requirements(&tables->requirements, origins, count, error));
done:
  return status;
}

static void print_tables(const compare_arguments *arguments, const compared_result *sides,
                         const compare_tables *tables) {
  char line[CAVUM_COMPARE_LINE];
  for (int k = 0; k < arguments->num_paths; k++) {
    describe(line, arguments, sides, k);
    puts(line);
  }
  putchar('\n');
  cavum_compare_table_print(stdout, &tables->inputs, "none: all inputs are the same");
  putchar('\n');
  cavum_compare_table_print(stdout, &tables->figures, "none");
  if (tables->requirements.num_rows > 0) {
    putchar('\n');
    cavum_compare_table_print(stdout, &tables->requirements, "none");
  }
  putchar('\n');
  cavum_compare_table_print(stdout, &tables->differences, "none");
  const compare_words *words = words_of(arguments, sides);
  for (int i = 0; i < words->num_notes; i++) printf("  %s\n", words->note[i]);
}

static cavum_status report(char **bytes, size_t *size, const compare_arguments *arguments,
                           const compared_result *sides, const compare_tables *tables,
                           cavum_error *error) {
  const cavum_compare_table *const all[] = {&tables->inputs, &tables->figures, &tables->differences,
                                            &tables->requirements};
  static const char *const ids[] = {"inputs", "figures", "differences", "requirements"};
  static const char *const names[] = {"key of the cell file", "figure", "figure", "figure"};
  const compare_words *words = words_of(arguments, sides);
  const char *const captions[] = {"Keys that are left out in a cell file have their defaults",
                                  words->figures,
                                  "Each result less A, with the uncertainty of the difference",
                                  "Of mode 1, with the distance from the limit"};
  cavum_report_results content = {.count = arguments->num_paths,
                                  .num_tables = tables->requirements.num_rows > 0 ? 4 : 3,
                                  .notes = words->note,
                                  .num_notes = words->num_notes};
  char lines[CAVUM_COMPARE_MOST][CAVUM_COMPARE_LINE];
  for (int k = 0; k < content.count; k++) {
    describe(lines[k], arguments, sides, k);
    content.results[k] = sides[k].result;
    content.modes[k] = arguments->modes[k] - 1;
    content.lines[k] = lines[k];
    content.paths[k] = arguments->paths[k];
    content.cell_texts[k] = sides[k].origin.cell_text;
  }
  for (int i = 0; i < content.num_tables; i++) {
    content.tables[i] = (cavum_report_table){.id = ids[i],
                                             .head = all[i]->head,
                                             .caption = captions[i],
                                             .names = names[i],
                                             .first = all[i]->first,
                                             .num_values = all[i]->num_values,
                                             .num_rows = all[i]->num_rows,
                                             .cell_size = CAVUM_COMPARE_CELL_SIZE,
                                             .cells = all[i]->cells ? all[i]->cells[0] : NULL};
  }
  return cavum_report_compared_results(bytes, size, &content, error);
}

static cavum_status draw(char **bytes, size_t *size, const compare_arguments *arguments,
                         const compared_result *sides, cavum_error *error) {
  if (arguments->num_paths > 2) {
    cavum_picture_layout layout = cavum_picture_layout_default();
    cavum_picture_options options = arguments->options;
    options.mode = arguments->modes[0] - 1;
    return cavum_picture_draw_files(bytes, size, arguments->num_paths, arguments->paths, &options,
                                    &layout, error);
  }
  const cavum_result *const results[2] = {sides[0].result, sides[1].result};
  char texts[2][300];
  for (int k = 0; k < 2; k++) {
    const char *path = arguments->paths[k], *slash = strrchr(path, '/'),
               *goal = sides[k].goal_title;
    bool titled = goal && goal[0];
    char name[130], of_goal[130];
    cavum_utf8_cut(name, sizeof name, slash ? slash + 1 : path);
    cavum_utf8_cut(of_goal, sizeof of_goal, titled ? goal : "");
    snprintf(texts[k], sizeof texts[k], "%c  %s%s%s%s", 'A' + k, name, titled ? " (goal: " : "",
             of_goal, titled ? ")" : "");
  }
  const char *const names[2] = {texts[0], texts[1]};
  const int modes[2] = {arguments->modes[0] - 1, arguments->modes[1] - 1};
  return cavum_picture_compare_results(bytes, size, results, names, modes, &arguments->options,
                                       error);
}

static cavum_status write_output(const compare_arguments *arguments, const compared_result *sides,
                                 const compare_tables *tables, cavum_error *error) {
  char *bytes = NULL;
  size_t size = 0;
  cavum_status status = is_page(arguments->picture_path)
                            ? report(&bytes, &size, arguments, sides, tables, error)
                            : draw(&bytes, &size, arguments, sides, error);
  if (status == CAVUM_OK) status = cavum_picture_write(arguments->picture_path, bytes, size, error);
  free(bytes);
  return status;
}

static cavum_status write_json(const compare_arguments *arguments, const compared_result *sides,
                               const cavum_compare_table *inputs, cavum_error *error) {
  const cavum_result *results[CAVUM_COMPARE_MOST];
  int modes[CAVUM_COMPARE_MOST];
  for (int k = 0; k < arguments->num_paths; k++) {
    results[k] = sides[k].result;
    modes[k] = arguments->modes[k] - 1;
  }
  cavum_compared_results all = {.count = arguments->num_paths,
                                .paths = arguments->paths,
                                .results = results,
                                .modes = modes,
                                .differ = cavum_stored_differ,
                                .uncertainty = cavum_stored_difference_uncertainty};
  return cavum_compare_write_json(arguments->json_path, &all, inputs, error);
}

static cavum_status check_files(compare_arguments *arguments, cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  const char *path = arguments->picture_path;
  bool page = path && is_page(path);
  cavum_status status = CAVUM_OK;
  if (path && !page) {
    status = cavum_picture_find_format(&arguments->options.format, path, error);
    if (status == CAVUM_ERR_USAGE) {
      status = cavum_process_fail(error, status, path,
                                  "expected a file name that ends in .png, .svg, .pdf or .html");
    }
  }
  if (status != CAVUM_OK) return status;
  if (arguments->has_width && (page || arguments->options.format != CAVUM_PICTURE_PNG)) {
    return cavum_process_fail(error, CAVUM_ERR_USAGE, "--width", "is for .png only");
  }
  for (int k = 0; k < arguments->num_paths; k++) cavum_outputs_read(&outputs, arguments->paths[k]);
  cavum_outputs_write(&outputs, page ? CAVUM_OUTPUT_REPORT : CAVUM_OUTPUT_PICTURE, "-o", path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COMPARISON_JSON, "--json", arguments->json_path);
  return cavum_outputs_check(&outputs, error);
}

static int run_tests(const compare_arguments *arguments) {
  cavum_compare_tests_arguments tests = {.num_paths = arguments->num_paths,
                                         .output_path = arguments->picture_path,
                                         .json_path = arguments->json_path,
                                         .csv_path = arguments->csv_path,
                                         .overwrite = arguments->overwrite,
                                         .quiet = arguments->quiet,
                                         .options = arguments->options};
  memcpy(tests.paths, arguments->paths, sizeof tests.paths);
  return cavum_compare_tests(&tests);
}

static int run_scans(const compare_arguments *arguments) {
  const char *path = arguments->picture_path;
  cavum_compare_scans_arguments scans = {.num_paths = arguments->num_paths,
                                         .page_path = path,
                                         .json_path = arguments->json_path,
                                         .overwrite = arguments->overwrite,
                                         .quiet = arguments->quiet};
  memcpy(scans.paths, arguments->paths, sizeof scans.paths);
  if (arguments->modes[0] || arguments->modes[1] || arguments->all || (path && !is_page(path))) {
    cavum_error error = {0};
    return cavum_process_report(
        cavum_process_fail(&error, CAVUM_ERR_USAGE,
                           path && !is_page(path) ? path
                           : arguments->all       ? "--all"
                                                  : "--mode",
                           "studies are compared on the screen, in a report (.html) and as JSON"),
        &error);
  }
  return cavum_compare_scans(&scans);
}

// Results of cells and of studies do not go together; what is neither is told when it is read.
static const char *find_other_kind(const compare_arguments *arguments) {
  cavum_stored_kind first, kind;
  if (cavum_stored_find_kind(&first, arguments->paths[0], NULL) != CAVUM_OK) return NULL;
  for (int k = 1; k < arguments->num_paths; k++) {
    if (cavum_stored_find_kind(&kind, arguments->paths[k], NULL) != CAVUM_OK) continue;
    bool known = (first == CAVUM_STORED_RESULT || first == CAVUM_STORED_SCAN) &&
                 (kind == CAVUM_STORED_RESULT || kind == CAVUM_STORED_SCAN);
    if (known && kind != first) return arguments->paths[k];
  }
  return NULL;
}

static int refuse_kinds(const compare_arguments *arguments, const char *other) {
  char both[CAVUM_MESSAGE_SIZE];
  cavum_error error = {0};
  snprintf(both, sizeof both, "%.200s and %.200s", arguments->paths[0], other);
  return cavum_process_report(
      cavum_process_fail(&error, CAVUM_ERR_USAGE, both,
                         "not of one kind: expected results of cells, or of studies"),
      &error);
}

static int run(compare_arguments *arguments) {
  cavum_error error = {0};
  compared_result sides[CAVUM_COMPARE_MOST] = {0};
  int count = arguments->num_paths;
  cavum_status status = check_files(arguments, &error);
  for (int k = 0; k < count && status == CAVUM_OK; k++) {
    status = open_side(&sides[k], arguments->paths[k], arguments->modes[k], &error);
  }
  compare_tables tables = {0};
  if (status == CAVUM_OK) status = fill_tables(&tables, arguments, sides, &error);
  if (status == CAVUM_OK && arguments->picture_path) {
    status = write_output(arguments, sides, &tables, &error);
  }
  if (status == CAVUM_OK && arguments->json_path) {
    status = write_json(arguments, sides, &tables.inputs, &error);
  }
  bool printed =
      arguments->quiet || (arguments->json_path && strcmp(arguments->json_path, "-") == 0);
  if (status == CAVUM_OK && !printed) print_tables(arguments, sides, &tables);
  cavum_compare_table_clear(&tables.inputs);
  cavum_compare_table_clear(&tables.figures);
  cavum_compare_table_clear(&tables.requirements);
  cavum_compare_table_clear(&tables.differences);
  for (int k = 0; k < count; k++) {
    cavum_result_destroy(&sides[k].result);
    cavum_stored_origin_clear(&sides[k].origin);
    cavum_inputs_clear(&sides[k].inputs);
    cavum_geometry_destroy(&sides[k].shape);
    free(sides[k].goal_title);
  }
  return cavum_process_report(status, &error);
}

int cavum_cmd_compare(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "A.hdf B.hdf...\nA.yaml B.yaml...",
      .doc =
          "Compares results: every input in which they differ, all figures, and the differences "
          "that are larger than the uncertainties. With -o it draws outlines and profiles over "
          "each "
          "other, or writes a report. Cold tests of one cell before and after a treatment are "
          "compared by their test files (.yaml): Q0 over each other, its ratios, and what changed, "
          "with uncertainties; errors that the tests share cancel. Results of studies are compared "
          "by "
          "their keys, ranges and best shapes."
          "\vExamples:\n"
          "  cavum compare before.hdf after.hdf\n"
          "  cavum compare a.hdf b.hdf c.hdf -o all.html\n"
          "  cavum compare before.hdf after.hdf -o both.png\n"
          "  cavum compare before.hdf after.hdf --json -\n"
          "  cavum compare study-1.hdf study-2.hdf -o studies.html\n"
          "  cavum compare before.yaml after.yaml -o both.html\n\n"
          "Exit status: 0 done (also when they differ), 1 the drawing failed, 2 bad input or "
          "usage."};
  compare_arguments arguments = {.options = cavum_picture_options_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  if (cavum_compare_is_test(arguments.paths[0])) return run_tests(&arguments);
  const char *other = find_other_kind(&arguments);
  if (other) return refuse_kinds(&arguments, other);
  if (cavum_compare_is_scan(arguments.paths[0])) return run_scans(&arguments);
  if (arguments.modes[0] == 0) arguments.modes[0] = 1;
  for (int k = 1; k < CAVUM_COMPARE_MOST; k++) {
    if (arguments.modes[k] == 0) arguments.modes[k] = arguments.modes[0];
  }
  return run(&arguments);
}
