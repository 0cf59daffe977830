// SPDX-License-Identifier: GPL-3.0-or-later
// Texts split where they are raised or lowered.
#include "canvas/text_runs.h"

#include <stdio.h>
#include <string.h>

double cavum_text_raise(int height) { return height > 0 ? 0.36 : height < 0 ? -0.2 : 0.0; }

int cavum_text_split(cavum_text_run runs[CAVUM_TEXT_RUNS_MOST], const char *text, bool plain) {
  int count = 0;
  const char *at = text;
  while (*at && count < CAVUM_TEXT_RUNS_MOST) {
    bool small = !plain && (at[0] == '_' || at[0] == '^') && at[1] == '{';
    cavum_text_run run = {.start = small ? at + 2 : at};
    if (small) run.height = at[0] == '^' ? 1 : -1;
    const char *end = run.start;
    if (small) {
      while (*end && *end != '}') end++;
    } else {
      do end++;
      while (*end && (plain || !((end[0] == '_' || end[0] == '^') && end[1] == '{')));
    }
    run.length = (int)(end - run.start);
    if (run.length > 0) runs[count++] = run;
    at = small && *end ? end + 1 : end;
  }
  return count;
}

static const char MINUS[] = "\xe2\x88\x92";

static void write_raised(FILE *out, const char *at, const char *end) {
  static const char *const raised[] = {
      "\xe2\x81\xb0", "\xc2\xb9",     "\xc2\xb2",     "\xc2\xb3",     "\xe2\x81\xb4",
      "\xe2\x81\xb5", "\xe2\x81\xb6", "\xe2\x81\xb7", "\xe2\x81\xb8", "\xe2\x81\xb9"};
  for (; at < end; at++) {
    if (*at >= '0' && *at <= '9') {
      fputs(raised[*at - '0'], out);
    } else if (strncmp(at, MINUS, sizeof MINUS - 1) == 0) {
      fputs("\xe2\x81\xbb", out);
      at += sizeof MINUS - 2;
    } else {
      fputc(*at, out);
    }
  }
}

void cavum_text_flatten(char *to, size_t size, const char *text) {
  cavum_text_run runs[CAVUM_TEXT_RUNS_MOST];
  int count = cavum_text_split(runs, text, false);
  to[0] = '\0';  // No text is written where there is none.
  FILE *out = fmemopen(to, size, "w");
  if (!out) return;
  for (int i = 0; i < count; i++) {
    const cavum_text_run *run = &runs[i];
    if (run->height > 0) {
      write_raised(out, run->start, run->start + run->length);
    } else {
      fprintf(out, "%s%.*s", run->height < 0 ? "_" : "", run->length, run->start);
    }
  }
  fclose(out);
}
