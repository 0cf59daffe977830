// SPDX-License-Identifier: GPL-3.0-or-later
// The MSH reader on files written by hand: what is accepted, and one clear line for all that is
// not.
#include <string.h>

#include "base/base.h"
#include "msh/read.h"
#include "support.h"

// A pillbox of two triangles, 2 long and 1 in radius, in version 2.2 and in 4.1.
static const char TEXT_2[] =
    "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n"
    "$PhysicalNames\n3\n1 1 \"axis\"\n1 2 \"metal\"\n2 3 \"vacuum\"\n$EndPhysicalNames\n"
    "$Nodes\n4\n1 0 0 0\n2 2 0 0\n3 2 1 0\n4 0 1 0\n$EndNodes\n"
    "$Elements\n6\n1 1 2 1 1 1 2\n2 1 2 2 2 2 3\n3 1 2 2 2 3 4\n4 1 2 2 2 4 1\n"
    "5 2 2 3 1 1 2 3\n6 2 2 3 1 1 3 4\n$EndElements\n";
static const char TEXT_4[] =
    "$MeshFormat\n4.1 0 8\n$EndMeshFormat\n"
    "$PhysicalNames\n3\n1 1 \"axis\"\n1 2 \"metal\"\n2 3 \"vacuum\"\n$EndPhysicalNames\n"
    "$Entities\n0 2 1 0\n1 0 0 0 2 0 0 1 1 0\n2 0 0 0 2 1 0 1 2 0\n1 0 0 0 2 1 0 1 3 2 1 -2\n"
    "$EndEntities\n"
    "$Nodes\n1 4 1 4\n2 1 0 4\n1\n2\n3\n4\n0 0 0\n2 0 0\n2 1 0\n0 1 0\n$EndNodes\n"
    "$Elements\n3 6 1 6\n1 1 1 1\n1 1 2\n1 2 1 3\n2 2 3\n3 3 4\n4 4 1\n2 1 2 2\n5 1 2 3\n6 1 3 4\n"
    "$EndElements\n";

static const cavum_mesh_source SOURCE = {.path = "box.msh", .unit_m = 1.0, .axis = 'x'};

// The text with the first appearance of `what` replaced; free() it.
static char *replace(const char *text, const char *what, const char *by) {
  const char *at = strstr(text, what);
  ck_assert_msg(at, "'%s' is not in the text", what);
  char *out = malloc(strlen(text) + strlen(by) + 1);
  sprintf(out, "%.*s%s%s", (int)(at - text), text, by, at + strlen(what));
  return out;
}

static void accept_text(cavum_mesh *mesh, cavum_mesh_notes *notes, const char *text) {
  cavum_error error;
  cavum_status status = cavum_msh_read_memory(mesh, notes, &SOURCE, text, strlen(text), &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

static void refuse(const char *data, size_t size, const cavum_mesh_source *source,
                   const char *expected) {
  cavum_error error;
  cavum_mesh mesh = {.num_vertices = -7};
  cavum_mesh_notes notes = {.boundaries = "x"};
  cavum_status status = cavum_msh_read_memory(&mesh, &notes, source, data, size, &error);
  ck_assert_msg(status == CAVUM_ERR_INPUT, "accepted, expected '%s'", expected);
  printf("%s\n", error.message);
  ck_assert_msg(strstr(error.message, expected), "'%s' is not in '%s'", expected, error.message);
  ck_assert(!strchr(error.message, '\n'));
  ck_assert_int_eq(mesh.num_vertices, -7);  // untouched
  ck_assert_str_eq(notes.boundaries, "x");
}

START_TEST(both_versions_give_the_same_mesh) {
  for (int version = 0; version < 2; version++) {
    cavum_mesh mesh;
    cavum_mesh_notes notes;
    accept_text(&mesh, &notes, version ? TEXT_4 : TEXT_2);
    ck_assert_int_eq(mesh.num_vertices, 4);
    ck_assert_int_eq(mesh.num_edges, 5);
    ck_assert_int_eq(mesh.num_elements, 2);
    ck_assert_int_eq(mesh.num_regions, 1);
    ck_assert_str_eq(mesh.regions[0].name, "vacuum");
    ck_assert_str_eq(notes.boundaries, "");
    ck_assert_str_eq(notes.kinks, "");  // corners of 90 degrees are corners
    const cavum_boundary expected[5] = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL,
                                        CAVUM_BOUNDARY_NONE, CAVUM_BOUNDARY_METAL,
                                        CAVUM_BOUNDARY_METAL};
    for (int i = 0; i < 5; i++) ck_assert_int_eq(mesh.edges[i].boundary, expected[i]);
    ck_assert(mesh.vertices[2].z_m == 2.0 && mesh.vertices[2].r_m == 1.0);
    cavum_mesh_clear(&mesh);
  }
}
END_TEST

typedef struct change {
  int version;
  const char *what, *by;
} change;

static const change ACCEPTED[] = {
    {2, "$Nodes", "$Comments\nanything 1 2 3\n$EndComments\n$Nodes"},
    {2, "5 2 2 3 1 1 2 3", "5 2 2 3 1 1 3 2"},              // clockwise: turned over
    {2, "$Elements\n6\n", "$Elements\n7\n9 15 2 0 1 1\n"},  // points are skipped
    {2, "1 1 2 1 1 1 2", "1 1 4 1 1 7 9 1 2"},              // more tags than two
    {2, "4 1 2 2 2 4 1", "4 1 0 4 1"},                      // no tags: metal by default
    {2, "4\n1 0 0 0", "5\n77 1e30 -5 3\n1 0 0 0"},          // a node that nobody uses
    {2, "3\n1 1 \"axis\"", "3\n1 1   \"axis\"  "},
    {2, "2 2 0 0\n", "2 2 -1e-11 0\n"},  // rounding below the axis
    {2, "$MeshFormat", "\n\n$MeshFormat"},
    {4, "1 2 0\n1 0 0", "1 -2 0\n1 0 0"},  // negative physical: orientation only
    {4, "$Nodes", "$Periodic\n0\n$EndPeriodic\n$Nodes"},
    {4, "$EndElements\n", "$EndElements\n$NodeData\n1\n\"x\"\n$EndNodeData"},
    {4, "2 1 0 4\n1\n2\n3\n4\n0 0 0\n2 0 0\n2 1 0\n0 1 0",
     "2 1 1 4\n1\n2\n3\n4\n0 0 0 5 6\n2 0 0 5 6\n2 1 0 5 6\n0 1 0 5 6"},
};

START_TEST(harmless_variants_are_accepted) {
  const change *c = &ACCEPTED[_i];
  char *text = replace(c->version == 2 ? TEXT_2 : TEXT_4, c->what, c->by);
  cavum_mesh mesh;
  accept_text(&mesh, NULL, text);
  ck_assert_int_eq(mesh.num_elements, 2);
  ck_assert_int_eq(mesh.num_edges, 5);
  for (int v = 0; v < 4; v++) ck_assert(mesh.vertices[v].r_m == (v < 2 ? 0.0 : 1.0));
  int metal = 0;
  for (int i = 0; i < 5; i++) metal += mesh.edges[i].boundary == CAVUM_BOUNDARY_METAL;
  ck_assert_int_eq(metal, 3);
  cavum_mesh_clear(&mesh);
  free(text);
}
END_TEST

typedef struct refusal {
  int version;
  const char *what, *by, *expected;
} refusal;

static const refusal REFUSED[] = {
    {2, "$MeshFormat\n2.2", "$Mesh\n2.2", "box.msh:1:1: not a MSH file"},
    {2, "2.2 0 8", "4.0 0 8", "box.msh:2:1: version '4.0'"},
    {2, "2.2 0 8", "2.2 7 8", "file type 7"},
    {2, "2.2 0 8", "2.2 0 4", "word size 4"},
    {2, "1 1 \"axis\"", "1 1 axis", "box.msh:6:5: expected a physical name"},
    {2, "1 2 \"metal\"", "1 1 \"metal\"", "has two names"},
    {2, "\n4\n1 0 0 0", "\n400000000000\n1 0 0 0", "box.msh:11:1: 400000000000 nodes cannot be in"},
    {2, "\n4\n1 0 0 0", "\n-4\n1 0 0 0", "-4 nodes cannot be in"},
    {2, "\n4\n1 0 0 0", "\n99999999999999999999\n1 0 0 0", "expected the number of nodes"},
    {2, "\n4\n1 0 0 0", "\n3\n1 0 0 0", "expected $EndNodes, found '4'"},
    {2, "\n4\n1 0 0 0", "\n5\n1 0 0 0", "box.msh:16:1: expected a node tag, found '$EndNodes'"},
    {2, "2 2 0 0\n", "2 2 nan 0\n", "box.msh:13:5: a coordinate of a node is not a finite"},
    {2, "2 2 0 0\n", "2 1e999 0 0\n", "not a finite number: 1e999"},
    {2, "2 2 0 0\n", "2 2 zero 0\n", "expected a coordinate of a node, found 'zero'"},
    {2, "2 2 0 0\n", "1 2 0 0\n", "node tag 1 appears twice"},
    {2, "2 2 0 0\n", "-2 2 0 0\n", "box.msh:13:1: node tag -2 is not positive"},
    {2, "2 2 0 0\n", "5000000000 2 0 0\n", "does not fit 32 bits"},
    {2, "2 2 0 0\n", "2 2 -0.1 0\n", "node 2 lies below the axis: y = -0.1"},
    {2, "3 2 1 0\n", "3 2 1 0.5\n", "not in a plane through the x axis"},
    {2, "5 2 2 3 1 1 2 3", "5 2 2 3 1 1 2 8", "element 5 uses node 8"},
    {2, "5 2 2 3 1 1 2 3", "6 2 2 3 1 1 2 3", "element tag 6 appears twice"},
    {2, "5 2 2 3 1 1 2 3", "5 2 2 3 1 1 2 2", "element 5 is folded or flat"},
    {2, "5 2 2 3 1 1 2 3", "5 4 2 3 1 1 2 3 4", "element type 4 is three-dimensional"},
    {2, "5 2 2 3 1 1 2 3", "5 34 2 3 1 1 2 3", "element type 34 is not supported"},
    {2, "5 2 2 3 1 1 2 3", "5 -1 2 3 1 1 2 3", "element type -1 is not supported"},
    {2, "5 2 2 3 1 1 2 3", "5 2 -2 3 1 1 2 3", "-2 tags of an element cannot be in"},
    {2, "5 2 2 3 1 1 2 3", "5 9 2 3 1 1 2 3 1 2 3", "expected one order throughout"},
    {2, "1 1 2 1 1 1 2", "1 8 2 1 1 1 2 3", "line element 1 has order 2"},
    {2, "6 2 2 3 1 1 3 4", "6 3 2 3 1 1 3 2 4", "element 6 is folded or flat"},
    {2, "6 2 2 3 1 1 3 4", "6 2 2 3 1 1 2 4", "elements 5 and 6 share an edge but overlap"},
    {2, "$EndElements\n", "", "box.msh:25:1: expected $EndElements, found the end of the file"},
    {2, "$EndElements\n", "$EndElements\n$Odd\n1 2 3\n", "section $Odd has no $EndOdd"},
    {2, "$EndElements\n", "$EndElements\nrest\n", "expected the start of a section"},
    {2, "4 1 2 2 2 4 1", "4 1 2 1 2 4 1", "an edge in \"axis\" begins at z = 0, r = 1"},
    {2, "1 1 2 1 1 1 2", "1 1 2 2 1 1 2", "an edge on r = 0 at z = 0 is metal; expected axis"},
    {2, "4 1 2 2 2 4 1", "4 1 2 9 2 4 1", "physical curve \"9\" is not a boundary kind"},
    {2, "\"metal\"", "\"wall\"", "physical curve \"wall\" is not a boundary kind"},
    {2,
     "\n6\n1 1 2 1 1 1 2\n2 1 2 2 2 2 3\n3 1 2 2 2 3 4\n4 1 2 2 2 4 1\n5 2 2 3 1 1 2 3\n6 2 2 3 1 "
     "1 3 4",
     "\n2\n1 1 2 1 1 1 2\n2 1 2 2 2 2 3",
     "no triangles or quadrilaterals in the file, only lines of physical curves; expected a "
     "physical group for the surfaces too, or all elements saved"},
    {2,
     "\n6\n1 1 2 1 1 1 2\n2 1 2 2 2 2 3\n3 1 2 2 2 3 4\n4 1 2 2 2 4 1\n5 2 2 3 1 1 2 3\n6 2 2 3 1 "
     "1 3 4",
     "\n1\n1 15 0 1", "no triangles or quadrilaterals in the file"},
    {4, "0 2 1 0\n1 0", "0 9000000 1 0\n1 0", "9000000 entities cannot be in"},
    {4, "1 2 0\n1 0 0", "900 2 0\n1 0 0", "900 physical groups cannot be in"},
    {4, "$Nodes\n1 4", "$Nodes\n1 5", "5 nodes announced, 4 in the blocks"},
    {4, "$Nodes\n1 4", "$Nodes\n2 4", "expected the dimension of an entity, found '$EndNodes'"},
    {4, "2 1 0 4\n1", "2 1 0 4000\n1", "4000 nodes cannot be in"},
    {4, "2 1 0 4\n1", "2 1 5 4\n1", "parametric 5"},
    {4, "2 1 0 4\n1", "7 1 0 4\n1", "a block of nodes of dimension 7"},
    {4, "\n3 6 1 6\n", "\n3 7 1 6\n", "7 elements announced, 6 in the blocks"},
    {4, "\n2 1 2 2\n", "\n1 1 2 2\n", "elements of type 2 on an entity of dimension 1"},
    {4, "\n2 1 2 2\n", "\n2 1 2 18446744073709551615\n", "expected the number of elements"},
    {4, "\n2 1 2 2\n", "\n2 1 2 9223372036854775807\n", "cannot be in"},
    {4, "\n2 1 2 2\n", "\n2 1 2 -2\n", "the number of elements is negative"},
    {4, "2 2 3\n3 3 4", "-2 2 3\n3 3 4", "element tag"},
    {4, "\n2 1 2 2\n5 1 2 3\n6 1 3 4\n", "\n", "expected the dimension of an entity"},
};

START_TEST(bad_files_are_refused_in_one_line) {
  const refusal *r = &REFUSED[_i];
  char *text = replace(r->version == 2 ? TEXT_2 : TEXT_4, r->what, r->by);
  refuse(text, strlen(text), &SOURCE, r->expected);
  free(text);
}
END_TEST

START_TEST(bad_sources_are_refused) {
  cavum_mesh_source source = SOURCE;
  source.axis = 'w';
  refuse(TEXT_2, strlen(TEXT_2), &source, "axis has the code 119, expected 'x', 'y' or 'z'");
  source = SOURCE;
  source.unit_m = 0.0;
  refuse(TEXT_2, strlen(TEXT_2), &source, "expected a positive length");
  source.unit_m = 1e300;
  refuse(TEXT_2, strlen(TEXT_2), &source, "no size, or one that no cavity has");
  cavum_error error;
  cavum_mesh mesh;
  source = SOURCE;
  source.path = CAVUM_TEST_FOLDER "/msh/data/no-such-file.msh";
  ck_assert_int_eq(cavum_mesh_read_msh(&mesh, NULL, &source, &error), CAVUM_ERR_FILE);
  source.path = CAVUM_TEST_FOLDER;
  ck_assert_int_eq(cavum_mesh_read_msh(&mesh, NULL, &source, &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert(strstr(error.message, "is a folder, expected a file"));
  source.path = "/dev/null";
  ck_assert_int_eq(cavum_mesh_read_msh(&mesh, NULL, &source, &error), CAVUM_ERR_FILE);
  ck_assert(strstr(error.message, "not a regular file"));
}
END_TEST

START_TEST(two_parts_that_touch_without_sharing_nodes_are_refused) {
  const char *text =
      "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n"
      "$Nodes\n6\n1 0 0 0\n2 2 0 0\n3 2 1 0\n4 0 1 0\n5 0 0 0\n6 2 1 0\n$EndNodes\n"
      "$Elements\n2\n5 2 2 0 1 1 2 3\n6 2 2 0 1 5 6 4\n$EndElements\n";
  refuse(text, strlen(text), &SOURCE, "touch at z = 2, r = 1 without sharing nodes");
}
END_TEST

// Two squares; what differs is how the right one is cut and which nodes it shares.
#define SQUARES(nodes, elements)                                                           \
  "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$Nodes\n" nodes "$EndNodes\n$Elements\n" elements \
  "$EndElements\n"
#define LEFT "1 0 0 0\n2 1 0 0\n3 1 1 0\n4 0 1 0\n5 2 0 0\n6 2 1 0\n7 2 0.5 0\n8 1 0.5 0\n"

START_TEST(a_side_that_is_cut_on_the_other_side_is_refused) {
  // The right half is cut at r = 0.5; the ends of the side are shared.
  const char *shared =
      SQUARES("8\n" LEFT, "3\n1 3 2 0 1 1 2 3 4\n2 3 2 0 1 2 5 7 8\n3 3 2 0 1 8 7 6 3\n");
  refuse(shared, strlen(shared), &SOURCE, "share the node there but no edge");
  // Nothing is shared, and the node at r = 0.5 lies on the side of the left half.
  const char *apart = SQUARES("10\n" LEFT "9 1 0 0\n10 1 1 0\n",
                              "3\n1 3 2 0 1 1 2 3 4\n2 3 2 0 1 9 5 7 8\n3 3 2 0 1 8 7 6 10\n");
  refuse(apart, strlen(apart), &SOURCE,
         "a node at z = 1, r = 0.5 lies on an edge that is not its own");
}
END_TEST

// They share one node, at which the outline passes twice: the solve wrote beyond its memory.
START_TEST(parts_that_touch_at_a_node_are_refused) {
  const char *text = SQUARES("7\n1 0 0 0\n2 1 0 0\n3 1 1 0\n4 0 1 0\n5 2 1 0\n6 2 2 0\n7 1 2 0\n",
                             "2\n1 3 2 0 1 1 2 3 4\n2 3 2 0 1 3 5 6 7\n");
  refuse(text, strlen(text), &SOURCE, "elements at z = 1, r = 1 share the node there but no edge");
}
END_TEST

START_TEST(parts_that_share_nothing_are_told) {
  const char *text =
      SQUARES("8\n1 0 0 0\n2 1 0 0\n3 1 1 0\n4 0 1 0\n5 3 0 0\n6 4 0 0\n7 4 1 0\n8 3 1 0\n",
              "2\n1 3 2 0 1 1 2 3 4\n2 3 2 0 1 5 6 7 8\n");
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  accept_text(&mesh, &notes, text);
  printf("%s\n", notes.boundaries);
  ck_assert_ptr_nonnull(strstr(notes.boundaries, "2 parts that share no edge"));
  cavum_mesh_clear(&mesh);
}
END_TEST

START_TEST(scattered_node_tags_are_found) {
  cavum_mesh mesh;
  char *text = replace(TEXT_4, "\n1\n2\n3\n4\n0 0 0", "\n1\n2\n3\n9000000000000000000\n0 0 0");
  char *again = replace(text, "4 4 1\n", "4 9000000000000000000 1\n");
  free(text);
  text = replace(again, "3 3 4\n", "3 3 9000000000000000000\n");
  free(again);
  again = replace(text, "6 1 3 4\n", "6 1 3 9000000000000000000\n");
  accept_text(&mesh, NULL, again);
  ck_assert_int_eq(mesh.num_vertices, 4);
  ck_assert(mesh.vertices[3].z_m == 0.0 && mesh.vertices[3].r_m == 1.0);
  cavum_mesh_clear(&mesh);
  free(text);
  free(again);
}
END_TEST

START_TEST(every_plane_through_the_axis_is_found) {
  // The box with its coordinates in any order: the axis is named, r is the other that varies.
  static const char axes[6][2] = {{0, 1}, {0, 2}, {1, 0}, {1, 2}, {2, 0}, {2, 1}};
  const double z[4] = {0, 2, 2, 0}, r[4] = {0, 0, 1, 1};
  char nodes[256] = "";
  for (int n = 0; n < 4; n++) {
    double x[3] = {0, 0, 0};
    x[(int)axes[_i][0]] = z[n];
    x[(int)axes[_i][1]] = r[n];
    sprintf(nodes + strlen(nodes), "%d %g %g %g\n", n + 1, x[0], x[1], x[2]);
  }
  char *text = replace(TEXT_2, "1 0 0 0\n2 2 0 0\n3 2 1 0\n4 0 1 0\n", nodes);
  cavum_mesh_source source = SOURCE;
  source.axis = (char)('x' + axes[_i][0]);
  source.unit_m = 0.5;
  cavum_mesh mesh;
  ck_assert_int_eq(cavum_msh_read_memory(&mesh, NULL, &source, text, strlen(text), NULL), CAVUM_OK);
  for (int n = 0; n < 4; n++) {
    ck_assert(mesh.vertices[n].z_m == 0.5 * z[n] && mesh.vertices[n].r_m == 0.5 * r[n]);
  }
  cavum_mesh_clear(&mesh);
  free(text);
}
END_TEST

START_TEST(lines_off_the_boundary_are_ignored_and_counted) {
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  char *text = replace(TEXT_2, "$Elements\n6\n", "$Elements\n7\n9 1 2 2 1 1 3\n");
  accept_text(&mesh, &notes, text);
  printf("%s\n", notes.boundaries);
  ck_assert(
      strstr(notes.boundaries, "1 lines of physical curves are not on the boundary: ignored"));
  cavum_mesh_clear(&mesh);
  free(text);
}
END_TEST

// Bytes of a binary file under construction, in either byte order.
typedef struct bytes {
  char data[4096];
  size_t size;
  bool swap;
} bytes;

static void put_word(bytes *b, const void *word, size_t size) {
  for (size_t i = 0; i < size; i++) {
    b->data[b->size++] = ((const char *)word)[b->swap ? size - 1 - i : i];
  }
}

static void put_text(bytes *b, const char *text) {
  memcpy(b->data + b->size, text, strlen(text));
  b->size += strlen(text);
}

static void put_ints(bytes *b, int count, const int32_t *values) {
  for (int i = 0; i < count; i++) put_word(b, &values[i], 4);
}

static void put_sizes(bytes *b, int count, const int64_t *values) {
  for (int i = 0; i < count; i++) put_word(b, &values[i], 8);
}

static void make_binary(bytes *b, bool swap) {
  const double nodes[12] = {0, 0, 0, 2, 0, 0, 2, 1, 0, 0, 1, 0};
  *b = (bytes){.swap = swap};
  put_text(b, "$MeshFormat\n4.1 1 8\n");
  put_ints(b, 1, (int32_t[]){1});
  put_text(b, "\n$EndMeshFormat\n$Nodes\n");
  put_sizes(b, 4, (int64_t[]){1, 4, 1, 4});
  put_ints(b, 3, (int32_t[]){2, 1, 0});
  put_sizes(b, 5, (int64_t[]){4, 1, 2, 3, 4});
  for (int i = 0; i < 12; i++) put_word(b, &nodes[i], 8);
  put_text(b, "\n$EndNodes\n$Elements\n");
  put_sizes(b, 4, (int64_t[]){1, 1, 1, 1});
  put_ints(b, 3, (int32_t[]){2, 1, 3});
  put_sizes(b, 6, (int64_t[]){1, 7, 1, 2, 3, 4});
  put_text(b, "\n$EndElements\n");
}

START_TEST(binary_files_of_both_byte_orders) {
  bytes b;
  cavum_mesh mesh;
  make_binary(&b, _i);
  ck_assert_int_eq(cavum_msh_read_memory(&mesh, NULL, &SOURCE, b.data, b.size, NULL), CAVUM_OK);
  ck_assert_int_eq(mesh.num_elements, 1);
  ck_assert(mesh.vertices[2].z_m == 2.0 && mesh.vertices[2].r_m == 1.0);
  cavum_mesh_clear(&mesh);
  char *order = strstr(b.data, "4.1 1 8\n") + 8;
  order[1] = 5;
  refuse(b.data, b.size, &SOURCE, "box.msh: byte 20: the binary word that tells the byte order");
  make_binary(&b, _i);
  b.data[b.size - strlen("\n$EndElements\n") - 9] ^= 1;
  refuse(b.data, b.size - 20, &SOURCE, "box.msh: byte ");
}
END_TEST

// Every beginning of a file must be refused or give a whole mesh, and the reader must survive it.
START_TEST(truncated_files_are_refused) {
  static const char *const names[6] = {"disc-mixed-2-22t", "disc-mixed-2-22b",
                                       "disc-mixed-2-41t", "disc-mixed-2-41b",
                                       "loaded-parts-41b", "loaded-parametric-22b"};
  char path[512];
  snprintf(path, sizeof path, CAVUM_TEST_FOLDER "/msh/data/%s.msh", names[_i]);
  FILE *file = fopen(path, "rb");
  ck_assert(file);
  static char data[1 << 17];
  size_t size = fread(data, 1, sizeof data, file);
  fclose(file);
  ck_assert(size > 1000 && size < sizeof data);
  size_t elements = size - strlen("$EndElements\n");
  for (size_t length = 0; length < elements; length += length < 200 ? 1 : 7) {
    char *copy = malloc(length + 1);  // its own block: the address sanitizer sees every overrun
    memcpy(copy, data, length);
    cavum_mesh mesh;
    cavum_error error;
    cavum_status status = cavum_msh_read_memory(&mesh, NULL, &SOURCE, copy, length, &error);
    ck_assert_msg(status == CAVUM_ERR_INPUT, "%zu of %zu bytes were accepted", length, size);
    free(copy);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, both_versions_give_the_same_mesh);
  tcase_add_loop_test(tests, harmless_variants_are_accepted, 0,
                      (int)(sizeof ACCEPTED / sizeof ACCEPTED[0]));
  tcase_add_loop_test(tests, bad_files_are_refused_in_one_line, 0,
                      (int)(sizeof REFUSED / sizeof REFUSED[0]));
  tcase_add_test(tests, bad_sources_are_refused);
  tcase_add_test(tests, two_parts_that_touch_without_sharing_nodes_are_refused);
  tcase_add_test(tests, a_side_that_is_cut_on_the_other_side_is_refused);
  tcase_add_test(tests, parts_that_touch_at_a_node_are_refused);
  tcase_add_test(tests, parts_that_share_nothing_are_told);
  tcase_add_test(tests, scattered_node_tags_are_found);
  tcase_add_loop_test(tests, every_plane_through_the_axis_is_found, 0, 6);
  tcase_add_test(tests, lines_off_the_boundary_are_ignored_and_counted);
  tcase_add_loop_test(tests, binary_files_of_both_byte_orders, 0, 2);
  tcase_add_loop_test(tests, truncated_files_are_refused, 0, 6);
}

CAVUM_TEST_MAIN("MSH reader", add)
