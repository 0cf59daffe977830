#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The documentation is built from the tree; each link leads to a page and an anchor that are there, each picture is there;
each task, command and key has its place. The examples of the pages for tasks run as they stand, in the folder in which
README.md has written its cell, where CAVUM_LONG_TESTS is set (scripts/check --full).

Usage: check_docs.py PROGRAM CELLS_FOLDER
"""
from html.parser import HTMLParser
import os
import re
import subprocess
import sys
import tempfile
from urllib.parse import unquote
from xml.etree import ElementTree

import check_readme
from check_readme import run_shell, tell, write_file

SOURCE = check_readme.SOURCE
sys.path.insert(0, os.path.join(SOURCE, "scripts"))
sys.dont_write_bytecode = True
import mathematics  # noqa: E402  (of the scripts of the tree)
TASKS = ("own-cell", "cad-mesh", "cluster", "cold-test", "frequency-steps", "workshop-tolerances", "best-shape")


class Links(HTMLParser):
    """Where the links and pictures of a page lead, and its anchors."""

    def __init__(self, text):
        super().__init__()
        self.links, self.anchors = [], set()
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        values = dict(attributes)
        self.anchors.update(values[name] for name in ("id", "name") if values.get(name))
        for name in ("href", "src"):
            if values.get(name) and not re.match(r"https?:|javascript:|data:|mailto:", values[name]):
                self.links.append(values[name])


def check_links(folder):
    pages = {}
    for name in os.listdir(folder):
        if name.endswith(".html"):
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                pages[name] = Links(file.read())
    dead, count = [], 0
    for name, page in pages.items():
        for link in page.links:
            file, _, anchor = unquote(link).partition("#")
            goal = file or name
            count += 1
            if not os.path.exists(os.path.join(folder, goal)):
                dead.append(f"{name}: {link}")
            elif anchor and goal in pages and anchor not in pages[goal].anchors:
                dead.append(f"{name}: {link}")
    tell(count > 2000 and not dead, f"{count} links of {len(pages)} pages lead somewhere", dead[:10])


def check_text(folder):
    """No link of a page stayed as it was in the tree, and what is made of the tables is there."""
    def text(page):
        with open(os.path.join(folder, page + ".html"), encoding="utf-8") as file:
            return file.read()

    left = [name for name in os.listdir(folder) if name.startswith("page_")
            for link in re.findall(r"\]\([^)]*\.md|@ref ", text(name.removesuffix(".html")))]
    tell(not left, "links are set", left)
    with open(os.path.join(SOURCE, "solver", "cli", "main.c"), encoding="utf-8") as file:
        names = set(re.findall(r'^ +\{"(\w+)", ', file.read(), re.M))
    commands = text("page_commands")
    missing = [name for name in names if f"<code>cavum {name}" not in commands and f"Usage: cavum {name}" not in commands]
    tell(names and not missing, f"{len(names)} commands", missing)
    keys = text("page_keys")
    for key in ("contour.equator_ellipse.axial_mm", "accuracy.other_figures", "hold.by", "channels.forward"):
        tell(key in keys, f"key {key}")
    tell("geometry_factor_ohm" in text("page_figures"), "figures")


def check_formulas(folder):
    """Formulas are mathematics: each line of the blocks, the definitions of the figures, what sentences have; none stays in
    plain letters, and each is XML that closes what it opens."""
    known = (
        ("V^2 / (omega U)", "block", "<mfrac><msup><mi>V</mi><mn>2</mn></msup><mrow><mrow><mi>ω</mi><mi>U</mi></mrow></mrow></mfrac>"),
        ("w = H_phi / r", "sentence", "<mo lspace='0' rspace='0'>/</mo><mi>r</mi>"),
        ("sqrt(Q0)", "block", "<msqrt><msub><mi>Q</mi><mn>0</mn></msub></msqrt>"),
        ("2 omega U / oint |H|^2 dS", "block", "<mfrac><mrow><mn>2</mn><mi>ω</mi><mi>U</mi></mrow><mrow><mo>∮</mo>"))
    for formula, place, part in known:
        made = mathematics.mathml(formula, place)
        tell(made is not None and part in made, f"{formula} is set", made)
    for broken in ("(1 + 2", "a ] b", "3 $ 4", ""):
        tell(mathematics.mathml(broken) is None, f"'{broken}' is no formula")
    sentence = "A figure q_n at rising degrees n has E_acc = 1 MV/m, and a table of R/Q, Q0 = G / R_s."
    found = [sentence[start:end] for start, end in mathematics.formulas(sentence)]
    tell(found == ["q_n", "E_acc = 1", "R/Q", "Q0 = G / R_s"], "formulas of a sentence", found)
    for page in ("documentation/theory.md", "solver/fem/README.md", "solver/solve/README.md"):
        with open(os.path.join(SOURCE, page), encoding="utf-8") as file:
            blocks = re.findall(r"^```formula\n(.*?)^```$", file.read(), re.M | re.S)
        name = "page_" + re.sub(r"\W", "_", page.removesuffix(".md").removeprefix("documentation/")) + ".html"
        with open(os.path.join(folder, name), encoding="utf-8") as file:
            text = file.read()
        set_ones = re.findall(r"<math .*?</math>", text, re.S)
        lines = sum(len(block.splitlines()) for block in blocks)
        tell(lines and lines == sum('display="block"' in made for made in set_ones), f"{page}: {lines} formulas in lines of their own")
        tell(len(set_ones) > lines or "solve" in page, f"{page}: formulas in sentences", len(set_ones))
        for made in set_ones:
            ElementTree.fromstring(made)
        tell("CAVUMFORMULA" not in text, f"{page}: no word in place of a formula is left")
    with open(os.path.join(folder, "page_figures.html"), encoding="utf-8") as file:
        tell('alttext="V^2 / (omega U)"' in file.read(), "definitions of figures")


def blocks_of(task):
    """Kind and text of each example of a page for a task."""
    with open(os.path.join(SOURCE, "documentation", task + ".md"), encoding="utf-8") as file:
        return re.findall(r"^```(\w*)\n(.*?)^```$", file.read(), re.M | re.S)


def check_names_of_examples():
    """What is set as a file can be saved as one; a part of a file is indented in place of that."""
    for task in TASKS:
        for kind, block in blocks_of(task):
            named = re.match(r"(?:#|//) \S+\.(?:yaml|geo)\n", block)
            tell(kind == "sh" or named, f"{task}: an example says the name of its file in the first line", block)


def check_examples(program):
    with open(check_readme.README, encoding="utf-8") as file:
        cell = next(block for block in re.findall(r"^```yaml\n(.*?)^```$", file.read(), re.M | re.S)
                    if block.startswith("# cell.yaml"))
    with tempfile.TemporaryDirectory() as folder:
        for name in ("geometries-demo", "scripts"):
            os.symlink(os.path.join(SOURCE, name), os.path.join(folder, name))
        write_file(cell, folder)
        for task in TASKS:
            blocks = blocks_of(task)
            tell(any(kind == "sh" for kind, _ in blocks), f"{task} has an example")
            for kind, block in blocks:
                if kind == "sh":
                    run_shell(block, folder, program)
                elif kind == "yaml":
                    write_file(block, folder)
                else:
                    name = re.match(r"// (\S+\.geo)\n", block)
                    tell(kind == "geo" and name, f"{task}: kind of block", kind)
                    with open(os.path.join(folder, name[1]), "w", encoding="utf-8") as file:
                        file.write(block)


def main():
    program = os.path.abspath(sys.argv[1])
    done = subprocess.run((sys.executable, os.path.join(SOURCE, "scripts", "docs"), program), stdout=subprocess.PIPE,
                          stderr=subprocess.STDOUT, text=True, check=False)
    tell(done.returncode == 0, "the pages are built", done.stdout)
    if done.returncode == 0:
        folder = os.path.join(SOURCE, "build", "docs", "html")
        check_links(folder)
        check_text(folder)
        check_formulas(folder)
    check_names_of_examples()
    if os.environ.get("CAVUM_LONG_TESTS"):
        check_examples(program)
    return 1 if check_readme.failures else 0


if __name__ == "__main__":
    sys.exit(main())
