// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_reader.h
 * What the parts of reading a study file share.
 */
#ifndef CAVUM_SCAN_STUDY_READER_H
#define CAVUM_SCAN_STUDY_READER_H

#include "cell/keys.h"
#include "scan/study.h"

/** The top level of a study file. */
typedef struct cavum_study_top {
  const char *title, *cell, *table;
  const cavum_yaml_node *vary, *shapes, *sampling, *linked, *hold, *limits, *figures, *modes, *aims,
      *derivatives;
  int coupling, mode, batch;
  int starts; /**< Above 0: a Sobol sequence of so many points, without the section sampling. */
} cavum_study_top;

/** What reading one study shares. */
typedef struct cavum_study_reader {
  const cavum_yaml_reader *reader;
  cavum_study *study;
  cavum_place_finder *finder;
  cavum_study_top top;
} cavum_study_reader;

/** Repeats an error without a place at the place of a node. */
cavum_status cavum_study_reader_fail(const cavum_study_reader *r, const cavum_yaml_node *node,
                                     cavum_status status, const cavum_error *what);

/** Path of a file that is named relative to the folder of a study; free() it; NULL: no memory. */
char *cavum_study_beside(const char *study_path, const char *name);

#endif
