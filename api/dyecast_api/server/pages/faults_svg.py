"""The piece with its faults marked and numbered, as in the report: shapes differ, not only colours."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup, escape

from dyecast_api.server.pages.document_words import fault_name

LONG_SIDE: Final = 600.0
"""Units of the drawing along the picture's longer side."""

MARK: Final = 0.045
"""Half the size of a number's shape, as a share of the shorter side."""


def marked_faults(document: Mapping[str, Any], picture: str) -> Markup:
    """Draw the piece at address `picture` with its faults numbered; nothing without faults or size."""
    faults, piece = document.get("faults") or (), document.get("piece") or {}
    if not faults or not piece.get("width_mm") or not piece.get("height_mm"):
        return Markup()
    scale = LONG_SIDE / max(piece["width_mm"], piece["height_mm"])
    width, height = scale * piece["width_mm"], scale * piece["height_mm"]
    named = "; ".join(
        f"{number} {fault_name(fault).lower()}, {fault['where']}" for number, fault in enumerate(faults, 1)
    )
    caption = escape(f"The piece with its faults: {named}.")
    marks = "".join(_mark(number, fault["place"], width, height) for number, fault in enumerate(faults, 1))
    return Markup(
        f'<figure class="marked"><svg viewBox="0 0 {width:.1f} {height:.1f}" role="img" '
        f'aria-label="{caption}"><image href="{escape(picture)}" width="{width:.1f}" height="{height:.1f}" '
        f'preserveAspectRatio="none"/>{marks}</svg><figcaption>{caption}</figcaption></figure>'
    )


def _mark(number: int, place: Sequence[Sequence[float]], width: float, height: float) -> str:
    """Outline a place, twice so that it is seen on any ground, with its number beside its upper right."""
    size = MARK * min(width, height)
    corners = [(min(max(x, 0.0), 1.0) * width, min(max(y, 0.0), 1.0) * height) for x, y in place]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    outline = "".join(f'<polygon class="{kind}" points="{points}"/>' for kind in ("under", "over"))
    x = min(max((across for across, _ in corners), default=0.0) + size, width - 1.2 * size)
    y = max(min((down for _, down in corners), default=0.0), 1.2 * size)
    return (
        f'{outline}<g class="number"><circle cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}"/>'
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{1.5 * size:.1f}" text-anchor="middle" '
        f'dominant-baseline="central">{number}</text></g>'
    )
