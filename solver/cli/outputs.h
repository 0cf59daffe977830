// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/outputs.h
 * What a command reads and what it writes, checked before anything is computed, so that no run
 * costs a file that was not meant.
 *
 * A command declares its files with cavum_outputs_read() and cavum_outputs_write() and then asks
 * cavum_outputs_check() once.
 */
#ifndef CAVUM_CLI_OUTPUTS_H
#define CAVUM_CLI_OUTPUTS_H

#include <stdbool.h>

#include "cavum/coldtest_file.h"
#include "cavum/scan.h"
#include "cli/study_difference.h"

/** What is in a file that a command writes. */
typedef enum cavum_output_kind {
  CAVUM_OUTPUT_RESULT,          /**< HDF5 of solve. */
  CAVUM_OUTPUT_COLDTEST,        /**< HDF5 of coldtest. */
  CAVUM_OUTPUT_SCAN,            /**< HDF5 of scan. */
  CAVUM_OUTPUT_PLAN,            /**< HDF5 of coldtest --plan. */
  CAVUM_OUTPUT_OPTIMUM,         /**< HDF5 of optimise: a result with the search. */
  CAVUM_OUTPUT_FRONT,           /**< HDF5 of optimise: shapes of a front. */
  CAVUM_OUTPUT_COMPARISON,      /**< HDF5 of compare, of tests. */
  CAVUM_OUTPUT_SPREAD,          /**< HDF5 of tolerances. */
  CAVUM_OUTPUT_STEPS,           /**< HDF5 of steps. */
  CAVUM_OUTPUT_AS_BUILT,        /**< HDF5 of as-built. */
  CAVUM_OUTPUT_RESULT_JSON,     /**< Figures of solve. */
  CAVUM_OUTPUT_COLDTEST_JSON,   /**< Figures of coldtest. */
  CAVUM_OUTPUT_COMPARISON_JSON, /**< Changes of compare. */
  CAVUM_OUTPUT_SOURCES_JSON,    /**< Who computed what of a scan. */
  CAVUM_OUTPUT_SPREAD_JSON,     /**< Spread of tolerances. */
  CAVUM_OUTPUT_OPTIMUM_JSON,    /**< Best shape of optimise. */
  CAVUM_OUTPUT_STEPS_JSON,      /**< Chain of steps. */
  CAVUM_OUTPUT_AS_BUILT_JSON,   /**< Measured wall. */
  CAVUM_OUTPUT_TUNE_JSON,       /**< Tuning of tune. */
  CAVUM_OUTPUT_COLDTEST_CSV,    /**< Points of coldtest. */
  CAVUM_OUTPUT_COMPARISON_CSV,  /**< Ratios of compare, of tests. */
  CAVUM_OUTPUT_SCAN_CSV,        /**< Rows of scan. */
  CAVUM_OUTPUT_CELL,            /**< Cell file of a shape of scan. */
  CAVUM_OUTPUT_TUNED_CELL,      /**< Cell file of tune: like any other, so none is replaced. */
  CAVUM_OUTPUT_MESH,            /**< MSH file. */
  CAVUM_OUTPUT_PICTURE,         /**< PNG, SVG or PDF, as the ending says. */
  CAVUM_OUTPUT_REPORT,          /**< Web page. */
  CAVUM_OUTPUT_PICTURE_JSON,    /**< What draw wrote. */
  CAVUM_OUTPUT_REPORT_JSON,     /**< What report wrote. */
  CAVUM_OUTPUT_MESH_JSON,       /**< What mesh wrote. */
  CAVUM_OUTPUT_SCAN_JSON,       /**< Progress, summary or estimate of scan. */
  CAVUM_OUTPUT_FIGURES_JSON,    /**< Definitions of figures. */
  CAVUM_NUM_OUTPUT_KINDS
} cavum_output_kind;

enum { CAVUM_OUTPUTS_MOST_WRITTEN = 16 };

/** A file to write. */
typedef struct cavum_output {
  const char *option; /**< What names it, for messages ("--csv"); borrowed. */
  const char *path;   /**< Borrowed; "-" is standard output. */
  cavum_output_kind kind;
} cavum_output;

/** All files of a command. Zero-initialise; cavum_outputs_check() ends with it. */
typedef struct cavum_outputs {
  cavum_files read;    /**< Owned. */
  cavum_status status; /**< Of what was declared: CAVUM_OK, or why the lists are not complete. */
  int num_written;
  cavum_output written[CAVUM_OUTPUTS_MOST_WRITTEN];
  cavum_study *study; /**< SCAN: whose result is written; that of another one is foreign. */
  /** SCAN: whether a file is a result of the study. Given by the command, since programs that read
   * no studies do not load what studies need. */
  bool (*is_result_of)(const char *path, cavum_study *study);
  /** SCAN: writes in what that file is the result of another study; NULL: nothing to say. */
  void (*tell_difference)(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *path,
                          const cavum_study *study);
  bool overwrite; /**< Foreign files may be replaced; what is read never. */
  bool again;     /**< Checked before: notes are not repeated. */
} cavum_outputs;

/** Declares a file that is read; NULL and "" are none. */
void cavum_outputs_read(cavum_outputs *outputs, const char *path);

/** Declares all files that something was read from; NULL has none. */
void cavum_outputs_read_all(cavum_outputs *outputs, const cavum_files *files);

/** Declares what a test file names: readings, decay traces, the result of a solve. */
void cavum_outputs_read_test(cavum_outputs *outputs, const cavum_coldtest_file *file);

/** Declares a file that is written; NULL is none. */
void cavum_outputs_write(cavum_outputs *outputs, cavum_output_kind kind, const char *option,
                         const char *path);

/**
 * Checks everything that was declared:
 * - the folder of each output can be written to;
 * - its ending does not say another format;
 * - no output is a file that is read (the same file by device and inode, through links, or by its
 *   path while it does not exist), and no two outputs are one file, or would be on a file system
 * that does not tell capital letters;
 * - a file that exists is of the kind that is to replace it, unless `overwrite` is set. Devices and
 *   pipes are written to as they are.
 *
 * Says on standard error when a result file gets a name that ParaView does not open by itself, and
 * when an HDF5 file that is read has no digest.
 *
 * @param[in,out] outputs  What was declared; freed and emptied in any case.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_FILE   a folder that does not exist or cannot be written to.
 * @retval CAVUM_ERR_USAGE  everything else that is wrong with the files.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_INTERNAL  they could not all be declared.
 */
cavum_status cavum_outputs_check(cavum_outputs *outputs, cavum_error *error);

/** Frees what was declared, where it is not checked. */
void cavum_outputs_clear(cavum_outputs *outputs);

#endif
