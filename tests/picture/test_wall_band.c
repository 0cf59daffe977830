// SPDX-License-Identifier: GPL-3.0-or-later
// Densities along the wall on their way from a solve through a file to the section.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"

static cavum_result *solve(bool derivatives) {
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.derivatives = derivatives;
  options.field_order = 6;
  cavum_cell_set_defaults(&cell);
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/nose-cone-cell.yaml", &error),
                   CAVUM_OK);
  ck_assert_msg(cavum_solve(&result, &cell, &options, &error) == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

static void expect_same(const char *what, const double *a, const double *b, cavum_index count) {
  ck_assert_msg((a == NULL) == (b == NULL), "%s", what);
  for (cavum_index i = 0; a && i < count; i++) ck_assert_msg(a[i] == b[i], "%s", what);
}

static void expect_same_density(const cavum_wall_density *a, const cavum_wall_density *b) {
  cavum_index n = a->num_points;
  ck_assert_int_gt(n, 0);
  ck_assert_int_eq(n, b->num_points);
  expect_same("arc length", a->arc_length_m, b->arc_length_m, n);
  expect_same("z", a->z_m, b->z_m, n);
  expect_same("r", a->r_m, b->r_m, n);
  expect_same("normal_z", a->normal_z, b->normal_z, n);
  expect_same("normal_r", a->normal_r, b->normal_r, n);
  expect_same("area", a->area_m2, b->area_m2, n);
  expect_same("pressure", a->pressure_pa, b->pressure_pa, n);
  expect_same("f", a->frequency_hz_per_m3, b->frequency_hz_per_m3, n);
  expect_same("G", a->geometry_factor_ohm_per_m3, b->geometry_factor_ohm_per_m3, n);
  expect_same("R/Q", a->r_over_q_linac_ohm_per_m3, b->r_over_q_linac_ohm_per_m3, n);
  for (cavum_index i = 0; i < n; i++) ck_assert_int_eq(a->curve[i], b->curve[i]);
}

// The picture of a file; NULL with the message where it cannot be drawn.
static char *draw(const char *path, cavum_picture_along_wall what, cavum_status expected,
                  cavum_error *error) {
  cavum_picture_options options = cavum_picture_options_default();
  cavum_picture_layout layout = cavum_picture_layout_default();
  char *bytes = NULL;
  size_t size = 0;
  options.view = CAVUM_VIEW_SECTION;
  options.format = CAVUM_PICTURE_SVG;
  layout.along_wall = what;
  cavum_status status = cavum_picture_draw_files(&bytes, &size, 1, &path, &options, &layout, error);
  ck_assert_msg(status == expected, "%s", error->message);
  return bytes;
}

static void expect_text(const char *svg, const char *text) {
  ck_assert_msg(strstr(svg, text) != NULL, "no \"%s\"", text);
}

// Whether the largest density raises f, exact: the cell has no sharp corner.
static bool largest_raises(const cavum_wall_density *density) {
  double most = 0.0;
  for (cavum_index i = 0; i < density->num_points; i++) {
    double value = density->frequency_hz_per_m3[i];
    if (fabs(value) > fabs(most)) most = value;
  }
  return most > 0.0;
}

// Colour of the sample before a text of the key, 0xRRGGBB.
static unsigned long colour_before(const char *svg, const char *text) {
  const char *found = NULL, *end = strstr(svg, text);
  for (const char *at = strstr(svg, "fill=\"#"); at && at < end; at = strstr(at + 1, "fill=\"#")) {
    found = at + 7;
  }
  ck_assert_ptr_nonnull(found);
  return strtoul(found, NULL, 16);
}

// How far two colours are apart, the largest difference of a channel.
static int distance_of(unsigned long a, unsigned long b) {
  int most = 0;
  for (int shift = 0; shift < 24; shift += 8) {
    int difference = abs((int)((a >> shift) & 0xff) - (int)((b >> shift) & 0xff));
    most = difference > most ? difference : most;
  }
  return most;
}

// The key of each sign has a colour that the band has, within a step of it, and that is told from
// paper: on a cell with noses the lesser sign is a hundredth of the larger.
static void check_keys(const char *svg) {
  static const char *const texts[2] = {"metal removed raises f", "metal removed lowers f"};
  for (int k = 0; k < 2; k++) {
    unsigned long key = colour_before(svg, texts[k]);
    int nearest = 255;
    const char *end = strstr(svg, texts[0]), *last = NULL;
    for (const char *at = svg; (at = strstr(at + 1, "fill=\"#")) && at < end;) last = at;
    for (const char *at = svg; (at = strstr(at + 1, "<path fill=\"#")) && at < last;) {
      int distance = distance_of(key, strtoul(at + 13, NULL, 16));
      nearest = distance < nearest ? distance : nearest;
    }
    printf("%s: #%06lx, %d from the band, %d from paper\n", texts[k], key, nearest,
           distance_of(key, 0xffffff));
    ck_assert_int_le(nearest, 12);
    ck_assert_int_ge(distance_of(key, 0xffffff), 70);
  }
}

START_TEST(from_a_solve_through_a_file_to_the_section) {
  static const struct {
    cavum_picture_along_wall what;
    const char *texts[2];
  } all[] = {{CAVUM_ALONG_WALL_FREQUENCY, {"metal removed raises f", "metal removed lowers f"}},
             {CAVUM_ALONG_WALL_PRESSURE, {"pressure outwards", "Pa at 1 MV/m"}},
             {CAVUM_ALONG_WALL_GEOMETRY_FACTOR, {"metal removed raises G", "lowers G"}},
             {CAVUM_ALONG_WALL_R_OVER_Q, {"metal removed raises R/Q", "lowers R/Q"}}};
  char folder[128], path[200];
  cavum_error error = {0};
  cavum_cell cell;
  cavum_result *written = solve(true), *read = NULL;
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/nose.hdf", folder);
  cavum_cell_set_defaults(&cell);
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/nose-cone-cell.yaml", &error),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_store_write_result(path, written, &cell, NULL, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_store_read_result(&read, NULL, path, &error), CAVUM_OK);
  expect_same_density(&written->modes[0].wall_density, &read->modes[0].wall_density);
  char *plain = draw(path, CAVUM_ALONG_WALL_NOTHING, CAVUM_OK, &error);
  ck_assert_ptr_null(strstr(plain, "metal removed"));
  for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
    char *svg = draw(path, all[i].what, CAVUM_OK, &error);
    for (int k = 0; k < 2; k++) expect_text(svg, all[i].texts[k]);
    // Both signs on one scale: of the two, that with the largest density alone is as dark as can
    // be.
    for (int k = 0; i == 0 && k < 2; k++) {
      const char *fill = k == 0 ? "<path fill=\"#c24a00\"" : "<path fill=\"#0072b2\"";
      bool darkest = largest_raises(&read->modes[0].wall_density) == (k == 0);
      ck_assert_int_eq(strstr(svg, fill) != NULL, darkest);
      ck_assert_ptr_null(strstr(plain, fill));
    }
    if (i == 0) expect_text(svg, "one scale for both");
    if (i == 0) check_keys(svg);
    free(svg);
  }
  free(plain);
  cavum_result_destroy(&read);
  cavum_result_destroy(&written);
  // Without derivatives only what needs none.
  written = solve(false);
  ck_assert_int_eq(cavum_store_write_result(path, written, &cell, NULL, &error), CAVUM_OK);
  free(draw(path, CAVUM_ALONG_WALL_FREQUENCY, CAVUM_OK, &error));
  ck_assert_ptr_null(draw(path, CAVUM_ALONG_WALL_R_OVER_Q, CAVUM_ERR_INPUT, &error));
  expect_text(error.message, "--derivatives");
  ck_assert_ptr_null(draw(path, (cavum_picture_along_wall)99, CAVUM_ERR_USAGE, &error));
  cavum_result_destroy(&written);
  cavum_cell_clear(&cell);
  temporary_folder_delete(folder);
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, from_a_solve_through_a_file_to_the_section); }

CAVUM_TEST_MAIN("wall_band", add)
