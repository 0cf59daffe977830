// SPDX-License-Identifier: GPL-3.0-or-later
// Keys and texts that break lines.
#include "canvas/flow.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

cavum_flow cavum_flow_start(cavum_canvas *canvas, double left, double right, double y) {
  return (cavum_flow){canvas, left, right, left, y};
}

// Room for a sample, and from one entry to the next.
static const double LINE_SAMPLE = 25.0, MARK_SAMPLE = 12.0, ENTRY_GAP = 16.0;
enum { LINES_MOST = 8 };  // Whole entries also in one column of a journal.

// An entry whose sample starts at flow->x: on a new line where it does not fit any more.
static void make_room(cavum_flow *flow, const char *text, double sample) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT};
  double width = sample + cavum_canvas_measure(flow->canvas, text, &style);
  if (flow->x > flow->left && flow->x + width > flow->right) cavum_flow_break(flow);
}

// The text of an entry behind its sample, on as many lines as it needs.
static void write_entry(cavum_flow *flow, const char *text, double sample) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT};
  double x = flow->x + sample, width = cavum_canvas_measure(flow->canvas, text, &style);
  if (x + width <= flow->right || flow->x > flow->left) {
    cavum_canvas_text(flow->canvas, x, flow->y, text, &style);
    flow->x = x + width + ENTRY_GAP;
    return;
  }
  double next =
      cavum_flow_write_text(flow->canvas, x, flow->y, flow->right - x, text, &style, LINES_MOST);
  flow->y = next - 1.25 * style.size;  // The last line of the text; nothing follows on it.
  flow->x = flow->right;
}

void cavum_flow_add_line(cavum_flow *flow, const char *text, cavum_ink ink, cavum_dash dash,
                         double width) {
  make_room(flow, text, LINE_SAMPLE);
  cavum_plot_draw_key(flow->canvas, flow->x, flow->y, ink, dash, width);
  write_entry(flow, text, LINE_SAMPLE);
}

void cavum_flow_add_mark(cavum_flow *flow, const char *text, cavum_plot_mark mark, cavum_ink ink) {
  make_room(flow, text, MARK_SAMPLE);
  cavum_plot_draw_mark_key(flow->canvas, flow->x, flow->y, mark, ink);
  write_entry(flow, text, MARK_SAMPLE);
}

void cavum_flow_add_ring(cavum_flow *flow, const char *text, cavum_ink ink) {
  make_room(flow, text, MARK_SAMPLE);
  cavum_canvas_circle(flow->canvas, flow->x + 4.0, flow->y - 3.2, 4.0);
  cavum_canvas_stroke(flow->canvas, ink, 1.3, CAVUM_DASH_NONE);
  write_entry(flow, text, MARK_SAMPLE);
}

void cavum_flow_add_bar(cavum_flow *flow, const char *text, cavum_ink ink) {
  make_room(flow, text, MARK_SAMPLE);
  cavum_canvas_rectangle(flow->canvas, flow->x, flow->y - 7.5, 9.0, 8.0);
  cavum_canvas_fill(flow->canvas, ink);
  write_entry(flow, text, MARK_SAMPLE);
}

void cavum_flow_add_colour(cavum_flow *flow, const char *text, uint32_t colour) {
  make_room(flow, text, LINE_SAMPLE);
  cavum_canvas_rectangle(flow->canvas, flow->x, flow->y - 6.5, 20.0, 6.0);
  cavum_canvas_fill_colour(flow->canvas, colour);
  write_entry(flow, text, LINE_SAMPLE);
}

void cavum_flow_add_box(cavum_flow *flow, const char *text, cavum_ink ink) {
  make_room(flow, text, LINE_SAMPLE);
  cavum_canvas_rectangle(flow->canvas, flow->x, flow->y - 7.5, 20.0, 8.0);
  cavum_canvas_move(flow->canvas, flow->x + 10.0, flow->y - 7.5);
  cavum_canvas_line(flow->canvas, flow->x + 10.0, flow->y + 0.5);
  cavum_canvas_stroke(flow->canvas, ink, 1.0, CAVUM_DASH_NONE);
  write_entry(flow, text, LINE_SAMPLE);
}

void cavum_flow_add_text(cavum_flow *flow, const char *text) {
  make_room(flow, text, 0.0);
  write_entry(flow, text, 0.0);
}

void cavum_flow_break(cavum_flow *flow) {
  if (!(flow->x > flow->left)) return;
  flow->x = flow->left;
  flow->y += CAVUM_FLOW_LINE;
}

// Steps back to the start of a UTF-8 character.
static size_t character_start(const char *text, size_t at) {
  while (at > 0 && ((unsigned char)text[at] & 0xc0) == 0x80) at--;
  return at;
}

// Bytes of the longest start of a text that fits, ended at a blank where there is one.
static size_t fitting_length(cavum_canvas *canvas, const char *text, double width,
                             const cavum_text_style *style, const char *tail) {
  char line[512];
  size_t length = strlen(text), low = 0, high = length;
  if (length <= 480 && cavum_canvas_measure(canvas, text, style) <= width) return length;
  if (high > 480) high = 480;
  while (low < high) {
    size_t middle = character_start(text, (low + high + 1) / 2);
    if (middle <= low) break;
    snprintf(line, sizeof line, "%.*s%s", (int)middle, text, middle < length ? tail : "");
    if (cavum_canvas_measure(canvas, line, style) <= width) {
      low = middle;
    } else {
      high = middle - 1;
    }
  }
  if (low >= length) return length;
  size_t blank = low;
  while (blank > low / 2 && text[blank] != ' ') blank--;
  return blank > low / 2 ? blank : low;
}

double cavum_flow_write_text(cavum_canvas *canvas, double x, double y, double width,
                             const char *text, const cavum_text_style *style, int most) {
  static const char ellipsis[] = "\xe2\x80\xa6";
  char line[512];
  for (int i = 0; i < most && *text; i++) {
    bool last = i + 1 == most;
    size_t length = fitting_length(canvas, text, width, style, last ? ellipsis : "");
    if (length == 0) break;
    bool cut = last && text[length];
    snprintf(line, sizeof line, "%.*s%s", (int)length, text, cut ? ellipsis : "");
    for (char *c = line; *c; c++) {
      if ((unsigned char)*c < 0x20) *c = ' ';
    }
    cavum_canvas_text(canvas, x, y, line, style);
    text += length;
    while (*text == ' ') text++;
    y += 1.25 * style->size;
  }
  return y;
}
