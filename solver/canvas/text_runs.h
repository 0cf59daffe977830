// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/text_runs.h
 * The mark-up of texts: a_{b} and a^{b} lower and raise b.
 */
#ifndef CAVUM_CANVAS_TEXT_RUNS_H
#define CAVUM_CANVAS_TEXT_RUNS_H

#include <stdbool.h>
#include <stddef.h>

/** A stretch of text at one height: 0 on the line, 1 raised, -1 lowered. */
typedef struct cavum_text_run {
  const char *start; /**< Borrowed. */
  int length;        /**< Bytes. */
  int height;
} cavum_text_run;

/** Most stretches of one text. */
enum { CAVUM_TEXT_RUNS_MOST = 32 };

/** Size of raised and lowered text against the line. */
#define CAVUM_TEXT_SMALL 0.72

/** Splits a text into its stretches; returns how many. */
int cavum_text_split(cavum_text_run runs[CAVUM_TEXT_RUNS_MOST], const char *text, bool plain);

/**
 * The text without mark-up, for what is read out or has letters alone: raised digits and their sign
 * are letters of their own, 10^{-9} as ten to the minus nine; what is lowered stands behind a line,
 * E_acc.
 * @param[out] to    Zero-terminated, cut where `size` ends.
 */
void cavum_text_flatten(char *to, size_t size, const char *text);

/** Height of a stretch's base line above that of the text, in units of the font's size. */
double cavum_text_raise(int height);

#endif
