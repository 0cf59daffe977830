// SPDX-License-Identifier: GPL-3.0-or-later
// The rules for outputs, in the order in which a message helps most.
#include "cli/outputs.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/files.h"
#include "cli/output_kind.h"
#include "cli/process.h"

// A file that cannot be declared would not be guarded: the check then refuses.
void cavum_outputs_read(cavum_outputs *outputs, const char *path) {
  if (outputs->status == CAVUM_OK) outputs->status = cavum_files_add(&outputs->read, path, NULL);
}

void cavum_outputs_read_all(cavum_outputs *outputs, const cavum_files *files) {
  for (int i = 0; files && i < files->num_paths; i++) cavum_outputs_read(outputs, files->paths[i]);
}

void cavum_outputs_read_test(cavum_outputs *outputs, const cavum_coldtest_file *file) {
  cavum_outputs_read(outputs, file->readings_path);
  cavum_outputs_read(outputs, file->result_path);
  for (int i = 0; i < file->num_traces; i++) cavum_outputs_read(outputs, file->traces[i].path);
}

void cavum_outputs_write(cavum_outputs *outputs, cavum_output_kind kind, const char *option,
                         const char *path) {
  if (!path) return;
  if (outputs->num_written == CAVUM_OUTPUTS_MOST_WRITTEN) {
    outputs->status = CAVUM_ERR_INTERNAL;
    return;
  }
  outputs->written[outputs->num_written++] = (cavum_output){option, path, kind};
}

static bool on_screen(const char *path) { return strcmp(path, "-") == 0; }

static cavum_status refuse(const cavum_output *output, const char *what, cavum_error *error) {
  char subject[CAVUM_MESSAGE_SIZE];
  snprintf(subject, sizeof subject, "%s %.300s", output->option, output->path);
  return cavum_process_fail(error, CAVUM_ERR_USAGE, subject, what);
}

// A path without links for a file that does not exist yet, which a link may lead to all the same.
// False when even the folder does not exist.
static bool resolve(char out[PATH_MAX], const char *path) {
  char folder[PATH_MAX], real[PATH_MAX];
  char *file = cavum_file_behind_links(path);
  if (!file) return false;
  const char *slash = strrchr(file, '/');
  snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - file) + 1 : 1, slash ? file : ".");
  bool good = realpath(folder, real) &&
              snprintf(out, PATH_MAX, "%s/%s", real, slash ? slash + 1 : file) < PATH_MAX;
  free(file);
  return good;
}

/** How two names stand to each other. */
typedef enum sameness {
  OTHER_FILES,
  SAME_BUT_FOR_CASE, /**< Of files to come: one, where file systems do not tell capital letters. */
  SAME_FILE
} sameness;

// Devices are shared by nature: /dev/null may stand for all outputs. Of files that exist the file
// system says whether they are one, whatever their letters.
static sameness compare_names(const char *a, const char *b) {
  struct stat info_a, info_b;
  char path_a[PATH_MAX], path_b[PATH_MAX];
  if (on_screen(a) || on_screen(b)) return on_screen(a) && on_screen(b) ? SAME_FILE : OTHER_FILES;
  bool exists_a = stat(a, &info_a) == 0, exists_b = stat(b, &info_b) == 0;
  if (exists_a != exists_b) return OTHER_FILES;
  if (exists_a) {
    bool same =
        info_a.st_dev == info_b.st_dev && info_a.st_ino == info_b.st_ino && S_ISREG(info_a.st_mode);
    return same ? SAME_FILE : OTHER_FILES;
  }
  if (!resolve(path_a, a) || !resolve(path_b, b)) return OTHER_FILES;
  if (strcmp(path_a, path_b) == 0) return SAME_FILE;
  size_t folder = (size_t)(strrchr(path_a, '/') - path_a);
  bool same_folder = strncmp(path_a, path_b, folder + 1) == 0;
  bool same_letters = strcasecmp(path_a, path_b) == 0;
  return same_folder && same_letters ? SAME_BUT_FOR_CASE : OTHER_FILES;
}

static cavum_status check_ending(const cavum_output *output, cavum_error *error) {
  char what[128];
  const char *other = cavum_output_kind_other_ending(output->kind, output->path);
  if (!other || on_screen(output->path)) return CAVUM_OK;
  snprintf(what, sizeof what, "the ending says %s, but %s is written", other,
           output->kind == CAVUM_OUTPUT_PICTURE ? "a picture (.png, .svg or .pdf)"
                                                : cavum_output_kind_name(output->kind));
  return refuse(output, what, error);
}

static cavum_status check_against_inputs(const cavum_outputs *outputs, const cavum_output *output,
                                         cavum_error *error) {
  char what[CAVUM_MESSAGE_SIZE];
  for (int i = 0; i < outputs->read.num_paths; i++) {
    const char *read = outputs->read.paths[i];
    if (on_screen(output->path) || compare_names(output->path, read) != SAME_FILE) continue;
    snprintf(what, sizeof what, "would replace %.300s, which this command reads", read);
    return refuse(output, what, error);
  }
  return CAVUM_OK;
}

static cavum_status check_against_others(const cavum_outputs *outputs, int index,
                                         cavum_error *error) {
  char what[CAVUM_MESSAGE_SIZE];
  const cavum_output *output = &outputs->written[index];
  for (int i = 0; i < index; i++) {
    sameness same = compare_names(output->path, outputs->written[i].path);
    if (same == OTHER_FILES) continue;
    if (on_screen(output->path)) {
      snprintf(what, sizeof what, "standard output takes %s already", outputs->written[i].option);
      return refuse(output, what, error);
    }
    snprintf(what, sizeof what, "is the file of %s as well%s", outputs->written[i].option,
             same == SAME_FILE ? "" : " where capital letters are not told from small ones");
    return refuse(output, what, error);
  }
  return CAVUM_OK;
}

// Renaming would replace a file that its owner, or the owner of the folder, meant to keep: the
// rights of the folder decide about that, not those of the file.
static bool is_read_only(const char *path, const struct stat *info) {
  return (info->st_mode & (S_IWUSR | S_IWGRP | S_IWOTH)) == 0 || access(path, W_OK) != 0;
}

static cavum_status check_target(const cavum_outputs *outputs, const cavum_output *output,
                                 cavum_error *error) {
  char what[CAVUM_MESSAGE_SIZE];
  struct stat info;
  if (on_screen(output->path) || stat(output->path, &info) != 0) return CAVUM_OK;
  if (S_ISDIR(info.st_mode)) return refuse(output, "is a folder", error);
  if (!S_ISREG(info.st_mode) || outputs->overwrite) return CAVUM_OK;
  if (is_read_only(output->path, &info)) {
    return refuse(output, "is read-only; --overwrite replaces it", error);
  }
  if (!cavum_output_kind_matches(output->kind, output->path)) {
    bool tuned = output->kind == CAVUM_OUTPUT_TUNED_CELL;
    if (tuned) {
      snprintf(what, sizeof what,
               "exists, and a cell file may be somebody's work; --overwrite replaces it");
    } else {
      snprintf(what, sizeof what, "exists and is not %s; --overwrite replaces it",
               cavum_output_kind_name(output->kind));
    }
    return refuse(output, what, error);
  }
  if (output->kind != CAVUM_OUTPUT_SCAN || !outputs->is_result_of || info.st_size == 0) {
    return CAVUM_OK;
  }
  if (outputs->is_result_of(output->path, outputs->study)) return CAVUM_OK;
  char difference[CAVUM_STUDY_DIFFERENCE_SIZE] = "";
  if (outputs->tell_difference) {
    outputs->tell_difference(difference, output->path, outputs->study);
  }
  snprintf(what, sizeof what, "holds the result of another study%s%s%s; --overwrite replaces it",
           difference[0] ? " (" : "", difference, difference[0] ? ")" : "");
  return refuse(output, what, error);
}

static void hint_at_paraview(const cavum_output *output) {
  if (on_screen(output->path)) return;
  if (!cavum_output_kind_hides_from_paraview(output->kind, output->path)) return;
  fprintf(stderr, "cavum: note: %s: ParaView opens it by itself when its name ends in .hdf\n",
          output->path);
}

static void note_missing_seal(const char *path) {
  if (!cavum_output_kind_lacks_seal(path)) return;
  fprintf(stderr,
          "cavum: note: %s: has no checksum at its end (cut short, changed, or written by an "
          "earlier version): damage cannot be detected\n",
          path);
}

static cavum_status check_all(const cavum_outputs *outputs, cavum_error *error) {
  if (outputs->status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (outputs->status != CAVUM_OK) return cavum_fail_internal(error, "a command with more outputs");
  for (int i = 0; i < outputs->num_written; i++) {
    const cavum_output *output = &outputs->written[i];
    cavum_status status = check_against_inputs(outputs, output, error);
    if (status == CAVUM_OK) status = check_against_others(outputs, i, error);
    if (status == CAVUM_OK) status = check_ending(output, error);
    if (status == CAVUM_OK) status = cavum_process_check_output(output->path, error);
    if (status == CAVUM_OK) status = check_target(outputs, output, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static void note(const cavum_outputs *outputs) {
  for (int i = 0; i < outputs->num_written; i++) hint_at_paraview(&outputs->written[i]);
  for (int i = 0; i < outputs->read.num_paths; i++) note_missing_seal(outputs->read.paths[i]);
}

cavum_status cavum_outputs_check(cavum_outputs *outputs, cavum_error *error) {
  cavum_status status = check_all(outputs, error);
  if (status == CAVUM_OK && !outputs->again) note(outputs);
  cavum_outputs_clear(outputs);
  return status;
}

void cavum_outputs_clear(cavum_outputs *outputs) {
  cavum_files_clear(&outputs->read);
  *outputs = (cavum_outputs){0};
}
