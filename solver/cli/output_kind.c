// SPDX-License-Identifier: GPL-3.0-or-later
// Endings, and the first bytes of files. Names alone do not tell a file of ours: anyone may have a
// results.csv.
#include "cli/output_kind.h"

#include <stdint.h>
#include <string.h>
#include <strings.h>

#include "cli/file_head.h"
#include "hdf5/seal.h"
#include "store/coldtest_load.h"

#define KIND(name) (UINT64_C(1) << CAVUM_OUTPUT_##name)
#define ANY_HDF5                                                                                \
  (KIND(RESULT) | KIND(COLDTEST) | KIND(SCAN) | KIND(COMPARISON) | KIND(SPREAD) | KIND(STEPS) | \
   KIND(AS_BUILT) | KIND(PLAN) | KIND(OPTIMUM) | KIND(FRONT))
#define ANY_JSON                                                                                  \
  (KIND(RESULT_JSON) | KIND(COLDTEST_JSON) | KIND(SOURCES_JSON) | KIND(COMPARISON_JSON) |         \
   KIND(SPREAD_JSON) | KIND(STEPS_JSON) | KIND(AS_BUILT_JSON) | KIND(OPTIMUM_JSON) |              \
   KIND(TUNE_JSON) | KIND(PICTURE_JSON) | KIND(REPORT_JSON) | KIND(MESH_JSON) | KIND(SCAN_JSON) | \
   KIND(FIGURES_JSON))
#define ANY_CELL (KIND(CELL) | KIND(TUNED_CELL))
#define ANY_CSV (KIND(COLDTEST_CSV) | KIND(SCAN_CSV) | KIND(COMPARISON_CSV))
_Static_assert(CAVUM_NUM_OUTPUT_KINDS <= 64, "a bit for each kind");

const char *cavum_output_kind_name(cavum_output_kind kind) {
  static const char *const names[CAVUM_NUM_OUTPUT_KINDS] = {
      [CAVUM_OUTPUT_RESULT] = "a result of cavum solve",
      [CAVUM_OUTPUT_COLDTEST] = "a result of cavum coldtest",
      [CAVUM_OUTPUT_SCAN] = "a result of cavum scan",
      [CAVUM_OUTPUT_PLAN] = "a plan of cavum coldtest",
      [CAVUM_OUTPUT_OPTIMUM] = "a result of cavum optimise",
      [CAVUM_OUTPUT_FRONT] = "a front of cavum optimise",
      [CAVUM_OUTPUT_COMPARISON] = "HDF5 of cavum compare",
      [CAVUM_OUTPUT_SPREAD] = "a result of cavum tolerances",
      [CAVUM_OUTPUT_STEPS] = "a result of cavum steps",
      [CAVUM_OUTPUT_AS_BUILT] = "a result of cavum as-built",
      [CAVUM_OUTPUT_COMPARISON_JSON] = "JSON of cavum compare",
      [CAVUM_OUTPUT_COMPARISON_CSV] = "CSV of cavum compare",
      [CAVUM_OUTPUT_RESULT_JSON] = "JSON of cavum solve",
      [CAVUM_OUTPUT_COLDTEST_JSON] = "JSON of cavum coldtest",
      [CAVUM_OUTPUT_SPREAD_JSON] = "JSON of cavum tolerances",
      [CAVUM_OUTPUT_STEPS_JSON] = "JSON of cavum steps",
      [CAVUM_OUTPUT_AS_BUILT_JSON] = "JSON of cavum as-built",
      [CAVUM_OUTPUT_TUNE_JSON] = "JSON of cavum tune",
      [CAVUM_OUTPUT_OPTIMUM_JSON] = "JSON of cavum optimise",
      [CAVUM_OUTPUT_SOURCES_JSON] = "the sources of a scan",
      [CAVUM_OUTPUT_COLDTEST_CSV] = "CSV of cavum coldtest",
      [CAVUM_OUTPUT_SCAN_CSV] = "CSV of cavum scan",
      [CAVUM_OUTPUT_CELL] = "a cell file of cavum scan",
      [CAVUM_OUTPUT_TUNED_CELL] = "a cell file",
      [CAVUM_OUTPUT_MESH] = "a MSH file of cavum",
      [CAVUM_OUTPUT_PICTURE] = "a picture of cavum in that format",
      [CAVUM_OUTPUT_REPORT] = "a report of cavum",
      [CAVUM_OUTPUT_PICTURE_JSON] = "JSON of cavum draw",
      [CAVUM_OUTPUT_REPORT_JSON] = "JSON of cavum report",
      [CAVUM_OUTPUT_MESH_JSON] = "JSON of cavum mesh",
      [CAVUM_OUTPUT_SCAN_JSON] = "JSON of cavum scan",
      [CAVUM_OUTPUT_FIGURES_JSON] = "JSON of cavum figures"};
  return names[kind];
}

// What an ending says, and the kinds that it is right for.
static const struct ending {
  const char *text, *format;
  uint64_t kinds;
} endings[] = {
    {"hdf", "HDF5", ANY_HDF5},
    {"h5", "HDF5", ANY_HDF5},
    {"hdf5", "HDF5", ANY_HDF5},
    {"he5", "HDF5", ANY_HDF5},
    {"vtkhdf", "HDF5", ANY_HDF5},
    {"json", "JSON", ANY_JSON},
    {"csv", "CSV", ANY_CSV},
    {"txt", "text", ANY_JSON | ANY_CSV | ANY_CELL | KIND(MESH)},
    {"tsv", "TSV", 0},
    {"yaml", "YAML", ANY_CELL},
    {"yml", "YAML", ANY_CELL},
    {"msh", "MSH", KIND(MESH)},
    {"png", "PNG", KIND(PICTURE)},
    {"svg", "SVG", KIND(PICTURE)},
    {"pdf", "PDF", KIND(PICTURE)},
    {"html", "HTML", KIND(REPORT)},
    {"htm", "HTML", KIND(REPORT)},
    {"xhtml", "XHTML", 0},
    {"xml", "XML", 0},
    {"md", "Markdown", 0},
    {"tex", "TeX", 0},
    {"docx", "DOCX", 0},
    {"odt", "ODT", 0},
    {"xlsx", "XLSX", 0},
    {"ods", "ODS", 0},
    {"jpg", "JPEG", 0},
    {"jpeg", "JPEG", 0},
    {"gif", "GIF", 0},
    {"tif", "TIFF", 0},
    {"tiff", "TIFF", 0},
    {"bmp", "BMP", 0},
    {"eps", "PostScript", 0},
    {"ps", "PostScript", 0},
    {"vtk", "VTK", 0},
    {"vtu", "VTK XML", 0},
    {"vtp", "VTK XML", 0},
    {"xdmf", "XDMF", 0},
    {"nc", "NetCDF", 0},
    {"mat", "MATLAB", 0},
    {"npy", "NumPy", 0},
    {"npz", "NumPy", 0},
    {"stl", "STL", 0},
    {"step", "STEP", 0},
    {"stp", "STEP", 0},
    {"iges", "IGES", 0},
    {"igs", "IGES", 0},
    {"dxf", "DXF", 0},
    {"unv", "UNV", 0},
    {"gz", "gzip", 0},
    {"xz", "xz", 0},
    {"bz2", "bzip2", 0},
    {"zst", "Zstandard", 0},
    {"zip", "ZIP", 0},
    {"tar", "tar", 0},
};

// Behind the last dot of the name; "" when there is none.
static const char *ending_of(const char *path) {
  const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
  const char *dot = strrchr(name, '.');
  return dot && dot > name ? dot + 1 : "";
}

const char *cavum_output_kind_other_ending(cavum_output_kind kind, const char *path) {
  for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
    if (strcasecmp(endings[i].text, ending_of(path)) != 0) continue;
    return endings[i].kinds & (UINT64_C(1) << kind) ? NULL : endings[i].format;
  }
  return NULL;
}

bool cavum_output_kind_hides_from_paraview(cavum_output_kind kind, const char *path) {
  static const char *const unknown[] = {"h5", "hdf5", "he5", "vtkhdf"};
  for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++) {
    if (strcasecmp(ending_of(path), unknown[i]) == 0) {
      return kind == CAVUM_OUTPUT_RESULT || kind == CAVUM_OUTPUT_OPTIMUM;
    }
  }
  return false;
}

// A name in quotation marks with its colon cannot be part of a text: marks in texts have a
// backslash before them.
static bool is_json_with(const char *head, const char *member) {
  return head[0] == '{' && strstr(head, "\"cavum\":") && strstr(head, member);
}

static bool is_pdf(const char *head, const char *path) {
  cavum_file_head tail;
  return cavum_file_head_begins(head, "%PDF-") && cavum_file_head_read_tail(&tail, path) &&
         cavum_file_head_holds(&tail, "/Creator (cavum)");
}

// Others make pictures and meshes, too: ours say who made them.
static bool is_picture(const cavum_file_head *head, const char *path) {
  const char *ending = ending_of(path);
  if (strcasecmp(ending, "png") == 0) {
    return cavum_file_head_begins(head->text, "\x89PNG\r\n") &&
           cavum_file_head_holds(head, "cavum picture");
  }
  if (strcasecmp(ending, "pdf") == 0) return is_pdf(head->text, path);
  return strstr(head->text, "<svg ") && strstr(head->text, "cavum-title");
}

static bool is_stored(cavum_output_kind kind, const char *head, const char *path) {
  static const struct {
    const char *seal;
    bool is_told_by_groups;  // of a file that lost its seal: what else its groups say
    cavum_stored_kind stored;
  } kinds[] = {[CAVUM_OUTPUT_RESULT] = {"result", true, CAVUM_STORED_RESULT},
               [CAVUM_OUTPUT_COLDTEST] = {"coldtest", true, CAVUM_STORED_COLDTEST},
               [CAVUM_OUTPUT_SCAN] = {"scan", true, CAVUM_STORED_SCAN},
               [CAVUM_OUTPUT_PLAN] = {.seal = "plan"},
               [CAVUM_OUTPUT_OPTIMUM] = {.seal = "optimum"},
               [CAVUM_OUTPUT_FRONT] = {.seal = "front"},
               [CAVUM_OUTPUT_COMPARISON] = {.seal = "comparison"},
               [CAVUM_OUTPUT_SPREAD] = {"spread", true, CAVUM_STORED_SPREAD},
               [CAVUM_OUTPUT_STEPS] = {"steps", true, CAVUM_STORED_STEPS},
               [CAVUM_OUTPUT_AS_BUILT] = {"as-built", true, CAVUM_STORED_AS_BUILT}};
  cavum_stored_kind found;
  cavum_seal seal;
  if (!cavum_file_head_begins(head, "\x89HDF\r\n")) return false;
  if (cavum_seal_find(&seal, path)) return strcmp(seal.kind, kinds[kind].seal) == 0;
  return kinds[kind].is_told_by_groups && cavum_stored_find_kind(&found, path, NULL) == CAVUM_OK &&
         found == kinds[kind].stored;
}

static bool head_matches(cavum_output_kind kind, const cavum_file_head *bytes, const char *path) {
  const char *head = bytes->text;
  switch (kind) {
    case CAVUM_OUTPUT_RESULT:
    case CAVUM_OUTPUT_COLDTEST:
    case CAVUM_OUTPUT_SCAN:
    case CAVUM_OUTPUT_PLAN:
    case CAVUM_OUTPUT_OPTIMUM:
    case CAVUM_OUTPUT_FRONT:
    case CAVUM_OUTPUT_COMPARISON:
    case CAVUM_OUTPUT_SPREAD:
    case CAVUM_OUTPUT_STEPS:
    case CAVUM_OUTPUT_AS_BUILT:
      return is_stored(kind, head, path);
    case CAVUM_OUTPUT_RESULT_JSON:
      return is_json_with(head, "\"accelerating_length\":");
    case CAVUM_OUTPUT_COLDTEST_JSON:
      return is_json_with(head, "\"test_file_sha256\":");
    case CAVUM_OUTPUT_COMPARISON_JSON:
      return is_json_with(head, "\"cavum comparison 1\"") ||
             is_json_with(head, "\"compared_results\":") ||
             is_json_with(head, "\"compared_studies\":");
    case CAVUM_OUTPUT_SPREAD_JSON:
      return is_json_with(head, "\"samples_without_a_shape\":");
    case CAVUM_OUTPUT_STEPS_JSON:
      return is_json_with(head, "\"behind_each_step\":");
    case CAVUM_OUTPUT_AS_BUILT_JSON:
      return is_json_with(head, "\"walls_drawn\":");
    case CAVUM_OUTPUT_TUNE_JSON:
      return is_json_with(head, "\"aims_met\":");
    case CAVUM_OUTPUT_OPTIMUM_JSON:
      return is_json_with(head, "\"first_order_conditions_met\":");
    case CAVUM_OUTPUT_COMPARISON_CSV:
      return cavum_file_head_begins(head, "test,point,gradient_V_per_m,");
    case CAVUM_OUTPUT_SOURCES_JSON:
      return is_json_with(head, "\"batches_by_host\":");
    case CAVUM_OUTPUT_COLDTEST_CSV:
      return cavum_file_head_begins(head, "point,line,frequency_Hz,bath_temperature_K,");
    case CAVUM_OUTPUT_SCAN_CSV:
      return cavum_file_head_begins(head, "shape,status,");
    case CAVUM_OUTPUT_CELL:
      return cavum_file_head_begins(head, "# Shape ");
    case CAVUM_OUTPUT_TUNED_CELL:  // it looks like a file that somebody wrote
      return false;
    case CAVUM_OUTPUT_MESH:
      return cavum_file_head_begins(head, "$MeshFormat") &&
             cavum_file_head_holds(bytes, "$Comments\ncavum\n");
    case CAVUM_OUTPUT_PICTURE:
      return is_picture(bytes, path);
    case CAVUM_OUTPUT_REPORT:
      return cavum_file_head_begins(head, "<!DOCTYPE html>") &&
             strstr(head, "name=\"generator\" content=\"cavum\"");
    case CAVUM_OUTPUT_PICTURE_JSON:
      return is_json_with(head, "\"sources\":") &&
             (strstr(head, "\"width_px\":") || strstr(head, "\"width_mm\":"));
    case CAVUM_OUTPUT_REPORT_JSON:
      return is_json_with(head, "\"sources\":") && strstr(head, "\"sections\":");
    case CAVUM_OUTPUT_MESH_JSON:
      return is_json_with(head, "\"smallest_over_largest_jacobian\":");
    case CAVUM_OUTPUT_SCAN_JSON:
      return is_json_with(head, "\"by_status\":") || is_json_with(head, "\"record_bytes\":");
    case CAVUM_OUTPUT_FIGURES_JSON:
      return is_json_with(head, "\"definition\":");
    case CAVUM_NUM_OUTPUT_KINDS:
      break;
  }
  return false;
}

bool cavum_output_kind_lacks_seal(const char *path) {
  cavum_file_head head;
  cavum_seal seal;
  return cavum_file_head_read(&head, path) && cavum_file_head_is_hdf5(&head) &&
         !cavum_seal_find(&seal, path);
}

bool cavum_output_kind_matches(cavum_output_kind kind, const char *path) {
  cavum_file_head head;
  if (!cavum_file_head_read(&head, path)) return false;
  return head.length == 0 || head_matches(kind, &head, path);
}
