# SPDX-License-Identifier: GPL-3.0-or-later
"""Formulas as the pages of this tree write them, in letters of any keyboard or of Unicode, as MathML.

V^2 / (omega U), E_z = (2 w + r ∂_r w) / (j ω ε), k² ∫ μ_r r³ w v dr dz: a blank multiplies, ` / ` divides what stands
before it back to the last sign by the next factor, `_` lowers a letter, a number or a word, `^` and raised digits raise.
"""
import re
from html import escape

GREEK = {"alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "eps": "ε", "eta": "η", "kappa": "κ", "lambda": "λ", "mu": "μ",
         "omega": "ω", "phi": "φ", "pi": "π", "sigma": "σ", "tau": "τ", "xi": "ξ"}
RAISED = {"²": "2", "³": "3", "⁴": "4", "ᵀ": "T", "⁻": "−"}
FUNCTIONS = ("exp", "sqrt", "abs", "max", "min", "mean", "det", "cos", "sin")
OPERATORS = {"-": "−", "−": "−", "+": "+", "=": "=", "<": "<", ">": ">", "×": "×", "·": "·", ",": ",", ";": ";", ":": ":"}
INTEGRALS = {"int": "∫", "oint": "∮", "∫": "∫", "∮": "∮"}
LETTERS = "A-Za-zα-ωΑ-Ω∂"
TOKEN = re.compile(rf"\s*(R/Q|\d+(?:\.\d+)?|∫|∮|[{LETTERS}]+0?|[-−+=<>×·,;:/()|\[\]^_²³⁴ᵀ⁻])")


def tokens_of(text):
    """Pairs of a token and whether a blank stands before it; None where something is no formula."""
    found, at = [], 0
    text = text.rstrip()
    while at < len(text):
        match = TOKEN.match(text, at)
        if not match:
            return None
        found.append((match[1], match.start(1) > at))
        at = match.end()
    return found


def symbol(name):
    """A letter, alone or with a zero below; d of differentials; a word, which stands upright."""
    if name in GREEK:
        return f"<mi>{GREEK[name]}</mi>"
    if name == "R/Q":
        return "<mrow><mi>R</mi><mo>/</mo><mi>Q</mi></mrow>"
    if name.endswith("0") and (name[:-1] in GREEK or len(name) == 2):
        return f"<msub>{symbol(name[:-1])}<mn>0</mn></msub>"
    if len(name) == 2 and name[0] == "d" and name[1] in "frzstSVKM":
        return f"<mrow><mi mathvariant='normal'>d</mi><mi>{name[1]}</mi></mrow>"
    if name == "∂":
        return "<mo>∂</mo>"
    if len(name) == 1:
        return f"<mi>{name}</mi>"
    return f"<mtext>{escape(name)}</mtext>" if name not in FUNCTIONS else f"<mi mathvariant='normal'>{name}</mi>"


def row(parts):
    return parts[0] if len(parts) == 1 else f"<mrow>{''.join(parts)}</mrow>"


class Reader:
    """Reads tokens by descent: sums of products of factors."""

    def __init__(self, tokens, fractions):
        self.tokens, self.at, self.fractions = tokens, 0, fractions

    def next(self):
        return self.tokens[self.at][0] if self.at < len(self.tokens) else ""

    def take(self):
        self.at += 1
        return self.tokens[self.at - 1][0]

    def expression(self, end=""):
        """Products between signs, up to a closing bracket or the end."""
        parts = []
        while self.next() and self.next() != end:
            token = self.next()
            if token in (")", "]"):
                raise ValueError(token)
            if token in OPERATORS:
                space = " form='prefix'" if not parts and token in "-−+" else ""
                wide = "<mspace width='1.2em'/>" if token in ",;" and self.wide() else ""
                parts.append(f"<mo{space}>{escape(OPERATORS[self.take()])}</mo>{wide}")
            else:
                parts.append(self.product(end))
        return parts

    def wide(self):
        """Whether the comma divides two formulas: nothing is open."""
        before = [token for token, _ in self.tokens[:self.at]]
        return before.count("(") == before.count(")") and before.count("[") == before.count("]")

    def product(self, end):
        factors = []
        while self.next() and self.next() not in OPERATORS and self.next() not in (")", "]", end):
            if self.next() != "/":
                factors.append(self.factor())
                continue
            self.take()
            if not self.fractions:
                factors.append("<mo lspace='0' rspace='0'>/</mo>")
                continue
            # An integral below a bar takes all that it is over.
            below = self.product(end) if self.next() in INTEGRALS else strip(self.factor())
            above = [strip(factors[0])] if len(factors) == 1 else factors
            factors = [f"<mfrac>{row(above or ['<mrow></mrow>'])}{below}</mfrac>"]
        spaced = [part for i, part in enumerate(factors) for part in (gap(factors, i), part) if part]
        return row(spaced) if spaced else ""

    def factor(self):
        token = self.next()
        if token in ("(", "["):
            base = self.brackets()
        elif token == "|":
            self.take()
            inside = self.expression("|")
            self.close("|")
            base = bars(inside)
        elif token in INTEGRALS:
            return f"<mo>{INTEGRALS[self.take()]}</mo>"
        elif token and token[0].isdigit():
            base = f"<mn>{self.take()}</mn>"
        elif token and re.match(rf"[{LETTERS}R]", token):
            base = self.named()
        else:
            raise ValueError(token or "end")
        return self.raised(base)

    def named(self):
        name = self.take()
        if name in ("sqrt", "abs") and self.next() == "(":
            self.take()
            inside = self.expression(")")
            self.close(")")
            return f"<msqrt>{row(inside)}</msqrt>" if name == "sqrt" else bars(inside)
        base = symbol(name)
        if self.next() == "_" and not self.tokens[self.at][1]:
            self.take()
            base = f"<msub>{base}{self.script()}</msub>"
        if self.next() == "(" and not self.tokens[self.at][1]:
            base = self.raised(base)
            return f"<mrow>{base}{self.brackets()}</mrow>"
        return base

    def script(self):
        if self.next() == "(":
            return strip(self.brackets())
        name = self.take()
        if name[0].isdigit():
            return f"<mn>{name}</mn>"
        return symbol(name) if len(name) == 1 or name in GREEK else f"<mi mathvariant='normal'>{name}</mi>"

    def raised(self, base):
        while self.next() in ("^", *RAISED) and self.next():
            token = self.take()
            over = self.script() if token == "^" else f"<mn>{RAISED[token]}</mn>"
            base = f"<msup>{base}{over}</msup>"
        return base

    def brackets(self):
        opening = self.take()
        closing = ")" if opening == "(" else "]"
        inside = self.expression(closing)
        self.close(closing)
        tall = "" if "<mfrac>" in "".join(inside) else " stretchy='false'"
        return f"<mrow><mo{tall}>{opening}</mo>{''.join(inside)}<mo{tall}>{closing}</mo></mrow>"

    def close(self, wanted):
        if self.next() != wanted:
            raise ValueError(f"{wanted} is missing")
        self.take()


def bars(inside):
    tall = "true" if "<mfrac>" in "".join(inside) else "false"
    return f"<mrow><mo stretchy='{tall}' form='prefix'>|</mo>{''.join(inside)}<mo stretchy='{tall}' form='postfix'>|</mo></mrow>"


def gap(factors, i):
    """A thin space before differentials and words, and behind words."""
    if i == 0:
        return ""
    upright = "<mi mathvariant='normal'>d</mi>"
    word = "<mtext>" in factors[i][:8] or "<mtext>" in factors[i - 1][:8]
    return "<mspace width='0.35em'/>" if word else "<mspace width='0.17em'/>" if upright in factors[i][:40] else ""


def strip(part):
    """What stands above or below a bar needs no round brackets."""
    match = re.fullmatch(r"<mrow><mo[^>]*>\(</mo>(.*)<mo[^>]*>\)</mo></mrow>", part)
    if not match:
        return part
    depth = 0
    for bracket in re.findall(r"<mo[^>]*>([()])</mo>", match[1]):
        depth += 1 if bracket == "(" else -1
        if depth < 0:
            return part
    return f"<mrow>{match[1]}</mrow>"


def mathml(text, place="sentence"):
    """A formula as MathML, or None where it is none. Within a sentence a slash stays one, in a cell of a table and by itself
    (place: "cell", "block") it becomes a bar."""
    tokens = tokens_of(text)
    if not tokens:
        return None
    try:
        inside = Reader(tokens, place != "sentence").expression()
    except (ValueError, IndexError):
        return None
    block = {"block": ' display="block"', "cell": ' displaystyle="true"', "sentence": ""}[place]
    return f'<math xmlns="http://www.w3.org/1998/Math/MathML"{block} alttext="{escape(" ".join(text.split()))}">{row(inside)}</math>'


NAME = rf"(?:(?:{'|'.join(GREEK)})0?|d[rzstSVKM](?![{LETTERS}])|[{LETTERS}]0?)"
WORD = rf"(?:R/Q|{NAME}(?:_(?:[a-z]{{1,4}}\b|[{LETTERS}]|\d))?|exp|sqrt|abs|linac|∮|∫|oint|int|\d+(?:\.\d+)?)(?:[²³⁴ᵀ]|\^\d|\^\([^)]*\))*"
PIECE = re.compile(rf"(?<![\w`.-])(?:{WORD})(?![{LETTERS}\d])|[-−+=<>×/()|,]|∫|∮|[²³⁴ᵀ]|\^\d")


def is_sign(piece):
    return piece in "-−+=<>×/"


def runs(text):
    """Longest runs of pieces of formulas in a sentence: (start, end)."""
    at = 0
    while at < len(text):
        start = PIECE.search(text, at)
        if not start:
            return
        pieces, end, depth = [], start.start(), 0
        while True:
            match = PIECE.match(text, end + (1 if pieces and text[end:end + 1] == " " else 0))
            if not match or (match[0] == "," and depth == 0):
                break
            depth += (match[0] == "(") - (match[0] == ")")
            if depth < 0:
                break
            pieces.append((match[0], match.start(), match.end()))
            end = match.end()
        yield pieces
        at = max(end, start.end())


def trimmed(pieces):
    """Without signs and words at the ends that belong to the sentence; balanced."""
    while pieces and (is_sign(pieces[-1][0]) or pieces[-1][0] in ("(", ",", "|") and
                      sum(p[0] == "|" for p in pieces) % 2 or pieces[-1][0] == "("):
        pieces = pieces[:-1]
    while pieces and (pieces[0][0] in ("a", "A", "I", "+", "=", "/", "<", ">", ",", ")", "-")):
        pieces = pieces[1:]
    # A number with its unit is text: E_acc = 1 MV/m, U = 1 J.
    if len(pieces) > 1 and pieces[-1][0] == "J" and pieces[-2][0].isdigit():
        pieces = pieces[:-1]
    return pieces if sum(p[0] == "(" for p in pieces) == sum(p[0] == ")" for p in pieces) else []


def formulas(text):
    """Formulas within a sentence or a row of a table, as (start, end): what has a sign, something lowered or raised, or a
    letter of Greek."""
    if text.startswith("| "):
        for cell in re.finditer(r"(?<=\| )(.*?)(?= \|)", text):
            for start, end in formulas(cell[1]):
                yield cell.start(1) + start, cell.start(1) + end
        return
    for pieces in runs(text):
        pieces = trimmed(pieces)
        if not pieces:
            continue
        start, end = pieces[0][1], pieces[-1][2]
        words = [piece for piece, _, _ in pieces if re.match(rf"[{LETTERS}]|R/Q", piece)]
        signs = any(is_sign(piece) or piece == "abs" for piece, _, _ in pieces)
        marked = any(re.search(r"_|\^|[²³⁴ᵀα-ωΑ-Ω∂]|R/Q", word) or re.sub("0$", "", word) in GREEK for word in words)
        if words and (signs or marked) and mathml(text[start:end]):
            yield start, end
