"""What is known of a press before the first piece: distributions, each with its reason and source."""

import json
from importlib.resources import files
from typing import Any

import numpy as np
import pytest

from dyecast_calibration.press.arrhenius import arrhenius_factor
from dyecast_calibration.press.dye_uptake import dye_uptake
from dyecast_calibration.press.press_priors import (
    UNKNOWNS,
    drawn_parameters,
    parameters_at,
    press_priors,
    typical_parameters,
)


def written() -> dict[str, dict[str, Any]]:
    text = files("dyecast_calibration.press").joinpath("press_priors.json").read_text(encoding="utf-8")
    entries: dict[str, dict[str, Any]] = json.loads(text)["priors"]
    return entries


def share_within(name: str, low: float, high: float) -> float:
    values = np.asarray(getattr(drawn_parameters(20_000, np.random.default_rng(2)), name))
    return float(np.mean((values > low) & (values < high)))


@pytest.mark.parametrize("name", UNKNOWNS)
def test_a_prior_has_distribution_unit_reason_and_source(name: str) -> None:
    entry = written()[name]
    assert set(entry) == {"distribution", "centre", "spread", "unit", "reason", "source"}
    assert entry["distribution"] in ("normal", "lognormal")
    assert all(entry[part].strip() for part in ("unit", "reason", "source"))
    assert press_priors()[name].spread == entry["spread"] > 0.0


def test_the_file_holds_the_unknowns_and_nothing_else() -> None:
    assert tuple(written()) == UNKNOWNS


def test_the_typical_press_stands_at_the_centres() -> None:
    for name in UNKNOWNS:
        assert getattr(typical_parameters(), name) == pytest.approx(written()[name]["centre"])


def test_scores_count_standard_deviations() -> None:
    up = parameters_at(np.ones(len(UNKNOWNS)))
    assert up.platen_offset == pytest.approx(6.0)
    assert up.contact_scale == pytest.approx(2.0 * np.exp(0.35))
    assert np.shape(parameters_at(np.zeros((5, len(UNKNOWNS)))).dye_mobility) == (5,)
    with pytest.raises(ValueError, match="7 unknowns"):
        parameters_at(np.zeros(3))


def test_draws_are_the_same_for_the_same_generator_and_spread_as_stated() -> None:
    one, other = (drawn_parameters(4000, np.random.default_rng(1)) for _ in range(2))
    assert np.array_equal(one.dye_mobility, other.dye_mobility)
    assert np.std(np.log(one.dye_mobility)) == pytest.approx(0.6, rel=0.05)
    assert np.median(np.asarray(one.contact_scale)) == pytest.approx(2.0, rel=0.05)


def test_the_priors_reach_what_was_published() -> None:
    """Activation energies from 64 to 164 kJ/mol (sources in the data file) lie within two or so standard
    deviations; contacts from half to twice the centre within two; 200 °C for 2 min does not yellow
    polyester (lecture pages on thermofixation, secondary) for nine in ten."""
    assert 0.9 < share_within("dye_activation_energy", 64e3, 164e3) < 0.97
    assert 0.93 < share_within("contact_scale", 1.0, 4.0) < 0.97
    assert 0.87 < share_within("damage_rate", 0.0, 1.0 / 120.0) < 0.93


def test_the_reasons_quote_what_the_numbers_say() -> None:
    """0.14 per second takes 6 s to nine tenths; a minute at 210 °C is a damage of 0.6."""
    assert dye_uptake(6.0 * 0.14) == pytest.approx(0.9, abs=0.005)
    assert 60.0 * 0.005 * arrhenius_factor(483.15, 135e3) == pytest.approx(0.6, abs=0.02)
