# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds the module cavum against an installed library, or one built in CAVUM_BUILD."""
import os
import re

from setuptools import setup

HERE = os.path.dirname(os.path.abspath(__file__))


def version():
    """That of the library: of project() in CMakeLists.txt."""
    with open(os.path.join(HERE, "..", "CMakeLists.txt"), encoding="utf-8") as file:
        return re.search(r"project\(cavum VERSION ([0-9.]+)", file.read()).group(1)


setup(name="cavum", version=version(), packages=["cavum"], package_data={"cavum": ["py.typed"]},
      description="Figures of merit of axisymmetric accelerating cells, with uncertainties",
      license="GPL-3.0-or-later", python_requires=">=3.9", setup_requires=["cffi>=1.15"],
      install_requires=["cffi>=1.15", "numpy"], cffi_modules=["make_interface.py:ffi"])
