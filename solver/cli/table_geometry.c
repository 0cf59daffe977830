// SPDX-License-Identifier: GPL-3.0-or-later
// One row a figure of the shape; then one row a dimension, one column a figure.
#include "cli/table_geometry.h"

#include <math.h>
#include <string.h>

#include "cli/colour.h"
#include "format/quantity.h"
#include "format/shape_unit.h"

enum { NAME_WIDTH = 37, VALUE_WIDTH = 18, LEAST_CELL_WIDTH = 9 };

// Five digits say which way a dimension works; rounding is all that is uncertain.
static const double SHOWN_ACCURACY = 1e-4, ROUNDING = 1e-11;

static const char *const HEADS[CAVUM_NUM_GEOMETRY_FIGURES] = {
    [CAVUM_GEOMETRY_WALL_ANGLE] = "angle",
    [CAVUM_GEOMETRY_IRIS_CURVATURE] = "curvature",
    [CAVUM_GEOMETRY_STRAIGHT_LENGTH] = "straight",
    [CAVUM_GEOMETRY_APERTURE_RADIUS] = "aperture",
    [CAVUM_GEOMETRY_TOTAL_LENGTH] = "length",
    [CAVUM_GEOMETRY_VOLUME] = "volume",
    [CAVUM_GEOMETRY_WALL_AREA] = "area"};

static void print_figures(FILE *out, const cavum_geometry *geometry, double accuracy) {
  fprintf(out, "\n%sShape%s\n", cavum_colour(out, CAVUM_PRINT_HEAD),
          cavum_colour(out, CAVUM_PRINT_END));
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    char value[CAVUM_QUANTITY_SIZE];
    cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
    if (isnan(geometry->value[id])) continue;
    cavum_quantity_format_to(value, geometry->value[id] / unit.unit_si,
                             geometry->uncertainty[id] / unit.unit_si, accuracy);
    fprintf(out, "  %-*s%-*s %s\n", NAME_WIDTH,
            cavum_geometry_describe((cavum_geometry_id)id).long_name, VALUE_WIDTH, value,
            unit.name);
  }
}

static void write_cell(char text[CAVUM_QUANTITY_SIZE], const cavum_geometry *geometry,
                       int dimension, int id, double accuracy) {
  double per =
      geometry->dimensions[dimension].unit_si / cavum_shape_unit_of((cavum_geometry_id)id).unit_si;
  double slope = geometry->slope[dimension * CAVUM_GEOMETRY_ROOM + id] * per;
  if (isnan(slope)) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "-");
  } else if (fabs(slope) < ROUNDING) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "0");
  } else {
    cavum_quantity_format_to(text, slope, ROUNDING * fabs(slope), accuracy);
  }
}

static bool does_nothing(const cavum_geometry *geometry, int dimension) {
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    double slope = geometry->slope[dimension * CAVUM_GEOMETRY_ROOM + id];
    if (slope != 0.0 && !(isnan(slope) && isnan(geometry->value[id]))) return false;
  }
  return true;
}

static void print_slopes(FILE *out, const cavum_geometry *geometry, double accuracy) {
  char text[CAVUM_QUANTITY_SIZE];
  int widths[CAVUM_NUM_GEOMETRY_FIGURES], key_width = 0;
  for (int i = 0; i < geometry->num_dimensions; i++) {
    int length = (int)strlen(geometry->dimensions[i].key);
    if (length > key_width) key_width = length;
  }
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    widths[id] = LEAST_CELL_WIDTH;
    for (int i = 0; i < geometry->num_dimensions; i++) {
      write_cell(text, geometry, i, id, accuracy);
      if ((int)strlen(text) > widths[id]) widths[id] = (int)strlen(text);
    }
  }
  fprintf(out, "\n%sChange of the shape per unit of a dimension, the others fixed%s\n",
          cavum_colour(out, CAVUM_PRINT_HEAD), cavum_colour(out, CAVUM_PRINT_END));
  for (int line = 0; line < 2; line++) {
    fprintf(out, "%s  %-*s", cavum_colour(out, line == 0 ? CAVUM_PRINT_HEAD : CAVUM_PRINT_ASIDE),
            key_width, "");
    for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
      if (isnan(geometry->value[id])) continue;
      fprintf(out, "  %*s", widths[id],
              line == 0 ? HEADS[id] : cavum_shape_unit_of((cavum_geometry_id)id).name);
    }
    fprintf(out, "%s\n", cavum_colour(out, CAVUM_PRINT_END));
  }
  for (int i = 0; i < geometry->num_dimensions; i++) {
    if (does_nothing(geometry, i)) continue;
    fprintf(out, "  %-*s", key_width, geometry->dimensions[i].key);
    for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
      if (isnan(geometry->value[id])) continue;
      write_cell(text, geometry, i, id, accuracy);
      fprintf(out, "  %*s", widths[id], text);
    }
    fputc('\n', out);
  }
}

void cavum_table_geometry_print(FILE *out, const cavum_geometry *geometry, double accuracy) {
  print_figures(out, geometry, accuracy);
  if (geometry->num_dimensions > 0) {
    print_slopes(out, geometry, accuracy > 0.0 ? SHOWN_ACCURACY : 0.0);
  }
}
