// SPDX-License-Identifier: GPL-3.0-or-later
// Labels of frames: beside their own frame, not beside the next one.
#include "canvas/plot.h"
#include "support.h"
#include "text_boxes.h"

// What a label may reach beyond its frame at both ends, in points.
static const double BEYOND = 5.0;

enum { PAGE_WIDTH = 300 };

// The texts of a frame on a page. Returns their count.
static int draw_frame(text_box boxes[TEXT_BOXES_MOST], const cavum_plot *plot) {
  cavum_canvas *canvas = NULL;
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_SVG,
                                  .width = PAGE_WIDTH,
                                  .height = 400.0,
                                  .title = "",
                                  .description = ""};
  char *bytes = NULL;
  size_t size = 0;
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  cavum_plot_draw_frame(canvas, plot);
  ck_assert_int_eq(cavum_canvas_finish(&bytes, &size, canvas, NULL), CAVUM_OK);
  int count = text_boxes_read(boxes, canvas, bytes);
  free(bytes);
  cavum_canvas_destroy(&canvas);
  return count;
}

static void check_height(double height, int lines) {
  static text_box boxes[TEXT_BOXES_MOST];
  cavum_plot plot = {.x = 70.0, .y = 120.0, .width = 200.0, .height = height};
  int upward = 0;
  plot.horizontal = (cavum_plot_axis){.high = 10.0, .label = "z in mm"};
  plot.vertical = (cavum_plot_axis){.high = 4.0, .label = "\xc2\xb5_{0}|H| / E_{acc} in mT/(MV/m)"};
  int count = draw_frame(boxes, &plot);
  for (int i = 0; i < count; i++) {
    const text_box *box = &boxes[i];
    if (box->y1 - box->y0 < 2.0 * box->size) continue;  // across
    printf("%g high: '%s' at %g to %g, x %g to %g\n", height, box->words, box->y0, box->y1, box->x0,
           box->x1);
    upward++;
    ck_assert_double_ge(box->y0, plot.y - BEYOND);
    ck_assert_double_le(box->y1, plot.y + plot.height + BEYOND);
    ck_assert_double_ge(box->x0, 0.0);
  }
  ck_assert_int_eq(upward, lines);
}

START_TEST(long_labels_have_two_lines) {
  check_height(160.0, 1);
  check_height(80.0, 2);
}
END_TEST

// A frame may reach nearly to the end of its page: "400000" was cut there and read as 40000.
START_TEST(numbers_stay_on_the_page) {
  static text_box boxes[TEXT_BOXES_MOST];
  cavum_plot plot = {.x = 70.0, .y = 20.0, .width = 220.0, .height = 120.0};
  int seen = 0;
  plot.horizontal = (cavum_plot_axis){.high = 400000.0, .label = "z in mm"};
  plot.vertical = (cavum_plot_axis){.high = 4.0, .label = "r in mm"};
  int count = draw_frame(boxes, &plot);
  for (int i = 0; i < count; i++) {
    const text_box *box = &boxes[i];
    ck_assert_double_le(box->x1, (double)PAGE_WIDTH);
    if (strcmp(box->words, "200000") == 0) {
      CAVUM_CHECK_NEAR(0.5 * (box->x0 + box->x1), 70.0 + 0.5 * 220.0, 0.01);
    }
    if (strcmp(box->words, "400000") != 0) continue;
    printf("'%s' from %g to %g on a page of %g\n", box->words, box->x0, box->x1,
           (double)PAGE_WIDTH);
    seen++;
  }
  ck_assert_int_eq(seen, 1);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, long_labels_have_two_lines);
  tcase_add_test(tests, numbers_stay_on_the_page);
}

CAVUM_TEST_MAIN("plot", add)
