// SPDX-License-Identifier: GPL-3.0-or-later
// The frame of a MSH file: its header, the names of its physical groups, the order of its sections.
// Sections that say nothing about the shape of the mesh are skipped up to their end word.
#include <stdio.h>
#include <string.h>

#include "msh/raw.h"

enum { LONGEST_SECTION = 40 };

void cavum_msh_raw_clear(cavum_msh_raw *raw) {
  for (int64_t i = 0; i < raw->num_names; i++) free(raw->names[i].name);
  free(raw->nodes);
  free(raw->lines);
  free(raw->faces);
  free(raw->connectivity);
  free(raw->blocks);
  free(raw->entities);
  free(raw->physicals);
  free(raw->names);
  memset(raw, 0, sizeof *raw);
}

static cavum_status parse_byte_order(cavum_msh_scan *scan, size_t at) {
  uint32_t word;
  if (scan->size - scan->at < sizeof word) {
    return cavum_msh_fail(scan, at, "the file ends in its header");
  }
  memcpy(&word, scan->data + scan->at, sizeof word);
  if (word != 1 && word != 0x01000000u) {
    return cavum_msh_fail(scan, scan->at, "the binary word that tells the byte order is not 1");
  }
  scan->swap = word != 1;
  scan->at += sizeof word;
  return CAVUM_OK;
}

static cavum_status parse_format(cavum_msh_raw *raw, cavum_msh_scan *scan) {
  cavum_status status = CAVUM_OK;
  const char *token;
  int64_t binary, size;
  size_t length = cavum_msh_peek_token(scan, &token), at = scan->at;
  if (length == 3 && memcmp(token, "2.2", 3) == 0) {
    raw->version = 2;
  } else if (length == 3 && memcmp(token, "4.1", 3) == 0) {
    raw->version = 4;
  } else {
    CAVUM_TRY(cavum_msh_fail(scan, at,
                             "version '%.*s' of the MSH format cannot be read; expected 2.2 or 4.1",
                             (int)(length < 16 ? length : 16), token));
  }
  scan->at += length;
  CAVUM_TRY(cavum_msh_text_integer(scan, &binary, "0 (text) or 1 (binary)"));
  if (binary != 0 && binary != 1) {
    CAVUM_TRY(cavum_msh_fail(scan, at, "file type %lld; expected 0 (text) or 1 (binary)",
                             (long long)binary));
  }
  CAVUM_TRY(cavum_msh_text_integer(scan, &size, "the word size 8"));
  if (size != 8) {
    CAVUM_TRY(cavum_msh_fail(scan, at, "word size %lld; expected 8", (long long)size));
  }
  scan->binary = binary == 1;
  cavum_msh_skip_line(scan);
  if (scan->binary) CAVUM_TRY(parse_byte_order(scan, at));
  CAVUM_TRY(cavum_msh_expect_word(scan, "$EndMeshFormat"));
done:
  return status;
}

// One line `dim tag "name"`.
static cavum_status parse_name(cavum_msh_raw *raw, cavum_msh_scan *scan) {
  cavum_status status = CAVUM_OK;
  int64_t dim, tag;
  CAVUM_TRY(cavum_msh_text_integer(scan, &dim, "the dimension of a physical group"));
  CAVUM_TRY(cavum_msh_text_integer(scan, &tag, "the tag of a physical group"));
  cavum_msh_skip_blanks(scan);
  const char *start = scan->data + scan->at, *limit = scan->data + scan->size;
  const char *line_end = memchr(start, '\n', (size_t)(limit - start));
  if (!line_end) line_end = limit;
  const char *close = line_end;
  while (close > start && close[-1] != '"') close--;
  if (dim < 0 || dim > 3 || start == limit || *start != '"' || close - start < 2) {
    CAVUM_TRY(cavum_msh_fail(scan, scan->at, "expected a physical name: dimension, tag, \"name\""));
  }
  if (!cavum_grow((void **)&raw->names, &raw->name_capacity, raw->num_names + 1,
                  sizeof *raw->names)) {
    CAVUM_TRY(cavum_fail_memory(scan->error));
  }
  char *name = strndup(start + 1, (size_t)(close - start) - 2);
  if (!name) CAVUM_TRY(cavum_fail_memory(scan->error));
  raw->names[raw->num_names++] = (cavum_msh_name){(int)dim, tag, name};
  scan->at = (size_t)(close - scan->data);
done:
  return status;
}

static cavum_status parse_names(cavum_msh_raw *raw, cavum_msh_scan *scan) {
  int64_t count;
  cavum_status status = cavum_msh_text_integer(scan, &count, "the number of physical names");
  if (status == CAVUM_OK) status = cavum_msh_check_count(scan, count, 1, 0, 0, "physical names");
  for (int64_t i = 0; status == CAVUM_OK && i < count; i++) status = parse_name(raw, scan);
  return status;
}

static cavum_status skip_section(cavum_msh_scan *scan, const char *section, size_t at) {
  char end[LONGEST_SECTION + 8];
  snprintf(end, sizeof end, "$End%s", section + 1);
  size_t length = strlen(end);
  const char *found = memmem(scan->data + scan->at, scan->size - scan->at, end, length);
  if (!found) return cavum_msh_fail(scan, at, "section %s has no %s", section, end);
  scan->at = (size_t)(found - scan->data) + length;
  return CAVUM_OK;
}

typedef enum section_kind { SECTION_SKIPPED, SECTION_PARSED } section_kind;

static cavum_status parse_known_section(cavum_msh_raw *raw, cavum_msh_scan *scan,
                                        const char *section, section_kind *kind) {
  *kind = SECTION_PARSED;
  if (strcmp(section, "$PhysicalNames") == 0) return parse_names(raw, scan);
  if (raw->version == 2) {
    if (strcmp(section, "$Nodes") == 0) return cavum_msh_parse_nodes_2(raw, scan, false);
    if (strcmp(section, "$ParametricNodes") == 0) return cavum_msh_parse_nodes_2(raw, scan, true);
    if (strcmp(section, "$Elements") == 0) return cavum_msh_parse_elements_2(raw, scan);
  } else {
    if (strcmp(section, "$Entities") == 0) return cavum_msh_parse_entities_4(raw, scan, false);
    if (strcmp(section, "$PartitionedEntities") == 0) {
      return cavum_msh_parse_entities_4(raw, scan, true);
    }
    if (strcmp(section, "$Nodes") == 0) return cavum_msh_parse_nodes_4(raw, scan);
    if (strcmp(section, "$Elements") == 0) return cavum_msh_parse_elements_4(raw, scan);
  }
  *kind = SECTION_SKIPPED;
  return CAVUM_OK;
}

static cavum_status parse_section(cavum_msh_raw *raw, cavum_msh_scan *scan) {
  cavum_status status = CAVUM_OK;
  const char *token;
  size_t length = cavum_msh_peek_token(scan, &token), at = scan->at;
  char section[LONGEST_SECTION + 1], end[LONGEST_SECTION + 8];
  if (length < 2 || token[0] != '$' || length > LONGEST_SECTION) {
    CAVUM_TRY(cavum_msh_fail(scan, at, "expected the start of a section, such as $Nodes"));
  }
  memcpy(section, token, length);
  section[length] = 0;
  if (memchr(section, 0, length)) {
    CAVUM_TRY(cavum_msh_fail(scan, at, "expected the start of a section, such as $Nodes"));
  }
  scan->at += length;
  section_kind kind;
  // Binary words start right behind the line end.
  cavum_msh_skip_line(scan);
  CAVUM_TRY(parse_known_section(raw, scan, section, &kind));
  if (kind == SECTION_SKIPPED) {
    CAVUM_TRY(skip_section(scan, section, at));
  } else {
    snprintf(end, sizeof end, "$End%s", section + 1);
    CAVUM_TRY(cavum_msh_expect_word(scan, end));
  }
done:
  return status;
}

static int compare_names(const void *left, const void *right) {
  const cavum_msh_name *a = left, *b = right;
  if (a->dim != b->dim) return a->dim < b->dim ? -1 : 1;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

static int compare_entities(const void *left, const void *right) {
  const cavum_msh_entity *a = left, *b = right;
  if (a->dim != b->dim) return a->dim < b->dim ? -1 : 1;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

const char *cavum_msh_find_name(const cavum_msh_raw *raw, int dim, int64_t tag) {
  cavum_msh_name key = {dim, tag, NULL};
  const cavum_msh_name *found =
      raw->num_names == 0
          ? NULL
          : bsearch(&key, raw->names, (size_t)raw->num_names, sizeof key, compare_names);
  return found ? found->name : NULL;
}

// Sorts names and entities, and gives the blocks of version 4.1 the physical groups of their
// entity.
static cavum_status join_tables(cavum_msh_raw *raw, const cavum_msh_scan *scan) {
  if (raw->num_names > 1) {
    qsort(raw->names, (size_t)raw->num_names, sizeof *raw->names, compare_names);
  }
  for (int64_t i = 1; i < raw->num_names; i++) {
    if (compare_names(&raw->names[i - 1], &raw->names[i]) == 0) {
      return cavum_fail(scan->error, CAVUM_ERR_INPUT,
                        "%s: physical group %lld of dimension %d has two names", scan->name,
                        (long long)raw->names[i].tag, raw->names[i].dim);
    }
  }
  if (raw->version == 2 || raw->num_entities == 0) return CAVUM_OK;
  qsort(raw->entities, (size_t)raw->num_entities, sizeof *raw->entities, compare_entities);
  for (int64_t i = 0; i < raw->num_blocks; i++) {
    cavum_msh_block *block = &raw->blocks[i];
    cavum_msh_entity key = {.dim = block->dim, .tag = block->entity};
    const cavum_msh_entity *entity =
        bsearch(&key, raw->entities, (size_t)raw->num_entities, sizeof key, compare_entities);
    if (!entity) continue;
    block->first_physical = entity->first_physical;
    block->num_physicals = entity->num_physicals;
  }
  return CAVUM_OK;
}

cavum_status cavum_msh_parse(cavum_msh_raw *raw, cavum_msh_scan *scan) {
  cavum_status status = CAVUM_OK;
  const char *token;
  size_t length = cavum_msh_peek_token(scan, &token);
  if (length != strlen("$MeshFormat") || memcmp(token, "$MeshFormat", length) != 0) {
    CAVUM_TRY(cavum_msh_fail(scan, scan->at, "not a MSH file: it does not begin with $MeshFormat"));
  }
  scan->at += length;
  CAVUM_TRY(parse_format(raw, scan));
  while (cavum_msh_peek_token(scan, &token) > 0) CAVUM_TRY(parse_section(raw, scan));
  CAVUM_TRY(join_tables(raw, scan));
done:
  return status;
}
