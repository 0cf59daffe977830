// SPDX-License-Identifier: GPL-3.0-or-later
// The section `requirements` of a cell file, and what a result makes of it.
#include "design/requirements.h"

#include <float.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/geometry.h"
#include "cell/limits.h"
#include "yaml/fields.h"
#include "yaml/reader.h"

void cavum_requirements_destroy(cavum_requirements **requirements) {
  if (!requirements || !*requirements) return;
  free((*requirements)->list);
  free(*requirements);
  *requirements = NULL;
}

// Kinds of the figures of the shape, by cavum_geometry_id.
static const cavum_requirement_kind of_shape[CAVUM_NUM_GEOMETRY_FIGURES] = {
    [CAVUM_GEOMETRY_WALL_ANGLE] = CAVUM_REQUIRE_WALL_ANGLE,
    [CAVUM_GEOMETRY_IRIS_CURVATURE] = CAVUM_REQUIRE_IRIS_CURVATURE,
    [CAVUM_GEOMETRY_STRAIGHT_LENGTH] = CAVUM_REQUIRE_STRAIGHT_LENGTH,
    [CAVUM_GEOMETRY_APERTURE_RADIUS] = CAVUM_REQUIRE_APERTURE_RADIUS,
    [CAVUM_GEOMETRY_TOTAL_LENGTH] = CAVUM_REQUIRE_TOTAL_LENGTH,
    [CAVUM_GEOMETRY_VOLUME] = CAVUM_REQUIRE_VOLUME,
    [CAVUM_GEOMETRY_WALL_AREA] = CAVUM_REQUIRE_WALL_AREA};

int cavum_requirement_geometry(cavum_requirement_kind kind) {
  int id = 0;
  while (id < CAVUM_NUM_GEOMETRY_FIGURES && of_shape[id] != kind) id++;
  return id;
}

cavum_status cavum_requirement_find(cavum_requirement *r, const char *key, cavum_error *error) {
  if (strlen(key) >= sizeof r->key) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "'%s' is longer than any key",
                      cavum_yaml_tree_excerpt(key).text);
  }
  snprintf(r->key, sizeof r->key, "%s", key);
  cavum_geometry_id id = cavum_geometry_of_key(key);
  if (id < CAVUM_NUM_GEOMETRY_FIGURES) {
    r->kind = of_shape[id];
    r->unit_si = cavum_geometry_describe(id).unit_si;
    return CAVUM_OK;
  }
  if (strcmp(key, "k_cc") == 0) {
    r->kind = CAVUM_REQUIRE_K_CC;
    r->unit_si = 1.0;
    return CAVUM_OK;
  }
  cavum_error unknown = {0};
  cavum_status status = cavum_figure_find(&r->figure, &r->unit_si, key, &unknown);
  if (status == CAVUM_OK) return CAVUM_OK;
  // A key of the shape without its unit.
  for (int i = 0; i < CAVUM_NUM_GEOMETRY_FIGURES; i++) {
    const char *known = cavum_geometry_describe((cavum_geometry_id)i).key;
    size_t length = strlen(key);
    if (length == 0 || strncmp(key, known, length) != 0 || known[length] != '_') continue;
    return cavum_fail(error, status, "'%s' is not a figure, did you mean '%s'?", key, known);
  }
  return cavum_fail(error, status, "%s", unknown.message);
}

bool cavum_requirement_find_radius(cavum_requirement *r, const char *key) {
  static const struct {
    const char *key;
    cavum_requirement_kind kind;
  } radii[] = {{"iris_side_radius_mm", CAVUM_REQUIRE_IRIS_SIDE_RADIUS},
               {"equator_side_radius_mm", CAVUM_REQUIRE_EQUATOR_SIDE_RADIUS}};
  for (int i = 0; i < 2; i++) {
    if (strcmp(key, radii[i].key) != 0) continue;
    snprintf(r->key, sizeof r->key, "%s", key);
    r->kind = radii[i].kind;
    r->unit_si = cavum_from_unit(1.0, CAVUM_UNIT_MM);
    return true;
  }
  return false;
}

cavum_status cavum_requirement_take_key(cavum_requirement *r, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *node, const char *key,
                                        const char *section) {
  cavum_error what = {0};
  cavum_status status = cavum_requirement_find(r, key, &what);
  if (status == CAVUM_OK) return CAVUM_OK;
  return cavum_yaml_reader_relay(reader, node, status, section, &what);
}

// No cells are coupled so: 2 (f_pi - f_0) / (f_pi + f_0) of 1 are frequencies of three to one.
static bool is_percent(const cavum_requirement *r) {
  bool beyond =
      (isfinite(r->least) && fabs(r->least) >= 1.0) || (isfinite(r->most) && fabs(r->most) >= 1.0);
  return r->kind == CAVUM_REQUIRE_K_CC && beyond;
}

// Changes, the coupling, the lean and the length of a wall.
bool cavum_requirement_may_be_negative(const cavum_requirement *r) {
  if (r->kind == CAVUM_REQUIRE_FIGURE) {
    return r->figure == CAVUM_FIGURE_TUBE_CUT_FREQUENCY ||
           r->figure == CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
  }
  return r->kind == CAVUM_REQUIRE_K_CC || r->kind == CAVUM_REQUIRE_WALL_ANGLE ||
         r->kind == CAVUM_REQUIRE_STRAIGHT_LENGTH;
}

// Bounds that are in order, but that no cell can have.
static cavum_status check_bounds(const cavum_requirement *r, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *section) {
  if (is_percent(r)) {
    return cavum_yaml_reader_fail(reader, node, "%s.k_cc: expected a fraction: 1 %% is 0.01",
                                  section);
  }
  if (r->most < 0.0 && !cavum_requirement_may_be_negative(r)) {
    return cavum_yaml_reader_fail(reader, node,
                                  "%s.%s: it is never below 0, where at most %.10g was given",
                                  section, r->key, r->most);
  }
  return CAVUM_OK;
}

cavum_status cavum_requirement_take_bounds(cavum_requirement *r, const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node, const char *section,
                                           bool may_be_exact) {
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
  bool all = found == (int)node->num_children;
  if (may_be_exact && found == 1 && !isnan(value[2])) {
    value[3] = 0.0;
    found = 2;
  }
  bool about = found == 2 && value[3] >= 0.0 && !isnan(value[2]);
  r->least = about ? value[2] - value[3] : isnan(value[0]) ? -HUGE_VAL : value[0];
  r->most = about ? value[2] + value[3] : isnan(value[1]) ? HUGE_VAL : value[1];
  if (all && (bounds || about) && r->least <= r->most) {
    return check_bounds(r, reader, node, section);
  }
  return cavum_yaml_reader_fail(reader, node,
                                "%s.%s: expected {least: A}, {most: B}, both with A below B, or "
                                "{is: C, within: D}%s",
                                section, r->key, may_be_exact ? ", or {is: C}" : "");
}

// What a requirement is of, and how many SI units of that one of its key's unit is: R/Q of circuits
// is half of the other one.
static cavum_figure_id figure_of(double *unit_si, const cavum_requirement *r) {
  bool of_circuit = r->figure == CAVUM_FIGURE_R_OVER_Q_CIRCUIT;
  *unit_si = of_circuit ? 2.0 * r->unit_si : r->unit_si;
  return of_circuit ? CAVUM_FIGURE_R_OVER_Q_LINAC : r->figure;
}

// A value in two units is the same to rounding.
static const double SAME_BOUND = 1e-12;

static bool is_below(double most, double least) { return most < least - SAME_BOUND * fabs(least); }

// Whether no value meets two requirements; which bound of the first one is in the way.
static bool contradict(bool *at_most, const cavum_requirement *a, const cavum_requirement *b) {
  double of_a, of_b;
  if (a->kind != CAVUM_REQUIRE_FIGURE || b->kind != CAVUM_REQUIRE_FIGURE) return false;
  if (figure_of(&of_a, a) != figure_of(&of_b, b)) return false;
  *at_most = is_below(a->most * of_a, b->least * of_b);
  return *at_most || is_below(b->most * of_b, a->least * of_a);
}

// A requirement against those before it, which have other keys.
static cavum_status check_others(const cavum_requirements *made, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *section, const cavum_yaml_node *node) {
  const cavum_requirement *r = &made->list[made->count];
  const cavum_yaml_node *before = cavum_yaml_reader_first(reader, section);
  for (int i = 0; i < made->count; i++, before = cavum_yaml_reader_next(reader, before)) {
    const cavum_requirement *other = &made->list[i];
    bool at_most = false;
    if (!contradict(&at_most, r, other)) continue;
    return cavum_yaml_reader_fail(
        reader, node,
        "requirements.%s: at %s %.10g, while %s is at %s %.10g in line %d: no cell meets both",
        r->key, at_most ? "most" : "least", at_most ? r->most : r->least, other->key,
        at_most ? "least" : "most", at_most ? other->least : other->most, before->key_line);
  }
  return CAVUM_OK;
}

static cavum_status read_list(cavum_requirements *made, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *section) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, section);
  for (; node; node = cavum_yaml_reader_next(reader, node)) {
    cavum_requirement *r = &made->list[made->count];
    cavum_status status = cavum_requirement_take_key(r, reader, node, node->key, "requirements");
    if (status == CAVUM_OK) {
      status = cavum_requirement_take_bounds(r, reader, node, "requirements", false);
    }
    if (status == CAVUM_OK) status = check_others(made, reader, section, node);
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

// Of a value that was turned into another unit: an iris of 35 mm is not below 35.
static const double ROUNDING = 4.0 * DBL_EPSILON;
// A figure of the shape comes from numbers that were searched for until it is what is asked, to
// rounding: to a hundred-millionth, of 35 mm a third of a nanometre.
static const double SHAPE_ROUNDING = 1e-8;

// By how much a value may seem to miss a bound that it meets, in the unit of the requirement.
static double rounding_of(const cavum_requirement *r, double value) {
  bool is_shape = cavum_requirement_geometry(r->kind) < CAVUM_NUM_GEOMETRY_FIGURES;
  // An angle may be 0.
  double size = r->kind == CAVUM_REQUIRE_WALL_ANGLE ? cavum_max(fabs(value), 1.0) : fabs(value);
  return (is_shape ? SHAPE_ROUNDING : ROUNDING) * size;
}

const char *cavum_verdict_word(cavum_verdict_kind kind) {
  switch (kind) {
    case CAVUM_VERDICT_MET:
      return "met";
    case CAVUM_VERDICT_MISSED:
      return "missed";
    case CAVUM_VERDICT_UNDECIDED:
      return "undecided";
    case CAVUM_VERDICT_ABSENT:
      break;
  }
  return "not known";
}

// A figure of the shape; absent where the cell has none.
static cavum_figure measure(const cavum_cell *cell, int id) {
  cavum_geometry *geometry = NULL;
  cavum_figure figure = {.state = CAVUM_FIGURE_ABSENT};
  if (cavum_geometry_measure(&geometry, cell, false, NULL) != CAVUM_OK) return figure;
  if (!isnan(geometry->value[id])) {
    figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT,
                            .value = geometry->value[id],
                            .uncertainty = geometry->uncertainty[id]};
  }
  cavum_geometry_destroy(&geometry);
  return figure;
}

cavum_figure cavum_requirement_figure(const cavum_requirement *requirement, const cavum_cell *cell,
                                      const cavum_result *result, int mode) {
  cavum_figure absent = {.state = CAVUM_FIGURE_ABSENT};
  if (!requirement || !cell || !result) return absent;
  int id = cavum_requirement_geometry(requirement->kind);
  if (id < CAVUM_NUM_GEOMETRY_FIGURES) return measure(cell, id);
  if (requirement->kind == CAVUM_REQUIRE_K_CC) return result->coupling;
  if (requirement->kind != CAVUM_REQUIRE_FIGURE) return absent;
  bool there = mode >= 0 && mode < result->num_modes;
  return there ? cavum_mode_figure(&result->modes[mode], requirement->figure) : absent;
}

cavum_figure cavum_requirement_with_fit(cavum_figure figure, const cavum_result *result, int mode) {
  if (figure.basis != CAVUM_BASIS_WITH_FIT || mode < 0 || mode >= result->num_modes) return figure;
  cavum_figure fit = cavum_mode_figure(&result->modes[mode], CAVUM_FIGURE_SURFACE_RESISTANCE);
  if (fit.state != CAVUM_FIGURE_PRESENT || fit.value == 0.0) return figure;
  // All that is made with R_s goes with it or with its inverse: parts of both are alike.
  figure.uncertainty = hypot(figure.uncertainty, figure.value * fit.uncertainty / fit.value);
  return figure;
}

cavum_verdict cavum_requirement_weigh(const cavum_requirement *requirement,
                                      const cavum_figure *figure) {
  const cavum_requirement *r = requirement;
  cavum_verdict v = {.kind = CAVUM_VERDICT_ABSENT, .value = NAN, .margin = NAN};
  if (!r || !figure || figure->state == CAVUM_FIGURE_ABSENT) return v;
  bool unbounded = figure->state == CAVUM_FIGURE_UNBOUNDED;
  v.value = unbounded ? HUGE_VAL : figure->value / r->unit_si;
  v.uncertainty = unbounded ? 0.0 : figure->uncertainty / r->unit_si;
  v.margin = cavum_min(v.value - r->least, r->most - v.value);
  double more = v.uncertainty - rounding_of(r, v.value);
  bool in = v.value - more >= r->least && v.value + more <= r->most;
  bool out = !in && (v.value + v.uncertainty < r->least || v.value - v.uncertainty > r->most);
  v.kind = in ? CAVUM_VERDICT_MET : out ? CAVUM_VERDICT_MISSED : CAVUM_VERDICT_UNDECIDED;
  return v;
}

// Of a dimension that changes a value by `slope`, SI: taken where it is the smallest part of itself
// so far. The speed of particles and the length that gradients are counted over are not for the
// workshop.
static void consider(cavum_verdict *v, double *least, const cavum_requirement *r,
                     const cavum_dimension *dimension, double slope) {
  double wanted = v->value < r->least ? r->least : r->most;
  bool is_shape =
      strcmp(dimension->unit, "1") != 0 && strcmp(dimension->key, "accelerating_length_mm") != 0;
  if (!is_shape || dimension->value_si == 0.0 || !isfinite(slope) || slope == 0.0) return;
  double change = (wanted - v->value) * r->unit_si / slope;
  double part = fabs(change / dimension->value_si);
  if (part >= *least) return;
  *least = part;
  v->change = change / dimension->unit_si;
  memcpy(v->dimension, dimension->key, sizeof v->dimension);
}

static void mend_shape(cavum_verdict *v, const cavum_requirement *r, const cavum_cell *cell) {
  cavum_geometry *g = NULL;
  double least = HUGE_VAL;
  if (cavum_geometry_measure(&g, cell, true, NULL) != CAVUM_OK) return;
  for (int j = 0; j < g->num_dimensions; j++) {
    double slope = g->slope[j * CAVUM_GEOMETRY_ROOM + cavum_requirement_geometry(r->kind)];
    consider(v, &least, r, &g->dimensions[j], slope);
  }
  cavum_geometry_destroy(&g);
}

static void mend_figure(cavum_verdict *v, const cavum_requirement *r, const cavum_result *result,
                        int mode) {
  double least = HUGE_VAL;
  for (int j = 0; j < result->num_dimensions; j++) {
    cavum_derivative d = r->kind == CAVUM_REQUIRE_K_CC
                             ? cavum_result_coupling_derivative(result, j)
                             : cavum_result_derivative(result, mode, j, r->figure);
    if (d.state != CAVUM_FIGURE_PRESENT) continue;
    consider(v, &least, r, &result->dimensions[j], d.value);
  }
}

cavum_verdict cavum_requirement_judge(const cavum_requirement *requirement, const cavum_cell *cell,
                                      const cavum_result *result, int mode) {
  cavum_figure figure = cavum_requirement_figure(requirement, cell, result, mode);
  if (figure.state == CAVUM_FIGURE_PRESENT) {
    figure = cavum_requirement_with_fit(figure, result, mode);
  }
  cavum_verdict v = cavum_requirement_weigh(requirement, &figure);
  if (v.kind == CAVUM_VERDICT_ABSENT || v.kind == CAVUM_VERDICT_MET) return v;
  if (!isfinite(v.value) || !(v.margin < 0.0)) return v;
  if (cavum_requirement_geometry(requirement->kind) < CAVUM_NUM_GEOMETRY_FIGURES) {
    mend_shape(&v, requirement, cell);
  } else {
    mend_figure(&v, requirement, result, mode);
  }
  return v;
}

// ---- what mends one and breaks another

static double slope_of_shape(const cavum_requirement *r, const cavum_cell *cell, const char *key) {
  cavum_geometry *g = NULL;
  double slope = NAN;
  if (cavum_geometry_measure(&g, cell, true, NULL) != CAVUM_OK) return slope;
  for (int j = 0; j < g->num_dimensions; j++) {
    if (strcmp(g->dimensions[j].key, key) != 0) continue;
    slope = g->slope[j * CAVUM_GEOMETRY_ROOM + cavum_requirement_geometry(r->kind)] *
            g->dimensions[j].unit_si;
  }
  cavum_geometry_destroy(&g);
  return slope;
}

static double slope_of_figure(const cavum_requirement *r, const cavum_result *result, int mode,
                              const char *key) {
  for (int j = 0; j < result->num_dimensions; j++) {
    if (strcmp(result->dimensions[j].key, key) != 0) continue;
    cavum_derivative d = r->kind == CAVUM_REQUIRE_K_CC
                             ? cavum_result_coupling_derivative(result, j)
                             : cavum_result_derivative(result, mode, j, r->figure);
    return d.state == CAVUM_FIGURE_PRESENT ? d.value * result->dimensions[j].unit_si : NAN;
  }
  return NAN;
}

bool cavum_requirement_breaks(const cavum_requirement *other, const cavum_verdict *mended,
                              const cavum_cell *cell, const cavum_result *result, int mode) {
  cavum_figure figure = cavum_requirement_figure(other, cell, result, mode);
  if (!mended || !mended->dimension[0] || figure.state != CAVUM_FIGURE_PRESENT) return false;
  bool is_shape = cavum_requirement_geometry(other->kind) < CAVUM_NUM_GEOMETRY_FIGURES;
  double slope = is_shape ? slope_of_shape(other, cell, mended->dimension)
                          : slope_of_figure(other, result, mode, mended->dimension);
  if (!isfinite(slope)) return false;
  cavum_figure changed = {.state = CAVUM_FIGURE_PRESENT,
                          .value = figure.value + slope * mended->change};
  figure.uncertainty = 0.0;
  return cavum_requirement_weigh(other, &figure).kind == CAVUM_VERDICT_MET &&
         cavum_requirement_weigh(other, &changed).kind == CAVUM_VERDICT_MISSED;
}
