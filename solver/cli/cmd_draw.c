// SPDX-License-Identifier: GPL-3.0-or-later
// cavum draw: a picture of a result file.
#include <argp.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/input_kind.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "store/coldtest_load.h"
#include "store/written_json.h"

typedef struct draw_arguments {
  const char *input_paths[CAVUM_PICTURE_FILES_MOST], *picture_path, *json_path;
  int num_inputs;
  bool overwrite;
  unsigned given;  // a bit for each of the keys below
  cavum_picture_options options;
  cavum_picture_layout layout;
  cavum_stored_kind kind;  // of the first file
} draw_arguments;

enum { MOST_READINGS = 10000000, MOST_LINES = 200, USUAL_LINES = 14 };
enum {
  KEY_VIEW = 256,
  KEY_FIELD,
  KEY_MODE,
  KEY_WIDTH,
  KEY_READING,
  KEY_X,
  KEY_Y,
  KEY_COLOUR,
  KEY_SIZE,
  KEY_ALIGN,
  KEY_LINES,
  KEY_LINE_WIDTH,
  KEY_ALONG_WALL,
  KEY_JSON
};

static const struct argp_option option_table[] = {
    {"output", 'o', "FILE", 0, "File to write (required): .png, .svg or .pdf", 0},
    {"view", KEY_VIEW, "WORD", 0,
     "What to draw: sheet (the default: all views on one page); of a result section, axis, "
     "wall or mesh, and search (the path) of one that cavum optimise wrote; of a cold test quality "
     "(Q0 against gradient), loaded, radiation, resistance, "
     "field, frequency, traces, budget or plan; of a scan scatter",
     0},
    {"field", KEY_FIELD, "WORD", 0,
     "Result: colours of the section, both (|E| above the axis, |H| below; the default), E or H",
     1},
    {"mode", KEY_MODE, "N", 0, "Result: mode, from 1 (default 1)", 1},
    {"reading", KEY_READING, "N", 0,
     "Cold test: reading whose budget is drawn, from 1 (default: that of the largest gradient)", 2},
    {"x", KEY_X, "COLUMN", 0, "Scan: column of the horizontal axis (default epk_over_eacc)", 3},
    {"y", KEY_Y, "COLUMN", 0,
     "Scan: column of the vertical axis (default bpk_over_eacc_mT_per_MV_per_m)", 3},
    {"colour", KEY_COLOUR, "COLUMN", 0,
     "Scan: column of the colours (default g_times_r_over_q_linac_ohm2)", 3},
    {"width", KEY_WIDTH, "PIXELS", 0, "Width of a PNG, 200 to 16000 (default 1600)", 0},
    {"size", KEY_SIZE, "WORD", 0,
     "What the picture is for: screen (the default), column (86 mm, one column of a journal), "
     "two-columns (178 mm) or slide (16:9; of a cold test its first picture)",
     0},
    {"field-lines", KEY_LINES, "N", 0,
     "Result: number of electric field lines, 0 for none (default 14)", 1},
    {"line-width", KEY_LINE_WIDTH, "POINTS", 0, "Result: width of field lines (default 0.65)", 1},
    {"along-wall", KEY_ALONG_WALL, "WORD", 0,
     "Result: a coloured band along the wall of the section: frequency, G or R/Q (where removing "
     "metal raises or lowers it; G and R/Q need a result solved with --derivatives) or pressure "
     "(radiation pressure)",
     1},
    {"align", KEY_ALIGN, "WORD", 0,
     "Several results: equator (the default: largest radii at z = 0) or z (as in the cell files)",
     1},
    {"json", KEY_JSON, "FILE", 0,
     "Write what was drawn as JSON: size of the picture, view, mode, files ('-': to standard "
     "output)",
     0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {0},
};

// Words in the order of what they stand for.
static const char *const view_words[] = {
    "sheet",      "section", "axis",    "wall",   "mesh",      "quality",
    "resistance", "budget",  "scatter", "loaded", "radiation", "field",
    "frequency",  "traces",  "plan",    "search", NULL};
static const char *const field_words[] = {"both", "E", "H", NULL};
static const char *const size_words[] = {"screen", "column", "two-columns", "slide", NULL};
static const char *const align_words[] = {"equator", "z", NULL};
static const char *const along_wall_words[] = {"frequency", "pressure", "G", "R/Q", NULL};

static void set_word(draw_arguments *arguments, int key, const char *value,
                     struct argp_state *state) {
  int found = 0;
  switch (key) {
    case KEY_VIEW:
      cavum_option_set_word(&found, "view", value, view_words, state);
      arguments->options.view = (cavum_picture_view)found;
      break;
    case KEY_FIELD:
      cavum_option_set_word(&found, "field", value, field_words, state);
      arguments->options.field = (cavum_picture_field)found;
      break;
    case KEY_SIZE:
      cavum_option_set_word(&found, "size", value, size_words, state);
      arguments->layout.size = (cavum_picture_size)found;
      break;
    case KEY_ALONG_WALL:
      cavum_option_set_word(&found, "along-wall", value, along_wall_words, state);
      arguments->layout.along_wall = (cavum_picture_along_wall)(found + 1);  // 0: nothing
      break;
    default:
      cavum_option_set_word(&found, "align", value, align_words, state);
      arguments->layout.align = (cavum_picture_alignment)found;
  }
}

static void set_lines(draw_arguments *arguments, const char *value, struct argp_state *state) {
  int *lines = &arguments->layout.num_field_lines;
  cavum_option_set_integer(lines, "field-lines", value, 0, MOST_LINES, state);
  if (*lines == 0) *lines = -1;
}

static void set_line_width(draw_arguments *arguments, const char *value, struct argp_state *state) {
  char *end = NULL;
  double points = strtod(value, &end);
  if (end == value || *end || !(points > 0.0 && points <= 10.0)) {
    argp_error(state, "--line-width %s: expected a width in points, more than 0 and up to 10",
               value);
  }
  arguments->layout.field_line_points = points;
}

static void add_input(draw_arguments *arguments, const char *value, struct argp_state *state) {
  if (arguments->num_inputs == CAVUM_PICTURE_FILES_MOST) {
    argp_error(state, "%s: expected at most %d files", value, CAVUM_PICTURE_FILES_MOST);
  }
  arguments->input_paths[arguments->num_inputs++] = value;
}

static unsigned bit_of(int key) { return 1u << (key - KEY_VIEW); }

static error_t parse(int key, char *value, struct argp_state *state) {
  draw_arguments *arguments = state->input;
  if (key >= KEY_VIEW && key <= KEY_ALONG_WALL) arguments->given |= bit_of(key);
  switch (key) {
    case 'o':
      arguments->picture_path = value;
      break;
    case KEY_JSON:
      if (!*value) argp_error(state, "--json: expected a file name, or '-'");
      arguments->json_path = value;
      break;
    case CAVUM_OPTION_OVERWRITE:
      arguments->overwrite = true;
      break;
    case KEY_VIEW:
    case KEY_FIELD:
    case KEY_SIZE:
    case KEY_ALIGN:
    case KEY_ALONG_WALL:
      set_word(arguments, key, value, state);
      break;
    case KEY_MODE:
      cavum_option_set_mode(&arguments->options.mode, value, state);
      arguments->options.mode--;
      break;
    case KEY_READING:
      cavum_option_set_integer(&arguments->options.reading, "reading", value, 1, MOST_READINGS,
                               state);
      arguments->options.reading--;
      break;
    case KEY_X:
      arguments->options.x = value;
      break;
    case KEY_Y:
      arguments->options.y = value;
      break;
    case KEY_COLOUR:
      arguments->options.colour = value;
      break;
    case KEY_WIDTH:
      cavum_option_set_width(&arguments->options.width_px, value, state);
      break;
    case KEY_LINES:
      set_lines(arguments, value, state);
      break;
    case KEY_LINE_WIDTH:
      set_line_width(arguments, value, state);
      break;
    case ARGP_KEY_ARG:
      add_input(arguments, value, state);
      break;
    case ARGP_KEY_END:
      cavum_option_require(arguments->input_paths[0], "a file of cavum", state);
      cavum_option_require_output(arguments->picture_path, state);
      break;
    default:
      return ARGP_ERR_UNKNOWN;
  }
  return 0;
}

// An option that would change nothing was meant for another picture.
static cavum_status check_options(const draw_arguments *arguments, cavum_stored_kind kind,
                                  cavum_error *error) {
  cavum_picture_view view = arguments->options.view;
  bool fields = view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_SECTION;
  bool budget = view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_BUDGET;
  bool single = arguments->num_inputs == 1;
  bool result = kind == CAVUM_STORED_RESULT, test = kind == CAVUM_STORED_COLDTEST;
  bool scan = kind == CAVUM_STORED_SCAN, png = arguments->options.format == CAVUM_PICTURE_PNG;
  const struct {
    int key;
    bool used;
    const char *name, *what;
  } rules[] = {
      {KEY_LINES, result && fields && single, "--field-lines", "is for one section of a result"},
      {KEY_LINE_WIDTH, result && fields && single, "--line-width",
       "is for one section of a result"},
      {KEY_ALONG_WALL, result && fields && single, "--along-wall",
       "is for one section of a result"},
      {KEY_ALIGN, !single, "--align", "is for several results"},
      {KEY_VIEW, single, "--view", "is for one file: several are drawn over each other"},
      {KEY_FIELD, result && fields && single, "--field",
       "is for the sheet and the section of a result"},
      {KEY_MODE, result, "--mode", "is for results only"},
      {KEY_READING, test && budget, "--reading", "is for the sheet and the budget of a test"},
      {KEY_X, scan, "--x", "is for scans only"},
      {KEY_Y, scan, "--y", "is for scans only"},
      {KEY_COLOUR, scan, "--colour", "is for scans only"},
      {KEY_WIDTH, png, "--width", "is for .png only"}};
  for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
    if (!(arguments->given & bit_of(rules[i].key)) || rules[i].used) continue;
    return cavum_process_fail(error, CAVUM_ERR_USAGE, rules[i].name, rules[i].what);
  }
  return CAVUM_OK;
}

static cavum_status check(draw_arguments *arguments, cavum_error *error) {
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  cavum_status status =
      cavum_picture_find_format(&arguments->options.format, arguments->picture_path, error);
  if (status != CAVUM_OK) return status;
  for (int k = 0; k < arguments->num_inputs; k++) {
    cavum_outputs_read(&outputs, arguments->input_paths[k]);
  }
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_PICTURE, "-o", arguments->picture_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_PICTURE_JSON, "--json", arguments->json_path);
  status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK) {
    status = cavum_stored_find_kind(&kind, arguments->input_paths[0], error);
    status = cavum_input_explain(status, arguments->input_paths[0], CAVUM_INPUT_STORED, error);
  }
  if (status == CAVUM_OK) status = check_options(arguments, kind, error);
  arguments->kind = kind;
  return status;
}

// A PNG for paper has 300 pixels per inch, one for a slide is as wide as most screens.
static void choose_pixels(draw_arguments *arguments) {
  static const int pixels[] = {[CAVUM_SIZE_SCREEN] = 0,
                               [CAVUM_SIZE_COLUMN] = 1016,
                               [CAVUM_SIZE_TWO_COLUMNS] = 2102,
                               [CAVUM_SIZE_SLIDE] = 1920};
  int chosen = pixels[arguments->layout.size];
  if (chosen > 0 && !(arguments->given & bit_of(KEY_WIDTH))) arguments->options.width_px = chosen;
}

// Columns of a scan that were asked for.
static int list_columns(cavum_written_choice *choices, const cavum_picture_options *options) {
  const cavum_written_choice asked[] = {
      {"x", options->x, 0}, {"y", options->y, 0}, {"colour", options->colour, 0}};
  int count = 0;
  for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
    if (asked[i].word) choices[count++] = asked[i];
  }
  return count;
}

// What was drawn: that which this kind of picture has.
static int list_choices(cavum_written_choice choices[10], const draw_arguments *arguments) {
  const cavum_picture_options *options = &arguments->options;
  bool single = arguments->num_inputs == 1, result = arguments->kind == CAVUM_STORED_RESULT;
  bool section = options->view == CAVUM_VIEW_SHEET || options->view == CAVUM_VIEW_SECTION;
  int lines = arguments->layout.num_field_lines;
  int count = 0;
  choices[count++] = (cavum_written_choice){"size", size_words[arguments->layout.size], 0};
  choices[count++] =
      (cavum_written_choice){"view", single ? view_words[options->view] : "over-each-other", 0};
  if (result) choices[count++] = (cavum_written_choice){"mode", NULL, options->mode + 1};
  if (result && single && section) {
    choices[count++] = (cavum_written_choice){"field", field_words[options->field], 0};
    choices[count++] = (cavum_written_choice){"field_lines", NULL,
                                              lines < 0 ? 0 : (lines == 0 ? USUAL_LINES : lines)};
    if (arguments->layout.along_wall > 0) {
      const char *word = along_wall_words[arguments->layout.along_wall - 1];
      choices[count++] = (cavum_written_choice){"along_wall", word, 0};
    }
  }
  if (!single) {
    choices[count++] = (cavum_written_choice){"align", align_words[arguments->layout.align], 0};
  }
  if (arguments->kind == CAVUM_STORED_COLDTEST && options->reading >= 0) {
    choices[count++] = (cavum_written_choice){"reading", NULL, options->reading + 1};
  }
  if (arguments->kind == CAVUM_STORED_SCAN) count += list_columns(choices + count, options);
  return count;
}

static cavum_status write_json(const draw_arguments *arguments, const char *bytes, size_t size,
                               cavum_error *error) {
  static const char *const formats[] = {
      [CAVUM_PICTURE_PNG] = "png", [CAVUM_PICTURE_SVG] = "svg", [CAVUM_PICTURE_PDF] = "pdf"};
  char *json = NULL;
  cavum_written_choice choices[10];
  const cavum_written_page page = {.path = arguments->picture_path,
                                   .format = formats[arguments->options.format],
                                   .bytes = bytes,
                                   .size = size,
                                   .num_sources = arguments->num_inputs,
                                   .sources = (const char *const *)arguments->input_paths,
                                   .num_choices = list_choices(choices, arguments),
                                   .choices = choices};
  if (!arguments->json_path) return CAVUM_OK;
  cavum_status status = cavum_written_picture_json(&json, &page, error);
  if (status == CAVUM_OK) status = cavum_store_write_text(arguments->json_path, json, error);
  free(json);
  return status;
}

static int run(draw_arguments *arguments) {
  cavum_error error = {0};
  char *bytes = NULL;
  size_t size = 0;
  cavum_status status = check(arguments, &error);
  if (status == CAVUM_OK) {
    choose_pixels(arguments);
    status = cavum_picture_draw_files(&bytes, &size, arguments->num_inputs, arguments->input_paths,
                                      &arguments->options, &arguments->layout, &error);
  }
  if (status == CAVUM_OK) {
    status = cavum_picture_write(arguments->picture_path, bytes, size, &error);
  }
  if (status == CAVUM_OK) status = write_json(arguments, bytes, size, &error);
  free(bytes);
  return cavum_process_report(status, &error);
}

int cavum_cmd_draw(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "FILE.hdf...",
      .doc =
          "Draws a result (the cell with its fields, profiles along axis and wall, the mesh), a "
          "cold test (Q0 against gradient with its limits, series, traces, budget) or a scan (one "
          "figure against another); or several results over each other."
          "\vExamples:\n"
          "  cavum draw cell.hdf -o cell.png\n"
          "  cavum draw cell.hdf -o mesh.svg --view mesh\n"
          "  cavum draw cell.hdf -o fig.pdf --size column\n"
          "  cavum draw cell.hdf -o removal.png --along-wall frequency\n"
          "  cavum draw best.hdf -o path.png --view search\n"
          "  cavum draw a.hdf b.hdf c.hdf -o over.svg\n"
          "  cavum draw test.hdf -o q.pdf --view quality\n"
          "  cavum draw study.hdf -o study.png --x epk_over_eacc --colour q0\n"
          "  cavum draw cell.hdf -o cell.png --json -\n\n"
          "Exit status: 0 done, 1 the drawing failed, 2 bad input or usage."};
  draw_arguments arguments = {.options = cavum_picture_options_default(),
                              .layout = cavum_picture_layout_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  return run(&arguments);
}
