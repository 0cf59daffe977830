// SPDX-License-Identifier: GPL-3.0-or-later
// Constrained Delaunay triangulation of a simple polygon. The polygon is cut into ears, edges are
// flipped until the circumcircle test holds on all of them (Lawson), and further points split a
// triangle or an inner edge before the flips go on. Starting from ears means that there is no
// outside to remove and no polygon edge to recover: polygon edges are exactly those without a
// neighbour. Orientation and in-circle determinants are exact: grid coordinates differ by less than
// 2^29, so the products fit into 64 and 128 bits.
#include "mesher/delaunay.h"

#include <string.h>

#include "base/base.h"

__extension__ typedef __int128 wide;

// Width of the grid; see above for why not more.
static const double GRID_STEPS = 268435456.0;

static int64_t orientation(cavum_grid_point a, cavum_grid_point b, cavum_grid_point c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

static int sign_of(int64_t value) { return (value > 0) - (value < 0); }

static int64_t orient(const cavum_triangulation *mesh, cavum_index a, cavum_index b,
                      cavum_index c) {
  return orientation(mesh->grid[a], mesh->grid[b], mesh->grid[c]);
}

// True when d is strictly inside the circle through a, b, c (counterclockwise).
static bool in_circle(const cavum_triangulation *mesh, cavum_index a, cavum_index b, cavum_index c,
                      cavum_index d) {
  const cavum_grid_point *p = mesh->grid;
  int64_t ax = p[a].x - p[d].x, ay = p[a].y - p[d].y;
  int64_t bx = p[b].x - p[d].x, by = p[b].y - p[d].y;
  int64_t cx = p[c].x - p[d].x, cy = p[c].y - p[d].y;
  wide determinant = (wide)(ax * ax + ay * ay) * (bx * cy - by * cx) +
                     (wide)(bx * bx + by * by) * (cx * ay - cy * ax) +
                     (wide)(cx * cx + cy * cy) * (ax * by - ay * bx);
  return determinant > 0;
}

static int next3(int k) { return k == 2 ? 0 : k + 1; }

int cavum_delaunay_edge_towards(const cavum_triangle *triangle, cavum_index neighbour) {
  return triangle->neighbour[0] == neighbour ? 0 : triangle->neighbour[1] == neighbour ? 1 : 2;
}

static void replace_neighbour(cavum_triangulation *mesh, cavum_index t, cavum_index before,
                              cavum_index after) {
  if (t < 0) return;
  cavum_triangle *triangle = &mesh->triangles[t];
  triangle->neighbour[cavum_delaunay_edge_towards(triangle, before)] = after;
}

void cavum_delaunay_clear(cavum_triangulation *mesh) {
  if (!mesh) return;
  free(mesh->points);
  free(mesh->grid);
  free(mesh->triangles);
  memset(mesh, 0, sizeof *mesh);
}

static cavum_grid_point to_grid(const cavum_triangulation *mesh, cavum_point point) {
  return (cavum_grid_point){llround((point.z_m - mesh->origin.z_m) * mesh->steps_per_m),
                            llround((point.r_m - mesh->origin.r_m) * mesh->steps_per_m)};
}

// Places beyond the polygon, also those without a number: the circumcentre of a triangle without an
// area is one, and the exact tests hold on the grid alone.
static bool is_on_grid(const cavum_triangulation *mesh, cavum_point point) {
  double x = (point.z_m - mesh->origin.z_m) * mesh->steps_per_m;
  double y = (point.r_m - mesh->origin.r_m) * mesh->steps_per_m;
  return x >= -0.5 && x <= GRID_STEPS + 0.5 && y >= -0.5 && y <= GRID_STEPS + 0.5;
}

static bool append_point(cavum_triangulation *mesh, cavum_point point) {
  int64_t wanted = (int64_t)mesh->num_points + 1;
  if (!cavum_grow((void **)&mesh->points, &mesh->point_capacity, wanted, sizeof *mesh->points) ||
      !cavum_grow((void **)&mesh->grid, &mesh->grid_capacity, wanted, sizeof *mesh->grid)) {
    return false;
  }
  mesh->points[mesh->num_points] = point;
  mesh->grid[mesh->num_points++] = to_grid(mesh, point);
  return true;
}

cavum_status cavum_delaunay_set_polygon(cavum_triangulation *mesh, cavum_index count,
                                        const cavum_point *points, cavum_error *error) {
  cavum_delaunay_clear(mesh);
  cavum_point low = points[0], high = points[0];
  for (cavum_index i = 1; i < count; i++) {
    low.z_m = cavum_min(low.z_m, points[i].z_m);
    low.r_m = cavum_min(low.r_m, points[i].r_m);
    high.z_m = cavum_max(high.z_m, points[i].z_m);
    high.r_m = cavum_max(high.r_m, points[i].r_m);
  }
  double extent = cavum_max(high.z_m - low.z_m, high.r_m - low.r_m);
  mesh->origin = low;
  mesh->steps_per_m = extent > 0.0 ? GRID_STEPS / extent : 1.0;
  for (cavum_index i = 0; i < count; i++) {
    if (!append_point(mesh, points[i])) return cavum_fail_memory(error);
  }
  mesh->num_boundary = count;
  return CAVUM_OK;
}

static bool boxes_touch(cavum_grid_point a, cavum_grid_point b, cavum_grid_point c,
                        cavum_grid_point d) {
  int64_t a_low = a.x < b.x ? a.x : b.x, a_high = a.x < b.x ? b.x : a.x;
  int64_t c_low = c.x < d.x ? c.x : d.x, c_high = c.x < d.x ? d.x : c.x;
  if (a_high < c_low || c_high < a_low) return false;
  a_low = a.y < b.y ? a.y : b.y, a_high = a.y < b.y ? b.y : a.y;
  c_low = c.y < d.y ? c.y : d.y, c_high = c.y < d.y ? d.y : c.y;
  return a_high >= c_low && c_high >= a_low;
}

static bool folds_back(cavum_grid_point a, cavum_grid_point b, cavum_grid_point c) {
  if (a.x == b.x && a.y == b.y) return true;
  if (orientation(a, b, c) != 0) return false;
  return (b.x - a.x) * (c.x - b.x) + (b.y - a.y) * (c.y - b.y) <= 0;
}

static bool edges_touch(cavum_grid_point a, cavum_grid_point b, cavum_grid_point c,
                        cavum_grid_point d) {
  if (!boxes_touch(a, b, c, d)) return false;
  return sign_of(orientation(a, b, c)) * sign_of(orientation(a, b, d)) <= 0 &&
         sign_of(orientation(c, d, a)) * sign_of(orientation(c, d, b)) <= 0;
}

bool cavum_delaunay_find_crossing(cavum_index *first, cavum_index *second,
                                  const cavum_triangulation *mesh, cavum_index start) {
  cavum_index n = mesh->num_boundary;
  const cavum_grid_point *p = mesh->grid;
  for (cavum_index i = start; i < n; i++) {
    cavum_index i1 = i + 1 < n ? i + 1 : 0, i2 = i1 + 1 < n ? i1 + 1 : 0;
    if (folds_back(p[i], p[i1], p[i2])) {
      *first = i;
      *second = i1;
      return true;
    }
    for (cavum_index j = i + 2; j < n; j++) {
      cavum_index j1 = j + 1 < n ? j + 1 : 0;
      if (j1 == i || !edges_touch(p[i], p[i1], p[j], p[j1])) continue;
      *first = i;
      *second = j;
      return true;
    }
  }
  return false;
}

// What is left of the polygon while ears are cut: a ring of points; outside[i] is the triangle
// beyond the edge from i to next[i], or -1.
typedef struct ring {
  cavum_index *next, *previous, *outside;
} ring;

static bool is_ear(const cavum_triangulation *mesh, const ring *left, cavum_index b) {
  cavum_index a = left->previous[b], c = left->next[b];
  if (orient(mesh, a, b, c) <= 0) return false;
  for (cavum_index p = left->next[c]; p != a; p = left->next[p]) {
    if (orient(mesh, a, b, p) >= 0 && orient(mesh, b, c, p) >= 0 && orient(mesh, c, a, p) >= 0) {
      return false;
    }
  }
  return true;
}

static void set_outside(cavum_triangulation *mesh, cavum_index t, int k, cavum_index outside) {
  mesh->triangles[t].neighbour[k] = outside;
  if (outside < 0) return;
  // The edge by which an ear was cut is always its edge 2.
  mesh->triangles[outside].neighbour[2] = t;
}

static void cut_ear(cavum_triangulation *mesh, ring *left, cavum_index b, bool last) {
  cavum_index a = left->previous[b], c = left->next[b], t = mesh->num_triangles++;
  mesh->triangles[t] = (cavum_triangle){{a, b, c}, {-1, -1, -1}};
  set_outside(mesh, t, 0, left->outside[a]);
  set_outside(mesh, t, 1, left->outside[b]);
  if (last) {
    set_outside(mesh, t, 2, left->outside[c]);
    return;
  }
  left->next[a] = c;
  left->previous[c] = a;
  left->outside[a] = t;
}

static cavum_status cut_all_ears(cavum_triangulation *mesh, ring *left, cavum_error *error) {
  cavum_index n = mesh->num_boundary, b = 0, misses = 0;
  for (cavum_index i = 0; i < n; i++) {
    left->next[i] = i + 1 < n ? i + 1 : 0;
    left->previous[i] = i > 0 ? i - 1 : n - 1;
    left->outside[i] = -1;
  }
  for (cavum_index remaining = n; remaining >= 3;) {
    if (is_ear(mesh, left, b)) {
      cut_ear(mesh, left, b, remaining == 3);
      remaining--;
      misses = 0;
      b = left->next[left->next[b]];
      if (remaining == 2) break;
      continue;
    }
    if (++misses > remaining) {
      return cavum_fail(error, CAVUM_ERR_MESH,
                        "the contour crosses itself or does not have its inside on the left");
    }
    b = left->next[b];
  }
  return CAVUM_OK;
}

cavum_status cavum_delaunay_triangulate(cavum_triangulation *mesh, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = mesh->num_boundary;
  ring left = {cavum_alloc(n, sizeof *left.next), cavum_alloc(n, sizeof *left.previous),
               cavum_alloc(n, sizeof *left.outside)};
  mesh->num_triangles = 0;
  if (!left.next || !left.previous || !left.outside ||
      !cavum_grow((void **)&mesh->triangles, &mesh->triangle_capacity, n,
                  sizeof *mesh->triangles)) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(cut_all_ears(mesh, &left, error));
  cavum_delaunay_legalize_all(mesh);
done:
  free(left.next);
  free(left.previous);
  free(left.outside);
  return status;
}

// Corner of the neighbour across edge k of t that does not lie on the edge.
static cavum_index opposite_point(const cavum_triangulation *mesh, cavum_index t, int k) {
  const cavum_triangle *other = &mesh->triangles[mesh->triangles[t].neighbour[k]];
  return other->vertex[next3(next3(cavum_delaunay_edge_towards(other, t)))];
}

bool cavum_delaunay_can_flip(const cavum_triangulation *mesh, cavum_index t, int k) {
  const cavum_triangle *triangle = &mesh->triangles[t];
  if (triangle->neighbour[k] < 0) return false;
  cavum_index a = triangle->vertex[k], b = triangle->vertex[next3(k)];
  cavum_index c = triangle->vertex[next3(next3(k))], d = opposite_point(mesh, t, k);
  return orient(mesh, a, d, c) > 0 && orient(mesh, d, b, c) > 0;
}

void cavum_delaunay_flip(cavum_triangulation *mesh, cavum_index t, int k) {
  cavum_triangle *one = &mesh->triangles[t];
  cavum_index u = one->neighbour[k];
  cavum_triangle *two = &mesh->triangles[u];
  int k1 = next3(k), k2 = next3(k1), j1 = next3(cavum_delaunay_edge_towards(two, t)),
      j2 = next3(j1);
  cavum_index a = one->vertex[k], b = one->vertex[k1], c = one->vertex[k2], d = two->vertex[j2];
  cavum_index ad = two->neighbour[j1], db = two->neighbour[j2];
  cavum_index bc = one->neighbour[k1], ca = one->neighbour[k2];
  *one = (cavum_triangle){{a, d, c}, {ad, u, ca}};
  *two = (cavum_triangle){{d, b, c}, {db, bc, t}};
  replace_neighbour(mesh, ad, u, t);
  replace_neighbour(mesh, bc, t, u);
}

static bool must_flip(const cavum_triangulation *mesh, cavum_index t, int k) {
  const cavum_triangle *triangle = &mesh->triangles[t];
  if (triangle->neighbour[k] < 0) return false;
  return in_circle(mesh, triangle->vertex[0], triangle->vertex[1], triangle->vertex[2],
                   opposite_point(mesh, t, k));
}

void cavum_delaunay_legalize_all(cavum_triangulation *mesh) {
  // Each flip lowers the lifted surface strictly, so this ends.
  for (bool changed = true; changed;) {
    changed = false;
    for (cavum_index t = 0; t < mesh->num_triangles; t++) {
      for (int k = 0; k < 3; k++) {
        if (!must_flip(mesh, t, k)) continue;
        cavum_delaunay_flip(mesh, t, k);
        changed = true;
      }
    }
  }
}

cavum_index cavum_delaunay_locate(const cavum_triangulation *mesh, cavum_index start,
                                  cavum_point point) {
  if (!is_on_grid(mesh, point)) return -1;
  cavum_grid_point p = to_grid(mesh, point);
  cavum_index t = start;
  // A straight walk in a Delaunay triangulation does not cycle; the bound is for safety alone.
  for (cavum_index step = 0; step <= mesh->num_triangles; step++) {
    const cavum_triangle *triangle = &mesh->triangles[t];
    int worst = -1;
    int64_t least = 0;
    for (int k = 0; k < 3; k++) {
      int64_t side =
          orientation(mesh->grid[triangle->vertex[k]], mesh->grid[triangle->vertex[next3(k)]], p);
      if (side < least) {
        least = side;
        worst = k;
      }
    }
    if (worst < 0) return t;
    t = triangle->neighbour[worst];
    if (t < 0) return -1;
  }
  return -1;
}

// Flips the edges opposite to point p, going once around it; each triangle of its star is reached.
static void legalize_star(cavum_triangulation *mesh, cavum_index p, cavum_index start) {
  cavum_index t = start, last = -1;
  for (;;) {
    cavum_triangle *triangle = &mesh->triangles[t];
    int corner = triangle->vertex[0] == p ? 0 : triangle->vertex[1] == p ? 1 : 2;
    int k = next3(corner);
    if (last < 0) last = triangle->vertex[k];
    if (must_flip(mesh, t, k)) {
      cavum_delaunay_flip(mesh, t, k);  // t is now the part of the star at the same first point
      continue;
    }
    if (triangle->vertex[next3(k)] == last) return;
    t = triangle->neighbour[next3(k)];
  }
}

static void split_triangle(cavum_triangulation *mesh, cavum_index t, cavum_index p) {
  cavum_triangle old = mesh->triangles[t];
  cavum_index t1 = mesh->num_triangles, t2 = t1 + 1;
  mesh->num_triangles += 2;
  mesh->triangles[t] =
      (cavum_triangle){{old.vertex[0], old.vertex[1], p}, {old.neighbour[0], t1, t2}};
  mesh->triangles[t1] =
      (cavum_triangle){{old.vertex[1], old.vertex[2], p}, {old.neighbour[1], t2, t}};
  mesh->triangles[t2] =
      (cavum_triangle){{old.vertex[2], old.vertex[0], p}, {old.neighbour[2], t, t1}};
  replace_neighbour(mesh, old.neighbour[1], t, t1);
  replace_neighbour(mesh, old.neighbour[2], t, t2);
}

// p lies on the inner edge k of t.
static void split_edge(cavum_triangulation *mesh, cavum_index t, int k, cavum_index p) {
  cavum_index u = mesh->triangles[t].neighbour[k];
  cavum_triangle one = mesh->triangles[t], two = mesh->triangles[u];
  int k1 = next3(k), k2 = next3(k1), j = cavum_delaunay_edge_towards(&two, t), j1 = next3(j),
      j2 = next3(j1);
  cavum_index a = one.vertex[k], b = one.vertex[k1], c = one.vertex[k2], d = two.vertex[j2];
  cavum_index t1 = mesh->num_triangles, u1 = t1 + 1;
  mesh->num_triangles += 2;
  mesh->triangles[t] = (cavum_triangle){{c, a, p}, {one.neighbour[k2], u, t1}};
  mesh->triangles[t1] = (cavum_triangle){{b, c, p}, {one.neighbour[k1], t, u1}};
  mesh->triangles[u] = (cavum_triangle){{a, d, p}, {two.neighbour[j1], u1, t}};
  mesh->triangles[u1] = (cavum_triangle){{d, b, p}, {two.neighbour[j2], t1, u}};
  replace_neighbour(mesh, one.neighbour[k1], t, t1);
  replace_neighbour(mesh, two.neighbour[j2], u, u1);
}

cavum_status cavum_delaunay_insert(cavum_triangulation *mesh, bool *added, cavum_index triangle,
                                   cavum_point point, cavum_error *error) {
  int zero = -1, num_zero = 0;
  cavum_grid_point p = to_grid(mesh, point);
  const cavum_triangle *host = &mesh->triangles[triangle];
  for (int k = 0; k < 3; k++) {
    int64_t side = orientation(mesh->grid[host->vertex[k]], mesh->grid[host->vertex[next3(k)]], p);
    if (!CAVUM_HOLDS(side >= 0)) {
      return cavum_fail_internal(error, "a point is not in the triangle it was looked up in");
    }
    if (side > 0) continue;
    zero = k;
    num_zero++;
  }
  *added = false;
  if (num_zero > 1 || (num_zero == 1 && host->neighbour[zero] < 0)) return CAVUM_OK;
  if (!cavum_grow((void **)&mesh->triangles, &mesh->triangle_capacity,
                  (int64_t)mesh->num_triangles + 2, sizeof *mesh->triangles) ||
      !append_point(mesh, point)) {
    return cavum_fail_memory(error);
  }
  cavum_index index = mesh->num_points - 1;
  if (num_zero == 1) {
    split_edge(mesh, triangle, zero, index);
  } else {
    split_triangle(mesh, triangle, index);
  }
  legalize_star(mesh, index, triangle);
  *added = true;
  return CAVUM_OK;
}

cavum_index cavum_delaunay_next_around(const cavum_triangulation *mesh, cavum_index t,
                                       cavum_index point) {
  const cavum_triangle *triangle = &mesh->triangles[t];
  int corner = triangle->vertex[0] == point ? 0 : triangle->vertex[1] == point ? 1 : 2;
  return triangle->neighbour[next3(next3(corner))];
}

bool cavum_delaunay_move(cavum_triangulation *mesh, cavum_index point, cavum_point place,
                         cavum_index start) {
  CAVUM_ASSERT(point >= mesh->num_boundary);
  cavum_grid_point before = mesh->grid[point];
  mesh->grid[point] = to_grid(mesh, place);
  cavum_index t = start;
  do {
    const cavum_index *v = mesh->triangles[t].vertex;
    if (orient(mesh, v[0], v[1], v[2]) <= 0) {
      mesh->grid[point] = before;
      return false;
    }
    t = cavum_delaunay_next_around(mesh, t, point);
  } while (t != start);
  mesh->points[point] = place;
  return true;
}
