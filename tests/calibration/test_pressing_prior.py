"""What is believed about a piece before it is measured."""

import numpy as np

from dyecast_calibration.pressing_prior import PressingPrior


def test_every_belief_leaves_room_on_both_sides() -> None:
    for glass in (True, False):
        mean, below, above = PressingPrior().vectors(glass=glass)
        assert mean.shape == below.shape == above.shape == (17,)
        assert (below > 0.0).all()
        assert (above > 0.0).all()


def test_before_measuring_a_piece_is_taken_as_pressed_right() -> None:
    mean, _, _ = PressingPrior().vectors(glass=True)
    assert (mean[:4] == 0.0).all()


def test_a_piece_may_lack_far_more_ink_than_it_may_have_too_much() -> None:
    _, below, above = PressingPrior().vectors(glass=True)
    assert below[0] > 5.0 * above[0]


def test_a_coating_may_turn_yellow_but_hardly_blue() -> None:
    _, below, above = PressingPrior().vectors(glass=True)
    assert above[3] > 3.0 * below[3]


def test_glass_is_expected_to_mirror_the_room_and_a_matt_surface_is_not() -> None:
    glass, glass_spread, _ = PressingPrior().vectors(glass=True)
    matt, matt_spread, _ = PressingPrior().vectors(glass=False)
    assert glass[12] > matt[12] == 0.0
    assert glass_spread[12] > matt_spread[12]


def test_the_worse_the_card_reads_the_less_its_colours_are_trusted() -> None:
    sure = PressingPrior().informed(card_error=0.0, bleed=None)
    unsure = PressingPrior().informed(card_error=2.0, bleed=None)
    _, narrow, _ = sure.vectors(glass=True)
    _, wide, _ = unsure.vectors(glass=True)
    assert sure == PressingPrior()
    assert (wide[10:12] > narrow[10:12]).all()
    assert np.array_equal(np.delete(wide, [10, 11]), np.delete(narrow, [10, 11]))


def test_a_measured_bleed_takes_the_place_of_the_guess() -> None:
    mean, spread, _ = PressingPrior().informed(card_error=1.0, bleed=(0.04, 0.01)).vectors(glass=True)
    assert (mean[16], spread[16]) == (0.04, 0.01)


def test_a_bleed_measured_below_zero_is_taken_as_none() -> None:
    assert PressingPrior().informed(card_error=1.0, bleed=(-0.02, 0.01)).bleed == 0.0
