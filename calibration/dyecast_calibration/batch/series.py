"""One quantity measured on the pieces of a batch, in the order they were pressed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dyecast_shared.errors import BatchInvalid


@dataclass(frozen=True, slots=True)
class MeasuredSeries:
    """One quantity, one value a piece; every field has the same length, at least one.

    Attributes
    ----------
    values
        Finite, in the quantity's own unit.
    standard_uncertainties
        Finite, zero or more, same unit: the part of each value's uncertainty that differs from photo to
        photo. What all photos of the batch share (the card's colours, say) moves no piece against another.
    piece_numbers
        Whole numbers, strictly increasing; gaps are pieces that were not inspected.
    hours
        When each piece was pressed, hours since the batch began; finite, never decreasing.

    Raises
    ------
    BatchInvalid
        The fields are empty, of different lengths, not finite, negative where they may not be, or out of
        order.
    """

    values: tuple[float, ...]
    standard_uncertainties: tuple[float, ...]
    piece_numbers: tuple[int, ...]
    hours: tuple[float, ...]

    def __post_init__(self) -> None:
        self._check_lengths()
        for numbers, name in (
            (self.values, "The value"),
            (self.standard_uncertainties, "The uncertainty"),
            (self.hours, "The time"),
        ):
            self._check_finite(numbers, name)
        self._check_uncertainties()
        self._check_order()

    def __len__(self) -> int:
        return len(self.values)

    def _check_lengths(self) -> None:
        lengths = {
            len(self.values),
            len(self.standard_uncertainties),
            len(self.piece_numbers),
            len(self.hours),
        }
        if lengths == {0}:
            raise BatchInvalid(
                "No piece of this batch has been measured yet.", advice="Inspect a piece first."
            )
        if len(lengths) > 1:
            raise BatchInvalid("There are not as many uncertainties, piece numbers or times as values.")

    def _check_finite(self, numbers: Sequence[float], name: str) -> None:
        for number, piece in zip(numbers, self.piece_numbers, strict=True):
            if not math.isfinite(number):
                raise BatchInvalid(f"{name} of piece {piece} is no finite number.")

    def _check_uncertainties(self) -> None:
        for uncertainty, piece in zip(self.standard_uncertainties, self.piece_numbers, strict=True):
            if uncertainty < 0:
                raise BatchInvalid(f"The uncertainty of piece {piece} is negative.")

    def _check_order(self) -> None:
        for before, after in zip(self.piece_numbers, self.piece_numbers[1:], strict=False):
            if after <= before:
                raise BatchInvalid(
                    f"Piece {after} follows piece {before}: a batch counts its pieces upwards, each once."
                )
        for earlier, later, piece in zip(self.hours, self.hours[1:], self.piece_numbers[1:], strict=False):
            if later < earlier:
                raise BatchInvalid(
                    f"Piece {piece} is earlier than the piece before it.",
                    advice="Check whether a clock was set back, and correct the time of that piece.",
                )


def measured_series(
    values: Sequence[float],
    standard_uncertainties: Sequence[float] | float = 0.0,
    *,
    piece_numbers: Sequence[int] | None = None,
    hours: Sequence[float] | None = None,
) -> MeasuredSeries:
    """Return a series from any sequences; one uncertainty serves all pieces.

    Pieces are numbered from 1 and all times are 0 unless given. Raises BatchInvalid as `MeasuredSeries` does.
    """
    count = len(values)
    if isinstance(standard_uncertainties, int | float):
        standard_uncertainties = [standard_uncertainties] * count
    return MeasuredSeries(
        tuple(float(value) for value in values),
        tuple(float(uncertainty) for uncertainty in standard_uncertainties),
        tuple(range(1, count + 1)) if piece_numbers is None else tuple(piece_numbers),
        (0.0,) * count if hours is None else tuple(float(hour) for hour in hours),
    )
