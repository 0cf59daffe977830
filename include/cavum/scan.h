// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan.h
 * Many shapes from one study file: what varies, what is held, and one row of figures a shape.
 *
 * Shapes are numbered from 0 and belong to fixed batches by their number. A batch is computed by
 * one process, in order, starting cold, so its rows are the same bits however the batches were
 * divided among processes and machines, and however often they were interrupted.
 *
 * Threads: different studies may be used by different threads at once. cavum_scan_run() and
 * cavum_scan_measure() start worker processes with fork(): call them from a program that has no
 * other threads.
 */
#ifndef CAVUM_SCAN_H
#define CAVUM_SCAN_H

#include <stddef.h>
#include <stdint.h>

#include "cavum/cell.h"
#include "cavum/figures.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Rows: name, word, what it says of the shape. */
#define CAVUM_SHAPE_TABLE(X)                                                          \
  X(DONE, "done", "figures within the accuracy asked for")                            \
  X(EXCLUDED, "excluded", "breaks a limit of the study")                              \
  X(NO_SHAPE, "no-shape", "cannot exist: no tangent, ellipses overlap, wall crosses") \
  X(NOT_CONVERGED, "not-converged", "figures short of the accuracy asked for")        \
  X(NOT_HELD, "not-held", "the frequency to hold was not reached")                    \
  X(FAILED, "failed", "no figures: mesh or solver failed")                            \
  X(CRASHED, "crashed", "the process died while it computed this shape")

/** What became of a shape. */
typedef enum cavum_shape_status {
#define CAVUM_SHAPE_ENUM(name, word, text) CAVUM_SHAPE_##name,
  CAVUM_SHAPE_TABLE(CAVUM_SHAPE_ENUM)
#undef CAVUM_SHAPE_ENUM
      CAVUM_NUM_SHAPE_STATUSES
} cavum_shape_status;

/** Word for a status, as in files and on the screen; static. */
CAVUM_API const char *cavum_shape_status_word(cavum_shape_status status);

/** One line that says what a status means; static. */
CAVUM_API const char *cavum_shape_status_text(cavum_shape_status status);

/** Number type of a column. */
typedef enum cavum_column_type {
  CAVUM_COLUMN_DOUBLE,
  CAVUM_COLUMN_FLOAT, /**< Uncertainties, rounded upward. */
  CAVUM_COLUMN_INT64,
  CAVUM_COLUMN_INT32,
  CAVUM_COLUMN_UINT8
} cavum_column_type;

/** Bytes of one value of a column. */
CAVUM_API size_t cavum_column_size(cavum_column_type type);

/** Largest key of a column, with its final zero. */
enum { CAVUM_COLUMN_KEY_SIZE = 128 };

/** One column of the result. */
typedef struct cavum_column {
  char key[CAVUM_COLUMN_KEY_SIZE]; /**< Name of the data set. */
  char long_name[192];             /**< For people. */
  const char *unit;                /**< Static; "1" for pure numbers. */
  const char *definition;          /**< Static; NULL for inputs. */
  cavum_column_type type;
  size_t offset; /**< Of the value in a row, in bytes; values are little-endian and not aligned. */
} cavum_column;

/** A study that was read: opaque. */
typedef struct cavum_study cavum_study;

/** Files that a study was read from. */
typedef enum cavum_study_file_id {
  CAVUM_STUDY_FILE,
  CAVUM_STUDY_CELL_FILE,
  CAVUM_STUDY_TABLE_FILE,
  CAVUM_STUDY_MESH_FILE,
  CAVUM_NUM_STUDY_FILES
} cavum_study_file_id;

/** Path of one of the files that a study was read from, borrowed; NULL: it has none of these. */
CAVUM_API const char *cavum_study_file_path(const cavum_study *study, cavum_study_file_id id);

/** All files that a study was read from, those of its base cell too; borrowed; NULL without one. */
CAVUM_API const cavum_files *cavum_study_files(const cavum_study *study);

/**
 * Reads a study file (YAML; REFERENCE.md lists the keys) with its base cell and table.
 *
 * @param[out] study  Owned by the caller (cavum_study_close()); untouched unless CAVUM_OK.
 * @param[in]  path   Study file; other files are named relative to its folder.
 * @param[out] error  May be NULL; one line `file:line:column: what is wrong, what was expected`.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE      a file cannot be read.
 * @retval CAVUM_ERR_INPUT     syntax, unknown key or name, bad value, bad expression.
 * @retval CAVUM_ERR_GEOMETRY  the base cell cannot exist.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_study_open(cavum_study **study, const char *path, cavum_error *error);

/**
 * Like cavum_study_open() for text in memory, with its base cell from a file or in memory.
 *
 * @param[out] study   As above.
 * @param[in]  text    UTF-8 text, shape [length].
 * @param[in]  length  Bytes of text.
 * @param[in]  name    Name of the study in messages; other files are relative to its folder; NULL:
 *                     "study".
 * @param[in]  cell    The base cell; NULL: the file that the study names. With a cell the study
 * need name none.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE     no place or text, or a cell that never saw its defaults.
 * @retval CAVUM_ERR_FILE      another file cannot be read.
 * @retval CAVUM_ERR_INPUT     as cavum_study_open(), or a cell that cavum_cell_check() refuses.
 * @retval CAVUM_ERR_GEOMETRY  the base cell cannot exist.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_study_open_text(cavum_study **study, const char *text, size_t length,
                                             const char *name, const cavum_cell *cell,
                                             cavum_error *error);

/** Frees a study and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_study_close(cavum_study **study);

/** Aims of the study, `KEY:smaller` or `KEY:larger` with commas between; "": none are stated. */
CAVUM_API const char *cavum_study_aims(const cavum_study *study);

/** Title of the study, may be empty; borrowed. */
CAVUM_API const char *cavum_study_title(const cavum_study *study);

/** Text of the study file; borrowed. */
CAVUM_API const char *cavum_study_text(const cavum_study *study);

/** Text of the base cell's file; borrowed. */
CAVUM_API const char *cavum_study_cell_text(const cavum_study *study);

/** One line about a key that the base cell has under a former name, "": none; borrowed. */
CAVUM_API const char *cavum_study_note(const cavum_study *study);

/** Shapes of the study. */
CAVUM_API int64_t cavum_study_num_shapes(const cavum_study *study);

/** Batches of the study: all of cavum_study_batch_size() shapes but for the last. */
CAVUM_API int64_t cavum_study_num_batches(const cavum_study *study);

/** Shapes of a whole batch. */
CAVUM_API int cavum_study_batch_size(const cavum_study *study);

/**
 * SHA-256 over what is computed: the version of this library, base cell, mesh file, inputs, shapes,
 * batches, held frequency, limits, figures. Titles, comments and the names of files do not count.
 * Studies with the same fingerprint have the same rows; borrowed, 64 digits.
 */
CAVUM_API const char *cavum_study_fingerprint(const cavum_study *study);

/**
 * The same without shapes and batches: studies with the same settings have the same row for the
 * same shapes in one batch; borrowed, 64 digits.
 */
CAVUM_API const char *cavum_study_settings(const cavum_study *study);

/**
 * The columns of a row.
 * @param[out] num_columns  Their number.
 * @param[in]  study        Open study.
 * @return Borrowed, shape [num_columns].
 */
CAVUM_API const cavum_column *cavum_study_columns(int *num_columns, const cavum_study *study);

/** Bytes of a row. */
CAVUM_API size_t cavum_study_row_size(const cavum_study *study);

/** Value of a column in a row as a double; NAN for what the row does not have. */
CAVUM_API double cavum_column_value(const cavum_column *column, const void *row);

/** Numbers that a study sets in each shape: varied, linked and held ones. */
CAVUM_API int cavum_study_num_inputs(const cavum_study *study);

/** Dotted name of an input, as in the cell file; borrowed. */
CAVUM_API const char *cavum_study_input_name(const cavum_study *study, int input);

/**
 * The inputs of a shape as sampled and linked, in the units of the cell file. A held dimension has
 * its value in the base cell.
 * @param[out]    values  Shape [cavum_study_num_inputs()].
 * @param[in,out] study   Keeps its place in the sequence: rising shapes are cheap.
 * @param[in]     shape   From 0.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE   the table changed or cannot be read any more.
 * @retval CAVUM_ERR_RANGE  no such shape.
 */
CAVUM_API cavum_status cavum_study_sample(double *values, cavum_study *study, int64_t shape,
                                          cavum_error *error);

/** What cavum_study_make_cell() calls; struct_size is sizeof(cavum_cell) of the program. */
CAVUM_API cavum_status cavum_study_make_cell_sized(cavum_cell *cell, size_t struct_size,
                                                   cavum_study *study, const double *values,
                                                   cavum_error *error);

/**
 * The base cell with given inputs.
 * @param[out] cell    Owned by the caller (cavum_cell_clear()); untouched unless CAVUM_OK.
 * @param[in]  study   Open study.
 * @param[in]  values  Shape [cavum_study_num_inputs()], in the units of the cell file.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT     a value out of its range, or the text with it is no cell file.
 * @retval CAVUM_ERR_GEOMETRY  a cell that is given by points cannot exist with them.
 */
static inline cavum_status cavum_study_make_cell(cavum_cell *cell, cavum_study *study,
                                                 const double *values, cavum_error *error) {
  return cavum_study_make_cell_sized(cell, sizeof(cavum_cell), study, values, error);
}

/** Statuses that there is room for in sums. */
enum { CAVUM_SHAPE_STATUSES_ROOM = 12 };

/** How far a scan is. Members are appended only. */
typedef struct cavum_scan_progress {
  size_t struct_size;     /**< Set by the library. */
  int64_t num_batches;    /**< Of this part. */
  int64_t batches_done;   /**< Stored, those of earlier runs included. */
  int64_t batches_before; /**< Stored by earlier runs. */
  int64_t num_shapes;     /**< Of this part. */
  int64_t shapes_done;    /**< Stored or computed in batches that are on their way. */
  int64_t shapes_before;  /**< Stored by earlier runs. */
  int64_t by_status[CAVUM_SHAPE_STATUSES_ROOM]; /**< Computed in this run. */
  int64_t num_solves;                           /**< Solves of this run. */
  double seconds;                               /**< Of this run. */
  int64_t best_shape;                           /**< Best so far in this run; -1: none. */
  double best_value;                            /**< Of the watched column. */
  int workers_lost;                             /**< Worker processes that died. */
  int no_locks; /**< 1: the file system has no locks, so a second run of the part is not refused. */
} cavum_scan_progress;

/** Receives the progress from time to time; must not stop the process. */
typedef void cavum_scan_watcher(const cavum_scan_progress *progress, void *data);

/**
 * Choices of a run, from cavum_scan_options_default(). Members are appended only; struct_size says
 * which of them the program knows.
 */
typedef struct cavum_scan_options {
  size_t struct_size; /**< Set by cavum_scan_options_default(). */
  int workers;        /**< Processes, 1 to 1024; 0: one for each core this process may use. */
  int64_t part;       /**< From 0, below num_parts: batches part, part + num_parts, ... */
  int64_t num_parts;  /**< 1: everything. */
  cavum_stop_question *stop;   /**< True: end within a few seconds. A batch that is complete by then
                                  is stored, any other one is left and computed again the next time.
                                  NULL: nobody is asked. Asked in the processes of the workers,
                                  too. */
  void *stop_data;             /**< Handed on to it. */
  int watched_column;          /**< Column whose best shape is followed; -1: none. */
  bool watch_smallest;         /**< The best is the smallest. */
  cavum_scan_watcher *watcher; /**< About ten times a second; may be NULL. */
  void *watcher_data;          /**< Borrowed. */
  cavum_log_hook *log; /**< Note on the base cell, work to do, workers that died; called in the
                          process that runs the scan, never in its workers. NULL: nobody. */
  void *log_data;      /**< Handed on to it. */
} cavum_scan_options;

/**
 * What cavum_scan_options_default() calls.
 * @param[out] options      As many of its bytes as struct_size says are set.
 * @param[in]  struct_size  sizeof(cavum_scan_options) where the program is compiled.
 */
CAVUM_API void cavum_scan_options_set_defaults(cavum_scan_options *options, size_t struct_size);

/** Everything, one worker a core, nothing watched, no log. */
static inline cavum_scan_options cavum_scan_options_default(void) {
  cavum_scan_options options;
  cavum_scan_options_set_defaults(&options, sizeof options);
  return options;
}

/** What cavum_scan_run() calls; struct_size is sizeof(cavum_scan_progress) of the program. */
CAVUM_API cavum_status cavum_scan_run_sized(cavum_scan_progress *outcome, size_t struct_size,
                                            cavum_study *study, const char *output,
                                            const cavum_scan_options *options, cavum_error *error);

/**
 * Computes what is missing of a study, or of a part of it, in worker processes of its own.
 *
 * Finished batches are kept in a folder beside the output, `OUTPUT.parts`, one file a worker;
 * each batch is one record with a checksum. Records of another study there are refused. The caller
 * should have limited its linear algebra to one core before. A worker that dies is replaced and its
 * batch computed again; a shape that kills its worker by itself becomes a row of its own.
 *
 * @param[out] outcome  Final progress, may be NULL; also set on failure.
 * @param[in]  study    Open study.
 * @param[in]  output   Name of the result file, which this call does not write.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given, options that never saw their defaults or
 *                            are out of range.
 * @retval CAVUM_OK           every batch of the part is stored.
 * @retval CAVUM_ERR_STOPPED  options->stop said so; batches that are complete are stored.
 * @retval CAVUM_ERR_FILE     folder unwritable, disk full; what is done is stored.
 * @retval CAVUM_ERR_INPUT    the folder holds records of another study.
 * @retval CAVUM_ERR_LIBRARY  processes cannot be made, or die again and again.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_scan_run(cavum_scan_progress *outcome, cavum_study *study,
                                          const char *output, const cavum_scan_options *options,
                                          cavum_error *error) {
  return cavum_scan_run_sized(outcome, sizeof(cavum_scan_progress), study, output, options, error);
}

/** What a few shapes cost, for the time and memory to ask a cluster for. */
typedef struct cavum_scan_estimate {
  int64_t shapes_measured;
  double seconds_per_shape; /**< Of one worker. */
  double memory_bytes;      /**< Largest resident size of a worker. */
  double row_bytes;         /**< In the folder of records. */
} cavum_scan_estimate;

/**
 * Computes a few batches spread over the study in a process of its own and keeps nothing of them.
 * @param[out] estimate  Untouched unless CAVUM_OK.
 * @param[in]  study     Open study.
 * @param[in]  seconds   Time to spend, about.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_LIBRARY  no process could be made, or it died.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_measure(cavum_scan_estimate *estimate, cavum_study *study,
                                          double seconds, cavum_error *error);

/** The records of a study in the folder beside an output: opaque. */
typedef struct cavum_scan_records cavum_scan_records;

/**
 * Finds every whole record of a study. Shapes are known again by their numbers: records stay in use
 * when the study got another title or more shapes behind its last.
 * @param[out] records  Owned by the caller (cavum_scan_records_close()).
 * @param[in]  study    Borrowed, must outlive the records.
 * @param[in]  output   Name of the result file; the folder need not exist.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  records of other settings or of another version, or of shapes that the
 *                          study does not have.
 * @retval CAVUM_ERR_FILE   cannot be read.
 */
CAVUM_API cavum_status cavum_scan_records_open(cavum_scan_records **records,
                                               const cavum_study *study, const char *output,
                                               cavum_error *error);

/** Frees records and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_scan_records_close(cavum_scan_records **records);

/** Batches that are stored. */
CAVUM_API int64_t cavum_scan_records_num_stored(const cavum_scan_records *records);

/** Batches that were stored twice with different bytes: two machines that do not agree. */
CAVUM_API int64_t cavum_scan_records_num_conflicts(const cavum_scan_records *records);

/** Bytes of records that were cut off or damaged and are ignored. */
CAVUM_API int64_t cavum_scan_records_bytes_ignored(const cavum_scan_records *records);

/** Reasons in the batches that are stored. */
CAVUM_API int64_t cavum_scan_records_num_reasons(const cavum_scan_records *records);

/** Files the records are in. */
CAVUM_API int cavum_scan_records_num_files(const cavum_scan_records *records);

/** Who computed what is in one file; all borrowed. */
typedef struct cavum_scan_source {
  const char *path;
  const char *host; /**< As it named itself. */
  int64_t num_batches;
} cavum_scan_source;

/** One of the files. */
CAVUM_API cavum_scan_source cavum_scan_records_source(const cavum_scan_records *records, int file);

/** Why a shape has no full row. */
typedef struct cavum_shape_reason {
  int64_t shape;
  const char *text; /**< One line. */
} cavum_shape_reason;

/** The rows of one batch. */
typedef struct cavum_scan_batch {
  int64_t first_shape;
  int num_rows;
  const unsigned char *rows; /**< Shape [num_rows, row size]. */
  int num_reasons;
  const cavum_shape_reason *reasons; /**< Shape [num_reasons], by rising shape. */
} cavum_scan_batch;

/**
 * Reads the rows of one batch.
 * @param[out] batch    Borrowed from the records until the next call; untouched unless CAVUM_OK.
 * @param[in]  records  Open records.
 * @param[in]  index    Batch, from 0.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_RANGE  no such batch.
 * @retval CAVUM_ERR_INPUT  the batch is missing, or was damaged since the records were opened.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_records_read(cavum_scan_batch *batch, cavum_scan_records *records,
                                               int64_t index, cavum_error *error);

/**
 * Removes the records of an output with their folder, once they are gathered.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE  a file or the folder cannot be removed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_scan_records_remove(const char *output, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
