// SPDX-License-Identifier: GPL-3.0-or-later
// The size of a field as an image. Each element is refined until its pieces are a few pixels, and
// the field is linear inside a piece: nothing looks faceted.
#include "picture/field_map.h"

#include <string.h>

#include "base/base.h"

// Pixels across one piece of an element.
static const double PIECE_PIXELS = 5.0;
// Pixels by which the image grows beyond the outline.
enum { RIM = 3 };

int cavum_field_choose_level(const cavum_scene *scene, cavum_index element, double scale,
                             double piece) {
  const cavum_element *e = &scene->result->mesh.elements[element];
  const cavum_point *vertices = scene->result->mesh.vertices;
  double longest = 0.0;
  for (int k = 0; k < e->num_corners; k++) {
    cavum_point a = vertices[e->vertex[k]], b = vertices[e->vertex[(k + 1) % e->num_corners]];
    longest = cavum_max(longest, hypot(a.z_m - b.z_m, a.r_m - b.r_m));
  }
  int level = 1;
  while (level < CAVUM_LATTICE_LEVEL_MOST && longest * scale / (1 << level) > piece) level++;
  return level;
}

// A corner of a piece: where it is in the image and its palette index as a number.
typedef struct map_corner {
  double x, y, value;
} map_corner;

int cavum_field_map_index(double share) {
  return (int)(1.5 + 254.0 * cavum_max(0.0, cavum_min(1.0, share)));
}

static void fill_triangle(cavum_image *image, map_corner a, map_corner b, map_corner c) {
  double area = (b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y);
  if (area == 0.0) return;
  int left = (int)floor(cavum_min(a.x, cavum_min(b.x, c.x)) - 0.5);
  int right = (int)ceil(cavum_max(a.x, cavum_max(b.x, c.x)) - 0.5);
  int top = (int)floor(cavum_min(a.y, cavum_min(b.y, c.y)) - 0.5);
  int bottom = (int)ceil(cavum_max(a.y, cavum_max(b.y, c.y)) - 0.5);
  if (left < 0) left = 0;
  if (top < 0) top = 0;
  if (right > image->width - 1) right = image->width - 1;
  if (bottom > image->height - 1) bottom = image->height - 1;
  for (int j = top; j <= bottom; j++) {
    for (int i = left; i <= right; i++) {
      double x = i + 0.5, y = j + 0.5;
      double u = ((x - a.x) * (c.y - a.y) - (c.x - a.x) * (y - a.y)) / area;
      double v = ((b.x - a.x) * (y - a.y) - (x - a.x) * (b.y - a.y)) / area;
      // Slightly more than the triangle: neighbours write nearly the same value there.
      if (u < -1e-6 || v < -1e-6 || u + v > 1.0 + 1e-6) continue;
      double value = a.value + u * (b.value - a.value) + v * (c.value - a.value);
      image->indices[(size_t)j * (size_t)image->width + (size_t)i] =
          (uint8_t)cavum_field_map_index(value);
    }
  }
}

// Finer values of one element: z, r and one or two components.
cavum_field_frame cavum_field_mirror_frame(const cavum_field_frame *frame,
                                           const cavum_scene *scene) {
  cavum_field_frame mirrored = *frame;
  mirrored.x0 += 2.0 * scene->mirror_m * frame->scale_z;
  return mirrored;
}

typedef struct fine_element {
  double *z, *r, *first, *second;
} fine_element;

static map_corner corner_at(const fine_element *fine, int at, const cavum_field_frame *frame,
                            double sign, double factor) {
  double size = fine->second ? hypot(fine->first[at], fine->second[at]) : fabs(fine->first[at]);
  double r = (frame->flipped ? -1.0 : 1.0) * fine->r[at];
  return (map_corner){frame->x0 + sign * fine->z[at] * frame->scale_z,
                      frame->y0 - r * frame->scale_r, factor * size};
}

static void fill_element(cavum_image *image, const fine_element *fine, int corners, int divisions,
                         const cavum_field_frame *frame, double sign, double factor) {
  int row_start = 0;
  for (int j = 0; j < divisions; j++) {
    int row_length = corners == 4 ? divisions + 1 : divisions + 1 - j;
    int next_start = row_start + row_length;
    for (int i = 0; i + 1 < row_length; i++) {
      map_corner a = corner_at(fine, row_start + i, frame, sign, factor);
      map_corner b = corner_at(fine, row_start + i + 1, frame, sign, factor);
      map_corner c = corner_at(fine, next_start + i, frame, sign, factor);
      fill_triangle(image, a, b, c);
      if (corners == 3 && i + 2 >= row_length) continue;
      fill_triangle(image, b, corner_at(fine, next_start + i + 1, frame, sign, factor), c);
    }
    row_start = next_start;
  }
}

// Lets colours grow into transparent neighbours, one pixel at a time.
static cavum_status grow_rim(cavum_image *image, cavum_error *error) {
  int w = image->width, h = image->height;
  uint8_t *old = cavum_alloc((int64_t)w * h, 1);
  if (!old) return cavum_fail_memory(error);
  for (int pass = 0; pass < RIM; pass++) {
    memcpy(old, image->indices, (size_t)w * (size_t)h);
    for (int j = 0; j < h; j++) {
      for (int i = 0; i < w; i++) {
        size_t at = (size_t)j * (size_t)w + (size_t)i;
        if (old[at]) continue;
        uint8_t value = 0;
        if (i > 0 && !value) value = old[at - 1];
        if (i + 1 < w && !value) value = old[at + 1];
        if (j > 0 && !value) value = old[at - (size_t)w];
        if (j + 1 < h && !value) value = old[at + (size_t)w];
        image->indices[at] = value;
      }
    }
  }
  free(old);
  return CAVUM_OK;
}

// Keeps so many of the 255 indices, evenly spread.
static void reduce_colours(cavum_image *image, int steps) {
  uint8_t kept[256] = {0};
  if (steps >= 255) return;
  for (int i = 1; i < 256; i++) {
    double step = round((i - 1) * (steps - 1) / 254.0);
    kept[i] = (uint8_t)lround(1.0 + 254.0 * step / (steps - 1));
  }
  size_t count = (size_t)image->width * (size_t)image->height;
  for (size_t i = 0; i < count; i++) image->indices[i] = kept[image->indices[i]];
}

static cavum_status refine_element(fine_element *fine, cavum_scene *scene, cavum_index e, int level,
                                   cavum_field_choice choice, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_field_grid *field = &scene->mode->field;
  bool electric = choice == CAVUM_FIELD_ELECTRIC;
  int corners = scene->result->mesh.elements[e].num_corners;
  int64_t first = scene->first_point[e];
  const double *one = electric ? field->e_z_v_per_m : field->h_phi_a_per_m;
  cavum_lattice *lattice = &scene->lattice;
  CAVUM_TRY(cavum_lattice_refine(fine->z, lattice, field->z_m + first, corners, level, error));
  CAVUM_TRY(cavum_lattice_refine(fine->r, lattice, field->r_m + first, corners, level, error));
  CAVUM_TRY(cavum_lattice_refine(fine->first, lattice, one + first, corners, level, error));
  if (fine->second) {
    CAVUM_TRY(cavum_lattice_refine(fine->second, lattice, field->e_r_v_per_m + first, corners,
                                   level, error));
  }
done:
  return status;
}

cavum_status cavum_field_map_fill(cavum_image *image, cavum_scene *scene,
                                  const cavum_field_frame *frame, cavum_field_choice choice,
                                  int steps, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  cavum_field_frame mirrored = cavum_field_mirror_frame(frame, scene);
  bool electric = choice == CAVUM_FIELD_ELECTRIC;
  const int finest = cavum_element_lattice_count(4, 1 << CAVUM_LATTICE_LEVEL_MOST);
  double factor =
      electric ? scene->e_factor / scene->e_largest : scene->h_factor / scene->h_largest;
  double *work = cavum_alloc(4 * (int64_t)finest, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  fine_element fine = {work, work + finest, work + 2 * finest, electric ? work + 3 * finest : NULL};
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int level = cavum_field_choose_level(scene, e, cavum_field_frame_scale(frame), PIECE_PIXELS);
    int corners = mesh->elements[e].num_corners;
    CAVUM_TRY(refine_element(&fine, scene, e, level, choice, error));
    fill_element(image, &fine, corners, 1 << level, frame, 1.0, factor);
    if (scene->result->half_model) {
      fill_element(image, &fine, corners, 1 << level, &mirrored, -1.0, factor);
    }
  }
  CAVUM_TRY(grow_rim(image, error));
  reduce_colours(image, steps);
done:
  free(work);
  return status;
}
