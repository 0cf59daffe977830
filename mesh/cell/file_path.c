// SPDX-License-Identifier: GPL-3.0-or-later
// contour.kind: path. Each entry of the list becomes one or more curves that start where the one
// before ended; entries are counted from 1 in messages.
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/file.h"
#include "cell/keys.h"
#include "contour/check.h"
#include "contour/curve.h"
#include "contour/parallel.h"
#include "contour/spline.h"

/** The contour section of a path. */
typedef struct path_section {
  const char *kind;
  const cavum_yaml_node *start, *path;
} path_section;

static const cavum_yaml_field path_fields[] = {
    {.key = "kind", .offset = offsetof(path_section, kind), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "start",
     .offset = offsetof(path_section, start),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    {.key = "path",
     .offset = offsetof(path_section, path),
     .kind = CAVUM_YAML_FIELD_LIST,
     .required = true},
    {.key = "moved", .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_LIST},
};

static const cavum_yaml_field point_fields[] = {
    {.key = "z_mm",
     .offset = offsetof(cavum_point, z_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = -CAVUM_CELL_LARGEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "r_mm",
     .offset = offsetof(cavum_point, r_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = 0.0,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
};

// The centre of an arc may lie beyond the axis.
static const cavum_yaml_field centre_fields[] = {
    {.key = "z_mm",
     .offset = offsetof(cavum_point, z_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = -CAVUM_CELL_LARGEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "r_mm",
     .offset = offsetof(cavum_point, r_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = -CAVUM_CELL_LARGEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
};

// Eccentric angles of an arc: less than a turn from each other, somewhere about zero.
#define LARGEST_ANGLE_RAD 100.0
#define LARGEST_LENGTHENING 0.9

// Points of a spline with a stated direction, with the one where it starts.
enum { LEAST_WITH_DIRECTION = 4 };

enum { TURN_LEFT = 1, TURN_RIGHT = -1 };
static const cavum_yaml_word turn_words[] = {{"left", TURN_LEFT}, {"right", TURN_RIGHT}, {NULL, 0}};

/** One entry of the path. */
typedef struct path_entry {
  const cavum_yaml_node *line_to, *arc_to, *ellipse_to, *spline_through, *cubic_to;
  const cavum_yaml_node *centre, *coefficients, *moved;
  int turn, boundary;
  double axial_m, radial_m;
  double angle_start_rad, angle_end_rad;         /**< NAN: from the ends of the arc. */
  double direction_start_rad, direction_end_rad; /**< Of a spline; NAN: none is stated. */
} path_entry;

static const cavum_yaml_field entry_fields[] = {
    {.key = "line_to", .offset = offsetof(path_entry, line_to), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "arc_to", .offset = offsetof(path_entry, arc_to), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "ellipse_to",
     .offset = offsetof(path_entry, ellipse_to),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "spline_through",
     .offset = offsetof(path_entry, spline_through),
     .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "cubic_to", .offset = offsetof(path_entry, cubic_to), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "coefficients",
     .offset = offsetof(path_entry, coefficients),
     .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "moved", .offset = offsetof(path_entry, moved), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "angle_start_rad",
     .offset = offsetof(path_entry, angle_start_rad),
     .low = -LARGEST_ANGLE_RAD,
     .high = LARGEST_ANGLE_RAD},
    {.key = "angle_end_rad",
     .offset = offsetof(path_entry, angle_end_rad),
     .low = -LARGEST_ANGLE_RAD,
     .high = LARGEST_ANGLE_RAD},
    {.key = "centre", .offset = offsetof(path_entry, centre), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "direction_at_start_deg",
     .offset = offsetof(path_entry, direction_start_rad),
     .unit = CAVUM_UNIT_DEGREE,
     .low = -360.0,
     .high = 360.0},
    {.key = "direction_at_end_deg",
     .offset = offsetof(path_entry, direction_end_rad),
     .unit = CAVUM_UNIT_DEGREE,
     .low = -360.0,
     .high = 360.0},
    {.key = "turn",
     .offset = offsetof(path_entry, turn),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = turn_words},
    {.key = "boundary",
     .offset = offsetof(path_entry, boundary),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = cavum_cell_boundary_words},
    {.key = "axial_mm",
     .offset = offsetof(path_entry, axial_m),
     .unit = CAVUM_UNIT_MM,
     .low = CAVUM_CELL_SMALLEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "radial_mm",
     .offset = offsetof(path_entry, radial_m),
     .unit = CAVUM_UNIT_MM,
     .low = CAVUM_CELL_SMALLEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
};

/** The path as it grows. */
typedef struct path_builder {
  const cavum_yaml_reader *reader;
  cavum_contour_builder pieces;
  cavum_index *entry_of_curve;  // owned, shape [pieces.contour.num_curves]: node of its entry
  int64_t capacity;
  cavum_point position;
} path_builder;

static cavum_status read_point(cavum_point *point, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path) {
  cavum_yaml_table table = CAVUM_YAML_TABLE(point_fields);
  return cavum_yaml_read_fields(point, reader, node, path, table);
}

/** Appends a curve and remembers the entry it comes from. */
static cavum_status append(path_builder *builder, const cavum_curve *curve,
                           const cavum_yaml_node *node, const char *path) {
  cavum_error what;
  int64_t count = builder->pieces.contour.num_curves;
  void *entries = builder->entry_of_curve;
  bool grown = cavum_grow(&entries, &builder->capacity, count + 1, sizeof(cavum_index));
  builder->entry_of_curve = entries;
  if (!grown) return cavum_fail_memory(builder->reader->error);
  builder->entry_of_curve[count] = (cavum_index)(node - builder->reader->tree.nodes);
  cavum_status status = cavum_contour_builder_append(&builder->pieces, curve, path, &what);
  if (status != CAVUM_OK)
    return cavum_yaml_reader_relay(builder->reader, node, status, "contour", &what);
  builder->position = curve->end;
  return CAVUM_OK;
}

static cavum_status append_line(path_builder *builder, const path_entry *entry,
                                const cavum_yaml_node *node, const char *path) {
  cavum_point end;
  cavum_status status =
      read_point(&end, builder->reader, entry->line_to, cavum_yaml_path_join(path, "line_to").text);
  if (status != CAVUM_OK) return status;
  cavum_curve line = cavum_curve_make_line(builder->position, end, (cavum_boundary)entry->boundary);
  return append(builder, &line, node, path);
}

static const cavum_yaml_field layer_fields[] = {
    {.key = "offset_mm",
     .offset = offsetof(cavum_parallel_layer, offset_m),
     .unit = CAVUM_UNIT_MM,
     .low = -CAVUM_CELL_LARGEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "lengthening",
     .offset = offsetof(cavum_parallel_layer, lengthening),
     .low = -LARGEST_LENGTHENING,
     .high = LARGEST_LENGTHENING},
};

// Makes a curve a parallel of itself.
static cavum_status set_layers(cavum_curve *curve, const path_builder *builder,
                               const cavum_yaml_node *list, const char *path) {
  const cavum_yaml_reader *reader = builder->reader;
  cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS] = {{0}}, unused[CAVUM_PARALLEL_LAYERS];
  cavum_yaml_table table = CAVUM_YAML_TABLE(layer_fields);
  cavum_yaml_path list_path = cavum_yaml_path_join(path, "moved");
  curve->kind = curve->kind == CAVUM_CURVE_CUBIC ? CAVUM_CURVE_PARALLEL_OF_CUBIC
                                                 : CAVUM_CURVE_PARALLEL_OF_ELLIPSE;
  int room = cavum_parallel_get(unused, curve);
  if (list->num_children < 1 || list->num_children > room) {
    return cavum_yaml_reader_fail(reader, list, "%s: expected 1 to %d entries, found %d",
                                  list_path.text, room, (int)list->num_children);
  }
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, list);
  for (int i = 0; child; i++, child = cavum_yaml_reader_next(reader, child)) {
    cavum_yaml_path layer_path = cavum_yaml_path_index(list_path.text, i + 1);
    cavum_status status = cavum_yaml_read_fields(&layers[i], reader, child, layer_path.text, table);
    if (status != CAVUM_OK) return status;
  }
  cavum_parallel_set(curve, layers);
  return CAVUM_OK;
}

// An arc whose angles are given, as written for cells that were filled in: taken as it is, since an
// arc through its ends may differ in the last bit. That it meets them is checked with the contour.
static cavum_status append_exact_arc(path_builder *builder, const path_entry *entry,
                                     const cavum_arc *arc, const cavum_yaml_node *node,
                                     const char *path) {
  cavum_curve curve = {.kind = CAVUM_CURVE_ELLIPSE,
                       .boundary = arc->boundary,
                       .start = arc->start,
                       .end = arc->end,
                       .centre = arc->centre,
                       .axial_m = arc->axial_m,
                       .radial_m = arc->radial_m,
                       .angle_start_rad = entry->angle_start_rad,
                       .angle_end_rad = entry->angle_end_rad};
  if ((curve.angle_end_rad > curve.angle_start_rad) != arc->turn_left) {
    return cavum_yaml_reader_fail(builder->reader, node, "%s: the angles do not turn %s", path,
                                  arc->turn_left ? "left" : "right");
  }
  if (entry->moved) {
    cavum_status status = set_layers(&curve, builder, entry->moved, path);
    if (status != CAVUM_OK) return status;
  }
  return append(builder, &curve, node, path);
}

static cavum_status append_arc(path_builder *builder, const path_entry *entry,
                               const cavum_yaml_node *node, const char *path) {
  cavum_arc arc = {.start = builder->position,
                   .axial_m = entry->axial_m,
                   .radial_m = entry->radial_m,
                   .turn_left = entry->turn == TURN_LEFT,
                   .boundary = (cavum_boundary)entry->boundary};
  cavum_yaml_table centre_table = CAVUM_YAML_TABLE(centre_fields);
  const char *key = entry->arc_to ? "arc_to" : "ellipse_to";
  cavum_curve curve;
  cavum_error what;
  cavum_status status;
  status = read_point(&arc.end, builder->reader, entry->arc_to ? entry->arc_to : entry->ellipse_to,
                      cavum_yaml_path_join(path, key).text);
  if (status == CAVUM_OK) {
    status = cavum_yaml_read_fields(&arc.centre, builder->reader, entry->centre,
                                    cavum_yaml_path_join(path, "centre").text, centre_table);
  }
  if (status != CAVUM_OK) return status;
  if (!isnan(entry->angle_start_rad)) return append_exact_arc(builder, entry, &arc, node, path);
  status = cavum_curve_make_arc(&curve, &arc, &what);
  if (status != CAVUM_OK) {
    return cavum_yaml_reader_relay(builder->reader, node, status, path, &what);
  }
  return append(builder, &curve, node, path);
  return status;
}

/** A cubic by its coefficients of 1, t, t^2 and t^3. */
static cavum_status append_cubic(path_builder *builder, const path_entry *entry,
                                 const cavum_yaml_node *node, const char *path) {
  const cavum_yaml_reader *reader = builder->reader;
  cavum_yaml_table table = CAVUM_YAML_TABLE(centre_fields);
  cavum_curve curve = {.kind = CAVUM_CURVE_CUBIC,
                       .boundary = (cavum_boundary)entry->boundary,
                       .start = builder->position};
  cavum_status status =
      read_point(&curve.end, reader, entry->cubic_to, cavum_yaml_path_join(path, "cubic_to").text);
  if (status != CAVUM_OK) return status;
  cavum_yaml_path list_path = cavum_yaml_path_join(path, "coefficients");
  if (entry->coefficients->num_children != 4) {
    return cavum_yaml_reader_fail(reader, entry->coefficients,
                                  "%s: expected four points, the coefficients of 1, t, t^2 and t^3",
                                  list_path.text);
  }
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, entry->coefficients);
  for (int k = 0; k < 4; k++, child = cavum_yaml_reader_next(reader, child)) {
    cavum_yaml_path point_path = cavum_yaml_path_index(list_path.text, k + 1);
    status = cavum_yaml_read_fields(&curve.cubic[k], reader, child, point_path.text, table);
    if (status != CAVUM_OK) return status;
  }
  if (entry->moved) status = set_layers(&curve, builder, entry->moved, path);
  if (status != CAVUM_OK) return status;
  return append(builder, &curve, node, path);
}

/** Reads the points of a spline behind the current position. */
static cavum_status read_spline_points(cavum_point *points, const path_builder *builder,
                                       const cavum_yaml_node *list, const char *path) {
  const cavum_yaml_reader *reader = builder->reader;
  cavum_yaml_path list_path = cavum_yaml_path_join(path, "spline_through");
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  points[0] = builder->position;
  for (cavum_index i = 1; node; i++, node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path point_path = cavum_yaml_path_index(list_path.text, i);
    cavum_status status = read_point(&points[i], reader, node, point_path.text);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Multiples of a right angle give unit vectors without rounding: a wall that leaves along the axis
// is its own mirror image to the bit.
static cavum_point direction_of(double angle_rad) {
  double z = cos(angle_rad), r = sin(angle_rad);
  const double rounding = 1e-15;
  return (cavum_point){fabs(z) < rounding   ? 0.0
                       : fabs(r) < rounding ? copysign(1.0, z)
                                            : z,
                       fabs(r) < rounding   ? 0.0
                       : fabs(z) < rounding ? copysign(1.0, r)
                                            : r};
}

static cavum_spline_ends ends_of(const path_entry *entry) {
  bool start = !isnan(entry->direction_start_rad), end = !isnan(entry->direction_end_rad);
  return (cavum_spline_ends){.is_stated = {start, end},
                             .direction = {direction_of(start ? entry->direction_start_rad : 0.0),
                                           direction_of(end ? entry->direction_end_rad : 0.0)}};
}

static cavum_status append_spline(path_builder *builder, const path_entry *entry,
                                  const cavum_yaml_node *node, const char *path) {
  const cavum_yaml_reader *reader = builder->reader;
  cavum_index num_points = entry->spline_through->num_children + 1;
  if (num_points < 2) {
    return cavum_yaml_reader_fail(reader, entry->spline_through,
                                  "%s.spline_through: expected at least one point", path);
  }
  const cavum_spline_ends ends = ends_of(entry);
  if ((ends.is_stated[0] || ends.is_stated[1]) && num_points < LEAST_WITH_DIRECTION) {
    return cavum_yaml_reader_fail(reader, entry->spline_through,
                                  "%s.spline_through: a stated direction takes at least %d points",
                                  path, LEAST_WITH_DIRECTION - 1);
  }
  cavum_error what;
  cavum_status status;
  cavum_point *points = cavum_alloc(num_points, sizeof *points);
  cavum_curve *spans = cavum_alloc(num_points, sizeof *spans);
  if (!points || !spans) {
    status = cavum_fail_memory(reader->error);
    goto done;
  }
  CAVUM_TRY(read_spline_points(points, builder, entry->spline_through, path));
  status = cavum_spline_through_points(spans, points, num_points, (cavum_boundary)entry->boundary,
                                       &ends, &what);
  if (status != CAVUM_OK) {
    status = cavum_yaml_reader_relay(reader, node, status, path, &what);
    goto done;
  }
  for (cavum_index i = 0; i + 1 < num_points; i++) {
    CAVUM_TRY(append(builder, &spans[i], node, path));
  }
done:
  free(points);
  free(spans);
  return status;
}

/** Refuses an entry whose keys do not go together. */
static cavum_status check_entry_keys(const cavum_yaml_reader *reader, const path_entry *entry,
                                     const cavum_yaml_node *node, const char *path) {
  static const char *const keys[] = {"centre", "turn", "axial_mm", "radial_mm"};
  const cavum_yaml_node *forms[] = {entry->line_to, entry->arc_to, entry->ellipse_to,
                                    entry->spline_through, entry->cubic_to};
  int num_forms = 0;
  for (int i = 0; i < 5; i++) num_forms += forms[i] != NULL;
  if (num_forms != 1) {
    return cavum_yaml_reader_fail(reader, node,
                                  "%s: expected exactly one of line_to, arc_to, ellipse_to, "
                                  "spline_through and cubic_to, found %d",
                                  path, num_forms);
  }
  int num_wanted = entry->arc_to ? 2 : entry->ellipse_to ? 4 : 0;
  const char *form = entry->line_to    ? "line_to"
                     : entry->arc_to   ? "arc_to"
                     : num_wanted      ? "ellipse_to"
                     : entry->cubic_to ? "cubic_to"
                                       : "spline_through";
  bool has_start = !isnan(entry->angle_start_rad), has_end = !isnan(entry->angle_end_rad);
  if (has_start != has_end || (has_start && !entry->ellipse_to)) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: angle_start_rad and angle_end_rad go together, with ellipse_to", path);
  }
  bool has_direction = !isnan(entry->direction_start_rad) || !isnan(entry->direction_end_rad);
  if (has_direction && !entry->spline_through) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: direction_at_start_deg and direction_at_end_deg go with spline_through",
        path);
  }
  if (entry->moved && !entry->cubic_to && !has_start) {
    return cavum_yaml_reader_fail(reader, entry->moved,
                                  "%s.moved: goes with cubic_to, or with ellipse_to and its angles",
                                  path);
  }
  if ((entry->coefficients != NULL) != (entry->cubic_to != NULL)) {
    return cavum_yaml_reader_fail(reader, node, "%s: coefficients and cubic_to go together", path);
  }
  for (int i = 0; i < 4; i++) {
    const cavum_yaml_node *child = cavum_yaml_reader_child(reader, node, keys[i]);
    if (!child && i < num_wanted) {
      return cavum_yaml_reader_fail(reader, node, "%s: missing key '%s' for %s", path, keys[i],
                                    form);
    }
    if (child && i >= num_wanted) {
      return cavum_yaml_reader_fail(reader, child, "%s.%s: does not go with %s", path, keys[i],
                                    form);
    }
  }
  return CAVUM_OK;
}

static cavum_status append_entry(path_builder *builder, const cavum_yaml_node *node,
                                 const char *path) {
  path_entry entry = {.angle_start_rad = NAN,
                      .angle_end_rad = NAN,
                      .direction_start_rad = NAN,
                      .direction_end_rad = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(entry_fields);
  cavum_status status = cavum_yaml_read_fields(&entry, builder->reader, node, path, table);
  if (status == CAVUM_OK) status = check_entry_keys(builder->reader, &entry, node, path);
  if (status != CAVUM_OK) return status;
  if (entry.line_to) return append_line(builder, &entry, node, path);
  if (entry.spline_through) return append_spline(builder, &entry, node, path);
  if (entry.cubic_to) return append_cubic(builder, &entry, node, path);
  return append_arc(builder, &entry, node, path);
}

static cavum_status append_entries(path_builder *builder, const cavum_yaml_node *list) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(builder->reader, list);
  for (cavum_index i = 1; node; i++, node = cavum_yaml_reader_next(builder->reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("contour.path", i);
    cavum_status status = append_entry(builder, node, path.text);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status check_path(path_builder *builder, const cavum_yaml_node *list,
                               cavum_point start) {
  const cavum_yaml_reader *reader = builder->reader;
  cavum_point end = builder->position;
  if (builder->pieces.contour.num_curves == 0) {
    return cavum_yaml_reader_fail(reader, list,
                                  "contour.path: expected at least two pieces, found none");
  }
  if (end.z_m != start.z_m || end.r_m != start.r_m) {
    return cavum_yaml_tree_fail(
        reader->error, CAVUM_ERR_GEOMETRY, reader->name, list->line, list->column,
        "contour.path: ends at z = %.9g mm, r = %.9g mm, expected the start z = "
        "%.9g mm, r = %.9g mm",
        cavum_in_mm(end.z_m), cavum_in_mm(end.r_m), cavum_in_mm(start.z_m), cavum_in_mm(start.r_m));
  }
  cavum_error what;
  cavum_index culprit = -1;
  cavum_status status =
      cavum_contour_check(&builder->pieces.contour, builder->pieces.labels, &culprit, &what);
  if (status == CAVUM_OK) return CAVUM_OK;
  if (culprit < 0) return cavum_yaml_reader_relay(reader, list, status, "contour", &what);
  const cavum_yaml_node *entry = &reader->tree.nodes[builder->entry_of_curve[culprit]];
  return cavum_yaml_tree_fail(reader->error, status, reader->name, entry->line, entry->column, "%s",
                              what.message);
}

cavum_status cavum_cell_file_read_path(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour) {
  path_section section = {0};
  path_builder builder = {.reader = reader};
  cavum_point start;
  cavum_yaml_table table = CAVUM_YAML_TABLE(path_fields);
  cavum_status status;
  CAVUM_TRY(cavum_yaml_read_fields(&section, reader, contour, "contour", table));
  CAVUM_TRY(read_point(&start, reader, section.start, "contour.start"));
  builder.position = start;
  CAVUM_TRY(append_entries(&builder, section.path));
  CAVUM_TRY(check_path(&builder, section.path, start));
  cell->path = cavum_contour_builder_release(&builder.pieces);
done:
  cavum_contour_builder_clear(&builder.pieces);
  free(builder.entry_of_curve);
  return status;
}
