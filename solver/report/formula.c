// SPDX-License-Identifier: GPL-3.0-or-later
// Formulas as MathML Core.
#include "report/formula.h"

#include <string.h>

#include "canvas/markup.h"

static void write_piece(FILE *out, const cavum_formula *f, int piece);

static void write_parts(FILE *out, const cavum_formula *f, int first) {
  for (int i = first; i >= 0; i = f->pieces[i].next) write_piece(out, f, i);
}

static void write_element(FILE *out, const char *element, const char *text, int length) {
  fprintf(out, "<%s>", element);
  cavum_markup_write_bytes(out, text, (size_t)length);
  fprintf(out, "</%s>", element);
}

// A single letter is a variable and slanted, more are a name and upright.
static void write_name(FILE *out, const char *text) {
  bool letter = text[0] && (text[1] == '\0' || ((unsigned char)text[0] >= 0xc0 && text[2] == '\0'));
  bool digit = text[0] >= '0' && text[0] <= '9';
  write_element(out, digit ? "mn" : letter ? "mi" : "mtext", text, (int)strlen(text));
}

// An operator with no room around it.
static const char TIGHT[] = "<mo form=\"infix\" stretchy=\"false\" lspace=\"0\" rspace=\"0\">";

// R/Q, kT, dz: letters one by one, so that each is a variable.
static void write_base(FILE *out, const char *base) {
  const char *c = base;
  bool several = base[(unsigned char)*base >= 0xc0 ? 2 : 1] != '\0';
  if (several) fputs("<mrow>", out);
  while (*c) {
    int length = (unsigned char)*c >= 0xc0 ? 2 : 1;
    fputs(*c == '/' ? TIGHT : "<mi>", out);
    cavum_markup_write_bytes(out, c, (size_t)length);
    fputs(*c == '/' ? "</mo>" : "</mi>", out);
    c += length;
  }
  if (several) fputs("</mrow>", out);
}

static void write_symbol(FILE *out, const cavum_formula_symbol *symbol) {
  if (symbol->differential) fputs("<mspace width=\"0.17em\"/>", out);
  if (!symbol->below[0] && !symbol->above[0]) {
    write_base(out, symbol->base);
    return;
  }
  const char *element = symbol->below[0] ? "msub" : "msup";
  fprintf(out, "<%s>", element);
  write_name(out, symbol->base);
  if (symbol->below[0]) {
    write_name(out, symbol->below);
  } else {
    write_element(out, "mo", symbol->above, (int)strlen(symbol->above));
  }
  fprintf(out, "</%s>", element);
}

// Two parts, each in a row of its own.
static void write_pair(FILE *out, const char *element, const cavum_formula *f, int first) {
  int second = f->pieces[first].next;
  fprintf(out, "<%s>", element);
  write_piece(out, f, first);
  write_piece(out, f, second);
  fprintf(out, "</%s>", element);
}

static void write_operator(FILE *out, const cavum_formula_piece *p) {
  // Bars would be taken for a relation, and grow or not by their place.
  fputs(*p->text == '|' || *p->text == '/' ? TIGHT : "<mo>", out);
  cavum_markup_write_bytes(out, p->text, (size_t)p->length);
  fputs("</mo>", out);
}

static bool has_bar(const cavum_formula *f, int first) {
  for (int i = first; i >= 0; i = f->pieces[i].next) {
    if (f->pieces[i].kind == CAVUM_FORMULA_FRACTION || has_bar(f, f->pieces[i].first)) return true;
  }
  return false;
}

// As high as a fraction inside; else as high as letters, on paper as well.
static void write_brackets(FILE *out, const cavum_formula *f, int first) {
  const char *stretchy = has_bar(f, first) ? "" : " stretchy=\"false\"";
  fprintf(out, "<mrow><mo%s>(</mo>", stretchy);
  write_parts(out, f, first);
  fprintf(out, "<mo%s>)</mo></mrow>", stretchy);
}

static void write_piece(FILE *out, const cavum_formula *f, int piece) {
  const cavum_formula_piece *p = &f->pieces[piece];
  switch (p->kind) {
    case CAVUM_FORMULA_SYMBOL:
      write_symbol(out, cavum_formula_describe_symbol(p->symbol));
      break;
    case CAVUM_FORMULA_NUMBER:
      write_element(out, "mn", p->text, p->length);
      break;
    case CAVUM_FORMULA_OPERATOR:
      write_operator(out, p);
      break;
    case CAVUM_FORMULA_WORD:
      fputs("<mspace width=\"0.3em\"/>", out);
      write_element(out, "mtext", p->text, p->length);
      break;
    case CAVUM_FORMULA_BRACKETS:
      write_brackets(out, f, p->first);
      break;
    case CAVUM_FORMULA_FRACTION:
      write_pair(out, "mfrac", f, p->first);
      break;
    case CAVUM_FORMULA_POWER:
      write_pair(out, "msup", f, p->first);
      break;
    case CAVUM_FORMULA_ROOT:
      fputs("<msqrt>", out);
      write_parts(out, f, p->first);
      fputs("</msqrt>", out);
      break;
    case CAVUM_FORMULA_ROW:
      fputs("<mrow>", out);
      write_parts(out, f, p->first);
      fputs("</mrow>", out);
      break;
  }
}

static bool is_name(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

// The plain letters of one name of a formula.
static void write_plain_name(FILE *out, const char *name, int length) {
  static const char *const functions[][2] = {
      {"int", "\xe2\x88\xab"}, {"oint", "\xe2\x88\xae"}, {"sqrt", "\xe2\x88\x9a"}};
  for (int i = 0; i < 3; i++) {
    if ((int)strlen(functions[i][0]) == length && !strncmp(name, functions[i][0], (size_t)length)) {
      fputs(functions[i][1], out);
      return;
    }
  }
  const cavum_formula_symbol *symbol = cavum_formula_find_symbol(name, length);
  if (symbol) {
    cavum_markup_write(out, symbol->plain);
  } else {
    cavum_markup_write_bytes(out, name, (size_t)length);
  }
}

// The formula as a line of text: as it was written, with true letters.
static void write_plain(FILE *out, const char *text, const char *end) {
  while (text < end) {
    int length = 0;
    while (text + length < end && is_name(text[length])) length++;
    if (length > 0) write_plain_name(out, text, length);
    bool squared = length == 0 && text[0] == '^' && text[1] == '2' && !is_name(text[2]);
    if (squared) fputs("\xc2\xb2", out);
    if (length == 0) {
      length = squared ? 2 : 1;
      while (text + length < end && ((unsigned char)text[length] & 0xc0) == 0x80) length++;
      if (!squared) cavum_markup_write_bytes(out, text, (size_t)length);
    }
    text += length;
  }
}

static void write_formula(FILE *out, const cavum_formula *f, const char *at) {
  fputs("<math aria-label=\"", out);
  write_plain(out, at, f->end);
  fputs("\"><semantics>", out);
  write_piece(out, f, f->root);
  fputs("<annotation encoding=\"text/plain\">", out);
  write_plain(out, at, f->end);
  fputs("</annotation></semantics></math>", out);
}

#define MICRO_OHM "\xc2\xb5\xce\xa9"

// Whether a word of so many bytes is a unit, as texts write them.
static bool is_unit(const char *word, size_t length) {
  static const char *const units[] = {
      "mm",        "cm",        "m",         "nm",        "\xc2\xb5m", "um",        "inch",
      "Hz",        "kHz",       "MHz",       "GHz",       "V",         "kV",        "MV",
      "MV/m",      "V/m",       "mT/(MV/m)", "T",         "mT",        "\xc2\xb5T", "nT",
      "W",         "mW",        "kW",        "J",         "mJ",        "K",         "mK",
      "s",         "ms",        "\xc2\xb5s", "dB",        "dBm",       "%",         "\xce\xa9",
      "n\xce\xa9", "m\xce\xa9", "k\xce\xa9", "M\xce\xa9", "G\xce\xa9", "T\xce\xa9", "ohm",
      "nohm",      "mohm",      "V/pC",      "degrees",   "deg",       MICRO_OHM};
  for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
    if (strlen(units[i]) == length && strncmp(units[i], word, length) == 0) return true;
  }
  return false;
}

// Whether the line must not break at a blank: a unit stays with its number, with the unit before
// it, and with the word "in" of a heading.
static bool holds_unit(const char *text, const char *blank, bool after_unit) {
  size_t length = strcspn(blank + 1, " ,;:");
  while (length > 0 && blank[length] == '.') length--;
  if (!is_unit(blank + 1, length)) return false;
  if (blank == text) return after_unit;
  bool number = (blank[-1] >= '0' && blank[-1] <= '9') || blank[-1] == ')';
  return after_unit || number || (blank - text >= 3 && strncmp(blank - 3, " in", 3) == 0);
}

// Text between formulas, escaped; `after_number` when a number stands in front of it.
static void write_text(FILE *out, const char *text, const char *end, bool after_number) {
  const char *from = text;
  bool after_unit = after_number;
  for (const char *at = text; at < end; at++) {
    if (*at != ' ') continue;
    after_unit = holds_unit(text, at, after_unit);
    if (!after_unit) continue;
    cavum_markup_write_bytes(out, from, (size_t)(at - from));
    fputs("\xc2\xa0", out);
    from = at + 1;
  }
  cavum_markup_write_bytes(out, from, (size_t)(end - from));
}

// Bytes behind a formula that stay in its line: up to the next plain blank behind one that holds,
// or a unit behind a number. Browsers break the line behind a formula whatever stands there, so
// both go into one element that has no break.
static size_t length_held(const char *end, bool number) {
  if (strncmp(end, "\xc2\xa0", 2) == 0) return strcspn(end, " ");
  return number && *end == ' ' && holds_unit(end, end, true) ? 1 + strcspn(end + 1, " ,;:") : 0;
}

void cavum_formula_write(FILE *out, const char *text, bool bars) {
  cavum_formula formula;
  const char *from = text, *at = text;
  bool number = false;
  while (*at) {
    if (!cavum_formula_read(&formula, text, at, bars)) {
      at++;
      continue;
    }
    write_text(out, from, at, number);
    number = formula.end[-1] >= '0' && formula.end[-1] <= '9';
    size_t held = length_held(formula.end, number);
    if (held > 0) fputs("<span class=\"whole\">", out);
    write_formula(out, &formula, at);
    from = at = formula.end;
    // What follows without a blank stays as well: browsers would break the line before a comma.
    if (*at && strchr(",.;:)", *at)) fputs("\xe2\x81\xa0", out);
    if (held == 0) continue;
    write_text(out, from, from + held, number);
    fputs("</span>", out);
    from = at = from + held;
  }
  write_text(out, from, at, number);
}
