// SPDX-License-Identifier: GPL-3.0-or-later
// Aims are kept as one text, KEY:DIRECTION,KEY:DIRECTION, as the result holds them.
#include "scan/study_aims.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "figures/figure_key.h"
#include "solve/figure_policy.h"

enum { MOST_AIMS = 8 };

/** An aim on its way. */
typedef struct aim {
  char key[CAVUM_COLUMN_KEY_SIZE];
  bool smaller;
} aim;

static bool figure_wants_less(const char *key) {
  cavum_figure_id id = cavum_figure_of_key(NULL, key);
  return id != CAVUM_NUM_FIGURES && cavum_figure_policy_of(id)->better == CAVUM_BETTER_SMALLER;
}

static cavum_status split(aim *made, const char *text, cavum_error *error) {
  const char *colon = strrchr(text, ':');
  size_t length = colon ? (size_t)(colon - text) : strlen(text);
  if (length == 0 || length >= sizeof made->key) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "aims: expected FIGURE, FIGURE:smaller or FIGURE:larger");
  }
  memcpy(made->key, text, length);
  made->key[length] = '\0';
  made->smaller = colon ? strcmp(colon + 1, "smaller") == 0 : figure_wants_less(made->key);
  if (!colon || made->smaller || strcmp(colon + 1, "larger") == 0) return CAVUM_OK;
  char hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  cavum_nearest_offer(&nearest, colon + 1, "smaller");
  cavum_nearest_offer(&nearest, colon + 1, "larger");
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "aims: %.100s: expected %.100s:smaller or %.100s:larger%s", text, made->key,
                    made->key, cavum_nearest_write(hint, &nearest, ""));
}

static bool is_named(const char *aims, const char *key) {
  size_t length = strlen(key);
  for (const char *place = aims; place; place = strchr(place, ',')) {
    if (*place == ',') place++;
    if (strncmp(place, key, length) == 0 && place[length] == ':') return true;
  }
  return false;
}

static int count_of(const char *aims) {
  int count = aims ? 1 : 0;
  for (const char *c = aims; c && *c; c++) count += *c == ',';
  return count;
}

cavum_status cavum_study_add_aim(const cavum_study_names *names, const char *text,
                                 cavum_error *error) {
  cavum_study *study = names->study;
  aim made = {.smaller = false};
  cavum_status status = split(&made, text, error);
  if (status == CAVUM_OK) status = cavum_study_find_column(made.key, names, error);
  if (status != CAVUM_OK) return status;
  if (is_named(study->aims, made.key)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "aims: %s is named twice", made.key);
  }
  if (count_of(study->aims) == MOST_AIMS) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "aims: more than %d", MOST_AIMS);
  }
  char *joined =
      cavum_format_text("%s%s%s:%s", study->aims ? study->aims : "", study->aims ? "," : "",
                        made.key, made.smaller ? "smaller" : "larger");
  if (!joined) return cavum_fail_memory(error);
  free(study->aims);
  study->aims = joined;
  return CAVUM_OK;
}
