// SPDX-License-Identifier: GPL-3.0-or-later
// JSON of a result: read by jansson, every key and number compared.
#include <check.h>
#include <jansson.h>
#include <string.h>

#include "cavum/store.h"
#include "fake_result.h"
#include "support.h"

static json_t *parse_fake(cavum_result *result) {
  cavum_error error = {0};
  json_error_t where;
  char *text = NULL;
  ck_assert_int_eq(cavum_store_result_to_json(&text, result, &error), CAVUM_OK);
  fputs(text, stdout);
  ck_assert_int_eq(text[strlen(text) - 1], '\n');
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &where);
  ck_assert_msg(root != NULL, "line %d: %s", where.line, where.text);
  free(text);
  return root;
}

static double number_at(json_t *object, const char *key) {
  json_t *value = json_object_get(object, key);
  ck_assert_msg(json_is_number(value), "%s is no number", key);
  return json_number_value(value);
}

START_TEST(frame_has_the_documented_keys) {
  cavum_result *result = fake_result_create();
  json_t *root = parse_fake(result);
  ck_assert_str_eq(json_string_value(json_object_get(root, "cavum")), cavum_version());
  ck_assert_str_eq(json_string_value(json_object_get(root, "title")),
                   "Injector cell \"A\" \xc2\xb5");
  CAVUM_CHECK_NEAR(number_at(root, "beta"), 1.0, 0.0);  // numbers read back exactly
  json_t *length = json_object_get(root, "accelerating_length");
  CAVUM_CHECK_NEAR(number_at(length, "value_m"), 0.1154, 0.0);
  ck_assert_str_eq(json_string_value(json_object_get(length, "from")), "2 x half_length");
  json_t *mesh = json_object_get(root, "mesh");
  CAVUM_CHECK_NEAR(number_at(mesh, "elements"), 2, 0.0);
  CAVUM_CHECK_NEAR(number_at(mesh, "degree"), 8, 0.0);
  CAVUM_CHECK_NEAR(number_at(mesh, "unknowns"), 3900, 0.0);
  CAVUM_CHECK_NEAR(number_at(root, "complete_below_Hz"), 2.9e9, 0.0);
  ck_assert_uint_eq(json_array_size(json_object_get(root, "modes")), 2);
  ck_assert_uint_eq(json_array_size(json_object_get(root, "warnings")), 1);
  ck_assert_uint_eq(json_array_size(json_object_get(root, "convergence")), 2);
  json_t *coupling = json_object_get(json_object_get(root, "coupling"), "k_cc");
  CAVUM_CHECK_NEAR(number_at(coupling, "value"), 0.0187654, 0.0);
  coupling = json_object_get(root, "coupling");
  ck_assert(json_is_true(json_object_get(coupling, "without_tubes")));
  CAVUM_CHECK_NEAR(number_at(coupling, "zero_mode_frequency_Hz"), 1.275e9, 0.0);
  CAVUM_CHECK_NEAR(number_at(coupling, "zero_mode_frequency_Hz_uncertainty"), 12.0, 0.0);
  CAVUM_CHECK_NEAR(number_at(coupling, "pi_mode_frequency_Hz"), 1.299e9, 0.0);
  CAVUM_CHECK_NEAR(number_at(coupling, "pi_mode_frequency_Hz_uncertainty"), 14.0, 0.0);
  json_decref(root);
  fake_result_destroy(result);
}
END_TEST

START_TEST(modes_have_their_figures) {
  cavum_result *result = fake_result_create();
  json_t *root = parse_fake(result);
  json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  ck_assert_str_eq(json_string_value(json_object_get(mode, "label")), "TM010");
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *figure = &result->modes[0].figures[id];
    json_t *object = json_object_get(mode, cavum_figure_describe((cavum_figure_id)id).key);
    ck_assert_int_eq(object != NULL, figure->state != CAVUM_FIGURE_ABSENT);
    if (figure->state != CAVUM_FIGURE_PRESENT) continue;
    CAVUM_CHECK_NEAR(number_at(object, "value"), figure->value, 0.0);
    CAVUM_CHECK_NEAR(number_at(object, "uncertainty"), figure->uncertainty, 0.0);
    ck_assert_int_eq(json_object_get(object, "basis") != NULL,
                     figure->basis != CAVUM_BASIS_COMPUTED);
  }
  static const struct {
    const char *key, *basis;
  } bases[] = {{"surface_resistance_ohm", "fit"},
               {"q0", "with R_s of the fit"},
               {"beta_of_largest_r_over_q", "at the end of the range"}};
  for (int i = 0; i < 3; i++) {
    json_t *basis = json_object_get(json_object_get(mode, bases[i].key), "basis");
    ck_assert_str_eq(json_string_value(basis), bases[i].basis);
  }
  json_t *peak = json_object_get(json_object_get(mode, "epk_over_eacc"), "at_m");
  CAVUM_CHECK_NEAR(number_at(peak, "z"), 0.0577, 0.0);
  CAVUM_CHECK_NEAR(number_at(peak, "r"), 0.035, 0.0);
  CAVUM_CHECK_NEAR(number_at(mode, "energy_mismatch"), 1e-12, 0.0);
  json_decref(root);
  fake_result_destroy(result);
}
END_TEST

START_TEST(unbounded_peak_is_null_with_a_reason) {
  cavum_result *result = fake_result_create();
  json_t *root = parse_fake(result);
  json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  json_t *peak = json_object_get(mode, "bpk_over_eacc_mT_per_MV_per_m");
  ck_assert(json_is_null(json_object_get(peak, "value")));
  ck_assert_str_eq(json_string_value(json_object_get(peak, "reason")), "sharp re-entrant corner");
  CAVUM_CHECK_NEAR(number_at(json_object_get(peak, "at_m"), "r"), 0.0875, 0.0);
  ck_assert_ptr_null(json_object_get(peak, "uncertainty"));
  json_decref(root);
  fake_result_destroy(result);
}
END_TEST

START_TEST(peaks_of_b_are_in_the_unit_of_their_key) {
  cavum_result *result = fake_result_create();
  fake_set(&result->modes[0], CAVUM_FIGURE_BPK_OVER_EACC, 4.26e-9, 3e-14);
  json_t *root = parse_fake(result);
  json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  json_t *peak = json_object_get(mode, "bpk_over_eacc_mT_per_MV_per_m");
  CAVUM_CHECK_RELATIVE(number_at(peak, "value"), 4.26, 2.3e-16);  // one rounding
  CAVUM_CHECK_RELATIVE(number_at(peak, "uncertainty"), 3e-5, 2.3e-16);
  json_decref(root);
  fake_result_destroy(result);
}
END_TEST

START_TEST(what_does_not_exist_is_absent) {
  cavum_result *result = fake_result_create();
  result->accelerating_length.value_m = 0.0;
  result->coupling.state = CAVUM_FIGURE_ABSENT;
  result->complete_below_hz = 0.0;
  result->modes[0].energy_mismatch = NAN;
  json_t *root = parse_fake(result);
  ck_assert_ptr_null(json_object_get(root, "accelerating_length"));
  ck_assert_ptr_null(json_object_get(root, "coupling"));
  ck_assert_ptr_null(json_object_get(root, "complete_below_Hz"));
  json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  ck_assert(json_is_null(json_object_get(mode, "energy_mismatch")));
  json_decref(root);
  fake_result_destroy(result);
}
END_TEST

static int allocations_left;

static void *allocate_some(size_t size) { return allocations_left-- > 0 ? malloc(size) : NULL; }

// Every allocation of jansson fails once: an error each time, no crash, no leak, output untouched.
START_TEST(out_of_memory_is_an_error) {
  cavum_result *result = fake_result_create();
  cavum_status status = CAVUM_ERR_MEMORY;
  char *text = NULL;
  int needed = 0;
  json_set_alloc_funcs(allocate_some, free);
  while (status != CAVUM_OK) {
    allocations_left = needed++;
    status = cavum_store_result_to_json(&text, result, NULL);
    if (status == CAVUM_OK) break;
    ck_assert_int_eq(status, CAVUM_ERR_MEMORY);
    ck_assert_ptr_null(text);
    ck_assert_int_lt(needed, 100000);
  }
  json_set_alloc_funcs(malloc, free);
  printf("%d allocations\n", needed - 1);
  ck_assert_int_gt(needed, 100);
  free(text);
  fake_result_destroy(result);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, frame_has_the_documented_keys);
  tcase_add_test(tests, modes_have_their_figures);
  tcase_add_test(tests, unbounded_peak_is_null_with_a_reason);
  tcase_add_test(tests, out_of_memory_is_an_error);
  tcase_add_test(tests, peaks_of_b_are_in_the_unit_of_their_key);
  tcase_add_test(tests, what_does_not_exist_is_absent);
}

CAVUM_TEST_MAIN("json", add_tests)
