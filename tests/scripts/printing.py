# SPDX-License-Identifier: GPL-3.0-or-later
"""A report on paper: no word of the page is lost, no page is half empty, no unit parts from its number."""
import collections
import re
import subprocess
import unicodedata

from checking import check

# Width and height in inches.
PAPERS = {"A4": (8.27, 11.69), "letter": (8.5, 11.0)}

# All that a reader of the printed page should find, what is folded on the screen opened. The licence of the plotting
# library stays in the file, since it is no part of the report.
WORDS = """(() => {
  document.querySelectorAll('details:not(.licence)').forEach(d => { d.open = true; });
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), words = [];
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (parent.closest('script, style, title, desc, annotation') || !parent.checkVisibility()) continue;
    words.push(...node.textContent.split(/\\s+/).filter(w => w));
  }
  return words;
})()"""

# Blanks at which a unit could part from its number, in what the program says; titles and notes are the user's.
LOOSE_UNITS = """Array.from(document.querySelectorAll('p, li, figcaption, caption, td.definition, thead th'))
  .flatMap(e => e.innerText.match(/[0-9)]\u2060? (mm|[kMG]?Hz|[kM]?V|MV\/m|mT|K|[nmM]?\u03a9|m?W|J|%)(?![\w/])/g) || [])"""

# Text ends above this share of a page, counted from its top, on half-empty ones: half of what is between the margins.
LEAST_FILLED = 0.55


def plain(text):
    """Letters alone: ligatures taken apart, no blanks, marks that only hold words together left out."""
    return re.sub("[\\s\u2060\u00ad\u2061\u2062]", "", unicodedata.normalize("NFKC", text).replace("\u2212", "-"))


def read(pdf, *options):
    """Text of a PDF in the order in which it was drawn; what is outside of its pages is not in it."""
    done = subprocess.run(("pdftotext",) + options + ("-", "-"), input=pdf, stdout=subprocess.PIPE, check=True)
    return done.stdout.decode()


def check_fill(pdf, name):
    """Each page but the last is filled, as far down as its lowest word."""
    pages = re.findall(r'<page width="[\d.]+" height="([\d.]+)">(.*?)</page>', read(pdf, "-bbox"), re.S)
    fills = []
    for height, words in pages[:-1]:
        lowest = max((float(y) for y in re.findall(r'yMax="([\d.]+)"', words)), default=0.0)
        fills.append(lowest / float(height))
    least = min(fills, default=1.0)
    check(least >= LEAST_FILLED, f"{name}: {len(pages)} pages, the emptiest but the last ends at {least:.2f} of its height")


def check_print(page, name, papers=tuple(PAPERS)):
    """Prints the page that is loaded."""
    loose = page.run(LOOSE_UNITS)
    check(not loose, f"{name}: units stay with their numbers {loose[:5]}")
    page.call("Emulation.setEmulatedMedia", media="print")
    wanted = collections.Counter(plain(word) for word in page.run(WORDS))
    page.call("Emulation.setEmulatedMedia", media="")
    for paper in papers:
        width, height = PAPERS[paper]
        pdf = page.pdf(paperWidth=width, paperHeight=height)
        letters = plain(read(pdf, "-raw"))
        # Shorter pieces are letters of formulas, which are found anywhere.
        lost = [word for word, count in wanted.items() if len(word) > 2 and letters.count(word) < count]
        check(not lost, f"{name}, {paper}: {sum(wanted.values())} words, lost {lost[:12]}")
        check_fill(pdf, f"{name}, {paper}")
