// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file step_chain.h
 * Chains of steps on cells of closed form: files in a temporary folder.
 */
#ifndef CAVUM_TEST_STEP_CHAIN_H
#define CAVUM_TEST_STEP_CHAIN_H

#include <string.h>

#include "base/base.h"
#include "cavum/steps.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

/** First zero of J0 [Olver2010]. */
#define STEP_CHAIN_X01 2.404825557695773

static char step_chain_folder[128];

/** Radius of a pillbox whose TM010 has 1300 MHz. */
static inline double step_chain_radius_mm(void) {
  return 1e3 * STEP_CHAIN_X01 * 299792458.0 / (2.0 * CAVUM_PI * 1.3e9);
}

/** The folder with pillbox.yaml, 1300 MHz, 100 mm long, middle at z = 0. */
static inline void step_chain_set_up(void) {
  char text[640];
  double r = step_chain_radius_mm();
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\n"
           "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 50, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -50, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n"
           "accuracy: {frequency: 1e-10}\n",
           r, r);
  temporary_folder_make(step_chain_folder);
  program_write_text(step_chain_folder, "pillbox.yaml", text);
}

static inline void step_chain_tear_down(void) { temporary_folder_delete(step_chain_folder); }

/** Opens a chain on a cell file of the folder; `rest` is what follows the cell. */
static inline cavum_status step_chain_open(cavum_steps **steps, const char *cell, const char *rest,
                                           cavum_error *error) {
  char text[4096], path[192];
  snprintf(text, sizeof text, "cell: %s\n%s", cell, rest);
  snprintf(path, sizeof path, "%s/steps.yaml", step_chain_folder);
  return cavum_steps_open_text(steps, text, strlen(text), path, error);
}

/** Runs a chain on a cell file of the folder. */
static inline cavum_steps_result *step_chain_run(const char *cell, const char *rest) {
  cavum_error error = {0};
  cavum_steps *steps = NULL;
  cavum_steps_result *result = NULL;
  cavum_status status = step_chain_open(&steps, cell, rest, &error);
  if (status == CAVUM_OK) status = cavum_steps_run(&result, steps, NULL, &error);
  cavum_steps_close(&steps);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return result;
}

#endif
