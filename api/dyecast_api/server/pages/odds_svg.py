"""A bar for a probability, as a drawing: the page's style may not carry numbers."""

from markupsafe import Markup

WIDTH = 300
HEIGHT = 10


def odds_bar(share: float | None) -> Markup:
    """Draw a share of one as a filled part of a frame; the number stands beside it in words."""
    filled = round((WIDTH - 2) * min(max(share or 0.0, 0.0), 1.0), 1)
    return Markup(
        f'<svg class="odds-bar" viewBox="0 0 {WIDTH} {HEIGHT}" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect x="0.5" y="0.5" width="{WIDTH - 1}" height="{HEIGHT - 1}" fill="none" stroke="currentColor"/>'
        f'<rect x="1" y="1" width="{filled}" height="{HEIGHT - 2}" fill="currentColor"/></svg>'
    )
