// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/formula.h
 * Formulas and symbols within texts of ours, set as mathematics: "V^2 / (omega U)" becomes MathML
 * with the same in plain letters as its alternative. Browsers need no library for it.
 */
#ifndef CAVUM_REPORT_FORMULA_H
#define CAVUM_REPORT_FORMULA_H

#include <stdbool.h>
#include <stdio.h>

/**
 * Writes a text with its formulas set as mathematics and all else escaped. A formula is the longest
 * piece made of known symbols (E_acc, Q_t, omega, mu0, R/Q, ...), numbers, + - = / ^, brackets,
 * bars, sqrt(), exp(), and integrals that end in dz, dS or dV. What is no formula, numbers with
 * units among it, stays as it is.
 * @param[out] out   The page.
 * @param[in]  text  Plain, in the program's words.
 * @param[in]  bars  " / " becomes a fraction with a bar, for formulas that stand by themselves;
 *                   within sentences, and without blanks around it, a slash stays a slash.
 */
void cavum_formula_write(FILE *out, const char *text, bool bars);

/** What a piece of a formula is. */
typedef enum cavum_formula_kind {
  CAVUM_FORMULA_ROW,      /**< Its parts one after the other. */
  CAVUM_FORMULA_SYMBOL,   /**< Of the table. */
  CAVUM_FORMULA_NUMBER,   /**< Its text. */
  CAVUM_FORMULA_OPERATOR, /**< Its text. */
  CAVUM_FORMULA_WORD,     /**< Its text, upright. */
  CAVUM_FORMULA_BRACKETS, /**< Its parts in round brackets. */
  CAVUM_FORMULA_FRACTION, /**< Two parts. */
  CAVUM_FORMULA_POWER,    /**< Two parts. */
  CAVUM_FORMULA_ROOT      /**< One part. */
} cavum_formula_kind;

/** Most pieces of a formula, and factors looked for; a longer one stays text. */
enum { CAVUM_FORMULA_PIECES = 120, CAVUM_FORMULA_STEPS = 200 };

/** A piece of a formula. */
typedef struct cavum_formula_piece {
  cavum_formula_kind kind;
  const char *text; /**< Of numbers, operators, words. */
  int length;       /**< Bytes of it. */
  int symbol;       /**< Of the table of symbols. */
  int first, next;  /**< First part, and the piece behind this one in its row; -1: none. */
} cavum_formula_piece;

/** A formula that was read. */
typedef struct cavum_formula {
  cavum_formula_piece pieces[CAVUM_FORMULA_PIECES];
  int count;
  int steps;       /**< Factors that were looked for, so that brackets without end have an end. */
  bool bars;       /**< As in cavum_formula_write(). */
  int root;        /**< The whole. */
  const char *end; /**< What follows in the text. */
} cavum_formula;

/** A symbol: how texts write it, and its parts as they are set. */
typedef struct cavum_formula_symbol {
  const char *name;  /**< In texts of the program. */
  const char *plain; /**< As an alternative for readers without mathematics. */
  const char *base, *below, *above;
  bool alone; /**< A formula by itself, within a sentence; others could be a unit or a word. */
  bool differential; /**< Ends an integral. */
} cavum_formula_symbol;

/** A row of the table of symbols. */
const cavum_formula_symbol *cavum_formula_describe_symbol(int symbol);

/** The symbol of this name; NULL when there is none. */
const cavum_formula_symbol *cavum_formula_find_symbol(const char *name, int length);

/** Reads the formula that begins at `at` within `text`; false when there is none. */
bool cavum_formula_read(cavum_formula *formula, const char *text, const char *at, bool bars);

#endif
