// SPDX-License-Identifier: GPL-3.0-or-later
// Four curves over the place along the wall: the section's radius, so that one sees where one is,
// the deviation, the derivative of the frequency by the wall, and the product of both.
#include "picture/as_built_view.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "canvas/plot.h"
#include "canvas/ticks.h"

static const double PAGE_WIDTH = 820.0, LEFT_ROOM = 78.0, RIGHT_ROOM = 16.0;
static const double PANEL_HEIGHT = 132.0, PANEL_GAP = 18.0, HEAD_ROOM = 14.0, FOOT_ROOM = 44.0,
                    KEY_ROOM = 14.0;
static const double AXIS_ROOM = 0.06;

enum { PANELS = 4 };
static const cavum_ink OUTLIER_INK = CAVUM_INK_FOURTH;

/** One curve in the units of its axis. */
typedef struct panel {
  const char *label;
  const double *values, *spread;  // spread: may be NULL
  double unit;
  cavum_ink ink;
} panel;

// kHz by mm of wall and by um of it: 1e3 Hz / (1e-3 m 1e-6 m).
#define KHZ_PER_MM_AND_UM 1e12
#define KHZ_PER_MM 1e6

static void set_panels(panel panels[PANELS], const cavum_as_built *b) {
  panels[0] = (panel){"r in mm", b->r_m, NULL, 1e-3, CAVUM_INK_MUTED};
  panels[1] = (panel){"deviation in \xc2\xb5m", b->deviation_m, b->deviation_uncertainty_m, 1e-6,
                      CAVUM_INK_FIRST};
  panels[2] = (panel){"kHz per mm and \xc2\xb5m", b->slope_hz_per_m2, NULL, KHZ_PER_MM_AND_UM,
                      CAVUM_INK_THIRD};
  panels[3] =
      (panel){"change in kHz per mm", b->change_hz_per_m, NULL, KHZ_PER_MM, CAVUM_INK_SECOND};
}

static double value_of(const panel *p, cavum_index i, double sign) {
  double spread = p->spread ? sign * p->spread[i] : 0.0;
  return (p->values[i] + (isfinite(spread) ? spread : 0.0)) / p->unit;
}

static cavum_plot_axis axis_of(const panel *p, cavum_index count) {
  double low = 0.0, high = 0.0;
  for (cavum_index i = 0; i < count; i++) {
    if (!isfinite(p->values[i])) continue;
    low = cavum_min(low, value_of(p, i, -1.0));
    high = cavum_max(high, value_of(p, i, 1.0));
  }
  double room = AXIS_ROOM * (high > low ? high - low : 1.0);
  return (cavum_plot_axis){
      .low = low < 0.0 ? low - room : 0.0, .high = high + room, .label = p->label};
}

static void draw_curve(cavum_page *page, const cavum_plot *plot, const cavum_as_built *b,
                       const panel *p, double sign, double *work) {
  double *x = work, *y = work + b->num_places;
  for (cavum_index i = 0; i < b->num_places; i++) {
    x[i] = cavum_in_mm(b->along_m[i]);
    y[i] = value_of(p, i, sign);
  }
  cavum_plot_draw_line(page->canvas, plot, (int)b->num_places, x, y,
                       sign == 0.0 ? p->ink : CAVUM_INK_MUTED, sign == 0.0 ? 1.4 : 0.7,
                       CAVUM_DASH_NONE);
}

// Points that were left out, at the edge of the frame where they are beyond it: there they would
// make all else flat.
static void draw_outliers(cavum_page *page, const cavum_as_built *b, const cavum_plot *plot) {
  const cavum_plot_axis *axis = &plot->vertical;
  for (int64_t i = 0; i < b->num_outliers; i++) {
    double value = cavum_in_unit(b->outliers[i].distance_m, CAVUM_UNIT_UM);
    double x = cavum_plot_at_x(plot, cavum_in_mm(b->outliers[i].along_m));
    if (!isfinite(value) || !isfinite(x)) continue;
    bool beyond = value < axis->low || value > axis->high;
    double y = cavum_plot_at_y(plot, cavum_max(axis->low, cavum_min(axis->high, value)));
    if (beyond) {
      cavum_plot_draw_mark(page->canvas, x, y, 3.6, CAVUM_MARK_TRIANGLE, OUTLIER_INK);
    } else {
      cavum_plot_draw_mark(page->canvas, x, y, 3.2, CAVUM_MARK_DIAMOND, OUTLIER_INK);
    }
  }
}

static void draw_panel(cavum_page *page, const cavum_as_built *b, const panel *p, bool last,
                       double *work) {
  cavum_plot plot = {.x = CAVUM_PAGE_MARGIN + LEFT_ROOM,
                     .y = page->y,
                     .width = page->width - 2.0 * CAVUM_PAGE_MARGIN - LEFT_ROOM - RIGHT_ROOM,
                     .height = PANEL_HEIGHT};
  plot.horizontal =
      (cavum_plot_axis){.low = 0.0,
                        .high = cavum_in_mm(b->along_m[b->num_places - 1]),
                        .hide_labels = !last,
                        .label = last ? "arc length along the wall of the drawing in mm" : ""};
  plot.vertical = axis_of(p, b->num_places);
  cavum_plot_draw_frame(page->canvas, &plot);
  if (plot.vertical.low < 0.0) {
    cavum_plot_draw_level(page->canvas, &plot, 0.0, CAVUM_INK_MUTED, CAVUM_DASH_NONE);
  }
  if (p->spread) {
    draw_curve(page, &plot, b, p, -1.0, work);
    draw_curve(page, &plot, b, p, 1.0, work);
  }
  draw_curve(page, &plot, b, p, 0.0, work);
  if (p->spread) draw_outliers(page, b, &plot);
  page->y += PANEL_HEIGHT + PANEL_GAP;
}

// Where the wall begins, and what the curves are.
static void draw_keys(cavum_page *page, const cavum_as_built *b) {
  char text[160];
  double z_mm = cavum_in_mm(b->z_m[0]);
  cavum_flow flow = cavum_flow_start(page->canvas, CAVUM_PAGE_MARGIN + 8.0,
                                     page->width - CAVUM_PAGE_MARGIN, page->y + KEY_ROOM);
  cavum_flow_add_line(&flow, "deviation outwards: metal that is missing", CAVUM_INK_FIRST,
                      CAVUM_DASH_NONE, 1.4);
  cavum_flow_add_line(&flow, "deviation with its standard uncertainty", CAVUM_INK_MUTED,
                      CAVUM_DASH_NONE, 0.7);
  cavum_flow_break(&flow);
  if (b->num_outliers > 0) {
    cavum_flow_add_mark(&flow, "point left out", CAVUM_MARK_DIAMOND, OUTLIER_INK);
    cavum_flow_add_mark(&flow, "deviation beyond the frame", CAVUM_MARK_TRIANGLE, OUTLIER_INK);
    cavum_flow_break(&flow);
  }
  cavum_flow_add_line(&flow,
                      "change of the frequency for a wall that is 1 \xc2\xb5m farther out, per mm "
                      "of wall",
                      CAVUM_INK_THIRD, CAVUM_DASH_NONE, 1.4);
  cavum_flow_add_line(&flow, "change of the frequency by the deviation, per mm of wall",
                      CAVUM_INK_SECOND, CAVUM_DASH_NONE, 1.4);
  cavum_flow_break(&flow);
  snprintf(text, sizeof text, "The wall begins at z = %s%.1f mm, r = %.1f mm.",
           z_mm < 0.0 ? cavum_ticks_sign(z_mm) : "", fabs(z_mm), cavum_in_mm(b->r_m[0]));
  cavum_flow_add_text(&flow, text);
  cavum_flow_break(&flow);
  page->y = flow.y;
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_as_built *b = data;
  const cavum_as_built_figure *f = &b->figures[CAVUM_FIGURE_FREQUENCY];
  panel panels[PANELS];
  char line[192], uncertainty[24];
  double *work = cavum_alloc(2 * (int64_t)b->num_places, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  double u_khz = cavum_in_unit(f->uncertainty, CAVUM_UNIT_KHZ);
  snprintf(uncertainty, sizeof uncertainty, u_khz < 99.5 ? "%.2g" : "%.0f", u_khz);
  snprintf(line, sizeof line,
           "%s%sas built %.4f MHz, %s%.1f kHz from the drawing, standard uncertainty %s kHz",
           b->label, b->label[0] ? ": " : "", cavum_in_mhz(f->value),
           cavum_ticks_sign(f->value - f->drawn),
           fabs(cavum_in_unit(f->value - f->drawn, CAVUM_UNIT_KHZ)), uncertainty);
  cavum_page_draw_heading(page, b->title, line);
  page->y += HEAD_ROOM;
  set_panels(panels, b);
  for (int k = 0; k < PANELS; k++) draw_panel(page, b, &panels[k], k == PANELS - 1, work);
  page->y += FOOT_ROOM - PANEL_GAP;
  draw_keys(page, b);
  free(work);
  return CAVUM_OK;
}

cavum_status cavum_as_built_view_draw(char **bytes, size_t *size, const cavum_as_built *built,
                                      const cavum_draw_request *request, cavum_error *error) {
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, built->title,
                         "Deviation of a measured wall from its drawing, and its part in the "
                         "change of the frequency, along the wall.",
                         draw_content, (void *)built, error);
}
