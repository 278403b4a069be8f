"""Importing OpenCV, and saying in plain words what the system lacks when that fails."""

import importlib
from types import ModuleType
from typing import Final

from dyecast_shared.errors import DyecastError

DEBIAN_PACKAGE_OF_LIBRARY: Final = {
    "libGL.so.1": "libgl1",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libglib-2.0.so.0": "libglib2.0-0",
}
"""System library that OpenCV wheels may ask for, and the Debian package that holds it (from memory;
`apt-file search NAME` tells)."""


def import_opencv() -> ModuleType:
    """Import `cv2`.

    Raises
    ------
    DyecastError
        It cannot be imported; the advice names the Debian package to install when a known system library
        is missing, and else the Python package.

    """
    try:
        return importlib.import_module("cv2")
    except ImportError as problem:
        raise _opencv_unusable(str(problem)) from problem


def _opencv_unusable(complaint: str) -> DyecastError:
    for library, package in DEBIAN_PACKAGE_OF_LIBRARY.items():
        if library in complaint:
            return DyecastError(
                f"OpenCV needs the system library {library}, which is missing.",
                advice=f"On Debian or Ubuntu: apt-get install {package}. "
                "(libgl1 and libglib2.0-0 are the two packages OpenCV may need.)",
            )
    return DyecastError(
        f"OpenCV could not be loaded ({complaint}).",
        advice="Install dyecast again with pip. If a system library is missing, on Debian or Ubuntu: "
        "apt-get install libgl1 libglib2.0-0.",
    )
