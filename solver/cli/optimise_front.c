// SPDX-License-Identifier: GPL-3.0-or-later
// cavum optimise for a goal with a front: figures against each other.
#include "cli/optimise_front.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "cli/interrupt.h"
#include "cli/optimise_progress.h"
#include "cli/process.h"
#include "cli/stopped.h"
#include "format/quantity.h"

enum { LEAST_WIDTH = 14, GAP = 2, SOLVES_WIDTH = 8, HEADING_SIZE = CAVUM_CELL_KEY_SIZE + 16 };

static void write_heading(char text[HEADING_SIZE], const cavum_front_axis *limit) {
  snprintf(text, HEADING_SIZE, "%s at %s", limit->what.key, limit->smaller ? "most" : "least");
}

static const cavum_front_axis *figure_of(const cavum_front *front, int i) {
  return i == 0 ? &front->objective : &front->axes[i - 1];
}

/** Figures of the points as they are printed, and how wide their columns are for it. */
typedef struct figure_texts {
  char (*text)[1 + CAVUM_FRONT_MOST_AXES][CAVUM_QUANTITY_SIZE]; /**< Owned, shape [num_points]. */
  int width[1 + CAVUM_FRONT_MOST_AXES];
} figure_texts;

static int width_of(const char *text) {
  int length = (int)strlen(text) + GAP;
  return length > LEAST_WIDTH ? length : LEAST_WIDTH;
}

// A column is as wide as its heading or its widest number, and two blanks.
static cavum_status write_figures(figure_texts *figures, const cavum_front *front,
                                  cavum_error *error) {
  figures->text = calloc((size_t)front->num_points + 1, sizeof *figures->text);
  if (!figures->text) {
    return cavum_process_fail(error, CAVUM_ERR_MEMORY, "front", "out of memory");
  }
  for (int i = 0; i <= front->num_axes; i++) {
    figures->width[i] = width_of(figure_of(front, i)->what.key);
    for (int k = 0; k < front->num_points; k++) {
      const cavum_front_point *p = &front->points[k];
      char *text = figures->text[k][i];
      snprintf(text, CAVUM_QUANTITY_SIZE, "-");
      if (p->kind != CAVUM_FRONT_GAP) {
        cavum_quantity_format(text, p->value[i], p->uncertainty[i]);
      }
      if (width_of(text) > figures->width[i]) figures->width[i] = width_of(text);
    }
  }
  return CAVUM_OK;
}

static void print_headings(const cavum_front *front, const figure_texts *figures) {
  for (int a = 0; a < front->num_axes; a++) {
    char heading[HEADING_SIZE];
    write_heading(heading, &front->axes[a]);
    printf("%*s", width_of(heading), heading);
  }
  for (int i = 0; i <= front->num_axes; i++) {
    printf("%*s", figures->width[i], figure_of(front, i)->what.key);
  }
  printf("%*s\n", SOLVES_WIDTH, "solves");
}

static void print_point(const cavum_front *front, int point, const figure_texts *figures) {
  const cavum_front_point *p = &front->points[point];
  for (int a = 0; a < front->num_axes; a++) {
    char heading[HEADING_SIZE];
    write_heading(heading, &front->axes[a]);
    printf("%*.9g", width_of(heading), p->limit[a]);
  }
  for (int i = 0; i <= front->num_axes; i++) {
    printf("%*s", figures->width[i], figures->text[point][i]);
  }
  printf("%*d  %s", SOLVES_WIDTH, p->num_solves, cavum_front_kind_word(p->kind));
  if (p->kind == CAVUM_FRONT_GAP) printf(" (%s)", cavum_optimum_end_word(p->end));
  if (p->kind == CAVUM_FRONT_GAP && p->at_seam) printf(", at a seam of parts");
  printf("\n");
}

// The digits of a solve are not those to which another search finds the same optimum.
static void print_residual(const cavum_front *front) {
  double most = -1.0;
  for (int i = 0; i < front->num_points; i++) {
    const cavum_front_point *p = &front->points[i];
    if (p->kind != CAVUM_FRONT_GAP && p->residual > most) most = p->residual;
  }
  if (most < 0.0) {
    printf("\n");
    return;
  }
  printf(
      "first-order conditions met to %.2g: objectives may still gain that part; digits in "
      "parentheses are the uncertainty of a solve\n\n",
      most);
}

static cavum_status print_front(const cavum_front *front, const char *title, cavum_error *error) {
  int count[4] = {0};
  figure_texts figures = {.text = NULL};
  cavum_status status = write_figures(&figures, front, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < front->num_points; i++) count[front->points[i].kind]++;
  int points = count[CAVUM_FRONT_POINT] + count[CAVUM_FRONT_BEYOND];
  if (title[0]) printf("%s\n\n", title);
  printf("mode %d: front of %d point%s after %d solves", front->mode + 1, points,
         points == 1 ? "" : "s", front->num_solves);
  printf("; %d gap%s, %d with a limit that is not active, %d dominated\n", count[CAVUM_FRONT_GAP],
         count[CAVUM_FRONT_GAP] == 1 ? "" : "s", count[CAVUM_FRONT_BEYOND],
         count[CAVUM_FRONT_DOMINATED]);
  print_residual(front);
  print_headings(front, &figures);
  for (int i = 0; i < front->num_points; i++) print_point(front, i, &figures);
  free(figures.text);
  return CAVUM_OK;
}

// The shapes of the front as a scan: any program that reads those reads this. Its few solves are
// not stopped, since a search that was stopped has to be written as well.
static cavum_status write_front(const char *output, const cavum_front *front, const char *goal_path,
                                bool keep_parts, cavum_error *error) {
  cavum_study *study = NULL;
  cavum_scan_records *records = NULL;
  cavum_scan_options options = cavum_scan_options_default();
  cavum_status status = cavum_study_open_text(&study, front->study_text, strlen(front->study_text),
                                              goal_path, NULL, error);
  if (status == CAVUM_OK) status = cavum_scan_run(NULL, study, output, &options, error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, output, error);
  if (status == CAVUM_OK) status = cavum_store_write_front(output, study, records, front, error);
  cavum_scan_records_close(&records);
  if (status == CAVUM_OK && !keep_parts) status = cavum_scan_records_remove(output, error);
  cavum_study_close(&study);
  return status;
}

// Writes and prints what was found, also of a walk that was stopped.
static cavum_status hand_over(cavum_status status, const cavum_front *front, const char *title,
                              const cavum_optimise_front_choices *c, cavum_error *error) {
  cavum_error output_error = {0};
  cavum_status written = CAVUM_OK;
  const char *output = c->output;
  bool stopped = status == CAVUM_ERR_STOPPED;
  if (stopped) {
    const char **const names[] = {&output};
    cavum_stopped_tell_files(names, 1, c->overwrite, error);
  }
  if (output) {
    bool keep_parts = c->keep_parts || (stopped && c->gather);
    written = write_front(output, front, c->goal_path, keep_parts, &output_error);
  }
  if (written != CAVUM_OK) *error = output_error;
  if (written == CAVUM_OK && !c->quiet) written = print_front(front, title, error);
  return written == CAVUM_OK ? status : written;
}

cavum_status cavum_optimise_front_run(cavum_goal *goal, const cavum_optimise_front_choices *choices,
                                      cavum_error *error) {
  cavum_front *front = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  cavum_optimise_teller teller;
  options.watcher = cavum_optimise_tell_solve;
  options.watcher_data = &teller;
  options.stop = cavum_interrupt_came;
  cavum_optimise_tell_begin(&teller, choices->quiet);
  cavum_status status = cavum_goal_set_watcher(goal, cavum_optimise_tell, &teller, error);
  if (status == CAVUM_OK) {
    status = choices->gather
                 ? cavum_optimise_front_gather(&front, goal, choices->output, &options, error)
                 : cavum_optimise_front(&front, goal, &options, error);
  }
  cavum_optimise_tell_end(&teller);
  if (front) {
    status = hand_over(status, front, cavum_goal_title(goal), choices, error);
  } else if (status == CAVUM_ERR_STOPPED) {
    status = cavum_interrupt_check(error);
  }
  cavum_front_destroy(&front);
  return status;
}
