// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/keys.h
 * The one table of the keys of a cell file: member of the cell, unit, range. The reader of cell
 * files works with it, and so does whoever sets numbers of a cell by their dotted names.
 *
 * The sections of paths and mesh files are lists of any length; their keys are in file_path.c and
 * file_mesh.c.
 */
#ifndef CAVUM_CELL_KEYS_H
#define CAVUM_CELL_KEYS_H

#include "cavum/cell.h"
#include "yaml/fields.h"

/** Smallest and largest length of a cell file in mm: nothing is smaller than a picometre or larger
 * than a kilometre, and no arithmetic with lengths can overflow. */
#define CAVUM_CELL_SMALLEST_LENGTH_MM 1e-9
#define CAVUM_CELL_LARGEST_LENGTH_MM 1e6

/** What the members of a section belong to. */
typedef enum cavum_cell_owner {
  CAVUM_CELL_OWNER_CELL, /**< cavum_cell. */
  CAVUM_CELL_OWNER_HALF  /**< cavum_half_cell, one or both. */
} cavum_cell_owner;

/** One mapping of a cell file. */
typedef struct cavum_cell_section {
  const char *path;       /**< Dotted; "" for the file itself. */
  cavum_yaml_table table; /**< Its keys; offsets count from the struct below. */
  cavum_cell_owner owner;
  size_t offset; /**< Of the struct that the table fills, in the owner. */
  bool direct;   /**< Its numbers may be set in a cell; all others only in the text of its file. */
} cavum_cell_section;

/** Places in cavum_cell_sections. */
typedef enum cavum_cell_section_name {
  CAVUM_CELL_SECTION_FILE,            /**< Fills a cavum_cell. */
  CAVUM_CELL_SECTION_TWO_ELLIPSE,     /**< Fills a cavum_half_cell, as the next two. */
  CAVUM_CELL_SECTION_EQUATOR_ELLIPSE, /**< In the contour section, or in that of a half. */
  CAVUM_CELL_SECTION_IRIS_ELLIPSE,
  CAVUM_CELL_SECTION_LEFT_END, /**< Fills a cavum_end, as the next one. */
  CAVUM_CELL_SECTION_RIGHT_END,
  CAVUM_CELL_SECTION_MODES,    /**< Fills a cavum_cell. */
  CAVUM_CELL_SECTION_ACCURACY, /**< Fills a cavum_cell. */
  CAVUM_CELL_SECTION_WALL,     /**< Fills a cavum_wall. */
  CAVUM_NUM_CELL_SECTIONS
} cavum_cell_section_name;

/** The sections, in the order of their names above. */
extern const cavum_cell_section cavum_cell_sections[CAVUM_NUM_CELL_SECTIONS];

/** Leading keys of CAVUM_CELL_SECTION_TWO_ELLIPSE that the section of one half may have, too. */
enum { CAVUM_CELL_NUM_HALF_KEYS = 5 };

/** The words metal, electric, magnetic and axis. */
extern const cavum_yaml_word cavum_cell_boundary_words[];

/** A kind of contour that files have and cells do not: the cell that is read is a path. */
enum { CAVUM_CELL_MEASURED = 1000 };

/** The words for the kinds of contours: cavum_contour_kind, or CAVUM_CELL_MEASURED. */
extern const cavum_yaml_word cavum_cell_contour_words[];

/** The words for the kinds of walls. */
extern const cavum_yaml_word cavum_cell_wall_words[];

/** A number that may be set in a cell. */
typedef struct cavum_cell_number {
  const cavum_cell_section *section;
  const cavum_yaml_field *field;
} cavum_cell_number;

/** The number behind another one, first those of both halves and then of the cell; the first one
 * behind a zeroed struct. False behind the last. */
bool cavum_cell_number_next(cavum_cell_number *number);

/** Number of a dotted name, "contour.iris_radius_mm"; false when there is none. */
bool cavum_cell_number_find(cavum_cell_number *number, const char *name);

/** Offset of a number's member in its owner. */
static inline size_t cavum_cell_number_offset(const cavum_cell_number *number) {
  return number->section->offset + number->field->offset;
}

/** True when a dotted name starts with a key of the file itself that numbers stand behind. */
bool cavum_cell_name_has_section(const char *name);

#endif
