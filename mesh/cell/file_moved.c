// SPDX-License-Identifier: GPL-3.0-or-later
// contour.moved: exact maps of the curves, in the order of the list.
#include "cell/file_moved.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/cell.h"
#include "cell/keys.h"
#include "contour/offset.h"
#include "contour/parallel.h"
#include "yaml/fields.h"
#include "yaml/writer.h"

// ---- what a move does

void cavum_cell_scale_path(cavum_cell *cell, double along_z, double along_r) {
  cavum_contour_scale(&cell->path, along_z, along_r);
  cell->accelerating_length_m *= along_z;
}

static cavum_status make_longer(cavum_cell *cell, double amount_m, cavum_error *error) {
  double length_m = cavum_contour_length_m(&cell->path), factor = 1.0 + amount_m / length_m;
  if (!(factor > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "squeezed by more than its length, %.6g mm",
                      cavum_in_mm(length_m));
  }
  cavum_cell_scale_path(cell, factor, 1.0);
  return CAVUM_OK;
}

// By how much longer the cell between its irises has become, where the whole became longer by
// `longer_m` at this place: the tubes are no part of it.
static double factor_of_cell(const cavum_cell *cell, cavum_wall_place place, double whole_m,
                             double longer_m) {
  bool left = cell->left_end.kind == CAVUM_END_TUBE, right = cell->right_end.kind == CAVUM_END_TUBE;
  double cell_m = whole_m - (left ? cell->left_end.tube_length_m : 0.0) -
                  (right ? cell->right_end.tube_length_m : 0.0);
  if (place == CAVUM_AT_IRIS) longer_m *= 1.0 - 0.5 * left - 0.5 * right;
  if ((place == CAVUM_AT_LEFT_IRIS && left) || (place == CAVUM_AT_RIGHT_IRIS && right)) return 1.0;
  return cell_m > 0.0 ? 1.0 + longer_m / cell_m : 1.0;
}

cavum_status cavum_cell_take_move(cavum_cell *cell, const cavum_cell_move *move, bool check,
                                  cavum_error *error) {
  double factor = 1.0, whole_m = cavum_contour_length_m(&cell->path);
  cavum_status status = CAVUM_OK;
  switch (move->kind) {
    case CAVUM_MOVE_WALL:
      return cavum_contour_move_wall(&cell->path, move->amount_m, &move->depth, check, error);
    case CAVUM_MOVE_LONGER:
      return make_longer(cell, move->amount_m, error);
    case CAVUM_MOVE_SHRINK:
      cavum_cell_scale_path(cell, 1.0 - move->contraction[0], 1.0 - move->contraction[1]);
      break;
    case CAVUM_MOVE_STRAIGHT:
      status = cavum_contour_add_length(&cell->path, &factor, move->place, move->amount_m, error);
      if (status == CAVUM_OK) {
        cell->accelerating_length_m *=
            factor_of_cell(cell, move->place, whole_m, whole_m * (factor - 1.0));
      }
      break;
  }
  return status;
}

// ---- the file

/** One entry as it stands there; NAN: not there. */
typedef struct move_section {
  double offset_m, iris_share, longer_m, contraction, axial_contraction;
  double equator_m, iris_m, left_iris_m, right_iris_m;
  const cavum_yaml_node *profile;
} move_section;

#define MOVE_NUMBER(name, member, unit_, smallest, largest)                                      \
  {                                                                                              \
    .key = (name), .offset = offsetof(move_section, member), .unit = (unit_), .low = (smallest), \
    .high = (largest)                                                                            \
  }
#define MOVE_LENGTH(name, member)                                         \
  MOVE_NUMBER(name, member, CAVUM_UNIT_MM, -CAVUM_CELL_LARGEST_LENGTH_MM, \
              CAVUM_CELL_LARGEST_LENGTH_MM)
#define LARGEST_SHARE 1e6
#define LARGEST_CONTRACTION 0.5

// In place of an offset of 0, which moves nothing: the curves have then the form that any other one
// gives them, and a rate.
#define NO_OFFSET_M 1e-30

static const cavum_yaml_field move_fields[] = {
    MOVE_LENGTH("offset_mm", offset_m),
    MOVE_NUMBER("iris_share", iris_share, CAVUM_UNIT_SI, -LARGEST_SHARE, LARGEST_SHARE),
    {.key = "profile", .offset = offsetof(move_section, profile), .kind = CAVUM_YAML_FIELD_LIST},
    MOVE_LENGTH("longer_mm", longer_m),
    MOVE_NUMBER("contraction", contraction, CAVUM_UNIT_SI, -LARGEST_CONTRACTION,
                LARGEST_CONTRACTION),
    MOVE_NUMBER("axial_contraction", axial_contraction, CAVUM_UNIT_SI, -LARGEST_CONTRACTION,
                LARGEST_CONTRACTION),
    MOVE_LENGTH("equator_mm", equator_m),
    MOVE_LENGTH("iris_mm", iris_m),
    MOVE_LENGTH("left_iris_mm", left_iris_m),
    MOVE_LENGTH("right_iris_mm", right_iris_m),
};

static const cavum_yaml_field place_fields[] = {
    {.key = "z_mm",
     .offset = offsetof(cavum_profile_place, z_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = -CAVUM_CELL_LARGEST_LENGTH_MM,
     .high = CAVUM_CELL_LARGEST_LENGTH_MM},
    {.key = "share",
     .offset = offsetof(cavum_profile_place, share),
     .required = true,
     .low = -LARGEST_SHARE,
     .high = LARGEST_SHARE},
};

cavum_status cavum_cell_file_read_profile(cavum_depth_shape *depth, cavum_yaml_table table,
                                          const cavum_yaml_reader *reader,
                                          const cavum_yaml_node *list, const char *path) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  if (list->num_children < 2 || list->num_children > CAVUM_PROFILE_MOST) {
    return cavum_yaml_reader_fail(reader, list, "%s: expected 2 to %d places", path,
                                  (int)CAVUM_PROFILE_MOST);
  }
  for (int i = 0; node; i++, node = cavum_yaml_reader_next(reader, node)) {
    cavum_profile_place place = {0};
    cavum_yaml_path entry = cavum_yaml_path_index(path, i + 1);
    cavum_status status = cavum_yaml_read_fields(&place, reader, node, entry.text, table);
    if (status != CAVUM_OK) return status;
    if (i > 0 && !(place.z_m > depth->z_m[i - 1])) {
      return cavum_yaml_reader_fail(reader, node, "%s: z_mm must rise", path);
    }
    depth->z_m[i] = place.z_m;
    depth->share[i] = place.share;
    depth->num_places = i + 1;
  }
  return CAVUM_OK;
}

// Straight pieces by their place; true where the entry is one.
static bool take_straight(cavum_cell_move *move, const move_section *s) {
  const double lengths_m[] = {[CAVUM_AT_EQUATOR] = s->equator_m,
                              [CAVUM_AT_IRIS] = s->iris_m,
                              [CAVUM_AT_LEFT_IRIS] = s->left_iris_m,
                              [CAVUM_AT_RIGHT_IRIS] = s->right_iris_m};
  for (int place = 0; place < 4; place++) {
    if (isnan(lengths_m[place])) continue;
    move->kind = CAVUM_MOVE_STRAIGHT;
    move->place = (cavum_wall_place)place;
    move->amount_m = lengths_m[place];
    return true;
  }
  return false;
}

static cavum_status check_entry(const move_section *s, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node, const char *path) {
  const double forms[] = {s->offset_m, s->longer_m,    s->contraction, s->equator_m,
                          s->iris_m,   s->left_iris_m, s->right_iris_m};
  int count = 0;
  for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) count += !isnan(forms[i]);
  if (count != 1) {
    return cavum_yaml_reader_fail(reader, node,
                                  "%s: expected exactly one of offset_mm, longer_mm, contraction, "
                                  "equator_mm, iris_mm, left_iris_mm and right_iris_mm, found %d",
                                  path, count);
  }
  bool varies = !isnan(s->iris_share) || s->profile;
  if (varies && (isnan(s->offset_m) || (!isnan(s->iris_share) && s->profile))) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: iris_share goes with offset_mm, and so does profile, in place of it",
        path);
  }
  if (!isnan(s->axial_contraction) && isnan(s->contraction)) {
    return cavum_yaml_reader_fail(reader, node, "%s: axial_contraction goes with contraction",
                                  path);
  }
  return CAVUM_OK;
}

static cavum_status read_entry(cavum_cell_move *move, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path) {
  move_section s = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NULL};
  cavum_yaml_table table = CAVUM_YAML_TABLE(move_fields);
  cavum_status status = cavum_yaml_read_fields(&s, reader, node, path, table);
  if (status == CAVUM_OK) status = check_entry(&s, reader, node, path);
  if (status != CAVUM_OK) return status;
  *move = (cavum_cell_move){.kind = CAVUM_MOVE_WALL,
                            .amount_m = s.offset_m == 0.0 ? NO_OFFSET_M : s.offset_m};
  move->states_part = !isnan(s.iris_share) || !isnan(s.axial_contraction);
  move->depth.iris_share = isnan(s.iris_share) ? 1.0 : s.iris_share;
  if (s.profile) {
    cavum_yaml_table places = CAVUM_YAML_TABLE(place_fields);
    return cavum_cell_file_read_profile(&move->depth, places, reader, s.profile,
                                        cavum_yaml_path_join(path, "profile").text);
  }
  if (!isnan(s.longer_m)) {
    move->kind = CAVUM_MOVE_LONGER;
    move->amount_m = s.longer_m;
  } else if (!isnan(s.contraction)) {
    move->kind = CAVUM_MOVE_SHRINK;
    move->contraction[0] = isnan(s.axial_contraction) ? s.contraction : s.axial_contraction;
    move->contraction[1] = s.contraction;
  } else {
    (void)take_straight(move, &s);
  }
  return CAVUM_OK;
}

// A circle of a file may become an ellipse by a number of it: it takes the form that this has.
static void open_circles(cavum_contour *contour) {
  static const cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS] = {{NO_OFFSET_M, 0.0}};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    cavum_curve *curve = &contour->curves[i];
    bool circle = curve->kind == CAVUM_CURVE_ELLIPSE && curve->axial_m == curve->radial_m;
    if (!circle || curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    curve->kind = CAVUM_CURVE_PARALLEL_OF_ELLIPSE;
    cavum_parallel_set(curve, layers);
  }
}

cavum_status cavum_cell_file_list_moves(cavum_cell_move **moves, int *count,
                                        const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *list) {
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  cavum_status status = CAVUM_OK;
  cavum_cell_move *made = cavum_alloc(list->num_children + 1, sizeof *made);
  if (!made) return cavum_fail_memory(reader->error);
  int i = 0;
  for (; node && status == CAVUM_OK; node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("contour.moved", i + 1);
    status = read_entry(&made[i++], reader, node, path.text);
  }
  if (status != CAVUM_OK) {
    free(made);
    return status;
  }
  *moves = made;
  *count = i;
  return CAVUM_OK;
}

cavum_status cavum_cell_open_for_moves(cavum_cell *cell, cavum_error *error) {
  cavum_contour contour = {0};
  if (cell->kind == CAVUM_CONTOUR_PATH) return CAVUM_OK;
  cavum_status status = cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, error);
  if (status != CAVUM_OK) return status;
  cell->path = contour;
  cell->kind = CAVUM_CONTOUR_PATH;
  return CAVUM_OK;
}

cavum_status cavum_cell_file_read_moved(cavum_cell *cell, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *contour, bool check) {
  const cavum_yaml_node *list = cavum_yaml_reader_child(reader, contour, "moved");
  cavum_cell_move move;
  cavum_error what = {0};
  if (!list) return CAVUM_OK;
  double stated_m = cell->accelerating_length_m;
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE && stated_m <= 0.0) {
    cell->accelerating_length_m = cell->left.half_length_m + cell->right.half_length_m;
  }
  cavum_status status = cavum_cell_open_for_moves(cell, &what);
  if (status != CAVUM_OK) return cavum_yaml_reader_relay(reader, list, status, "contour", &what);
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  for (int i = 1; node; i++, node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("contour.moved", i);
    status = read_entry(&move, reader, node, path.text);
    if (status != CAVUM_OK) return status;
    if (move.kind == CAVUM_MOVE_WALL) open_circles(&cell->path);
    status = cavum_cell_take_move(cell, &move, check, &what);
    if (status != CAVUM_OK) {
      return cavum_yaml_reader_relay(reader, node, status, path.text, &what);
    }
  }
  if (stated_m > 0.0) cell->accelerating_length_m = stated_m;
  return CAVUM_OK;
}

// ---- as text

static void write_number(FILE *out, const char *before, double value_si, cavum_unit unit) {
  char number[CAVUM_WRITER_NUMBER_SIZE];
  cavum_writer_number_text(number, value_si, unit);
  fprintf(out, "%s: %s", before, number);
}

static void write_depth(FILE *out, const cavum_depth_shape *depth, bool states_share) {
  if (depth->num_places == 0 && (states_share || depth->iris_share != 1.0)) {
    write_number(out, ", iris_share", depth->iris_share, CAVUM_UNIT_SI);
  }
  for (int i = 0; i < depth->num_places; i++) {
    fputs(i == 0 ? ", profile: [" : ", ", out);
    write_number(out, "{z_mm", depth->z_m[i], CAVUM_UNIT_MM);
    write_number(out, ", share", depth->share[i], CAVUM_UNIT_SI);
    fputs(i + 1 == depth->num_places ? "}]" : "}", out);
  }
}

static void write_move(FILE *out, const cavum_cell_move *move) {
  static const char *const places[] = {[CAVUM_AT_EQUATOR] = "equator_mm",
                                       [CAVUM_AT_IRIS] = "iris_mm",
                                       [CAVUM_AT_LEFT_IRIS] = "left_iris_mm",
                                       [CAVUM_AT_RIGHT_IRIS] = "right_iris_mm"};
  switch (move->kind) {
    case CAVUM_MOVE_WALL:
      write_number(out, "offset_mm", move->amount_m, CAVUM_UNIT_MM);
      write_depth(out, &move->depth, move->states_part);
      break;
    case CAVUM_MOVE_LONGER:
      write_number(out, "longer_mm", move->amount_m, CAVUM_UNIT_MM);
      break;
    case CAVUM_MOVE_SHRINK:
      write_number(out, "contraction", move->contraction[1], CAVUM_UNIT_SI);
      if (move->states_part || move->contraction[0] != move->contraction[1]) {
        write_number(out, ", axial_contraction", move->contraction[0], CAVUM_UNIT_SI);
      }
      break;
    case CAVUM_MOVE_STRAIGHT:
      write_number(out, places[move->place], move->amount_m, CAVUM_UNIT_MM);
      break;
  }
}

cavum_status cavum_cell_moves_to_text(char **text, const cavum_cell_move *moves, int count,
                                      cavum_error *error) {
  char *made = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&made, &size);
  if (!out) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    fputs(i == 0 ? "[{" : ", {", out);
    write_move(out, &moves[i]);
    fputs("}", out);
  }
  fputs("]", out);
  if (fclose(out) != 0) {
    free(made);
    return cavum_fail_memory(error);
  }
  *text = made;
  return CAVUM_OK;
}
