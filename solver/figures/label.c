// SPDX-License-Identifier: GPL-3.0-or-later
// Mode labels from sign changes of E_z along the axis and across it.
#include "label.h"

#include <stdio.h>
#include <stdlib.h>

#include "axis.h"
#include "base.h"
#include "element_map.h"

// E_z weaker than this part of its largest value on the line does not count as a lobe.
static const double LOBE_LEAST = 0.05;
enum { LATTICE = 6, CROSSINGS_MOST = 4096, INDEX_MOST = 9 };

typedef struct crossing {
  double r, e_z;
} crossing;

static int by_radius(const void *a, const void *b) {
  double x = ((const crossing *)a)->r, y = ((const crossing *)b)->r;
  return (x > y) - (x < y);
}

static bool spans(const cavum_mesh *mesh, cavum_index e, double z) {
  bool below = false, above = false;
  for (int j = 0; j <= 2; j++) {
    for (int i = 0; i <= 2; i++) {
      double xi = mesh->elements[e].num_corners == 4 ? i - 1.0 : 0.5 * i * (1.0 - 0.5 * j);
      double eta = mesh->elements[e].num_corners == 4 ? j - 1.0 : 0.5 * j;
      double at = cavum_element_map_at(mesh, e, xi, eta).z;
      below = below || at <= z;
      above = above || at >= z;
    }
  }
  return below && above;
}

// Points where lattice lines of an element cross z, with E_z there by linear interpolation.
static int cross_element(crossing *out, int room, const cavum_view *view, cavum_index e, double z) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  bool quad = mesh->elements[e].num_corners == 4;
  double local[CAVUM_SHAPES_MOST];
  cavum_field_point row[LATTICE + 1], before[LATTICE + 1];
  int count = 0;
  cavum_field_gather(local, &view->field, e);
  for (int j = 0; j <= LATTICE; j++) {
    for (int i = 0; i <= LATTICE; i++) {
      double a = (double)i / LATTICE, b = (double)j / LATTICE;
      row[i] = quad ? cavum_field_at(&view->field, e, local, 2 * a - 1, 2 * b - 1)
                    : cavum_field_at(&view->field, e, local, a * (1 - b), b);
      const cavum_field_point *others[2] = {i > 0 ? &row[i - 1] : NULL, j > 0 ? &before[i] : NULL};
      for (int k = 0; k < 2; k++) {
        const cavum_field_point *p = others[k], *q = &row[i];
        if (!p || (p->z_m - z) * (q->z_m - z) > 0.0 || p->z_m == q->z_m || count >= room) continue;
        double t = (z - p->z_m) / (q->z_m - p->z_m);
        out[count++] = (crossing){p->r_m + t * (q->r_m - p->r_m),
                                  p->e_z_v_per_m + t * (q->e_z_v_per_m - p->e_z_v_per_m)};
      }
    }
    for (int i = 0; i <= LATTICE; i++) before[i] = row[i];
  }
  return count;
}

static int count_radial_changes(const cavum_view *view, double z) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  crossing *line = cavum_alloc(CROSSINGS_MOST, sizeof *line);
  int count = 0, changes = 0, sign = 0;
  double largest = 0.0;
  if (!line) return -1;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (spans(mesh, e, z)) {
      count += cross_element(line + count, CROSSINGS_MOST - count, view, e, z);
    }
  }
  qsort(line, (size_t)count, sizeof *line, by_radius);
  for (int i = 0; i < count; i++) largest = cavum_max(largest, fabs(line[i].e_z));
  for (int i = 0; i < count; i++) {
    if (fabs(line[i].e_z) < LOBE_LEAST * largest) continue;
    int now = line[i].e_z > 0.0 ? 1 : -1;
    if (sign != 0 && now != sign) changes++;
    sign = now;
  }
  free(line);
  return changes;
}

cavum_status cavum_label_mode(char label[16], const cavum_view *view, cavum_error *error) {
  cavum_axis_field axis = {0};
  double z;
  label[0] = '\0';
  if (view->sides->num_axis == 0) return CAVUM_OK;
  cavum_status status = cavum_axis_expand(&axis, view, error);
  if (status != CAVUM_OK) return status;
  int along = cavum_axis_count_sign_changes(&z, &axis);
  cavum_axis_clear(&axis);
  int across = count_radial_changes(view, z);
  if (across >= 0 && across < INDEX_MOST && along <= INDEX_MOST) {
    snprintf(label, 16, "TM0%d%d", across + 1, along);
  }
  return CAVUM_OK;
}
