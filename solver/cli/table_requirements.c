// SPDX-License-Identifier: GPL-3.0-or-later
// One row a requirement: value, bounds, verdict, by how much, what would mend it.
#include "cli/table_requirements.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "cavum/cell_key.h"
#include "cli/colour.h"
#include "format/mend.h"
#include "format/quantity.h"

enum { KEY_WIDTH = 30, VALUE_WIDTH = 20, BOUND_WIDTH = 26 };

static cavum_print_role role_of(cavum_verdict_kind kind) {
  return kind == CAVUM_VERDICT_MET      ? CAVUM_PRINT_GOOD
         : kind == CAVUM_VERDICT_MISSED ? CAVUM_PRINT_BAD
                                        : CAVUM_PRINT_CAUTION;
}

// False where a derivative does not reach so far.
static bool print_mend(FILE *out, const cavum_verdict *v, const cavum_cell *cell) {
  char text[CAVUM_MEND_SIZE];
  double value = NAN;
  if (!v->dimension[0]) return false;
  (void)cavum_cell_get(&value, cell, v->dimension, NULL);  // NAN is as good as no value.
  bool linear = cavum_mend_write(text, v, value);
  fprintf(out, "; %s %s%s", v->dimension, text, linear ? " would mend it" : "");
  return linear;
}

// The requirements that would be missed then.
static void print_broken(FILE *out, const cavum_requirements *all, const cavum_verdict *v,
                         const cavum_cell *cell, const cavum_result *result) {
  int count = 0;
  for (int i = 0; i < all->count; i++) {
    if (!cavum_requirement_breaks(&all->list[i], v, cell, result, 0)) continue;
    fprintf(out, "%s%s", count++ == 0 ? ", but break " : ", ", all->list[i].key);
  }
}

static void print_row(FILE *out, const cavum_requirement *r, const cavum_verdict *v,
                      double accuracy) {
  char value[CAVUM_QUANTITY_SIZE] = "-", bounds[CAVUM_BOUNDS_SIZE];
  cavum_quantity_bounds(bounds, r->least, r->most);
  if (isfinite(v->value)) cavum_quantity_format_to(value, v->value, v->uncertainty, accuracy);
  if (isinf(v->value)) snprintf(value, sizeof value, "unbounded");
  bool good = v->kind == CAVUM_VERDICT_MET || v->kind == CAVUM_VERDICT_ABSENT;
  char word[16];
  snprintf(word, sizeof word, "%s", cavum_verdict_word(v->kind));
  for (char *c = word; *c && !good; c++) *c = (char)toupper((unsigned char)*c);
  // In percent elsewhere, a fraction where it is required.
  const char *key = r->kind == CAVUM_REQUIRE_K_CC ? "k_cc (1 % is 0.01)" : r->key;
  fprintf(out, "  %-*s %*s  %-*s %s%s%s", KEY_WIDTH, key, VALUE_WIDTH, value, BOUND_WIDTH, bounds,
          cavum_colour(out, role_of(v->kind)), word, cavum_colour(out, CAVUM_PRINT_END));
  char by[CAVUM_MEND_SIZE];
  cavum_margin_write(by, v);
  if (by[0]) fprintf(out, " %s", by);
  // Of all that may be required, this alone is computed on request.
  if (v->kind == CAVUM_VERDICT_ABSENT && r->kind == CAVUM_REQUIRE_K_CC) {
    fputs(": it needs --coupling", out);
  }
}

void cavum_table_requirements_print(FILE *out, const cavum_requirements *requirements,
                                    const cavum_cell *cell, const cavum_result *result,
                                    bool all_digits) {
  if (requirements->count > 0) fputs("\nRequirements of the cell file, mode 1\n", out);
  for (int i = 0; i < requirements->count; i++) {
    const cavum_requirement *r = &requirements->list[i];
    cavum_verdict v = cavum_requirement_judge(r, cell, result, 0);
    bool frequency = strncmp(r->key, "frequency_", strlen("frequency_")) == 0;
    double accuracy = frequency ? cell->accuracy_frequency : cell->accuracy_other_figures;
    print_row(out, r, &v, all_digits ? 0.0 : accuracy);
    if (print_mend(out, &v, cell)) print_broken(out, requirements, &v, cell, result);
    fputc('\n', out);
  }
}
