"""The parts of a report that hold the piece against the artwork: pictures, differences, main colours.

Each function returns one HTML section, or an empty string when there is nothing to show.
"""

from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.plain_words import REFERENCE_WORDS, number_words, percent_words, signed_words
from dyecast_api.report_pictures import ReportPicture, ReportPictures
from dyecast_api.report_scale import scale_marks, scale_numbers
from dyecast_inspect.inspection import ColourDifference, Inspection, Reference, RegionDifference
from dyecast_shared.encodings import lab_to_srgb8

SWATCH_NAMES: Final = {Reference.ARTWORK: "artwork", Reference.APPROVED_PIECE: "approved"}
"""What stands over the first of two swatches."""

UNCHANGED_WORDS: Final = {
    Reference.ARTWORK: "As the artwork asks.",
    Reference.APPROVED_PIECE: "As on the approved piece.",
}
"""What is said of a colour that does not differ."""

NOTICEABLE: Final = 1.0
"""Difference in L*, C* or H* below which the words leave it out; about one just noticeable CIELAB unit
(common practice, no published source)."""


def pictures_section(
    pictures: ReportPictures | None,
    compared_with: Reference = Reference.ARTWORK,
    difference: ColourDifference | None = None,
) -> str:
    """Show the piece beside what it was compared with, and the map of differences with its marked scale."""
    if pictures is None:
        return ""
    return (
        f"<section><h2>The piece beside {REFERENCE_WORDS[compared_with]}</h2>"
        f'<div class="pictures">{_figure("Piece", pictures.piece)}'
        f"{_figure(compared_with.value.capitalize(), pictures.intended)}"
        f"{_figure('Where they differ', pictures.difference_map, style='map')}{_scale(pictures, difference)}"
        "</div></section>"
    )


def _figure(title: str, picture: ReportPicture, style: str = "") -> str:
    return (
        f'<figure class="{style}"><h3>{html_text(title)}</h3>{_image(picture)}'
        f"<figcaption>{html_text(picture.caption)}</figcaption></figure>"
    )


def _image(picture: ReportPicture) -> str:
    return (
        f'<img src="{picture.data_uri}" width="{picture.width}" height="{picture.height}" '
        f'alt="{html_text(picture.alternative)}">'
    )


def _scale(pictures: ReportPictures, difference: ColourDifference | None) -> str:
    return (
        '<figure class="scale"><h3>Colour difference \u0394E00</h3>'
        f"{_image(pictures.scale)}{scale_numbers()}{scale_marks(difference)}"
        "<figcaption>Dark blue: no difference. Pale yellow: 10 or more. "
        f'<span class="key">{_image(pictures.not_judged)}Grey stripes: not judged (outside the piece, '
        "covered, hidden by glare, or too near an edge).</span></figcaption></figure>"
    )


def difference_section(inspection: Inspection) -> str:
    """Show CIEDE2000 against the artwork in large figures, other comparisons below, and what they mean."""
    difference = inspection.delta_e_2000
    if difference is None:
        return ""
    others = _other_difference("the approved piece", inspection.delta_e_2000_approved)
    if inspection.shop is not None:
        others += _other_difference(
            "the look of this shop's approved pieces, where an error of the card cancels",
            inspection.shop.delta_e_2000,
        )
    others += _other_difference(
        "the artwork as the printer's profile can reach it", inspection.delta_e_2000_printer
    )
    return (
        f"<section><h2>Colour difference from {REFERENCE_WORDS[inspection.compared_with]}</h2>"
        f'<dl class="totals">{_total("Mean", difference.mean)}{_total("Median", difference.median)}'
        f"{_total('95 % below', difference.p95)}</dl>"
        + (f'<ul class="other-totals">{others}</ul>' if others else "")
        + "</section>"
    )


def _total(name: str, value: float) -> str:
    return f'<div><dt>{name}</dt><dd class="figure-large">{number_words(value)}</dd></div>'


def _other_difference(against: str, difference: ColourDifference | None) -> str:
    if difference is None:
        return ""
    words = (
        f"Against {against}: mean {number_words(difference.mean)}, "
        f"median {number_words(difference.median)}, 95 % below {number_words(difference.p95)}."
    )
    return f"<li>{html_text(words)}</li>"


def colours_section(
    regions: tuple[RegionDifference, ...], compared_with: Reference = Reference.ARTWORK
) -> str:
    """Show the main colours, intended beside measured, and how they differ."""
    if not regions:
        return ""
    items = "".join(_colour(region, compared_with) for region in regions)
    return f'<section><h2>The main colours</h2><ul class="colours">{items}</ul></section>'


def _colour(region: RegionDifference, compared_with: Reference) -> str:
    share = percent_words(region.area_share)
    return (
        f"<li><div>{_swatches(region, compared_with)}</div>"
        f"<div><h3>{html_text(region.name)}: \u0394E00 {number_words(region.delta_e_2000)}</h3>"
        f"<p>{html_text(colour_change_words(region, compared_with))}</p>"
        f'<p class="deltas"><span>\u0394L* {signed_words(region.delta_lightness)}</span>'
        f"<span>\u0394C* {signed_words(region.delta_chroma)}</span>"
        f"<span>\u0394H* {signed_words(region.delta_hue)}</span></p>"
        f'<p class="quiet">{share} of the judged area</p></div></li>'
    )


def _swatches(region: RegionDifference, compared_with: Reference) -> str:
    intended, measured = swatch_colour(region.intended_lab), swatch_colour(region.measured_lab)
    return (
        '<div class="swatches" aria-hidden="true">'
        f'<i style="background:{intended}"></i><i style="background:{measured}"></i></div>'
        f'<div class="swatch-names"><span>{SWATCH_NAMES[compared_with]}</span><span>piece</span></div>'
    )


def swatch_colour(lab: tuple[float, float, float]) -> str:
    """Return CIELAB (D50, 2 degree) as a CSS colour in sRGB, clipped to what a screen can show."""
    red, green, blue = lab_to_srgb8(lab).tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def colour_change_words(region: RegionDifference, compared_with: Reference = Reference.ARTWORK) -> str:
    """Say how a colour differs from the intended one: lighter or darker, duller or stronger, which hue."""
    changes = []
    if abs(region.delta_lightness) >= NOTICEABLE:
        changes.append("lighter" if region.delta_lightness > 0 else "darker")
    if abs(region.delta_chroma) >= NOTICEABLE:
        changes.append("more colourful" if region.delta_chroma > 0 else "less colourful")
    if abs(region.delta_hue) >= NOTICEABLE:
        changes.append(_hue_change_word(region))
    return f"{', '.join(changes).capitalize()}." if changes else UNCHANGED_WORDS[compared_with]


def _hue_change_word(region: RegionDifference) -> str:
    """Name the a*, b* direction in which the hue turned: at right angles to the mean hue, CIELAB."""
    red = region.intended_lab[1] + region.measured_lab[1]
    yellow = region.intended_lab[2] + region.measured_lab[2]
    to_red, to_yellow = -yellow * region.delta_hue, red * region.delta_hue
    if abs(to_red) >= abs(to_yellow):
        return "redder" if to_red > 0 else "greener"
    return "yellower" if to_yellow > 0 else "bluer"
