"""The limits that word reasons and refuse photos: one data file, nothing without its reason."""

import json
from dataclasses import fields
from importlib.resources import files
from typing import Any

import pytest

import dyecast_calibration
import dyecast_inspect
from dyecast_calibration.grading_limits import GradingLimits, grading_limits

NAMES = [field.name for field in fields(GradingLimits)]


def written() -> dict[str, dict[str, Any]]:
    text = files(dyecast_calibration).joinpath("grading_limits.json").read_text(encoding="utf-8")
    limits: dict[str, dict[str, Any]] = json.loads(text)["limits"]
    return limits


def sources() -> str:
    stages = [file for file in files(dyecast_inspect).iterdir() if file.name.endswith(".py")]
    return "\n".join(stage.read_text(encoding="utf-8") for stage in stages)


def test_the_file_holds_the_limits_that_are_read_and_no_others() -> None:
    assert set(written()) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_limit_has_value_unit_reason_and_source(name: str) -> None:
    limit = written()[name]
    assert set(limit) == {"value", "unit", "reason", "source"}
    assert isinstance(limit["value"], float)
    assert all(limit[part].strip() for part in ("unit", "reason", "source"))


@pytest.mark.parametrize("name", NAMES)
def test_a_limit_is_read_as_it_is_written(name: str) -> None:
    assert getattr(grading_limits(), name) == written()[name]["value"]


@pytest.mark.parametrize("name", NAMES)
def test_no_limit_stands_in_the_file_unused(name: str) -> None:
    assert f"limits.{name}" in sources()


def test_shares_and_probabilities_lie_between_nothing_and_everything() -> None:
    limits = grading_limits()
    shares = (
        limits.least_transferred_fraction,
        limits.most_hidden_share,
        limits.least_registration,
        limits.least_agreement,
    )
    assert all(0.0 < share < 1.0 for share in shares)
