#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What `cavum solve --json` writes, with every option that adds to it, is as its schema says: each key that is
written stands in the schema, and each key of the schema is written for one of the cells.

Usage: check_result_schema.py LIBRARY SOURCE_FOLDER
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import jsonschema

REQUIREMENTS = """requirements:
  geometry_factor_ohm: {least: 400}
  k_cc: {least: 0.001}
  frequency_MHz: {is: 1300, within: 100}
"""
NEAR = "modes: {count: 1, near_MHz: 2400}"


def choices(schema, whole, at):
    """All that a schema may be, without references and choices, and where it stands: a definition at its name."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        yield from choices(whole["$defs"][name], whole, name)
    for choice in schema.get("anyOf", ()):
        yield from choices(choice, whole, at)
    yield at, schema


def keys_of_schema(schema, whole, at=""):
    for place, part in choices(schema, whole, at):
        for key, inner in part.get("properties", {}).items():
            yield f"{place}.{key}"
            yield from keys_of_schema(inner, whole, f"{place}.{key}")
        for word in ("items", "additionalProperties"):
            if isinstance(part.get(word), dict):
                yield from keys_of_schema(part[word], whole, place + ".*")


def keys_of_output(value, schema, whole, at=""):
    """Keys of an output by their names in the schema, those of maps and lists as `*`."""
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in children:
        for place, part in choices(schema, whole, at):
            if key in part.get("properties", {}):
                yield f"{place}.{key}"
                yield from keys_of_output(inner, part["properties"][key], whole, f"{place}.{key}")
            elif isinstance(part.get("items", part.get("additionalProperties")), dict):
                yield from keys_of_output(inner, part.get("items", part.get("additionalProperties")), whole, place + ".*")


def solve(program, cell, *options):
    done = subprocess.run([program, "solve", cell, "--json", "-", *options], check=False, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, text=True)
    if done.returncode > 1:
        raise SystemExit(f"FAILED {cell}: {done.stderr}")
    return json.loads(done.stdout)


def outputs(program, cells):
    with tempfile.TemporaryDirectory() as folder:
        required = pathlib.Path(folder, "required.yaml")
        required.write_text((cells / "mid-cell.yaml").read_text() + REQUIREMENTS)
        yield solve(program, required, "--coupling", "--derivatives")
        near = pathlib.Path(folder, "near.yaml")
        near.write_text(re.sub("modes:.*", NEAR, (cells / "mid-cell.yaml").read_text()))
        yield solve(program, near)
    for name in ("end-cell", "injector-cell", "pillbox", "coaxial-resonator"):
        yield solve(program, cells / f"{name}.yaml", "--derivatives")


def main():
    library, source = (pathlib.Path(path).resolve() for path in sys.argv[1:3])
    schema = json.loads((source / "scripts/schemas/result.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    seen, failures = set(), 0
    for output in outputs(pathlib.Path(sys.argv[1]).parent / "cavum", source / "tests/cells"):
        for error in validator.iter_errors(output):
            print("FAILED", output["title"], "/".join(map(str, error.absolute_path)), error.message[:300])
            failures += 1
        seen |= set(keys_of_output(output, schema, schema))
    for key in sorted(set(keys_of_schema(schema, schema)) - seen):
        print("FAILED never written:", key)
        failures += 1
    print("FAILED" if failures else "passed", f"{len(seen)} keys")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
