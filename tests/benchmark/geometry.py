"""How well card and piece are found: corners against the truth, in pixels and in millimetres."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmark.inspected import Answer
from benchmark.photo_cases import PhotoCase, carried, rectangle
from benchmark.tables import Table, spread

REGISTERED_MM = 0.5
"""A piece whose worst corner is off by no more than this counts as registered (the task's definition)."""

FOUND_SHARE = 0.2
"""A card or piece counts as found when its worst corner is off by no more than this share of its diagonal."""


def corner_error(found: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    """Largest distance of the four corners, in the unit of the corners."""
    return float(np.linalg.norm(np.asarray(found) - true, axis=1).max())


def card_error_px(case: PhotoCase, answer: Answer) -> float | None:
    """Worst corner of the card in pixels, or None where it was not found or is not there."""
    true = case.card_corners()
    if true is None or answer.card_corners is None:
        return None
    return corner_error(answer.card_corners, true)


def piece_error_px(case: PhotoCase, answer: Answer) -> float | None:
    """Worst corner of the artwork on the piece in pixels, or None where it was not found."""
    if answer.piece_corners is None:
        return None
    return corner_error(answer.piece_corners, case.artwork_corners())


def piece_error_mm(case: PhotoCase, answer: Answer) -> float | None:
    """Worst corner of the artwork in millimetres on the piece, or None where it was not found.

    The true corners say how the printed layer lies in the photo, so the found corners are carried through
    the inverse of that homography: perspective and the glass's refraction are accounted for.
    """
    if answer.piece_corners is None:
        return None
    width, height = case.size_mm
    on_piece = carried(np.asarray(answer.piece_corners), case.piece_corners(), rectangle(width, height))
    return corner_error(on_piece, rectangle(width, height, case.border_mm))


def on_whole_piece_mm(case: PhotoCase, answer: Answer) -> float | None:
    """The same against the corners of the whole piece, border included (equal without a border)."""
    if answer.piece_corners is None:
        return None
    width, height = case.size_mm
    on_piece = carried(np.asarray(answer.piece_corners), case.piece_corners(), rectangle(width, height))
    return corner_error(on_piece, rectangle(width, height))


def found(error_px: float | None, true: NDArray[np.float64]) -> bool:
    """Tell whether what was found is the thing at all."""
    diagonal = float(np.linalg.norm(true[2] - true[0]))
    return error_px is not None and error_px <= FOUND_SHARE * diagonal


def pixels_per_mm(case: PhotoCase) -> float:
    """Photo pixels per millimetre on the piece, mean over its area."""
    area = cv2.contourArea(case.piece_corners().astype(np.float32))
    width, height = case.size_mm
    return float(np.sqrt(area / (width * height)))


def geometry_summary(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Summarise corner errors over the clear photos."""
    pairs = list(zip(cases, answers, strict=True))
    card = [card_error_px(*pair) for pair in pairs]
    piece_px = [piece_error_px(*pair) for pair in pairs]
    piece_mm = [piece_error_mm(*pair) for pair in pairs]
    whole_mm = [on_whole_piece_mm(*pair) for pair in pairs]
    card_found = [found(error, known_corners(case)) for case, error in zip(cases, card, strict=True)]
    piece_found = [found(error, case.artwork_corners()) for case, error in zip(cases, piece_px, strict=True)]
    registered = [error is not None and error <= REGISTERED_MM for error in piece_mm]
    rows = (
        error_row("card corners, px", card, card_found),
        error_row("artwork corners, px", piece_px, piece_found),
        error_row("artwork corners, mm", piece_mm, piece_found),
        error_row("against the whole piece's corners, mm", whole_mm, piece_found),
        (
            f"registered to {REGISTERED_MM} mm",
            sum(registered),
            sum(registered) / len(cases),
            None,
            None,
            None,
        ),
    )
    note = "Per photo the worst of four corners. The share is of all clear photos; errors are of those found."
    return Table("Geometry", ("what", "found", "share", "median", "p95", "worst"), rows, note)


def error_row(
    name: str, errors: Sequence[float | None], is_found: Sequence[bool]
) -> tuple[str, int, float, float, float, float]:
    """One line: how many were found, and the errors of those."""
    lying = spread(
        [error for error, member in zip(errors, is_found, strict=True) if member and error is not None]
    )
    return name, lying.count, lying.count / max(1, len(errors)), lying.median, lying.p95, lying.worst


def known_corners(case: PhotoCase) -> NDArray[np.float64]:
    """The card's true corners; a clear photo has them."""
    corners = case.card_corners()
    if corners is None:
        raise ValueError(f"{case.name} has no card")
    return corners


def geometry_table(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Corner errors by photo."""
    rows = tuple(
        (
            case.name, case.truth["artwork"]["name"], case.truth["piece"]["shape"], case.border_mm,
            pixels_per_mm(case), card_error_px(case, answer), piece_error_px(case, answer),
            piece_error_mm(case, answer), answer.trouble[:80],
        )
        for case, answer in zip(cases, answers, strict=True)
    )  # fmt: skip
    columns = (
        "photo",
        "artwork",
        "shape",
        "border mm",
        "px/mm",
        "card px",
        "artwork px",
        "artwork mm",
        "trouble",
    )
    return Table("Geometry by photo", columns, rows)
