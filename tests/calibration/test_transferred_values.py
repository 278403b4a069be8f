"""A new card takes over the values of a trusted one, by way of photos that show both."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.card_values import Lab, Trust, designed_values
from dyecast_calibration.transferred_values import transferred_values
from dyecast_shared.errors import MeasurementsInvalid

LAYOUT = layout_named("pocket")
TRUE = designed_values(LAYOUT).lab_d50


def reading(lightness_error: float = 0.0, **patches: Lab) -> dict[str, Lab]:
    shifted = {name: (lab[0] * 0.85 + 9.0 + lightness_error, lab[1], lab[2]) for name, lab in TRUE.items()}
    return shifted | patches


def test_one_photo_gives_values_but_no_spread() -> None:
    values = transferred_values([reading()], LAYOUT, "one photo beside card 3")
    assert values.trust is Trust.TRANSFERRED
    assert values.lab_d50 == reading()
    assert values.spread is None
    assert values.source == "one photo beside card 3"


def test_two_photos_are_averaged_and_the_spread_is_their_distance_from_the_middle() -> None:
    """ISO/CIE 11664-6: on the grey axis near L* = 50 CIEDE2000 is very nearly the difference in L*."""
    values = transferred_values(
        [reading(a1=(49.0, 0.0, 0.0)), reading(a1=(51.0, 0.0, 0.0))], LAYOUT, "two photos"
    )
    assert values.lab_d50["a1"] == pytest.approx((50.0, 0.0, 0.0))
    assert values.spread is not None
    assert values.spread["a1"] == pytest.approx(1.0, abs=0.01)
    assert values.spread["a2"] == pytest.approx(0.0, abs=1e-9)


def test_from_three_photos_on_one_bad_photo_hardly_matters() -> None:
    good = [reading(error) for error in (-0.2, 0.0, 0.2, 0.1)]
    values = transferred_values([*good, reading(-10.0)], LAYOUT, "five photos")
    for name, lab in reading().items():
        assert values.lab_d50[name] == pytest.approx(lab, abs=0.1)
    assert values.spread is not None
    assert min(values.spread.values()) > 1.0


def test_a_patch_may_be_missing_in_some_photos_but_not_in_all() -> None:
    hidden = {name: lab for name, lab in reading().items() if name not in ("b2", "c4")}
    values = transferred_values([hidden, reading(), hidden], LAYOUT, "three photos")
    assert set(values.lab_d50) == set(TRUE)
    assert values.spread is not None
    assert set(values.spread) == set(TRUE) - {"b2", "c4"}
    with pytest.raises(MeasurementsInvalid, match="No photo shows patch b2, c4"):
        transferred_values([hidden, hidden], LAYOUT, "two photos")


def test_the_bare_paper_comes_from_the_white_areas_else_from_the_white_patch() -> None:
    values = transferred_values([reading(left=(94.0, 0.0, -2.0), right=(96.0, 0.0, -4.0))], LAYOUT, "photo")
    assert values.white_lab == pytest.approx((95.0, 0.0, -3.0))
    assert transferred_values([reading()], LAYOUT, "photo").white_lab == reading()["b3"]
    colours = replace(LAYOUT, patches=tuple(p for p in LAYOUT.patches if not p.neutral))
    assert transferred_values([reading()], colours, "photo").white_lab is None


def test_no_photo_is_refused_with_advice() -> None:
    with pytest.raises(MeasurementsInvalid, match=r"no photo.*beside the trusted one"):
        transferred_values([], LAYOUT, "nothing")


@pytest.mark.parametrize("lab", [(120.0, 0.0, 0.0), (50.0, float("nan"), 0.0), (50.0, 0.0, float("inf"))])
def test_a_colour_no_print_can_have_is_refused_with_its_patch(lab: Lab) -> None:
    with pytest.raises(MeasurementsInvalid, match="Patch c3 was read as a colour no print can have"):
        transferred_values([reading(), reading(c3=lab)], LAYOUT, "photos")


@given(st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_the_photos_does_not_matter(errors: list[float], random: Random) -> None:
    forwards = transferred_values([reading(error) for error in errors], LAYOUT, "photos")
    shuffled = sorted(errors, key=lambda _: random.random())
    backwards = transferred_values([reading(error) for error in shuffled], LAYOUT, "photos")
    for name, lab in forwards.lab_d50.items():
        assert backwards.lab_d50[name] == pytest.approx(lab)
        assert min(errors) - 1e-9 <= lab[0] - reading()[name][0] <= max(errors) + 1e-9
    assert np.isfinite(list((forwards.spread or {"": 0.0}).values())).all()
