# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures and report of a cold test show all that was evaluated: read as text, view by view.

Usage: check_coldtest_pictures.py PROGRAM CELLS_FOLDER
"""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree

from checking import check, exit_status
from coldtest_maker import GRADIENTS, make_test

program = str(pathlib.Path(sys.argv[1]).resolve())
SVG = "{http://www.w3.org/2000/svg}"

# What each view says, beside its axes.
VIEWS = {
    "quality": ("Q0", "first: by pickup, 2.00 K", "first: by decay time",
                "after (20 K): by pickup",
                "cold box, 4.2 W with 1.4 W of static heat", "along a recorded decay", "predicted for 1.7 K",
                "95 % interval of Q0 by Monte Carlo", "critical field of the wall, 22 MV/m",
                "amplifier, forward power 3 W", "bath, dissipated power 2.5 W", "far away, 400 MV/m (outside)",
                "the test ended: quench at 18.5 MV/m", "constant dissipated power"),
    "loaded": ("QL", "external quality factor Qe"),
    "radiation": ("dose rate as read", "readings of zero"),
    "resistance": ("readings", "predicted", "Rres", "its first term"),
    "field": ("BCS, mean over the wall", "residual, mean over the wall", "B in mT"),
    "frequency": ("df/dp =", "df/d(Eacc2)", "Hz/(MV/m)2", "bath pressure in mbar", "f\u2080 = 650.2"),
    "traces": ("one exponential, energy decay time", "residual of Pt in %", "fall.csv", "samples"),
    "budget": ("share of the variance in %",),
}


def run(*command):
    """Runs the program; what it writes is shown when it fails."""
    done = subprocess.run((program,) + command, capture_output=True, text=True, check=False)
    check(done.returncode == 0, f"{command[0]} ends well {done.stderr}")
    return done.stdout


def read_svg(path):
    """Its texts in one, and how many shapes are drawn."""
    root = tree.parse(path).getroot()
    texts = ["".join(node.itertext()) for node in root.iter(SVG + "text")]
    shapes = [node for kind in ("path", "use", "circle", "rect") for node in root.iter(SVG + kind)]
    width, height = (float(root.get(name).rstrip("pt")) for name in ("width", "height"))
    return "\n".join(texts).replace("\u00a0", " "), len(shapes), width, height


def plots_of(html):
    """The data of the plots in a report, by label of the vertical axis."""
    data = re.search(r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', html, re.S)
    plots = json.loads(data.group(1))
    return plots if isinstance(plots, list) else plots["plots"]


def check_views(result, folder):
    """Every view by its words; the sheet has all of them."""
    sheet = folder / "sheet.svg"
    run("draw", str(result), "-o", str(sheet))
    whole, _, width, height = read_svg(sheet)
    for view, words in VIEWS.items():
        path = folder / f"{view}.svg"
        run("draw", str(result), "--view", view, "-o", str(path))
        text, _, _, _ = read_svg(path)
        for word in words:
            check(word in text, f"{view}.svg says '{word}'")
            check(word in whole, f"the sheet says '{word}'")
        check("nan" not in text and "inf" not in text, f"{view}.svg has numbers only")
    check(width == 820 and height > 1500, f"the sheet is {width} x {height}")
    slide = folder / "slide.svg"
    run("draw", str(result), "-o", str(slide), "--size", "slide")
    svg = slide.read_text(encoding="utf-8")
    scale = float(re.search(r' width="([\d.]+)pt"', svg)[1]) / float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
    # Numbers are drawn 9.5 points high; on a slide, 960 points wide, they are no smaller than in a journal.
    check(9.5 * scale >= 7.6, f"numbers on a slide are {9.5 * scale:.1f} points high")


def check_report(result, folder):
    """Tables and plots of the report against the JSON of the same test."""
    page = folder / "page.html"
    run("report", str(result), "-o", str(page))
    html = page.read_text()
    for word in ("critical field of the wall", "Predicted from the fit of R_s", "Along the decay",
                 "Surface resistance against field", "Frequency against field and bath pressure",
                 "Shortest 95 % intervals by Monte Carlo", "the test ended: quench at 18.5 MV/m",
                 "calibration,", "Runs. Errors that all readings share", "after {20 K}", "heat to the bath 4.2 W"):
        check(word in html.replace("\u00a0", " "), f"the report says '{word}'")
    plots = {plot["yLabel"] + " over " + plot["xName"]: plot for plot in plots_of(html)}
    # Marks of subscripts are those that the page sets.
    for name in ("Q_{0} over E_acc", "Q_{L} over E_acc", "R_{s} in nΩ over 1/T", "R_{s} in nΩ over B",
                 "P_{t} in mW over t", "residual of P_{t} in % over t", "dose rate in µSv/h over E_acc",
                 "f − f_{0} in Hz over E_acc²", "f − f_{0} in Hz over p"):
        check(name in plots, f"the report plots {name}: {sorted(plots)}")
    quality = plots["Q_{0} over E_acc"]
    lines = {line["label"]: [y for y in line["y"] if y is not None] for line in quality["lines"]}
    by_pickup = (lines["first: by pickup, 2.00 K"] +
                 lines["after (20 K): by pickup, 2.00 K"])
    check(len(by_pickup) >= len(GRADIENTS), "all readings are in the plot")
    check(len(lines["along a recorded decay"]) == 8, "and the eight windows of the decay")
    check(any(label.startswith("amplifier") for label in lines), "and the amplifier")
    check(any(abs(line["at"] - 22.0) < 1e-6 for line in quality["uprights"]), "and the critical field")


def check_plan(test, folder):
    """A plan is drawn and reported: table in meter units, limits, uncertainties, decay time."""
    plan, page, text = folder / "plan.hdf", folder / "plan.html", folder / "plan.json"
    run("coldtest", "--plan", str(test), "-q", "-o", str(plan), "--json", str(text))
    plans = json.loads(text.read_text())["plans"]
    run("report", str(plan), "-o", str(page))
    html = page.read_text()
    for view in ("sheet", "plan"):
        path = folder / f"plan-{view}.svg"
        run("draw", str(plan), "--view", view, "-o", str(path))
        words, _, _, _ = read_svg(path)
        for row in plans:
            for meter in ("forward", "reflected", "transmitted", "emitted"):
                dbm = f"{10 * math.log10(1e3 * row[meter + '_meter_W']):.2f}".replace("-", "−")
                check(dbm in words, f"{path.name} has {meter} {dbm} dBm")
                check(dbm in html, f"plan.html has {meter} {dbm} dBm")
            decay = f"{row['decay_time_energy_s']:.3g}"
            check(decay in words, f"{path.name} has the decay time {decay} s")
        for word in ("amplifier, forward power 3 W", "critical field of the wall, 22 MV/m",
                     "above amplifier", "amplifier, 3 W", "bath, 2.5 W",
                     "cold box, 2.8 W beside the static heat", "dissipated power", "u(Eacc)",
                     "calibration of the pickup", "2.5×1010", "plan of a cold test, 8 states", "meter in dBm"):
            check(word in words, f"{path.name} says '{word}'")
        check("nan" not in words, f"{path.name} has numbers only")
    shares = [share for row in plans for share in row["limit_shares"]]
    for share in shares:
        check(f"{100 * share:.1f} %" in html, f"plan.html has the share {share}")
    for word in ("Plan of a cold test", "decay time", ">pickup<", "of the variance)", "above it"):
        check(word in html, f"plan.html says '{word}'")
    plots = {plot["yLabel"] + " over " + plot["xName"] for plot in plots_of(html)}
    check({"Q_{0} over E_acc", "meter in dBm over E_acc", "P in W over E_acc", "u in % over E_acc",
           "decay time in s over Q0"} <= plots, f"plan.html has the plots: {sorted(plots)}")
    check("Readings</a>" not in html, "a plan has no readings")


def check_misfit(test, folder):
    """Radiation that no line of one emitter follows: screen, JSON, picture and report say so."""
    text = test.read_text()
    dose = "radiation: {reading_uncertainty_percent: 5, reading_uncertainty_uSv_per_h: 0.002}\n"
    wrong, words = folder / "misfit.yaml", "one Fowler-Nordheim line does not fit"
    wrong.write_text(text.replace("readings.csv", "misfit.csv") + dose + "field_emission: {}\n")
    rows = (folder / "readings.csv").read_text().splitlines()
    column = rows[0].split(",").index("radiation_uSv_per_h")
    for index in range(4, len(rows)):
        cells = rows[index].split(",")
        cells[column] = f"{0.1 + float(cells[column]) * (40.0 if index % 2 else 1.0):.4f}"
        rows[index] = ",".join(cells)
    (folder / "misfit.csv").write_text("\n".join(rows) + "\n")
    result, sheet, page = folder / "misfit.hdf", folder / "misfit.svg", folder / "misfit.html"
    screen = run("coldtest", str(wrong), "--linear", "-o", str(result), "--json", str(folder / "misfit.json"))
    run("draw", str(result), "--view", "radiation", "-o", str(sheet))
    run("report", str(result), "-o", str(page))
    check(words in screen, "the screen says that the line does not fit")
    check(words in json.loads((folder / "misfit.json").read_text())["field_emission"]["caution"], "JSON, too")
    check("The line does not fit the readings" in read_svg(sheet)[0].replace("\n", " "), "and the picture")
    check(words in page.read_text(), "and the report")


with tempfile.TemporaryDirectory() as name:
    work = pathlib.Path(name)
    file = work / "t.hdf"
    run("coldtest", str(make_test(work)), "-q", "-o", str(file))
    check_plan(work / "everything.yaml", work)
    check_views(file, work)
    check_report(file, work)
    check_misfit(work / "everything.yaml", work)
sys.exit(exit_status())
