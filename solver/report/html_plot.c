// SPDX-License-Identifier: GPL-3.0-or-later
// Plots of reports: the figure in the page, and its data for the script.
#include <math.h>

#include "base/base.h"
#include "report/formula.h"
#include "report/html.h"

// Text inside JSON inside HTML: what could end either is written as a code.
static void write_json_text(FILE *out, const char *text) {
  fputc('"', out);
  for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
    if (*c < 0x20 || *c == '"' || *c == '\\' || *c == '<' || *c == '>' || *c == '&') {
      fprintf(out, "\\u%04x", *c);
    } else {
      fputc(*c, out);
    }
  }
  fputc('"', out);
}

static void write_numbers(FILE *out, int count, const double *values) {
  fputc('[', out);
  for (int i = 0; i < count; i++) {
    if (i > 0) fputc(',', out);
    if (isfinite(values[i])) {
      fprintf(out, "%.6g", values[i]);
    } else {
      fputs("null", out);
    }
  }
  fputc(']', out);
}

static void write_member(FILE *out, const char *name, const char *text) {
  fprintf(out, ",\"%s\":", name);
  write_json_text(out, text ? text : "");
}

static void write_peaks(FILE *data, const cavum_html_plot *plot) {
  fprintf(data, ",\"peaks\":{\"beyond\":%s,\"at\":[", plot->peaks_unbounded ? "true" : "false");
  for (int i = 0; i < plot->num_peaks; i++) {
    fprintf(data, "%s[%.6g,%.6g]", i > 0 ? "," : "", plot->peaks[i].x, plot->peaks[i].y);
  }
  fputc(']', data);
  write_member(data, "ink", plot->peak_ink);
  fputc('}', data);
}

// That of the plot, and that of the still picture where it is another: one of them is seen.
static void write_captions(FILE *out, const cavum_html_plot *plot) {
  if (plot->still && plot->still_caption) {
    fputs("<span class=\"still\">", out);
    cavum_formula_write(out, plot->still_caption, false);
    fputs("</span> <span class=\"live\">", out);
    cavum_formula_write(out, plot->caption, false);
    fputs("</span>", out);
    return;
  }
  cavum_formula_write(out, plot->caption, false);
}

// The figure in the page, and the start of the plot in the data.
static void start_plot(cavum_html *html, const cavum_html_plot *plot) {
  FILE *data = html->data;
  int number = html->num_plots++;
  fprintf(html->out, "<figure%s><div class=\"still\">%s</div><div class=\"plot\" id=\"plot%d\" ",
          plot->still ? "" : " class=\"no-still\"", plot->still ? plot->still : "", number);
  fputs("role=\"application\" aria-label=\"", html->out);
  cavum_markup_write(html->out, plot->caption);
  fputs("\"></div><figcaption>", html->out);
  write_captions(html->out, plot);
  fputs(
      "<span class=\"hint\">Hover for values; drag or pinch to zoom, double-click for all. "
      "Keys: arrows walk, + and - zoom, 0 shows all.</span></figcaption></figure>\n",
      html->out);
  fprintf(data, "%s\n{\"id\":\"plot%d\"", number ? "," : "", number);
  write_member(data, "xLabel", plot->x_label);
  write_member(data, "yLabel", plot->y_label);
  write_member(data, "xName", plot->x_name);
  write_member(data, "xUnit", plot->x_unit);
  if (plot->logarithmic) fputs(",\"log\":true", data);
  if (plot->counts) fputs(",\"counts\":true", data);
  if (plot->y_high > plot->y_low) {
    fprintf(data, ",\"yRange\":[%.6g,%.6g]", plot->y_low, plot->y_high);
  }
  if (plot->num_peaks > 0) write_peaks(data, plot);
}

void cavum_html_begin_plot(cavum_html *html, const cavum_html_plot *plot, int count,
                           const double *x) {
  start_plot(html, plot);
  fputs(",\"x\":", html->data);
  write_numbers(html->data, count, x);
  fputs(",\"lines\":[", html->data);
  html->num_lines = 0;
}

void cavum_html_add_line(cavum_html *html, const cavum_html_line *line, int count) {
  FILE *data = html->data;
  fprintf(data, "%s{\"ink\":\"%s\"", html->num_lines++ ? "," : "", line->ink);
  write_member(data, "label", line->label);
  write_member(data, "unit", line->unit);
  if (line->dots) fputs(",\"dots\":6", data);
  if (line->ends) fputs(",\"ends\":true", data);
  if (line->mark != CAVUM_MARK_CIRCLE) fprintf(data, ",\"mark\":%d", (int)line->mark);
  if (line->dash) fputs(",\"dash\":true", data);
  if (line->span) fputs(",\"span\":true", data);
  const struct {
    const char *name;
    const double *values;
  } parts[] = {{"y", line->y}, {"dx", line->dx}, {"dy", line->dy}};
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
    if (!parts[i].values) continue;
    fprintf(data, ",\"%s\":", parts[i].name);
    write_numbers(data, count, parts[i].values);
  }
  fputc('}', data);
}

// Dimensions of shapes up to which each is exact: a megabyte of the page.
enum { MOST_EXACT = 200000 };

// Numbers as base 64 of little-endian floats: a third of their size as text.
static void write_floats(FILE *out, const char *name, int count, const double *values) {
  enum { BLOCK = 3 * 1024 };  // Floats of a block: a multiple of three has no padding.
  float block[BLOCK];
  fprintf(out, ",\"%s\":\"", name);
  for (int first = 0; first < count; first += BLOCK) {
    int n = count - first < BLOCK ? count - first : BLOCK;
    for (int i = 0; i < n; i++) block[i] = (float)values[first + i];
    cavum_markup_write_base64(out, block, (size_t)n * sizeof *block);
  }
  fputc('"', out);
}

// Values in steps of their range as base 64 of little-endian numbers of two or three bytes; the
// largest number: none.
static void write_steps(FILE *out, int count, const double *values, int bytes) {
  enum { BLOCK = 3 * 1024 };
  uint8_t block[3 * BLOCK];
  const uint32_t none = (UINT32_C(1) << 8 * bytes) - 1u;
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (int i = 0; i < count; i++) {
    if (!isfinite(values[i])) continue;
    low = cavum_min(low, values[i]);
    high = cavum_max(high, values[i]);
  }
  double step = high > low ? (high - low) / (none - 1u) : 1.0;
  fprintf(out, ",\"low\":%.9g,\"step\":%.9g,\"bytes\":%d,\"steps\":\"", high >= low ? low : 0.0,
          step, bytes);
  for (int first = 0; first < count; first += BLOCK) {
    int n = count - first < BLOCK ? count - first : BLOCK;
    for (int i = 0; i < n; i++) {
      double value = values[first + i];
      uint32_t number = isfinite(value) ? (uint32_t)lround((value - low) / step) : none;
      for (int k = 0; k < bytes; k++) block[i * bytes + k] = (uint8_t)(number >> 8 * k & 255u);
    }
    cavum_markup_write_base64(out, block, (size_t)(n * bytes));
  }
  fputc('"', out);
}

// Where a point of a cloud is, its colour and its number. Those of many are steps: places of a 16
// millionth of their range, colours, of which 16 are drawn, of a 65534th.
static void write_points(FILE *data, const cavum_html_cloud *cloud) {
  const struct {
    const char *name;
    const double *values;
    int bytes;
  } parts[] = {
      {"x", cloud->x, 3}, {"y", cloud->y, 3}, {"c", cloud->colour, 2}, {"shape", cloud->shape, 3}};
  for (size_t k = 0; k < sizeof parts / sizeof parts[0]; k++) {
    if (cloud->count <= MOST_EXACT / 10) {
      write_floats(data, parts[k].name, cloud->count, parts[k].values);
      continue;
    }
    fprintf(data, ",\"%s\":{\"exact\":false", parts[k].name);
    write_steps(data, cloud->count, parts[k].values, parts[k].bytes);
    fputc('}', data);
  }
}

// What shapes are made of, for hovering. Many are written as steps of a 65535th of their range.
static void write_dimensions(FILE *data, const cavum_html_cloud *cloud) {
  bool coarse = (int64_t)cloud->num_dimensions * cloud->count > MOST_EXACT;
  fputs(",\"dimensions\":[", data);
  for (int k = 0; k < cloud->num_dimensions; k++) {
    fputs(k > 0 ? ",{\"exact\":" : "{\"exact\":", data);
    fputs(coarse ? "false" : "true", data);
    write_member(data, "key", cloud->dimension_key[k]);
    if (coarse) {
      write_steps(data, cloud->count, cloud->dimension[k], 2);
    } else {
      write_floats(data, "values", cloud->count, cloud->dimension[k]);
    }
    fputc('}', data);
  }
  fputc(']', data);
}

void cavum_html_write_cloud(cavum_html *html, const cavum_html_plot *plot,
                            const cavum_html_cloud *cloud) {
  enum { COLOURS = 16 };
  FILE *data = html->data;
  start_plot(html, plot);
  write_points(data, cloud);
  fputs(",\"cloud\":true,\"marked\":[", data);
  bool first = true;
  for (int i = 0; i < cloud->count; i++) {
    if (!cloud->marked[i]) continue;
    fprintf(data, "%s%d", first ? "" : ",", i);
    first = false;
  }
  fprintf(data, "],\"stepsBefore\":%s,\"cRange\":[%.6g,%.6g],\"palettes\":[",
          cloud->no_steps       ? "null"
          : cloud->steps_before ? "true"
                                : "false",
          cloud->low, cloud->high);
  for (int i = 0; i < 2 * COLOURS; i++) {
    fprintf(data, "%s\"#%06x\"",
            i % COLOURS ? ","
            : i         ? "],["
                        : "[",
            cloud->palettes[i / COLOURS][8 + 16 * (i % COLOURS)]);
  }
  fputs("]]", data);
  write_dimensions(data, cloud);
  write_member(data, "yName", cloud->y_name);
  write_member(data, "yUnit", cloud->y_unit);
  write_member(data, "cName", cloud->colour_name);
  write_member(data, "cUnit", cloud->colour_unit);
  fputs(",\"lines\":[]}", data);
}

static void write_upright(FILE *data, const cavum_html_upright *upright) {
  const char letter[] = {upright->letter, '\0'};
  fprintf(data, "{\"at\":%.6g", upright->at);
  write_member(data, "letter", letter);
  write_member(data, "ink", upright->ink);
  fputc('}', data);
}

static void write_guide(FILE *data, const cavum_html_guide *guide) {
  fprintf(data, "{\"width\":%.3g,\"dash\":%s", guide->width, guide->dash ? "true" : "false");
  write_member(data, "ink", guide->ink);
  write_member(data, "text", guide->text);
  write_member(data, "end", guide->end);
  fputs(",\"x\":", data);
  write_numbers(data, guide->count, guide->x);
  fputs(",\"y\":", data);
  write_numbers(data, guide->count, guide->y);
  fputc('}', data);
}

void cavum_html_end_plot(cavum_html *html, int num_uprights, const cavum_html_upright *uprights,
                         int num_guides, const cavum_html_guide *guides) {
  FILE *data = html->data;
  fputs("],\"uprights\":[", data);
  for (int i = 0; i < num_uprights; i++) {
    if (i > 0) fputc(',', data);
    write_upright(data, &uprights[i]);
  }
  fputs("],\"guides\":[", data);
  for (int i = 0; i < num_guides; i++) {
    if (i > 0) fputc(',', data);
    write_guide(data, &guides[i]);
  }
  fputs("]}", data);
}
