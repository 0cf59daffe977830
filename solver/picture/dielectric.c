// SPDX-License-Identifier: GPL-3.0-or-later
// Materials inside a cell, over the colours of a field: rows of dots on what is not vacuum, and a
// line where two materials meet.
#include "picture/dielectric.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

// Divisions of an edge, as many as the outline has.
enum { EDGE_LEVEL = 5, EDGE_PIECES = 1 << EDGE_LEVEL };
// From one row of dots to the next, along z, widths of dots and of the line, each with a light rim,
// in points.
static const double ROW_STEP = 9.0, DOT = 0.9, DOT_RIM = 1.9, LINE = 1.3, LINE_RIM = 2.7;
// Names of regions that are longer do not go into a key.
static const size_t LONGEST_NAME = 60;

// One way of placing the elements on the page: as they are, or mirrored.
typedef struct placing {
  cavum_field_frame frame;
  double sign;
} placing;

static bool is_vacuum(const cavum_region *region) {
  return region->eps_r == 1.0 && region->mu_r == 1.0;
}

static const cavum_region *region_of(const cavum_scene *scene, cavum_index element) {
  const cavum_mesh *mesh = &scene->result->mesh;
  return &mesh->regions[mesh->elements[element].region];
}

static bool is_used(const cavum_scene *scene, cavum_index region) {
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (mesh->elements[e].region == region) return true;
  }
  return false;
}

bool cavum_dielectric_any(const cavum_scene *scene) {
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    if (!is_vacuum(&mesh->regions[i]) && is_used(scene, i)) return true;
  }
  return false;
}

// Adds an edge of an element to the path; with `starts` it begins a piece there.
static cavum_status add_edge(cavum_canvas *canvas, cavum_scene *scene, const placing *at,
                             cavum_index element, int edge, bool starts, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_field_grid *field = &scene->mode->field;
  const cavum_field_frame *frame = &at->frame;
  int corners = scene->result->mesh.elements[element].num_corners;
  int64_t first = scene->first_point[element];
  double z[EDGE_PIECES + 1], r[EDGE_PIECES + 1], down = frame->flipped ? 1.0 : -1.0;
  CAVUM_TRY(cavum_lattice_refine_edge(z, &scene->lattice, field->z_m + first, corners, edge,
                                      EDGE_LEVEL, error));
  CAVUM_TRY(cavum_lattice_refine_edge(r, &scene->lattice, field->r_m + first, corners, edge,
                                      EDGE_LEVEL, error));
  for (int k = 0; k <= EDGE_PIECES; k++) {
    double x = frame->x0 + at->sign * z[k] * frame->scale_z;
    double y = frame->y0 + down * r[k] * frame->scale_r;
    if (k == 0 && starts) cavum_canvas_move(canvas, x, y);
    if (k > 0) cavum_canvas_line(canvas, x, y);
  }
done:
  return status;
}

static cavum_status add_bodies(cavum_canvas *canvas, cavum_scene *scene, const placing *at,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (is_vacuum(region_of(scene, e))) continue;
    for (int k = 0; k < mesh->elements[e].num_corners; k++) {
      CAVUM_TRY(add_edge(canvas, scene, at, e, k, k == 0, error));
    }
    cavum_canvas_close(canvas);
  }
done:
  return status;
}

static cavum_status add_interfaces(cavum_canvas *canvas, cavum_scene *scene, const placing *at,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->element[0] < 0 || edge->element[1] < 0) continue;
    const cavum_region *a = region_of(scene, edge->element[0]),
                       *b = region_of(scene, edge->element[1]);
    if (a->eps_r == b->eps_r && a->mu_r == b->mu_r) continue;
    CAVUM_TRY(add_edge(canvas, scene, at, edge->element[0], edge->local[0], true, error));
  }
done:
  return status;
}

static void stroke_rows(cavum_canvas *canvas, const cavum_scene *scene,
                        const cavum_field_frame *frame, cavum_ink ink, double width) {
  double left = frame->x0 + scene->z_low_m * frame->scale_z;
  double right = frame->x0 + scene->z_high_m * frame->scale_z;
  double down = frame->flipped ? 1.0 : -1.0, height = scene->r_high_m * frame->scale_r;
  // Aslant: field lines run along or across most bodies.
  for (double x = left - height + 0.5 * ROW_STEP; x < right; x += ROW_STEP) {
    cavum_canvas_move(canvas, x, frame->y0);
    cavum_canvas_line(canvas, x + height, frame->y0 + down * height);
  }
  cavum_canvas_stroke(canvas, ink, width, CAVUM_DASH_DOT);
}

static cavum_status draw_placed(cavum_canvas *canvas, cavum_scene *scene, const placing *at,
                                const cavum_field_frame *page, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(add_bodies(canvas, scene, at, error));
  cavum_canvas_clip(canvas);
  stroke_rows(canvas, scene, page, CAVUM_INK_HALO, DOT_RIM);
  stroke_rows(canvas, scene, page, CAVUM_INK_MARK, DOT);
  cavum_canvas_unclip(canvas);
  for (int pass = 0; pass < 2; pass++) {
    CAVUM_TRY(add_interfaces(canvas, scene, at, error));
    cavum_canvas_stroke(canvas, pass == 0 ? CAVUM_INK_HALO : CAVUM_INK_THIRD,
                        pass == 0 ? LINE_RIM : LINE, CAVUM_DASH_NONE);
  }
done:
  return status;
}

cavum_status cavum_dielectric_draw(cavum_canvas *canvas, cavum_scene *scene,
                                   const cavum_field_frame *frame, cavum_error *error) {
  if (!cavum_dielectric_any(scene)) return CAVUM_OK;
  if (scene->result->half_model) {
    const placing image = {cavum_field_mirror_frame(frame, scene), -1.0};
    cavum_status status = draw_placed(canvas, scene, &image, frame, error);
    if (status != CAVUM_OK) return status;
  }
  const placing itself = {*frame, 1.0};
  return draw_placed(canvas, scene, &itself, frame, error);
}

void cavum_dielectric_add_keys(cavum_flow *flow, const cavum_scene *scene) {
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    const cavum_region *region = &mesh->regions[i];
    if (is_vacuum(region) || !is_used(scene, i)) continue;
    const char *name = region->name ? region->name : "";
    // What would be read as mark-up, or fills the line, stays out.
    bool shown = name[0] && strlen(name) <= LONGEST_NAME && !strpbrk(name, "_^{}");
    char text[200], permeability[48] = "";
    if (region->mu_r != 1.0) {
      snprintf(permeability, sizeof permeability, ", \xc2\xb5_{r} = %.6g", region->mu_r);
    }
    snprintf(text, sizeof text, "dotted: %s%smaterial of \xce\xb5_{r} = %.6g%s", shown ? name : "",
             shown ? ", " : "", region->eps_r, permeability);
    cavum_flow_add_line(flow, text, CAVUM_INK_THIRD, CAVUM_DASH_NONE, LINE);
  }
}
