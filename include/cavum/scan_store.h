// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan_store.h
 * The result of a scan as one file: writing, reading, summing up.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_SCAN_STORE_H
#define CAVUM_SCAN_STORE_H

#include "cavum/scan.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * Gathers the records of a whole study into one HDF5 file.
 *
 * `/columns/KEY` has one row a shape, with `units`, `long_name` and `definition`; `/reasons/shape`
 * and `/reasons/text` say why shapes have no full row; `/input` has the texts of study and cell,
 * fingerprint and version. The bytes depend on the study alone. Written under a temporary name,
 * flushed and renamed.
 *
 * @param[in]  path     File to write; replaced.
 * @param[in]  study    Open study.
 * @param[in]  records  Its records.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_NOT_CONVERGED  batches are missing: nothing is written.
 * @retval CAVUM_ERR_INPUT          the mesh file changed since the study was opened.
 * @retval CAVUM_ERR_FILE           records cannot be read, or the file not written.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_scan(const char *path, const cavum_study *study,
                                              cavum_scan_records *records, cavum_error *error);

/**
 * Who computed how many batches, as JSON text: it differs from run to run, so it is no part of the
 * result file.
 * @param[out] text     Owned by the caller, release with cavum_free().
 * @param[in]  study    Open study.
 * @param[in]  records  Its records.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_scan_sources_to_json(char **text, const cavum_study *study,
                                                        const cavum_scan_records *records,
                                                        cavum_error *error);

/** One line of JSON about the progress of a scan; NULL: no memory; release with cavum_free(). */
CAVUM_API char *cavum_store_scan_progress_to_json(const cavum_scan_progress *progress,
                                                  const char *watched_key);

/** One line of JSON about what a scan costs; NULL: no memory; release with cavum_free(). */
CAVUM_API char *cavum_store_scan_estimate_to_json(const cavum_scan_estimate *estimate,
                                                  const cavum_study *study);

/** A result file of a scan, open for reading: opaque. */
typedef struct cavum_stored_scan cavum_stored_scan;

/**
 * Opens a result file.
 * @param[out] scan   Owned by the caller (cavum_stored_scan_close()); untouched unless CAVUM_OK.
 * @param[in]  path   File of cavum_store_write_scan().
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE   cannot be opened.
 * @retval CAVUM_ERR_INPUT  is no such file.
 */
CAVUM_API cavum_status cavum_stored_scan_open(cavum_stored_scan **scan, const char *path,
                                              cavum_error *error);

/** Closes a file and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_stored_scan_close(cavum_stored_scan **scan);

/** Fingerprint of the study, 64 digits; borrowed. */
CAVUM_API const char *cavum_stored_scan_fingerprint(const cavum_stored_scan *scan);

/** Title of the study; borrowed. */
CAVUM_API const char *cavum_stored_scan_title(const cavum_stored_scan *scan);

/** Rows. */
CAVUM_API int64_t cavum_stored_scan_num_rows(const cavum_stored_scan *scan);

/** Columns, in their order. */
CAVUM_API int cavum_stored_scan_num_columns(const cavum_stored_scan *scan);

/** Key of a column; borrowed. */
CAVUM_API const char *cavum_stored_scan_key(const cavum_stored_scan *scan, int column);

/** Unit of a column; borrowed. */
CAVUM_API const char *cavum_stored_scan_unit(const cavum_stored_scan *scan, int column);

/** Index of a column by its key, "contour." may be left out; -1: none. */
CAVUM_API int cavum_stored_scan_find(const cavum_stored_scan *scan, const char *key);

/**
 * Reads rows of one column.
 * @param[out] values  Shape [count].
 * @param[in]  scan    Open file.
 * @param[in]  column  Index.
 * @param[in]  first   First row.
 * @param[in]  count   Rows.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such column.
 * @retval CAVUM_ERR_INPUT  rows beyond the end, or a damaged file.
 */
CAVUM_API cavum_status cavum_stored_scan_read(double *values, const cavum_stored_scan *scan,
                                              int column, int64_t first, int64_t count,
                                              cavum_error *error);

/**
 * Writes all rows as CSV: keys in the first line, an empty field for what a row does not have, the
 * word of the status, shortest numbers that read back the same.
 * @param[in]  path   "-" is standard output.
 * @param[in]  scan   Open file.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE  cannot be written.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_scan_csv(const char *path, const cavum_stored_scan *scan,
                                                  cavum_error *error);

/**
 * Which rows of a scan are wanted: opaque. A condition in the keys of its columns (`contour.` may
 * be left out), in their units: arithmetic, < <= > >= == !=, joined by && and ||; for example
 * "epk_over_eacc < 2.1 && iris_radius_mm > 35". A row that lacks a number it names is not wanted.
 */
typedef struct cavum_scan_filter cavum_scan_filter;

/**
 * Reads a condition for one file.
 * @param[out] filter     Owned by the caller (cavum_scan_filter_destroy()); untouched unless
 *                        CAVUM_OK. Not for two threads at a time.
 * @param[in]  scan       Open file.
 * @param[in]  condition  As above.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT   no condition, or a name that is no column.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_filter_create(cavum_scan_filter **filter,
                                                const cavum_stored_scan *scan,
                                                const char *condition, cavum_error *error);

/** Frees a filter and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_scan_filter_destroy(cavum_scan_filter **filter);

/**
 * cavum_store_write_scan_csv() with the rows that a filter wants; NULL: all.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_scan_csv_where(const char *path,
                                                        const cavum_stored_scan *scan,
                                                        const cavum_scan_filter *filter,
                                                        cavum_error *error);

/**
 * The cell of a row as the text of a cell file: the base cell with all numbers that the study set,
 * linked and held ones as they stand in the row, to the bit. It holds its mesh file, if it has one
 * (REFERENCE.md, file_base64), unless that is larger than a cell file can be or an earlier version
 * wrote the result: it is named as in the base cell then.
 * @param[out] text   Owned by the caller, release with cavum_free(); untouched unless CAVUM_OK.
 * @param[in]  scan   Open file.
 * @param[in]  shape  Number of the shape, from 0.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE     no such shape.
 * @retval CAVUM_ERR_INPUT     its held dimension was not found, a value is out of its range, or the
 *                             file is damaged.
 * @retval CAVUM_ERR_GEOMETRY  the shape cannot exist.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_stored_scan_shape_to_text(char **text, const cavum_stored_scan *scan,
                                                       int64_t shape, cavum_error *error);

/**
 * True when a file is the result of exactly this study: the same fingerprint, and the same texts of
 * study and cell.
 * @param[in] scan   Open file.
 * @param[in] study  Open study.
 */
CAVUM_API bool cavum_stored_scan_is_of(const cavum_stored_scan *scan, const cavum_study *study);

/**
 * True when the rows of a file are the first rows of a study, or all of them: the same settings
 * (cavum_study_settings()) and the same varied numbers. Such a study is the one of the file, grown
 * or described in other words.
 * @param[in]     scan   Open file.
 * @param[in,out] study  Open study; keeps its place in the sequence.
 */
CAVUM_API bool cavum_stored_scan_begins(const cavum_stored_scan *scan, cavum_study *study);

/**
 * Makes records of the rows of an earlier result, so that cavum_scan_run() computes only what is
 * new. A batch that the file does not have to its end is computed anew.
 * @param[in]     path       The earlier result, which is also the output; it is not changed.
 * @param[in,out] study      Open study, cavum_stored_scan_begins() it.
 * @param[in]     part       Part of the batches, from 0.
 * @param[in]     num_parts  1: all of them.
 * @param[out]    error      May be NULL.
 * @retval CAVUM_ERR_INPUT   the file holds something else, or the folder holds other records.
 * @retval CAVUM_ERR_FILE    cannot be read, or the records not written.
 * @retval CAVUM_ERR_USAGE   no such part.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_reuse_scan(const char *path, cavum_study *study, int64_t part,
                                              int64_t num_parts, cavum_error *error);

/**
 * Merges two results of studies of the same cell that compute the same: same settings, so same base
 * cell, inputs, links, held frequency, limits, figures and version. What they sample may differ.
 *
 * Rows are sorted by their varied numbers and numbered anew from 0. Of shapes that are in both, one
 * row is kept: that with figures, and where both have some (they may differ in last bits), the same
 * one whatever the order of the arguments. The bytes of the file depend on the two files alone and
 * not on their order. It is read like any result of a scan.
 *
 * @param[in]  path   File to write; replaced, by way of a temporary name.
 * @param[in]  one    Open file.
 * @param[in]  other  Open file.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT   the two do not compute the same: the message says in what they differ;
 *                           or a damaged file.
 * @retval CAVUM_ERR_FILE    cannot be written.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_merge_scans(const char *path, const cavum_stored_scan *one,
                                               const cavum_stored_scan *other, cavum_error *error);

enum { CAVUM_SCAN_MOST_REASONS = 64, CAVUM_SCAN_REASON_SIZE = 240 };

/** Shapes without figures for one kind of reason. */
typedef struct cavum_scan_reason_group {
  int64_t count, first_shape;
  char text[CAVUM_SCAN_REASON_SIZE]; /**< With '#' in place of each number; may be cut. */
} cavum_scan_reason_group;

/**
 * Counts the reasons of a scan, those that differ in numbers only as one.
 * @param[out] groups      Shape [CAVUM_SCAN_MOST_REASONS], the most frequent first.
 * @param[out] num_groups  How many there are.
 * @param[in]  scan        Open file.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  damaged.
 */
CAVUM_API cavum_status cavum_stored_scan_group_reasons(cavum_scan_reason_group groups[],
                                                       int *num_groups,
                                                       const cavum_stored_scan *scan,
                                                       cavum_error *error);

/** True when a smaller value of this figure is the better one (peak fields, losses). */
CAVUM_API bool cavum_scan_smaller_is_better(const char *key);

/** Most figures of a front. */
enum { CAVUM_SUMMARY_MOST_AIMS = 8 };

/** What to sum up. Members are appended only. */
typedef struct cavum_scan_aims {
  size_t struct_size; /**< Set by cavum_scan_aims_default(). */
  int count;
  int columns[CAVUM_SUMMARY_MOST_AIMS];
  bool smaller[CAVUM_SUMMARY_MOST_AIMS]; /**< Smaller is better. */
  int num_best;                          /**< Best shapes of each aim to list. */
} cavum_scan_aims;

/** What cavum_scan_aims_default() calls; struct_size is sizeof(cavum_scan_aims). */
CAVUM_API void cavum_scan_aims_set_defaults(cavum_scan_aims *aims, size_t struct_size);

/** No aims. */
static inline cavum_scan_aims cavum_scan_aims_default(void) {
  cavum_scan_aims aims;
  cavum_scan_aims_set_defaults(&aims, sizeof aims);
  return aims;
}

/**
 * One line on a front (`cavum optimise`): its points, where it has gaps, and where limits are not
 * active; "" of any other scan.
 * @param[out] note   Owned by the caller, release with cavum_free(); untouched unless CAVUM_OK.
 * @param[in]  scan   Open file.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE   NULL for what must be given.
 * @retval CAVUM_ERR_INPUT   damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_stored_scan_front_note(char **note, const cavum_stored_scan *scan,
                                                    cavum_error *error);

/**
 * The aims that the study of a result states; none: `count` is 0.
 * @param[in,out] aims   Untouched unless CAVUM_OK; `num_best` stays.
 * @param[in]     scan   Open file.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_USAGE   NULL for what must be given, aims that never saw their defaults.
 * @retval CAVUM_ERR_INPUT   damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_stored_scan_aims(cavum_scan_aims *aims, const cavum_stored_scan *scan,
                                              cavum_error *error);

/** Range of one column over the shapes that are done. */
typedef struct cavum_scan_range {
  double low, high;
  int64_t count; /**< Finite values. */
} cavum_scan_range;

/** A shape with its values of the aims. */
typedef struct cavum_scan_point {
  int64_t shape;
  double values[CAVUM_SUMMARY_MOST_AIMS];
} cavum_scan_point;

/** A scan summed up. */
typedef struct cavum_scan_summary {
  int64_t num_rows;
  int64_t by_status[CAVUM_SHAPE_STATUSES_ROOM];
  int num_columns;
  cavum_scan_range *ranges; /**< Owned, shape [num_columns]. */
  int num_best;             /**< Of each aim, at most what was asked for. */
  cavum_scan_point *best;   /**< Owned, shape [aims, num_best]: best first. */
  int64_t num_front;
  cavum_scan_point *front; /**< Owned, by rising shape: shapes that no other beats in every aim. */
} cavum_scan_summary;

/**
 * Sums up the shapes that are done.
 * @param[out] summary  Release with cavum_scan_summary_clear(); untouched unless CAVUM_OK.
 * @param[in]  scan     Open file.
 * @param[in]  aims     Figures that matter.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_summarise(cavum_scan_summary *summary,
                                            const cavum_stored_scan *scan,
                                            const cavum_scan_aims *aims, cavum_error *error);

/**
 * cavum_scan_summarise() of the rows that a filter wants; NULL: all. Statuses, ranges, best and
 * non-dominated shapes are theirs alone; `num_rows` is that of the file.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_summarise_where(cavum_scan_summary *summary,
                                                  const cavum_stored_scan *scan,
                                                  const cavum_scan_aims *aims,
                                                  const cavum_scan_filter *filter,
                                                  cavum_error *error);

/** Kinds of verdicts: those of cavum_verdict_kind. */
enum { CAVUM_NUM_VERDICTS = 4 };

/**
 * The requirement whose verdicts a column has.
 * @param[in] scan    Open file; NULL: none.
 * @param[in] column  From 0.
 * @return its key, borrowed from the scan; NULL: another column.
 */
CAVUM_API const char *cavum_stored_scan_requirement(const cavum_stored_scan *scan, int column);

/**
 * Counts the verdicts of a requirement over the shapes that are done.
 * @param[out] counts  Shape [CAVUM_NUM_VERDICTS], by cavum_verdict_kind; untouched unless CAVUM_OK.
 * @param[in]  scan    Open file.
 * @param[in]  column  Of a requirement, cavum_stored_scan_requirement().
 * @param[in]  filter  Rows that count; NULL: all.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, another column.
 * @retval CAVUM_ERR_INPUT  a damaged file.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_stored_scan_count_verdicts(int64_t counts[CAVUM_NUM_VERDICTS],
                                                        const cavum_stored_scan *scan, int column,
                                                        const cavum_scan_filter *filter,
                                                        cavum_error *error);

/** Frees what a summary owns; NULL is accepted. */
CAVUM_API void cavum_scan_summary_clear(cavum_scan_summary *summary);

/** A summary as JSON text; NULL: no memory; release with cavum_free(). */
CAVUM_API char *cavum_store_scan_summary_to_json(const cavum_scan_summary *summary,
                                                 const cavum_stored_scan *scan,
                                                 const cavum_scan_aims *aims);

/** cavum_store_scan_summary_to_json() with the verdicts of the rows that a filter wants; NULL: all.
 */
CAVUM_API char *cavum_store_scan_summary_to_json_where(const cavum_scan_summary *summary,
                                                       const cavum_stored_scan *scan,
                                                       const cavum_scan_aims *aims,
                                                       const cavum_scan_filter *filter);

#ifdef __cplusplus
}
#endif
#endif
