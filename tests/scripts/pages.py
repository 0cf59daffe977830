# SPDX-License-Identifier: GPL-3.0-or-later
"""Reports as text: their tables, captions and sentences, with formulas as the plain text that they carry."""
import html
import json
import re


class Report:
    """A report that was read: `text` with a line for each block, `tables`, `captions`, `plots`."""

    def __init__(self, path):
        with open(path, encoding="utf-8") as file:
            self.source = file.read()
        self.plots = json.loads(re.search(r'id="plot-data">(.*?)</script>', self.source, re.S)[1])
        page = re.sub(r"<(script|style|svg)\b.*?</\1>", "", self.source, flags=re.S)
        self.captions = [flat(c) for c in re.findall(r"<figcaption>(.*?)</figcaption>", page, re.S)]
        self.tables = {}
        for table in re.findall(r"<table\b.*?</table>", page, re.S):
            caption = flat(re.search(r"<caption>(.*?)</caption>", table, re.S)[1])
            rows = [[flat(cell) for cell in re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, re.S)]
                    for row in re.findall(r"<tr>(.*?)</tr>", table, re.S)]
            self.tables.setdefault(caption, []).append((rows[0], rows[1:]))
        self.text = "\n".join(flat(block) for block in
                              re.split(r"</(?:p|h\d|li|div|caption|figcaption|pre|th|td)>", page))

    def table(self, caption):
        """Heads and rows of the first table whose caption begins so."""
        for words, tables in self.tables.items():
            if words.startswith(caption):
                return tables[0]
        raise KeyError(f"{caption}: no such table among {list(self.tables)}")

    def column(self, caption, head):
        """A column of that table by the first cells of its rows."""
        heads, rows = self.table(caption)
        return {row[0]: row[heads.index(head)] for row in rows}


def flat(text):
    """Text without elements; a formula is the line that its reader without mathematics gets."""
    text = re.sub(r'<math aria-label="(.*?)">.*?</math>', r"\1", text, flags=re.S)
    return html.unescape(re.sub(r"<[^>]*>", "", text)).replace("\u2060", "").replace("\u00a0", " ").strip()


def number(text):
    """Value and uncertainty of what a page has: 1.2345(12), 7.6(24)×10⁸, 0 ± 4."""
    raised = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")
    text = text.replace("\u2212", "-").replace("\u00a0", " ")
    if " ± " in text:
        return tuple(float(part) for part in text.split(" ± "))
    match = re.fullmatch(r"([+-]?[\d.]+)(?:\((\d+)\))?(?:×10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+))?", text)
    if not match:
        raise ValueError(f"no number: {text!r}")
    power = 10.0 ** float((match[3] or "0").translate(raised))
    decimals = len(match[1].partition(".")[2])
    return (float(match[1]) * power, float(match[2] or 0) * 10.0 ** -decimals * power)
