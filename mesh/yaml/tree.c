// SPDX-License-Identifier: GPL-3.0-or-later
// YAML text to a tree, through libyaml's event interface, so that each bound is checked before the
// text that breaks it is taken in. Nodes are linked by index, since their array moves as it grows.
#include "yaml/tree.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <yaml.h>

#include "base/base.h"

/** A tree under construction. */
typedef struct tree_builder {
  const char *name;
  cavum_error *error;
  cavum_yaml_tree tree;
  cavum_index open[CAVUM_YAML_LARGEST_DEPTH];  // mappings and lists that are not yet closed
  int depth;
  char *key;  // owned: a key that waits for its value
  int key_line, key_column;
  int num_documents;
} tree_builder;

void cavum_yaml_tree_clear(cavum_yaml_tree *tree) {
  for (cavum_index i = 0; i < tree->num_nodes; i++) {
    free(tree->nodes[i].key);
    free(tree->nodes[i].text);
  }
  free(tree->nodes);
  memset(tree, 0, sizeof *tree);
}

cavum_yaml_excerpt cavum_yaml_tree_excerpt(const char *text) {
  cavum_yaml_excerpt excerpt = {""};
  if (!text) return excerpt;
  size_t room = sizeof excerpt.text - 4, length = strlen(text), count = length;
  if (length > room) {
    // Not in the middle of a UTF-8 sequence, whose later bytes are 10xxxxxx.
    for (count = room; count > 0 && ((unsigned char)text[count] & 0xC0U) == 0x80U; count--)
      continue;
  }
  for (size_t i = 0; i < count; i++) {
    unsigned char byte = (unsigned char)text[i];
    excerpt.text[i] = byte < 0x20 || byte == 0x7F ? '?' : text[i];
  }
  if (length > room) memcpy(excerpt.text + count, "...", 4);
  return excerpt;
}

void cavum_yaml_error_write(cavum_error *error, cavum_status status, const char *name, int line,
                            int column, const char *format, ...) {
  enum { LONGEST_NAME = 200 };
  char message[CAVUM_MESSAGE_SIZE];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(message, sizeof message, format, arguments);
  va_end(arguments);
  size_t length = strlen(name);
  bool cut = length > LONGEST_NAME;
  cavum_error_write(error, status, "%s%s:%d:%d: %s", cut ? "..." : "",
                    cut ? name + length - LONGEST_NAME : name, line, column, message);
}

/** Fails at the place of an event. */
static cavum_status fail_at(const tree_builder *builder, const yaml_mark_t *mark,
                            const char *expectation) {
  return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, (int)mark->line + 1,
                              (int)mark->column + 1, "%s", expectation);
}

/** Line and column of a byte offset. */
static void locate_offset(int *line, int *column, const char *text, size_t offset) {
  *line = *column = 1;
  for (size_t i = 0; i < offset; i++) {
    (*column)++;
    if (text[i] == '\n') {
      (*line)++;
      *column = 1;
    }
  }
}

// What a word processor or a spreadsheet may have saved, and files that are no text at all: libyaml
// would speak of octets.
static const char *what_is_no_text(const char *text, size_t length) {
  bool wide = length >= 2 && (memcmp(text, "\xff\xfe", 2) == 0 || memcmp(text, "\xfe\xff", 2) == 0);
  if (wide) return "the text is UTF-16: save the file as UTF-8";
  bool zero = length > 0 && memchr(text, '\0', length);
  return zero ? "the file is not text: it holds a zero byte" : NULL;
}

/** Refuses text that is too long or opens too many brackets; libyaml is slow on those. */
static cavum_status check_bounds(const char *text, size_t length, size_t largest, const char *name,
                                 cavum_error *error) {
  int line, column, open = 0;
  if (length > largest) {
    return cavum_yaml_tree_fail(error, CAVUM_ERR_INPUT, name, 1, 1,
                                "the file is longer than %zu bytes, no file of its kind is",
                                largest);
  }
  const char *no_text = what_is_no_text(text, length);
  if (no_text) return cavum_yaml_tree_fail(error, CAVUM_ERR_INPUT, name, 1, 1, "%s", no_text);
  for (size_t i = 0; i < length; i++) {
    if (text[i] == '[' || text[i] == '{') open++;
    if ((text[i] == ']' || text[i] == '}') && open > 0) open--;
    if (open <= CAVUM_YAML_LARGEST_BRACKETS) continue;
    locate_offset(&line, &column, text, i);
    return cavum_yaml_tree_fail(error, CAVUM_ERR_INPUT, name, line, column,
                                "more than %d brackets are open, expected at most %d levels",
                                CAVUM_YAML_LARGEST_BRACKETS, CAVUM_YAML_LARGEST_DEPTH);
  }
  return CAVUM_OK;
}

/** Turns libyaml's account of a syntax error into ours. */
static cavum_status fail_syntax(const tree_builder *builder, const yaml_parser_t *parser,
                                const char *text, size_t length) {
  if (parser->error == YAML_MEMORY_ERROR) return cavum_fail_memory(builder->error);
  const char *problem = parser->problem ? parser->problem : "broken syntax";
  int line = (int)parser->problem_mark.line + 1, column = (int)parser->problem_mark.column + 1;
  if (parser->error == YAML_READER_ERROR) {
    size_t offset = parser->problem_offset < length ? parser->problem_offset : length;
    locate_offset(&line, &column, text, offset);
    if (strstr(problem, "UTF-8")) {
      return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, line, column,
                                  "a letter that is not UTF-8: save the file as UTF-8");
    }
  }
  if (!parser->context) {
    return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, line, column,
                                "no valid YAML: %s", problem);
  }
  return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, line, column,
                              "no valid YAML: %s %s that starts in line %d", problem,
                              parser->context, (int)parser->context_mark.line + 1);
}

/** Copies a scalar after refusing what no value of our files contains. */
static cavum_status copy_scalar(char **out, const tree_builder *builder,
                                const yaml_event_t *event) {
  const yaml_char_t *value = event->data.scalar.value;
  size_t length = event->data.scalar.length;
  for (size_t i = 0; i < length; i++) {
    if (value[i] >= 0x20 && value[i] != 0x7F) continue;
    return fail_at(
        builder, &event->start_mark,
        "line breaks and control characters are not accepted, expected text in one line");
  }
  char *copy = cavum_copy_text((const char *)value);
  if (!copy) return cavum_fail_memory(builder->error);
  *out = copy;
  return CAVUM_OK;
}

/** The open mapping or list that takes the next value; NULL at the root. */
static cavum_yaml_node *current_parent(const tree_builder *builder) {
  if (builder->depth == 0) return NULL;
  return &builder->tree.nodes[builder->open[builder->depth - 1]];
}

static bool wants_key(const tree_builder *builder) {
  const cavum_yaml_node *parent = current_parent(builder);
  return parent && parent->kind == CAVUM_YAML_NODE_MAPPING && !builder->key;
}

/** Takes a scalar as the key of the next value. */
static cavum_status take_key(tree_builder *builder, const yaml_event_t *event) {
  const cavum_yaml_node *parent = current_parent(builder);
  char *key = NULL;
  cavum_status status = copy_scalar(&key, builder, event);
  if (!key) return status;
  CAVUM_ASSERT(parent && builder->tree.nodes);
  builder->key = key;
  builder->key_line = (int)event->start_mark.line + 1;
  builder->key_column = (int)event->start_mark.column + 1;
  if (strcmp(key, "<<") == 0) {
    return fail_at(builder, &event->start_mark,
                   "merge keys (<<) are not accepted, write the keys out");
  }
  if (parent->num_children >= CAVUM_YAML_LARGEST_MAPPING) {
    return fail_at(builder, &event->start_mark, "too many keys in one mapping");
  }
  for (cavum_index i = parent->first_child; i >= 0; i = builder->tree.nodes[i].next) {
    const cavum_yaml_node *other = &builder->tree.nodes[i];
    if (strcmp(other->key, builder->key) != 0) continue;
    return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, builder->key_line,
                                builder->key_column,
                                "key '%s' comes twice, it was first given in line %d",
                                cavum_yaml_tree_excerpt(builder->key).text, other->key_line);
  }
  return CAVUM_OK;
}

/** Appends a node to the open mapping or list and hands it the waiting key. */
static cavum_status add_node(tree_builder *builder, const yaml_event_t *event,
                             cavum_yaml_node_kind kind) {
  cavum_yaml_tree *tree = &builder->tree;
  void *nodes = tree->nodes;
  if (tree->num_nodes >= CAVUM_YAML_LARGEST_COUNT) {
    return fail_at(builder, &event->start_mark, "too many values for a cell file");
  }
  bool grown =
      cavum_grow(&nodes, &tree->capacity, (int64_t)tree->num_nodes + 1, sizeof *tree->nodes);
  tree->nodes = nodes;
  if (!grown) return cavum_fail_memory(builder->error);
  cavum_index index = tree->num_nodes++;
  cavum_yaml_node node = {.kind = kind,
                          .line = (int)event->start_mark.line + 1,
                          .column = (int)event->start_mark.column + 1,
                          .key = builder->key,
                          .key_line = builder->key_line,
                          .key_column = builder->key_column,
                          .first_child = -1,
                          .last_child = -1,
                          .next = -1};
  builder->key = NULL;
  tree->nodes[index] = node;
  cavum_yaml_node *parent = current_parent(builder);
  if (!parent) return CAVUM_OK;
  if (parent->last_child >= 0) tree->nodes[parent->last_child].next = index;
  if (parent->first_child < 0) parent->first_child = index;
  parent->last_child = index;
  parent->num_children++;
  return CAVUM_OK;
}

static cavum_status take_scalar(tree_builder *builder, const yaml_event_t *event) {
  if (wants_key(builder)) return take_key(builder, event);
  cavum_status status = add_node(builder, event, CAVUM_YAML_NODE_SCALAR);
  if (status != CAVUM_OK) return status;
  cavum_yaml_node *node = &builder->tree.nodes[builder->tree.num_nodes - 1];
  node->plain = event->data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
  return copy_scalar(&node->text, builder, event);
}

static cavum_status open_collection(tree_builder *builder, const yaml_event_t *event,
                                    cavum_yaml_node_kind kind) {
  if (wants_key(builder)) {
    return fail_at(builder, &event->start_mark, "a key must be a word, found a mapping or a list");
  }
  if (builder->depth >= CAVUM_YAML_LARGEST_DEPTH) {
    return fail_at(builder, &event->start_mark, "nested too deeply for a cell file");
  }
  cavum_status status = add_node(builder, event, kind);
  if (status != CAVUM_OK) return status;
  builder->open[builder->depth++] = builder->tree.num_nodes - 1;
  return CAVUM_OK;
}

/** Refuses anchors and tags: nothing in our files needs them. */
static cavum_status check_decorations(const tree_builder *builder, const yaml_event_t *event,
                                      const yaml_char_t *anchor, const yaml_char_t *tag) {
  if (anchor) {
    return fail_at(builder, &event->start_mark,
                   "anchors (&name) are not accepted, write values out");
  }
  if (tag) return fail_at(builder, &event->start_mark, "tags (!name) are not accepted");
  return CAVUM_OK;
}

static cavum_status take_event(tree_builder *builder, const yaml_event_t *event) {
  cavum_status status = CAVUM_OK;
  switch (event->type) {
    case YAML_DOCUMENT_START_EVENT:
      if (++builder->num_documents == 1) return CAVUM_OK;
      return fail_at(builder, &event->start_mark,
                     "a second document starts here, expected one cell in a file");
    case YAML_ALIAS_EVENT:
      return fail_at(builder, &event->start_mark,
                     "aliases (*name) are not accepted, write the value out");
    case YAML_SCALAR_EVENT:
      status = check_decorations(builder, event, event->data.scalar.anchor, event->data.scalar.tag);
      if (status != CAVUM_OK) return status;
      return take_scalar(builder, event);
    case YAML_SEQUENCE_START_EVENT:
      status = check_decorations(builder, event, event->data.sequence_start.anchor,
                                 event->data.sequence_start.tag);
      if (status != CAVUM_OK) return status;
      return open_collection(builder, event, CAVUM_YAML_NODE_LIST);
    case YAML_MAPPING_START_EVENT:
      status = check_decorations(builder, event, event->data.mapping_start.anchor,
                                 event->data.mapping_start.tag);
      if (status != CAVUM_OK) return status;
      return open_collection(builder, event, CAVUM_YAML_NODE_MAPPING);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
      builder->depth--;
      break;
    default:
      break;
  }
  return status;
}

static cavum_status take_all_events(tree_builder *builder, yaml_parser_t *parser, const char *text,
                                    size_t length) {
  for (bool more = true; more;) {
    yaml_event_t event;
    if (!yaml_parser_parse(parser, &event)) return fail_syntax(builder, parser, text, length);
    cavum_status status = take_event(builder, &event);
    more = event.type != YAML_STREAM_END_EVENT;
    yaml_event_delete(&event);
    if (status != CAVUM_OK) return status;
  }
  if (builder->tree.num_nodes > 0) return CAVUM_OK;
  return cavum_yaml_tree_fail(builder->error, CAVUM_ERR_INPUT, builder->name, 1, 1,
                              "the file is empty, keys and their values were expected");
}

// Bytes of the mark that some editors put before UTF-8: libyaml takes it for a column of the first
// line, and the keys below for keys of another mapping.
static size_t length_of_mark(const char *text, size_t length) {
  static const char mark[] = "\xef\xbb\xbf";
  return length >= 3 && memcmp(text, mark, 3) == 0 ? 3 : 0;
}

cavum_status cavum_yaml_tree_read(cavum_yaml_tree *tree, const char *text, size_t length,
                                  size_t largest, const char *name, cavum_error *error) {
  size_t mark = length_of_mark(text, length);
  text += mark;
  length -= mark;
  cavum_status status = check_bounds(text, length, largest, name, error);
  if (status != CAVUM_OK) return status;
  tree_builder builder = {.name = name, .error = error};
  yaml_parser_t parser;
  if (!yaml_parser_initialize(&parser)) return cavum_fail_memory(error);
  yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
  yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
  status = take_all_events(&builder, &parser, text, length);
  yaml_parser_delete(&parser);
  free(builder.key);
  if (status == CAVUM_OK) {
    *tree = builder.tree;
  } else {
    cavum_yaml_tree_clear(&builder.tree);
  }
  return status;
}

size_t cavum_yaml_tree_byte(const char *text, int line, int column) {
  const char *place = text + length_of_mark(text, strlen(text));
  for (int i = 1; i < line; i++) {
    const char *end = strchr(place, '\n');
    if (!end) return strlen(text);
    place = end + 1;
  }
  for (int i = 1; i < column && *place;) {
    place++;
    if (((unsigned char)*place & 0xc0) != 0x80) i++;
  }
  return (size_t)(place - text);
}
