// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file text_boxes.h
 * Boxes of the texts of a picture, as its SVG has them: none on another, none beyond the page.
 */
#ifndef CAVUM_TEST_TEXT_BOXES_H
#define CAVUM_TEST_TEXT_BOXES_H

#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "canvas/canvas.h"
#include "canvas/plot.h"

enum { TEXT_BOXES_MOST = 400 };

// A text on the page: its box, its words, the size of its letters; labels of axes are centred.
typedef struct text_box {
  double x0, y0, x1, y1, size;
  bool centred;
  char words[256];
} text_box;

static inline double text_boxes_number(const char *tag, const char *end, const char *name) {
  const char *at = strstr(tag, name);
  return at && at < end ? strtod(at + strlen(name), NULL) : NAN;
}

// Characters that SVG writes by name.
static inline void text_boxes_unescape(char *words) {
  static const char *const names[] = {"&#39;", "&quot;", "&lt;", "&gt;", "&amp;"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    for (char *at = words; (at = strstr(at, names[i])); at++) {
      size_t length = strlen(names[i]);
      *at = "'\"<>&"[i];
      memmove(at + 1, at + length, strlen(at + length) + 1);
    }
  }
}

static inline double text_boxes_measure(cavum_canvas *canvas, const char *words, int length,
                                        double size, bool bold) {
  char run[512];
  const cavum_text_style style = {.size = size, .bold = bold, .plain = true};
  snprintf(run, sizeof run, "%.*s", length, words);
  text_boxes_unescape(run);
  return cavum_canvas_measure(canvas, run, &style);
}

// The runs of a text: what is between its tags, each in the size of its tspan.
static inline double text_boxes_runs(text_box *box, cavum_canvas *canvas, const char *at,
                                     const char *end, bool bold) {
  double width = 0.0, size = box->size;
  box->words[0] = '\0';
  while (at < end) {
    const char *tag = memchr(at, '<', (size_t)(end - at));
    if (!tag) tag = end;
    width += text_boxes_measure(canvas, at, (int)(tag - at), size, bold);
    strncat(box->words, at, (size_t)(tag - at) < 60 ? (size_t)(tag - at) : 60);
    if (tag == end) break;
    const char *close = strchr(tag, '>');
    double small = text_boxes_number(tag, close, "font-size=\"");
    size = tag[1] == '/' || isnan(small) ? box->size : small;
    at = close + 1;
  }
  return width;
}

// Hard blanks as plain ones.
static inline void text_boxes_soften(char *words) {
  for (char *at = strstr(words, "\xc2\xa0"); at; at = strstr(at, "\xc2\xa0")) {
    *at = ' ';
    memmove(at + 1, at + 2, strlen(at + 2) + 1);
  }
}

static inline int text_boxes_read(text_box boxes[TEXT_BOXES_MOST], cavum_canvas *canvas,
                                  const char *svg) {
  int count = 0;
  for (const char *tag = strstr(svg, "<text "); tag; tag = strstr(tag + 1, "<text ")) {
    const char *open = strchr(tag, '>'), *end = strstr(tag, "</text>");
    text_box *box = &boxes[count++];
    ck_assert_int_lt(count, TEXT_BOXES_MOST);
    box->size = text_boxes_number(tag, open, "font-size=\"");
    bool bold = strstr(tag, "font-weight") && strstr(tag, "font-weight") < open;
    const char *turned = strstr(tag, "translate(");
    bool upward = turned && turned < open;
    double x = upward ? strtod(turned + 10, NULL) : text_boxes_number(tag, open, " x=\"");
    double y =
        upward ? strtod(strchr(turned, ',') + 1, NULL) : text_boxes_number(tag, open, " y=\"");
    double width = text_boxes_runs(box, canvas, open + 1, end, bold), before = 0.0;
    text_boxes_soften(box->words);
    const char *anchor = strstr(tag, "text-anchor=\"");
    box->centred = anchor && anchor < open && anchor[13] == 'm';
    if (anchor && anchor < open) before = box->centred ? 0.5 * width : width;
    // Heights of capital letters and of what hangs below the line, as shares of the size, of the
    // font that is drawn with.
    double up = 0.73 * box->size, down = 0.2 * box->size;
    box->x0 = upward ? x - up : x - before;
    box->x1 = upward ? x + down : x - before + width;
    box->y0 = upward ? y + before - width : y - up;
    box->y1 = upward ? y + before : y + down;
  }
  return count;
}

static inline bool text_boxes_has_unit(const char *words) {
  // Ratios to the gradient of the same unit have none.
  return strstr(words, " in ") || strstr(words, "|E| / E") || strstr(words, " / E");
}

// Labels of axes have units where `with_units`. Returns how far down the page the lowest text
// stands, as a part of its height.
static inline double text_boxes_check(const char *svg, const char *name, bool with_units) {
  static text_box boxes[TEXT_BOXES_MOST];
  cavum_canvas *canvas = NULL;
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_MEASURE, .width = 1.0, .height = 1.0};
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  const char *view_box = strstr(svg, "viewBox=\"0 0 ");
  char *end = NULL;
  double width = strtod(view_box + 13, &end), height = strtod(end, NULL);
  double lowest = 0.0;
  int count = text_boxes_read(boxes, canvas, svg);
  ck_assert_int_gt(count, 4);
  for (int i = 0; i < count; i++) {
    const text_box *a = &boxes[i];
    lowest = fmax(lowest, a->y1 / height);
    bool inside = a->x0 >= 0.0 && a->y0 >= 0.0 && a->x1 <= width && a->y1 <= height;
    ck_assert_msg(inside, "%s: '%s' at %g..%g, %g..%g leaves the page of %g x %g", name, a->words,
                  a->x0, a->x1, a->y0, a->y1, width, height);
    if (with_units && a->centred && a->size == CAVUM_PLOT_LABEL_SIZE &&
        strncmp(a->words, "in ", 3) != 0) {
      bool two_lines = i + 1 < count && strncmp(boxes[i + 1].words, "in ", 3) == 0;
      ck_assert_msg(two_lines || text_boxes_has_unit(a->words), "%s: no unit in '%s'", name,
                    a->words);
    }
    for (int k = 0; k < i; k++) {
      const text_box *b = &boxes[k];
      double across = fmin(a->x1, b->x1) - fmax(a->x0, b->x0);
      double along = fmin(a->y1, b->y1) - fmax(a->y0, b->y0);
      ck_assert_msg(across < 0.5 || along < 0.5, "%s: '%s' and '%s' overlap by %g x %g", name,
                    b->words, a->words, across, along);
    }
  }
  printf("%s: %d texts, down to %.2f of the page\n", name, count, lowest);
  cavum_canvas_destroy(&canvas);
  return lowest;
}

#endif
