// SPDX-License-Identifier: GPL-3.0-or-later
// Electric field lines: contours of r H_phi, because the displacement current through the circle of
// radius r is 2 pi r H_phi. Equal steps of r H_phi are equal steps of flux.
//
// The pieces of a line in the elements are joined at their ends, so that lines are drawn in one go.
#include "picture/field_lines.h"

#include <string.h>

#include "base/base.h"
#include "canvas/colour.h"
#include "picture/level_lines.h"

// On the page, in points: pieces of an element between which lines are looked for, how far a line
// may be from where it belongs, how far apart its points are at least, and how near to each other
// ends are that belong together.
static const double COARSE = 6.0, FINE = 0.03, SHORTEST = 0.7, TOGETHER = 0.05;

// An end of a piece.
typedef struct line_end {
  double z_m, r_m;
  int level;
  int64_t piece;
  bool last;        // The end of the piece, not its start.
  int64_t partner;  // Index of the end that it meets, or -1.
} line_end;

static int compare_ends(const void *a, const void *b) {
  const line_end *first = a, *second = b;
  if (first->level != second->level) return first->level < second->level ? -1 : 1;
  if (first->z_m != second->z_m) return first->z_m < second->z_m ? -1 : 1;
  if (first->piece != second->piece) return first->piece < second->piece ? -1 : 1;
  return (int)first->last - (int)second->last;
}

static void fill_ends(line_end *ends, const cavum_level_lines *lines) {
  for (int64_t i = 0; i < lines->num_pieces; i++) {
    const cavum_level_piece *piece = &lines->pieces[i];
    for (int last = 0; last < 2; last++) {
      const cavum_level_point *at = &lines->points[piece->first + (last ? piece->count - 1 : 0)];
      ends[2 * i + last] = (line_end){at->z_m, at->r_m, piece->level, i, last, -1};
    }
  }
}

// Ends of one level that are at the same place, two by two. Sorted: those are near each other.
static void pair_ends(line_end *ends, int64_t count, double together_m) {
  for (int64_t i = 0; i < count; i++) {
    double nearest = together_m;
    int64_t found = -1;
    if (ends[i].partner >= 0) continue;
    for (int64_t k = i + 1;
         k < count && ends[k].level == ends[i].level && ends[k].z_m - ends[i].z_m <= together_m;
         k++) {
      double distance = hypot(ends[k].z_m - ends[i].z_m, ends[k].r_m - ends[i].r_m);
      if (ends[k].partner >= 0 || ends[k].piece == ends[i].piece || distance > nearest) continue;
      nearest = distance;
      found = k;
    }
    if (found < 0) continue;
    ends[i].partner = found;
    ends[found].partner = i;
  }
}

// A line from piece to piece on its way to the page.
typedef struct line_pen {
  cavum_canvas *canvas;
  const cavum_level_lines *lines;
  const unsigned char *light;  // Of each point: it lies on a dark colour.
  cavum_field_frame frame;
  double sign;
  bool wants_light, down;
  double x, y;  // Where the pen was put last.
} line_pen;

static void add_point(line_pen *pen, int64_t i, bool is_end) {
  const cavum_level_point *at = &pen->lines->points[i];
  const cavum_field_frame *frame = &pen->frame;
  double x = frame->x0 + pen->sign * at->z_m * frame->scale_z;
  double y = frame->y0 - (frame->flipped ? -at->r_m : at->r_m) * frame->scale_r;
  bool wanted = (pen->light[i] != 0) == pen->wants_light;
  if (pen->down && wanted && !is_end && hypot(x - pen->x, y - pen->y) < SHORTEST) return;
  if (pen->down) cavum_canvas_line(pen->canvas, x, y);  // Also to the first point of the other ink.
  if (!pen->down && wanted) cavum_canvas_move(pen->canvas, x, y);
  pen->down = wanted;
  pen->x = x;
  pen->y = y;
}

// How pieces hang together: ends in order, and where those of each piece are.
typedef struct line_chain {
  line_end *ends;  // Owned, shape [2 pieces].
  int64_t *index;  // Owned, shape [2 pieces]: of the start and the end of each piece.
  bool *drawn;     // Owned, shape [pieces].
} line_chain;

static int64_t partner_of(const line_chain *chain, int64_t piece, bool last) {
  return chain->ends[chain->index[2 * piece + last]].partner;
}

// Draws from one end of a piece through all that follow.
static void draw_chain(line_pen *pen, line_chain *chain, int64_t piece, bool backwards) {
  pen->down = false;
  for (;;) {
    const cavum_level_piece *p = &pen->lines->pieces[piece];
    chain->drawn[piece] = true;
    int64_t next = partner_of(chain, piece, !backwards);
    bool ends = next < 0 || chain->drawn[chain->ends[next].piece];
    for (int64_t k = 0; k < p->count; k++) {
      int64_t i = p->first + (backwards ? p->count - 1 - k : k);
      add_point(pen, i, ends && k == p->count - 1);
    }
    if (ends) return;
    piece = chain->ends[next].piece;
    backwards = chain->ends[next].last;
  }
}

static void draw_all(line_pen *pen, line_chain *chain) {
  memset(chain->drawn, 0, (size_t)pen->lines->num_pieces * sizeof *chain->drawn);
  for (int pass = 0; pass < 2; pass++) {  // Open lines from their ends first, rings then.
    for (int64_t i = 0; i < pen->lines->num_pieces; i++) {
      if (chain->drawn[i]) continue;
      bool starts = partner_of(chain, i, false) < 0, stops = partner_of(chain, i, true) < 0;
      if (pass == 0 && !starts && !stops) continue;
      draw_chain(pen, chain, i, !starts && stops);
    }
  }
}

static cavum_status make_chain(line_chain *chain, const cavum_level_lines *lines, double together_m,
                               cavum_error *error) {
  int64_t count = 2 * lines->num_pieces;
  chain->ends = cavum_alloc(count, sizeof *chain->ends);
  chain->index = cavum_alloc(count, sizeof *chain->index);
  chain->drawn = cavum_alloc(lines->num_pieces, sizeof *chain->drawn);
  if (!chain->ends || !chain->index || !chain->drawn) return cavum_fail_memory(error);
  fill_ends(chain->ends, lines);
  qsort(chain->ends, (size_t)count, sizeof *chain->ends, compare_ends);
  pair_ends(chain->ends, count, together_m);
  for (int64_t k = 0; k < count; k++) {
    chain->index[2 * chain->ends[k].piece + chain->ends[k].last] = k;
  }
  return CAVUM_OK;
}

// Which of two inks is easier to see on each colour.
static void choose_inks(bool light[256], const uint32_t palette[256]) {
  uint32_t dark_ink = cavum_ink_colour(CAVUM_INK_FIELD_LINE, false);
  uint32_t light_ink = cavum_ink_colour(CAVUM_INK_FIELD_LINE_LIGHT, false);
  for (int i = 0; i < 256; i++) {
    light[i] =
        cavum_colour_contrast(palette[i], light_ink) > cavum_colour_contrast(palette[i], dark_ink);
  }
}

static void mark_light(unsigned char *marks, const cavum_level_lines *lines,
                       const cavum_scene *scene, const uint32_t palette[256]) {
  bool light[256];
  choose_inks(light, palette);
  for (int64_t i = 0; i < lines->num_points; i++) {
    double share = lines->points[i].e_v_per_m * scene->e_factor / scene->e_largest;
    marks[i] = light[cavum_field_map_index(share)];
  }
}

static double largest_flux(const cavum_field_grid *field) {
  double largest = 0.0;
  for (cavum_index i = 0; i < field->num_points; i++) {
    largest = cavum_max(largest, fabs(field->r_m[i] * field->h_phi_a_per_m[i]));
  }
  return largest;
}

cavum_status cavum_field_lines_draw(cavum_canvas *canvas, cavum_scene *scene,
                                    const cavum_field_frame *frame, int count, double width,
                                    const uint32_t palette[256], cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_level_lines lines = {0};
  line_chain chain = {0};
  unsigned char *light = NULL;
  double scale = cavum_field_frame_scale(frame);
  const cavum_level_options options = {
      .step_a = largest_flux(&scene->mode->field) / cavum_max(1, count),
      .count = count,
      .coarse_m = COARSE / scale,
      .fine_m = FINE / scale};
  if (count < 1 || !(options.step_a > 0.0)) return CAVUM_OK;
  CAVUM_TRY(cavum_level_lines_find(&lines, scene, &options, error));
  CAVUM_TRY(make_chain(&chain, &lines, TOGETHER / scale, error));
  light = cavum_alloc(lines.num_points, sizeof *light);
  if (!light) CAVUM_TRY(cavum_fail_memory(error));
  mark_light(light, &lines, scene, palette);
  for (int ink = 0; ink < 2; ink++) {
    line_pen pen = {.canvas = canvas,
                    .lines = &lines,
                    .light = light,
                    .frame = *frame,
                    .sign = 1.0,
                    .wants_light = ink == 1};
    draw_all(&pen, &chain);
    pen.frame = cavum_field_mirror_frame(frame, scene);
    pen.sign = -1.0;
    if (scene->result->half_model) draw_all(&pen, &chain);
    cavum_canvas_stroke(canvas, ink == 1 ? CAVUM_INK_FIELD_LINE_LIGHT : CAVUM_INK_FIELD_LINE, width,
                        CAVUM_DASH_NONE);
  }
done:
  free(light);
  free(chain.ends);
  free(chain.index);
  free(chain.drawn);
  cavum_level_lines_clear(&lines);
  return status;
}
