#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reports in a real browser: Chromium loads them without an error or a request, plots answer to the
pointer and to keys, nothing is blank or wider than the window; also with a long title, a mode that
failed, absent figures, an unbounded peak, 20 modes and a scan of 100 000 rows.

Usage: check_report.py PROGRAM CELLS_FOLDER
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time

from checking import check, exit_status

import h5py
import numpy
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
if not BROWSER or not DRIVER:
    sys.exit("chromium and chromium-driver are needed: scripts/install-packages installs them")

# What a report may weigh: the limit that was asked for.
LARGEST_BYTES = 5_000_000


def start_browser(dark=False):
    """Chromium without a window, writing down what it asks the network for."""
    options = Options()
    options.binary_location = BROWSER
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                     "--window-size=1200,1000", "--force-device-scale-factor=1"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(service=Service(DRIVER), options=options)
    if dark:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia",
                               {"features": [{"name": "prefers-color-scheme", "value": "dark"}]})
    return driver


def requests_of(driver):
    """Addresses that the page asked for, but for itself and what it carries inside."""
    addresses = []
    for entry in driver.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            addresses.append(message["params"]["request"]["url"])
    return [url for url in addresses if not url.startswith(("file:", "data:", "about:"))]


def wait_for(driver, script, *arguments):
    """True once a script says so; a loaded machine gets time."""
    for _ in range(3000):
        if driver.execute_script(script, *arguments):
            return True
        time.sleep(0.1)
    return False


def distinct_colours(driver, element):
    """Colours on the canvas of a plot: a blank one has one."""
    return driver.execute_script(
        """const c = arguments[0].querySelector('canvas');
           const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
           const seen = new Set();
           for (let i = 0; i < d.length; i += 4)
             if (d[i + 3] > 200) seen.add((d[i] << 16) | (d[i + 1] << 8) | d[i + 2]);
           return seen.size;""", element)


def check_plot(driver, element, name):
    """Hovering, walking with keys and zooming change what is shown."""
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
    drawn = wait_for(driver, "return arguments[0].querySelector('canvas') !== null", element)
    check(drawn, f"{name}: the plot is drawn")
    if not drawn:
        return
    check(wait_for(driver, "return arguments[0].querySelector('.u-legend .u-value') !== null",
                   element), f"{name}: the plot has values")
    legend = element.find_element(By.CLASS_NAME, "u-legend")
    before = legend.text
    over = element.find_element(By.CLASS_NAME, "u-over")
    ActionChains(driver).move_to_element_with_offset(over, 40, 10).perform()
    # The legend is emptied first; numbers come a moment later.
    hovered = wait_for(driver, "return arguments[0].innerText !== arguments[1] && "
                       "/[0-9]/.test(arguments[0].innerText)", legend, before)
    check(hovered, f"{name}: hovering shows values: {legend.text!r}")
    check(any(c.isdigit() for c in legend.text), f"{name}: they are numbers")
    check(distinct_colours(driver, element) > 2, f"{name}: the plot is not blank")
    element.send_keys(Keys.ARROW_RIGHT)
    element.send_keys("+")
    spoken = element.find_element(By.XPATH, "..").find_element(By.CSS_SELECTOR, "[aria-live]")
    check(any(c.isdigit() for c in spoken.get_attribute("textContent")),
          f"{name}: keys walk along the curve: {spoken.get_attribute('textContent')!r}")


def check_structure(driver, name):
    """What readers who do not see the page need, and that nothing sticks out of it."""
    facts = driver.execute_script("""
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
          h1: all('h1').length, lang: document.documentElement.lang};""")
    check(facts["wide"] <= 0, f"{name}: nothing is wider than the window ({facts['wide']} px)")
    check(not facts["doubled"], f"{name}: identifiers are unique {facts['doubled'][:5]}")
    check(not facts["dead"], f"{name}: links lead somewhere {facts['dead']}")
    check(facts["tables"] == 0 and facts["rows"] == 0, f"{name}: tables have captions and headings")
    check(facts["pictures"] == 0 and facts["plots"] == 0, f"{name}: pictures have texts")
    check(facts["h1"] == 1 and facts["lang"] == "en", f"{name}: one title, a language")


def check_report(driver, path, name, expected=()):
    """Loads a report and looks at it."""
    size = os.path.getsize(path)
    check(size < LARGEST_BYTES, f"{name}: {size} bytes")
    driver.get_log("browser")
    driver.get_log("performance")
    driver.get("file://" + path)
    wait_for(driver, "return performance.getEntriesByType('paint').length > 0")
    paint = driver.execute_script(
        "return Math.max(...performance.getEntriesByType('paint').map(e => e.startTime))")
    # Two seconds are wanted on an idle machine; the time of a loaded one says nothing.
    check(paint > 0.0, f"{name}: painted, first after {paint:.0f} ms")
    plots = driver.find_elements(By.CSS_SELECTOR, ".plot")
    for index in sorted({0, len(plots) - 1}) if plots else []:
        check_plot(driver, plots[index], f"{name}, plot {index}")
    check_structure(driver, name)
    text = driver.find_element(By.TAG_NAME, "body").get_attribute("textContent")
    for word in expected:
        check(word in text, f"{name}: says {word!r}")
    errors = [entry["message"] for entry in driver.get_log("browser") if entry["level"] != "DEBUG"]
    check(not errors, f"{name}: nothing on the console {errors[:3]}")
    requests = requests_of(driver)
    check(not requests, f"{name}: no request {requests[:3]}")
    pdf = driver.execute_cdp_cmd("Page.printToPDF", {"printBackground": False})
    check(len(pdf["data"]) > 20_000, f"{name}: prints to PDF")


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
"""


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

    def report(self, source):
        """The report of a file; how long it took is printed."""
        start = time.monotonic()
        self.run("report", source, "-o", source + ".html")
        print(f"{os.path.basename(source)}: report in {time.monotonic() - start:.3f} s")
        return source + ".html"


def check_all(driver, maker):
    """Every kind of report."""
    maker.run("solve", maker.demo("injector-cell.yaml"), "-q", "-o", maker.path("cell.hdf"))
    check_report(driver, maker.report(maker.path("cell.hdf")), "cell",
                 ("V^2 / (w U)", "Provenance", "residual_nohm", "accuracy asked for: reached"))
    maker.run("solve", maker.demo("end-cell.yaml"), "-q", "-o", maker.path("sharp.hdf"))
    check_report(driver, maker.report(maker.path("sharp.hdf")), "unbounded peak", ("unbounded",))
    spoil(maker.path("cell.hdf"))
    check_report(driver, maker.report(maker.path("cell.hdf")), "long title, failed mode",
                 ("not reached", "Not there for this mode", "<script>alert(1)</script>"))
    with open(maker.demo("end-cell.yaml"), encoding="utf-8") as file:
        many = maker.write("many.yaml", file.read().replace("modes: {count: 2}", MANY))
    maker.run("solve", many, "-q", "-o", maker.path("many.hdf"))
    check_report(driver, maker.report(maker.path("many.hdf")), "20 modes", ("Mode 20",))
    maker.run("coldtest", maker.demo("coldtest", "injector-test.yaml"), "-o", maker.path("test.hdf"))
    check_report(driver, maker.report(maker.path("test.hdf")), "cold test",
                 ("X-ray", "k = 1", "Read with care"))
    maker.run("scan", maker.write("study.yaml", STUDY % maker.demo("mid-cell.yaml")), "-q", "-o",
              maker.path("scan.hdf"))
    check_report(driver, maker.report(maker.path("scan.hdf")), "scan", ("16",))
    enlarge(maker.path("scan.hdf"), 100_000)
    check_report(driver, maker.report(maker.path("scan.hdf")), "scan of 100 000 rows", ("100000",))


def main():
    program, demo_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder:
        maker = Maker(program, demo_folder, folder)
        driver = start_browser()
        try:
            check_all(driver, maker)
        finally:
            driver.quit()
        driver = start_browser(dark=True)
        try:
            check_report(driver, maker.path("sharp.hdf.html"), "dark", ())
            background = driver.execute_script(
                "return getComputedStyle(document.body).backgroundColor")
            check(background == "rgb(21, 24, 28)", f"dark: background {background}")
        finally:
            driver.quit()
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
