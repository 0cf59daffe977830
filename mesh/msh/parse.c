// SPDX-License-Identifier: GPL-3.0-or-later
// The outer layer of a MSH file: its header, the names of its physical groups, the order of its
// sections. Sections that say nothing about the shape of the mesh are skipped up to their end word.
#include "msh/parse.h"

#include <stdio.h>
#include <string.h>

enum { LONGEST_SECTION = 40 };

static cavum_status parse_byte_order(cavum_msh_cursor *cursor, size_t at) {
  uint32_t word;
  if (cursor->size - cursor->at < sizeof word) {
    return cavum_msh_fail(cursor, at, "the file ends in its header");
  }
  memcpy(&word, cursor->data + cursor->at, sizeof word);
  if (word != 1 && word != 0x01000000u) {
    return cavum_msh_fail(cursor, cursor->at, "the binary word that tells the byte order is not 1");
  }
  cursor->swap = word != 1;
  cursor->at += sizeof word;
  return CAVUM_OK;
}

static cavum_status parse_format(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  const char *token;
  int64_t binary, size;
  size_t length = cavum_msh_peek_token(cursor, &token), at = cursor->at;
  if (length == 3 && memcmp(token, "2.2", 3) == 0) {
    raw->version = 2;
  } else if (length == 3 && memcmp(token, "4.1", 3) == 0) {
    raw->version = 4;
  } else {
    return cavum_msh_fail(cursor, at,
                          "version '%.*s' of the MSH format cannot be read; expected 2.2 or 4.1",
                          (int)(length < 16 ? length : 16), token);
  }
  cursor->at += length;
  status = cavum_msh_text_integer(cursor, &binary, "0 (text) or 1 (binary)");
  if (status != CAVUM_OK) return status;
  if (binary != 0 && binary != 1) {
    return cavum_msh_fail(cursor, at, "file type %lld; expected 0 (text) or 1 (binary)",
                          (long long)binary);
  }
  status = cavum_msh_text_integer(cursor, &size, "the word size 8");
  if (status != CAVUM_OK) return status;
  if (size != 8) {
    return cavum_msh_fail(cursor, at, "word size %lld; expected 8", (long long)size);
  }
  cursor->binary = binary == 1;
  cavum_msh_skip_line(cursor);
  if (cursor->binary) {
    status = parse_byte_order(cursor, at);
    if (status != CAVUM_OK) return status;
  }
  return cavum_msh_expect_word(cursor, "$EndMeshFormat");
}

// One line `dim tag "name"`.
static cavum_status parse_name(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t dim, tag;
  status = cavum_msh_text_integer(cursor, &dim, "the dimension of a physical group");
  if (status == CAVUM_OK) {
    status = cavum_msh_text_integer(cursor, &tag, "the tag of a physical group");
  }
  if (status != CAVUM_OK) return status;
  cavum_msh_skip_blanks(cursor);
  const char *start = cursor->data + cursor->at, *limit = cursor->data + cursor->size;
  const char *line_end = memchr(start, '\n', (size_t)(limit - start));
  if (!line_end) line_end = limit;
  const char *close = line_end;
  while (close > start && close[-1] != '"') close--;
  if (dim < 0 || dim > 3 || start == limit || *start != '"' || close - start < 2) {
    return cavum_msh_fail(cursor, cursor->at, "expected a physical name: dimension, tag, \"name\"");
  }
  if (!cavum_grow((void **)&raw->names, &raw->name_capacity, raw->num_names + 1,
                  sizeof *raw->names)) {
    return cavum_fail_memory(cursor->error);
  }
  char *name = strndup(start + 1, (size_t)(close - start) - 2);
  if (!name) return cavum_fail_memory(cursor->error);
  raw->names[raw->num_names++] = (cavum_msh_name){(int)dim, tag, name};
  cursor->at = (size_t)(close - cursor->data);
  return status;
}

static cavum_status parse_names(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  int64_t count;
  cavum_status status = cavum_msh_text_integer(cursor, &count, "the number of physical names");
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, count, 1, 0, 0, "physical names");
  for (int64_t i = 0; status == CAVUM_OK && i < count; i++) status = parse_name(raw, cursor);
  return status;
}

static cavum_status skip_section(cavum_msh_cursor *cursor, const char *section, size_t at) {
  char end[LONGEST_SECTION + 8];
  snprintf(end, sizeof end, "$End%s", section + 1);
  size_t length = strlen(end);
  const char *found = memmem(cursor->data + cursor->at, cursor->size - cursor->at, end, length);
  if (!found) return cavum_msh_fail(cursor, at, "section %s has no %s", section, end);
  cursor->at = (size_t)(found - cursor->data) + length;
  return CAVUM_OK;
}

typedef enum section_kind { SECTION_SKIPPED, SECTION_PARSED } section_kind;

static cavum_status parse_known_section(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        const char *section, section_kind *kind) {
  *kind = SECTION_PARSED;
  if (strcmp(section, "$PhysicalNames") == 0) return parse_names(raw, cursor);
  if (raw->version == 2) {
    if (strcmp(section, "$Nodes") == 0) return cavum_msh_parse_nodes_2(raw, cursor, false);
    if (strcmp(section, "$ParametricNodes") == 0) return cavum_msh_parse_nodes_2(raw, cursor, true);
    if (strcmp(section, "$Elements") == 0) return cavum_msh_parse_elements_2(raw, cursor);
  } else {
    if (strcmp(section, "$Entities") == 0) return cavum_msh_parse_entities_4(raw, cursor, false);
    if (strcmp(section, "$PartitionedEntities") == 0) {
      return cavum_msh_parse_entities_4(raw, cursor, true);
    }
    if (strcmp(section, "$Nodes") == 0) return cavum_msh_parse_nodes_4(raw, cursor);
    if (strcmp(section, "$Elements") == 0) return cavum_msh_parse_elements_4(raw, cursor);
  }
  *kind = SECTION_SKIPPED;
  return CAVUM_OK;
}

static cavum_status parse_section(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token), at = cursor->at;
  char section[LONGEST_SECTION + 1], end[LONGEST_SECTION + 8];
  if (length < 2 || token[0] != '$' || length > LONGEST_SECTION) {
    return cavum_msh_fail(cursor, at, "expected the start of a section, such as $Nodes");
  }
  memcpy(section, token, length);
  section[length] = 0;
  if (memchr(section, 0, length)) {
    return cavum_msh_fail(cursor, at, "expected the start of a section, such as $Nodes");
  }
  cursor->at += length;
  section_kind kind;
  // Binary words start right behind the line end.
  cavum_msh_skip_line(cursor);
  status = parse_known_section(raw, cursor, section, &kind);
  if (status != CAVUM_OK) return status;
  if (kind == SECTION_SKIPPED) {
    status = skip_section(cursor, section, at);
    if (status != CAVUM_OK) return status;
  } else {
    snprintf(end, sizeof end, "$End%s", section + 1);
    status = cavum_msh_expect_word(cursor, end);
    if (status != CAVUM_OK) return status;
  }
  return status;
}

cavum_status cavum_msh_parse(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token);
  if (length != strlen("$MeshFormat") || memcmp(token, "$MeshFormat", length) != 0) {
    return cavum_msh_fail(cursor, cursor->at, "not a MSH file: it does not begin with $MeshFormat");
  }
  cursor->at += length;
  status = parse_format(raw, cursor);
  if (status != CAVUM_OK) return status;
  while (cavum_msh_peek_token(cursor, &token) > 0) {
    status = parse_section(raw, cursor);
    if (status != CAVUM_OK) return status;
  }
  return cavum_msh_raw_join_tables(raw, cursor);
}
