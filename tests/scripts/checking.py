# SPDX-License-Identifier: GPL-3.0-or-later
"""Counting what fails in a check of many things, so that one run shows them all."""

_failed = []


def check(condition, text):
    """Shows how one check came out; a failure is counted and the run goes on."""
    print("passed" if condition else "FAILED", text)
    if not condition:
        _failed.append(text)


def exit_status():
    """Says how many failed; 1 when any did."""
    print(len(_failed), "failures")
    return 1 if _failed else 0
