#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reports in a real browser: Chromium loads them without an error or a request, plots answer to the
pointer and to keys, nothing is blank or wider than the window; also with a long title, a mode that
failed, absent figures, an unbounded peak, 20 modes and a scan of 100 000 rows. Files are made while
the browser looks at those that are there.

axe-core, which the tests alone take from npm, finds nothing wrong with one report of each kind, light
and dark. CAVUM_AXE names its script.

Usage: check_report.py PROGRAM CELLS_FOLDER
"""
from concurrent.futures import ThreadPoolExecutor
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time

from browser import Page
from checking import check, exit_status
from printing import check_print

import h5py
import numpy

# What each kind of report is printed on.
PRINTED = {"cell": ("letter",), "unbounded peak": ("A4",), "compared": ("A4",), "tolerances": ("letter",),
           "cold test": ("A4",), "ten dimensions": ("letter",)}

# What a report may weigh, and one of three modes: the limits that were asked for.
LARGEST_BYTES, LARGEST_OF_THREE_MODES = 5_000_000, 600_000

# Colours on the canvas of a plot: a blank one has one.
COLOURS = """(element => {
  const c = element.querySelector('canvas');
  const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
  const seen = new Set();
  for (let i = 0; i < d.length; i += 4)
    if (d[i + 3] > 200) seen.add((d[i] << 16) | (d[i + 1] << 8) | d[i + 2]);
  return seen.size;})"""

STRUCTURE = """(() => {
  const all = s => Array.from(document.querySelectorAll(s));
  const ids = all('[id]').map(e => e.id);
  return {wide: document.documentElement.scrollWidth - window.innerWidth,
    doubled: ids.filter((id, i) => ids.indexOf(id) !== i),
    dead: all('a[href^="#"]').filter(a => !document.getElementById(a.hash.slice(1)))
      .map(a => a.hash),
    tables: all('table:not(.u-legend)').filter(t => !t.caption || !t.tHead ||
      t.tHead.querySelectorAll('th[scope=col]').length === 0).length,
    rows: all('table:not(.u-legend) tbody tr').filter(r => !r.querySelector('th[scope=row]'))
      .length,
    pictures: all('svg.picture').filter(s => !s.querySelector('title') ||
      !s.querySelector('desc').textContent).length,
    plots: all('.plot').filter(p => !p.getAttribute('aria-label')).length,
    h1: all('h1').length, lang: document.documentElement.lang};})()"""


AXE = """axe.run({resultTypes: ['violations']}).then(result => ({passes: result.passes.length,
  found: result.violations.map(v => [v.id, v.help, v.nodes.length, v.nodes[0].html.slice(0, 200),
    v.nodes[0].failureSummary])}))"""


def hover(page, plot, legend):
    """Moves the pointer onto a plot until its legend changes: plots above it that are built meanwhile move it."""
    page.run(f"window.before = {legend}.innerText; 0")
    for _ in range(60):
        x, y = page.run(f"""(() => {{ {plot}.scrollIntoView({{block: 'center'}});
            const r = {plot}.querySelector('.u-over').getBoundingClientRect();
            return [r.x + r.width / 2 + 40, r.y + r.height / 2 + 10]; }})()""")
        page.hover(x, y)
        # The legend is emptied first; numbers come a moment later.
        if page.wait(f"{legend}.innerText !== window.before && /[0-9]/.test({legend}.innerText)", 1.0):
            return True
    return False


def check_plot(page, index, name):
    """Hovering, walking with keys and zooming change what is shown."""
    plot = f"document.querySelectorAll('.plot')[{index}]"
    page.run(f"{plot}.scrollIntoView({{block: 'center'}})")
    drawn = page.wait(f"{plot}.querySelector('canvas') !== null")
    check(drawn, f"{name}: the plot is drawn")
    if not drawn:
        return
    legend = f"{plot}.querySelector('.u-legend')"
    check(page.wait(f"{legend} && {legend}.querySelector('.u-value') !== null"),
          f"{name}: the plot has values")
    hovered = hover(page, plot, legend)
    check(hovered, f"{name}: hovering shows numbers: {page.run(legend + '.innerText')!r}")
    check(page.run(f"{COLOURS}({plot})") > 2, f"{name}: the plot is not blank")
    spoken = f"{plot}.parentNode.querySelector('[aria-live]').textContent"
    page.run(f"{plot}.focus()")
    page.key("ArrowRight")
    page.key("+")
    text = page.run(spoken)
    check(any(c.isdigit() for c in text), f"{name}: keys walk along the curve: {text!r}")


def check_structure(page, name):
    """What readers who do not see the page need, and that nothing sticks out of it."""
    facts = page.run(STRUCTURE)
    check(facts["wide"] <= 0, f"{name}: nothing is wider than the window ({facts['wide']} px)")
    check(not facts["doubled"], f"{name}: identifiers are unique {facts['doubled'][:5]}")
    check(not facts["dead"], f"{name}: links lead somewhere {facts['dead']}")
    check(facts["tables"] == 0 and facts["rows"] == 0, f"{name}: tables have captions and headings")
    check(facts["pictures"] == 0 and facts["plots"] == 0, f"{name}: pictures have texts")
    check(facts["h1"] == 1 and facts["lang"] == "en", f"{name}: one title, a language")


def check_quiet(page, name):
    """Nothing on the console, nothing asked of the network."""
    events = page.take_events("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled",
                              "Network.requestWillBeSent")
    requests = [event["params"]["request"]["url"] for event in events
                if event["method"] == "Network.requestWillBeSent"]
    requests = [url for url in requests if not url.startswith(("file:", "data:", "about:"))]
    check(not requests, f"{name}: no request {requests[:3]}")
    said = [event["params"] for event in events if event["method"] != "Network.requestWillBeSent"]
    said = [entry for entry in said if entry.get("entry", entry).get("level") != "verbose"]
    check(not said, f"{name}: nothing on the console {said[:3]}")


def check_access(page, name):
    """The rules of axe-core, in both themes: contrast, names, roles, landmarks, order of headings."""
    with open(os.environ["CAVUM_AXE"], encoding="utf-8") as file:
        page.run(file.read() + "; 0")
    for theme in ("light", "dark"):
        page.set_dark(theme == "dark")
        count = page.run(AXE)
        check(count["passes"] > 20, f"{name}, {theme}: axe-core tried its rules ({count['passes']} pass)")
        check(not count["found"], f"{name}, {theme}: axe-core finds nothing {count['found']}")
    page.set_dark(False)


def check_report(page, path, name, expected=()):
    """Loads a report and looks at it."""
    size = os.path.getsize(path)
    check(size < (LARGEST_OF_THREE_MODES if name == "cell" else LARGEST_BYTES), f"{name}: {size} bytes")
    page.load(path)
    check(page.wait("performance.getEntriesByType('paint').length > 0"), f"{name}: painted")
    paint = page.run("Math.max(...performance.getEntriesByType('paint').map(e => e.startTime))")
    # Two seconds are wanted on an idle machine; the time of a loaded one says nothing.
    print(f"{name}: first painted after {paint:.0f} ms")
    plots = page.run("document.querySelectorAll('.plot').length")
    for index in sorted({0, plots - 1}) if plots else []:
        check_plot(page, index, f"{name}, plot {index}")
    check_structure(page, name)
    text = page.run("document.body.textContent")
    for word in expected:
        check(word in text, f"{name}: says {word!r}")
    check_quiet(page, name)


def write_text(group, name, text):
    """Replaces a text dataset."""
    attributes = dict(group[name].attrs)
    del group[name]
    dataset = group.create_dataset(name, data=text, dtype=h5py.string_dtype())
    dataset.attrs.update(attributes)


def spoil(path):
    """A long title with letters that HTML knows, a mode that failed, figures that are absent."""
    title = "<script>alert(1)</script> & " + "A cell with a title that is much too long, " * 30
    with h5py.File(path, "r+") as file:
        write_text(file["input"], "title", title)
        file["modes/1/accuracy_reached"][()] = 0
        file["convergence/accuracy_reached"][()] = 0
        for name in ("r_over_q_linac_ohm", "epk_over_eacc", "eacc_at_1_J_V_per_m", "q0"):
            if name in file["modes/1/figures"]:
                del file["modes/1/figures"][name]


def enlarge(path, rows):
    """A scan with so many rows: the first ones and invented numbers around them."""
    generator = numpy.random.default_rng(7)
    with h5py.File(path, "r+") as file:
        for name in list(file["columns"]):
            old = file["columns"][name]
            attributes, values = dict(old.attrs), old[()]
            del file["columns"][name]
            wide = numpy.resize(values, rows)
            if values.dtype.kind == "f":
                spread = numpy.nanstd(values) if numpy.isfinite(values).any() else 0.0
                wide = wide + generator.normal(0.0, 1.0, rows) * spread
            if name == "shape":
                wide = numpy.arange(rows)
            new = file["columns"].create_dataset(name, data=wide.astype(values.dtype))
            new.attrs.update(attributes)


# Coarse, because it is about the page and not about the numbers.
MANY = "modes: {count: 20}\naccuracy: {frequency: 1.0e-3, other_figures: 3.0e-2}"

STUDY = """title: A small study of the mid-cell
cell: %s
vary:
  iris_ellipse.axial_mm: {from: 10.0, to: 13.0}
  iris_ellipse.radial_mm: {from: 15.0, to: 20.0}
sampling: {kind: sobol, points: 16}
aims: [epk_over_eacc, bpk_over_eacc_mT_per_MV_per_m, r_over_q_linac_ohm]
"""

# Ten dimensions, so many that their table has no room across a page of paper, and one that holds the frequency.
WIDE_STUDY = STUDY.replace("  iris_ellipse.axial_mm: {from: 10.0, to: 13.0}\n  iris_ellipse.radial_mm: "
                           "{from: 15.0, to: 20.0}\n", """\
  left.half_length_mm: {from: 66.5, to: 67.0}
  left.equator_ellipse.axial_mm: {from: 49.0, to: 51.0}
  left.equator_ellipse.radial_mm: {from: 53.0, to: 55.0}
  left.iris_ellipse.axial_mm: {from: 10.0, to: 13.0}
  left.iris_ellipse.radial_mm: {from: 15.0, to: 20.0}
  right.half_length_mm: {from: 66.5, to: 67.0}
  right.equator_ellipse.axial_mm: {from: 49.0, to: 51.0}
  right.equator_ellipse.radial_mm: {from: 53.0, to: 55.0}
  right.iris_ellipse.axial_mm: {from: 10.0, to: 13.0}
  right.iris_ellipse.radial_mm: {from: 15.0, to: 20.0}
""") + "hold: {frequency_MHz: 1120.0, by: equator_radius_mm}\n"

SHOP = "tolerances: {equator_radius_mm: {normal: 0.1}, iris_radius_mm: {normal: 0.05}}"


class Maker:
    """Makes files and their reports."""

    def __init__(self, program, demo_folder, folder):
        self.program, self.demo_folder, self.folder = program, demo_folder, folder

    def demo(self, *names):
        """A file of the demo folder."""
        return os.path.join(self.demo_folder, *names)

    def path(self, name):
        """A file of the temporary folder."""
        return os.path.join(self.folder, name)

    def run(self, *arguments):
        """The program; it may say that an accuracy was not reached."""
        done = subprocess.run((self.program,) + arguments, stdout=subprocess.DEVNULL, check=False)
        assert done.returncode in (0, 1), arguments

    def write(self, name, text):
        """An input file."""
        with open(self.path(name), "w", encoding="utf-8") as file:
            file.write(text)
        return self.path(name)

    def report(self, source, name=None):
        """The report of a file; how long it took is printed."""
        start = time.monotonic()
        path = self.path(name) if name else source + ".html"
        self.run("report", source, "-o", path)
        print(f"{os.path.basename(path)}: report in {time.monotonic() - start:.3f} s")
        return path


def make_files(maker):
    """Every kind of report, one after the other: file, name, what it must say."""
    maker.run("solve", maker.demo("injector-cell.yaml"), "-q", "-o", maker.path("cell.hdf"))
    yield (maker.report(maker.path("cell.hdf")), "cell",
           ("V\u00b2 / (\u03c9 U)", "Provenance", "residual_nohm", "accuracy asked for: reached"))
    maker.run("solve", maker.demo("mid-cell.yaml"), "--derivatives", "-q", "-o", maker.path("slopes.hdf"))
    yield maker.report(maker.path("slopes.hdf")), "derivatives", ("What each dimension does",)
    maker.run("solve", maker.demo("end-cell.yaml"), "-q", "-o", maker.path("sharp.hdf"))
    yield maker.report(maker.path("sharp.hdf")), "unbounded peak", (
        "unbounded", "sharp corner at", "where the field is unbounded", "\u00d710\u207b\u2076")
    maker.run("compare", maker.path("cell.hdf"), maker.path("sharp.hdf"), "-o", maker.path("both.html"))
    yield maker.path("both.html"), "compared", ("Inputs that differ", "unit, remark")
    maker.run("tolerances", maker.demo("mid-cell.yaml"), "--from", maker.write("shop.yaml", SHOP), "-q", "--samples",
              "0", "-o", maker.path("spread.hdf"))
    yield maker.report(maker.path("spread.hdf")), "tolerances", ("equator radius",)
    spoil(maker.path("cell.hdf"))
    yield (maker.report(maker.path("cell.hdf"), "spoilt.html"), "long title, failed mode",
           ("not reached", "Not there for this mode", "<script>alert(1)</script>"))
    with open(maker.demo("end-cell.yaml"), encoding="utf-8") as file:
        many = maker.write("many.yaml", file.read().replace("modes: {count: 2}", MANY))
    maker.run("solve", many, "-q", "-o", maker.path("many.hdf"))
    yield maker.report(maker.path("many.hdf")), "20 modes", ("Mode 20",)
    maker.run("coldtest", maker.demo("coldtest", "injector-test.yaml"), "-o", maker.path("test.hdf"))
    yield maker.report(maker.path("test.hdf")), "cold test", ("X-ray", "k = 1", "Read with care")
    maker.run("scan", maker.write("study.yaml", STUDY % maker.demo("mid-cell.yaml")), "-q", "-o",
              maker.path("scan.hdf"))
    yield maker.report(maker.path("scan.hdf")), "scan", ("16", "in all three figures of the plot")
    maker.run("scan", maker.write("wide.yaml", WIDE_STUDY % maker.demo("mid-cell.yaml")), "-q", "-o",
              maker.path("wide.hdf"))
    yield maker.report(maker.path("wide.hdf")), "ten dimensions", ("contour.equator_radius_mm", "right.")
    shutil.copy(maker.path("wide.hdf"), maker.path("large.hdf"))
    enlarge(maker.path("large.hdf"), 100_000)
    yield maker.report(maker.path("large.hdf")), "scan of 100 000 rows", ("100000",)


def luminance(colour):
    """Relative luminance of sRGB, three numbers to 255 (Web Content Accessibility Guidelines 2.2)."""
    parts = [c / 255 for c in colour]
    parts = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one, other):
    low, high = sorted((luminance(one) + 0.05, luminance(other) + 0.05))
    return high / low


def set_theme(page, theme, name):
    """Turns to a theme; the plot is drawn anew some time later, and its scale after it."""
    page.set_dark(theme == 1)
    first = page.run(f"JSON.parse(document.getElementById('plot-data').textContent)[0].palettes[{theme}][0]")
    colour = ", ".join(str(n) for n in bytes.fromhex(first[1:]))
    check(page.wait(f"document.querySelector('.colours .bar') && "
                    f"document.querySelector('.colours .bar').style.background.includes('({colour})') && "
                    f"document.querySelector('.plot canvas').width > 0"),
          f"{name}, theme {theme}: the scale on the page has the colours of the points")


def check_points(page, name):
    """Each colour of the points stands out from the page, in both themes; and it is the one on the canvas."""
    for theme in (0, 1):
        set_theme(page, theme, name)
        facts = page.run(f"""(() => {{
            const plot = JSON.parse(document.getElementById('plot-data').textContent)[0];
            const c = document.querySelector('.plot canvas'), seen = {{}};
            const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
            for (let i = 0; i < d.length; i += 4)
              seen['#' + [0, 1, 2].map(k => d[i + k].toString(16).padStart(2, '0')).join('')] = true;
            return {{page: getComputedStyle(document.body).backgroundColor, colours: plot.palettes[{theme}],
              drawn: plot.palettes[{theme}].filter(p => seen[p]).length}}; }})()""")
        background = [int(n) for n in re.findall(r"\d+", facts["page"])[:3]]
        least = min(contrast(bytes.fromhex(c[1:]), background) for c in facts["colours"])
        check(least >= 3.0, f"{name}, theme {theme}: contrast of points is {least:.2f} or more")
        check(facts["drawn"] > len(facts["colours"]) // 2,
              f"{name}, theme {theme}: {facts['drawn']} of its colours are drawn")
    set_theme(page, 0, name)


def check_shape(page, name, source):
    """The box at the pointer has the number and the dimensions of a shape as the file has them."""
    page.run("document.querySelector('.plot').scrollIntoView({block: 'center'})")
    over = page.run("(r => [r.x, r.y, r.width, r.height])"
                    "(document.querySelector('.u-over').getBoundingClientRect())")
    box = "document.querySelector('.shape-box')"
    for step in range(60):
        page.hover(over[0] + over[2] / 3 + step % 2, over[1] + over[3] / 3)
        if page.wait(f"{box} && !{box}.hidden", 1.0):
            break
    check(step < 59, f"{name}: a box at the pointer")
    words = page.run(f"Array.from({box}.children).map(e => e.textContent)")
    inside = page.run(f"(r => r.left >= {over[0]} && r.right <= {over[0] + over[2]} + 1)"
                      f"({box}.getBoundingClientRect())")
    check(inside, f"{name}: the box is within the plot")
    shape = int(words[0].removeprefix("shape "))
    with h5py.File(source, "r") as file:
        keys = [key for key in file["columns"] if "." in key]
        wanted = {key: float(file["columns"][key][shape]) for key in keys}
        ranges = {key: float(numpy.ptp(file["columns"][key][()])) for key in keys}
        many = len(keys) * len(file["columns"][keys[0]]) > 200_000
    shown = {key: float(value.replace("\u2212", "-")) for key, value in zip(words[1::2], words[2::2])}
    check(sorted(shown) == sorted(wanted), f"{name}: dimensions {sorted(shown)}")
    # Six digits; of many shapes five, and half a 65534th of their range.
    off = max((abs(shown[key] - wanted[key]) / (5e-5 * abs(wanted[key]) + ranges[key] / 131068 if many
                                                else 1e-5 * abs(wanted[key])) for key in wanted), default=2.0)
    check(off <= 1.01, f"{name}: dimensions of shape {shape} are those of the file, off by {off:.2f} of what digits leave")


# Texts of each still picture of a plot, but for numbers at its axes, and what the plot to hover has instead.
TEXTS = """Array.from(document.querySelectorAll('figure.scripted')).map(figure => ({
  still: Array.from(figure.querySelectorAll('.still text')).map(t => t.textContent),
  labels: JSON.parse(document.getElementById('plot-data').textContent)
    .filter(p => p.id === figure.querySelector('.plot').id).map(p => [p.xLabel, p.yLabel]
      .concat(p.lines.map(l => l.label + ' in ' + l.unit), (p.guides || []).map(g => g.end), (p.uprights || []).map(u => u.letter)).join(' ')).join(' '),
  shown: figure.innerText}))"""


NEVER_STARTED = ("<head><script>window.IntersectionObserver = class {observe() {} unobserve() {}};"
                 "window.requestIdleCallback = () => {};</script>")


def check_still(page, path, name):
    """Before a plot is drawn its still picture is there: a page that is drawn late is not blank."""
    with open(path, encoding="utf-8") as file:
        text = file.read()
    check("<head>" in text, f"{name}: has a head")
    late = path.removesuffix(".html") + ".late.html"
    with open(late, "w", encoding="utf-8") as file:
        file.write(text.replace("<head>", NEVER_STARTED, 1))
    page.load(late)
    heights = page.run("Array.from(document.querySelectorAll('.still')).map(e => e.getBoundingClientRect().height)")
    check(heights and min(heights) > 100, f"{name}: still pictures before the plots are drawn, heights {heights}")
    check(page.run("document.querySelectorAll('canvas').length") == 0, f"{name}: no plot is drawn there")


def check_legends(page, name):
    """What the still pictures say in their keys, at their lines and axes, the plots to hover say as well; a still
    picture of two fields is two plots."""
    check(page.wait("document.querySelectorAll('figure.scripted .plot').length === "
                    "document.querySelectorAll('.plot').length"), f"{name}: all plots are drawn")
    def letters(text):
        return re.sub(r"\W|_", "", text.replace("\u2080", "0").replace("(outside)", ""))

    page.wait("Array.from(document.querySelectorAll('.plot')).every(p => p.querySelector('canvas'))")
    plots = page.run(TEXTS)
    for number, texts in enumerate(plots):
        said = "".join(letters(plot["shown"] + plot["labels"]) for plot in plots[number:number + 2])
        still = [letters(text) for text in texts["still"]]
        lost = [text for text in still if re.search("[A-Za-z]{2}", text) and text not in said]
        check(not lost, f"{name}, plot {number}: has what its still picture of {len(still)} texts has {lost}")


# Keeps the texts that are written to each canvas and end at their place, as numbers at upright axes do.
WRITTEN_TEXTS = """<head><script>
const write = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
  if (this.textAlign === 'right') (this.canvas.written ||= new Set()).add(text);
  return write.apply(this, arguments);
};</script>"""
# Numbers at the upright axes of logarithmic plots.
UPRIGHT_NUMBERS = """JSON.parse(document.getElementById('plot-data').textContent).filter(p => p.log).map(p => {
  const canvas = document.getElementById(p.id).querySelector('canvas');
  return [p.yLabel, Array.from(canvas.written || []).filter(text => /^[0-9.]/.test(text))];
})"""


def check_axes(page, path, name):
    """At 800 pixels a logarithmic axis has three numbers, also where it is part of a decade."""
    with open(path, encoding="utf-8") as file:
        text = file.read()
    written = path.removesuffix(".html") + ".written.html"
    page.set_size(800, 1000)
    for ends in (None, [1.1e10, 1.8e10], [2.1e10, 3.9e10], [4.5e10, 6.5e10], [0.9e10, 1.9e10], [1e9, 1.7e11]):
        def narrow(found, ends=ends):
            plots = json.loads(found[2])
            for plot in plots:
                if plot.get("log") and ends:
                    plot["yRange"] = ends
            return found[1] + json.dumps(plots) + found[3]
        changed, count = re.subn(r'(<script[^>]*id="plot-data"[^>]*>)(.*?)(</script>)', narrow, text, count=1, flags=re.S)
        check(count == 1, f"{name}: has the data of its plots")
        with open(written, "w", encoding="utf-8") as file:
            file.write(changed.replace("<head>", WRITTEN_TEXTS, 1))
        page.load(written)
        page.wait("Array.from(document.querySelectorAll('.plot')).every(p => p.querySelector('canvas'))")
        axes = page.run(UPRIGHT_NUMBERS)
        check(axes, f"{name}: has logarithmic plots")
        for label, numbers in axes:
            check(len(set(numbers)) >= 3, f"{name}, 800 pixels, {ends or 'all'}: three numbers at {label} {numbers}")
    page.call("Emulation.clearDeviceMetricsOverride")


def check_phone(page, path, name):
    """At 390 pixels nothing is cut: no number or unit leaves the frame of its table, but for long checksums."""
    page.set_size(390, 800, True)
    page.load(path)
    cut = page.run("""Array.from(document.querySelectorAll('.scroll')).flatMap(frame => {
      const right = frame.getBoundingClientRect().right + 1;
      return Array.from(frame.querySelectorAll('td, tbody th')).filter(cell => {
        const range = document.createRange();
        range.selectNodeContents(cell);
        return range.getBoundingClientRect().right > right && !/^[0-9a-f]{64}$/.test(cell.textContent);
      }).map(cell => cell.innerText.slice(0, 60));
    })""")
    check(not cut, f"{name}, phone: nothing is cut {cut[:5]}")
    wide = page.run("document.documentElement.scrollWidth")
    check(wide <= 390, f"{name}, phone: {wide} pixels wide")
    bare = page.run("""Array.from(document.querySelectorAll('.wide td:not(.definition)')).filter(td =>
      getComputedStyle(td, '::before').content !== 'none').length""")
    check(bare == 0, f"{name}, phone: headings of columns stand at their values as they are set ({bare} do not)")
    hollow = page.run("""Array.from(document.querySelectorAll('.wide td')).filter(td => {
      const label = td.querySelector('.label');
      return getComputedStyle(td).display !== 'none' && td.textContent === (label ? label.textContent : '');
    }).length""")
    check(hollow == 0, f"{name}, phone: no heading of a column stands before nothing ({hollow} do)")
    # Only the figures of a mode have their own lines: in tables with headings at each value a value is a line.
    crowded = page.run("""Array.from(document.querySelectorAll('.wide tbody tr, .u-legend tr')).filter(tr =>
      getComputedStyle(tr).display === 'grid').length""")
    check(crowded == 0, f"{name}, phone: values with their headings stand below each other ({crowded} rows do not)")
    # Keys of a section that a phone shows whole are shown whole, too.
    far = page.run("""Array.from(document.querySelectorAll('.pan > .picture')).filter(svg =>
      svg.querySelector('desc').textContent.startsWith('Section')).flatMap(svg => {
        const right = svg.parentElement.getBoundingClientRect().right + 1;
        const texts = Array.from(svg.querySelectorAll('text'));
        const ends = t => t.getBoundingClientRect().right;
        const isKey = t => /\\s=\\s|metal wall|electric field line|plane$/.test(t.textContent);
        if (texts.some(t => !isKey(t) && ends(t) > right)) return [];
        return texts.filter(t => ends(t) > right).map(t => t.textContent);
      })""")
    check(not far, f"{name}, phone: keys of a section are seen without scrolling {far}")
    nameless = page.run("""Array.from(document.querySelectorAll('.wide tbody th.number')).filter(th =>
      !th.querySelector('.label') && getComputedStyle(th, '::before').content === 'none').length""")
    check(nameless == 0, f"{name}, phone: numbers that begin a row say what they are ({nameless} do not)")
    # A long entry of a legend breaks as text does: neither its mark nor the colon behind it stands on a line alone.
    page.wait("Array.from(document.querySelectorAll('.plot')).every(p => p.querySelector('canvas'))")
    lonely = page.run("""Array.from(document.querySelectorAll('.u-legend tr:not(.nameless) th')).filter(th => {
      const range = document.createRange();
      range.selectNodeContents(th.querySelector('.u-label'));
      const lines = Array.from(range.getClientRects()), frame = th.getBoundingClientRect();
      const first = Math.min(...lines.map(l => l.top)), last = Math.max(...lines.map(l => l.bottom));
      return frame.height > 0 && (first - frame.top > 12 || frame.bottom - last > 12);
    }).map(th => th.textContent)""")
    check(not lonely, f"{name}, phone: nothing of a legend stands alone on a line {lonely}")
    page.call("Emulation.clearDeviceMetricsOverride")


def check_pinch(page, path, name):
    """Two fingers that go apart zoom a plot, as is promised below it."""
    page.set_size(390, 800, True)
    page.call("Emulation.setTouchEmulationEnabled", enabled=True, maxTouchPoints=2)
    page.load(path)
    page.wait("Array.from(document.querySelectorAll('.plot')).every(p => p.querySelector('canvas'))")
    x, y = page.run("""new Promise(resolve => {
      const over = document.querySelector('.plot .u-over');
      over.scrollIntoView({block: 'center', behavior: 'instant'});
      requestAnimationFrame(() => requestAnimationFrame(() => {
        const r = over.getBoundingClientRect();
        resolve([r.left + r.width / 2, r.top + r.height / 2]);
      }));
    })""")
    canvas = "document.querySelector('.plot canvas').toDataURL()"
    before = page.run(canvas)
    for kind, half in (("touchStart", 20), ("touchMove", 50), ("touchMove", 90), ("touchEnd", None)):
        points = [{"x": x + side * half, "y": y, "id": side + 2} for side in (-1, 1)] if half else []
        page.call("Input.dispatchTouchEvent", type=kind, touchPoints=points)
    check(page.wait(f"{canvas} !== {before!r}", 10.0), f"{name}, phone: two fingers zoom")
    page.call("Emulation.setTouchEmulationEnabled", enabled=False)
    page.call("Emulation.clearDeviceMetricsOverride")


# The middle of the line of one colour in each column of pixels within the axes, in CSS pixels; null where there is none.
LINE = """(() => {
  const c = document.querySelector('.plot canvas'), r = devicePixelRatio, plot = JSON.parse(
    document.getElementById('plot-data').textContent)[0], name = plot.lines[0].ink;
  const wanted = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const [red, green, blue] = [1, 3, 5].map(i => parseInt(wanted.slice(i, i + 2), 16));
  const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data, line = [];
  for (let x = 0; x < c.width; x++) {
    let sum = 0, weight = 0;
    for (let y = 0; y < c.height; y++) {
      const i = 4 * (y * c.width + x), off = Math.abs(d[i] - red) + Math.abs(d[i + 1] - green) + Math.abs(d[i + 2] - blue);
      const w = d[i + 3] / 255 * Math.max(0, 1 - off / 150);
      sum += w * y; weight += w;
    }
    line.push(weight > .5 ? sum / weight / r : null);
  }
  return line;
})()"""


def check_zoom(page, path, name):
    """A curve that is zoomed until six of its points or fewer are left is bent everywhere a little, and not at these
    points alone. A piece of a fifteenth of the width has a fifteenth of the whole turn where the line is evenly bent, at
    least a seventh of it where it is a polygon of that few points: the limit is between both."""
    page.load(path)
    page.wait("document.querySelector('.plot canvas')")
    page.run("document.querySelector('.plot').scrollIntoView({block: 'center'}); document.querySelector('.plot').focus()")
    facts = page.run("""(() => {
      const plot = JSON.parse(document.getElementById('plot-data').textContent)[0];
      const size = plot.lines[0].y.map(y => y === null ? -Infinity : Math.abs(y));
      return [plot.x, size.indexOf(Math.max(...size.slice(10, -10)))];})()""")
    x, top = numpy.array(facts[0]), facts[1]
    # To the maximum by keys, then closer until six points or so are left.
    page.key("Home")
    page.run(f"""for (let i = 0; i < {top}; i++)
      document.querySelector('.plot').dispatchEvent(new KeyboardEvent('keydown', {{key: 'ArrowRight', bubbles: true}}))""")
    spacing = numpy.diff(x[max(0, top - 3):top + 4]).max()
    times = int(numpy.ceil(numpy.log2((x[-1] - x[0]) / (6 * spacing))))
    for _ in range(times):
        page.key("+")
    page.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    line = page.run(LINE)
    columns = [i for i, y in enumerate(line) if y is not None]
    y = numpy.array([line[i] for i in columns[20:-20]])
    width, reach = len(y), max(4, len(y) // 60)
    # Directions along pieces of a thirtieth, and how much they turn from each to the next one.
    slope = numpy.arctan((y[2 * reach::reach] - y[:-2 * reach:reach]) / (2.0 * reach))
    turn = numpy.abs(slope[2:] - slope[:-2])
    whole = numpy.abs(numpy.diff(slope)).sum()
    check(width > 200 and whole > 0.3, f"{name}: a line of {width} columns that turns by {whole:.2f} when zoomed {times} times")
    check(turn.max() < 0.11 * whole, f"{name}: zoomed, it turns smoothly: {turn.max() / whole:.3f} of it at one place")


def check_rows(page, name):
    """The readings of a test have a line each: no text of a cell makes rows higher."""
    high = page.run("""Array.from(document.querySelectorAll('table')).filter(t => t.caption &&
      t.caption.textContent === 'Results of the readings').flatMap(t => Array.from(t.tBodies[0].rows)).map(r =>
      r.getBoundingClientRect().height / parseFloat(getComputedStyle(r).lineHeight))""")
    check(high and max(high) < 2.0, f"{name}: {len(high)} rows, the highest of {max(high):.2f} lines")


def check_dark(page, path):
    """The same for readers who prefer it dark."""
    page.set_dark(True)
    check_report(page, path, "dark")
    background = page.run("getComputedStyle(document.body).backgroundColor")
    check(background == "rgb(21, 24, 28)", f"dark: background {background}")
    page.set_dark(False)


def main():
    program, demo_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(1) as making:
        maker = Maker(program, demo_folder, folder)
        files = make_files(maker)
        coming = making.submit(next, files, None)
        with Page() as page:
            while coming.result():
                path, name, expected = coming.result()
                coming = making.submit(next, files, None)
                check_report(page, path, name, expected)
                if name in PRINTED:
                    check_print(page, name, PRINTED[name])
                if name in ("cell", "cold test", "scan"):
                    check_access(page, name)
                if name in ("cell", "derivatives", "cold test", "scan", "ten dimensions"):
                    check_phone(page, path, name)
                    page.load(path)
                if name in ("cell", "cold test"):
                    check_legends(page, name)
                if name == "cell":
                    check_zoom(page, path, name)
                    check_pinch(page, path, name)
                if name == "cold test":
                    check_axes(page, path, name)
                    page.load(path)
                    check_rows(page, name)
                    check_still(page, path, name)
                if name.startswith("scan"):
                    check_points(page, name)
                    check_shape(page, name, path.removesuffix(".html"))
            check_dark(page, maker.path("sharp.hdf.html"))
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
