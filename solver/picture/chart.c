// SPDX-License-Identifier: GPL-3.0-or-later
// Charts as data, and how they are kept.
#include "picture/chart.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

cavum_chart_series *cavum_chart_add(cavum_chart *chart, int most, const char *text) {
  if (chart->num_series >= CAVUM_CHART_SERIES_MOST || most < 1) return NULL;
  double *block = cavum_alloc(most, 4 * sizeof *block);
  if (!block) chart->failed = true;
  if (!block) return NULL;
  cavum_chart_series *series = &chart->series[chart->num_series++];
  *series = (cavum_chart_series){.x = block,
                                 .y = block + most,
                                 .dx = block + 2 * (size_t)most,
                                 .dy = block + 3 * (size_t)most,
                                 .ink = CAVUM_INK_SECOND,
                                 .width = 1.2};
  snprintf(series->text, sizeof series->text, "%s", text);
  return series;
}

void cavum_chart_over_gradient(cavum_chart *chart) {
  chart->x_name = "E_acc";
  chart->x_unit = "MV/m";
  chart->x_label = "E_{acc} in MV/m";
}

void cavum_chart_put(cavum_chart_series *series, double x, double y, double dx, double dy) {
  // A line is broken where there is no number; of points nothing is left.
  if (!series || (series->points && (!isfinite(x) || !isfinite(y)))) return;
  int i = series->count++;
  series->x[i] = x;
  series->y[i] = y;
  series->dx[i] = isfinite(dx) && dx > 0.0 ? dx : 0.0;
  series->dy[i] = isfinite(dy) && dy > 0.0 ? dy : 0.0;
}

void cavum_chart_add_rule(cavum_chart *chart, bool upright, double at, cavum_ink ink,
                          const char *text) {
  if (!isfinite(at) || chart->num_rules >= CAVUM_CHART_RULES_MOST) return;
  cavum_chart_rule *rule = &chart->rules[chart->num_rules++];
  *rule = (cavum_chart_rule){.at = at, .upright = upright, .ink = ink};
  snprintf(rule->text, sizeof rule->text, "%s", text);
}

static bool names_series(const cavum_chart *chart, char letter) {
  for (int i = 0; i < chart->num_series; i++) {
    if (chart->series[i].text[0] == letter && chart->series[i].text[1] == ':') return true;
  }
  return false;
}

char cavum_chart_letter(const cavum_chart *chart, int rule) {
  int before = 0;
  for (int letter = 'a'; letter <= 'z'; letter++) {
    if (names_series(chart, (char)letter)) continue;
    if (before++ == rule) return (char)letter;
  }
  return (char)('a' + rule);
}

void cavum_chart_quote(char *to, size_t size, const char *text) {
  snprintf(to, size, "%s", text);
  for (char *c = to; *c; c++) {
    if (*c == '{') *c = '(';
    if (*c == '}') *c = ')';
  }
}

void cavum_chart_plain(char *to, size_t size, const char *markup) {
  size_t n = 0;
  bool inside = false;
  for (const char *c = markup; *c && n + 3 < size; c++) {
    if ((*c == '_' || *c == '^') && c[1] == '{') {
      // Q_{0} is Q0, E_{acc} E_acc, E^{2} E with a raised 2.
      bool square = *c == '^' && c[2] == '2' && c[3] == '}';
      if (square) n += (size_t)snprintf(to + n, size - n, "\xc2\xb2");
      if (!square && (c[2] < '0' || c[2] > '9')) to[n++] = *c;
      c += square ? 3 : 1;
      inside = !square;
    } else if (*c == '}' && inside) {
      inside = false;
    } else {
      to[n++] = *c;
    }
  }
  to[n] = '\0';
}

bool cavum_chart_has_content(const cavum_chart *chart) {
  for (int i = 0; i < chart->num_series; i++) {
    if (chart->series[i].count > 0 && !chart->series[i].beside) return true;
  }
  return false;
}

cavum_status cavum_chart_check(const cavum_chart *chart, cavum_error *error) {
  return chart->failed ? cavum_fail_memory(error) : CAVUM_OK;
}

void cavum_chart_clear(cavum_chart *chart) {
  for (int i = 0; i < chart->num_series; i++) free(chart->series[i].x);
  chart->num_series = chart->num_rules = 0;
}
