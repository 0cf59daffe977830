// SPDX-License-Identifier: GPL-3.0-or-later
// What a cell file says of materials against the surfaces of its mesh file: names that the file has
// not are refused with their place, surfaces that are taken as vacuum unasked are named.
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"

#define LOADED CAVUM_TEST_FOLDER "/msh/data/loaded-41t.msh"
#define PLAIN CAVUM_TEST_FOLDER "/msh/data/plain-groups-0-41t.msh"

static cavum_cell cell_of(const char *contour) {
  cavum_cell cell;
  cavum_error error = {0};
  char text[1024];
  snprintf(text, sizeof text, "beta: 1\naccelerating_length_mm: 100\ncontour:\n%s", contour);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "cell.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

#define OF_LOADED                 \
  "  kind: mesh\n  file: " LOADED \
  "\n  unit: m\n  axis: z\n"      \
  "  boundaries: {beam line: axis, faces: metal}\n"

static void refuse(const char *regions, const char *expected) {
  char contour[768];
  cavum_result *result = NULL;
  cavum_error error = {0};
  snprintf(contour, sizeof contour, OF_LOADED "  regions:\n%s", regions);
  cavum_cell cell = cell_of(contour);
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_null(result);
  ck_assert_msg(strstr(error.message, expected), "'%s' is not in it", expected);
  cavum_cell_clear(&cell);
}

START_TEST(names_that_no_surface_has_are_refused_with_their_place) {
  // Lines of the text: beta, length, contour, kind, file, unit, axis, boundaries, regions, vacuum.
  refuse("    vacuum: {}\n    ceramic: {eps_r: 9.8}\n    cermic: {eps_r: 3}\n",
         ":12:5: contour.regions.cermic: the mesh file has no surface of this name, did you mean "
         "'ceramic'?; it has \"vacuum\", \"ceramic\"");
  refuse("    foam: {eps_r: 1.1}\n    vacuum: {}\n    ceramic: {eps_r: 9.8}\n",
         ":10:5: contour.regions.foam: the mesh file has no surface of this name; it has");
}
END_TEST

START_TEST(a_cell_without_a_text_names_the_member) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_cell cell = cell_of(OF_LOADED "  regions: {vacuum: {}, ceramic: {eps_r: 9.8}, foam: {}}\n");
  cell.text[0] = '\0';
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert(strncmp(error.message, "cell: mesh.regions[2] 'foam': ", 30) == 0);
  cavum_cell_clear(&cell);
}
END_TEST

// Whether a warning of the solved cell has a text.
static bool warns_of(const char *contour, const char *text) {
  bool found = false;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_cell cell = cell_of(contour);
  cavum_status status = cavum_solve(&result, &cell, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  for (cavum_index i = 0; i < result->num_warnings; i++) {
    printf("%s\n", result->warnings[i]);
    found = found || strstr(result->warnings[i], text);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return found;
}

START_TEST(surfaces_that_are_taken_as_vacuum_are_named) {
  const char *said = "contour.regions states no materials: ";
  ck_assert(warns_of(OF_LOADED, said));
  ck_assert(warns_of(
      OF_LOADED, "all surfaces of the mesh file (\"vacuum\", \"ceramic\") are taken as vacuum"));
  ck_assert(!warns_of(OF_LOADED "  regions: {vacuum: {}, ceramic: {}}\n", said));
  // No surface of this file has a name.
  ck_assert(!warns_of("  kind: mesh\n  file: " PLAIN "\n  unit: mm\n  axis: y\n", said));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, names_that_no_surface_has_are_refused_with_their_place);
  tcase_add_test(tests, a_cell_without_a_text_names_the_member);
  tcase_add_test(tests, surfaces_that_are_taken_as_vacuum_are_named);
}

CAVUM_TEST_MAIN("mesh_regions", add_tests)
