# SPDX-License-Identifier: GPL-3.0-or-later
"""A test that is being taken: cavum coldtest --follow sees rows as a script appends them, waits for
half-written lines, and ends in order on SIGINT with whole outputs."""
import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as tree

program, cells = sys.argv[1:3]
LONGEST_WAIT_S = 60  # A hang is told from a busy machine.


def wait_for(condition, what):
    end = time.monotonic() + LONGEST_WAIT_S
    while not condition():
        assert time.monotonic() < end, f"never seen: {what}"
        time.sleep(0.02)


with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    for name in ("injector-test.yaml", "decay.csv"):
        (folder / name).write_text(pathlib.Path(cells, "coldtest", name).read_text())
    rows = pathlib.Path(cells, "coldtest", "readings.csv").read_text().splitlines(keepends=True)
    readings, points, screen = folder / "readings.csv", folder / "t.json", folder / "screen.txt"
    readings.write_text(rows[0])  # Nothing but the header yet: it waits.

    def num_points():
        return len(json.loads(points.read_text())["points"]) if points.exists() else 0

    picture, page = folder / "t.svg", folder / "t.html"

    def num_drawn():
        """Readings that the picture says it shows; half a file would be no XML."""
        if not picture.exists():
            return 0
        texts = ["".join(node.itertext()) for node in tree.fromstring(picture.read_text()).iter()]
        return int(re.search(r"cold test, (\d+) readings", "\n".join(texts)).group(1))

    def num_reported():
        """Rows of the table of readings in the report, which is whole."""
        if not page.exists():
            return 0
        text = page.read_text()
        assert text.rstrip().endswith("</html>")
        table = text[text.index("Results of the readings"):]
        return table[:table.index("</table>")].count("<tr") - 1

    with open(screen, "w") as out:
        process = subprocess.Popen(
            [program, "coldtest", "--follow", folder / "injector-test.yaml", "--json", points,
             "-o", folder / "t.hdf", "--csv", folder / "t.csv", "--picture", picture, "--report", page],
            stdout=out, stderr=subprocess.PIPE)

    def append(text):
        with open(readings, "a") as file:
            file.write(text)

    append("".join(rows[1:4]))
    wait_for(lambda: num_points() == 3, "three rows")
    wait_for(lambda: num_drawn() == 3, "three rows in the picture")
    wait_for(lambda: num_reported() == 3, "three rows in the report")
    # The fit of R_s(T) wants a series of temperatures, which comes later: the rest is evaluated.
    waiting = json.loads(points.read_text())["waiting"]
    assert len(waiting) == 1 and waiting[0].startswith("surface resistance:"), waiting
    for row in rows[4:8]:
        before = num_points()
        append(row[:-3])  # Cut within its last number: all cells are there, the value is not.
        wait_for(lambda: "still being written" in points.read_text(), "the half-written row")
        assert num_points() == before
        append(row[-3:])
        wait_for(lambda: num_points() == before + 1, "the whole row")
        wait_for(lambda: num_drawn() == before + 1, "the whole row in the picture")
        wait_for(lambda: num_reported() == before + 1, "the whole row in the report")
    # A file that takes the place of the old one is seen too.
    (folder / "new.csv").write_text("".join(rows[:6]))
    os.replace(folder / "new.csv", readings)
    wait_for(lambda: num_points() == 5, "the new file")
    wait_for(lambda: num_drawn() == 5, "the picture of the new file")
    wait_for(lambda: num_reported() == 5, "the report of the new file")
    assert process.poll() is None
    process.send_signal(signal.SIGINT)
    assert process.wait(LONGEST_WAIT_S) == 3
    process.stderr.close()
    assert screen.read_text().count("Cautions.") >= 6
    assert "Not yet: surface resistance:" in screen.read_text()
    assert len((folder / "t.csv").read_text().splitlines()) == 6
    left = sorted(path.name for path in folder.iterdir())
    assert left == ["decay.csv", "injector-test.yaml", "readings.csv", "screen.txt", "t.csv",
                    "t.hdf", "t.html", "t.json", "t.svg"], left
    # The picture and the page are those of the file that was written beside them.
    for command, kind in (("draw", "svg"), ("report", "html")):
        other = folder / f"other.{kind}"
        subprocess.run([program, command, folder / "t.hdf", "-o", other], check=True)
        assert other.read_bytes() == (folder / f"t.{kind}").read_bytes(), kind
    # Once and without --follow; an ending that is no picture is refused before anything is read.
    done = subprocess.run([program, "coldtest", "-q", "--linear", folder / "injector-test.yaml",
                           "--picture", folder / "once.png"], check=False)
    assert done.returncode == 1 and (folder / "once.png").exists()  # Its fit lacks readings.
    readings.write_text("".join(rows))
    subprocess.run([program, "coldtest", "-q", "--linear", folder / "injector-test.yaml",
                    "--picture", folder / "once.png"], check=True)
    assert (folder / "once.png").read_bytes()[:4] == b"\x89PNG"
    refused = subprocess.run([program, "coldtest", folder / "injector-test.yaml", "--picture",
                              folder / "t.jpg"], capture_output=True, check=False)
    assert refused.returncode == 2 and b".svg or .pdf" in refused.stderr, refused.stderr
print("follow: 3 + 4 rows one by one in JSON, picture and report, half-written lines, a replaced file, "
      "SIGINT gives 3")
