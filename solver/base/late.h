// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/late.h
 * Libraries that are loaded when they are first needed: a program that never needs them starts
 * without them. They stay for the life of the process.
 */
#ifndef CAVUM_BASE_LATE_H
#define CAVUM_BASE_LATE_H

#include <stdatomic.h>

#include "cavum/status.h"

/** A library and what is wanted of it; a static variable, zero where nothing is written below. */
typedef struct cavum_late {
  const char *file; /**< What the loader looks for: the name with the version of its interface. */
  const char *purpose;      /**< What needs it, for the message. */
  int count;                /**< Names. */
  const char *const *names; /**< Shape [count]. */
  void *places;        /**< A struct of `count` pointers in the order of the names, filled once. */
  atomic_bool is_open; /**< All places are filled. */
} cavum_late;

/**
 * Loads the library unless that was done before; any number of threads may ask at once.
 * @param[in,out] late   Its places are untouched unless CAVUM_OK.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  not found, or something is missing in it: the loader's message.
 */
cavum_status cavum_late_open(cavum_late *late, cavum_error *error);

/*
 * A table of a library: LIST(X) is X(name) X(name) ..., its functions and variables; the table is a
 * struct of pointers of their types and names, and `reach` makes sure that it is filled.
 * ROOM/NAME_calls.h declares both and has, for those that call, a macro of each name that goes
 * through the table. Then NAME_calls_opened.c is one line of CAVUM_LATE_OPENED, for the shared
 * library, and NAME_calls_linked.c one of CAVUM_LATE_LINKED, for the archive and for programs,
 * where the linker fills the table. These two see the names themselves: they define NAME_TABLE_ONLY
 * first.
 */
// clang-format off
/** A member of the table. */
#define CAVUM_LATE_MEMBER(name) __typeof__(name) *name;
#define CAVUM_LATE_NAME(name) #name,
#define CAVUM_LATE_PLACE(name) .name = &(name),

/** The table and its function, opened when first needed: SONAME and what needs it, for messages. */
#define CAVUM_LATE_OPENED(type, table, reach, LIST, soname, need)                         \
  type table;                                                                             \
  cavum_status reach(cavum_error *error) {                                                \
    static const char *const names[] = {LIST(CAVUM_LATE_NAME)};                           \
    static cavum_late late = {.file = (soname), .purpose = (need), .names = names,        \
                              .count = sizeof names / sizeof names[0], .places = &table}; \
    _Static_assert(sizeof table == sizeof names, "one place for each name");              \
    return cavum_late_open(&late, error);                                                 \
  }

/** The same, filled by the linker. */
#define CAVUM_LATE_LINKED(type, table, reach, LIST) \
  type table = {LIST(CAVUM_LATE_PLACE)};            \
  cavum_status reach(cavum_error *error) {          \
    (void)error;                                    \
    return CAVUM_OK;                                \
  }
// clang-format on

#endif
