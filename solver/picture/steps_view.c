// SPDX-License-Identifier: GPL-3.0-or-later
// One row a step; halves between plates have waterfalls of their own, on a slide beside that of the
// cell.
#include "picture/steps_view.h"

#include <stdio.h>

#include "base/base.h"
#include "canvas/flow.h"
#include "picture/steps_rows.h"

static const double PAGE_WIDTH = 820.0, SUBJECT_ROOM = 24.0, KEY_ROOM = 8.0, BESIDE = 12.0,
                    NARROW = 450.0;
enum { SENTENCE_LINES = 12 };

// On as many lines as they need; returns the y behind them.
static double draw_keys(cavum_page *page, const cavum_waterfall *first,
                        const cavum_waterfall_parts *has, double top) {
  cavum_flow flow =
      cavum_flow_start(page->canvas, CAVUM_PAGE_MARGIN + 8.0, page->width - CAVUM_PAGE_MARGIN, top);
  if (has->raises) cavum_flow_add_bar(&flow, "step raises f", CAVUM_INK_FIRST);
  if (has->lowers) cavum_flow_add_bar(&flow, "step lowers f", CAVUM_INK_SECOND);
  cavum_flow_add_line(&flow,
                      has->measured ? "f from the drawing, with its standard uncertainty"
                                    : "f with its standard uncertainty",
                      CAVUM_INK_TEXT, CAVUM_DASH_NONE, 1.2);
  if (has->aim) {
    cavum_flow_add_mark(&flow, has->tolerance ? "aim and its tolerance" : "aim", CAVUM_MARK_DIAMOND,
                        CAVUM_INK_THIRD);
  }
  if (has->lost_aim) {
    cavum_flow_add_mark(&flow, "aim, no tolerance is left", CAVUM_MARK_TRIANGLE, CAVUM_INK_MUTED);
  }
  if (has->measured) {
    cavum_flow_add_mark(&flow, "measured, with its standard uncertainty", CAVUM_MARK_CIRCLE,
                        CAVUM_INK_TEXT);
    cavum_flow_add_box(&flow, "expected from all that is measured, with its standard uncertainty",
                       CAVUM_INK_FOURTH);
  }
  if (has->contradicting) {
    cavum_flow_add_mark(&flow, "measured, does not fit the others", CAVUM_MARK_CROSS,
                        CAVUM_INK_TEXT);
  }
  cavum_waterfall_add_cut_names(&flow, page, first);
  cavum_flow_break(&flow);
  return flow.y;
}

static double draw_subject(cavum_page *page, const cavum_waterfall *w, double y) {
  static const char *const subjects[] = {
      [CAVUM_STEPS_OF_CELL] = "Cell",
      [CAVUM_STEPS_OF_ZERO_MODE] =
          "Halves between plates: 0 mode of two joined at the iris, and of one alone",
      [CAVUM_STEPS_OF_PI_MODE] = "Halves between plates: pi mode of two joined at the iris"};
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT};
  double left = w->left + (w->name_room > 0.0 ? 0.0 : BESIDE);
  return cavum_flow_write_text(page->canvas, left, y + SUBJECT_ROOM, w->right - left,
                               subjects[w->of], &style, 3) -
         1.25 * style.size;
}

// One below the other; returns the y behind them.
static double draw_below(cavum_page *page, cavum_waterfall *all, int count) {
  double behind = page->y;
  for (int k = 0; k < count; k++) {
    all[k].left = CAVUM_PAGE_MARGIN;
    all[k].right = page->width - CAVUM_PAGE_MARGIN;
    all[k].narrow = page->width < NARROW;
    all[k].name_room = cavum_waterfall_name_room(page, &all[k]);
    page->y = count > 1 ? draw_subject(page, &all[k], behind) : behind;
    behind = cavum_waterfall_draw(page, &all[k]);
  }
  return behind;
}

// Side by side, with one column of names; returns the y behind them.
static double draw_beside(cavum_page *page, cavum_waterfall *all, int count) {
  double behind = page->y, room = page->width - 2.0 * CAVUM_PAGE_MARGIN, top = page->y;
  cavum_waterfall whole = {.result = all[0].result, .right = room};
  double names = cavum_waterfall_name_room(page, &whole), width = (room - names) / count;
  for (int k = 0; k < count; k++) {
    all[k].left = CAVUM_PAGE_MARGIN + (k > 0 ? names + k * width : 0.0);
    all[k].right = CAVUM_PAGE_MARGIN + names + (k + 1) * width;
    all[k].name_room = k > 0 ? 0.0 : names;
    top = cavum_max(top, draw_subject(page, &all[k], page->y));
  }
  page->y = top;
  for (int k = 0; k < count; k++) {
    behind = cavum_max(behind, cavum_waterfall_draw(page, &all[k]));
  }
  return behind;
}

// What a cross means, in the words of the table.
static void draw_contradiction(cavum_page *page, const cavum_steps_result *result) {
  const cavum_text_style style = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .plain = true};
  double width = page->width - 2.0 * CAVUM_PAGE_MARGIN - 8.0;
  if (!result->contradiction[0]) return;
  page->y = cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN + 8.0, page->y + KEY_ROOM, width,
                                  result->contradiction, &style, SENTENCE_LINES);
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_steps_result *result = data;
  cavum_waterfall all[CAVUM_NUM_STEPS_SUBJECTS];
  cavum_waterfall_parts has = {0};
  char line[192];
  int count = 0;
  (void)error;
  snprintf(line, sizeof line, "%s%sfrequency through the steps, with its standard uncertainty",
           result->label, result->label[0] ? ": " : "");
  cavum_page_draw_heading(page, result->title, line);
  for (int of = CAVUM_STEPS_OF_CELL; of < CAVUM_NUM_STEPS_SUBJECTS; of++) {
    all[count] = (cavum_waterfall){.result = result, .of = (cavum_steps_subject)of};
    if (!cavum_waterfall_is_there(&all[count])) continue;
    cavum_waterfall_add_parts(&has, &all[count++]);
  }
  bool beside = page->request->size == CAVUM_SIZE_SLIDE && count > 1;
  double behind = beside ? draw_beside(page, all, count) : draw_below(page, all, count);
  page->y = draw_keys(page, &all[0], &has, behind + KEY_ROOM);
  draw_contradiction(page, result);
  return CAVUM_OK;
}

cavum_status cavum_steps_view_draw(char **bytes, size_t *size, const cavum_steps_result *result,
                                   const cavum_draw_request *request, cavum_error *error) {
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, result->title,
                         "Frequency after each step from the drawing to the cold cavity, as bars.",
                         draw_content, (void *)result, error);
}
