// SPDX-License-Identifier: GPL-3.0-or-later
// Expressions by muParser, through its C interface. An expression owns the numbers its names are
// bound to, so evaluating one is: copy the values in, ask for the result.
#include "scan/expression.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "scan/expression_text.h"
#include "scan/parser_calls.h"

// Different names in one expression.
enum { MOST_NAMES = 64 };

struct cavum_expression {
  muParserHandle_t parser;  // owned
  char *text;               // owned
  int num_names;
  cavum_expression_name names[MOST_NAMES];
  double variables[MOST_NAMES];  // what the parser reads
  // Only while the expression is read:
  cavum_expression_lookup *lookup;
  const void *data;
  cavum_status status;
  cavum_error error;
};

static const char name_characters[] =
    "0123456789_.[]"
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";

// Called by muParser for each name it meets. It cannot refuse, so a bad name gets a place too and
// its error is kept.
static muFloat_t *bind_name(const muChar_t *name, void *data) {
  cavum_expression *expression = data;
  char quoted[CAVUM_EXPRESSION_LONGEST_NAME + 1];
  cavum_expression_name found = {.index = -1};
  if (expression->status == CAVUM_OK && expression->num_names == MOST_NAMES) {
    expression->status = cavum_fail(&expression->error, CAVUM_ERR_INPUT,
                                    "more than %d names in one expression", MOST_NAMES);
  }
  if (expression->status == CAVUM_OK) {
    expression->status =
        expression->lookup(&found, cavum_expression_name_of(quoted, name, expression->text),
                           expression->data, &expression->error);
  }
  int place = expression->status == CAVUM_OK ? expression->num_names++ : 0;
  expression->names[place] = found;
  expression->variables[place] = found.constant;
  return &expression->variables[place];
}

// What the library says, but where: it counts from 0, and this line says it already.
static int reason_length(const char *reason) {
  static const char place[] = " at position ";
  const char *at = strstr(reason, place);
  size_t digits = at ? strspn(at + strlen(place), "0123456789") : 0;
  bool is_last = at && digits > 0 && at[strlen(place) + digits] == '\0';
  return (int)(is_last ? (size_t)(at - reason) : strlen(reason));
}

// Reads the expression once: muParser binds names and checks the grammar when first evaluated.
static cavum_status check(cavum_expression *expression, const char *text, cavum_error *error) {
  mupDefineNameChars(expression->parser, name_characters);
  mupSetVarFactory(expression->parser, bind_name, expression);
  char *marked = cavum_expression_mark_quoted(text);
  if (!marked) return cavum_fail_memory(error);
  mupSetExpr(expression->parser, marked);
  free(marked);
  mupEval(expression->parser);
  if (expression->status != CAVUM_OK) {
    if (error) *error = expression->error;
    return expression->status;
  }
  if (!mupError(expression->parser)) return CAVUM_OK;
  // Of what is missing it counts a blank that it puts behind the text.
  int position = mupGetErrorPos(expression->parser), end = (int)strlen(text);
  if (position > end) position = end;
  const char *reason = mupGetErrorMsg(expression->parser);
  if (!reason) reason = "";
  int length = reason_length(reason);
  return cavum_fail(error, CAVUM_ERR_INPUT, "'%s' is not a valid expression (character %d): %.*s",
                    text, position + 1, length < 120 ? length : 120, reason);
}

cavum_status cavum_expression_create(cavum_expression **expression, const char *text,
                                     cavum_expression_lookup *lookup, const void *data,
                                     cavum_error *error) {
  cavum_status status = cavum_expression_check_text(text, error);
  if (status == CAVUM_OK) status = cavum_parser_reach(error);
  if (status != CAVUM_OK) return status;
  cavum_expression *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->lookup = lookup;
  made->data = data;
  made->text = cavum_copy_text(text);
  made->parser = mupCreate(muBASETYPE_FLOAT);
  status = made->parser && made->text ? check(made, text, error) : cavum_fail_memory(error);
  made->lookup = NULL;
  made->data = NULL;
  if (status == CAVUM_OK) {
    *expression = made;
  } else {
    cavum_expression_destroy(&made);
  }
  return status;
}

void cavum_expression_destroy(cavum_expression **expression) {
  if (!expression || !*expression) return;
  if ((*expression)->parser) mupRelease((*expression)->parser);
  free((*expression)->text);
  free(*expression);
  *expression = NULL;
}

const char *cavum_expression_text(const cavum_expression *expression) { return expression->text; }

int cavum_expression_num_names(const cavum_expression *expression) { return expression->num_names; }

cavum_expression_name cavum_expression_name_at(const cavum_expression *expression, int index) {
  return expression->names[index];
}

double cavum_expression_evaluate(const cavum_expression *expression, const double *values) {
  double *variables = ((cavum_expression *)expression)->variables;  // the parser's, not a result
  for (int i = 0; i < expression->num_names; i++) {
    const cavum_expression_name *name = &expression->names[i];
    variables[i] = name->index >= 0 ? values[name->index] : name->constant;
  }
  double value = mupEval(expression->parser);
  if (mupError(expression->parser)) {
    mupErrorReset(expression->parser);
    return NAN;
  }
  return value;
}
