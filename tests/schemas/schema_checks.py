# SPDX-License-Identifier: GPL-3.0-or-later
"""A schema of files against what the library reads: values of good files are spoilt one by one."""
import copy
import ctypes
import json
import re

import jsonschema
import yaml

MESSAGE_SIZE = 1 << 12
RANGE_WORDS = ("must lie between", "must be positive", "must not be negative", "a number above 0")
# A title that is a year is a text for the library.
FREE_TEXTS = ("title", "name", "source", "part")
failures = 0


class Loader(yaml.SafeLoader):
    """YAML 1.2 in what matters here: `yes` and `no` are words."""


Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:bool" or first in "tTfF"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()}


# A number with an exponent is one without a point, too.
Loader.add_implicit_resolver("tag:yaml.org,2002:float", re.compile(r"[-+]?(\d+\.?\d*|\.\d+)[eE][-+]?\d+$"),
                             list("-+.0123456789"))


def load(text):
    return yaml.load(text, Loader)


def check(right, name, detail=""):
    global failures
    if not right:
        print("FAILED", name, detail)
        failures += 1


class Error(ctypes.Structure):
    _fields_ = [("status", ctypes.c_int), ("message", ctypes.c_char * MESSAGE_SIZE)]


def places(node, at=()):
    """Where the values of a document stand."""
    children = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, child in children:
        yield at + (key,), child
        yield from places(child, at + (key,))


def with_value(document, at, value):
    changed = copy.deepcopy(document)
    node = changed
    for key in at[:-1]:
        node = node[key]
    node[at[-1]] = value
    return changed


def schemas_of(schema, whole, at, document, every=False):
    """Parts of the schema that say something of a place: of those choices that hold, or of every one."""
    if "$ref" in schema:
        yield from schemas_of(whole["$defs"][schema["$ref"].rsplit("/", 1)[1]], whole, at, document, every)
    for word in ("anyOf", "oneOf"):
        for choice in schema.get(word, ()):
            if every or jsonschema.Draft202012Validator({**choice, "$defs": whole.get("$defs", {})}).is_valid(document):
                yield from schemas_of(choice, whole, at, document, every)
    if not at:
        yield schema
        return
    inner = document[at[0]]
    if isinstance(document, list):
        if "items" in schema:
            yield from schemas_of(schema["items"], whole, at[1:], inner, every)
    elif at[0] in schema.get("properties", {}):
        yield from schemas_of(schema["properties"][at[0]], whole, at[1:], inner, every)
    elif isinstance(schema.get("additionalProperties"), dict):
        yield from schemas_of(schema["additionalProperties"], whole, at[1:], inner, every)


def words_of(parts):
    """Words as files have them: a boolean is true or false there."""
    return {str(word).lower() if isinstance(word, bool) else word for part in parts for word in part.get("enum", [part["const"]] if "const" in part else [])}


def words_expected(message):
    """Words that the library expected."""
    found = re.search(r"expected (.*), found 'strange'", message)
    return set(re.split(", | or ", found[1])) if found else set()


def range_of(parts):
    ends = {}
    for part in parts:
        for word in ("minimum", "maximum"):
            if word in part:
                ends[word] = part[word]
    return ends


def spoilt(value):
    """Values of other kinds."""
    if isinstance(value, (int, float)):
        return ["many", [value], {"value": value}]
    if isinstance(value, str):
        return [["a"], {"a": 1}]
    return [3.0, "many"]


def check_values(document, schema, message, leave=(), any_key=(), without_range=()):
    """Spoils each value of a document: message(document) is \"\" where the library reads it. Places that begin with
    a name of `leave` are left; mappings of the names of `any_key` take any key; numbers have a range but for some."""
    validator = jsonschema.Draft202012Validator(schema)
    for at, value in places(document):
        if at[0] in leave:
            continue
        name = ".".join(map(str, at))
        parts = list(schemas_of(schema, schema, at, document))
        check(parts, "known to the schema", name)
        wrong = [with_value(document, at, other) for other in spoilt(value)]
        if isinstance(value, dict) and at[-1] not in any_key:
            wrong.append(with_value(document, at + ("strange",), 1))
        if isinstance(value, str) and any("enum" in part or "const" in part for part in parts):
            wrong.append(with_value(document, at, "strange"))
            of_schema = words_of(schemas_of(schema, schema, at, document, every=True))
            of_library = words_expected(message(wrong[-1]))
            # Numbers of a cell have a check of their own, check_dimension_names.py.
            is_number = of_schema == set(schema.get("$defs", {}).get("number", {"anyOf": [{"enum": ()}]})["anyOf"][0]["enum"])
            check(is_number or of_schema == of_library, "the same words", f"{name}: {of_schema ^ of_library}")
        if isinstance(value, str) and at[-1] in FREE_TEXTS:
            digits = with_value(document, at, 2024)
            check(validator.is_valid(digits) == (not message(digits)), "a text of digits", f"{name}: {message(digits)}")
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            ends = range_of(parts)
            wrong += [with_value(document, at, 0) for part in parts if part.get("exclusiveMinimum") == 0]
            check(len(ends) == 2 or name in without_range, "a range of", name)
            for word, end in ends.items():
                beyond = 1 if word == "maximum" else -1
                wrong.append(with_value(document, at, end + beyond * (0.01 * abs(end) if end else 1e-3)))
                inside = with_value(document, at, end)
                check(validator.is_valid(inside), f"{word} of {name} is in range for the schema")
                said = message(inside)
                check(not any(words in said for words in RANGE_WORDS), f"{word} of {name} is in range", said)
        for other in wrong:
            check(not validator.is_valid(other), "refused by the schema", f"{name} in {other}")
            check(message(other), "refused by the library", f"{name} in {other}")


def keys_of_schema(schema):
    found = set()
    for at, value in places(schema):
        if at[-1] == "properties" and isinstance(value, dict) and at[-2:-1] != ("if",):
            found |= set(value)
    return found


def read_schema(path):
    schema = json.loads(path.read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return schema, jsonschema.Draft202012Validator(schema)


def finish():
    """Says how it went; the exit status."""
    print("FAILED" if failures else "passed", f"{failures} differences")
    return 1 if failures else 0
