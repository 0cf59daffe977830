// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements in result files: columns of one row each.
#include "store/requirements_file.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "design/requirements.h"

enum { NUM_NUMBERS = 6, NUM_TEXTS = 3 };

static const struct {
  const char *path, *long_name;
} NUMBERS[NUM_NUMBERS] =
    {{"/requirements/least", "lower bound, in the unit of the key"},
     {"/requirements/most", "upper bound, in the unit of the key"},
     {"/requirements/value", "value of the first mode or of the shape"},
     {"/requirements/uncertainty",
      "uncertainty of the value; of what is made with R_s of a fit with that of the fit"},
     {"/requirements/margin", "to the nearer bound; below 0: missed by so much"},
     {"/requirements/change", "change of that dimension, in the unit of its key"}},
  TEXTS[NUM_TEXTS] = {
      {"/requirements/key", "key of the figure that is required"},
      {"/requirements/verdict", "met, missed, undecided within the uncertainty, not known"},
      {"/requirements/mended_by",
       "dimension that meets the requirement with the smallest relative change"}};

void cavum_stored_requirements_clear(cavum_stored_requirements *requirements) {
  if (!requirements) return;
  free(requirements->list);
  *requirements = (cavum_stored_requirements){0};
}

cavum_status cavum_stored_requirements_judge(cavum_stored_requirements *requirements,
                                             const cavum_result *result, const cavum_cell *cell,
                                             cavum_error *error) {
  cavum_requirements *of_cell = NULL;
  cavum_stored_requirements made = {0};
  const char *text = cell->text ? cell->text : "";
  if (*text == '\0') {
    *requirements = made;
    return CAVUM_OK;
  }
  cavum_status status =
      cavum_requirements_read_text(&of_cell, text, strlen(text), "the cell file", error);
  if (status != CAVUM_OK) return status;
  made.list = cavum_alloc(of_cell->count, sizeof *made.list);
  if (made.list) {
    made.count = of_cell->count;
    for (int i = 0; i < made.count; i++) {
      made.list[i].requirement = of_cell->list[i];
      made.list[i].verdict = cavum_requirement_judge(&of_cell->list[i], cell, result, 0);
    }
    *requirements = made;
  } else {
    status = cavum_fail_memory(error);
  }
  cavum_requirements_destroy(&of_cell);
  return status;
}

// The numbers of a row, in the order of their table.
static void numbers_of(double *numbers[NUM_NUMBERS], cavum_stored_requirement *of) {
  double *const all[NUM_NUMBERS] = {&of->requirement.least, &of->requirement.most,
                                    &of->verdict.value,     &of->verdict.uncertainty,
                                    &of->verdict.margin,    &of->verdict.change};
  memcpy(numbers, all, sizeof all);
}

static cavum_status write_numbers(cavum_hdf5_file *file,
                                  const cavum_stored_requirements *requirements,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = requirements->count;
  double *column = cavum_alloc(count, sizeof *column);
  if (!column) return cavum_fail_memory(error);
  for (int k = 0; k < NUM_NUMBERS && status == CAVUM_OK; k++) {
    for (int i = 0; i < count; i++) {
      cavum_stored_requirement row = requirements->list[i];
      double *numbers[NUM_NUMBERS];
      numbers_of(numbers, &row);
      column[i] = *numbers[k];
    }
    const cavum_hdf5_array array = {.path = NUMBERS[k].path,
                                    .rank = 1,
                                    .extent = {count},
                                    .data = column,
                                    .units = "as the key says",
                                    .long_name = NUMBERS[k].long_name};
    status = cavum_hdf5_write_array(file, &array, error);
  }
  free(column);
  return status;
}

// The keys of what would be missed with what mends each: in columns of `width` bytes.
static void list_broken(char *broken, size_t width, const cavum_stored_requirements *all,
                        const cavum_result *result, const cavum_cell *cell) {
  for (int i = 0; i < all->count; i++) {
    char *row = broken + (size_t)i * width;
    size_t length = 0;
    for (int k = 0; k < all->count; k++) {
      const cavum_requirement *other = &all->list[k].requirement;
      if (!cavum_requirement_breaks(other, &all->list[i].verdict, cell, result, 0)) continue;
      length += (size_t)snprintf(row + length, width - length, "%s%s", length > 0 ? ", " : "",
                                 other->key);
    }
  }
}

static cavum_status write_broken(cavum_hdf5_file *file, const cavum_stored_requirements *all,
                                 const cavum_result *result, const cavum_cell *cell,
                                 cavum_error *error) {
  size_t width = (size_t)all->count * (CAVUM_REQUIREMENT_KEY_SIZE + sizeof ", ");
  char *broken = cavum_alloc(all->count, width);
  const char **texts = cavum_alloc(all->count, sizeof *texts);
  cavum_status status = broken && texts ? CAVUM_OK : cavum_fail_memory(error);
  if (status == CAVUM_OK) {
    list_broken(broken, width, all, result, cell);
    for (int i = 0; i < all->count; i++) texts[i] = broken + (size_t)i * width;
    status = cavum_hdf5_write_texts(
        file, "/requirements/breaks", all->count, texts,
        "keys of the requirements that would be missed after that change", error);
  }
  free(texts);
  free(broken);
  return status;
}

cavum_status cavum_stored_requirements_write(cavum_hdf5_file *file,
                                             const cavum_stored_requirements *requirements,
                                             const cavum_result *result, const cavum_cell *cell,
                                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = requirements->count;
  if (count == 0) return CAVUM_OK;
  const char **texts = cavum_alloc(count, sizeof *texts);
  if (!texts) return cavum_fail_memory(error);
  for (int k = 0; k < NUM_TEXTS && status == CAVUM_OK; k++) {
    for (int i = 0; i < count; i++) {
      const cavum_stored_requirement *row = &requirements->list[i];
      texts[i] = k == 0   ? row->requirement.key
                 : k == 1 ? cavum_verdict_word(row->verdict.kind)
                          : row->verdict.dimension;
    }
    status = cavum_hdf5_write_texts(file, TEXTS[k].path, count, texts, TEXTS[k].long_name, error);
  }
  free(texts);
  if (status == CAVUM_OK) status = write_broken(file, requirements, result, cell, error);
  return status == CAVUM_OK ? write_numbers(file, requirements, error) : status;
}

// ---- read

static cavum_status fail_lengths(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s is damaged: it is not as long as the others", path);
}

static cavum_verdict_kind kind_of(const char *word) {
  static const cavum_verdict_kind kinds[] = {CAVUM_VERDICT_MET, CAVUM_VERDICT_MISSED,
                                             CAVUM_VERDICT_UNDECIDED};
  for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
    if (strcmp(word, cavum_verdict_word(kinds[i])) == 0) return kinds[i];
  }
  return CAVUM_VERDICT_ABSENT;
}

// What is required follows from its key, as in a cell file.
static cavum_status take_key(cavum_requirement *requirement, const char *key, cavum_error *error) {
  cavum_error unknown = {0};
  cavum_status status = cavum_requirement_find(requirement, key, &unknown);
  if (status == CAVUM_OK) return CAVUM_OK;
  return cavum_fail(error, status, "%s is damaged: %s", TEXTS[0].path, unknown.message);
}

static void take_text(cavum_stored_requirement *row, int k, const char *text) {
  if (k == 1) row->verdict.kind = kind_of(text);
  if (k == 2) snprintf(row->verdict.dimension, sizeof row->verdict.dimension, "%s", text);
}

static cavum_status read_texts(cavum_stored_requirements *made, const cavum_hdf5_file *file, int k,
                               cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, file, TEXTS[k].path, error);
  if (status != CAVUM_OK) return status;
  if (k == 0) {
    made->list = cavum_alloc(count, sizeof *made->list);
    if (!made->list) status = cavum_fail_memory(error);
    made->count = made->list ? count : 0;
  }
  if (status == CAVUM_OK && count != made->count) status = fail_lengths(TEXTS[k].path, error);
  for (int i = 0; i < count; i++) {
    if (status == CAVUM_OK && k == 0) {
      status = take_key(&made->list[i].requirement, texts[i], error);
    }
    if (status == CAVUM_OK) take_text(&made->list[i], k, texts[i]);
    free(texts[i]);
  }
  free(texts);
  return status;
}

static cavum_status read_numbers(cavum_stored_requirements *made, const cavum_hdf5_file *file,
                                 int k, cavum_error *error) {
  double *column = NULL;
  int64_t count = 0;
  cavum_status status = cavum_hdf5_read_doubles(&column, &count, file, NUMBERS[k].path, error);
  if (status != CAVUM_OK) return status;
  if (count != made->count) status = fail_lengths(NUMBERS[k].path, error);
  for (int i = 0; i < made->count && status == CAVUM_OK; i++) {
    double *numbers[NUM_NUMBERS];
    numbers_of(numbers, &made->list[i]);
    *numbers[k] = column[i];
  }
  free(column);
  return status;
}

cavum_status cavum_stored_requirements_read(cavum_stored_requirements *requirements,
                                            const cavum_hdf5_file *file, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_stored_requirements made = {0};
  if (cavum_hdf5_has(file, TEXTS[0].path)) {
    for (int k = 0; k < NUM_TEXTS; k++) CAVUM_TRY(read_texts(&made, file, k, error));
    for (int k = 0; k < NUM_NUMBERS; k++) CAVUM_TRY(read_numbers(&made, file, k, error));
  }
  *requirements = made;
  made = (cavum_stored_requirements){0};
done:
  cavum_stored_requirements_clear(&made);
  return status;
}
