"""What a batch's charts say together: has the process moved, which way, since which piece, where to look."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.batch.baseline import baseline_of
from dyecast_calibration.batch.change_point import Pattern
from dyecast_calibration.batch.chart_signals import Side
from dyecast_calibration.batch.drift import (
    BatchState,
    DriftFinding,
    Hint,
    Movement,
    Quantity,
    drift_finding,
    hint_for,
)
from dyecast_calibration.batch.drift_sentences import COMMON_PRACTICE, HINT_SENTENCES, drift_sentences
from dyecast_calibration.batch.ewma_chart import EwmaChart, ewma_chart
from dyecast_calibration.batch.series import measured_series
from house.source_tree import ROOT

FRACTION, COLOUR, VEIL, YELLOWING = (
    Quantity.TRANSFERRED_FRACTION,
    Quantity.DELTA_E_TO_FIRST_PIECE,
    Quantity.VEIL,
    Quantity.COATING_YELLOWING,
)
USUAL = {FRACTION: (0.95, 0.02), COLOUR: (1.5, 0.3), VEIL: (0.03, 0.005), YELLOWING: (1.0, 0.4)}
"""Centre and scatter of a steady process in these stories."""
STEADY, MOVED = 20, 20
"""Pieces before and after the change."""

Course = NDArray[np.float64]
STEP: Course = np.repeat([0.0, 1.0], [STEADY, MOVED])
SLIDE: Course = np.concatenate([np.zeros(STEADY), np.arange(1, MOVED + 1) / MOVED])
STAYS: Course = np.zeros(STEADY + MOVED)


def chart_of(quantity: Quantity, course: Course, size: float, seed: int = 5) -> EwmaChart:
    """Return the chart of a batch that follows a course to `size` scatters from its centre, in noise."""
    centre, scatter = USUAL[quantity]
    generator = np.random.default_rng([seed, list(Quantity).index(quantity)])
    values = centre + scatter * (size * course + generator.normal(0, 1, course.size))
    hours = (0.1 * np.arange(course.size)).tolist()
    series = measured_series(values.tolist(), scatter / 4, hours=hours)
    return ewma_chart(series, baseline_of(series))


def batch(**moves: tuple[Course, float]) -> DriftFinding:
    """Return the finding for a batch in which the named quantities move and the others stay."""
    charts = {
        quantity: chart_of(quantity, *moves.get(quantity.name.lower(), (STAYS, 0.0))) for quantity in Quantity
    }
    return drift_finding(charts)


def story(finding: DriftFinding) -> str:
    return " ".join(drift_sentences(finding))


def test_a_steady_batch_is_called_steady() -> None:
    finding = batch()
    assert finding == DriftFinding(BatchState.STEADY, (), Hint.NONE, provisional=False)
    assert story(finding) == "The process is steady: no chart shows a lasting move."


def test_ink_that_falls_slowly_points_at_pressure_pad_or_a_cooler_press() -> None:
    finding = batch(transferred_fraction=(SLIDE, -6.0))
    (movement,) = finding.movements
    assert (movement.quantity, movement.side, movement.pattern) == (FRACTION, Side.BELOW, Pattern.TREND)
    assert movement.since_piece == pytest.approx(21, abs=4)
    assert movement.size == pytest.approx(-0.12, abs=3 * movement.standard_uncertainty)
    assert finding.hint is Hint.PRESSING_WEAKER
    assert "has fallen by" in story(finding)
    assert "percentage points since about piece" in story(finding)
    assert "pad is worn" in story(finding)


def test_ink_that_rises_slowly_points_at_a_press_that_heats_up() -> None:
    finding = batch(transferred_fraction=(SLIDE, 6.0))
    assert finding.hint is Hint.PRESS_HEATING_UP
    assert "has risen by" in story(finding)


def test_a_coating_that_yellows_while_ink_fades_is_heat_and_not_weak_pressing() -> None:
    finding = batch(transferred_fraction=(SLIDE, -6.0), coating_yellowing=(SLIDE, 6.0))
    assert finding.hint is Hint.PRESS_HEATING_UP


@pytest.mark.parametrize("quantity", ["transferred_fraction", "delta_e_to_first_piece"])
def test_a_step_between_two_pieces_points_at_what_was_changed_there(quantity: str) -> None:
    finding = batch(**{quantity: (STEP, 4.0)})
    (movement,) = finding.movements
    assert movement.pattern is Pattern.STEP
    assert movement.since_piece == pytest.approx(21, abs=1)
    assert movement.earliest_piece <= 21 <= movement.latest_piece
    assert movement.hours_since_start == pytest.approx(2.0, abs=0.11)
    assert finding.hint is Hint.MATERIAL_CHANGED
    assert "ink, paper, blanks" in story(finding)


@pytest.mark.parametrize("course", [STEP, SLIDE])
def test_a_veil_that_moves_alone_is_the_light_and_not_the_piece(course: Course) -> None:
    finding = batch(veil=(course, 5.0))
    assert finding.hint is Hint.LIGHT_CHANGED
    assert "not the piece" in story(finding)


def test_a_veil_that_moves_with_the_ink_wants_the_light_settled_first() -> None:
    assert batch(veil=(STEP, 5.0), transferred_fraction=(STEP, -5.0)).hint is Hint.SETTLE_LIGHT_FIRST


def test_colour_that_slides_alone_points_at_ink_or_coating() -> None:
    assert batch(delta_e_to_first_piece=(SLIDE, 6.0)).hint is Hint.COLOUR_DRIFTING


def test_one_last_piece_far_off_stands_out_and_is_no_drift() -> None:
    only_last = np.concatenate([np.zeros(STEADY + MOVED - 1), [1.0]])
    finding = batch(transferred_fraction=(only_last, -15.0))
    assert (finding.state, finding.hint) == (BatchState.PIECE_STANDS_OUT, Hint.LOOK_AT_PIECE)
    assert "below the usual at piece 40" in story(finding)


def test_a_process_that_came_back_is_steady_again() -> None:
    there_and_back = np.repeat([0.0, 1.0, 0.0], [20, 10, 60])
    chart = chart_of(FRACTION, there_and_back, -3.0)
    assert chart.signals
    assert drift_finding({FRACTION: chart}).state is BatchState.STEADY


def test_the_estimated_size_is_as_uncertain_as_it_says() -> None:
    findings = [drift_finding({FRACTION: chart_of(FRACTION, STEP, -4.0, seed)}) for seed in range(200)]
    scores = [
        (movement.size + 0.08) / movement.standard_uncertainty
        for finding in findings
        for movement in finding.movements
        if movement.pattern is Pattern.STEP
    ]
    assert len(scores) > 180
    assert np.sqrt(np.mean(np.square(scores))) == pytest.approx(1, abs=0.25)


def test_a_steady_batch_held_against_its_own_first_pieces_is_seldom_called_moved() -> None:
    states = [drift_finding({FRACTION: chart_of(FRACTION, STAYS, 0.0, seed)}).state for seed in range(400)]
    assert np.mean([state is not BatchState.STEADY for state in states]) < 0.03


def test_a_slow_slide_is_seldom_taken_for_a_step_nor_a_step_for_a_slide() -> None:
    slides = [drift_finding({FRACTION: chart_of(FRACTION, SLIDE, -3.0, seed)}).hint for seed in range(200)]
    steps = [drift_finding({FRACTION: chart_of(FRACTION, STEP, -2.0, seed)}).hint for seed in range(200)]
    assert np.mean([hint is Hint.MATERIAL_CHANGED for hint in slides]) < 0.12
    assert np.mean([hint is Hint.PRESSING_WEAKER for hint in steps]) < 0.05


def test_limits_of_a_young_batch_are_said_to_be_provisional() -> None:
    series = measured_series([0.95, 0.94, 0.96, 0.95, 0.93, 0.96, 0.95, 0.94], 0.01)
    finding = drift_finding({FRACTION: ewma_chart(series, baseline_of(series))})
    assert finding.provisional
    assert story(finding).endswith("they come from few pieces.")


def movement(quantity: Quantity, pattern: Pattern, side: Side) -> Movement:
    size = 1.0 if side is Side.ABOVE else -1.0
    return Movement(quantity, side, pattern, 21, 19, 24, 40, 2.0, size, 0.1)


@pytest.mark.parametrize("quantity", [FRACTION, COLOUR, YELLOWING])
@pytest.mark.parametrize("side", Side)
def test_what_may_be_a_step_or_a_slide_gets_both_hints(quantity: Quantity, side: Side) -> None:
    assert hint_for((movement(quantity, Pattern.UNCLEAR, side),)) is Hint.CAUSE_UNCLEAR


@pytest.mark.parametrize("quantity", Quantity)
@pytest.mark.parametrize("pattern", Pattern)
@pytest.mark.parametrize("side", Side)
def test_every_movement_has_a_sentence_and_a_hint_marked_as_common_practice(
    quantity: Quantity, pattern: Pattern, side: Side
) -> None:
    moved = (movement(quantity, pattern, side),)
    finding = DriftFinding(BatchState.MOVED, moved, hint_for(moved), provisional=False)
    assert finding.hint in HINT_SENTENCES
    state, told, hint, source = drift_sentences(finding)
    assert state == "The process has moved."
    assert "since about piece 21 (between 19 and 24), 2.0 h after the batch began" in told
    assert hint == HINT_SENTENCES[finding.hint]
    assert source == COMMON_PRACTICE


def test_every_hint_but_none_has_a_sentence() -> None:
    assert set(HINT_SENTENCES) == set(Hint) - {Hint.NONE}


@pytest.mark.parametrize("code", [*BatchState, *Hint], ids=str)
def test_the_readme_explains_what_a_batchs_charts_say(code: str) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert code is Hint.NONE or f"| `{code}` |" in readme


def test_no_chart_at_all_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="at least one chart"):
        drift_finding({})
