"""A system without OpenCV's libraries is told what to install."""

import importlib
from types import ModuleType

import pytest

from dyecast_api.opencv_check import import_opencv
from dyecast_shared.errors import DyecastError


def break_import(monkeypatch: pytest.MonkeyPatch, complaint: str) -> None:
    def fails(name: str) -> ModuleType:
        assert name == "cv2"
        raise ImportError(complaint)

    monkeypatch.setattr(importlib, "import_module", fails)


@pytest.mark.parametrize(
    ("complaint", "package"),
    [
        ("libGL.so.1: cannot open shared object file: No such file or directory", "libgl1"),
        ("libgthread-2.0.so.0: cannot open shared object file: No such file or directory", "libglib2.0-0"),
    ],
)
def test_a_missing_system_library_is_answered_with_the_debian_package_that_holds_it(
    monkeypatch: pytest.MonkeyPatch, complaint: str, package: str
) -> None:
    break_import(monkeypatch, complaint)
    with pytest.raises(DyecastError, match=f"apt-get install {package}") as told:
        import_opencv()
    assert complaint.split(":", maxsplit=1)[0] in told.value.message


def test_another_import_error_is_quoted_and_both_packages_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    break_import(monkeypatch, "No module named 'cv2'")
    with pytest.raises(DyecastError, match="No module named 'cv2'") as told:
        import_opencv()
    assert "libgl1 libglib2.0-0" in told.value.advice


def test_a_working_opencv_is_returned() -> None:
    assert import_opencv().__name__ == "cv2"
