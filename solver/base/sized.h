// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/sized.h
 * Structs of the interface whose first member, a size_t, says how much of them the program knows.
 *
 * A program that was built with an older header has a shorter struct, one that was built with a
 * newer header a longer one. Inside the library every such struct is full. Members are appended
 * only, and 0 in a new one means what the library did before it was there.
 */
#ifndef CAVUM_BASE_SIZED_H
#define CAVUM_BASE_SIZED_H

#include <stddef.h>

#include "cavum/status.h"

/** What the library knows of such a struct. */
typedef struct cavum_sized {
  const char *name;   /**< For messages: "cell". */
  const char *maker;  /**< For messages: the function that sets struct_size. */
  size_t first, full; /**< Bytes in the first version of the interface, and in this one. */
} cavum_sized;

/**
 * Copies a struct of a program into a full one.
 *
 * @param[out] full  Shape [sized->full] bytes; its struct_size is that of this version.
 * @param[in]  given  May be NULL, which is an error.
 * @param[in]  sized  What is known.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL, a size that no version had, or members that this library does not
 *                          know and that are not 0.
 */
cavum_status cavum_sized_take(void *full, const void *given, const cavum_sized *sized,
                              cavum_error *error);

/** Bytes of a program's struct that are set by this library: between the first version and this
 * one. */
size_t cavum_sized_known(size_t struct_size, const cavum_sized *sized);

/** Copies a full struct to a program's, as many bytes as that has; more of them become 0. */
void cavum_sized_give(void *given, size_t struct_size, const void *full, const cavum_sized *sized);

#endif
