"""A new card's colours from photos that show it beside a trusted card.

The scenes are spectral: the new card carries other colours than designed, and the truth is computed from its
reflectances. What a photo reads is a measurement through a phone, so the limits are those of the colour
correction itself.
"""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.card_values import Lab, designed_values
from dyecast_inspect.transfer_card import read_card_beside
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.errors import BadInput, CardNotFound, NotAPicture
from printed_cards import home_printed, measured_card, photo_of_two_cards, true_colours

A6, POCKET = layout_named("a6"), layout_named("pocket")
PRINTED = home_printed(POCKET)
KNOWN = measured_card(A6)


def difference(one: Mapping[str, Lab], other: Mapping[str, Lab]) -> np.ndarray:
    shared = sorted(one.keys() & other.keys())
    first, second = (np.array([colours[name] for name in shared]) for colours in (one, other))
    return np.asarray(delta_e_2000(first, second))


def read(path: Path) -> Mapping[str, Lab]:
    return read_card_beside(path, new=POCKET, trusted=A6, trusted_values=KNOWN)


@pytest.mark.parametrize(("seed", "light"), [(6, "D50"), (5, "LED-B2"), (3, "A")])
def test_the_new_card_is_read_to_about_one_where_its_design_is_off_by_four(
    seed: int, light: str, tmp_path: Path
) -> None:
    photo = photo_of_two_cards(tmp_path / "two.jpg", PRINTED, seed)
    truth = true_colours(PRINTED)
    assert difference(designed_values(POCKET).lab_d50, truth).mean() > 4.0, light
    error = difference(read(photo), truth)
    assert error.mean() < 1.2
    assert error.max() < 2.5


def test_a_slope_of_the_light_does_not_show_in_the_new_card_s_paper(tmp_path: Path) -> None:
    photo = photo_of_two_cards(tmp_path / "two.jpg", PRINTED, 6, gradient=0.3, gradient_direction_deg=90.0)
    colours = read(photo)
    assert difference(colours, true_colours(PRINTED)).mean() < 1.2
    assert abs(colours["left"][0] - colours["right"][0]) < 0.5


def test_the_paper_keeps_its_own_colour_and_is_not_called_white(tmp_path: Path) -> None:
    photo = photo_of_two_cards(tmp_path / "two.jpg", PRINTED, 5)
    patches = {name: lab for name, lab in read(photo).items() if name == "b3"}
    truth = true_colours(PRINTED)["b3"]
    assert truth[0] < 97.0
    assert difference(patches, {"b3": truth})[0] < 1.0


def test_a_missing_card_is_named_with_its_role(tmp_path: Path) -> None:
    photo = photo_of_two_cards(tmp_path / "one.jpg", PRINTED, 6, extra_card=None)
    with pytest.raises(CardNotFound, match="new card 'pocket' was not found") as told:
        read(photo)
    assert "side by side" in str(told.value)
    with pytest.raises(CardNotFound, match="trusted card 'pocket' was not found"):
        read_card_beside(photo, new=A6, trusted=POCKET, trusted_values=measured_card(PRINTED))


def test_two_cards_of_one_kind_cannot_be_told_apart(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="which is which"):
        read_card_beside(tmp_path / "never-read.jpg", new=A6, trusted=A6, trusted_values=KNOWN)


def test_a_file_that_is_no_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.jpg").write_text("shopping list, and more of it than a few bytes")
    with pytest.raises(NotAPicture):
        read(tmp_path / "notes.jpg")
