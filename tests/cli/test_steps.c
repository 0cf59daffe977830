// SPDX-License-Identifier: GPL-3.0-or-later
// cavum steps: table, JSON, exit statuses.
#include <jansson.h>

#include "step_chain.h"

#define run(...) program_run(step_chain_folder, __VA_ARGS__)

static const char *read_text(const char *name) {
  const char *text = program_read_text(step_chain_folder, name);
  fputs(text, stdout);
  return text;
}

static void write_chain(const char *name, const char *steps) {
  char text[1024];
  snprintf(text, sizeof text,
           "title: Series\ncell: pillbox.yaml\n"
           "target: {frequency_MHz: 1301.8, tolerance_kHz: 50}\nsteps:\n%s",
           steps);
  program_write_text(step_chain_folder, name, text);
}

START_TEST(the_table_has_aims_and_measurements) {
  write_chain("chain.yaml",
              "  - {name: bench, air: {temperature_C: 20}, measured_MHz: 1299.7}\n"
              "  - {name: cold, cool: {contraction: 1.43e-3}}\n");
  ck_assert_int_eq(run("$CAVUM steps chain.yaml --json chain.json"), 0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "Series"));
  ck_assert_ptr_nonnull(strstr(table, "aim / MHz"));
  ck_assert_ptr_nonnull(strstr(table, "N = 268.218"));
  json_error_t error;
  json_t *root = json_loads(read_text("chain.json"), 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  double aim = 0.0, deviation = 0.0;
  ck_assert_int_eq(json_unpack(json_array_get(json_object_get(root, "behind_each_step"), 1),
                               "{s:F, s:F}", "aim_Hz", &aim, "deviation_Hz", &deviation),
                   0);
  // f in air over f in vacuum, cold over warm.
  CAVUM_CHECK_NEAR(aim, 1301.8e6 * (1 - 1.43e-3) / (1 + 268.218e-6) / 1.0, 1e6);
  CAVUM_CHECK_NEAR(deviation, 1299.7e6 - aim, 1e-6);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM steps chain.yaml -q --json chain.json"), 0);  // its own file
  ck_assert_int_eq(run("$CAVUM steps chain.yaml --json pillbox.yaml --overwrite"), 2);
}
END_TEST

START_TEST(bad_input_is_one_line) {
  write_chain("bad.yaml", "  - {cool: {material: niobium, from_K: 293, to_K: 500}}\n");
  ck_assert_int_eq(run("$CAVUM steps bad.yaml"), 2);
  const char *text = read_text("err");
  ck_assert_ptr_nonnull(strstr(text, "bad.yaml:5:12: "));
  ck_assert_ptr_eq(strchr(text, '\n'), text + strlen(text) - 1);
  ck_assert_int_eq(run("$CAVUM steps"), 2);
  ck_assert_int_eq(run("$CAVUM steps bad.yaml -q"), 2);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_unchecked_fixture(tests, step_chain_set_up, step_chain_tear_down);
  tcase_add_test(tests, the_table_has_aims_and_measurements);
  tcase_add_test(tests, bad_input_is_one_line);
}

CAVUM_TEST_MAIN("cli steps", add)
