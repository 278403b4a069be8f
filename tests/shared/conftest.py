"""Reference libraries for the tests of the ground floor."""

import warnings
from typing import Any

import pytest


@pytest.fixture(scope="session")
def colour_science() -> Any:
    """The colour-science library; it warns on import about optional packages that these tests do not need."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

    return colour


@pytest.fixture(scope="session")
def skimage_color() -> Any:
    """The colour module of scikit-image."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import skimage.color

    return skimage.color
