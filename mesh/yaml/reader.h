// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file yaml/reader.h
 * A YAML file that is being read: finding one's way in its tree, and errors with their place.
 */
#ifndef CAVUM_YAML_READER_H
#define CAVUM_YAML_READER_H

#include <locale.h>

#include "yaml/tree.h"

/** What the whole reading of one file shares. */
typedef struct cavum_yaml_reader {
  const char *name;       /**< File name, for messages. */
  cavum_yaml_tree tree;   /**< Owned. */
  locale_t number_locale; /**< Owned: numbers have a decimal point whatever the program's locale. */
  cavum_error *error;     /**< Borrowed, may be NULL. */
} cavum_yaml_reader;

/**
 * Takes a text apart.
 * @param[out] reader  Release with cavum_yaml_reader_clear(); untouched unless CAVUM_OK.
 * @param[in]  text    UTF-8, shape [length].
 * @param[in]  length  Bytes.
 * @param[in]  largest Most bytes that are read, for example CAVUM_YAML_LARGEST_TEXT.
 * @param[in]  name    File name for messages; borrowed.
 * @param[out] error   May be NULL; borrowed: errors of the whole reading go there.
 * @retval CAVUM_ERR_INPUT  as of cavum_yaml_tree_read().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_yaml_reader_open(cavum_yaml_reader *reader, const char *text, size_t length,
                                    size_t largest, const char *name, cavum_error *error);

/**
 * The bytes of a file.
 * @param[out] text    Owned, free(); untouched unless CAVUM_OK.
 * @param[out] length  Of the text.
 * @param[in]  path    File name.
 * @param[in]  largest  Bytes that are accepted; one more is read, so that who reads the text can
 * tell.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_MEMORY
 */
cavum_status cavum_yaml_load_text(char **text, size_t *length, const char *path, size_t largest,
                                  cavum_error *error);

/** Frees what a reader owns and empties it. */
void cavum_yaml_reader_clear(cavum_yaml_reader *reader);

/** Dotted path of a place in the file, for messages. */
typedef struct cavum_yaml_path {
  char text[128];
} cavum_yaml_path;

/** Path of a member: "parent.key", or "key" at the root (parent ""). */
cavum_yaml_path cavum_yaml_path_join(const char *parent, const char *key);

/** Path of an entry of a list: "parent[index]", index from 1. */
cavum_yaml_path cavum_yaml_path_index(const char *parent, cavum_index index);

/** Writes an error at the place of a node's value. */
void cavum_yaml_reader_error_write(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                   const char *format, ...)
    __attribute__((cold, format(printf, 3, 4)));

/** The same, with the value CAVUM_ERR_INPUT; a macro for the reason that cavum_fail() is one. */
#define cavum_yaml_reader_fail(reader, node, ...) \
  (cavum_yaml_reader_error_write((reader), (node), __VA_ARGS__), cavum_same_status(CAVUM_ERR_INPUT))

/** Child of a mapping by key; NULL when absent. */
const cavum_yaml_node *cavum_yaml_reader_child(const cavum_yaml_reader *reader,
                                               const cavum_yaml_node *mapping, const char *key);

/** First child of a mapping or list, or NULL. */
const cavum_yaml_node *cavum_yaml_reader_first(const cavum_yaml_reader *reader,
                                               const cavum_yaml_node *parent);

/** Next child of the same parent, or NULL. */
const cavum_yaml_node *cavum_yaml_reader_next(const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *node);

/**
 * Fails at the place of a node's value with the message of another error, `prefix: message`;
 * running out of memory has no place.
 */
cavum_status cavum_yaml_reader_relay(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                     cavum_status status, const char *prefix,
                                     const cavum_error *what);

#endif
