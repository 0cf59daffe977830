// SPDX-License-Identifier: GPL-3.0-or-later
// The MSH writer: what is written reads back to the bit, blended meshes are sampled exactly, an old
// file survives a failure.
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "element/element_map.h"
#include "element/topology.h"
#include "msh/type.h"
#include "support.h"

static void make_path(char path[64], const char *name) {
  snprintf(path, 64, "test-msh-write-%ld-%s", (long)getpid(), name);
}

static void read_data(cavum_mesh *mesh, const char *name, const cavum_mesh_source *source) {
  char path[512];
  snprintf(path, sizeof path, CAVUM_TEST_FOLDER "/msh/data/%s.msh", name);
  cavum_mesh_source named = *source;
  named.path = path;
  cavum_error error;
  cavum_status status = cavum_mesh_read_msh(mesh, NULL, &named, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

static void write_mesh(const cavum_mesh *mesh, const char *path, int order, double unit_m,
                       bool binary) {
  cavum_error error;
  cavum_status status = cavum_mesh_write_msh(mesh, path, order, unit_m, binary, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

// Every member of two meshes, coordinates to the bit.
static void check_same(const cavum_mesh *a, const cavum_mesh *b) {
  ck_assert_int_eq(a->node_order, b->node_order);
  ck_assert_int_eq(a->num_vertices, b->num_vertices);
  ck_assert_int_eq(a->num_edges, b->num_edges);
  ck_assert_int_eq(a->num_elements, b->num_elements);
  ck_assert_int_eq(a->num_nodes, b->num_nodes);
  ck_assert_int_eq(a->num_regions, b->num_regions);
  size_t point = sizeof(cavum_point);
  ck_assert(memcmp(a->vertices, b->vertices, (size_t)a->num_vertices * point) == 0);
  ck_assert(memcmp(a->nodes, b->nodes, (size_t)a->num_nodes * point) == 0);
  for (cavum_index i = 0; i < a->num_edges; i++) {
    const cavum_edge *p = &a->edges[i], *q = &b->edges[i];
    for (int end = 0; end < 2; end++) {
      ck_assert_int_eq(p->vertex[end], q->vertex[end]);
      ck_assert_int_eq(p->element[end], q->element[end]);
      ck_assert_int_eq(p->local[end], q->local[end]);
    }
    ck_assert_int_eq(p->boundary, q->boundary);
  }
  for (cavum_index e = 0; e < a->num_elements; e++) {
    const cavum_element *p = &a->elements[e], *q = &b->elements[e];
    ck_assert_int_eq(p->num_corners, q->num_corners);
    for (int k = 0; k < p->num_corners; k++) {
      ck_assert_int_eq(p->vertex[k], q->vertex[k]);
      ck_assert_int_eq(p->edge[k], q->edge[k]);
      ck_assert_int_eq(p->reversed[k], q->reversed[k]);
    }
    ck_assert_int_eq(p->region, q->region);
    ck_assert_int_eq(p->first_node, q->first_node);
  }
  for (cavum_index i = 0; i < a->num_regions; i++) {
    ck_assert_str_eq(a->regions[i].name, b->regions[i].name);
  }
}

static const cavum_mesh_source DISC = {.unit_m = 1e-3, .axis = 'x'};
static cavum_region loaded_regions[2] = {{"ceramic", 9.8, 1.0}, {"vacuum", 1.0, 1.0}};
static cavum_boundary_name_map loaded_names[1] = {{"beam line", CAVUM_BOUNDARY_AXIS}};
static const cavum_mesh_source LOADED = {.unit_m = 1.0,
                                         .axis = 'z',
                                         .num_regions = 2,
                                         .regions = loaded_regions,
                                         .num_boundaries = 1,
                                         .boundaries = loaded_names};

START_TEST(a_written_mesh_reads_back_to_the_bit) {
  static const char *const names[8] = {
      "disc-tri-1-22t",  "disc-quad-2-41b", "disc-mixed-3-41t",       "disc-mixed-10-41b",
      "disc-quad-5-22b", "loaded-41t",      "disc-serendipity-4-22b", "loaded-gaps-41t"};
  const cavum_mesh_source *source = strncmp(names[_i], "loaded", 6) == 0 ? &LOADED : &DISC;
  cavum_mesh mesh, back;
  char path[64];
  read_data(&mesh, names[_i], source);
  for (int binary = 0; binary < 2; binary++) {
    make_path(path, "same.msh");
    write_mesh(&mesh, path, 0, 1.0, binary);
    cavum_mesh_source again = {.path = path,
                               .unit_m = 1.0,
                               .axis = 'x',
                               .num_regions = source->num_regions,
                               .regions = source->regions};
    cavum_mesh_notes notes;
    cavum_error error;
    cavum_status status = cavum_mesh_read_msh(&back, &notes, &again, &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
    ck_assert_str_eq(notes.boundaries, "");
    check_same(&mesh, &back);
    cavum_mesh_clear(&back);
    unlink(path);
  }
  cavum_mesh_clear(&mesh);
}
END_TEST

START_TEST(another_order_samples_the_map_of_the_mesh) {
  // A mesh of order 2 written at order 4 describes the same map: the polynomials are contained.
  cavum_mesh mesh, back;
  char path[64];
  read_data(&mesh, "disc-mixed-2-41b", &DISC);
  make_path(path, "raised.msh");
  write_mesh(&mesh, path, 4, 1e-3, true);
  cavum_mesh_source again = {.path = path, .unit_m = 1e-3, .axis = 'x'};
  ck_assert_int_eq(cavum_mesh_read_msh(&back, NULL, &again, NULL), CAVUM_OK);
  ck_assert_int_eq(back.node_order, 4);
  for (cavum_index e = 0; e < mesh.num_elements; e++) {
    cavum_map_point a = cavum_element_map_at(&mesh, e, 0.17, 0.31);
    cavum_map_point b = cavum_element_map_at(&back, e, 0.17, 0.31);
    // Roundings of coordinates up to 0.05, times small weights.
    ck_assert(fabs(a.z - b.z) < 1e-16 && fabs(a.r - b.r) < 1e-16);
    ck_assert(fabs(a.z_xi - b.z_xi) < 1e-15 && fabs(a.r_eta - b.r_eta) < 1e-15);
  }
  cavum_mesh_clear(&mesh);
  cavum_mesh_clear(&back);
  unlink(path);
}
END_TEST

// A quarter of a ring, radii 1 and 3, as one blended element; its arcs are edges 0 and 2.
typedef struct ring {
  cavum_mesh mesh;
  cavum_point vertices[4];
  cavum_curve curves[2];
  cavum_element element;
  cavum_region region;
} ring;

static void make_ring(ring *r) {
  *r = (ring){.vertices = {{3.0, 0.0}, {0.0, 3.0}, {0.0, 1.0}, {1.0, 0.0}},
              .element = {.num_corners = 4, .vertex = {0, 1, 2, 3}},
              .region = {(char *)"", 1.0, 1.0}};
  for (int i = 0; i < 2; i++) {
    r->curves[i] = (cavum_curve){.kind = CAVUM_CURVE_ELLIPSE,
                                 .start = r->vertices[2 * i],
                                 .end = r->vertices[2 * i + 1],
                                 .axial_m = i ? 1.0 : 3.0,
                                 .radial_m = i ? 1.0 : 3.0,
                                 .angle_start_rad = i ? CAVUM_PI / 2.0 : 0.0,
                                 .angle_end_rad = i ? 0.0 : CAVUM_PI / 2.0};
  }
  r->mesh = (cavum_mesh){.num_vertices = 4,
                         .vertices = r->vertices,
                         .num_elements = 1,
                         .elements = &r->element,
                         .num_curves = 2,
                         .curves = r->curves,
                         .num_regions = 1,
                         .regions = &r->region};
  ck_assert_int_eq(cavum_topology_build_edges(&r->mesh, NULL), CAVUM_OK);
  const cavum_boundary kinds[4] = {CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_MAGNETIC,
                                   CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_AXIS};
  for (int k = 0; k < 4; k++) {
    r->mesh.edges[k].boundary = kinds[k];
    if (k % 2 == 0) r->mesh.edges[k].curve = k / 2;
    r->mesh.edges[k].t[1] = 1.0;
  }
}

START_TEST(a_blended_mesh_is_sampled_on_the_exact_curves) {
  ring r;
  make_ring(&r);
  char path[64];
  make_path(path, "ring.msh");
  write_mesh(&r.mesh, path, 0, 1.0, _i);
  cavum_mesh_source source = {.path = path, .unit_m = 1.0, .axis = 'x'};
  cavum_mesh back;
  cavum_error error;
  cavum_status status = cavum_mesh_read_msh(&back, NULL, &source, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(back.node_order, 6);
  ck_assert_str_eq(back.regions[0].name, "vacuum");
  for (int k = 0; k < 4; k++) {
    ck_assert_int_eq(back.edges[k].boundary, r.mesh.edges[k].boundary);
  }
  for (int n = 0; n < 49; n++) {
    // Closed form: radius and angle are linear in eta and xi.
    double angle = 0.5 * CAVUM_PI * (n % 7) / 6.0, radius = 3.0 - 2.0 * (n / 7) / 6.0;
    CAVUM_CHECK_NEAR(back.nodes[n].z_m, radius * cos(angle), 2e-15);  // roundings of 3
    CAVUM_CHECK_NEAR(back.nodes[n].r_m, radius * sin(angle), 2e-15);
  }
  cavum_mesh_clear(&back);
  free(r.mesh.edges);
  unlink(path);
}
END_TEST

START_TEST(bad_requests_are_refused_and_the_old_file_stays) {
  ring r;
  make_ring(&r);
  char path[64];
  cavum_error error;
  struct stat before, after;
  make_path(path, "kept.msh");
  write_mesh(&r.mesh, path, 1, 1.0, false);
  ck_assert_int_eq(stat(path, &before), 0);
  ck_assert_int_eq(cavum_mesh_write_msh(&r.mesh, path, 11, 1.0, false, &error), CAVUM_ERR_RANGE);
  ck_assert_int_eq(cavum_mesh_write_msh(&r.mesh, path, 1, -1.0, false, &error), CAVUM_ERR_RANGE);
  cavum_mesh empty = {0};
  ck_assert_int_eq(cavum_mesh_write_msh(&empty, path, 1, 1.0, false, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(stat(path, &after), 0);
  ck_assert(before.st_ino == after.st_ino && before.st_size == after.st_size);
  cavum_status status =
      cavum_mesh_write_msh(&r.mesh, "no-such-folder/x.msh", 1, 1.0, false, &error);
  ck_assert_int_eq(status, CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert(strstr(error.message, "no-such-folder/x.msh: cannot be written"));
  free(r.mesh.edges);
  unlink(path);
}
END_TEST

START_TEST(a_write_that_fails_midway_leaves_the_old_file) {
  // A limit on the size of files stands for a full disk.
  ring r;
  make_ring(&r);
  char path[64];
  cavum_error error;
  struct stat before, after;
  struct rlimit limit;
  make_path(path, "full.msh");
  write_mesh(&r.mesh, path, 1, 1.0, false);
  ck_assert_int_eq(stat(path, &before), 0);
  signal(SIGXFSZ, SIG_IGN);
  ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &limit), 0);
  struct rlimit small = {256, limit.rlim_max};
  // No check while files may not grow: libcheck writes its own messages to one.
  int lowered = setrlimit(RLIMIT_FSIZE, &small);
  cavum_status status = cavum_mesh_write_msh(&r.mesh, path, 10, 1.0, false, &error);
  int raised = setrlimit(RLIMIT_FSIZE, &limit);
  ck_assert(lowered == 0 && raised == 0);
  ck_assert_int_eq(status, CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert_int_eq(stat(path, &after), 0);
  ck_assert(before.st_ino == after.st_ino && before.st_size == after.st_size);
  char *temporary = cavum_temporary_name(path);
  ck_assert_int_ne(access(temporary, F_OK), 0);
  free(temporary);
  free(r.mesh.edges);
  unlink(path);
}
END_TEST

START_TEST(serendipity_elements_are_completed_by_their_space) {
  // Quadrilateral: every function of {x^k, y^k, x^k y, x y^k}. Triangle: every quadratic, and for
  // order 3 the usual centre node.
  for (int g = 2; g <= 10; g++) {
    for (int corners = 3; corners <= 4; corners++) {
      cavum_point exact[CAVUM_MSH_MOST_NODES], nodes[CAVUM_MSH_MOST_NODES];
      int lattice[CAVUM_MSH_MOST_NODES], count = cavum_msh_num_nodes(corners, g), n = 0;
      for (int j = 0; j <= g; j++) {
        for (int i = 0; i <= (corners == 3 ? g - j : g); i++) {
          double x = (double)i / g, y = (double)j / g;
          exact[n].z_m = 0.3 + 0.7 * x - 1.3 * y + 0.9 * x * y;
          exact[n++].r_m = corners == 3 ? 0.4 * x * x - 1.7 * x * y + 0.6 * y * y
                                        : pow(x, g) * (1.0 + 0.3 * y) + pow(y, g) * (0.5 - 2.0 * x);
        }
      }
      cavum_msh_lattice(lattice, corners, g);
      for (int m = 0; m < count; m++) nodes[m] = (cavum_point){NAN, NAN};
      for (int m = 0; m < corners * g; m++) nodes[lattice[m]] = exact[lattice[m]];
      cavum_msh_complete(nodes, corners, g);
      for (int m = 0; m < count; m++) {
        // Interpolation along an edge amplifies roundings by its Lebesgue constant, 2^g at most.
        ck_assert_msg(fabs(nodes[m].z_m - exact[m].z_m) < 1e-15 * exp2(g) &&
                          fabs(nodes[m].r_m - exact[m].r_m) < 1e-15 * exp2(g),
                      "order %d, %d corners, node %d", g, corners, m);
      }
    }
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, a_written_mesh_reads_back_to_the_bit, 0, 8);
  tcase_add_test(tests, another_order_samples_the_map_of_the_mesh);
  tcase_add_loop_test(tests, a_blended_mesh_is_sampled_on_the_exact_curves, 0, 2);
  tcase_add_test(tests, bad_requests_are_refused_and_the_old_file_stays);
  tcase_add_test(tests, a_write_that_fails_midway_leaves_the_old_file);
  tcase_add_test(tests, serendipity_elements_are_completed_by_their_space);
}

CAVUM_TEST_MAIN("MSH writer", add)
