// SPDX-License-Identifier: GPL-3.0-or-later
// cavum report: a file as one self-contained web page.
#include <argp.h>
#include <stdbool.h>
#include <stdlib.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/input_kind.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "store/written_json.h"

typedef struct report_arguments {
  const char *input_path, *report_path, *json_path;
  bool overwrite;
} report_arguments;

enum { KEY_JSON = 256 };

static const struct argp_option option_table[] = {
    {"output", 'o', "REPORT.html", 0, "File to write (required); '-' is standard output", 0},
    {"json", KEY_JSON, "FILE", 0,
     "Write what the page has as JSON: its size, sections, pictures and tables ('-': to standard "
     "output)",
     0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {0},
};

static error_t parse(int key, char *value, struct argp_state *state) {
  report_arguments *arguments = state->input;
  switch (key) {
    case 'o':
      arguments->report_path = value;
      break;
    case KEY_JSON:
      if (!*value) argp_error(state, "--json: expected a file name, or '-'");
      arguments->json_path = value;
      break;
    case CAVUM_OPTION_OVERWRITE:
      arguments->overwrite = true;
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->input_path, value, "file", state);
      break;
    case ARGP_KEY_END:
      cavum_option_require(arguments->input_path, "a file of cavum", state);
      cavum_option_require_output(arguments->report_path, state);
      break;
    default:
      return ARGP_ERR_UNKNOWN;
  }
  return 0;
}

static cavum_status write_json(const report_arguments *arguments, const char *bytes, size_t size,
                               cavum_error *error) {
  char *json = NULL;
  const cavum_written_page page = {.path = arguments->report_path,
                                   .format = "html",
                                   .bytes = bytes,
                                   .size = size,
                                   .num_sources = 1,
                                   .sources = &arguments->input_path};
  if (!arguments->json_path) return CAVUM_OK;
  cavum_status status = cavum_written_report_json(&json, &page, error);
  if (status == CAVUM_OK) status = cavum_store_write_text(arguments->json_path, json, error);
  free(json);
  return status;
}

static int run(const report_arguments *arguments) {
  cavum_error error = {0};
  char *bytes = NULL;
  size_t size = 0;
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  cavum_outputs_read(&outputs, arguments->input_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_REPORT, "-o", arguments->report_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_REPORT_JSON, "--json", arguments->json_path);
  cavum_status status = cavum_outputs_check(&outputs, &error);
  if (status == CAVUM_OK) {
    status = cavum_picture_report_file(&bytes, &size, arguments->input_path, &error);
    status = cavum_input_explain(status, arguments->input_path, CAVUM_INPUT_STORED, &error);
  }
  if (status == CAVUM_OK) {
    status = cavum_picture_write(arguments->report_path, bytes, size, &error);
  }
  if (status == CAVUM_OK) status = write_json(arguments, bytes, size, &error);
  free(bytes);
  return cavum_process_report(status, &error);
}

int cavum_cmd_report(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "FILE.hdf",
      .doc =
          "Writes a report of a result, a cold test or a scan as one HTML file that needs no "
          "network: inputs, figures with "
          "definitions and uncertainties, pictures, interactive plots."
          "\vExamples:\n"
          "  cavum report cell.hdf -o cell.html\n"
          "  cavum report test.hdf -o test.html\n"
          "  cavum report study.hdf -o study.html\n"
          "  cavum report cell.hdf -o cell.html --json -\n\n"
          "Exit status: 0 done, 1 the report failed, 2 bad input or usage."};
  report_arguments arguments = {0};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  return run(&arguments);
}
