// SPDX-License-Identifier: GPL-3.0-or-later
// Pages as SVG: real texts, inks as classes, so that a web page can restyle what is inside it, and
// a screen reader finds a title and a description.
#include "canvas/canvas_svg.h"

#include <stdio.h>

#include "base/base.h"
#include "canvas/markup.h"
#include "canvas/png_bytes.h"
#include "canvas/simplify.h"
#include "canvas/text_runs.h"

// How far a line may be from what was drawn, in points, unless the page says otherwise: below what
// a printer or an eye resolves.
static const double USUAL_TOLERANCE = 0.02;

struct cavum_svg {
  cavum_canvas_page page;
  FILE *out;   // Owned: stream into text.
  char *text;  // Owned.
  size_t size;
  int num_clips;  // Numbers the clip paths.
  bool failed;    // Memory ran out somewhere.
};

static const char *prefix_of(const cavum_canvas_page *page) {
  return page->prefix ? page->prefix : "cavum";
}

static void write_style_sheet(FILE *out) {
  fputs("<style>", out);
  for (int i = 0; i < CAVUM_NUM_INKS; i++) {
    fprintf(out, ".f%d{fill:#%06x}.s%d{stroke:#%06x}", i, cavum_ink_colour((cavum_ink)i, false), i,
            cavum_ink_colour((cavum_ink)i, false));
  }
  fputs(
      "path{fill-rule:evenodd;clip-rule:evenodd;stroke-linejoin:round;stroke-linecap:round}"
      "path[class^=s]{fill:none}"
      "text{font-family:'DejaVu Sans',Verdana,sans-serif}</style>\n",
      out);
}

static void write_head(FILE *out, const cavum_canvas_page *page) {
  const char *prefix = prefix_of(page);
  bool alone = page->kind == CAVUM_CANVAS_SVG;
  if (alone) fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n", out);
  fprintf(out,
          "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"%s-title "
          "%s-text\" viewBox=\"0 0 %.2f %.2f\"",
          prefix, prefix, page->width, page->height);
  double print_scale = page->print_scale > 0.0 ? page->print_scale : 1.0;
  if (alone) {
    fprintf(out, " width=\"%.2fpt\" height=\"%.2fpt\"", page->width * print_scale,
            page->height * print_scale);
  }
  if (!alone) fprintf(out, " class=\"picture\" style=\"max-width:%.0fpx\"", page->width * 1.3);
  fprintf(out, ">\n<title id=\"%s-title\">", prefix);
  cavum_markup_write(out, page->title ? page->title : "");
  fprintf(out, "</title>\n<desc id=\"%s-text\">", prefix);
  cavum_markup_write(out, page->description ? page->description : "");
  fputs("</desc>\n", out);
  if (alone) {
    write_style_sheet(out);
    fprintf(out, "<rect class=\"f%d\" width=\"%.2f\" height=\"%.2f\"/>\n", CAVUM_INK_PAPER,
            page->width, page->height);
  }
}

cavum_status cavum_svg_create(cavum_svg **svg, const cavum_canvas_page *page, cavum_error *error) {
  cavum_svg *made = cavum_alloc(1, sizeof *made);
  if (made) made->out = open_memstream(&made->text, &made->size);
  if (!made || !made->out) {
    cavum_svg_destroy(&made);
    return cavum_fail_memory(error);
  }
  made->page = *page;
  write_head(made->out, page);
  *svg = made;
  return CAVUM_OK;
}

void cavum_svg_destroy(cavum_svg **svg) {
  if (!svg || !*svg) return;
  if ((*svg)->out) fclose((*svg)->out);
  free((*svg)->text);
  free(*svg);
  *svg = NULL;
}

static cavum_status finish(char **bytes, size_t *size, void *state, cavum_error *error) {
  cavum_svg *svg = state;
  fputs("</svg>\n", svg->out);
  bool failed = ferror(svg->out) != 0 || svg->failed;
  failed = fclose(svg->out) != 0 || failed;
  svg->out = NULL;
  if (failed) return cavum_fail_memory(error);
  *bytes = svg->text;
  *size = svg->size;
  svg->text = NULL;
  return CAVUM_OK;
}

// A number with two decimals and without what says nothing: 1.50 is 1.5, -0.00 is 0.
static void write_number(FILE *out, double value) {
  long hundredths = lround(100.0 * value);
  const char *sign = hundredths < 0 ? "-" : "";
  long size = labs(hundredths), whole = size / 100, rest = size % 100;
  if (rest == 0) {
    fprintf(out, "%s%ld", sign, whole);
  } else if (rest % 10 == 0) {
    fprintf(out, "%s%ld.%ld", sign, whole, rest / 10);
  } else {
    fprintf(out, "%s%ld.%02ld", sign, whole, rest);
  }
}

static void write_pair(FILE *out, char letter, double x, double y) {
  fputc(letter, out);
  write_number(out, x);
  fputc(y < 0.0 ? ' ' : ',', out);
  write_number(out, y);
}

// Writes a path without the points that nobody would miss.
static void write_path_data(cavum_svg *svg, const cavum_path *path) {
  double tolerance = svg->page.tolerance > 0.0 ? svg->page.tolerance : USUAL_TOLERANCE;
  unsigned char *needed = cavum_alloc(path->num_steps, 1);
  int64_t *stack = cavum_alloc(2 * path->num_steps + 4, sizeof *stack);
  if (!needed || !stack) {
    svg->failed = true;
    goto done;
  }
  for (int64_t i = 0; i < path->num_steps; i++) {
    int64_t end = i;
    while (end + 1 < path->num_steps && path->steps[end + 1] == CAVUM_STEP_LINE) end++;
    cavum_simplify_mark(needed, stack, path->points, i, end, tolerance);
    for (int64_t k = i; k <= end; k++) {
      char letter = path->steps[k] == CAVUM_STEP_MOVE ? 'M' : 'L';
      if (path->steps[k] == CAVUM_STEP_CLOSE) {
        fputc('Z', svg->out);
      } else if (needed[k]) {
        write_pair(svg->out, letter, path->points[2 * k], path->points[2 * k + 1]);
      }
    }
    i = end;
  }
done:
  free(needed);
  free(stack);
}

// What a path element has after its style.
static void write_path(cavum_svg *svg, const cavum_path *path) {
  fputs(" d=\"", svg->out);
  write_path_data(svg, path);
  fputs("\"/>\n", svg->out);
}

static void stroke(void *state, const cavum_path *path, cavum_ink ink, double width,
                   cavum_dash dash) {
  cavum_svg *svg = state;
  double lengths[4];
  int count = cavum_dash_lengths(lengths, dash);
  fprintf(svg->out, "<path class=\"s%d\" stroke-width=\"%.3g\"", ink, width);
  if (count > 0) fputs(" stroke-linecap=\"butt\" stroke-dasharray=\"", svg->out);
  for (int i = 0; i < count; i++) fprintf(svg->out, "%s%.3g", i ? "," : "", lengths[i]);
  if (count > 0) fputs("\"", svg->out);
  write_path(svg, path);
}

static void fill(void *state, const cavum_path *path, cavum_ink ink) {
  cavum_svg *svg = state;
  fprintf(svg->out, "<path class=\"f%d\"", ink);
  write_path(svg, path);
}

static void fill_colour(void *state, const cavum_path *path, uint32_t colour) {
  cavum_svg *svg = state;
  fprintf(svg->out, "<path fill=\"#%06x\"", colour);
  write_path(svg, path);
}

static void clip(void *state, const cavum_path *path) {
  cavum_svg *svg = state;
  const char *prefix = prefix_of(&svg->page);
  int number = svg->num_clips++;
  fprintf(svg->out, "<clipPath id=\"%s-clip%d\"><path d=\"", prefix, number);
  write_path_data(svg, path);
  fprintf(svg->out, "\"/></clipPath>\n<g clip-path=\"url(#%s-clip%d)\">\n", prefix, number);
}

static void unclip(void *state) {
  cavum_svg *svg = state;
  fputs("</g>\n", svg->out);
}

static void place_image(void *state, double x, double y, double width, double height,
                        const cavum_image *image) {
  cavum_svg *svg = state;
  FILE *out = svg->out;
  char *bytes = NULL;
  size_t size = 0;
  if (cavum_png_from_image(&bytes, &size, image, NULL) != CAVUM_OK) {
    svg->failed = true;
    return;
  }
  fprintf(out,
          "<image x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" "
          "preserveAspectRatio=\"none\" href=\"data:image/png;base64,",
          x, y, width, height);
  cavum_markup_write_base64(out, bytes, size);
  fputs("\"/>\n", out);
  free(bytes);
}

// Blanks at the ends of a stretch are hard ones: some programs drop others there, and some all of
// them but in a text that preserves its blanks.
static void write_run(FILE *out, const cavum_text_run *run) {
  int first = 0, last = run->length;
  for (; first < last && run->start[first] == ' '; first++) fputs("\xc2\xa0", out);
  while (last > first && run->start[last - 1] == ' ') last--;
  cavum_markup_write_bytes(out, run->start + first, (size_t)(last - first));
  for (int i = last; i < run->length; i++) fputs("\xc2\xa0", out);
}

static void write_text(void *state, double x, double y, const char *text,
                       const cavum_text_style *style) {
  static const char *const anchors[] = {"", " text-anchor=\"middle\"", " text-anchor=\"end\""};
  cavum_svg *svg = state;
  FILE *out = svg->out;
  cavum_text_run runs[CAVUM_TEXT_RUNS_MOST];
  int count = cavum_text_split(runs, text, style->plain);
  double raised = 0.0;
  fprintf(out, "<text class=\"f%d\" font-size=\"%.3g\"%s%s%s", style->ink, style->size,
          anchors[style->anchor], style->bold ? " font-weight=\"bold\"" : "",
          count > 1 ? " xml:space=\"preserve\"" : "");
  if (style->upward) {
    fprintf(out, " transform=\"translate(%.2f,%.2f) rotate(-90)\">", x, y);
  } else {
    fprintf(out, " x=\"%.2f\" y=\"%.2f\">", x, y);
  }
  for (int i = 0; i < count; i++) {
    double wanted = style->size * cavum_text_raise(runs[i].height), step = raised - wanted;
    bool small = runs[i].height != 0, moved = fabs(step) > 1e-9;
    if (small || moved) fprintf(out, "<tspan dy=\"%.3g\"", step);
    if (small) fprintf(out, " font-size=\"%.3g\"", style->size * CAVUM_TEXT_SMALL);
    if (small || moved) fputs(">", out);
    write_run(out, &runs[i]);
    if (small || moved) fputs("</tspan>", out);
    raised = wanted;
  }
  fputs("</text>\n", out);
}

const cavum_canvas_form cavum_svg_form = {.stroke = stroke,
                                          .fill = fill,
                                          .fill_colour = fill_colour,
                                          .clip = clip,
                                          .unclip = unclip,
                                          .image = place_image,
                                          .text = write_text,
                                          .finish = finish};
