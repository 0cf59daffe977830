// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of pictures: none on another, none beyond the page, a unit on every axis; cells of many
// kinds at the sizes of screens, journals and slides. Boxes are those of the texts in the SVG.
#include <stdlib.h>
#include <string.h>

#include "canvas/canvas.h"
#include "canvas/plot.h"
#include "cavum/cavum.h"
#include "picture/draw.h"
#include "support.h"

enum { TEXTS_MOST = 400 };

// Contours in mm as "z r" of corners from the axis counterclockwise; the last one closes to the
// first. Lines on r = 0 are the axis.
typedef struct drawn_cell {
  const char *name;
  int count;
  double corners[16][2];
} drawn_cell;

static const drawn_cell CELLS[] = {
    {"pillbox", 4, {{0, 0}, {100, 0}, {100, 90}, {0, 90}}},
    {"long and thin", 4, {{0, 0}, {800, 0}, {800, 20}, {0, 20}}},
    {"flat", 4, {{0, 0}, {8, 0}, {8, 200}, {0, 200}}},
    {"tiny", 4, {{0, 0}, {1.5, 0}, {1.5, 1.5}, {0, 1.5}}},
    {"huge and far away", 4, {{98000, 0}, {99000, 0}, {99000, 900}, {98000, 900}}},
    {"no axis, no voltage", 4, {{0, 20}, {100, 20}, {100, 60}, {0, 60}}},
    {"beam holes",
     8,
     {{-70, 0}, {70, 0}, {70, 15}, {40, 15}, {40, 90}, {-40, 90}, {-40, 15}, {-70, 15}}},
    {
        "noses",
        12,
        {{-70, 0},
         {70, 0},
         {70, 12},
         {20, 12},
         {20, 20},
         {45, 32},
         {45, 100},
         {-45, 100},
         {-45, 32},
         {-20, 20},
         {-20, 12},
         {-70, 12}},
    },
    {
        "chain",
        12,
        {{0, 0},
         {320, 0},
         {320, 90},
         {220, 90},
         {220, 35},
         {210, 35},
         {210, 90},
         {110, 90},
         {110, 35},
         {100, 35},
         {100, 90},
         {0, 90}},
    },
    {"coaxial with a gap", 6, {{250, 0}, {265, 0}, {265, 45}, {0, 45}, {0, 15}, {250, 15}}}};

static cavum_result *solve(const drawn_cell *drawn) {
  char text[4096];
  int at = snprintf(text, sizeof text,
                    "title: A cell whose title is as long as titles of cells get in design notes\n"
                    "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n"
                    "contour:\n  kind: path\n  start: {z_mm: %.17g, r_mm: %.17g}\n  path:\n",
                    drawn->corners[0][0], drawn->corners[0][1]);
  for (int k = 0; k < drawn->count; k++) {
    const double *from = drawn->corners[k], *to = drawn->corners[(k + 1) % drawn->count];
    at += snprintf(text + at, sizeof text - (size_t)at,
                   "    - {line_to: {z_mm: %.17g, r_mm: %.17g}, boundary: %s}\n", to[0], to[1],
                   from[1] == 0.0 && to[1] == 0.0 ? "axis" : "metal");
  }
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 4;
  cavum_cell_set_defaults(&cell);
  ck_assert_msg(cavum_cell_read_text(&cell, text, strlen(text), "cell.yaml", &error) == CAVUM_OK,
                "%s", error.message);
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED, "%s: %s", drawn->name,
                error.message);
  cavum_cell_clear(&cell);
  return result;
}

// A text on the page: its box, its words, the size of its letters; labels of axes are centred.
typedef struct text_box {
  double x0, y0, x1, y1, size;
  bool centred;
  char words[256];
} text_box;

static double number_after(const char *tag, const char *end, const char *name) {
  const char *at = strstr(tag, name);
  return at && at < end ? strtod(at + strlen(name), NULL) : NAN;
}

static double measure(cavum_canvas *canvas, const char *words, int length, double size, bool bold) {
  char run[512];
  const cavum_text_style style = {.size = size, .bold = bold, .plain = true};
  snprintf(run, sizeof run, "%.*s", length, words);
  return cavum_canvas_measure(canvas, run, &style);
}

// The runs of a text: what is between its tags, each in the size of its tspan.
static double read_runs(text_box *box, cavum_canvas *canvas, const char *at, const char *end,
                        bool bold) {
  double width = 0.0, size = box->size;
  box->words[0] = '\0';
  while (at < end) {
    const char *tag = memchr(at, '<', (size_t)(end - at));
    if (!tag) tag = end;
    width += measure(canvas, at, (int)(tag - at), size, bold);
    strncat(box->words, at, (size_t)(tag - at) < 60 ? (size_t)(tag - at) : 60);
    if (tag == end) break;
    const char *close = strchr(tag, '>');
    double small = number_after(tag, close, "font-size=\"");
    size = tag[1] == '/' || isnan(small) ? box->size : small;
    at = close + 1;
  }
  return width;
}

// Hard blanks as plain ones.
static void soften(char *words) {
  for (char *at = strstr(words, "\xc2\xa0"); at; at = strstr(at, "\xc2\xa0")) {
    *at = ' ';
    memmove(at + 1, at + 2, strlen(at + 2) + 1);
  }
}

static int read_texts(text_box boxes[TEXTS_MOST], cavum_canvas *canvas, const char *svg) {
  int count = 0;
  for (const char *tag = strstr(svg, "<text "); tag; tag = strstr(tag + 1, "<text ")) {
    const char *open = strchr(tag, '>'), *end = strstr(tag, "</text>");
    text_box *box = &boxes[count++];
    ck_assert_int_lt(count, TEXTS_MOST);
    box->size = number_after(tag, open, "font-size=\"");
    bool bold = strstr(tag, "font-weight") && strstr(tag, "font-weight") < open;
    const char *turned = strstr(tag, "translate(");
    bool upward = turned && turned < open;
    double x = upward ? strtod(turned + 10, NULL) : number_after(tag, open, " x=\"");
    double y = upward ? strtod(strchr(turned, ',') + 1, NULL) : number_after(tag, open, " y=\"");
    double width = read_runs(box, canvas, open + 1, end, bold), before = 0.0;
    soften(box->words);
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

static bool has_unit(const char *words) {
  // Ratios to the gradient of the same unit have none.
  return strstr(words, " in ") || strstr(words, "|E| / E") || strstr(words, " / E");
}

// Returns how far down the page the lowest text stands, as a part of its height.
static double check_texts(const char *svg, const char *name) {
  static text_box boxes[TEXTS_MOST];
  cavum_canvas *canvas = NULL;
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_MEASURE, .width = 1.0, .height = 1.0};
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  const char *view_box = strstr(svg, "viewBox=\"0 0 ");
  char *end = NULL;
  double width = strtod(view_box + 13, &end), height = strtod(end, NULL);
  double lowest = 0.0;
  int count = read_texts(boxes, canvas, svg);
  ck_assert_int_gt(count, 4);
  for (int i = 0; i < count; i++) {
    const text_box *a = &boxes[i];
    lowest = fmax(lowest, a->y1 / height);
    bool inside = a->x0 >= 0.0 && a->y0 >= 0.0 && a->x1 <= width && a->y1 <= height;
    ck_assert_msg(inside, "%s: '%s' at %g..%g, %g..%g leaves the page of %g x %g", name, a->words,
                  a->x0, a->x1, a->y0, a->y1, width, height);
    if (a->centred && a->size == CAVUM_PLOT_LABEL_SIZE && strncmp(a->words, "in ", 3) != 0) {
      bool two_lines = i + 1 < count && strncmp(boxes[i + 1].words, "in ", 3) == 0;
      ck_assert_msg(two_lines || has_unit(a->words), "%s: no unit in '%s'", name, a->words);
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

static void check_cell(const drawn_cell *drawn) {
  static const struct {
    cavum_picture_size size;
    cavum_picture_view view;
  } pictures[] = {
      {CAVUM_SIZE_SCREEN, CAVUM_VIEW_SHEET},   {CAVUM_SIZE_COLUMN, CAVUM_VIEW_SHEET},
      {CAVUM_SIZE_SLIDE, CAVUM_VIEW_SHEET},    {CAVUM_SIZE_TWO_COLUMNS, CAVUM_VIEW_SHEET},
      {CAVUM_SIZE_COLUMN, CAVUM_VIEW_SECTION}, {CAVUM_SIZE_COLUMN, CAVUM_VIEW_WALL},
      {CAVUM_SIZE_COLUMN, CAVUM_VIEW_MESH}};
  cavum_result *result = solve(drawn);
  for (size_t i = 0; i < sizeof pictures / sizeof pictures[0]; i++) {
    cavum_picture_options options = cavum_picture_options_default();
    cavum_picture_layout layout = cavum_picture_layout_default();
    char *bytes = NULL, name[96];
    size_t size = 0;
    options.format = CAVUM_PICTURE_SVG;
    options.view = pictures[i].view;
    layout.size = pictures[i].size;
    layout.num_field_lines = -1;  // They have no texts, and take time.
    ck_assert_int_eq(cavum_draw_result(&bytes, &size, result, &options, &layout, NULL), CAVUM_OK);
    snprintf(name, sizeof name, "%s, size %d, view %d", drawn->name, pictures[i].size,
             pictures[i].view);
    (void)check_texts(bytes, name);
    free(bytes);
  }
  cavum_result_destroy(&result);
}

// Parts of a slide are as high as there is room for: a margin, and less than two lines of keys, are
// left below; also without a title, which takes the room of one.
START_TEST(slides_are_filled) {
  const double two_lines = 0.06, margin = 0.05;
  for (size_t i = 0; i < sizeof CELLS / sizeof CELLS[0]; i++) {
    cavum_result *result = solve(&CELLS[i]);
    cavum_picture_options options = cavum_picture_options_default();
    cavum_picture_layout layout = cavum_picture_layout_default();
    char *bytes = NULL;
    size_t size = 0;
    options.format = CAVUM_PICTURE_SVG;
    layout.size = CAVUM_SIZE_SLIDE;
    layout.num_field_lines = -1;
    result->title[0] = '\0';
    ck_assert_int_eq(cavum_draw_result(&bytes, &size, result, &options, &layout, NULL), CAVUM_OK);
    ck_assert_double_gt(check_texts(bytes, CELLS[i].name), 1.0 - two_lines - margin);
    free(bytes);
    cavum_result_destroy(&result);
  }
}
END_TEST

START_TEST(texts_stand_free) {
  for (size_t i = 0; i < sizeof CELLS / sizeof CELLS[0]; i++) check_cell(&CELLS[i]);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, texts_stand_free);
  tcase_add_test(tests, slides_are_filled);
}

CAVUM_TEST_MAIN("text_boxes", add)
