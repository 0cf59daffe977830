// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file bench_study.h
 * The study that benchmarks run: five dimensions of the mid cell, with or without its frequency
 * held.
 */
#ifndef CAVUM_BENCH_STUDY_H
#define CAVUM_BENCH_STUDY_H

#include <stdio.h>
#include <stdlib.h>

#include "cavum/cavum.h"

/** Ends the benchmark with a message. */
static inline void bench_study_quit(const cavum_error *error) {
  fprintf(stderr, "benchmark: %s\n", error->message);
  exit(EXIT_FAILURE);
}

static inline FILE *bench_study_open_file(const char *folder, const char *name, const char *mode) {
  char path[600];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, mode);
  if (!file) exit(EXIT_FAILURE);
  return file;
}

/** Copies the cell that is varied to a folder; once, before the first study. */
static inline void bench_study_copy_cell(const char *folder) {
  char text[4096] = "";
  FILE *file = bench_study_open_file(CAVUM_CELLS_FOLDER, "mid-cell.yaml", "r");
  if (fread(text, 1, sizeof text - 1, file) == 0) exit(EXIT_FAILURE);
  fclose(file);
  file = bench_study_open_file(folder, "cell.yaml", "w");
  fputs(text, file);
  fclose(file);
}

/**
 * Makes a study in a folder; ends the benchmark when that fails.
 * @param[in] name    Of the file, new.
 * @param[in] shapes  Points of the plan.
 * @param[in] held    Whether the frequency is held.
 * @param[in] more    Further lines.
 * @return Close with cavum_study_close().
 */
static inline cavum_study *bench_study_make_with(const char *folder, const char *name,
                                                 long long shapes, int held, const char *more) {
  char path[600];
  cavum_study *study = NULL;
  cavum_error error = {0};
  FILE *file = bench_study_open_file(folder, name, "w");
  fprintf(file,
          "cell: cell.yaml\n"
          "vary:\n"
          "  iris_radius_mm: {from: 33.0, to: 37.0}\n"
          "  iris_ellipse.axial_mm: {from: 10.0, to: 13.0}\n"
          "  iris_ellipse.radial_mm: {from: 15.0, to: 21.0}\n"
          "  equator_ellipse.axial_mm: {from: 39.0, to: 43.0}\n"
          "  equator_ellipse.radial_mm: {from: 39.0, to: 43.0}\n"
          "sampling: {kind: sobol, points: %lld}\n",
          shapes);
  if (held) fprintf(file, "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n");
  fputs(more, file);
  fclose(file);
  snprintf(path, sizeof path, "%s/%s", folder, name);
  if (cavum_study_open(&study, path, &error) != CAVUM_OK) bench_study_quit(&error);
  return study;
}

/** The same without further lines. */
static inline cavum_study *bench_study_make(const char *folder, const char *name, long long shapes,
                                            int held) {
  return bench_study_make_with(folder, name, shapes, held, "");
}

/**
 * Largest resident size of a worker in a second of a study with the frequency held. Measured in a
 * child process, which starts with what this one has in memory: call it early.
 */
static inline double bench_study_worker_memory_bytes(const char *folder, long long shapes) {
  char name[48];
  cavum_scan_estimate estimate;
  cavum_error error = {0};
  snprintf(name, sizeof name, "memory-%lld.yaml", shapes);
  cavum_study *study = bench_study_make(folder, name, shapes, 1);
  if (cavum_scan_measure(&estimate, study, 1.0, &error) != CAVUM_OK) bench_study_quit(&error);
  cavum_study_close(&study);
  return estimate.memory_bytes;
}

#endif
