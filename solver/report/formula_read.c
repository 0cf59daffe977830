// SPDX-License-Identifier: GPL-3.0-or-later
// Reading formulas out of texts, by recursive descent: a sum is products with + - = between them, a
// product is factors, a factor a symbol, a number, brackets, a root, an integral. Each reader
// leaves the place where it was when it finds nothing.
#include <string.h>

#include "report/formula.h"

static const cavum_formula_symbol SYMBOLS[] = {
    {"E_acc", "E_acc", "E", "acc", "", true, false},
    {"E_pk", "E_pk", "E", "pk", "", true, false},
    {"E_z", "E_z", "E", "z", "", true, false},
    {"B_pk", "B_pk", "B", "pk", "", true, false},
    {"L_acc", "L_acc", "L", "acc", "", true, false},
    {"R/Q", "R/Q", "R/Q", "", "", true, false},
    {"R_s", "R_s", "R", "s", "", true, false},
    {"R_0", "R_0", "R", "0", "", true, false},
    {"R_res", "R_res", "R", "res", "", true, false},
    {"R_BCS", "R_BCS", "R", "BCS", "", true, false},
    {"Q0", "Q_0", "Q", "0", "", true, false},
    {"Q_0", "Q_0", "Q", "0", "", true, false},
    {"Q_L", "Q_L", "Q", "L", "", true, false},
    {"Q_t", "Q_t", "Q", "t", "", true, false},
    {"Q_e", "Q_e", "Q", "e", "", true, false},
    {"Q_ext", "Q_ext", "Q", "ext", "", true, false},
    {"P_d", "P_d", "P", "d", "", true, false},
    {"P_wall", "P_wall", "P", "wall", "", true, false},
    {"P_t", "P_t", "P", "t", "", true, false},
    {"P_f", "P_f", "P", "f", "", true, false},
    {"P_r", "P_r", "P", "r", "", true, false},
    {"P_e", "P_e", "P", "e", "", true, false},
    {"P_forward", "P_f", "P", "f", "", true, false},
    {"P_emitted", "P_e", "P", "e", "", true, false},
    {"k_cc", "k_cc", "k", "cc", "", true, false},
    {"k_loss", "k_loss", "k", "loss", "", true, false},
    {"f_0", "f_0", "f", "0", "", true, false},
    {"f_pi", "f_\xcf\x80", "f", "\xcf\x80", "", true, false},
    {"beta*", "\xce\xb2*", "\xce\xb2", "", "*", true, false},
    {"beta_FN", "\xce\xb2_FN", "\xce\xb2", "FN", "", true, false},
    {"beta", "\xce\xb2", "\xce\xb2", "", "", true, false},
    {"\xce\xb2", "\xce\xb2", "\xce\xb2", "", "", true, false},
    {"lambda", "\xce\xbb", "\xce\xbb", "", "", true, false},
    {"mu0", "\xce\xbc\xe2\x82\x80", "\xce\xbc", "0", "", true, false},
    {"\xc2\xb5\xe2\x82\x80", "\xce\xbc\xe2\x82\x80", "\xce\xbc", "0", "", true, false},
    {"pi", "\xcf\x80", "\xcf\x80", "", "", false, false},
    {"\xcf\x89", "\xcf\x89", "\xcf\x89", "", "", true, false},
    {"omega", "\xcf\x89", "\xcf\x89", "", "", true, false},
    {"\xce\x94", "\xce\x94", "\xce\x94", "", "", false, false},
    {"kT", "kT", "kT", "", "", false, false},
    {"df", "df", "df", "", "", false, false},
    {"dp", "dp", "dp", "", "", false, false},
    {"dz", "dz", "dz", "", "", false, true},
    {"dS", "dS", "dS", "", "", false, true},
    {"dV", "dV", "dV", "", "", false, true},
    {"A", "A", "A", "", "", false, false},
    {"E", "E", "E", "", "", false, false},
    {"G", "G", "G", "", "", true, false},
    {"H", "H", "H", "", "", false, false},
    {"T", "T", "T", "", "", false, false},
    {"U", "U", "U", "", "", true, false},
    {"V", "V", "V", "", "", true, false},
    {"c", "c", "c", "", "", true, false},
    {"d", "d", "d", "", "", false, false},
    {"f", "f", "f", "", "", true, false},
    {"j", "j", "j", "", "", false, false},
    {"k", "k", "k", "", "", false, false},
    {"r", "r", "r", "", "", false, false},
    {"z", "z", "z", "", "", false, false},
};
enum { NUM_SYMBOLS = (int)(sizeof SYMBOLS / sizeof SYMBOLS[0]) };

const cavum_formula_symbol *cavum_formula_describe_symbol(int symbol) { return &SYMBOLS[symbol]; }

const cavum_formula_symbol *cavum_formula_find_symbol(const char *name, int length) {
  for (int i = 0; i < NUM_SYMBOLS; i++) {
    bool same = strncmp(SYMBOLS[i].name, name, (size_t)length) == 0;
    if (same && SYMBOLS[i].name[length] == '\0') return &SYMBOLS[i];
  }
  return NULL;
}

static bool is_digit(char c) { return c >= '0' && c <= '9'; }
static bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

// Letters and what else may go on in a name.
static bool is_name(char c) { return is_letter(c) || is_digit(c) || c == '_'; }

static bool starts(const char *at, const char *with) {
  return strncmp(at, with, strlen(with)) == 0;
}

static const char *skip(const char *at) {
  while (*at == ' ') at++;
  return at;
}

// A new piece; -1 when there are too many.
static int add(cavum_formula *f, cavum_formula_kind kind, const char *text, int length) {
  if (f->count >= CAVUM_FORMULA_PIECES) return -1;
  f->pieces[f->count] = (cavum_formula_piece){
      .kind = kind, .text = text, .length = length, .symbol = -1, .first = -1, .next = -1};
  return f->count++;
}

// A piece with one or two parts.
static int wrap(cavum_formula *f, cavum_formula_kind kind, int first, int second) {
  if (first < 0) return -1;
  int piece = add(f, kind, "", 0);
  if (piece < 0) return -1;
  f->pieces[piece].first = first;
  if (second >= 0) f->pieces[first].next = second;
  return piece;
}

// A row that is being filled.
typedef struct row {
  int first, last;
} row;

static void append(cavum_formula *f, row *r, int piece) {
  if (piece < 0) return;
  if (r->first < 0) r->first = piece;
  if (r->last >= 0) f->pieces[r->last].next = piece;
  r->last = piece;
}

// One piece for a row: itself when it is alone.
static int close_row(cavum_formula *f, const row *r) {
  return r->first == r->last ? r->first : wrap(f, CAVUM_FORMULA_ROW, r->first, -1);
}

static int read_sum(cavum_formula *f, const char **at);
static int read_factor(cavum_formula *f, const char **at);

static int read_symbol(cavum_formula *f, const char **at) {
  for (int i = 0; i < NUM_SYMBOLS; i++) {
    const char *name = SYMBOLS[i].name;
    size_t length = strlen(name);
    if (strncmp(*at, name, length) != 0) continue;
    bool letters = is_name(name[length - 1]);
    // The G of a gigaohm is a prefix.
    bool prefix = starts(*at + length, "\xce\xa9");
    if (letters && (is_name((*at)[length]) || prefix)) continue;
    int piece = add(f, CAVUM_FORMULA_SYMBOL, *at, (int)length);
    if (piece < 0) return -1;
    f->pieces[piece].symbol = i;
    *at += length;
    return piece;
  }
  return -1;
}

// A plain number; those with an uncertainty, a power of ten or a percent sign stay text.
static int read_number(cavum_formula *f, const char **at) {
  size_t length = strspn(*at, "0123456789.");
  while (length > 0 && (*at)[length - 1] == '.') length--;
  const char *end = *at + length;
  if (length == 0 || !is_digit(**at) || is_name(*end) || starts(end, "\xc3\x97") ||
      starts(skip(end), "%") || (*end == '(' && is_digit(end[1]))) {
    return -1;
  }
  int piece = add(f, CAVUM_FORMULA_NUMBER, *at, (int)length);
  if (piece >= 0) *at = end;
  return piece;
}

// Sums between commas, and the name of a convention, up to a closing bracket.
static int read_brackets(cavum_formula *f, const char **at) {
  static const char *const words[] = {"linac", "circuit"};
  row inside = {-1, -1};
  const char *place = *at + 1;
  for (;;) {
    int piece = read_sum(f, &place);
    if (piece < 0) return -1;
    append(f, &inside, piece);
    place = skip(place);
    if (*place != ',') break;
    append(f, &inside, add(f, CAVUM_FORMULA_OPERATOR, place, 1));
    place++;
  }
  for (int i = 0; i < 2; i++) {
    if (!starts(place, words[i])) continue;
    append(f, &inside, add(f, CAVUM_FORMULA_WORD, place, (int)strlen(words[i])));
    place = skip(place + strlen(words[i]));
  }
  if (*place != ')') return -1;
  *at = place + 1;
  return wrap(f, CAVUM_FORMULA_BRACKETS, close_row(f, &inside), -1);
}

static int read_bars(cavum_formula *f, const char **at) {
  row parts = {-1, -1};
  const char *place = *at + 1;
  append(f, &parts, add(f, CAVUM_FORMULA_OPERATOR, *at, 1));
  int inside = read_sum(f, &place);
  place = skip(place);
  if (inside < 0 || *place != '|') return -1;
  append(f, &parts, inside);
  append(f, &parts, add(f, CAVUM_FORMULA_OPERATOR, place, 1));
  *at = place + 1;
  return close_row(f, &parts);
}

// The sign, factors, and the differential.
static int read_integral(cavum_formula *f, const char **at) {
  bool closed = **at == 'o';
  row parts = {-1, -1};
  const char *place = *at + (closed ? 4 : 3);
  append(f, &parts, add(f, CAVUM_FORMULA_OPERATOR, closed ? "\xe2\x88\xae" : "\xe2\x88\xab", 3));
  for (;;) {
    place = skip(place);
    int piece = read_factor(f, &place);
    if (piece < 0) return -1;
    append(f, &parts, piece);
    const cavum_formula_piece *p = &f->pieces[piece];
    if (p->kind == CAVUM_FORMULA_SYMBOL && SYMBOLS[p->symbol].differential) break;
  }
  *at = place;
  return close_row(f, &parts);
}

static int read_function(cavum_formula *f, const char **at) {
  bool root = starts(*at, "sqrt(");
  row parts = {-1, -1};
  const char *place = *at + (root ? 4 : 3);
  if (!root) append(f, &parts, add(f, CAVUM_FORMULA_WORD, *at, 3));
  int inside = read_brackets(f, &place);
  if (inside < 0) return -1;
  *at = place;
  if (root) return wrap(f, CAVUM_FORMULA_ROOT, f->pieces[inside].first, -1);
  append(f, &parts, inside);
  return close_row(f, &parts);
}

static int read_base(cavum_formula *f, const char **at) {
  if (starts(*at, "sqrt(") || starts(*at, "exp(")) return read_function(f, at);
  if (starts(*at, "int ") || starts(*at, "oint ")) return read_integral(f, at);
  if (**at == '|') return read_bars(f, at);
  if (**at == '(') return read_brackets(f, at);
  return is_digit(**at) ? read_number(f, at) : read_symbol(f, at);
}

static int read_factor(cavum_formula *f, const char **at) {
  if (++f->steps > CAVUM_FORMULA_STEPS) return -1;
  int base = read_base(f, at), power = -1;
  if (base < 0) return -1;
  if (**at == '^' && is_digit((*at)[1])) {
    const char *place = *at + 1;
    power = read_number(f, &place);
    if (power >= 0) *at = place;
  } else if (starts(*at, "\xc2\xb2")) {
    power = add(f, CAVUM_FORMULA_NUMBER, "2", 1);
    *at += 2;
  }
  return power < 0 ? base : wrap(f, CAVUM_FORMULA_POWER, base, power);
}

// Brackets around the whole of a numerator or denominator say nothing below a bar.
static int without_brackets(const cavum_formula *f, int piece) {
  const cavum_formula_piece *p = &f->pieces[piece];
  return p->kind == CAVUM_FORMULA_BRACKETS ? p->first : piece;
}

// Behind a product: "/ factor". False when nothing of that kind follows.
static bool read_quotient(cavum_formula *f, row *product, const char **at) {
  const char *slash = skip(*at), *place = slash + 1;
  if (*slash != '/') return false;
  bool bar = f->bars && slash[-1] == ' ' && slash[1] == ' ';
  place = skip(place);
  int below = read_factor(f, &place);
  if (below < 0) return false;
  if (bar) {
    int above = without_brackets(f, close_row(f, product));
    int fraction = wrap(f, CAVUM_FORMULA_FRACTION, above, without_brackets(f, below));
    *product = (row){fraction, fraction};
  } else {
    append(f, product, add(f, CAVUM_FORMULA_OPERATOR, slash, 1));
    append(f, product, below);
  }
  *at = place;
  return true;
}

static int read_product(cavum_formula *f, const char **at) {
  row product = {-1, -1};
  int piece = read_factor(f, at);
  if (piece < 0) return -1;
  append(f, &product, piece);
  for (;;) {
    if (read_quotient(f, &product, at)) continue;
    bool times = starts(*at, " x ");
    const char *place = skip(times ? *at + 3 : *at);
    if (is_digit(*place)) break;  // A number behind a symbol is something else.
    piece = read_factor(f, &place);
    if (piece < 0) break;
    if (times) append(f, &product, add(f, CAVUM_FORMULA_OPERATOR, "\xc3\x97", 2));
    append(f, &product, piece);
    *at = place;
  }
  return close_row(f, &product);
}

// The sign between two products, with blanks around it; 0 bytes when there is none.
static int sign_at(const char *at) {
  if (*at == '+' || *at == '-' || *at == '=') return at[-1] == ' ' && at[1] == ' ';
  return starts(at, "\xe2\x88\x92") && at[-1] == ' ' && at[3] == ' ' ? 3 : 0;
}

static int add_sign(cavum_formula *f, const char *at, int length) {
  return *at == '-' ? add(f, CAVUM_FORMULA_OPERATOR, "\xe2\x88\x92", 3)
                    : add(f, CAVUM_FORMULA_OPERATOR, at, length);
}

// Bytes of the minus of a negative number.
static int minus_at(const char *at) { return *at == '-' ? 1 : starts(at, "\xe2\x88\x92") ? 3 : 0; }

static int read_sum(cavum_formula *f, const char **at) {
  row sum = {-1, -1};
  const char *place = skip(*at);
  int minus = minus_at(place);
  if (minus) append(f, &sum, add_sign(f, place, minus));
  place += minus;
  int piece = read_product(f, &place);
  if (piece < 0) return -1;
  append(f, &sum, piece);
  *at = place;
  for (;;) {
    const char *sign = skip(place);
    int length = sign_at(sign);
    if (length == 0) break;
    const char *value = skip(sign + length);
    minus = *sign == '=' ? minus_at(value) : 0;
    place = value + minus;
    piece = read_product(f, &place);
    if (piece < 0) break;
    append(f, &sum, add_sign(f, sign, length));
    if (minus) append(f, &sum, add_sign(f, value, minus));
    append(f, &sum, piece);
    *at = place;
  }
  return close_row(f, &sum);
}

// Words before which a letter is a unit: "in V", "25 V".
static bool is_unit_place(const char *text, const char *at) {
  if (at == text || at[-1] != ' ') return false;
  if (at - text >= 2 && is_digit(at[-2])) return true;
  return at - text >= 3 && strncmp(at - 3, "in ", 3) == 0;
}

// Whether a single symbol is meant as one, and "25 V" as none.
static bool is_formula(const cavum_formula *f, const char *text, const char *at) {
  const cavum_formula_piece *root = &f->pieces[f->root];
  if (root->kind == CAVUM_FORMULA_NUMBER) return false;
  if (root->kind == CAVUM_FORMULA_SYMBOL) {
    if (root->length == 1 && *f->end == ':') return false;  // The letter of an entry.
    if (is_unit_place(text, at)) return SYMBOLS[root->symbol].below[0] != '\0';
    bool article = root->length == 1 && *root->text == 'A';
    return SYMBOLS[root->symbol].alone || (at == text && !article);
  }
  if (root->kind != CAVUM_FORMULA_ROW) return true;
  const cavum_formula_piece *first = &f->pieces[root->first], *second = &f->pieces[first->next];
  return !(first->kind == CAVUM_FORMULA_NUMBER && second->kind == CAVUM_FORMULA_SYMBOL &&
           second->length == 1 && second->next < 0);
}

bool cavum_formula_read(cavum_formula *formula, const char *text, const char *at, bool bars) {
  if (at > text && (is_name(at[-1]) || strchr("./-^'\"", at[-1]))) return false;
  if (*at == ' ') return false;
  const char *place = at;
  formula->count = formula->steps = 0;
  formula->bars = bars;
  formula->root = read_sum(formula, &place);
  formula->end = place;
  if (formula->root < 0 || formula->count >= CAVUM_FORMULA_PIECES) return false;
  if (is_name(*place) || (*place && strchr("/^*", *place))) return false;
  return is_formula(formula, text, at);
}
