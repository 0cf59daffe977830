// SPDX-License-Identifier: GPL-3.0-or-later
// What the argp parsers of several commands read the same way.
#include "cli/options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/nearest_word.h"
#include "cli/process.h"

static const double LARGEST_REFINEMENT = 64.0, BYTES_OF_A_GIGABYTE = 1e9;

enum { LEAST_WIDTH_PX = 200, MOST_WIDTH_PX = 16000 };
// As many as a cell file may ask for.
enum { MOST_MODES = 1000 };
enum { WORDS_SIZE = 256 };  // all words of an option

void cavum_option_set_integer(int *value, const char *name, const char *text, int smallest,
                              int largest, struct argp_state *state) {
  if (!cavum_process_read_integer(value, text, smallest, largest)) {
    argp_error(state, "--%s %s: expected a whole number from %d to %d", name, text, smallest,
               largest);
  }
}

void cavum_option_set_refinement(double *value, const char *text, struct argp_state *state) {
  if (!cavum_process_read_number(value, text) || *value <= 0.0 || *value > LARGEST_REFINEMENT) {
    argp_error(state, "--refine %s: expected a number above 0, at most %g", text,
               LARGEST_REFINEMENT);
  }
}

void cavum_option_set_seconds(double *value, const char *name, const char *text,
                              struct argp_state *state) {
  if (!cavum_process_read_number(value, text) || *value <= 0.0) {
    argp_error(state, "--%s %s: expected a number of seconds above 0", name, text);
  }
}

void cavum_option_set_memory(double *bytes, const char *name, const char *text,
                             struct argp_state *state) {
  double gigabytes;
  if (!cavum_process_read_number(&gigabytes, text) || gigabytes <= 0.0) {
    argp_error(state, "--%s %s: expected a number of gigabytes above 0", name, text);
  }
  *bytes = BYTES_OF_A_GIGABYTE * gigabytes;
}

static bool read_part(int64_t *part, int64_t *num_parts, const char *text) {
  char *end = NULL;
  long long number = strtoll(text, &end, 10);
  if (end == text || *end != '/') return false;
  const char *second = end + 1;
  long long parts = strtoll(second, &end, 10);
  if (end == second || *end != '\0' || number < 1 || number > parts) return false;
  *part = number - 1;
  *num_parts = parts;
  return true;
}

void cavum_option_set_part(int64_t *part, int64_t *num_parts, const char *text,
                           struct argp_state *state) {
  if (!read_part(part, num_parts, text)) {
    argp_error(state, "--part %s: expected K/N with K from 1 to N, for example 3/20", text);
  }
}

void cavum_option_set_width(int *value, const char *text, struct argp_state *state) {
  cavum_option_set_integer(value, "width", text, LEAST_WIDTH_PX, MOST_WIDTH_PX, state);
}

void cavum_option_set_mode(int *mode, const char *text, struct argp_state *state) {
  cavum_option_set_integer(mode, "mode", text, 1, MOST_MODES, state);
}

void cavum_option_take_list(void *arguments, char *text, struct argp_state *state,
                            cavum_option_taker *take) {
  for (char *item = text; item;) {
    char *comma = strchr(item, ',');
    if (comma) *comma = '\0';
    take(arguments, item, state);
    item = comma ? comma + 1 : NULL;
  }
}

void cavum_option_set_figure(cavum_figure_id *id, double *value_si, const char *name,
                             const char *form, char *text, bool positive,
                             struct argp_state *state) {
  cavum_error error = {0};
  double value = 0.0, unit = 1.0;
  char *sign = strchr(text, '=');
  if (!sign || !cavum_process_read_number(&value, sign + 1) || (positive && !(value > 0.0))) {
    argp_error(state, "--%s %s: expected %s", name, text, form);
    return;
  }
  *sign = '\0';
  if (cavum_figure_find(id, &unit, text, &error) != CAVUM_OK) {
    argp_error(state, "--%s: %s", name, error.message);
  }
  *value_si = value * unit;
}

// "a, b or c".
static void list_words(char text[WORDS_SIZE], const char *const *words) {
  size_t used = 0;
  for (int i = 0; words[i] && used < WORDS_SIZE; i++) {
    const char *separator = i == 0 ? "" : words[i + 1] ? ", " : " or ";
    used += (size_t)snprintf(text + used, WORDS_SIZE - used, "%s%s", separator, words[i]);
  }
}

void cavum_option_set_word(int *index, const char *name, const char *text, const char *const *words,
                           struct argp_state *state) {
  char list[WORDS_SIZE] = "", hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  for (int i = 0; words[i]; i++) {
    cavum_nearest_offer(&nearest, text, words[i]);
    if (strcmp(words[i], text) != 0) continue;
    *index = i;
    return;
  }
  list_words(list, words);
  argp_error(state, "--%s %s: expected %s%s", name, text, list,
             cavum_nearest_write(hint, &nearest, ""));
}

void cavum_option_set_file(const char **path, const char *option, const char *text,
                           struct argp_state *state) {
  if (text[0] == '\0' || strcmp(text, "-") == 0) {
    argp_error(state, "%s: expected a file name", option);
  }
  *path = text;
}

void cavum_option_set_argument(const char **path, const char *text, const char *what,
                               struct argp_state *state) {
  if (*path) argp_error(state, "%s: expected one %s only", text, what);
  *path = text;
}

void cavum_option_require(const char *text, const char *message, struct argp_state *state) {
  if (!text || text[0] == '\0') argp_error(state, "expected %s", message);
}

void cavum_option_require_output(const char *path, struct argp_state *state) {
  cavum_option_require(path, "-o with the name of the file to write", state);
}
