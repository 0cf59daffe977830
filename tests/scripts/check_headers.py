#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The public headers keep the conventions that cavum.h states.

Each status that the body of a public function names is in its comment (a call of a function that
fails for NULL or for want of memory counts as one), and each function that returns a status says at
least one. What has no comment of its own but that of another function ("Like f()", "What f() calls",
"as f()") is as documented as that. Names: _create goes with _destroy, _open with _close, both take a
pointer to a pointer and accept NULL, as _clear does; what has a size has defaults.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
HEADERS = sorted((ROOT / "include/cavum").glob("*.h"))
# Calls that fail with one status and no other.
ALWAYS = {"cavum_fail_null": "ERR_USAGE", "cavum_fail_memory": "ERR_MEMORY",
          "cavum_sized_take": "ERR_USAGE"}


def public_functions():
    """Name: (comment, declaration) of all functions of the interface."""
    found = {}
    pattern = re.compile(
        r"/\*\*(?P<comment>(?:[^*]|\*(?!/))*)\*/\s*"
        r"(?P<declaration>(?:CAVUM_API|static inline)\s[^;{]*?\b(?P<name>cavum_\w+)\s*\([^;{]*?\))\s*[;{]")
    for header in HEADERS:
        for match in pattern.finditer(header.read_text()):
            found[match["name"]] = (" ".join(match["comment"].split()), match["declaration"])
    return found


def bodies():
    """Name: body of all functions of the library, with those of its own file that it calls."""
    found = {}
    pattern = re.compile(r"^(static )?[A-Za-z_][^;{}()#]*?\b(\w+)\([^;{}]*\)\s*\{(.*?)^\}", re.M | re.S)
    for folder in ("mesh", "solver"):
        for source in (ROOT / folder).rglob("*.c"):
            here = {match[2]: match[3] for match in pattern.finditer(source.read_text())}
            for name in here:
                if name.startswith("cavum_"):
                    found[name] = "".join(here[other] for other in reached(name, here))
    return found


def reached(name, here):
    """A function and all helpers of the same file that it calls, directly or not."""
    todo, done = [name], set()
    while todo:
        name = todo.pop()
        done.add(name)
        called = set(re.findall(r"\b(\w+)\b", here[name]))
        todo += [other for other in called & set(here)
                 if other not in done and not other.startswith("cavum_")]
    return done


def returned(body):
    """Statuses that a body names; those that it only compares with are none."""
    text = re.sub(r"[!=]= CAVUM_ERR_\w+", "", body)
    names = set(re.findall(r"CAVUM_(ERR_[A-Z_]+)", text))
    return names | {status for call, status in ALWAYS.items() if call + "(" in text}


def documented(name, functions, seen=()):
    if name not in functions or name in seen:
        return set()
    comment = functions[name][0]
    names = set(re.findall(r"CAVUM_(ERR_[A-Z_]+)", comment))
    for other in re.findall(r"(?:Like|like|calls|as|As|of|for|also) (cavum_\w+)\(\)", comment):
        names |= documented(other, functions, (*seen, name))
    for other in re.findall(r"What (cavum_\w+)\(\) calls", comment):
        names |= documented(other, functions, (*seen, name))
    return names


def check_statuses(functions, table):
    faults, code = [], bodies()
    for name, (comment, declaration) in functions.items():
        if "cavum_status " + name not in " ".join(declaration.split()):
            continue
        said = documented(name, functions)
        if not said:
            faults.append(f"{name}: says no status")
        faults += [f"{name}: CAVUM_{word} is no status" for word in sorted(said - table)]
        missing = returned(code.get(name, "")) - said
        faults += [f"{name}: can return CAVUM_{word}, which its comment does not say"
                   for word in sorted(missing)]
    return faults


def check_pairs(functions):
    faults = []
    for name, (comment, declaration) in functions.items():
        for begin, end in (("_create", "_destroy"), ("_open", "_close")):
            if name.endswith(begin) and name[:-len(begin)] + end not in functions:
                faults.append(f"{name} without {name[:-len(begin)] + end}")
        frees = name.endswith(("_destroy", "_close", "_clear"))
        if frees and "NULL" not in comment:
            faults.append(f"{name}: does not say that NULL is accepted")
        if frees and " void " not in " " + " ".join(declaration.split()) + " ":
            faults.append(f"{name}: returns something")
        if name.endswith(("_destroy", "_close")) and "**" not in declaration:
            faults.append(f"{name}: takes no pointer to a pointer")
        if name.endswith("_clear") and "**" in declaration:
            faults.append(f"{name}: takes a pointer to a pointer")
    return faults


def check_sizes(functions):
    faults = []
    for header in HEADERS:
        for match in re.finditer(r"typedef struct (cavum_\w+) \{(.*?)^\}", header.read_text(), re.M | re.S):
            members = re.sub(r"/\*.*?\*/", "", match[2], flags=re.S).split(";")
            sized = [i for i, member in enumerate(members) if "size_t struct_size" in member]
            if sized and sized != [0]:
                faults.append(f"{match[1]}: struct_size does not come first")
            makers = [match[1] + "_default", match[1] + "_set_defaults"]
            results = [n for n in functions if n.endswith("_sized") and
                       match[1] + " *" in functions[n][1]]
            if sized and not results and not any(maker in functions for maker in makers):
                faults.append(f"{match[1]}: nothing sets its size")
            zeros = "Zero-initialise" in header.read_text()[max(0, match.start() - 200):match.start()]
            if match[1].endswith("_options") and makers[0] not in functions and not sized and not zeros:
                faults.append(f"{match[1]}: has no {makers[0]}()")
    return faults


CHOICES = ("_options", "_request", "_aims", "_choices", "_setup", "_layout", "_watch", "_progress")
# Tables of these get rows: arrays that are as long as they are now would move what stands behind.
GROWING = ("CAVUM_NUM_FIGURES", "CAVUM_NUM_INPUTS", "CAVUM_NUM_SHAPE_STATUSES", "CAVUM_NUM_GEOMETRY_FIGURES")
# Handed to callbacks by a pointer: made by the library, grows at its end.
BY_POINTER = ("cavum_solve_progress", "cavum_optimum_progress")


def check_growth():
    """cavum.h, Growth: what a program fills begins with its size; arrays by tables have room."""
    faults = []
    for header in HEADERS:
        for match in re.finditer(r"typedef struct (cavum_\w+) \{(.*?)^\}", header.read_text(), re.M | re.S):
            members = re.sub(r"/\*.*?\*/", "", match[2], flags=re.S)
            sized = "size_t struct_size" in members
            if match[1].endswith(CHOICES) and not sized and match[1] not in BY_POINTER:
                faults.append(f"{match[1]}: a program fills it, and it does not begin with struct_size")
            faults += [f"{match[1]}: an array of {length} entries, which is the length of a table that grows"
                       for length in re.findall(r"\[(CAVUM_NUM_\w+)\]", members) if length in GROWING]
    return faults


def number_of(name, text):
    """The value of a limit, whose definition may name another."""
    value = re.search(rf"#define {name} (.*)", text)[1]
    value = re.sub(r"CAVUM_\w+", lambda other: str(number_of(other[0], text)), value)
    return eval(value)  # pylint: disable=eval-used  # numbers and quotients of our own header


def check_ranges():
    """Ranges in the comments of a cell's members are those that it is checked for."""
    text = (ROOT / "mesh/cell/limits.h").read_text() + (ROOT / "mesh/cell/keys.h").read_text()
    comments = (ROOT / "include/cavum/cell.h").read_text()
    faults = []
    for member, low, high in (
            ("beta", "CAVUM_CELL_BETA_LEAST", 1), ("num_modes", 1, "CAVUM_MODES_MOST"),
            ("near_hz", "CAVUM_NEAR_LEAST_HZ", "CAVUM_NEAR_MOST_HZ"),
            ("accelerating_length_m", "CAVUM_LENGTH_LEAST_M", "CAVUM_LENGTH_MOST_M"),
            ("accuracy_frequency", "CAVUM_ACCURACY_FREQUENCY_LEAST", "CAVUM_ACCURACY_FREQUENCY_MOST"),
            ("accuracy_other_figures", "CAVUM_ACCURACY_FIGURES_LEAST", "CAVUM_ACCURACY_FIGURES_MOST"),
            ("surface_resistance_ohm", "CAVUM_RESISTANCE_LEAST_OHM", "CAVUM_RESISTANCE_MOST_OHM"),
            ("conductivity_s_per_m", "CAVUM_CONDUCTIVITY_LEAST_S_PER_M", "CAVUM_CONDUCTIVITY_MOST_S_PER_M"),
            ("temperature_k", "CAVUM_TEMPERATURE_LEAST_K", "CAVUM_NIOBIUM_MOST_K"),
            ("residual_resistance_ohm", 0, "CAVUM_RESIDUAL_MOST_OHM")):
        ends = [number_of(end, text) if isinstance(end, str) else end for end in (low, high)]
        comment = re.search(rf"\b{member};\s*/\*\*<(.*?)\*/", comments, re.S)[1]
        said = f"{ends[0]:g} to {ends[1]:g}"
        if said not in " ".join(comment.split()):
            faults.append(f"cell.h: {member}: its comment does not say {said}: {' '.join(comment.split())}")
    return faults


def check_counts():
    """A member that counts is called num_...; an index is counted from 0."""
    faults = []
    for header in HEADERS:
        for line in header.read_text().splitlines():
            member = re.match(r"\s+(?:int|int64_t|cavum_index) (n_\w+|\w+_count|nr_\w+|no_of_\w+);", line)
            if member:
                faults.append(f"{header.name}: {member[1]}: a count is called num_...")
    return faults


def main():
    functions = public_functions()
    status_text = (ROOT / "include/cavum/status.h").read_text()
    table = set(re.findall(r"X\((ERR_[A-Z_]+),", status_text))
    faults = (check_statuses(functions, table) + check_pairs(functions) + check_sizes(functions) +
              check_counts() + check_growth() + check_ranges())
    print(f"{len(functions)} functions, {len(table)} statuses")
    print("\n".join(faults))
    sys.exit(1 if faults or len(functions) < 150 or len(table) < 12 else 0)


main()
