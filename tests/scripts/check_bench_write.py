#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""scripts/bench-write: tables go between their two marks, the rest of the document stays as it is;
a document without the marks, or with others, is refused and left alone."""
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]


def run(document, name, tables):
    command = [sys.executable, str(ROOT / "scripts" / "bench-write"), str(document), name, str(tables)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def main():
    with tempfile.TemporaryDirectory() as folder:
        document, tables = pathlib.Path(folder) / "page.md", pathlib.Path(folder) / "tables.md"
        before, after = "# Page\n\n<!-- cost: begin -->\n", "<!-- cost: end -->\nmore\n"
        document.write_text(before + "old\n" + after)
        tables.write_text("\n| a |\n| --- |\n| 1 |\n\n")
        assert run(document, "cost", tables).returncode == 0
        expected = before + "\n| a |\n| --- |\n| 1 |\n\n" + after
        assert document.read_text() == expected, document.read_text()
        # Again: the same.
        assert run(document, "cost", tables).returncode == 0 and document.read_text() == expected
        refused = run(document, "speed", tables)
        assert refused.returncode == 2 and "no place for speed" in refused.stderr, refused
        assert document.read_text() == expected
    # The places that scripts/bench writes to are there, with tables.
    for page, name in (("REFERENCE.md", "growth"), ("documentation/verification.md", "optimum")):
        text = (ROOT / page).read_text()
        assert text.count(f"<!-- {name}: begin -->") == text.count(f"<!-- {name}: end -->") == 1, page
        assert "| ---" in text.split(f"<!-- {name}: begin -->")[1].split(f"<!-- {name}: end -->")[0], page
    print("tables are written between their marks, nothing else changes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
