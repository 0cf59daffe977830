// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of users inside XML: nothing they hold can end an element or break the encoding.
#include <string.h>

#include "canvas/canvas.h"
#include "canvas/markup.h"
#include "canvas/text_runs.h"
#include "support.h"

#define REPLACED "\xef\xbf\xbd"

static void expect(const char *text, const char *expected) {
  char *written = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&written, &size);
  cavum_markup_write(out, text);
  fclose(out);
  printf("'%s' -> '%s'\n", text, written);
  ck_assert_str_eq(written, expected);
  free(written);
}

START_TEST(escapes) {
  expect("a < b & c > \"d\" 'e'", "a &lt; b &amp; c &gt; &quot;d&quot; &#39;e&#39;");
  expect("</title><script>", "&lt;/title&gt;&lt;script&gt;");
  expect("\xc2\xb5\xe2\x82\x80 \xf0\x9d\x84\x9e", "\xc2\xb5\xe2\x82\x80 \xf0\x9d\x84\x9e");
}
END_TEST

START_TEST(bad_encodings) {
  expect(
      "a\xff"
      "b",
      "a" REPLACED "b");                               // never a start
  expect("\xc0\xaf", REPLACED REPLACED);               // overlong
  expect("\xed\xa0\x80", REPLACED REPLACED REPLACED);  // a surrogate
  expect("\xe2\x82", REPLACED REPLACED);               // cut off
  expect(
      "a\x01\x1b"
      "b",
      "a" REPLACED REPLACED "b");  // controls that XML forbids
}
END_TEST

START_TEST(base64) {
  // RFC 4648, section 10.
  static const char *const pairs[][2] = {{"", ""},
                                         {"f", "Zg=="},
                                         {"fo", "Zm8="},
                                         {"foo", "Zm9v"},
                                         {"foob", "Zm9vYg=="},
                                         {"fooba", "Zm9vYmE="},
                                         {"foobar", "Zm9vYmFy"}};
  for (int i = 0; i < 7; i++) {
    char *written = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&written, &size);
    cavum_markup_write_base64(out, pairs[i][0], strlen(pairs[i][0]));
    fclose(out);
    ck_assert_str_eq(written, pairs[i][1]);
    free(written);
  }
}
END_TEST

START_TEST(levels_of_text) {
  cavum_text_run runs[CAVUM_TEXT_RUNS_MOST];
  ck_assert_int_eq(cavum_text_split(runs, "E_{pk}/E^{2} a_b", false), 5);
  ck_assert_int_eq(runs[1].height, -1);
  ck_assert_int_eq(runs[1].length, 2);
  ck_assert_int_eq(runs[3].height, 1);
  ck_assert_int_eq(runs[4].length, 4);
  // A user's text is never mark-up; an open brace at the end does not run away.
  ck_assert_int_eq(cavum_text_split(runs, "E_{pk}", true), 1);
  ck_assert_int_eq(cavum_text_split(runs, "x_{", false), 1);
  ck_assert_int_eq(cavum_text_split(runs, "", false), 0);
}
END_TEST

// Programs drop blanks beside lowered letters unless the text says that they count
// (SVG 1.1, 10.15); a text of one stretch needs no word about them.
START_TEST(blanks_beside_lowered_letters) {
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_SVG,
                                  .width = 100.0,
                                  .height = 50.0,
                                  .scale = 1.0,
                                  .title = "",
                                  .description = ""};
  const cavum_text_style style = {.size = 10.0, .ink = CAVUM_INK_TEXT};
  cavum_canvas *canvas = NULL;
  char *svg = NULL;
  size_t size = 0;
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  cavum_canvas_text(canvas, 10.0, 10.0, "E_{acc} in MV/m", &style);
  cavum_canvas_text(canvas, 10.0, 30.0, "z in mm", &style);
  ck_assert_int_eq(cavum_canvas_finish(&svg, &size, canvas, NULL), CAVUM_OK);
  const char *first = strstr(svg, "<text "), *second = first ? strstr(first + 1, "<text ") : NULL;
  ck_assert_ptr_nonnull(second);
  const char *space = strstr(svg, " xml:space=\"preserve\"");
  ck_assert_ptr_nonnull(space);
  ck_assert(space > first && space < strchr(first, '>'));
  ck_assert_ptr_null(strstr(second, "xml:space"));
  cavum_canvas_destroy(&canvas);
  free(svg);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, blanks_beside_lowered_letters);
  tcase_add_test(tests, escapes);
  tcase_add_test(tests, bad_encodings);
  tcase_add_test(tests, base64);
  tcase_add_test(tests, levels_of_text);
}

CAVUM_TEST_MAIN("markup", add)
