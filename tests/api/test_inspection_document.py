"""The JSON document: every inspection fits the schema, and no figure is invented."""

import json
import math
from collections.abc import Iterator
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.inspections import card, features, good, over_pressed, piece, retake, under_pressed
from dyecast_api.inspection_document import document_line, inspection_document, inspection_schema
from dyecast_api.refused_photo import refused_inspection
from dyecast_api.version import SOFTWARE
from dyecast_inspect.inspection import ColourDifference, Estimate, Inspection
from dyecast_shared.errors import BadInput, NotAPicture

SCHEMA = json.loads(inspection_schema())
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def nothing_known() -> Inspection:
    """Return an inspection in which every float that can be unknown is NaN or infinite."""
    unknown = Estimate(math.nan, math.inf)
    return under_pressed(
        confidence=math.nan,
        delta_e_2000=ColourDifference(math.nan, math.inf, -math.inf),
        features=features(
            transferred_fraction=unknown,
            transferred_by_dye={"cyan": math.nan},
            transferred_by_tone={},
            veil=unknown,
            unevenness=math.nan,
        ),
        card=card(leave_one_out_mean=math.nan, corners_px=np.full((4, 2), np.nan)),
        piece=piece(registration_mm=math.inf),
    )


@pytest.mark.parametrize(
    "inspection",
    [
        good(),
        under_pressed(),
        over_pressed(),
        retake(),
        retake(card=None, checks=(), advice=(), reasons=()),
        under_pressed(features=None, card=None, piece=None, regions=(), delta_e_2000=None),
        nothing_known(),
    ],
    ids=["good", "under", "over", "retake", "bare retake", "bare verdict", "nothing known"],
)
def test_every_document_fits_the_schema_and_plain_json(inspection: Inspection) -> None:
    line = document_line(inspection)
    assert "\n" not in line
    assert line.isascii()
    document = json.loads(line, parse_constant=pytest.fail)
    VALIDATOR.validate(document)


def test_the_schema_is_a_sound_2020_12_schema() -> None:
    assert SCHEMA["$schema"].endswith("2020-12/schema")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def properties_of(schema: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(schema, dict):
        for name, value in schema.get("properties", {}).items():
            yield f"{path}/{name}", value
        for name, value in schema.items():
            yield from properties_of(value, f"{path}/{name}")


def test_every_key_of_the_schema_is_described() -> None:
    found = dict(properties_of(SCHEMA))
    assert len(found) > 60
    assert [path for path, value in found.items() if not value.get("description")] == []


def test_the_document_names_its_format_version_and_software() -> None:
    document = inspection_document(good())
    assert (document["format"], document["format_version"]) == ("dyecast-inspection", 1)
    assert document["software"] == SOFTWARE


def test_what_was_found_is_in_the_document() -> None:
    document = inspection_document(under_pressed())
    assert document["verdict"] == "under-pressed"
    assert document["delta_e_2000"] == {"mean": 6.52, "median": 6.11, "p95": 10.4}
    assert document["card"]["corners_px"][0] == [100.25, 120.5]
    assert document["piece"]["corners_px"][2] == [1910.0, 1700.0]
    assert document["reasons"][0]["code"] == "ink-missing"
    assert document["advice"][0]["caution"].startswith("Glass is still hot")
    assert document["advice"][1]["caution"] is None
    assert document["checks"][0] == {
        "name": "Sharpness of the marker edges",
        "value": 1.2,
        "limit": 3.0,
        "limit_is": "at most",
        "unit": "px",
        "passed": True,
        "advice": "Hold the phone still.",
    }
    assert document["features"]["detail_loss"] == {"value": 0.05, "uncertainty": 0.03, "unit": "mm"}
    assert document["error"] is None


def test_what_is_not_known_is_null() -> None:
    document = inspection_document(nothing_known())
    assert document["confidence"] is None
    assert document["delta_e_2000"] == {"mean": None, "median": None, "p95": None}
    assert document["features"]["transferred_fraction"]["value"] is None


def test_a_retake_says_nothing_about_the_piece_even_if_a_stage_had_figures() -> None:
    document = inspection_document(
        retake(
            delta_e_2000=ColourDifference(3.0, 3.0, 3.0),
            features=features(),
            regions=under_pressed().regions,
        )
    )
    assert document["delta_e_2000"] is None
    assert document["features"] is None
    assert document["regions"] == []


def test_a_photo_that_could_not_be_used_is_a_retake_with_the_errors_code_and_the_error() -> None:
    error = NotAPicture("The file is no picture.", file="notes.txt")
    inspection = refused_inspection(error, photo="notes.txt", artwork="sunset.png")
    document = inspection_document(inspection, error=error)
    VALIDATOR.validate(document)
    assert document["verdict"] == "retake"
    assert document["reasons"] == [{"code": "not-a-picture", "sentence": "The file is no picture."}]
    assert document["error"] == {
        "code": "not-a-picture",
        "message": "The file is no picture.",
        "advice": "Use a JPEG, PNG, TIFF, WebP or HEIC file.",
        "file": "notes.txt",
    }


def test_an_error_without_advice_gives_no_advice() -> None:
    assert refused_inspection(BadInput("Odd."), photo="a", artwork="b").advice == ()


@given(st.floats(), st.floats(), st.text(st.characters()))
def test_no_figure_and_no_file_name_can_break_the_document(mean: float, confidence: float, name: str) -> None:
    inspection = good(
        photo=name, confidence=confidence, delta_e_2000=ColourDifference(mean, mean, mean), near_limit=True
    )
    document = json.loads(document_line(inspection), parse_constant=pytest.fail)
    document["photo"].encode("utf-8")
    if math.isfinite(mean):
        assert document["delta_e_2000"]["mean"] == pytest.approx(mean, abs=1e-6)
