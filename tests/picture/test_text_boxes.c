// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of pictures: none on another, none beyond the page, a unit on every axis; cells of many
// kinds at the sizes of screens, journals and slides. Boxes are those of the texts in the SVG.
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "picture/draw.h"
#include "support.h"
#include "text_boxes.h"

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
    {"finer than a hair", 4, {{0, 0}, {0.02, 0}, {0.02, 0.03}, {0, 0.03}}},
    {"of a few nanometres", 4, {{0, 0}, {1e-6, 0}, {1e-6, 1e-6}, {0, 1e-6}}},
    {"as large as a hill", 4, {{0, 0}, {200000, 0}, {200000, 150000}, {0, 150000}}},
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

static void check_cell(const drawn_cell *drawn) {
  static const struct {
    cavum_picture_size size;
    cavum_picture_view view;
  } pictures[] = {
      {CAVUM_SIZE_SCREEN, CAVUM_VIEW_SHEET},   {CAVUM_SIZE_COLUMN, CAVUM_VIEW_SHEET},
      {CAVUM_SIZE_SLIDE, CAVUM_VIEW_SHEET},    {CAVUM_SIZE_TWO_COLUMNS, CAVUM_VIEW_SHEET},
      {CAVUM_SIZE_COLUMN, CAVUM_VIEW_SECTION}, {CAVUM_SIZE_COLUMN, CAVUM_VIEW_WALL},
      {CAVUM_SIZE_COLUMN, CAVUM_VIEW_MESH},    {CAVUM_SIZE_SCREEN, CAVUM_VIEW_AXIS},
      {CAVUM_SIZE_SCREEN, CAVUM_VIEW_WALL},    {CAVUM_SIZE_SCREEN, CAVUM_VIEW_SECTION}};
  cavum_result *result = solve(drawn);
  for (size_t i = 0; i < sizeof pictures / sizeof pictures[0]; i++) {
    if (pictures[i].view == CAVUM_VIEW_AXIS && drawn->corners[0][1] > 0.0) continue;
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
    (void)text_boxes_check(bytes, name, true);
    free(bytes);
  }
  cavum_result_destroy(&result);
}

static char *draw_slide(const drawn_cell *drawn, bool with_title) {
  cavum_result *result = solve(drawn);
  cavum_picture_options options = cavum_picture_options_default();
  cavum_picture_layout layout = cavum_picture_layout_default();
  char *bytes = NULL;
  size_t size = 0;
  options.format = CAVUM_PICTURE_SVG;
  layout.size = CAVUM_SIZE_SLIDE;
  layout.num_field_lines = -1;
  if (!with_title) result->title[0] = '\0';
  ck_assert_int_eq(cavum_draw_result(&bytes, &size, result, &options, &layout, NULL), CAVUM_OK);
  cavum_result_destroy(&result);
  return bytes;
}

// Parts of a slide are as high as there is room for: a margin, and less than two lines of keys, are
// left below; also without a title, which takes the room of one.
START_TEST(slides_are_filled) {
  const double two_lines = 0.06, margin = 0.05;
  for (size_t i = 0; i < sizeof CELLS / sizeof CELLS[0]; i++) {
    char *bytes = draw_slide(&CELLS[i], false);
    ck_assert_double_gt(text_boxes_check(bytes, CELLS[i].name, true), 1.0 - two_lines - margin);
    free(bytes);
  }
}
END_TEST

// Height of the frame that is drawn first, the section's, as a part of the page.
static double section_height(const char *svg) {
  double width = 0.0, height = 0.0, top = 0.0, bottom = 0.0;
  const char *frame = strstr(svg, "stroke-width=\"0.8\" d=\"M");
  ck_assert_int_eq(sscanf(strstr(svg, "viewBox"), "viewBox=\"0 0 %lf %lf", &width, &height), 2);
  ck_assert_ptr_nonnull(frame);
  ck_assert_int_eq(
      sscanf(frame, "stroke-width=\"0.8\" d=\"M%*f,%lfL%*f,%*fL%*f,%lf", &top, &bottom), 2);
  return (bottom - top) / height;
}

// The section of a narrow cell is what a slide is drawn for: half of its height, with title and
// keys.
START_TEST(narrow_cells_fill_slides) {
  const char *const narrow[] = {"flat", "pillbox", "noses"};
  for (size_t i = 0; i < sizeof CELLS / sizeof CELLS[0]; i++) {
    bool drawn = false;
    for (size_t k = 0; k < sizeof narrow / sizeof narrow[0]; k++) {
      drawn = drawn || strcmp(CELLS[i].name, narrow[k]) == 0;
    }
    if (!drawn) continue;
    char *bytes = draw_slide(&CELLS[i], true);
    ck_assert_double_gt(section_height(bytes), 0.5);
    free(bytes);
  }
}
END_TEST

// Where a peak is along a flat cell has digits of its length, not of its radius ("z = 0.0 mm" told
// nothing of a cell of 0.01 mm).
START_TEST(places_have_the_digits_of_the_cell) {
  const struct {
    drawn_cell cell;
    const char *place;
  } cases[] = {
      {{"flat", 4, {{0, 0}, {0.01, 0}, {0.01, 1000}, {0, 1000}}}, "= 0.010000 mm, r = 0."},
      {{"long", 4, {{0, 0}, {800, 0}, {800, 20}, {0, 20}}}, "= 800.000 mm, r = 0.000 mm"},
      {{"pillbox", 4, {{-50, 0}, {50, 0}, {50, 90}, {-50, 90}}}, "= 50.000 mm, r = 0.000 mm"}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    cavum_result *result = solve(&cases[i].cell);
    cavum_picture_options options = cavum_picture_options_default();
    cavum_picture_layout layout = cavum_picture_layout_default();
    char *bytes = NULL;
    size_t size = 0;
    options.format = CAVUM_PICTURE_SVG;
    layout.num_field_lines = -1;
    ck_assert_int_eq(cavum_draw_result(&bytes, &size, result, &options, &layout, NULL), CAVUM_OK);
    text_boxes_soften(bytes);
    const char *at = strstr(bytes, " at z ");
    ck_assert_ptr_nonnull(at);
    printf("%s: %.40s\n", cases[i].cell.name, at);
    ck_assert(strncmp(at + 6, cases[i].place, strlen(cases[i].place)) == 0);
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
  tcase_add_test(tests, places_have_the_digits_of_the_cell);
  tcase_add_test(tests, slides_are_filled);
  tcase_add_test(tests, narrow_cells_fill_slides);
}

CAVUM_TEST_MAIN("text_boxes", add)
