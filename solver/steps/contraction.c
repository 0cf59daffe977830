// SPDX-License-Identifier: GPL-3.0-or-later
// Integrated thermal contraction of metals, from a published table; between its temperatures by a
// monotone interpolant.
#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "cavum/steps.h"

enum { NUM_TEMPERATURES = 10 };

// Below 4 K lengths change by less than 1e-7, above 293 K by the expansion coefficient there.
static const double TEMPERATURES_K[NUM_TEMPERATURES] = {0, 4, 40, 77, 100, 150, 200, 250, 293, 303};

static const char SOURCE[] =
    "Ekin, Experimental Techniques for Low-Temperature Measurements, 2006, appendix";

// (L293 - L) / L293 in units of 1e-5 [Ekin2006] (not checked against the source; those at 4 K are
// check values). The relative uncertainty is an estimate: what compilations differ by, more for
// alloys.
static const struct material {
  const char *name;
  double contraction[NUM_TEMPERATURES];
  double relative_uncertainty;
} MATERIALS[] = {
    {"niobium", {143, 143, 141, 130, 121, 94, 63, 30, 0, -7.1}, 0.01},
    {"copper", {324, 324, 322, 302, 282, 221, 148, 70, 0, -16.7}, 0.01},
    {"titanium", {151, 151, 150, 143, 134, 107, 73, 35, 0, -8.3}, 0.02},
    {"aluminium", {415, 415, 413, 393, 370, 295, 201, 97, 0, -23.1}, 0.01},
    {"niobium-titanium", {188, 188, 184, 167, 156, 117, 78, 38, 0, -8.2}, 0.03},
    {"stainless steel", {290, 290, 290, 280, 260, 200, 130, 60, 0, -15.1}, 0.03},
};
enum { NUM_MATERIALS = sizeof MATERIALS / sizeof MATERIALS[0] };

static const struct material *find(const char *name) {
  for (int i = 0; i < NUM_MATERIALS; i++) {
    if (strcmp(MATERIALS[i].name, name) == 0) return &MATERIALS[i];
  }
  return NULL;
}

static cavum_status refuse(const char *name, cavum_error *error) {
  char hint[CAVUM_NEAREST_SIZE], list[CAVUM_STEP_LINE_SIZE] = "";
  cavum_nearest nearest = {0};
  size_t length = 0;
  for (int i = 0; i < NUM_MATERIALS; i++) {
    cavum_nearest_offer(&nearest, name, MATERIALS[i].name);
    length += (size_t)snprintf(list + length, sizeof list - length, "%s%s", i > 0 ? ", " : "",
                               MATERIALS[i].name);
  }
  cavum_nearest_write(hint, &nearest, "");
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "no table of the contraction of '%.60s'%s: there are %s, or state it", name,
                    hint, list);
}

// (L293 - L) / L293 at a temperature within the table.
static cavum_status look_up(double *contraction, const struct material *m, double kelvin,
                            cavum_error *error) {
  double found = NAN;
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  gsl_interp *curve = gsl_interp_alloc(gsl_interp_steffen, NUM_TEMPERATURES);
  bool good = curve &&
              gsl_interp_init(curve, TEMPERATURES_K, m->contraction, NUM_TEMPERATURES) == 0 &&
              gsl_interp_eval_e(curve, TEMPERATURES_K, m->contraction, kelvin, NULL, &found) == 0;
  gsl_set_error_handler(handler);
  gsl_interp_free(curve);
  if (!curve) return cavum_fail_memory(error);
  if (!good) return cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL refused a table of contraction");
  *contraction = 1e-5 * found;
  return CAVUM_OK;
}

cavum_status cavum_contraction(double *contraction, double *uncertainty, const char **source,
                               const char *material, double from_k, double to_k,
                               cavum_error *error) {
  if (!contraction || !material) return cavum_fail_null(error, __func__);
  const struct material *m = find(material);
  if (!m) return refuse(material, error);
  double low = TEMPERATURES_K[0], high = TEMPERATURES_K[NUM_TEMPERATURES - 1];
  double kelvin[2] = {from_k, to_k}, from_293[2] = {0.0, 0.0};
  for (int i = 0; i < 2; i++) {
    if (!(kelvin[i] >= low && kelvin[i] <= high)) {
      return cavum_fail(error, CAVUM_ERR_RANGE,
                        "the table of %s goes from %g to %g K, found %g K: state the contraction",
                        m->name, low, high, kelvin[i]);
    }
    cavum_status status = look_up(&from_293[i], m, kelvin[i], error);
    if (status != CAVUM_OK) return status;
  }
  *contraction = (from_293[1] - from_293[0]) / (1.0 - from_293[0]);
  if (uncertainty) *uncertainty = fabs(*contraction) * m->relative_uncertainty;
  if (source) *source = SOURCE;
  return CAVUM_OK;
}
