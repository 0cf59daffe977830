// SPDX-License-Identifier: GPL-3.0-or-later
// Told by what is in a file, not by its name.
#include "cli/input_kind.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "cli/file_head.h"
#include "store/coldtest_load.h"

typedef struct kind {
  unsigned bit;  // 0: no command reads it as its input.
  const char *text;
} kind;

static const kind CELL = {
    CAVUM_INPUT_CELL, "is a cell file; cavum solve, tune, tolerances, as-built and mesh take it"};
static const kind STUDY = {CAVUM_INPUT_STUDY, "is a study; cavum scan takes it"};
// With a cell and nothing that tells more: a file that a reader of any of these kinds explains
// best.
static const kind NAMES_A_CELL = {CAVUM_INPUT_STUDY | CAVUM_INPUT_CHAIN | CAVUM_INPUT_GOAL,
                                  "is a study; cavum scan takes it"};
static const kind TEST = {CAVUM_INPUT_TEST, "is the file of a cold test; cavum coldtest takes it"};
static const kind RESULT = {CAVUM_INPUT_RESULT,
                            "is a result of cavum solve; cavum draw, report and compare take it"};
static const kind COLDTEST = {CAVUM_INPUT_COLDTEST,
                              "is a result of cavum coldtest; cavum draw and report take it"};
static const kind SCAN = {
    CAVUM_INPUT_SCAN,
    "is a result of cavum scan; cavum scan --summary, draw, compare and report take it"};
static const kind SPREAD = {CAVUM_INPUT_SPREAD,
                            "is a result of cavum tolerances; cavum draw and report take it"};
static const kind STEPS = {CAVUM_INPUT_STEPS,
                           "is a result of cavum steps; cavum draw and report take it"};
static const kind AS_BUILT = {CAVUM_INPUT_AS_BUILT,
                              "is a result of cavum as-built; cavum draw and report take it"};
static const kind CHAIN = {CAVUM_INPUT_CHAIN, "is a step file; cavum steps takes it"};
static const kind GOAL = {CAVUM_INPUT_GOAL, "is a goal; cavum optimise takes it"};
static const kind SHOP = {CAVUM_INPUT_SHOP,
                          "is a file of tolerances; cavum tolerances CELL.yaml --from takes it"};
static const kind HDF5 = {0, "is an HDF5 file, but not one that this command takes"};
static const kind MESH = {0,
                          "is a MSH file; a cell file names it: contour: {kind: mesh, file: ...}"};
static const kind PICTURE = {0, "is a picture; pictures are written, not read"};
static const kind PAGE = {0, "is a web page; reports are written, not read"};
static const kind JSON = {0, "is JSON, which cavum writes for other programs but does not read"};
static const kind READINGS = {
    0, "is a table of readings; the file of a cold test names it: readings: {file: ...}"};

// A key of the outermost mapping, at the beginning of a line.
static bool has_key(const char *head, const char *key) {
  size_t length = strlen(key);
  for (const char *line = head; line; line = strchr(line, '\n')) {
    if (*line == '\n') line++;
    if (strncmp(line, key, length) == 0 && line[length] == ':') return true;
  }
  return false;
}

static const kind *kind_of_text(const char *head) {
  static const struct {
    const char *key;
    const kind *kind;
  } keys[] = {{"contour", &CELL},   {"minimise", &GOAL}, {"maximise", &GOAL},
              {"minimize", &GOAL},  {"maximize", &GOAL}, {"steps", &CHAIN},
              {"vary", &STUDY},     {"table", &STUDY},   {"cell", &NAMES_A_CELL},
              {"readings", &TEST},  {"channels", &TEST}, {"plan", &TEST},
              {"tolerances", &SHOP}};
  if (cavum_file_head_begins(head, "$MeshFormat")) return &MESH;
  if (cavum_file_head_begins(head, "<!DOCTYPE html>")) return &PAGE;
  if (cavum_file_head_begins(head, "<?xml") || cavum_file_head_begins(head, "<svg"))
    return &PICTURE;
  if (cavum_file_head_begins(head, "{\"cavum\":") || cavum_file_head_begins(head, "{\n"))
    return &JSON;
  // A step file varies nothing: with both it is a goal that says not yet what is to be best.
  if (has_key(head, "steps") && has_key(head, "vary")) return &GOAL;
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    if (has_key(head, keys[i].key)) return keys[i].kind;
  }
  size_t line = strcspn(head, "\r\n");
  bool is_table = memchr(head, ',', line) && (strstr(head, "forward_") || strstr(head, "time_"));
  return is_table ? &READINGS : NULL;
}

static const kind *kind_of(const char *path) {
  cavum_file_head head;
  cavum_stored_kind stored;
  if (!cavum_file_head_read(&head, path)) return NULL;
  bool picture = cavum_file_head_begins(head.text, "\x89PNG\r\n") ||
                 cavum_file_head_begins(head.text, "%PDF-");
  if (picture) return &PICTURE;
  if (!cavum_file_head_is_hdf5(&head)) return kind_of_text(head.text);
  if (cavum_stored_find_kind(&stored, path, NULL) != CAVUM_OK) return &HDF5;
  return stored == CAVUM_STORED_RESULT     ? &RESULT
         : stored == CAVUM_STORED_COLDTEST ? &COLDTEST
         : stored == CAVUM_STORED_SPREAD   ? &SPREAD
         : stored == CAVUM_STORED_STEPS    ? &STEPS
         : stored == CAVUM_STORED_AS_BUILT ? &AS_BUILT
                                           : &SCAN;
}

const char *cavum_input_kind_text(const char *path) {
  const kind *found = kind_of(path);
  return found ? found->text : NULL;
}

cavum_status cavum_input_explain(cavum_status status, const char *path, unsigned wanted,
                                 cavum_error *error) {
  if (status != CAVUM_ERR_INPUT && status != CAVUM_ERR_FILE) return status;
  // A message about another file, one that this one names, is right as it is.
  if (!cavum_file_head_begins(error->message, path)) return status;
  const kind *found = kind_of(path);
  if (!found || (found->bit & wanted) || (found == &HDF5 && wanted >= CAVUM_INPUT_RESULT)) {
    return status;
  }
  snprintf(error->message, sizeof error->message, "%.400s: %s", path, found->text);
  return status;
}
