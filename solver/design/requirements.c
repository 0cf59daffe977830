// SPDX-License-Identifier: GPL-3.0-or-later
// The section `requirements` of a cell file, and what a result makes of it.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/requirement.h"
#include "cell/limits.h"
#include "contour/two_ellipse.h"
#include "yaml/fields.h"
#include "yaml/reader.h"

void cavum_requirements_destroy(cavum_requirements **requirements) {
  if (!requirements || !*requirements) return;
  free((*requirements)->list);
  free(*requirements);
  *requirements = NULL;
}

static const struct other {
  const char *key;
  cavum_requirement_kind kind;
} others[] = {{"k_cc", CAVUM_REQUIRE_K_CC},
              {"wall_angle_deg", CAVUM_REQUIRE_WALL_ANGLE},
              {"iris_curvature_mm", CAVUM_REQUIRE_IRIS_CURVATURE}};

// What a key requires.
static cavum_status take_key(cavum_requirement *r, const cavum_yaml_reader *reader,
                             const cavum_yaml_node *node) {
  cavum_error what = {0};
  if (strlen(node->key) >= sizeof r->key) {
    return cavum_yaml_reader_fail(reader, node, "requirements: '%s' is longer than any key",
                                  cavum_yaml_tree_excerpt(node->key).text);
  }
  snprintf(r->key, sizeof r->key, "%s", node->key);
  for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
    if (strcmp(node->key, others[i].key) != 0) continue;
    r->kind = others[i].kind;
    r->unit_si = r->kind == CAVUM_REQUIRE_WALL_ANGLE
                     ? cavum_from_unit(1.0, CAVUM_UNIT_DEGREE)
                     : cavum_from_unit(1.0, cavum_unit_of_key(node->key));
    return CAVUM_OK;
  }
  cavum_status status = cavum_figure_find(&r->figure, &r->unit_si, node->key, &what);
  if (status == CAVUM_OK) return CAVUM_OK;
  return cavum_yaml_reader_relay(reader, node, status, "requirements", &what);
}

static cavum_status take_bounds(cavum_requirement *r, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node) {
  static const char *const words[] = {"least", "most", "is", "within"};
  double value[4] = {NAN, NAN, NAN, NAN};
  int found = 0;
  for (int i = 0; i < 4 && node->kind == CAVUM_YAML_NODE_MAPPING; i++) {
    const cavum_yaml_node *child = cavum_yaml_reader_child(reader, node, words[i]);
    if (!child) continue;
    cavum_status status = cavum_yaml_read_number(&value[i], reader, child, node->key);
    if (status != CAVUM_OK) return status;
    found++;
  }
  bool bounds = isnan(value[2]) && isnan(value[3]) && found > 0;
  bool about = found == 2 && value[3] >= 0.0 && !isnan(value[2]);
  r->least = about ? value[2] - value[3] : isnan(value[0]) ? -HUGE_VAL : value[0];
  r->most = about ? value[2] + value[3] : isnan(value[1]) ? HUGE_VAL : value[1];
  if (found == (int)node->num_children && (bounds || about) && r->least <= r->most) return CAVUM_OK;
  return cavum_yaml_reader_fail(
      reader, node,
      "requirements.%s: expected {least: A}, {most: B}, both with A below B, or {is: C, within: D}",
      r->key);
}

static cavum_status read_list(cavum_requirements *made, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *section) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, section);
  for (; node; node = cavum_yaml_reader_next(reader, node)) {
    cavum_requirement *r = &made->list[made->count];
    cavum_status status = take_key(r, reader, node);
    if (status == CAVUM_OK) status = take_bounds(r, reader, node);
    if (status != CAVUM_OK) return status;
    made->count++;
  }
  return CAVUM_OK;
}

cavum_status cavum_requirements_read_text(cavum_requirements **requirements, const char *text,
                                          size_t length, const char *name, cavum_error *error) {
  if (!requirements || !text) return cavum_fail_null(error, __func__);
  cavum_yaml_reader reader = {0};
  cavum_status status = CAVUM_OK;
  cavum_requirements *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_yaml_reader_open(&reader, text, length, CAVUM_CELL_LARGEST_TEXT,
                                   name ? name : "text", error));
  const cavum_yaml_node *root = &reader.tree.nodes[0];
  const cavum_yaml_node *section = root->kind == CAVUM_YAML_NODE_MAPPING
                                       ? cavum_yaml_reader_child(&reader, root, "requirements")
                                       : NULL;
  if (section) {
    if (section->kind != CAVUM_YAML_NODE_MAPPING) {
      CAVUM_TRY(cavum_yaml_reader_fail(&reader, section, "requirements: expected a mapping"));
    }
    made->list = cavum_alloc(section->num_children, sizeof *made->list);
    if (!made->list) CAVUM_TRY(cavum_fail_memory(error));
    CAVUM_TRY(read_list(made, &reader, section));
  }
  *requirements = made;
  made = NULL;
done:
  cavum_yaml_reader_clear(&reader);
  cavum_requirements_destroy(&made);
  return status;
}

// ---- verdicts

// Lean of the straight wall, or smallest radius of curvature of the iris.
static double measure_half(const cavum_half_cell *half, cavum_requirement_kind kind) {
  cavum_common_tangent tangent;
  if (cavum_two_ellipse_tangent(&tangent, half, "one", NULL) != CAVUM_OK) return NAN;
  if (kind == CAVUM_REQUIRE_WALL_ANGLE) return tangent.lean_rad;
  return cavum_two_ellipse_iris_curvature_m(half, &tangent);
}

// The value that is required something of, in SI.
static cavum_figure value_of(const cavum_requirement *r, const cavum_cell *cell,
                             const cavum_result *result, int mode) {
  cavum_figure absent = {.state = CAVUM_FIGURE_ABSENT};
  if (r->kind == CAVUM_REQUIRE_K_CC) return result->coupling;
  if (r->kind == CAVUM_REQUIRE_FIGURE) {
    bool there = mode >= 0 && mode < result->num_modes;
    return there ? cavum_mode_figure(&result->modes[mode], r->figure) : absent;
  }
  if (cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE) return absent;
  double value = cavum_min(measure_half(&cell->left, r->kind), measure_half(&cell->right, r->kind));
  return isfinite(value) ? (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = value} : absent;
}

// The dimension whose change is the smallest part of it. The speed of particles and the length that
// gradients are counted over are not for the workshop.
static void find_mend(cavum_verdict *v, const cavum_requirement *r, const cavum_result *result,
                      int mode) {
  double least = HUGE_VAL, wanted = v->value < r->least ? r->least : r->most;
  for (int j = 0; j < result->num_dimensions; j++) {
    const cavum_dimension *dimension = &result->dimensions[j];
    bool is_shape =
        strcmp(dimension->unit, "1") != 0 && strcmp(dimension->key, "accelerating_length_mm") != 0;
    cavum_derivative d = cavum_result_derivative(result, mode, j, r->figure);
    if (d.state != CAVUM_FIGURE_PRESENT || d.value == 0.0) continue;
    if (!is_shape || dimension->value_si == 0.0) continue;
    double change = (wanted - v->value) * r->unit_si / d.value;
    double part = fabs(change / dimension->value_si);
    if (part >= least) continue;
    least = part;
    v->change = change / dimension->unit_si;
    memcpy(v->dimension, dimension->key, sizeof v->dimension);
  }
}

cavum_verdict cavum_requirement_judge(const cavum_requirement *requirement, const cavum_cell *cell,
                                      const cavum_result *result, int mode) {
  const cavum_requirement *r = requirement;
  cavum_verdict v = {.kind = CAVUM_VERDICT_ABSENT, .value = NAN, .margin = NAN};
  if (!r || !cell || !result) return v;
  cavum_figure figure = value_of(r, cell, result, mode);
  if (figure.state == CAVUM_FIGURE_ABSENT) return v;
  bool unbounded = figure.state == CAVUM_FIGURE_UNBOUNDED;
  v.value = unbounded ? HUGE_VAL : figure.value / r->unit_si;
  v.uncertainty = unbounded ? 0.0 : figure.uncertainty / r->unit_si;
  v.margin = cavum_min(v.value - r->least, r->most - v.value);
  bool in = v.value - v.uncertainty >= r->least && v.value + v.uncertainty <= r->most;
  bool out = v.value + v.uncertainty < r->least || v.value - v.uncertainty > r->most;
  v.kind = in ? CAVUM_VERDICT_MET : out ? CAVUM_VERDICT_MISSED : CAVUM_VERDICT_UNDECIDED;
  if (!in && !unbounded && r->kind == CAVUM_REQUIRE_FIGURE && v.margin < 0.0) {
    find_mend(&v, r, result, mode);
  }
  return v;
}
