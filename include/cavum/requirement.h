// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file requirement.h
 * What a cell must meet, as its file states it, and whether a result does.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_REQUIREMENT_H
#define CAVUM_REQUIREMENT_H

#include "cavum/geometry.h"
#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Bytes that hold the key of any requirement. */
enum { CAVUM_REQUIREMENT_KEY_SIZE = 64 };

/** What is required. */
typedef enum cavum_requirement_kind {
  CAVUM_REQUIRE_FIGURE = 0,     /**< A figure of a mode. */
  CAVUM_REQUIRE_K_CC = 1,       /**< The coupling; there when it was solved for. */
  CAVUM_REQUIRE_WALL_ANGLE = 2, /**< Smaller lean of the straight walls of a two-ellipse cell. */
  CAVUM_REQUIRE_IRIS_CURVATURE = 3,  /**< Smallest radius of curvature of its irises. */
  CAVUM_REQUIRE_STRAIGHT_LENGTH = 4, /**< And the other figures of CAVUM_GEOMETRY_TABLE. */
  CAVUM_REQUIRE_APERTURE_RADIUS = 5,
  CAVUM_REQUIRE_TOTAL_LENGTH = 6,
  CAVUM_REQUIRE_VOLUME = 7,
  CAVUM_REQUIRE_WALL_AREA = 8,
  /** Smallest radius of curvature of the splines of a wall where it bulges into the cell, as at an
   * iris; in limits of goals alone. */
  CAVUM_REQUIRE_IRIS_SIDE_RADIUS = 64,
  CAVUM_REQUIRE_EQUATOR_SIDE_RADIUS = 65 /**< Where it bulges out, as at an equator. */
} cavum_requirement_kind;

/** One requirement: a value from `least` to `most`, in the unit of the key. */
typedef struct cavum_requirement {
  char key[CAVUM_REQUIREMENT_KEY_SIZE]; /**< As in the file, "frequency_MHz". */
  cavum_requirement_kind kind;
  cavum_figure_id figure; /**< Of a figure. */
  double unit_si;         /**< How many SI units one of the key's unit is. */
  double least, most;     /**< Infinite: no bound to that side. */
} cavum_requirement;

/** Requirements of a cell. Made by the library; members are appended only. */
typedef struct cavum_requirements {
  int count;
  cavum_requirement *list; /**< Owned, shape [count]. */
} cavum_requirements;

/** Frees requirements and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_requirements_destroy(cavum_requirements **requirements);

/**
 * Reads the section `requirements` of the text of a cell file: for each key {least: A}, {most: B},
 * both, or {is: C, within: D}. Keys are those of figures, also with another unit of frequency,
 * of figures of the shape (CAVUM_GEOMETRY_TABLE), and `k_cc`.
 *
 * @param[out] requirements  Owned by the caller; none where there is no such section. Untouched
 *                           unless CAVUM_OK.
 * @param[in]  text          UTF-8 text, shape [length].
 * @param[in]  length        Bytes of text.
 * @param[in]  name          File name for messages; NULL: "text".
 * @param[out] error         May be NULL; the message begins with file, line and column.
 * @retval CAVUM_ERR_INPUT  unknown keys, bad values, a least above the most.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_requirements_read_text(cavum_requirements **requirements,
                                                    const char *text, size_t length,
                                                    const char *name, cavum_error *error);

/** Whether a requirement is met. */
typedef enum cavum_verdict_kind {
  CAVUM_VERDICT_ABSENT = 0,    /**< The value does not exist, or was not solved for. */
  CAVUM_VERDICT_MET = 1,       /**< Also at both ends of the uncertainty. */
  CAVUM_VERDICT_MISSED = 2,    /**< Also at both ends of the uncertainty. */
  CAVUM_VERDICT_UNDECIDED = 3, /**< The uncertainty reaches over a bound. */
} cavum_verdict_kind;

/** A verdict, in the unit of the requirement's key. */
typedef struct cavum_verdict {
  cavum_verdict_kind kind;
  double value, uncertainty;
  double margin; /**< To the nearer bound; below 0: missed by so much. */
  /** The dimension that mends what is missed, or undecided on the wrong side, by the smallest
   * relative change; "": not known, since the result has no derivatives, or not needed. */
  char dimension[CAVUM_CELL_KEY_SIZE];
  double change; /**< Of that dimension, in its unit, as far as the derivative tells. */
} cavum_verdict;

/**
 * The figure that something is required of, in SI.
 * @param[in] requirement  One of those of the cell.
 * @param[in] cell         That was solved.
 * @param[in] result       Of it.
 * @param[in] mode         Whose figures, from 0.
 * @return absent where anything is missing.
 */
CAVUM_API cavum_figure cavum_requirement_figure(const cavum_requirement *requirement,
                                                const cavum_cell *cell, const cavum_result *result,
                                                int mode);

/**
 * Weighs a value against a requirement, without what would mend it.
 * @param[in] requirement  What is required.
 * @param[in] figure       Of cavum_requirement_figure(), or from elsewhere.
 * @return absent where either is missing.
 */
CAVUM_API cavum_verdict cavum_requirement_weigh(const cavum_requirement *requirement,
                                                const cavum_figure *figure);

/** "met", "missed", "undecided"; "not known" for an absent verdict; static. */
CAVUM_API const char *cavum_verdict_word(cavum_verdict_kind kind);

/**
 * Judges a result.
 * @param[in] requirement  One of those of the cell.
 * @param[in] cell         That was solved.
 * @param[in] result       Of it; with derivatives, the verdict names what mends it.
 * @param[in] mode         Whose figures, from 0.
 * @return absent where anything is missing.
 */
CAVUM_API cavum_verdict cavum_requirement_judge(const cavum_requirement *requirement,
                                                const cavum_cell *cell, const cavum_result *result,
                                                int mode);

/**
 * Whether what mends one requirement would break another one, as far as derivatives tell: one that
 * its value keeps now, and would not with the dimension changed.
 * @param[in] other   Another requirement of the cell.
 * @param[in] mended  Of cavum_requirement_judge(), with a dimension.
 * @param[in] cell    That was solved.
 * @param[in] result  Of it, with derivatives.
 * @param[in] mode    Whose figures, from 0.
 * @return false also where anything is missing.
 */
CAVUM_API bool cavum_requirement_breaks(const cavum_requirement *other, const cavum_verdict *mended,
                                        const cavum_cell *cell, const cavum_result *result,
                                        int mode);

#ifdef __cplusplus
}
#endif
#endif
