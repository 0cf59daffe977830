# SPDX-License-Identifier: GPL-3.0-or-later
"""Every flag of `cavum coldtest` does what its help says: each is run and what it writes is opened.

A flag of the help without a check here fails. `--follow` has a page of its own, check_coldtest_follow.py.

Usage: check_coldtest_flags.py PROGRAM CELLS_FOLDER
"""
import csv
import io
import json
import pathlib
import re
import struct
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree
import zlib

import h5py

from checking import check, exit_status
from coldtest_maker import make_test

program = str(pathlib.Path(sys.argv[1]).resolve())


def run(folder, *options, expected=0):
    """What the command says about the made test."""
    done = subprocess.run((program, "coldtest") + options, cwd=folder, capture_output=True, text=True, check=False)
    check(done.returncode == expected, f"{' '.join(options)} ends with {expected} {done.stderr}")
    return done.stdout


TEST = "everything.yaml"


def num_readings(screen):
    """Rows of the table of readings."""
    table = screen[screen.index("\nreading "):].split("\n\n")[0]
    return len(re.findall(r"^ +\d+ +\d", table, re.M))


def check_csv(folder):
    """A file, or in place of the screen: the same."""
    run(folder, TEST, "--linear", "-q", "--csv", "a.csv")
    out = run(folder, TEST, "--linear", "--csv", "-")
    check(out == (folder / "a.csv").read_text(), "--csv - is what the file is")
    check(len(list(csv.DictReader(io.StringIO(out)))) == 37, "it has 37 rows")


def check_json(folder):
    """A file, or in place of the screen: the same."""
    run(folder, TEST, "--linear", "-q", "--json=a.json")
    out = run(folder, TEST, "--linear", "--json", "-")
    check(json.loads(out) == json.loads((folder / "a.json").read_text()), "--json - is what the file is")
    check(len(json.loads(out)["points"]) == 37, "it has 37 points")


def check_overwrite(folder):
    """Another kind of file is kept, unless told; an older output is replaced."""
    (folder / "kept.hdf").write_text("a letter")
    run(folder, TEST, "--linear", "-q", "-o", "kept.hdf", expected=2)
    check((folder / "kept.hdf").read_text() == "a letter", "the letter is still there")
    run(folder, TEST, "--linear", "-q", "--overwrite", "-o", "kept.hdf")
    run(folder, TEST, "--linear", "-q", "--output", "kept.hdf")
    with h5py.File(folder / "kept.hdf") as file:
        check(file["points/q0"].shape == (37,), "the file has 37 readings")


def check_picture(folder):
    """PNG by its checksums and pixels, SVG as XML, PDF by its text."""
    for kind in ("png", "svg", "pdf"):
        run(folder, TEST, "--linear", "-q", "--picture", f"a.{kind}")
    data = (folder / "a.png").read_bytes()
    at, pixels, size = 8, b"", (0, 0)
    while at < len(data):
        length, name = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + length]
        good = struct.unpack(">I", data[at + 8 + length:at + 12 + length])[0] == zlib.crc32(name + body)
        check(good, f"checksum of {name.decode()} in PNG")
        size = struct.unpack(">II", body[:8]) if name == b"IHDR" else size
        pixels += body if name == b"IDAT" else b""
        at += 12 + length
    check(min(size) > 500 and len(set(zlib.decompress(pixels))) > 20, f"the PNG of {size} is not blank")
    words = "".join(tree.parse(folder / "a.svg").getroot().itertext())
    printed = subprocess.run(("pdftotext", "a.pdf", "-"), cwd=folder, capture_output=True, text=True, check=True)
    for text, name in ((words, "SVG"), (printed.stdout, "PDF")):
        check("Cell of an imaginary pump station" in text, f"the {name} has the title")
        check("forward power 3 W" in " ".join(text.split()), f"the {name} has the limits")


def check_report(folder):
    """The page of the file that is written beside it."""
    run(folder, TEST, "--linear", "-q", "-o", "r.hdf", "--report", "r.html")
    subprocess.run((program, "report", "r.hdf", "-o", "again.html"), cwd=folder, check=True)
    page = (folder / "r.html").read_text()
    check(page == (folder / "again.html").read_text(), "--report is what 'cavum report' makes")
    check("Cell of an imaginary pump station" in page, "it has the title")


def check_quiet(folder):
    """Nothing on the screen."""
    check(run(folder, TEST, "--linear", "--quiet") == "", "--quiet prints nothing")


def check_budgets(folder):
    """So many budgets are printed, three where no number is given."""
    for options, count in ((("--show", "budgets"), 3), (("--budgets=5",), 5), (("--budgets", "1"), 1)):
        screen = run(folder, TEST, "--linear", *options)
        budgets = screen[screen.index("Uncertainty budgets"):].split("\n\n")[0]
        check(len(re.findall(r"^  reading \d+$", budgets, re.M)) == count, f"{options}: {count} budgets")


def check_linear(folder):
    """No Monte Carlo where it is not asked for."""
    run(folder, TEST, "-q", "--json", "drawn.json")
    run(folder, TEST, "--linear", "-q", "--json", "linear.json")
    drawn = [json.loads((folder / name).read_text()) for name in ("drawn.json", "linear.json")]
    check("monte_carlo" in json.dumps(drawn[0]), "draws without --linear")
    check("monte_carlo" not in json.dumps(drawn[1]), "no draws with --linear")


def check_plan(folder):
    """Plans, and no readings."""
    screen = run(folder, TEST, "--plan", "--json", "plan.json")
    plan = json.loads((folder / "plan.json").read_text())
    check(len(plan["plans"]) == 8 and "points" not in plan, "eight plans, no readings")
    check("dBm" in screen, "the screen has the meters")


def check_rows(folder):
    """Rows of the table: all, or so many."""
    check(num_readings(run(folder, TEST, "--linear")) == 37, "all readings without --rows")
    check(num_readings(run(folder, TEST, "--linear", "--rows=4")) == 4, "--rows=4 prints 4")


def check_show(folder):
    """Every word of the help adds something that is not there without it."""
    words = re.search(r"--show=PART,\.\.\. +Print also: (.*?), or\s+all", run(folder, "--help"), re.S).group(1)
    names = re.findall(r"(?:^|, )(\w+)", re.sub(r"\([^)]*\)", "", " ".join(words.split())))
    check(len(names) >= 8, f"the help names {names}")
    leaks = "directional_coupler: {directivity_dB: 40}\ntraces:"  # Bounds are those of a leak.
    (folder / "leak.yaml").write_text((folder / TEST).read_text().replace("traces:", leaks))
    plain = run(folder, "leak.yaml", "--linear")
    names.remove("intervals")  # Those of Monte Carlo are drawn in cli.coldtest.
    for name in names:
        check(len(run(folder, "leak.yaml", "--linear", "--show", name)) >= len(plain) + 40, f"--show {name} adds lines")


def check_texts(folder):
    """Help, usage and version."""
    check("Usage: cavum coldtest" in run(folder, "-?"), "-? is the help")
    check("--picture=FILE" in run(folder, "--usage"), "--usage names the options")
    check(re.search(r"\d+\.\d+\.\d+", run(folder, "--version")) is not None, "--version is one")


CHECKS = {"csv": check_csv, "json": check_json, "overwrite": check_overwrite, "output": check_overwrite,
          "picture": check_picture, "quiet": check_quiet, "report": check_report, "budgets": check_budgets,
          "linear": check_linear, "plan": check_plan, "rows": check_rows, "show": check_show,
          "help": check_texts, "usage": check_texts, "version": check_texts, "follow": None}

with tempfile.TemporaryDirectory() as name:
    work = pathlib.Path(name)
    make_test(work)
    flags = re.findall(r"^ +(?:-.,)? *--([a-z-]+)", run(work, "--help"), re.M)
    check(len(flags) > 12, f"flags of the help: {flags}")
    check(set(flags) == set(CHECKS), f"each has a check: {set(flags) ^ set(CHECKS)}")
    for one in dict.fromkeys(found for found in CHECKS.values() if found):
        one(work)
sys.exit(exit_status())
