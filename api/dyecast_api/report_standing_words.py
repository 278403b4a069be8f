"""What stands on every report, whatever was found: the name, the dangers, how to take a photo."""

from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.version import SOFTWARE

WORDMARK: Final = (
    '<div class="wordmark"><svg viewBox="0 0 32 32" aria-hidden="true">'
    '<circle cx="16" cy="11" r="9" fill="#00a0c8"/><circle cx="10.5" cy="20.5" r="9" fill="#d81b78" '
    'fill-opacity=".82"/><circle cx="21.5" cy="20.5" r="9" fill="#f2c400" fill-opacity=".82"/></svg>'
    "<b>dyecast</b></div>"
)
"""The name beside three overlapping spots of dye."""

PHOTO_STEPS: Final = (
    "Lay the card flat beside the piece, both on the same surface, close but not touching.",
    "Use one even light. Switch the flash off and keep shadows off card and piece.",
    "Look at the piece from where the phone will be: turn it, or move, until no lamp or window mirrors "
    "in it.",
    "Hold the phone level above them, with the whole card and the whole piece in the frame.",
    "Tap the piece to focus, hold still, and send the photo as the phone wrote it.",
)
"""How to take a photo that can be judged. Common practice, no published source."""

SAFETY: Final = (
    "The press works near 200 °C and stays hot after it is switched off: heat-proof gloves, sleeves down, "
    "nobody else's hands near it.",
    "Glass keeps its heat and may break when it is heated or cooled quickly, or pressed unevenly: let it "
    "cool where nobody touches it, and protect your eyes.",
    "Transfer paper, inks and coatings give off fumes when heated: air the room.",
    "Small loose magnets are dangerous when swallowed: keep them from children, and if one is missing and "
    "may have been swallowed, get medical help at once.",
    "Where these words and the sheets of the suppliers of press, blank, ink or paper differ, follow the "
    "sheets.",
)
"""The safety words at the foot of every page."""


def page_footer() -> str:
    """Show the dangers of the press, and which program and colour system the figures come from."""
    items = "".join(f"<li>{html_text(sentence)}</li>" for sentence in SAFETY)
    return (
        f'<div class="safety"><h2>\u26a0\ufe0e Safety at the press</h2><ul>{items}</ul></div>'
        f'<p class="quiet">Written by {html_text(SOFTWARE)}. Colours: CIELAB and CIEDE2000 (\u0394E00), D50, '
        "2 degree observer. How this page looks depends on the screen; the numbers do not.</p>"
    )
