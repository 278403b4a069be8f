"""Say in plain sentences what a batch's charts found.

All sentences stand in this file, ready for translation. Times and temperatures are never given: the blank
supplier's sheet comes first.
"""

from typing import Final

from dyecast_calibration.batch.change_point import Pattern
from dyecast_calibration.batch.chart_signals import Side
from dyecast_calibration.batch.drift import BatchState, DriftFinding, Hint, Movement, Quantity

COMMON_PRACTICE: Final = "Common practice, no published source."
"""What is said beside every hint."""

HINT_SENTENCES: Final = {
    Hint.LOOK_AT_PIECE: "Look at this piece and photograph it again before you change anything.",
    Hint.LIGHT_CHANGED: (
        "Only the light on the surface changed, not the piece: look whether the lamp, the window or the "
        "camera's place is another, and put it back."
    ),
    Hint.SETTLE_LIGHT_FIRST: (
        "The light on the surface changed too, and a veil can look like pale ink: put the light or the "
        "camera back as it was, photograph the last piece again, and judge then."
    ),
    Hint.MATERIAL_CHANGED: (
        "It changed between two pieces: look whether ink, paper, blanks, printer settings or the press's "
        "settings were changed there."
    ),
    Hint.PRESSING_WEAKER: (
        "Less ink arrives, little by little: look whether the pressure has fallen, the pad is worn, or the "
        "press has become cooler."
    ),
    Hint.PRESS_HEATING_UP: (
        "The pressing grows stronger, little by little: look whether the press, its lower plate or the pad "
        "is still heating up, and let it settle before you go on."
    ),
    Hint.COLOUR_DRIFTING: (
        "The colour slides while the amount of ink stays: look for a nozzle that clogs, ink that runs low, "
        "or a coating that begins to yellow."
    ),
    Hint.CAUSE_UNCLEAR: (
        "It cannot be told yet whether it came at once or little by little: look at what was changed, at the "
        "pressure and at the press's temperature, and inspect the next piece as well."
    ),
}
"""Where to look first; each is common practice, no published source."""

_NAMES: Final = {
    Quantity.TRANSFERRED_FRACTION: "The share of the intended ink that arrives",
    Quantity.DELTA_E_TO_FIRST_PIECE: "The colour difference from the first piece (CIEDE2000)",
    Quantity.VEIL: "The light that the surface mirrors",
    Quantity.COATING_YELLOWING: "The coating's b* (yellowness)",
}

_IN_PERCENT: Final = frozenset({Quantity.TRANSFERRED_FRACTION, Quantity.VEIL})

_COURSE: Final = {
    Pattern.STEP: "in one step",
    Pattern.TREND: "little by little",
    Pattern.UNCLEAR: "either at once or little by little",
}


def drift_sentences(finding: DriftFinding) -> tuple[str, ...]:
    """Return the sentences for a finding: the state, each movement, the hint, and how far to trust it."""
    sentences = [_STATES[finding.state], *map(_movement_sentence, finding.movements)]
    if finding.hint in HINT_SENTENCES:
        sentences += [HINT_SENTENCES[finding.hint], COMMON_PRACTICE]
    if finding.provisional:
        sentences.append("The limits are provisional: they come from few pieces.")
    return tuple(sentences)


_STATES: Final = {
    BatchState.STEADY: "The process is steady: no chart shows a lasting move.",
    BatchState.PIECE_STANDS_OUT: "The last piece stands out; the next one shows whether the process moved.",
    BatchState.MOVED: "The process has moved.",
}


def _movement_sentence(movement: Movement) -> str:
    size = _quantity_text(movement)
    if movement.single_piece:
        place = "above" if movement.side is Side.ABOVE else "below"
        return f"{_NAMES[movement.quantity]} is {size} {place} the usual at piece {movement.last_piece}."
    verb = "risen" if movement.side is Side.ABOVE else "fallen"
    return (
        f"{_NAMES[movement.quantity]} has {verb} by {size} since {_since(movement)}, "
        f"{movement.hours_since_start:.1f} h after the batch began, {_COURSE[movement.pattern]}."
    )


def _since(movement: Movement) -> str:
    earliest, latest = movement.earliest_piece, movement.latest_piece
    if earliest == latest:
        return f"piece {movement.since_piece}"
    return f"about piece {movement.since_piece} (between {earliest} and {latest})"


def _quantity_text(movement: Movement) -> str:
    """Return the size with its standard uncertainty, in the quantity's unit."""
    size, uncertainty = abs(movement.size), movement.standard_uncertainty
    if movement.quantity in _IN_PERCENT:
        return f"{100 * size:.1f} ± {100 * uncertainty:.1f} percentage points"
    return f"{size:.1f} ± {uncertainty:.1f}"
