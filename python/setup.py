# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds the module cavum against an installed library, or one built in CAVUM_BUILD."""
import glob
import os
import re
import sys

from setuptools import Extension, setup

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)  # as make_interface.py has it
from library_place import library_settings  # pylint: disable=wrong-import-position


def version():
    """That of the library: of project() in CMakeLists.txt."""
    with open(os.path.join(HERE, "..", "CMakeLists.txt"), encoding="utf-8") as file:
        return re.search(r"project\(cavum VERSION ([0-9.]+)", file.read()).group(1)


# The part in C, for any Python from 3.10 on: core/core.h. Sources are named from this folder.
core = Extension("cavum._core", sorted(os.path.relpath(path, HERE) for path in glob.glob(os.path.join(HERE, "core", "*.c"))),
                 depends=["core/core.h", "core/watch.h"], extra_compile_args=["-std=c17", "-O2"],
                 define_macros=[("Py_LIMITED_API", "0x030A0000")], py_limited_api=True, **library_settings())

setup(name="cavum", version=version(), packages=["cavum"], package_data={"cavum": ["py.typed", "_core.pyi"]},
      description="Figures of merit of axisymmetric accelerating cells, with uncertainties",
      license="GPL-3.0-or-later", python_requires=">=3.10", setup_requires=["cffi>=1.15"],
      install_requires=["cffi>=1.15", "numpy"], ext_modules=[core],
      cffi_modules=["make_interface.py:ffi"])
