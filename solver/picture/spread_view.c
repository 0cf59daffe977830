// SPDX-License-Identifier: GPL-3.0-or-later
// One row a dimension, one panel a figure, a bar for the part in the variance. Parts of correlated
// dimensions may be below zero.
#include "picture/spread_view.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "format/key_words.h"
#include "format/quantity.h"
#include "picture/unit_letters.h"

static const double PAGE_WIDTH = 820.0, ROW_HEIGHT = 20.0, BAR_HEIGHT = 11.0, GAP = 22.0;
static const double HEAD_ROOM = 58.0, FOOT_ROOM = 46.0, LEAST_LABEL_ROOM = 80.0;

static const cavum_spread_bar_figure FIGURES[CAVUM_SPREAD_BAR_FIGURES] = {
    {CAVUM_FIGURE_FREQUENCY, "f"},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, "R/Q, linac"},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, "G"},
    {CAVUM_FIGURE_EPK_OVER_EACC, "E_{pk}/E_{acc}"},
    {CAVUM_FIGURE_BPK_OVER_EACC, "B_{pk}/E_{acc}"}};

static const cavum_ink INKS[CAVUM_SPREAD_BAR_FIGURES] = {
    CAVUM_INK_SECOND, CAVUM_INK_FIRST, CAVUM_INK_THIRD, CAVUM_INK_ELECTRIC, CAVUM_INK_MAGNETIC};

cavum_spread_bar_figure cavum_spread_bar_figure_at(int i) { return FIGURES[i]; }

void cavum_spread_rank(int *order, const cavum_spread *spread) {
  const double *share = NULL;
  for (int i = 0; i < CAVUM_SPREAD_BAR_FIGURES && !share; i++) {
    const cavum_figure_spread *f = &spread->figures[FIGURES[i].id];
    if (f->has_shares) share = f->share;
  }
  for (int j = 0; j < spread->num_dimensions; j++) {
    int at = j;
    for (; at > 0 && share && fabs(share[order[at - 1]]) < fabs(share[j]); at--) {
      order[at] = order[at - 1];
    }
    order[at] = j;
  }
}

bool cavum_spread_write_deviation(char text[64], const cavum_spread *spread, cavum_figure_id id) {
  const cavum_figure_spread *f = &spread->figures[id];
  bool sampled = isfinite(f->sampled_deviation) && (f->is_curved || !f->has_linear);
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, f->value);
  if (f->state != CAVUM_FIGURE_PRESENT || (!sampled && !f->has_linear)) return false;
  double value = cavum_in_unit(sampled ? f->sampled_deviation : f->deviation, unit.conversion);
  char letters[CAVUM_UNIT_LETTERS];
  cavum_unit_letters(letters, unit.name);
  snprintf(text, 64, "\xc2\xb1 %.3g%s%s", value, letters[0] ? " " : "", letters);
  return true;
}

// How a deviation was found; a line of its own, since panels are narrow.
static const char *kind_of(const cavum_figure_spread *f) {
  if (isfinite(f->sampled_deviation) && (f->is_curved || !f->has_linear)) {
    return f->has_sampled_shares || !f->has_shares ? "sampled" : "sampled; parts: linear";
  }
  return f->is_curved ? "not linear" : "";
}

/** What a page draws. */
typedef struct content {
  const cavum_stored_spread *stored;
  int order[CAVUM_TOLERANCES_MOST];
  int panels[CAVUM_SPREAD_BAR_FIGURES], num_panels;  // into FIGURES
} content;

static double label_room(cavum_page *page, const content *c) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .plain = true};
  double most = LEAST_LABEL_ROOM;
  for (int j = 0; j < c->stored->spread->num_dimensions; j++) {
    char words[CAVUM_CELL_KEY_SIZE];
    cavum_key_words(words, sizeof words, c->stored->spread->tolerances[j].key);
    most = cavum_max(most, cavum_canvas_measure(page->canvas, words, &style));
  }
  return most + 10.0;
}

static void draw_names(cavum_page *page, const content *c, double right) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE,
                                  .ink = CAVUM_INK_TEXT,
                                  .anchor = CAVUM_ANCHOR_END,
                                  .plain = true};
  for (int i = 0; i < c->stored->spread->num_dimensions; i++) {
    double middle = page->y + HEAD_ROOM + ROW_HEIGHT * (i + 0.5);
    char words[CAVUM_CELL_KEY_SIZE];
    cavum_key_words(words, sizeof words, c->stored->spread->tolerances[c->order[i]].key);
    cavum_canvas_text(page->canvas, right - 8.0, middle + 3.5, words, &style);
  }
}

static void draw_bars(cavum_page *page, const cavum_plot *plot, const content *c, int figure) {
  const double *share = c->stored->spread->figures[FIGURES[figure].id].share;
  double zero = cavum_plot_at_x(plot, 0.0);
  for (int i = 0; i < c->stored->spread->num_dimensions; i++) {
    double end = cavum_plot_at_x(plot, cavum_in_unit(share[c->order[i]], CAVUM_UNIT_PERCENT));
    double top = plot->y + ROW_HEIGHT * i + 0.5 * (ROW_HEIGHT - BAR_HEIGHT);
    cavum_canvas_rectangle(page->canvas, cavum_min(zero, end), top,
                           cavum_max(fabs(end - zero), 0.5), BAR_HEIGHT);
    cavum_canvas_fill(page->canvas, INKS[figure]);
  }
}

// From 0, or from below where a part is, to 100 % or beyond.
static cavum_plot_axis axis_of(const cavum_figure_spread *f, int num_dimensions) {
  cavum_plot_axis axis = {.low = 0.0, .high = 100.0, .label = "%"};
  for (int j = 0; j < num_dimensions; j++) {
    double percent = cavum_in_unit(f->share[j], CAVUM_UNIT_PERCENT);
    axis.low = cavum_min(axis.low, 1.05 * percent);
    if (percent > axis.high) axis.high = 1.05 * percent;
  }
  return axis;
}

static void draw_panel(cavum_page *page, const content *c, int figure, double x, double width) {
  const cavum_spread *spread = c->stored->spread;
  const cavum_text_style head = {
      .size = CAVUM_PLOT_LABEL_SIZE, .ink = CAVUM_INK_TEXT, .bold = true};
  const cavum_text_style below = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_MUTED, .plain = true};
  char text[64] = "";
  cavum_plot plot = {.x = x,
                     .y = page->y + HEAD_ROOM,
                     .width = width,
                     .height = ROW_HEIGHT * spread->num_dimensions,
                     .no_upright_marks = true};
  plot.horizontal = axis_of(&spread->figures[FIGURES[figure].id], spread->num_dimensions);
  plot.vertical = (cavum_plot_axis){.high = 1.0, .label = ""};
  cavum_canvas_text(page->canvas, x, page->y + 16.0, FIGURES[figure].text, &head);
  (void)cavum_spread_write_deviation(text, spread, FIGURES[figure].id);
  cavum_canvas_text(page->canvas, x, page->y + 32.0, text, &below);
  cavum_canvas_text(page->canvas, x, page->y + 46.0, kind_of(&spread->figures[FIGURES[figure].id]),
                    &below);
  cavum_plot_draw_frame(page->canvas, &plot);
  draw_bars(page, &plot, c, figure);
}

// Panels that stand side by side with room for their texts, in rows as equal as can be.
static int panels_abreast(cavum_page *page, const content *c, double room) {
  double widest = 0.0;
  for (int i = 0; i < c->num_panels; i++) {
    const cavum_text_style below = {.size = CAVUM_PLOT_TICK_SIZE, .plain = true};
    char text[64] = "";
    (void)cavum_spread_write_deviation(text, c->stored->spread, FIGURES[c->panels[i]].id);
    widest = cavum_max(widest, cavum_canvas_measure(page->canvas, text, &below));
  }
  int most = (int)cavum_max(1.0, floor((room + GAP) / (widest + GAP)));
  int rows = (c->num_panels + most - 1) / most;
  return (c->num_panels + rows - 1) / rows;
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const content *c = data;
  const cavum_spread *spread = c->stored->spread;
  char line[192];
  (void)error;
  snprintf(line, sizeof line,
           "%s%sparts of the dimensions in the variance, and standard deviations", spread->label,
           spread->label[0] ? ": " : "");
  cavum_page_draw_heading(page, c->stored->title, line);
  double left = CAVUM_PAGE_MARGIN + label_room(page, c);
  double right = page->width - CAVUM_PAGE_MARGIN - 8.0;
  int abreast = panels_abreast(page, c, right - left);
  double width = (right - left - GAP * (abreast - 1)) / abreast;
  for (int i = 0; i < c->num_panels; i++) {
    int k = i % abreast;
    if (k == 0) draw_names(page, c, left);
    draw_panel(page, c, c->panels[i], left + k * (width + GAP), width);
    if (k + 1 < abreast && i + 1 < c->num_panels) continue;
    page->y += HEAD_ROOM + ROW_HEIGHT * spread->num_dimensions + FOOT_ROOM;
  }
  return CAVUM_OK;
}

cavum_status cavum_spread_view_draw(char **bytes, size_t *size, const cavum_stored_spread *stored,
                                    const cavum_draw_request *request, cavum_error *error) {
  content c = {.stored = stored};
  cavum_spread_rank(c.order, stored->spread);
  for (int i = 0; i < CAVUM_SPREAD_BAR_FIGURES; i++) {
    if (stored->spread->figures[FIGURES[i].id].has_shares) c.panels[c.num_panels++] = i;
  }
  if (c.num_panels == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "no figure has a spread of which the parts of the dimensions are known");
  }
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, stored->title,
                         "Parts of the dimensions in the variance of each figure, as bars.",
                         draw_content, &c, error);
}
