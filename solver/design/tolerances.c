// SPDX-License-Identifier: GPL-3.0-or-later
// The section `tolerances` of a cell file or of a file beside it.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/tolerance.h"
#include "cell/limits.h"
#include "design/correlation.h"
#include "yaml/fields.h"
#include "yaml/reader.h"

// Covariances are symmetric to this part of what their variances allow: rounding of a file.
static const double SYMMETRY = 1e-9;

void cavum_tolerances_destroy(cavum_tolerances **tolerances) {
  if (!tolerances || !*tolerances) return;
  free((*tolerances)->list);
  free((*tolerances)->correlation);
  free(*tolerances);
  *tolerances = NULL;
}

/** A section that is being read. */
typedef struct section {
  const cavum_yaml_reader *reader;
  const cavum_cell *cell;
  cavum_tolerances *made;
} section;

static const char correlations_key[] = "correlations", covariance_key[] = "covariance";

static int find(const section *s, const char *key) {
  for (int i = 0; i < s->made->count; i++) {
    if (strcmp(s->made->list[i].key, key) == 0) return i;
  }
  return -1;
}

static cavum_status describe(cavum_cell_key_info *info, const section *s,
                             const cavum_yaml_node *node, const char *key) {
  cavum_error what = {0};
  cavum_status status = cavum_cell_describe_key(info, s->cell, key, &what);
  if (status == CAVUM_OK) return CAVUM_OK;
  return cavum_yaml_reader_relay(s->reader, node, status, "tolerances", &what);
}

// As studies and derivatives name it.
static const char *short_name(const cavum_cell_key_info *info) {
  static const char prefix[] = "contour.";
  return info->key + (strncmp(info->key, prefix, strlen(prefix)) == 0 ? strlen(prefix) : 0);
}

static cavum_status append(section *s, const cavum_yaml_node *node, const char *key,
                           cavum_tolerance_kind kind, double width) {
  cavum_cell_key_info info;
  cavum_status status = describe(&info, s, node, key);
  if (status != CAVUM_OK) return status;
  if (find(s, short_name(&info)) >= 0) {
    return cavum_yaml_reader_fail(s->reader, node, "tolerances: %s is there twice", key);
  }
  if (s->made->count == CAVUM_TOLERANCES_MOST) {
    return cavum_yaml_reader_fail(s->reader, node, "tolerances: at most %d dimensions",
                                  (int)CAVUM_TOLERANCES_MOST);
  }
  cavum_tolerance *t = &s->made->list[s->made->count++];
  snprintf(t->key, sizeof t->key, "%s", short_name(&info));
  t->kind = kind;
  t->width = width;
  return CAVUM_OK;
}

// {normal: S} or {uniform: W}
static cavum_status read_dimension(section *s, const cavum_yaml_node *node) {
  const cavum_yaml_node *width = NULL;
  double value = 0.0;
  if (node->kind == CAVUM_YAML_NODE_MAPPING && node->num_children == 1) {
    width = cavum_yaml_reader_first(s->reader, node);
  }
  bool normal = width && strcmp(width->key, "normal") == 0;
  if (!normal && !(width && strcmp(width->key, "uniform") == 0)) {
    return cavum_yaml_reader_fail(
        s->reader, node, "tolerances.%s: expected {normal: DEVIATION} or {uniform: HALF_WIDTH}",
        cavum_yaml_tree_excerpt(node->key).text);
  }
  cavum_status status = cavum_yaml_read_number(&value, s->reader, width, node->key);
  if (status != CAVUM_OK) return status;
  if (!(value > 0.0)) {
    return cavum_yaml_reader_fail(s->reader, width, "tolerances.%s: must be above 0",
                                  cavum_yaml_tree_excerpt(node->key).text);
  }
  return append(s, node, node->key, normal ? CAVUM_TOLERANCE_NORMAL : CAVUM_TOLERANCE_UNIFORM,
                value);
}

static void correlate(const section *s, int a, int b, double value) {
  s->made->correlation[a * CAVUM_TOLERANCES_MOST + b] = value;
  s->made->correlation[b * CAVUM_TOLERANCES_MOST + a] = value;
}

// A dimension that has a tolerance already, named in a list.
static cavum_status find_named(int *index, const section *s, const cavum_yaml_node *node) {
  cavum_cell_key_info info;
  if (!node || node->kind != CAVUM_YAML_NODE_SCALAR) {
    return cavum_yaml_reader_fail(s->reader, node ? node : &s->reader->tree.nodes[0],
                                  "tolerances.correlations: expected of: [DIMENSION, DIMENSION]");
  }
  cavum_status status = describe(&info, s, node, node->text);
  if (status != CAVUM_OK) return status;
  *index = find(s, short_name(&info));
  if (*index >= 0) return CAVUM_OK;
  return cavum_yaml_reader_fail(s->reader, node, "tolerances: %s has no tolerance", node->text);
}

static cavum_status read_correlation(const section *s, const cavum_yaml_node *entry) {
  double coefficient = NAN;
  int a = 0, b = 0;
  bool is_mapping = entry->kind == CAVUM_YAML_NODE_MAPPING;
  const cavum_yaml_node *of = is_mapping ? cavum_yaml_reader_child(s->reader, entry, "of") : NULL;
  const cavum_yaml_node *value =
      is_mapping ? cavum_yaml_reader_child(s->reader, entry, "coefficient") : NULL;
  if (!of || !value || entry->num_children != 2 || of->kind != CAVUM_YAML_NODE_LIST ||
      of->num_children != 2) {
    return cavum_yaml_reader_fail(
        s->reader, entry,
        "tolerances.correlations: expected {of: [DIMENSION, DIMENSION], coefficient: -1 to 1}");
  }
  const cavum_yaml_node *first = cavum_yaml_reader_first(s->reader, of);
  cavum_status status = find_named(&a, s, first);
  if (status == CAVUM_OK) status = find_named(&b, s, cavum_yaml_reader_next(s->reader, first));
  if (status == CAVUM_OK) {
    status = cavum_yaml_read_number(&coefficient, s->reader, value, "coefficient");
  }
  if (status != CAVUM_OK) return status;
  if (a == b || !(fabs(coefficient) <= 1.0) || s->made->list[a].kind != s->made->list[b].kind) {
    return cavum_yaml_reader_fail(s->reader, entry,
                                  "tolerances.correlations: expected two dimensions of the same "
                                  "kind of tolerance and a coefficient from -1 to 1");
  }
  correlate(s, a, b, coefficient);
  return CAVUM_OK;
}

// One row of the values of a covariance; the diagonal makes tolerances, the rest correlations.
static cavum_status read_row(section *s, const cavum_yaml_node *row, double *values, int count) {
  if (row->kind != CAVUM_YAML_NODE_LIST || row->num_children != count) {
    return cavum_yaml_reader_fail(s->reader, row,
                                  "tolerances.covariance: expected rows of %d values", count);
  }
  const cavum_yaml_node *node = cavum_yaml_reader_first(s->reader, row);
  for (int i = 0; i < count; i++, node = cavum_yaml_reader_next(s->reader, node)) {
    cavum_status status = cavum_yaml_read_number(&values[i], s->reader, node, "covariance");
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status take_covariance(section *s, const cavum_yaml_node *of,
                                    double values[][CAVUM_TOLERANCES_MOST], int count) {
  int first = s->made->count;
  const cavum_yaml_node *name = cavum_yaml_reader_first(s->reader, of);
  for (int i = 0; i < count; i++, name = cavum_yaml_reader_next(s->reader, name)) {
    if (name->kind != CAVUM_YAML_NODE_SCALAR || !(values[i][i] > 0.0)) {
      return cavum_yaml_reader_fail(s->reader, name,
                                    "tolerances.covariance: expected a dimension, and a variance "
                                    "above 0 on the diagonal");
    }
    cavum_status status = append(s, name, name->text, CAVUM_TOLERANCE_NORMAL, sqrt(values[i][i]));
    if (status != CAVUM_OK) return status;
  }
  for (int i = 0; i < count; i++) {
    for (int k = 0; k < i; k++) {
      double most = sqrt(values[i][i] * values[k][k]);
      if (fabs(values[i][k] - values[k][i]) > SYMMETRY * most || fabs(values[i][k]) > most) {
        return cavum_yaml_reader_fail(s->reader, of,
                                      "tolerances.covariance: expected a symmetric matrix with "
                                      "correlations from -1 to 1");
      }
      correlate(s, first + i, first + k, values[i][k] / most);
    }
  }
  return CAVUM_OK;
}

static cavum_status read_covariance(section *s, const cavum_yaml_node *node) {
  double values[CAVUM_TOLERANCES_MOST][CAVUM_TOLERANCES_MOST];
  bool is_mapping = node->kind == CAVUM_YAML_NODE_MAPPING && node->num_children == 2;
  const cavum_yaml_node *of = is_mapping ? cavum_yaml_reader_child(s->reader, node, "of") : NULL;
  const cavum_yaml_node *rows =
      is_mapping ? cavum_yaml_reader_child(s->reader, node, "values") : NULL;
  int count = of && of->kind == CAVUM_YAML_NODE_LIST ? (int)of->num_children : 0;
  if (count < 1 || count > CAVUM_TOLERANCES_MOST || !rows || rows->kind != CAVUM_YAML_NODE_LIST ||
      rows->num_children != count) {
    return cavum_yaml_reader_fail(s->reader, node,
                                  "tolerances.covariance: expected {of: [DIMENSION, ...], values: "
                                  "[[...], ...]}, as many rows "
                                  "as dimensions");
  }
  const cavum_yaml_node *row = cavum_yaml_reader_first(s->reader, rows);
  for (int i = 0; i < count; i++, row = cavum_yaml_reader_next(s->reader, row)) {
    cavum_status status = read_row(s, row, values[i], count);
    if (status != CAVUM_OK) return status;
  }
  return take_covariance(s, of, values, count);
}

// Dimensions first: correlations name them wherever they stand.
static cavum_status read_section(section *s, const cavum_yaml_node *node) {
  const cavum_yaml_reader *reader = s->reader;
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, node);
  cavum_status status = CAVUM_OK;
  for (; child && status == CAVUM_OK; child = cavum_yaml_reader_next(reader, child)) {
    if (strcmp(child->key, correlations_key) == 0) continue;
    status = strcmp(child->key, covariance_key) == 0 ? read_covariance(s, child)
                                                     : read_dimension(s, child);
  }
  const cavum_yaml_node *list = cavum_yaml_reader_child(reader, node, correlations_key);
  if (status != CAVUM_OK || !list) return status;
  if (list->kind != CAVUM_YAML_NODE_LIST) {
    return cavum_yaml_reader_fail(reader, list, "tolerances.correlations: expected a list");
  }
  for (child = cavum_yaml_reader_first(reader, list); child && status == CAVUM_OK;
       child = cavum_yaml_reader_next(reader, child)) {
    status = read_correlation(s, child);
  }
  return status;
}

// From rows of CAVUM_TOLERANCES_MOST to rows of `count`.
static void pack(cavum_tolerances *t) {
  for (int i = 0; i < t->count; i++) {
    for (int k = 0; k < t->count; k++) {
      t->correlation[i * t->count + k] = t->correlation[i * CAVUM_TOLERANCES_MOST + k];
    }
  }
}

static cavum_status read_all(section *s) {
  const cavum_yaml_node *root = &s->reader->tree.nodes[0];
  const cavum_yaml_node *node = root->kind == CAVUM_YAML_NODE_MAPPING
                                    ? cavum_yaml_reader_child(s->reader, root, "tolerances")
                                    : NULL;
  if (!node || node->kind != CAVUM_YAML_NODE_MAPPING) {
    return cavum_yaml_reader_fail(s->reader, node ? node : root,
                                  "expected a section 'tolerances' with dimensions");
  }
  cavum_status status = read_section(s, node);
  if (status != CAVUM_OK) return status;
  if (s->made->count == 0) {
    return cavum_yaml_reader_fail(s->reader, node, "tolerances: expected a dimension");
  }
  pack(s->made);
  double root_of[CAVUM_TOLERANCES_MOST * CAVUM_TOLERANCES_MOST];
  if (cavum_correlation_root(root_of, s->made->correlation, s->made->count)) return CAVUM_OK;
  return cavum_yaml_reader_fail(s->reader, node,
                                "tolerances: no dimensions can be correlated like this");
}

cavum_status cavum_tolerances_read_file(cavum_tolerances **tolerances, const cavum_cell *cell,
                                        const char *path, cavum_error *error) {
  if (!tolerances || !cell || !path) return cavum_fail_null(error, __func__);
  char *text = NULL;
  size_t length = 0;
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_YAML_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  status = cavum_tolerances_read_text(tolerances, cell, text, length, path, error);
  free(text);
  return status;
}

cavum_status cavum_tolerances_read_text(cavum_tolerances **tolerances, const cavum_cell *cell,
                                        const char *text, size_t length, const char *name,
                                        cavum_error *error) {
  if (!tolerances || !cell || !text) return cavum_fail_null(error, __func__);
  enum { MOST = CAVUM_TOLERANCES_MOST };
  cavum_yaml_reader reader = {0};
  cavum_status status = CAVUM_OK;
  cavum_tolerances *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->list = cavum_alloc(MOST, sizeof *made->list);
  made->correlation = cavum_alloc(MOST * MOST, sizeof *made->correlation);
  if (!made->list || !made->correlation) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < MOST; i++) made->correlation[i * (MOST + 1)] = 1.0;
  CAVUM_TRY(cavum_yaml_reader_open(&reader, text, length, CAVUM_CELL_LARGEST_TEXT,
                                   name ? name : "text", error));
  section s = {&reader, cell, made};
  CAVUM_TRY(read_all(&s));
  *tolerances = made;
  made = NULL;
done:
  cavum_yaml_reader_clear(&reader);
  cavum_tolerances_destroy(&made);
  return status;
}
