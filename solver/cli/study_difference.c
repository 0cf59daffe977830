// SPDX-License-Identifier: GPL-3.0-or-later
// The texts of study and cell that a result holds, key by key against those of a study.
#include "cli/study_difference.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/compare_inputs.h"
#include "store/coldtest_load.h"

/** One text as it was and as it is. */
typedef struct two_texts {
  cavum_inputs was, is;
} two_texts;

static bool begins_with(const char *key, const char *word) {
  size_t length = strlen(word);
  return strncmp(key, word, length) == 0 && strchr(".[", key[length]) != NULL;
}

// Keys that decide no row: another value of theirs is no other study.
static bool counts(const char *key) {
  return strcmp(key, "title") != 0 && strcmp(key, "cell") != 0 && strcmp(key, "table") != 0 &&
         strcmp(key, "batch") != 0 && !begins_with(key, "aims");
}

// What a key means that is not there.
static const char *default_of(const char *key) {
  static const char *const defaults[][2] = {
      {"mode", "1"}, {"sampling.seed", "0"}, {"coupling", "no"}};
  for (size_t i = 0; i < sizeof defaults / sizeof *defaults; i++) {
    if (strcmp(defaults[i][0], key) == 0) return defaults[i][1];
  }
  return NULL;
}

static const char *value_in(const cavum_inputs *inputs, const char *key) {
  for (int i = 0; i < inputs->count; i++) {
    if (strcmp(inputs->rows[i].key, key) == 0) return inputs->rows[i].value;
  }
  return default_of(key);
}

static void write_change(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *where, const char *key,
                         const char *was, const char *is) {
  static const char absent[] = "not there";
  snprintf(out, CAVUM_STUDY_DIFFERENCE_SIZE, "%s%.95s was %.47s, is %.47s now", where, key,
           was ? was : absent, is ? is : absent);
}

// The first key of the one list whose value in the other is not the same.
static bool find_change(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *where,
                        const two_texts *texts, bool among_old) {
  const cavum_inputs *inputs = among_old ? &texts->was : &texts->is;
  for (int i = 0; i < inputs->count; i++) {
    const char *key = inputs->rows[i].key;
    const char *was = value_in(&texts->was, key), *is = value_in(&texts->is, key);
    if (!counts(key) || (was && is && strcmp(was, is) == 0)) continue;
    write_change(out, where, key, was, is);
    return true;
  }
  return false;
}

// False when nothing differs, or the texts cannot be read.
static bool compare_texts(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *where,
                          const char *path, const char *place, const char *now) {
  two_texts texts = {0};
  char *stored = NULL;
  bool found = cavum_stored_read_text(&stored, path, place, NULL) == CAVUM_OK &&
               cavum_inputs_read(&texts.was, NULL, stored, NULL) == CAVUM_OK &&
               cavum_inputs_read(&texts.is, NULL, now, NULL) == CAVUM_OK &&
               (find_change(out, where, &texts, false) || find_change(out, where, &texts, true));
  cavum_inputs_clear(&texts.was);
  cavum_inputs_clear(&texts.is);
  free(stored);
  return found;
}

void cavum_study_difference_write(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *path,
                                  const cavum_study *study) {
  if (compare_texts(out, "", path, "/input/study_file", cavum_study_text(study))) return;
  if (compare_texts(out, "cell: ", path, "/input/cell_file", cavum_study_cell_text(study))) return;
  snprintf(out, CAVUM_STUDY_DIFFERENCE_SIZE,
           "the keys are the same; a table, a mesh or the version of cavum is another");
}
