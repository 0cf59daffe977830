#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A scan as a table: `columns` below is all it takes, the rest prints it.

Usage: scripts/read-scan.py RESULT.hdf
"""
import sys

import h5py

columns = {key: column[:] for key, column in h5py.File(sys.argv[1])["columns"].items()}
# With pandas: table = pandas.DataFrame(columns)

done = columns["status"] == 0
print(f"{done.sum()} of {done.size} shapes are done")
for key, values in columns.items():
    if done.any():
        print(f"{key:44} {values[done].min():14.8g} to {values[done].max():14.8g}")
