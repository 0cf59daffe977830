// SPDX-License-Identifier: GPL-3.0-or-later
// The frame of reports. Everything is inside the one file: a policy in its head forbids the browser
// to fetch anything.
#include "report/html.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/canvas.h"
#include "format/quantity.h"
#include "report/formula.h"
#include "report/web_assets.h"

static const char *text_of(const unsigned char *asset) { return (const char *)asset; }

static void write_inks(FILE *out) {
  for (int dark = 0; dark < 2; dark++) {
    fputs(dark ? "@media screen and (prefers-color-scheme:dark){:root{" : ":root{", out);
    for (int i = 0; i < CAVUM_NUM_INKS; i++) {
      fprintf(out, "--i%d:#%06x;", i, cavum_ink_colour((cavum_ink)i, dark != 0));
    }
    fputs(dark ? "}}\n" : "}\n", out);
  }
  for (int i = 0; i < CAVUM_NUM_INKS; i++) {
    fprintf(out, ".f%d{fill:var(--i%d)}.s%d{stroke:var(--i%d)}", i, i, i, i);
  }
  fputs("\n", out);
}

cavum_status cavum_html_create(cavum_html *html, const char *title, cavum_error *error) {
  memset(html, 0, sizeof *html);
  html->out = open_memstream(&html->page, &html->page_size);
  html->data = open_memstream(&html->plots, &html->plots_size);
  if (!html->out || !html->data) return cavum_fail_memory(error);
  FILE *out = html->out;
  fputs(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
      "name=\"generator\" content=\"cavum\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'; script-src 'unsafe-inline'; img-src data:\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<link rel=\"icon\" href=\"data:,\">\n<title>",
      out);
  cavum_markup_write(out, title);
  fputs("</title>\n<style>\n", out);
  fputs(text_of(cavum_web_plots_css), out);
  write_inks(out);
  fputs(text_of(cavum_web_report_css), out);
  fputs(
      "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">Skip to the report</a>\n"
      "<main id=\"main\">\n",
      out);
  fputs("[", html->data);
  return CAVUM_OK;
}

void cavum_html_clear(cavum_html *html) {
  if (!html) return;
  if (html->out) fclose(html->out);
  if (html->data) fclose(html->data);
  free(html->page);
  free(html->plots);
  memset(html, 0, sizeof *html);
}

static bool close_stream(FILE **stream) {
  bool failed = ferror(*stream) != 0;
  failed = fclose(*stream) != 0 || failed;
  *stream = NULL;
  return !failed;
}

cavum_status cavum_html_finish(char **bytes, size_t *size, cavum_html *html, cavum_error *error) {
  FILE *out = html->out;
  bool plots = cavum_web_plots_js[0] != '\0';
  fputs("]", html->data);
  if (!close_stream(&html->data)) return cavum_fail_memory(error);
  if (plots) {
    fputs(
        "<details class=\"licence\"><summary>Licence of the plotting library inside this "
        "file</summary>\n<pre>",
        out);
    cavum_markup_write(out, text_of(cavum_web_plots_licence));
    fputs("</pre></details>\n", out);
  }
  fputs("</main>\n<script type=\"application/json\" id=\"plot-data\">", out);
  fputs(html->plots, out);
  fputs("</script>\n", out);
  if (plots) fprintf(out, "<script>%s</script>\n", text_of(cavum_web_plots_js));
  fprintf(out, "<script>\n%s</script>\n</body>\n</html>\n", text_of(cavum_web_report_js));
  if (!close_stream(&html->out)) return cavum_fail_memory(error);
  *bytes = html->page;
  *size = html->page_size;
  html->page = NULL;
  return CAVUM_OK;
}

void cavum_html_paragraph(cavum_html *html, const char *style, const char *text) {
  if (style[0]) fprintf(html->out, "<p class=\"%s\">", style);
  if (!style[0]) fputs("<p>", html->out);
  cavum_formula_write(html->out, text, false);
  fputs("</p>\n", html->out);
}

void cavum_html_flowing(cavum_html *html, const char *text) {
  FILE *out = html->out;
  bool entries = false, open = false;
  for (const char *line = text; *line;) {
    size_t length = strcspn(line, "\n"), indent = strspn(line, " ");
    bool entry = indent == 2;
    if (entry && open) fputs(entries ? "</li>\n" : "</p>\n", out);
    if (entry && !entries) fputs("<ul>\n", out);
    if (entry) fputs("<li>", out);
    if (!entry) fputs(open ? " " : "<p>", out);
    open = true;
    entries = entries || entry;
    char *words = strndup(line + indent, length - indent);
    if (words) {
      cavum_formula_write(out, words, false);
    } else {
      cavum_markup_write_bytes(out, line + indent, length - indent);
    }
    free(words);
    line += length;
    if (*line) line++;
  }
  if (open) fputs(entries ? "</li>\n</ul>\n" : "</p>\n", out);
}

void cavum_html_heading(cavum_html *html, int level, const char *id, const char *text) {
  fprintf(html->out, "<h%d id=\"%s\">", level, id);
  cavum_formula_write(html->out, text, false);
  fprintf(html->out, "</h%d>\n", level);
}

// Tables with more columns become lists on a phone, where each value names its column.
enum { WIDE_COLUMNS = 4 };

// So do those that have sentences beside numbers, or several results and a unit.
static bool is_wide(int num_columns, const char *const *columns) {
  bool sentences = false;
  for (int i = 0; i < num_columns; i++) {
    sentences = sentences || strcmp(columns[i], "caution") == 0 ||
                strcmp(columns[i], "unit, remark") == 0 || strcmp(columns[i], "remark") == 0;
  }
  return num_columns > WIDE_COLUMNS || (sentences && num_columns > 2);
}

// Behind which character a key of a file may be broken: its dots, or its underscores where it has
// none; none when the text is no key.
static char break_of_key(const char *text) {
  size_t length =
      strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.[]");
  int dots = 0, underscores = 0;
  if (text[length] && text[length] != ',') return '\0';
  for (size_t i = 0; i + 1 < length; i++) {
    dots += text[i] == '.' && text[i + 1] >= 'a' && text[i + 1] <= 'z';
    underscores += text[i] == '_';
  }
  if (dots > 0) return '.';
  return underscores > 1 ? '_' : '\0';
}

// A heading of a column or a row: a key of a file, or words and symbols.
static void write_heading(FILE *out, const char *text) {
  char mark = break_of_key(text);
  if (!mark) {
    cavum_formula_write(out, text, false);
    return;
  }
  while (*text) {
    size_t length = strcspn(text, (const char[]){mark, '\0'});
    if (text[length]) length++;
    cavum_markup_write_bytes(out, text, length);
    text += length;
    if (*text) fputs("<wbr>", out);
  }
}

void cavum_html_begin_table(cavum_html *html, const char *caption, int num_columns,
                            const char *const *columns) {
  fputs("<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"", html->out);
  cavum_markup_write(html->out, caption);
  html->wide = is_wide(num_columns, columns);
  fprintf(html->out, "\"><table%s>\n<caption>", html->wide ? " class=\"wide\"" : "");
  cavum_formula_write(html->out, caption, false);
  fputs("</caption>\n<thead><tr>", html->out);
  for (int i = 0; i < num_columns; i++) {
    bool number = columns[i][0] == '#';
    fprintf(html->out, "<th scope=\"col\"%s>", number ? " class=\"number\"" : "");
    write_heading(html->out, columns[i] + number);
    fputs("</th>", html->out);
  }
  fputs("</tr></thead>\n<tbody>\n", html->out);
}

void cavum_html_end_table(cavum_html *html) { fputs("</tbody></table></div>\n", html->out); }

// Names, definitions and cautions are ours and hold formulas; names of runs and notes are the
// user's.
static bool is_ours(const char *column, int index) {
  static const char *const ours[] = {"definition", "caution", "#value"};
  for (size_t i = 0; i < sizeof ours / sizeof ours[0]; i++) {
    if (strcmp(column, ours[i]) == 0) return true;
  }
  return index == 0 && strcmp(column, "run") != 0 && strcmp(column, "note") != 0;
}

// "mW, with R_s of the fit" behind a value. Units alone have letters that symbols have as well.
static bool names_resistance(const char *column, const char *cell) {
  return strncmp(column, "unit", 4) == 0 && strstr(cell, "R_s");
}

void cavum_html_row(cavum_html *html, int num_cells, const char *const *cells,
                    const char *const *columns) {
  fputs("<tr>", html->out);
  for (int i = 0; i < num_cells; i++) {
    bool number = columns[i][0] == '#';
    const char *definition = strcmp(columns[i], "definition") == 0 ? " class=\"definition\"" : "";
    fputs(i == 0 ? "<th scope=\"row\"" : "<td", html->out);
    fputs(number ? " class=\"number\"" : definition, html->out);
    // On a narrow page a row stands as a list: what is no name says what it is.
    if (html->wide && (i > 0 || number)) {
      fputs(" data-label=\"", html->out);
      cavum_markup_write(html->out, columns[i] + number);
      fputs("\"", html->out);
    }
    fputs(">", html->out);
    bool ours = is_ours(columns[i], i) && !(i == 0 && number);  // A number is no formula.
    if (i == 0 && ours) {
      write_heading(html->out, cells[i]);
    } else if (ours || names_resistance(columns[i], cells[i])) {
      cavum_formula_write(html->out, cells[i], strcmp(columns[i], "definition") == 0);
    } else {
      cavum_markup_write(html->out, cells[i]);
    }
    fputs(i == 0 ? "</th>" : "</td>", html->out);
  }
  fputs("</tr>\n", html->out);
}

void cavum_html_code(cavum_html *html, const char *text) {
  fputs("<pre tabindex=\"0\"><code>", html->out);
  cavum_markup_write(html->out, text);
  fputs("</code></pre>\n", html->out);
}

void cavum_html_picture(cavum_html *html, const char *svg, const char *caption) {
  fputs("<figure><div class=\"pan\" tabindex=\"0\" role=\"group\" aria-label=\"", html->out);
  cavum_markup_write(html->out, caption);
  fprintf(html->out, "\">%s</div><figcaption>", svg);
  cavum_formula_write(html->out, caption, false);
  fputs("</figcaption></figure>\n", html->out);
}

// Exponent as raised digits; returns the place behind it.
static const char *write_exponent(FILE *out, const char *digits) {
  static const char *const raised[] = {
      "\xe2\x81\xb0", "\xc2\xb9",     "\xc2\xb2",     "\xc2\xb3",     "\xe2\x81\xb4",
      "\xe2\x81\xb5", "\xe2\x81\xb6", "\xe2\x81\xb7", "\xe2\x81\xb8", "\xe2\x81\xb9"};
  fputs(
      "\xc3\x97"
      "10",
      out);
  if (*digits == '-') fputs("\xe2\x81\xbb", out);
  if (*digits == '-' || *digits == '+') digits++;
  while (*digits == '0' && digits[1]) digits++;
  for (; *digits >= '0' && *digits <= '9'; digits++) fputs(raised[*digits - '0'], out);
  return digits;
}

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

static bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

// The sign of a number, and no hyphen: "-0.5", "from -6.5 to -6.4".
static bool is_minus(const char *from, const char *c) {
  bool inside = c > from && (is_letter(c[-1]) || is_digit(c[-1]));
  return *c == '-' && !inside && (is_digit(c[1]) || (c[1] == '.' && is_digit(c[2])));
}

// Whether this word stands there, behind a blank or a digit.
static bool is_word(const char *from, const char *c, const char *word) {
  size_t length = strlen(word);
  bool inside = c > from && (is_letter(c[-1]) || c[-1] == '_');
  return !inside && strncmp(c, word, length) == 0 && !is_letter(c[length]) && !is_digit(c[length]);
}

// The screen's plain letters as a page writes them: ohm, squares, signs, powers of ten.
void cavum_html_beautify(char *to, size_t size, const char *from) {
  to[0] = '\0';  // No text is written where there is none.
  FILE *out = fmemopen(to, size, "w");
  if (!out) return;
  for (const char *c = from; *c;) {
    bool after_number = c > from && (c[-1] == ')' || (c[-1] >= '0' && c[-1] <= '9'));
    if (strncmp(c, "uohm", 4) == 0) {
      fputs("\xc2\xb5\xce\xa9", out);
      c += 4;
    } else if (strncmp(c, "ohm", 3) == 0) {
      fputs("\xce\xa9", out);
      c += 3;
    } else if (c[0] == '^' && c[1] == '2') {
      fputs("\xc2\xb2", out);
      c += 2;
    } else if (*c == 'm' && (c[1] == '2' || c[1] == '3') && c[2] == '\0') {  // area and volume
      fputs(c[1] == '2' ? "m\xc2\xb2" : "m\xc2\xb3", out);
      c += 2;
    } else if (c[0] == '+' && c[1] == '-') {
      fputs("\xc2\xb1", out);
      c += 2;
    } else if (*c == 'e' && after_number) {
      c = write_exponent(out, c + 1);
    } else if (is_word(from, c, "um") || is_word(from, c, "uW") || is_word(from, c, "uC")) {
      fprintf(out, "\xc2\xb5%c", c[1]);
      c += 2;
    } else if (is_word(from, c, "C") && c - from >= 2 && c[-1] == ' ' && is_digit(c[-2])) {
      fputs(
          "\xc2\xb0"
          "C",
          out);
      c++;
    } else {
      fputs(is_minus(from, c) ? "\xe2\x88\x92" : (const char[]){*c, 0}, out);
      c++;
    }
  }
  fclose(out);
}

void cavum_html_format_figure(char text[96], char unit[24], const cavum_figure *figure,
                              cavum_figure_id id) {
  text[0] = unit[0] = '\0';
  if (figure->state == CAVUM_FIGURE_ABSENT) return;
  if (figure->state == CAVUM_FIGURE_UNBOUNDED) {
    snprintf(text, 96, "unbounded");
    return;
  }
  char number[CAVUM_QUANTITY_SIZE];
  cavum_quantity_unit shown = cavum_quantity_unit_to_fit(id, figure->value);
  cavum_quantity_format(number, cavum_in_unit(figure->value, shown.conversion),
                        cavum_in_unit(figure->uncertainty, shown.conversion));
  cavum_html_beautify(text, 96, number);
  cavum_html_beautify(unit, 24, shown.name);
}
