// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/colour.h
 * Colours of the screen, by the usual conventions: on a terminal that has them and nowhere else,
 * none when NO_COLOR is set (no-color.org) or TERM is dumb, also in a pipe when CLICOLOR_FORCE is
 * set (bixense.com/clicolors). They repeat what the words say; nothing is told by colour alone.
 */
#ifndef CAVUM_CLI_COLOUR_H
#define CAVUM_CLI_COLOUR_H

#include <stdio.h>

/** What a text is. */
typedef enum cavum_print_role {
  CAVUM_PRINT_HEAD,    /**< Titles and heads of columns: bold. */
  CAVUM_PRINT_ASIDE,   /**< Units, hints: faint. */
  CAVUM_PRINT_GOOD,    /**< Reached, within a limit: green. */
  CAVUM_PRINT_CAUTION, /**< Warnings: yellow. */
  CAVUM_PRINT_BAD,     /**< Not reached, beyond a limit, errors: red. */
  CAVUM_PRINT_END      /**< Back to plain text. */
} cavum_print_role;

/** What switches a stream to the ink of a role (ECMA-48, SGR); "" where there are no colours.
 * Static. */
const char *cavum_colour(FILE *out, cavum_print_role role);

/** Prints the title of a part: an empty line, then the text as a line of its own. */
void cavum_colour_title(FILE *out, const char *text);

#endif
