// SPDX-License-Identifier: GPL-3.0-or-later
// MSH files of tests/msh/data, made by Gmsh 4.8.4, a general-purpose mesh generator whose format
// this is (tests/msh/data/make): every version, form, shape and order gives the geometry that the
// .geo source beside them describes, in closed form: radii, areas, volumes.
#include <string.h>

#include "base/base.h"
#include "element/element_map.h"
#include "element/mesh_quality.h"
#include "msh/type.h"
#include "support.h"

enum {
  GAUSS = 14
};  // exact for the area (degree 19 in each direction) and volume (29) to rounding

static const double RADIUS_M = 0.05;

// Gauss-Legendre rule on [-1, 1] by Newton's method from the usual cosine start.
static void gauss_rule(double x[GAUSS], double w[GAUSS]) {
  for (int i = 0; i < GAUSS; i++) {
    double t = -cos(CAVUM_PI * (i + 0.75) / (GAUSS + 0.5)), slope = 0.0;
    for (int step = 0; step < 50; step++) {
      double before = 1.0, now = t;
      for (int n = 2; n <= GAUSS; n++) {
        double next = ((2 * n - 1) * t * now - (n - 1) * before) / n;
        before = now;
        now = next;
      }
      slope = GAUSS * (t * now - before) / (t * t - 1.0);
      t -= now / slope;
    }
    x[i] = t;
    w[i] = 2.0 / ((1.0 - t * t) * slope * slope);
  }
}

// Area, and volume of revolution, of the elements of one region (-1: of all).
static void measure(const cavum_mesh *mesh, cavum_index region, double *area, double *volume) {
  double x[GAUSS], w[GAUSS];
  gauss_rule(x, w);
  *area = *volume = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (region >= 0 && mesh->elements[e].region != region) continue;
    for (int i = 0; i < GAUSS * GAUSS; i++) {
      double xi = x[i % GAUSS], eta = x[i / GAUSS], weight = w[i % GAUSS] * w[i / GAUSS];
      if (mesh->elements[e].num_corners == 3) {  // the square collapsed onto the triangle
        weight *= (1.0 - xi) / 8.0;
        eta = 0.25 * (1.0 - xi) * (1.0 + eta);
        xi = 0.5 * (1.0 + xi);
      }
      cavum_map_point at = cavum_element_map_at(mesh, e, xi, eta);
      *area += weight * cavum_map_jacobian(&at);
      *volume += weight * cavum_map_jacobian(&at) * 2.0 * CAVUM_PI * at.r;
    }
  }
}

static void read_file(cavum_mesh *mesh, cavum_mesh_notes *notes, const char *name,
                      const cavum_mesh_source *source) {
  char path[512];
  snprintf(path, sizeof path, CAVUM_TEST_FOLDER "/msh/data/%s.msh", name);
  cavum_mesh_source named = *source;
  named.path = path;
  cavum_error error;
  cavum_status status = cavum_mesh_read_msh(mesh, notes, &named, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

static void refuse_file(const char *name, const cavum_mesh_source *source, const char *expected) {
  char path[512];
  snprintf(path, sizeof path, CAVUM_TEST_FOLDER "/msh/data/%s.msh", name);
  cavum_mesh_source named = *source;
  named.path = path;
  cavum_error error;
  cavum_mesh mesh = {.num_vertices = -7};
  ck_assert_int_eq(cavum_mesh_read_msh(&mesh, NULL, &named, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_msg(strstr(error.message, expected), "'%s' is not in '%s'", expected, error.message);
  ck_assert_int_eq(mesh.num_vertices, -7);  // untouched
}

static void count_boundaries(const cavum_mesh *mesh, int counts[6]) {
  memset(counts, 0, 6 * sizeof *counts);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    ck_assert_int_eq(mesh->edges[i].boundary == CAVUM_BOUNDARY_NONE,
                     mesh->edges[i].element[1] >= 0);
    counts[mesh->edges[i].boundary]++;
  }
}

static const cavum_mesh_source DISC = {.unit_m = 1e-3, .axis = 'x'};

// Largest turn of a wall edge of the disc: one of 2 in a quadrant, or 4 where subdivided.
static double largest_turn(const char *shape) {
  return CAVUM_PI / (strcmp(shape, "quad") == 0 ? 8.0 : 4.0);
}

static void check_disc_nodes(const cavum_mesh *mesh) {
  int g = mesh->node_order;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    const cavum_element *element = &mesh->elements[edge->element[0]];
    for (int m = 0; m <= g && edge->boundary != CAVUM_BOUNDARY_NONE; m++) {
      int node = cavum_msh_lattice_edge(element->num_corners, g, edge->local[0], m);
      const cavum_point *p = &mesh->nodes[element->first_node + node];
      if (edge->boundary == CAVUM_BOUNDARY_AXIS) {
        ck_assert(p->r_m == 0.0);
      } else {
        // The generator places nodes on curves to about 1e-12 of their length.
        ck_assert_msg(fabs(hypot(p->z_m, p->r_m) - RADIUS_M) < 1e-11 * RADIUS_M,
                      "node at %.17g %.17g", p->z_m, p->r_m);
      }
    }
  }
}

static void check_disc(const char *name, const char *shape, int order) {
  cavum_mesh mesh;
  read_file(&mesh, NULL, name, &DISC);
  printf("%s\n", name);
  ck_assert_int_eq(mesh.node_order, order);
  int counts[6];
  count_boundaries(&mesh, counts);
  ck_assert_int_gt(counts[CAVUM_BOUNDARY_METAL], 3);
  ck_assert_int_gt(counts[CAVUM_BOUNDARY_AXIS], 1);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_ELECTRIC] + counts[CAVUM_BOUNDARY_MAGNETIC], 0);
  check_disc_nodes(&mesh);
  double area, volume;
  measure(&mesh, -1, &area, &volume);
  // Interpolation of degree g at equispaced nodes a distance h apart misses a function by
  // h^(g+1) max|f^(g+1)| / (4 (g + 1)) at most; for an arc of angle theta, h = theta / g, and two
  // components. Closed forms pi R^2 / 2 and 4 pi R^3 / 3. Nodes are off by 1e-12.
  double bound = 2.0 * pow(largest_turn(shape) / order, order + 1) / (4.0 * (order + 1)) + 1e-11;
  CAVUM_CHECK_RELATIVE(area, 0.5 * CAVUM_PI * RADIUS_M * RADIUS_M, 2.0 * bound);
  CAVUM_CHECK_RELATIVE(volume, 4.0 / 3.0 * CAVUM_PI * pow(RADIUS_M, 3), 3.0 * bound);
  cavum_mesh_clear(&mesh);
}

static const char *const SHAPES[3] = {"tri", "quad", "mixed"};

START_TEST(disc_of_every_version_form_shape_and_order) {
  static const char *const forms[4] = {"22t", "22b", "41t", "41b"};
  const char *shape = SHAPES[_i / 5];
  int order = 1 + _i % 5;
  cavum_mesh first = {0};
  for (int form = 0; form < 4; form++) {
    char name[64];
    snprintf(name, sizeof name, "disc-%s-%d-%s", shape, order, forms[form]);
    check_disc(name, shape, order);
    cavum_mesh mesh;
    read_file(&mesh, NULL, name, &DISC);
    if (form == 0) {
      first = mesh;
      continue;
    }
    ck_assert_int_eq(mesh.num_nodes, first.num_nodes);
    ck_assert_int_eq(mesh.num_edges, first.num_edges);
    for (cavum_index i = 0; i < mesh.num_nodes; i++) {
      // 16 digits in the text file: half a unit of the last digit of 50 mm, and one rounding.
      ck_assert(fabs(mesh.nodes[i].z_m - first.nodes[i].z_m) < 2e-17 + 1e-17);
      ck_assert(fabs(mesh.nodes[i].r_m - first.nodes[i].r_m) < 2e-17 + 1e-17);
    }
    for (cavum_index i = 0; i < mesh.num_edges; i++) {
      ck_assert_int_eq(mesh.edges[i].vertex[0], first.edges[i].vertex[0]);
      ck_assert_int_eq(mesh.edges[i].boundary, first.edges[i].boundary);
    }
    cavum_mesh_clear(&mesh);
  }
  cavum_mesh_clear(&first);
}
END_TEST

START_TEST(disc_of_high_order) {
  char name[64];
  snprintf(name, sizeof name, "disc-mixed-%d-41b", _i);
  check_disc(name, "mixed", _i);
}
END_TEST

START_TEST(disc_of_serendipity_elements) {
  char name[64];
  snprintf(name, sizeof name, "disc-serendipity-%d-22b", _i);
  check_disc(name, "mixed", _i);
}
END_TEST

START_TEST(nodes_of_straight_elements_stand_on_the_lattice) {
  // The order of the nodes: in an element off the wall they lie where bilinear or linear
  // interpolation of its corners has them.
  static const char *const names[9] = {"disc-mixed-2-22t", "disc-mixed-3-22t", "disc-mixed-4-41t",
                                       "disc-mixed-5-41b", "disc-mixed-6-41b", "disc-mixed-7-41b",
                                       "disc-mixed-8-41b", "disc-mixed-9-41b", "disc-mixed-10-41b"};
  cavum_mesh mesh;
  read_file(&mesh, NULL, names[_i], &DISC);
  int g = mesh.node_order, checked[5] = {0};
  for (cavum_index e = 0; e < mesh.num_elements; e++) {
    const cavum_element *element = &mesh.elements[e];
    bool at_wall = false;
    for (int k = 0; k < element->num_corners; k++) {
      at_wall |= mesh.edges[element->edge[k]].boundary == CAVUM_BOUNDARY_METAL;
    }
    if (at_wall) continue;
    checked[element->num_corners]++;
    const cavum_point *node = &mesh.nodes[element->first_node];
    cavum_point v[4];
    for (int k = 0; k < element->num_corners; k++) v[k] = mesh.vertices[element->vertex[k]];
    for (int j = 0; j <= g; j++) {
      for (int i = 0; i <= (element->num_corners == 3 ? g - j : g); i++, node++) {
        double x = (double)i / g, y = (double)j / g, z, r;
        if (element->num_corners == 3) {
          z = (1 - x - y) * v[0].z_m + x * v[1].z_m + y * v[2].z_m;
          r = (1 - x - y) * v[0].r_m + x * v[1].r_m + y * v[2].r_m;
        } else {
          z = (1 - y) * ((1 - x) * v[0].z_m + x * v[1].z_m) +
              y * ((1 - x) * v[3].z_m + x * v[2].z_m);
          r = (1 - y) * ((1 - x) * v[0].r_m + x * v[1].r_m) +
              y * ((1 - x) * v[3].r_m + x * v[2].r_m);
        }
        // Straight lines are off by some 1e-12 of 50 mm in the files.
        ck_assert_msg(fabs(node->z_m - z) + fabs(node->r_m - r) < 1e-12, "element %d node %d %d",
                      (int)e, i, j);
      }
    }
  }
  printf("order %d: %d triangles and %d quadrilaterals checked\n", g, checked[3], checked[4]);
  ck_assert_int_gt(checked[3], 0);
  ck_assert_int_gt(checked[4], 0);
  cavum_mesh_clear(&mesh);
}
END_TEST

static cavum_region loaded_regions[2] = {{"ceramic", 9.8, 1.0}, {"vacuum", 1.0, 1.0}};
static cavum_boundary_name_map loaded_names[1] = {{"beam line", CAVUM_BOUNDARY_AXIS}};
static const cavum_mesh_source LOADED = {.unit_m = 1.0,
                                         .axis = 'z',
                                         .num_regions = 2,
                                         .regions = loaded_regions,
                                         .num_boundaries = 1,
                                         .boundaries = loaded_names};

START_TEST(loaded_pillbox_has_its_regions_and_boundaries) {
  static const char *const names[11] = {"loaded-22t",
                                        "loaded-41t",
                                        "loaded-gaps-41t",
                                        "loaded-parametric-22t",
                                        "loaded-parametric-22b",
                                        "loaded-parametric-41t",
                                        "loaded-parametric-41b",
                                        "loaded-parts-41t",
                                        "loaded-parts-41b",
                                        "loaded-parts-22t",
                                        "loaded-all-41t"};
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  printf("%s\n", names[_i]);
  read_file(&mesh, &notes, names[_i], &LOADED);
  ck_assert_str_eq(notes.boundaries, "");
  ck_assert_str_eq(notes.kinks, "");
  ck_assert(notes.largest_kink_rad == 0.0);
  ck_assert_int_eq(mesh.num_regions, 2);
  ck_assert_str_eq(mesh.regions[0].name, "ceramic");
  ck_assert(mesh.regions[0].eps_r == 9.8 && mesh.regions[1].eps_r == 1.0);
  double area, volume;
  // From the .geo source: 20 mm and 80 mm by 80 mm. Straight lines are off by 1e-12.
  measure(&mesh, 0, &area, &volume);
  CAVUM_CHECK_RELATIVE(area, 0.02 * 0.08, 1e-10);
  measure(&mesh, 1, &area, &volume);
  CAVUM_CHECK_RELATIVE(area, 0.08 * 0.08, 1e-10);
  CAVUM_CHECK_RELATIVE(volume, 0.08 * CAVUM_PI * 0.08 * 0.08, 1e-10);
  int counts[6];
  count_boundaries(&mesh, counts);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_MAGNETIC], 2);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_AXIS], 3);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_METAL], 5);
  for (cavum_index i = 0; i < mesh.num_edges; i++) {
    if (mesh.edges[i].boundary != CAVUM_BOUNDARY_MAGNETIC) continue;
    ck_assert(fabs(mesh.vertices[mesh.edges[i].vertex[0]].z_m) < 1e-12);
  }
  cavum_mesh_clear(&mesh);
}
END_TEST

START_TEST(names_that_the_source_does_not_know_are_refused) {
  cavum_mesh_source source = LOADED;
  source.num_regions = 1;
  refuse_file("loaded-41t", &source,
              "physical surface \"vacuum\" is not among the regions of the cell file; "
              "every surface needs an entry there: add \"vacuum: {}\" for vacuum");
  source = LOADED;
  source.num_boundaries = 0;
  refuse_file("loaded-41t", &source, "physical curve \"beam line\" is not a boundary kind");
  refuse_file("loaded-22t", &source, "physical curve \"beam line\" is not a boundary kind");
  source = LOADED;
  refuse_file("loaded-all-22t", &source, "is in no physical surface");
  source.num_regions = 0;
  refuse_file("loaded-all-22t", &source, "is named but no line of the file belongs to it");
  source = LOADED;
  source.axis = 'y';
  refuse_file("loaded-41t", &source, "not in a plane through the y axis");
}
END_TEST

static const cavum_mesh_source PLAIN = {.unit_m = 1e-3, .axis = 'y'};

// Such an entry was passed over without a word, and the curve that was meant became metal.
START_TEST(names_of_curves_that_the_file_has_not_are_refused) {
  cavum_boundary_name_map maps[2] = {{"beam line", CAVUM_BOUNDARY_AXIS},
                                     {"face", CAVUM_BOUNDARY_MAGNETIC}};
  cavum_mesh_source source = LOADED;
  source.num_boundaries = 2;
  source.boundaries = maps;
  refuse_file("loaded-41t", &source,
              "the cell file says that curve \"face\" is magnetic, but the mesh file has no "
              "physical curve of this name, did you mean 'faces'?; it has \"beam line\", "
              "\"metal\", \"magnetic\", \"faces\"");
  maps[1].name = "vacuum";  // a surface, and no curve
  refuse_file("loaded-22t", &source, "has no physical curve of this name; it has \"beam line\"");
  maps[0].name = "outer";
  source = PLAIN;
  source.num_boundaries = 1;
  source.boundaries = maps;
  refuse_file("plain-groups-0-22t", &source, "\"outer\" is axis, but the mesh file has no");
  refuse_file("plain-groups-0-41t", &source, "physical curve of this name; it has none");
}
END_TEST

START_TEST(missing_boundaries_become_axis_and_metal_and_the_notes_say_so) {
  static const char *const names[2] = {"plain-groups-0-22t", "plain-groups-0-41t"};
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  read_file(&mesh, &notes, names[_i], &PLAIN);
  int counts[6];
  count_boundaries(&mesh, counts);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_AXIS], 2);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_METAL], 6);
  printf("%s\n", notes.boundaries);
  ck_assert(strstr(notes.boundaries, "no physical curves: 2 edges on r = 0 taken as axis"));
  ck_assert_int_eq(mesh.num_regions, 1);
  ck_assert(mesh.regions[0].eps_r == 1.0 && mesh.regions[0].mu_r == 1.0);
  cavum_mesh_clear(&mesh);
}
END_TEST

START_TEST(partial_boundaries_are_completed_and_the_notes_say_so) {
  static const char *const names[8] = {
      "plain-groups-1-22t", "plain-groups-1-41t", "plain-groups-2-22t", "plain-groups-2-41t",
      "plain-groups-3-22t", "plain-groups-3-41t", "plain-periodic-22b", "plain-periodic-41b"};
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  read_file(&mesh, &notes, names[_i], &PLAIN);
  int counts[6];
  count_boundaries(&mesh, counts);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_AXIS], 2);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_METAL], 4);
  ck_assert_int_eq(counts[CAVUM_BOUNDARY_MAGNETIC], 2);
  ck_assert_str_eq(
      notes.boundaries,
      "6 boundary edges are in no physical curve: 2 on r = 0 taken as axis, 4 as metal");
  double area, volume;
  measure(&mesh, -1, &area, &volume);
  CAVUM_CHECK_RELATIVE(area, 0.1 * 0.06, 1e-10);  // from the .geo source, lines off by 1e-12
  ck_assert_int_eq(mesh.num_regions, 1);
  ck_assert_str_eq(mesh.regions[0].name, strstr(names[_i], "-2-") ? "everything" : "inside");
  cavum_mesh_clear(&mesh);
}
END_TEST

START_TEST(kinks_of_a_faceted_sphere) {
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  read_file(&mesh, &notes, "disc-quad-1-41b", &DISC);
  // Closed form: 8 equal facets on a half circle turn by pi / 8 each. The generator spaces nodes by
  // adaptive integration of the arc length, whose tolerance is 1e-7 or so; another facet count
  // would be off by 0.04.
  CAVUM_CHECK_NEAR(notes.largest_kink_rad, CAVUM_PI / 8.0, 1e-6);
  printf("%s\n", notes.kinks);
  ck_assert(strstr(notes.kinks, "largest kink 22 deg") ||
            strstr(notes.kinks, "largest kink 23 deg"));
  ck_assert(strstr(notes.kinks, "edge length squared"));
  cavum_mesh_clear(&mesh);
  read_file(&mesh, &notes, "disc-quad-5-41b", &DISC);
  ck_assert_str_eq(notes.kinks, "");
  cavum_mesh_clear(&mesh);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, disc_of_every_version_form_shape_and_order, 0, 15);
  tcase_add_loop_test(tests, disc_of_high_order, 6, 11);
  tcase_add_loop_test(tests, disc_of_serendipity_elements, 2, 11);
  tcase_add_loop_test(tests, nodes_of_straight_elements_stand_on_the_lattice, 0, 9);
  tcase_add_loop_test(tests, loaded_pillbox_has_its_regions_and_boundaries, 0, 11);
  tcase_add_test(tests, names_that_the_source_does_not_know_are_refused);
  tcase_add_test(tests, names_of_curves_that_the_file_has_not_are_refused);
  tcase_add_loop_test(tests, missing_boundaries_become_axis_and_metal_and_the_notes_say_so, 0, 2);
  tcase_add_loop_test(tests, partial_boundaries_are_completed_and_the_notes_say_so, 0, 8);
  tcase_add_test(tests, kinks_of_a_faceted_sphere);
}

CAVUM_TEST_MAIN("MSH files", add)
