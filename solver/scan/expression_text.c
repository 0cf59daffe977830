// SPDX-License-Identifier: GPL-3.0-or-later
// Commas, comparisons and equal signs of an expression, bracket by bracket.
#include "scan/expression_text.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"

enum { MOST_BRACKETS = 64 };

/** What is open at a place of the text; entry 0 is the text itself. */
typedef struct brackets {
  int depth;
  bool of_function[MOST_BRACKETS + 1];
  bool compared[MOST_BRACKETS + 1]; /**< A comparison came since the last &&, || or the like. */
} brackets;

static cavum_status fail_at(const char *text, const char *at, const char *what,
                            cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "'%s': %s (character %d)", text, what,
                    (int)(at - text) + 1);
}

// Whether a bracket that opens at a place is that of a function's arguments.
static bool follows_name(const char *text, const char *at) {
  while (at > text && isspace((unsigned char)at[-1])) at--;
  return at > text && (isalnum((unsigned char)at[-1]) || at[-1] == '_');
}

static cavum_status open_bracket(brackets *b, const char *text, const char *at,
                                 cavum_error *error) {
  if (b->depth == MOST_BRACKETS) return fail_at(text, at, "too many brackets", error);
  b->depth++;
  b->of_function[b->depth] = follows_name(text, at);
  b->compared[b->depth] = false;
  return CAVUM_OK;
}

static cavum_status take_comma(brackets *b, const char *text, const char *at, cavum_error *error) {
  b->compared[b->depth] = false;
  if (b->of_function[b->depth]) return CAVUM_OK;
  return fail_at(text, at, "a comma outside a function; a decimal number has a point", error);
}

// One of < > <= >= == !=; `at` moves to its last character.
static cavum_status take_comparison(brackets *b, const char *text, const char **at,
                                    cavum_error *error) {
  const char *start = *at;
  bool two = start[1] == '=';
  if (*start == '=' && !two) return fail_at(text, start, "equality is written ==", error);
  if (two) ++*at;
  if (b->compared[b->depth]) {
    return fail_at(text, start, "two comparisons in a row; join them with &&, as in 2 < x && x < 3",
                   error);
  }
  b->compared[b->depth] = true;
  return CAVUM_OK;
}

static cavum_status take(brackets *b, const char *text, const char **at, cavum_error *error) {
  bool negates = **at == '!' && (*at)[1] != '=';
  switch (**at) {
    case '(':
      return open_bracket(b, text, *at, error);
    case ')':
      if (b->depth > 0) b->depth--;  // the parser says what is wrong with one too many
      return CAVUM_OK;
    case ',':
      return take_comma(b, text, *at, error);
    case '<':
    case '>':
    case '=':
    case '!':
      return negates ? CAVUM_OK : take_comparison(b, text, at, error);
    case '&':
    case '|':
    case '?':
    case ':':
      b->compared[b->depth] = false;
      return CAVUM_OK;
    default:
      return CAVUM_OK;
  }
}

static bool is_quote(char c) { return c == '"' || c == '\''; }

// Moves from a quote to the one that closes it.
static cavum_status pass_quoted(const char *text, const char **at, cavum_error *error) {
  const char *end = strchr(*at + 1, **at);
  if (!end) return fail_at(text, *at, "a quote that is not closed", error);
  if (end - *at > CAVUM_EXPRESSION_LONGEST_NAME) {
    return fail_at(text, *at, "a name that is too long", error);
  }
  *at = end;
  return CAVUM_OK;
}

cavum_status cavum_expression_check_text(const char *text, cavum_error *error) {
  brackets b = {.depth = 0};
  cavum_status status = CAVUM_OK;
  for (const char *at = text; *at && status == CAVUM_OK; at++) {
    status = is_quote(*at) ? pass_quoted(text, &at, error) : take(&b, text, &at, error);
  }
  return status;
}

// The mark of a quoted name has its place in the text; no key begins like that.
static const char MARK[] = "_[";
enum { MARK_SIZE = 24 };

char *cavum_expression_mark_quoted(const char *text) {
  size_t length = strlen(text), used = 0;
  char *marked = cavum_alloc((int64_t)length * MARK_SIZE + 1, 1);
  for (const char *at = text; marked && *at; at++) {
    if (!is_quote(*at)) {
      marked[used++] = *at;
      continue;
    }
    const char *end = strchr(at + 1, *at);
    int written = snprintf(marked + used, MARK_SIZE, "%s%zu]", MARK, (size_t)(at - text));
    used += (size_t)written;
    // What follows stays where it was, for messages that count characters.
    for (ptrdiff_t i = written; i < end - at + 1; i++) marked[used++] = ' ';
    at = end;
  }
  return marked;
}

const char *cavum_expression_name_of(char name[CAVUM_EXPRESSION_LONGEST_NAME + 1],
                                     const char *marked, const char *text) {
  if (strncmp(marked, MARK, strlen(MARK)) != 0) return marked;
  size_t place = strtoul(marked + strlen(MARK), NULL, 10);
  if (place >= strlen(text) || !is_quote(text[place])) return marked;
  const char *end = strchr(text + place + 1, text[place]);
  snprintf(name, CAVUM_EXPRESSION_LONGEST_NAME + 1, "%.*s",
           (int)(end - text - (ptrdiff_t)place) - 1, text + place + 1);
  return name;
}
