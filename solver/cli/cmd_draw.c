// SPDX-License-Identifier: GPL-3.0-or-later
// cavum draw: a picture of a result file.
#include <argp.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "commands.h"
#include "process.h"

struct arguments {
  const char *input_path, *picture_path;
  cavum_picture_options options;
};

enum { KEY_VIEW = 256, KEY_FIELD, KEY_MODE, KEY_WIDTH };

static const struct argp_option option_table[] = {
    {"output", 'o', "FILE", 0, "File to write (required): .png, .svg or .pdf", 0},
    {"view", KEY_VIEW, "WORD", 0,
     "What to draw: sheet (section, axis and wall; the default), section, axis, wall or mesh", 0},
    {"field", KEY_FIELD, "WORD", 0,
     "Colours of the section: both (|E| above the axis, |H| below; the default), E or H", 0},
    {"mode", KEY_MODE, "N", 0, "Mode of a result, from 1 (default 1)", 0},
    {"width", KEY_WIDTH, "PIXELS", 0, "Width of a PNG, 200 to 16000 (default 1600)", 0},
    {0},
};

// Index of a word in a list that ends with NULL, or -1.
static int find_word(const char *const *words, const char *word) {
  for (int i = 0; words[i]; i++) {
    if (strcmp(words[i], word) == 0) return i;
  }
  return -1;
}

static void set_view(struct arguments *arguments, const char *value, struct argp_state *state) {
  static const char *const words[] = {"sheet", "section", "axis", "wall", "mesh", NULL};
  int found = find_word(words, value);
  if (found < 0) {
    argp_error(state, "--view %s: expected sheet, section, axis, wall or mesh", value);
  }
  arguments->options.view = (cavum_picture_view)found;
}

static void set_field(struct arguments *arguments, const char *value, struct argp_state *state) {
  static const char *const words[] = {"both", "E", "H", NULL};
  int found = find_word(words, value);
  if (found < 0) argp_error(state, "--field %s: expected both, E or H", value);
  arguments->options.field = (cavum_picture_field)found;
}

static error_t parse(int key, char *value, struct argp_state *state) {
  struct arguments *arguments = state->input;
  switch (key) {
    case 'o':
      arguments->picture_path = value;
      break;
    case KEY_VIEW:
      set_view(arguments, value, state);
      break;
    case KEY_FIELD:
      set_field(arguments, value, state);
      break;
    case KEY_MODE:
      if (!cavum_process_read_integer(&arguments->options.mode, value, 1, 100000)) {
        argp_error(state, "--mode %s: expected a whole number from 1", value);
      }
      break;
    case KEY_WIDTH:
      if (!cavum_process_read_integer(&arguments->options.width_px, value, 200, 16000)) {
        argp_error(state, "--width %s: expected a whole number from 200 to 16000", value);
      }
      break;
    case ARGP_KEY_ARG:
      if (arguments->input_path) argp_error(state, "%s: expected one file only", value);
      arguments->input_path = value;
      break;
    case ARGP_KEY_END:
      if (!arguments->input_path) argp_error(state, "expected a result file");
      if (!arguments->picture_path || !arguments->picture_path[0]) {
        argp_error(state, "expected -o with the name of the file to write");
      }
      break;
    default:
      return ARGP_ERR_UNKNOWN;
  }
  return 0;
}

static int run(struct arguments *arguments) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  char *bytes = NULL;
  size_t size = 0;
  cavum_status status =
      cavum_picture_find_format(&arguments->options.format, arguments->picture_path, &error);
  if (status == CAVUM_OK) status = cavum_process_check_output(arguments->picture_path, &error);
  if (status == CAVUM_OK) {
    status = cavum_store_read_result(&result, NULL, arguments->input_path, &error);
  }
  if (status == CAVUM_OK) {
    status = cavum_picture_draw_result(&bytes, &size, result, &arguments->options, &error);
  }
  if (status == CAVUM_OK) {
    status = cavum_picture_write(arguments->picture_path, bytes, size, &error);
  }
  free(bytes);
  cavum_result_destroy(&result);
  return status == CAVUM_OK ? 0 : cavum_process_report(status, &error);
}

int cavum_cmd_draw(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "RESULT.hdf",
      .doc =
          "Draws a result: the cell with its fields, profiles along axis and wall, the mesh."
          "\vExit status: 0 done, 1 the drawing failed, 2 bad input or usage."};
  struct arguments arguments = {.options = cavum_picture_options_default()};
  argp_parse(&argp, argc, argv, 0, NULL, &arguments);
  return run(&arguments);
}
