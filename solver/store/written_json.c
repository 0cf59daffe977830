// SPDX-License-Identifier: GPL-3.0-or-later
// What `draw`, `report` and `mesh` wrote. Sizes are read from the file itself, so that they are
// those that any other program finds there.
#include "store/written_json.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "store/coldtest_load.h"

static const char *const KINDS[] = {
    [CAVUM_STORED_RESULT] = "result", [CAVUM_STORED_COLDTEST] = "coldtest",
    [CAVUM_STORED_SCAN] = "scan",     [CAVUM_STORED_SPREAD] = "spread",
    [CAVUM_STORED_STEPS] = "steps",   [CAVUM_STORED_AS_BUILT] = "as-built"};

// A PNG: 8 bytes of signature, then length and name of the first block, then width and height, the
// most significant byte first.
enum { PNG_WIDTH_AT = 16, PNG_HEIGHT_AT = 20, PNG_LEAST = 24 };

static json_t *pixels(const cavum_written_page *page, int at) {
  const unsigned char *b = (const unsigned char *)page->bytes + at;
  if (page->size < PNG_LEAST) return json_null();
  return json_integer(((json_int_t)b[0] << 24) | (b[1] << 16) | (b[2] << 8) | b[3]);
}

// The same text in a file of binary parts; NULL: not there.
static const char *find_text(const cavum_written_page *page, const char *text) {
  return memmem(page->bytes, page->size, text, strlen(text));
}

// Points of 1/72 inch to millimetres.
static json_t *millimetres(double points) {
  return cavum_json_number(cavum_in_mm(cavum_from_unit(points / 72.0, CAVUM_UNIT_INCH)));
}

static bool set_paper(json_t *root, const cavum_written_page *page) {
  double width = NAN, height = NAN;
  const char *width_at = find_text(page, " width=\""), *height_at = find_text(page, " height=\"");
  const char *box = find_text(page, "/MediaBox [");
  if (strcmp(page->format, "svg") == 0 && width_at && height_at) {
    width = strtod(width_at + sizeof " width=\"" - 1, NULL);
    height = strtod(height_at + sizeof " height=\"" - 1, NULL);
  } else if (box) {
    char *next = NULL;
    double left = strtod(box + sizeof "/MediaBox [" - 1, &next);
    double bottom = strtod(next, &next);
    width = strtod(next, &next) - left;
    height = strtod(next, &next) - bottom;
  }
  return cavum_json_set(root, "width_mm", millimetres(width)) &&
         cavum_json_set(root, "height_mm", millimetres(height));
}

static bool set_size(json_t *root, const cavum_written_page *page) {
  if (strcmp(page->format, "png") != 0) return set_paper(root, page);
  return cavum_json_set(root, "width_px", pixels(page, PNG_WIDTH_AT)) &&
         cavum_json_set(root, "height_px", pixels(page, PNG_HEIGHT_AT));
}

static bool set_choices(json_t *root, const cavum_written_page *page) {
  bool good = true;
  for (int i = 0; i < page->num_choices && good; i++) {
    const cavum_written_choice *choice = &page->choices[i];
    good = cavum_json_set(root, choice->key,
                          choice->word ? json_string(choice->word) : json_integer(choice->number));
  }
  return good;
}

static cavum_status set_sources(json_t *root, const cavum_written_page *page, cavum_error *error) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "sources", list);
  for (int i = 0; i < page->num_sources && good; i++) {
    cavum_stored_kind kind = CAVUM_STORED_RESULT;
    cavum_status status = cavum_stored_find_kind(&kind, page->sources[i], error);
    if (status != CAVUM_OK) return status;
    json_t *one = json_pack("{s:s, s:s}", "file", page->sources[i], "kind", KINDS[kind]);
    good = json_array_append_new(list, one) == 0;
  }
  return good ? CAVUM_OK : cavum_fail_memory(error);
}

static json_t *start(const cavum_written_page *page) {
  return json_pack("{s:s, s:s, s:s, s:I}", "cavum", cavum_version(), "file", page->path, "format",
                   page->format, "bytes", (json_int_t)page->size);
}

// Takes the tree over.
static cavum_status finish(char **text, json_t *root, cavum_error *error) {
  char *made = root ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}

cavum_status cavum_written_picture_json(char **text, const cavum_written_page *page,
                                        cavum_error *error) {
  json_t *root = start(page);
  bool good = root && set_size(root, page) && set_choices(root, page);
  cavum_status status = good ? set_sources(root, page, error) : cavum_fail_memory(error);
  if (status == CAVUM_OK) return finish(text, root, error);
  json_decref(root);
  return status;
}

static int count_text(const cavum_written_page *page, const char *text) {
  int count = 0;
  for (const char *at = page->bytes; (at = strstr(at, text)) != NULL; at++) count++;
  return count;
}

// Anchors of the headings, in their order.
static bool set_sections(json_t *root, const cavum_written_page *page) {
  static const char heading[] = "<h2 id=\"";
  json_t *list = json_array();
  bool good = cavum_json_set(root, "sections", list);
  for (const char *at = page->bytes; good && (at = strstr(at, heading)) != NULL;) {
    at += sizeof heading - 1;
    good = json_array_append_new(list, json_stringn(at, strcspn(at, "\""))) == 0;
  }
  return good;
}

cavum_status cavum_written_report_json(char **text, const cavum_written_page *page,
                                       cavum_error *error) {
  json_t *root = start(page);
  bool good = root && set_sections(root, page) &&
              cavum_json_set(root, "pictures", json_integer(count_text(page, "<figure"))) &&
              cavum_json_set(root, "tables", json_integer(count_text(page, "<table")));
  cavum_status status = good ? set_sources(root, page, error) : cavum_fail_memory(error);
  if (status == CAVUM_OK) return finish(text, root, error);
  json_decref(root);
  return status;
}

static json_t *note(const char *text) { return text[0] ? json_string(text) : json_null(); }

cavum_status cavum_written_mesh_json(char **text, const cavum_written_mesh *mesh,
                                     cavum_error *error) {
  cavum_mesh_quality quality = cavum_mesh_measure_quality(mesh->mesh);
  json_t *root = json_pack(
      "{s:s, s:s, s:s, s:b, s:i, s:s, s:i, s:i, s:o, s:i, s:o, s:o, s:o, s:o}", "cavum",
      cavum_version(), "file", mesh->path, "format", "msh 4.1", "binary", (int)mesh->binary,
      "order", mesh->order, "unit", mesh->unit, "elements", (int)mesh->mesh->num_elements,
      "corners", (int)mesh->mesh->num_vertices, "smallest_over_largest_jacobian",
      cavum_json_number(quality.smallest_scaled_jacobian), "worst_element",
      (int)quality.worst_element, "smallest_angle_deg",
      cavum_json_number(cavum_in_unit(quality.smallest_angle_rad, CAVUM_UNIT_DEGREE)),
      "largest_angle_deg",
      cavum_json_number(cavum_in_unit(quality.largest_angle_rad, CAVUM_UNIT_DEGREE)), "boundaries",
      note(mesh->notes->boundaries), "kinks", note(mesh->notes->kinks));
  return finish(text, root, error);
}
