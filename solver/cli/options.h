// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/options.h
 * What the argp parsers of several commands read the same way. Each function ends the process with
 * a usage error, by argp_error(), when the text is not what it should be.
 */
#ifndef CAVUM_CLI_OPTIONS_H
#define CAVUM_CLI_OPTIONS_H

#include <argp.h>
#include <stdbool.h>
#include <stdint.h>

#include "cavum/figures.h"

/** Key of --overwrite in every command. */
enum { CAVUM_OPTION_OVERWRITE = 1024 };

/** Row of --overwrite for a table of options. */
#define CAVUM_OPTION_OVERWRITE_ROW                                                             \
  {                                                                                            \
    "overwrite", CAVUM_OPTION_OVERWRITE, NULL, 0,                                              \
        "Replace existing files of any kind (default: only older outputs of the same kind)", 0 \
  }

/** Reads a whole number within [smallest, largest]; the message shows --name and both limits. */
void cavum_option_set_integer(int *value, const char *name, const char *text, int smallest,
                              int largest, struct argp_state *state);

/** Reads the divisor of all element sizes (--refine): above 0, at most 64. */
void cavum_option_set_refinement(double *value, const char *text, struct argp_state *state);

/** Reads a time of work: above 0. */
void cavum_option_set_seconds(double *value, const char *name, const char *text,
                              struct argp_state *state);

/** Reads a size of memory in gigabytes: above 0. */
void cavum_option_set_memory(double *bytes, const char *name, const char *text,
                             struct argp_state *state);

/** Reads a part K/N (--part): `part` from 0. */
void cavum_option_set_part(int64_t *part, int64_t *num_parts, const char *text,
                           struct argp_state *state);

/** Width of a picture in pixels (--width). */
void cavum_option_set_width(int *value, const char *text, struct argp_state *state);

/**
 * Reads one of the words of an option: its index in `words`, which ends with NULL. The message
 * has all words, and the nearest one.
 */
void cavum_option_set_word(int *index, const char *name, const char *text, const char *const *words,
                           struct argp_state *state);

/** Reads the number of a mode of a cell (--mode), from 1. */
void cavum_option_set_mode(int *mode, const char *text, struct argp_state *state);

/** Takes one item of a list; `item` may be cut and is kept as long as the command runs. */
typedef void cavum_option_taker(void *arguments, char *item, struct argp_state *state);

/** Hands the items of a list with commas to `take`, one after the other; the commas become ends. */
void cavum_option_take_list(void *arguments, char *text, struct argp_state *state,
                            cavum_option_taker *take);

/**
 * Reads FIGURE=NUMBER, the number in the unit that the key of the figure names.
 * @param[out]    id        Figure.
 * @param[out]    value_si  Number, SI.
 * @param[in]     name      Of the option, for messages.
 * @param[in]     form      What is expected, for messages: "FIGURE=VALUE with a number".
 * @param[in,out] text      Cut at the sign.
 * @param[in]     positive  The number must be above 0.
 * @param[in]     state     Of the parser.
 */
void cavum_option_set_figure(cavum_figure_id *id, double *value_si, const char *name,
                             const char *form, char *text, bool positive, struct argp_state *state);

/** Name of a file that an option writes or reads by name: not empty and not standard output. */
void cavum_option_set_file(const char **path, const char *option, const char *text,
                           struct argp_state *state);

/** The one argument of a command; `what` names it in the message about a second one. */
void cavum_option_set_argument(const char **path, const char *text, const char *what,
                               struct argp_state *state);

/** At the end of all options: what was given must be there; NULL or empty is not. */
void cavum_option_require(const char *text, const char *message, struct argp_state *state);

/** cavum_option_require() for the file of a required -o. */
void cavum_option_require_output(const char *path, struct argp_state *state);

#endif
