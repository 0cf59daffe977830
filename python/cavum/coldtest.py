# SPDX-License-Identifier: GPL-3.0-or-later
"""Cold tests: from measured powers to gradient, Q0 and surface resistance."""
from __future__ import annotations

import json
from typing import Any, Dict, Optional

from ._library import Log, Stop, Watch, encode_path, ffi, lib, new_error, numpy, raise_error, take_text


class ColdTest(dict):
    """Results of a test file: what `cavum coldtest --json` writes, by its keys."""

    def columns(self) -> Dict[str, numpy.ndarray]:
        """The points of the test as arrays by their keys; NaN for what a point does not have."""
        points = self["points"]
        keys = sorted({key for point in points for key, value in point.items() if _is_number(value)})
        return {key: numpy.array([_number(point.get(key)) for point in points]) for key in keys}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) or _has_value(value)


def _has_value(value: Any) -> bool:
    return isinstance(value, dict) and isinstance(value.get("value"), (int, float))


def _number(value: Any) -> float:
    if _has_value(value):
        return float(value["value"])
    return float(value) if isinstance(value, (int, float)) else float("nan")


def evaluate_coldtest(path: Any, stop: Optional[Stop] = None, log: Optional[Log] = None) -> ColdTest:
    """Evaluates a test file (YAML) with its readings. Raises CavumError with file, line and column."""
    error, text = new_error(), ffi.new("char **")
    file = ffi.gc(ffi.new("cavum_coldtest_file *"), lib.cavum_coldtest_file_clear)
    raise_error(lib.cavum_coldtest_file_read(file, encode_path(path), error), error)
    report, watcher = ffi.new("cavum_coldtest_report **"), Watch(stop, log)
    watch = ffi.new("cavum_coldtest_watch *", lib.cavum_coldtest_watch_default())
    watcher.put_into(watch)
    watcher.begin()
    status = lib.cavum_coldtest_run_watched(report, file, ffi.NULL, watch, error)
    watcher.end()
    raise_error(status, error)
    status = lib.cavum_store_coldtest_to_json(text, report[0], error)
    lib.cavum_coldtest_report_destroy(report)
    raise_error(status, error)
    return ColdTest(json.loads(take_text(text[0])))
