// SPDX-License-Identifier: GPL-3.0-or-later
// A front as a study.
#include "optimum/front_study.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "yaml/writer.h"

static void write_shapes(cavum_writer *writer, const cavum_front *front) {
  char number[CAVUM_WRITER_NUMBER_SIZE];
  cavum_writer_word(writer, "shapes");
  cavum_writer_open_mapping(writer, false);
  for (int i = 0; i < front->num_inputs; i++) {
    cavum_writer_text(writer, front->inputs[i]);
    cavum_writer_open_list(writer);
    for (int k = 0; k < front->num_points; k++) {
      if (front->points[k].kind == CAVUM_FRONT_GAP) continue;
      cavum_writer_number_text(number, front->points[k].inputs[i], CAVUM_UNIT_SI);
      cavum_writer_word(writer, number);
    }
    cavum_writer_close_list(writer);
  }
  cavum_writer_close_mapping(writer);
}

static void write_aim(cavum_writer *writer, const cavum_front_axis *axis) {
  char aim[CAVUM_REQUIREMENT_KEY_SIZE + 16];
  snprintf(aim, sizeof aim, "%s:%s", axis->what.key, axis->smaller ? "smaller" : "larger");
  cavum_writer_text(writer, aim);
}

// The base cell as the goal names it: relative to the folder of the goal.
static const char *beside(const cavum_study *study) {
  const char *slash = strrchr(study->path, '/');
  size_t length = slash ? (size_t)(slash - study->path) + 1 : 0;
  bool below = length > 0 && strncmp(study->path, study->cell_path, length) == 0;
  return below ? study->cell_path + length : study->cell_path;
}

cavum_status cavum_front_write_study(char **text, const cavum_front *front, const cavum_goal *goal,
                                     cavum_error *error) {
  char mode[16];
  const cavum_study *study = goal->study;
  cavum_writer *writer = cavum_writer_create();
  if (!writer) return cavum_fail_memory(error);
  cavum_writer_open_mapping(writer, false);
  cavum_writer_word(writer, "title");
  cavum_writer_text(writer, study->title[0] ? study->title : "Front");
  cavum_writer_word(writer, "cell");
  cavum_writer_text(writer, beside(study));
  write_shapes(writer, front);
  if (study->coupling) {
    cavum_writer_word(writer, "coupling");
    cavum_writer_word(writer, study->coupling_of_inner_cell ? "inner-cell" : "yes");
  }
  // Each shape by itself: its row is what a solve of its cell file says.
  cavum_writer_word(writer, "batch");
  cavum_writer_word(writer, "1");
  snprintf(mode, sizeof mode, "%d", study->mode + 1);
  cavum_writer_word(writer, "mode");
  cavum_writer_word(writer, mode);
  cavum_writer_word(writer, "aims");
  cavum_writer_open_list(writer);
  write_aim(writer, &front->objective);
  for (int a = 0; a < front->num_axes; a++) write_aim(writer, &front->axes[a]);
  cavum_writer_close_list(writer);
  cavum_writer_close_mapping(writer);
  cavum_status status = cavum_writer_finish(text, writer, error);
  cavum_writer_destroy(&writer);
  return status;
}
