// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file yaml/tree.h
 * YAML text as a tree of nodes that remember where they stand. The only part that sees libyaml.
 */
#ifndef CAVUM_YAML_TREE_H
#define CAVUM_YAML_TREE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/base.h"
#include "cavum/contour.h"

/** Bounds that keep a hostile text from costing time or memory; none is near an honest file.
 */
enum {
  CAVUM_YAML_LARGEST_TEXT = 1 << 20, /**< Bytes of a text that has no reason to be longer. */
  CAVUM_YAML_LARGEST_DEPTH = 16,     /**< Mappings and lists within each other. */
  CAVUM_YAML_LARGEST_BRACKETS = 64,  /**< Open brackets, counted before libyaml sees the text. */
  CAVUM_YAML_LARGEST_COUNT = 100000, /**< Nodes. */
  CAVUM_YAML_LARGEST_MAPPING = 200   /**< Keys of one mapping. */
};

/** Kind of a node. */
typedef enum cavum_yaml_node_kind {
  CAVUM_YAML_NODE_SCALAR,
  CAVUM_YAML_NODE_MAPPING,
  CAVUM_YAML_NODE_LIST
} cavum_yaml_node_kind;

/** One value of the file, with its key when it stands in a mapping. */
typedef struct cavum_yaml_node {
  cavum_yaml_node_kind kind;
  int line, column;         /**< Of the value, from 1. */
  char *key;                /**< Owned; NULL in a list and at the root. */
  int key_line, key_column; /**< Of the key, from 1. */
  char *text;               /**< Owned; scalars only: one line without control characters. */
  bool plain;               /**< Scalars only: written without quotes. */
  cavum_index num_children;
  cavum_index first_child, last_child, next; /**< Indices into the tree, -1 for none. */
} cavum_yaml_node;

/** A file as a tree; node 0 is the root. */
typedef struct cavum_yaml_tree {
  cavum_index num_nodes;
  int64_t capacity;
  cavum_yaml_node *nodes; /**< Owned, shape [num_nodes]. */
} cavum_yaml_tree;

/** Frees a tree and empties it. */
void cavum_yaml_tree_clear(cavum_yaml_tree *tree);

/**
 * Reads YAML text. Refused, each with its place: broken syntax, an empty file, a second document,
 * anchors, aliases, tags, keys that are no words, a key that comes twice, control characters, and
 * whatever exceeds the bounds above.
 *
 * @param[out] tree    Release with cavum_yaml_tree_clear(); untouched unless CAVUM_OK.
 * @param[in]  text    UTF-8, shape [length].
 * @param[in]  length  Bytes.
 * @param[in]  largest Most bytes that are read, for example CAVUM_YAML_LARGEST_TEXT.
 * @param[in]  name    File name for messages.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT   as above; the message starts with `name:line:column: `.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_yaml_tree_read(cavum_yaml_tree *tree, const char *text, size_t length,
                                  size_t largest, const char *name, cavum_error *error);

/**
 * Writes an error `name:line:column: message`. A very long name is shortened to its end.
 */
void cavum_yaml_error_write(cavum_error *error, cavum_status status, const char *name, int line,
                            int column, const char *format, ...)
    __attribute__((cold, format(printf, 6, 7)));

/** The same, with the status as its value; a macro for the reason that cavum_fail() is one. */
#define cavum_yaml_tree_fail(error, status, ...) \
  (cavum_yaml_error_write((error), (status), __VA_ARGS__), cavum_same_status(status))

/**
 * Byte of a text where a line and a column are, both from 1: columns count characters. The end of
 * the text where it has no such place.
 */
size_t cavum_yaml_tree_byte(const char *text, int line, int column);

/** Room for a word of the file within a message. */
enum { CAVUM_YAML_EXCERPT_SIZE = 56 };

/** A word of the file made fit for a message: cut when long, control characters as '?'. */
typedef struct cavum_yaml_excerpt {
  char text[CAVUM_YAML_EXCERPT_SIZE];
} cavum_yaml_excerpt;

/** Excerpt of a text; NULL gives "". */
cavum_yaml_excerpt cavum_yaml_tree_excerpt(const char *text);

#endif
