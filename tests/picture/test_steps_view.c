// SPDX-License-Identifier: GPL-3.0-or-later
// The waterfall of a chain: what is drawn is read from the SVG and must be where its frequency is.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "picture/steps_view.h"
#include "support.h"
#include "text_boxes.h"

enum { MOST = 13, PATHS = 400 };

/** A made chain; nothing is solved. */
typedef struct made_chain {
  cavum_steps_result result;
  cavum_step step[MOST], *steps[MOST];
} made_chain;

static double khz(double value) { return 1e3 * value; }

// Steps of -400 kHz each but for the last; aims 2 MHz below with 100 kHz of tolerance.
static void make(made_chain *chain, int num_steps, bool halves, bool measured) {
  *chain = (made_chain){.result = {.title = "Series", .label = "TM010", .odd_step = -1}};
  chain->result.num_steps = num_steps;
  chain->result.steps = chain->steps;
  for (int i = 0; i < num_steps; i++) {
    cavum_step *s = &chain->step[i];
    bool last = i + 1 == num_steps, there = measured && i % 2 == 1;
    chain->steps[i] = s;
    snprintf(s->name, sizeof s->name, "%s %d", i == 1 ? "on the bench, second time" : "step", i);
    s->frequency_hz = 1.5e9 - khz(400.0 * i) + (last ? khz(2000.0) : 0.0);
    s->uncertainty_hz = khz(200.0);
    s->aim_hz = s->frequency_hz - khz(2000.0);
    s->tolerance_hz = khz(100.0);
    s->expected_hz = s->frequency_hz + khz(300.0);
    s->expected_uncertainty_hz = khz(60.0 + i);
    s->measured_hz = there ? s->expected_hz + khz(20.0) : NAN;
    s->measured_uncertainty_hz = there ? khz(40.0 + i) : NAN;
    s->zero_hz = halves ? s->frequency_hz - 3e7 : NAN;
    s->pi_hz = halves ? s->frequency_hz + 1e6 : NAN;
    s->zero_aim_hz = s->zero_hz - khz(2000.0);
    s->pi_aim_hz = s->pi_hz - khz(2000.0);
    s->zero_uncertainty_hz = s->pi_uncertainty_hz = s->uncertainty_hz;
    s->zero_expected_hz = s->zero_hz + khz(300.0);
    s->pi_expected_hz = s->pi_hz + khz(300.0);
    s->zero_expected_uncertainty_hz = s->pi_expected_uncertainty_hz = khz(90.0);
    s->measured_zero_hz = halves && i == 1 ? s->zero_expected_hz : NAN;
    s->measured_pi_hz = halves && i == 1 ? s->pi_expected_hz : NAN;
  }
}

// A measurement 700 kHz off what all say.
static void contradict(made_chain *chain, int step) {
  chain->step[step].contradicts = true;
  chain->step[step].measured_hz += khz(700.0);
  chain->result.odd_step = step;
  snprintf(chain->result.contradiction, sizeof chain->result.contradiction,
           "The measured frequencies contradict each other: that after %s.",
           chain->step[step].name);
}

static char *draw(const made_chain *chain, cavum_picture_size size) {
  const cavum_draw_request request = {
      .kind = CAVUM_CANVAS_SVG, .image_scale = 2.0, .size = size, .prefix = "cavum"};
  char *svg = NULL;
  size_t bytes = 0;
  cavum_error error = {0};
  ck_assert_msg(cavum_steps_view_draw(&svg, &bytes, &chain->result, &request, &error) == CAVUM_OK,
                "%s", error.message);
  return svg;
}

/** A path: its class, and numbers of its points. */
typedef struct path {
  char class[8];
  double width, x[16], y[16];
  int count;
} path;

static int read_paths(path paths[PATHS], const char *svg) {
  int count = 0;
  for (const char *tag = strstr(svg, "<path "); tag; tag = strstr(tag + 1, "<path ")) {
    const char *end = strchr(tag, '>'), *at = strstr(tag, " d=\"");
    path *p = &paths[count++];
    ck_assert_int_lt(count, PATHS);
    *p = (path){0};
    sscanf(strstr(tag, "class=\"") + 7, "%7[^\"]", p->class);
    p->width = text_boxes_number(tag, end, "stroke-width=\"");
    for (at += 4; at < end && *at != '"';) {
      char *next = NULL;
      double x = strtod(at + (strchr("ML", *at) ? 1 : 0), &next);
      if (next == at || *next != ',') {
        at++;
        continue;
      }
      double y = strtod(next + 1, &next);
      if (p->count < 16) p->x[p->count] = x, p->y[p->count] = y;
      p->count++;
      at = next;
    }
  }
  return count;
}

// The next path of a role at or behind a place; -1: none.
static int find(const path *paths, int count, int from, cavum_ink ink, bool stroke, double width) {
  char class[8];
  snprintf(class, sizeof class, "%c%d", stroke ? 's' : 'f', (int)ink);
  for (int i = from; i < count; i++) {
    if (strcmp(paths[i].class, class) == 0 && (!stroke || paths[i].width == width)) return i;
  }
  return -1;
}

static int count_crosses(const path *paths, int count) {
  int crosses = 0;
  for (int i = 0; i < count; i++) {
    crosses += strcmp(paths[i].class, "f1") == 0 && paths[i].count == 12;
  }
  return crosses;
}

// Of points on the page: they are rounded to a hundredth, and the scale comes from 20 of them, on
// which what is drawn may be ten times as far away.
static const double ROUNDED = 0.2;

/** Where a kHz is: x = at + per_khz * kHz, from the aims, which are known. */
typedef struct scale {
  double at, per_khz;
} scale;

static double x_of(const scale *s, double hz) { return s->at + s->per_khz * 1e-3 * (hz - 1.5e9); }

// Aims at -2000 and -2400 kHz; bars of their tolerance begin and end at them.
static scale scale_of(const path *paths, int count) {
  int first = find(paths, count, 0, CAVUM_INK_THIRD, true, 2.0);
  int second = find(paths, count, first + 1, CAVUM_INK_THIRD, true, 2.0);
  ck_assert_int_ge(first, 0);
  ck_assert_int_ge(second, 0);
  scale s = {.per_khz = (paths[first].x[1] - paths[first].x[0]) / 200.0};
  s.at = 0.5 * (paths[first].x[0] + paths[first].x[1]) + 2000.0 * s.per_khz;
  CAVUM_CHECK_NEAR(0.5 * (paths[second].x[0] + paths[second].x[1]), x_of(&s, 1.5e9 - khz(2400.0)),
                   ROUNDED);
  return s;
}

START_TEST(measured_values_and_what_they_say_are_drawn) {
  static path paths[PATHS];
  made_chain chain;
  make(&chain, 5, false, true);
  contradict(&chain, 3);
  char *svg = draw(&chain, CAVUM_SIZE_SCREEN);
  int count = read_paths(paths, svg), box = -1, line = -1;
  const scale s = scale_of(paths, count);
  for (int i = 0; i < 5; i++) {
    const cavum_step *step = &chain.step[i];
    box = find(paths, count, box + 1, CAVUM_INK_FOURTH, true, 1.0);
    ck_assert_int_ge(box, 0);
    CAVUM_CHECK_NEAR(paths[box].x[0], x_of(&s, step->expected_hz - step->expected_uncertainty_hz),
                     ROUNDED);
    CAVUM_CHECK_NEAR(paths[box].x[1], x_of(&s, step->expected_hz + step->expected_uncertainty_hz),
                     ROUNDED);
    if (isnan(step->measured_hz)) continue;
    // Behind the box of its row: a line from the measured value to both sides, then its mark.
    line = find(paths, count, box + 1, CAVUM_INK_TEXT, true, 1.2);
    ck_assert_int_ge(line, 0);
    CAVUM_CHECK_NEAR(paths[line].x[0], x_of(&s, step->measured_hz), ROUNDED);
    CAVUM_CHECK_NEAR(paths[line].x[1], x_of(&s, step->measured_hz - step->measured_uncertainty_hz),
                     ROUNDED);
    CAVUM_CHECK_NEAR(paths[line].x[5], x_of(&s, step->measured_hz + step->measured_uncertainty_hz),
                     ROUNDED);
    int mark = find(paths, count, line + 1, CAVUM_INK_TEXT, false, 0.0);
    ck_assert_int_eq(paths[mark].count == 12, step->contradicts);
  }
  ck_assert_int_eq(count_crosses(paths, count), 2);  // its own, and that of the key
  const char *words = strstr(svg, "does not fit<");
  ck_assert_ptr_nonnull(words);
  ck_assert_ptr_null(strstr(words + 1, "does not fit<"));
  const char *keys[] = {"measured, with its standard uncertainty",
                        "expected from all that is measured, with its standard uncertainty",
                        "measured, does not fit the others",
                        "aim and its tolerance",
                        "f from the drawing, with its standard uncertainty",
                        "The measured frequencies contradict each other: that after step 3."};
  for (int i = 0; i < 6; i++) ck_assert_msg(strstr(svg, keys[i]) != NULL, "%s", keys[i]);
  free(svg);
}
END_TEST

// Nothing is said of measurements where there are none, nor of contradictions.
START_TEST(a_chain_without_measurements_has_neither) {
  static path paths[PATHS];
  made_chain chain;
  make(&chain, 4, false, false);
  char *svg = draw(&chain, CAVUM_SIZE_SCREEN);
  int count = read_paths(paths, svg);
  ck_assert_int_eq(find(paths, count, 0, CAVUM_INK_FOURTH, true, 1.0), -1);
  ck_assert_ptr_null(strstr(svg, "measured"));
  ck_assert_ptr_null(strstr(svg, "does not fit"));
  // Only the last step raises f, and the key says so: the drawing itself does nothing.
  int rising = 0, bar = -1;
  while ((bar = find(paths, count, bar + 1, CAVUM_INK_FIRST, false, 0.0)) >= 0) rising++;
  ck_assert_int_eq(rising, 2);
  // Lines between the four rows tell whose aim is whose.
  int lines = 0, at = -1;
  while ((at = find(paths, count, at + 1, CAVUM_INK_GRID, true, 0.8)) >= 0) lines++;
  ck_assert_int_ge(lines, 1);
  free(svg);
  make(&chain, 4, false, true);
  svg = draw(&chain, CAVUM_SIZE_SCREEN);
  ck_assert_ptr_nonnull(strstr(svg, "measured"));
  ck_assert_int_eq(count_crosses(paths, read_paths(paths, svg)), 0);
  ck_assert_ptr_null(strstr(svg, "does not fit"));
  free(svg);
}
END_TEST

// Texts have room on screens, in columns and on slides; on slides halves stand beside the cell.
START_TEST(texts_have_room_at_every_size) {
  static const cavum_picture_size sizes[] = {CAVUM_SIZE_SCREEN, CAVUM_SIZE_COLUMN,
                                             CAVUM_SIZE_TWO_COLUMNS, CAVUM_SIZE_SLIDE};
  for (int k = 0; k < 16; k++) {
    made_chain chain;
    char name[64];
    bool halves = k & 4, measured = k & 8;
    for (int n = 4; n <= MOST; n += MOST - 4) {
      make(&chain, n, halves, measured);
      if (measured) contradict(&chain, 3);
      char *svg = draw(&chain, sizes[k & 3]);
      snprintf(name, sizeof name, "size %d, %d steps%s%s", k & 3, n, halves ? ", halves" : "",
               measured ? ", measured" : "");
      double lowest = text_boxes_check(svg, name, true);
      if (sizes[k & 3] == CAVUM_SIZE_SLIDE && n == MOST) ck_assert_double_gt(lowest, 0.85);
      ck_assert_int_eq(strstr(svg, "Halves between") != NULL, halves);
      free(svg);
    }
  }
}
END_TEST

// The last path before a text of the key has the ink of what it names.
static const path *before_text(const path *paths, const char *svg, const char *text) {
  const char *at = strstr(svg, text);
  ck_assert_msg(at != NULL, "%s", text);
  int count = 0;
  for (const char *tag = strstr(svg, "<path "); tag && tag < at; tag = strstr(tag + 1, "<path ")) {
    count++;
  }
  ck_assert_int_gt(count, 0);
  return &paths[count - 1];
}

// Steps of -400 kHz and one of 1600: bars and the key have one ink for each direction. The scale is
// in kHz, as its label says.
START_TEST(directions_and_unit_are_those_of_the_key) {
  static path paths[PATHS];
  char raises[8], lowers[8];
  made_chain chain;
  make(&chain, 4, false, false);
  char *svg = draw(&chain, CAVUM_SIZE_SCREEN);
  int count = read_paths(paths, svg), num_raises = 0, num_lowers = 0;
  const scale s = scale_of(paths, count);
  snprintf(raises, sizeof raises, "%s", before_text(paths, svg, ">step raises f<")->class);
  snprintf(lowers, sizeof lowers, "%s", before_text(paths, svg, ">step lowers f<")->class);
  ck_assert_str_ne(raises, lowers);
  for (int i = 1; i < 4; i++) {
    double from = x_of(&s, chain.step[i - 1].frequency_hz),
           to = x_of(&s, chain.step[i].frequency_hz);
    const char *ink = to > from ? raises : lowers;
    for (int k = 0; k < count; k++) {
      double low = INFINITY, high = -INFINITY;
      for (int p = 0; p < paths[k].count && p < 16; p++) {
        low = fmin(low, paths[k].x[p]);
        high = fmax(high, paths[k].x[p]);
      }
      if (strcmp(paths[k].class, ink) != 0 || fabs(low - fmin(from, to)) > ROUNDED ||
          fabs(high - fmax(from, to)) > ROUNDED) {
        continue;
      }
      num_raises += to > from;
      num_lowers += to < from;
    }
  }
  ck_assert_int_eq(num_raises, 1);
  ck_assert_int_eq(num_lowers, 2);
  ck_assert_ptr_nonnull(strstr(svg, ">frequency from that of the drawing in kHz<"));
  // Its numbers are that many kHz from the frequency of the drawing.
  int num_numbers = 0;
  for (const char *tag = strstr(svg, "<text "); tag; tag = strstr(tag + 1, "<text ")) {
    const char *text = strchr(tag, '>') + 1;
    bool minus = strncmp(text, "\xe2\x88\x92", 3) == 0;
    char *end = NULL;
    double value = strtod(text + (minus ? 3 : 0), &end);
    if (*end != '<' || end == text || value < 100.0) continue;
    double x = text_boxes_number(tag, text, " x=\"");
    CAVUM_CHECK_NEAR(x, x_of(&s, 1.5e9 + khz(minus ? -value : value)), 1.0);
    num_numbers++;
  }
  ck_assert_int_ge(num_numbers, 2);
  free(svg);
}
END_TEST

// A name that has no room before the frame is told whole below it, and only there.
START_TEST(cut_names_are_told_whole) {
  static const char whole[] = ": on the bench, second time 1<";
  made_chain chain;
  make(&chain, 4, false, false);
  char *svg = draw(&chain, CAVUM_SIZE_COLUMN);
  ck_assert_ptr_nonnull(strstr(svg, "\xe2\x80\xa6<"));
  ck_assert_ptr_nonnull(strstr(svg, whole));
  free(svg);
  svg = draw(&chain, CAVUM_SIZE_SCREEN);
  ck_assert_ptr_null(strstr(svg, "\xe2\x80\xa6"));
  ck_assert_ptr_null(strstr(svg, whole));
  ck_assert_ptr_nonnull(strstr(svg, ">on the bench, second time 1<"));
  free(svg);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, directions_and_unit_are_those_of_the_key);
  tcase_add_test(tests, measured_values_and_what_they_say_are_drawn);
  tcase_add_test(tests, a_chain_without_measurements_has_neither);
  tcase_add_test(tests, texts_have_room_at_every_size);
  tcase_add_test(tests, cut_names_are_told_whole);
}

CAVUM_TEST_MAIN("waterfall of a chain", add)
