// SPDX-License-Identifier: GPL-3.0-or-later
// A result as a tree of JSON values; json_text.c turns the tree into text. Keys are stable and
// listed in REFERENCE.md; what does not exist is absent, an unbounded peak has the value null and a
// reason.
#include "base/base.h"
#include "cavum/store.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "format/quantity.h"
#include "store/figure_json.h"
#include "store/geometry_json.h"
#include "store/requirements_json.h"
#include "store/result_private.h"
#include "store/stored_derivative.h"

static bool set_figures(json_t *object, const cavum_mode_result *mode) {
  bool good = true;
  for (int id = 0; good && id < CAVUM_NUM_FIGURES; id++) {
    if (mode->figures[id].state == CAVUM_FIGURE_ABSENT) continue;
    cavum_figure stored = cavum_stored_figure_make(&mode->figures[id], (cavum_figure_id)id);
    good = cavum_json_set(object, cavum_figure_describe((cavum_figure_id)id).key,
                          cavum_figure_json_make(&stored));
  }
  return good;
}

static json_t *make_parity(cavum_parity parity) {
  return parity == CAVUM_PARITY_NONE ? json_null()
                                     : json_string(parity == CAVUM_PARITY_EVEN ? "even" : "odd");
}

static json_t *make_derivative(const cavum_derivative *derivative) {
  if (derivative->state == CAVUM_FIGURE_PRESENT) {
    return json_pack("{s:o, s:o}", "value", cavum_json_number(derivative->value), "uncertainty",
                     cavum_json_number(derivative->uncertainty));
  }
  return json_pack("{s:n, s:s}", "value", "reason", derivative->reason);
}

// One that is to have both sides where it has none as a whole.
static json_t *make_derivative_of(const cavum_result *result, int mode, int dimension,
                                  cavum_figure_id id) {
  cavum_derivative stored = cavum_stored_derivative_make(result, mode, dimension, id);
  json_t *object = make_derivative(&stored);
  bool good = object != NULL;
  for (int k = 0; good && stored.state != CAVUM_FIGURE_PRESENT && k < 2; k++) {
    cavum_change change = k == 0 ? CAVUM_CHANGE_GROWS : CAVUM_CHANGE_SHRINKS;
    cavum_derivative side = cavum_stored_one_sided_make(result, mode, dimension, id, change);
    if (side.state != CAVUM_FIGURE_PRESENT) continue;
    good = cavum_json_set(object, k == 0 ? "grows" : "shrinks", make_derivative(&side));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_derivatives_by(const cavum_result *result, int mode, int dimension) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    cavum_derivative stored = cavum_stored_derivative_make(result, mode, dimension, id);
    if (stored.state != CAVUM_FIGURE_PRESENT && !stored.reason) continue;
    good = cavum_json_set(object, cavum_figure_describe(id).key,
                          make_derivative_of(result, mode, dimension, id));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_derivatives(const cavum_result *result, int mode) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int i = 0; good && i < result->num_dimensions; i++) {
    good = cavum_json_set(object, result->dimensions[i].key, make_derivatives_by(result, mode, i));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_mode(const cavum_result *result, int index) {
  const cavum_mode_result *mode = &result->modes[index];
  json_t *object = json_object();
  bool good = object && cavum_json_set(object, "label", json_string(mode->label)) &&
              cavum_json_set(object, "parity", make_parity(mode->parity)) &&
              set_figures(object, mode) &&
              cavum_json_set(object, "energy_mismatch", cavum_json_number(mode->energy_mismatch)) &&
              cavum_json_set(object, "residual", cavum_json_number(mode->residual)) &&
              cavum_json_set(object, "accuracy_reached", json_boolean(mode->accuracy_reached));
  if (mode->derivatives) {
    good = good && cavum_json_set(object, "derivatives", make_derivatives(result, index));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_modes(const cavum_result *result) {
  json_t *array = json_array();
  for (int i = 0; array && i < result->num_modes; i++) {
    if (json_array_append_new(array, make_mode(result, i)) == 0) continue;
    json_decref(array);
    array = NULL;
  }
  return array;
}

static json_t *make_steps(const cavum_result *result) {
  json_t *array = json_array();
  for (int i = 0; array && i < result->num_steps; i++) {
    const cavum_convergence_step *step = &result->steps[i];
    json_t *object = json_pack("{s:i, s:i, s:i, s:o, s:o, s:o}", "degree", step->degree, "elements",
                               (int)step->num_elements, "unknowns", (int)step->num_unknowns,
                               "frequency_Hz", cavum_json_number(step->frequency_hz),
                               "frequency_change", cavum_json_number(step->frequency_change),
                               "figure_change", cavum_json_number(step->figure_change));
    if (json_array_append_new(array, object) == 0) continue;
    json_decref(array);
    array = NULL;
  }
  return array;
}

static json_t *make_warnings(const cavum_result *result) {
  json_t *array = json_array();
  for (int i = 0; array && i < result->num_warnings; i++) {
    if (json_array_append_new(array, json_string(result->warnings[i])) == 0) continue;
    json_decref(array);
    array = NULL;
  }
  return array;
}

static json_t *make_coupling_derivatives(const cavum_result *result) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int i = 0; good && i < result->num_dimensions; i++) {
    cavum_derivative stored = cavum_stored_coupling_derivative_make(result, i);
    if (stored.state != CAVUM_FIGURE_PRESENT && !stored.reason) continue;
    good = cavum_json_set(object, result->dimensions[i].key, make_derivative(&stored));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_coupling(const cavum_result *result) {
  json_t *object =
      json_pack("{s:o, s:b, s:o, s:o, s:o, s:o}", "k_cc", cavum_figure_json_make(&result->coupling),
                "without_tubes", result->coupling_without_tubes, "zero_mode_frequency_Hz",
                cavum_json_number(result->zero_mode_hz), "zero_mode_frequency_Hz_uncertainty",
                cavum_json_number(result->zero_mode_uncertainty_hz), "pi_mode_frequency_Hz",
                cavum_json_number(result->pi_mode_hz), "pi_mode_frequency_Hz_uncertainty",
                cavum_json_number(result->pi_mode_uncertainty_hz));
  if (!object || !result->coupling_derivatives) return object;
  if (cavum_json_set(object, "derivatives", make_coupling_derivatives(result))) return object;
  json_decref(object);
  return NULL;
}

static bool set_frame(json_t *root, const cavum_result *result) {
  const cavum_accelerating_length *length = &result->accelerating_length;
  bool good = cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "title", json_string(result->title ? result->title : "")) &&
              cavum_json_set(root, "beta", cavum_json_number(result->beta));
  if (length->value_m > 0.0) {
    good = good && cavum_json_set(root, "accelerating_length",
                                  json_pack("{s:f, s:s}", "value_m", length->value_m, "from",
                                            length->from ? length->from : ""));
  }
  good =
      good &&
      cavum_json_set(root, "mesh",
                     json_pack("{s:i, s:i, s:i, s:b}", "elements", (int)result->mesh.num_elements,
                               "degree", result->degree, "unknowns", (int)result->num_unknowns,
                               "half_model", (int)result->half_model)) &&
      cavum_json_set(root, "accuracy_reached", json_boolean(result->accuracy_reached));
  if (result->complete_above_hz > 0.0) {
    good = good &&
           cavum_json_set(root, "complete_above_Hz", cavum_json_number(result->complete_above_hz));
  }
  if (result->complete_below_hz > 0.0) {
    good = good &&
           cavum_json_set(root, "complete_below_Hz", cavum_json_number(result->complete_below_hz));
  }
  return good;
}

// A mesh file has no exact outline.
static cavum_status set_geometry(json_t *root, const cavum_result *result, const cavum_cell *cell,
                                 cavum_error *error) {
  cavum_geometry *geometry = NULL;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) return CAVUM_OK;
  cavum_status status = cavum_geometry_measure(&geometry, cell, result->num_dimensions > 0, error);
  if (status == CAVUM_OK && !cavum_json_set(root, "geometry", cavum_geometry_json_make(geometry))) {
    status = cavum_fail_memory(error);
  }
  cavum_geometry_destroy(&geometry);
  return status;
}

static cavum_status set_requirements(json_t *root, const cavum_result *result,
                                     const cavum_cell *cell, cavum_error *error) {
  cavum_stored_requirements requirements = {0};
  cavum_status status = cavum_stored_requirements_judge(&requirements, result, cell, error);
  if (status == CAVUM_OK && requirements.count > 0 &&
      !cavum_json_set(root, "requirements",
                      cavum_requirements_json_make(&requirements, cell, result))) {
    status = cavum_fail_memory(error);
  }
  cavum_stored_requirements_clear(&requirements);
  return status;
}

cavum_status cavum_store_cell_result_to_json(char **text, const cavum_result *result,
                                             const cavum_cell *cell, cavum_error *error) {
  if (!text || !result) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  char *made = NULL;
  json_t *root = json_object();
  bool good = root && set_frame(root, result) && cavum_json_set(root, "modes", make_modes(result));
  if (result->coupling.state != CAVUM_FIGURE_ABSENT) {
    good = good && cavum_json_set(root, "coupling", make_coupling(result));
  }
  if (good && cell) CAVUM_TRY(set_geometry(root, result, cell, error));
  if (good && cell) CAVUM_TRY(set_requirements(root, result, cell, error));
  good = good && cavum_json_set(root, "convergence", make_steps(result)) &&
         cavum_json_set(root, "warnings", make_warnings(result));
  if (good) made = cavum_store_json_text(root);
  if (!made) CAVUM_TRY(cavum_fail_memory(error));
  *text = made;
done:
  json_decref(root);
  return status;
}

cavum_status cavum_store_result_to_json(char **text, const cavum_result *result,
                                        cavum_error *error) {
  if (!text || !result) return cavum_fail_null(error, __func__);
  return cavum_store_cell_result_to_json(text, result, NULL, error);
}
