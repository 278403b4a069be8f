"""The parts of a report that show evidence: pictures, differences, colours, figures, checks, card, notes.

Each function returns one HTML section, or an empty string when there is nothing to show.
"""

import math
from typing import Final

from dyecast_api.difference_scale import SCALE_TICKS
from dyecast_api.html_text import html_text
from dyecast_api.plain_words import MINUS, feature_lines, number_words, percent_words, signed_words
from dyecast_api.report_pictures import ReportPicture, ReportPictures
from dyecast_inspect.inspection import (
    CardReport,
    ColourDifference,
    Inspection,
    PhotoCheck,
    PieceReport,
    PressFeatures,
    RegionDifference,
    Verdict,
)
from dyecast_shared.encodings import lab_to_srgb8

DIFFERENCE_MEANINGS: Final = (
    ("1", "Hardly seen, and only side by side: about half of observers see 0.8."),
    ("2", "Seen side by side; about half of observers no longer accept 1.8."),
    ("4", "Seen at a glance in even areas; above the 3.5 that offset printing allows its solid colours."),
)
"""What a CIEDE2000 of 1, 2 and 4 means. Sources: Paravina et al. 2015, 50:50 perceptibility 0.8 and
acceptability 1.8 (175 observers, dental shades); ISO 12647-2:2013, cyan, magenta and yellow solids 3.5."""

DIFFERENCE_SOURCES: Final = (
    "0.8 and 1.8: Paravina et al. 2015, 175 observers, tooth-coloured samples. 3.5: ISO 12647-2:2013. For "
    "comparison, ISO 12647-7:2016 allows a contract proof 2.5 on average and 5.0 at the 95th percentile. "
    "These explain the numbers; they are not the limits the verdict is made from."
)

NOTICEABLE: Final = 1.0
"""Difference in L*, C* or H* below which the words leave it out; about one just noticeable CIELAB unit
(common practice, no published source)."""

DYE_NAMES: Final = ("cyan", "magenta", "yellow")
TONE_NAMES: Final = ("highlights", "midtones", "shadows")


def pictures_section(pictures: ReportPictures | None) -> str:
    """Show the piece beside the artwork, and the map of differences with its numbered scale."""
    if pictures is None:
        return ""
    return (
        '<section><h2>The piece beside the artwork</h2><div class="pictures">'
        f"{_figure('Piece', pictures.piece)}{_figure('Artwork', pictures.intended)}"
        f"{_figure('Where they differ', pictures.difference_map, style='map')}{_scale(pictures)}"
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


def _scale(pictures: ReportPictures) -> str:
    numbers = "".join(f"<span>{tick}</span>" for tick in SCALE_TICKS[:-1])
    return (
        '<figure class="scale"><h3>Colour difference \u0394E00</h3>'
        f'{_image(pictures.scale)}<div class="numbers">{numbers}<span>{SCALE_TICKS[-1]}+</span></div>'
        "<figcaption>Dark blue: no difference. Pale yellow: 10 or more. "
        f'<span class="key">{_image(pictures.not_judged)}Grey stripes: not judged (outside the piece, hidden '
        "by glare, or too near an edge).</span></figcaption></figure>"
    )


def difference_section(inspection: Inspection) -> str:
    """Show CIEDE2000 against the artwork in large figures, other comparisons below, and what they mean."""
    difference = inspection.delta_e_2000
    if difference is None:
        return ""
    others = _other_difference("the approved piece", inspection.delta_e_2000_approved)
    others += _other_difference(
        "the artwork as the printer's profile can reach it", inspection.delta_e_2000_printer
    )
    return (
        "<section><h2>Colour difference from the artwork</h2>"
        f'<dl class="totals">{_total("Mean", difference.mean)}{_total("Median", difference.median)}'
        f"{_total('95 % below', difference.p95)}</dl>"
        + (f'<ul class="other-totals">{others}</ul>' if others else "")
        + f"{_meanings()}</section>"
    )


def _total(name: str, value: float) -> str:
    return f'<div><dt>{name}</dt><dd class="figure-large">{number_words(value)}</dd></div>'


def _other_difference(against: str, difference: ColourDifference | None) -> str:
    if difference is None:
        return ""
    return (
        f"<li>Against {html_text(against)}: mean {number_words(difference.mean)}, "
        f"median {number_words(difference.median)}, 95 % below {number_words(difference.p95)}.</li>"
    )


def _meanings() -> str:
    rows = "".join(
        f"<div><dt>{value}</dt><dd>{html_text(meaning)}</dd></div>" for value, meaning in DIFFERENCE_MEANINGS
    )
    return (
        f'<div class="meanings"><h3>What a difference of 1, 2 or 4 means</h3><dl>{rows}</dl>'
        f'<p class="quiet">{html_text(DIFFERENCE_SOURCES)}</p></div>'
    )


def colours_section(regions: tuple[RegionDifference, ...]) -> str:
    """Show the artwork's main colours, intended beside measured, and how they differ."""
    if not regions:
        return ""
    items = "".join(_colour(region) for region in regions)
    return f'<section><h2>The main colours</h2><ul class="colours">{items}</ul></section>'


def _colour(region: RegionDifference) -> str:
    share = percent_words(region.area_share)
    return (
        f"<li><div>{_swatches(region)}</div>"
        f"<div><h3>{html_text(region.name)}: \u0394E00 {number_words(region.delta_e_2000)}</h3>"
        f"<p>{html_text(colour_change_words(region))}</p>"
        f'<p class="deltas"><span>\u0394L* {signed_words(region.delta_lightness)}</span>'
        f"<span>\u0394C* {signed_words(region.delta_chroma)}</span>"
        f"<span>\u0394H* {signed_words(region.delta_hue)}</span></p>"
        f'<p class="quiet">{share} of the judged area</p></div></li>'
    )


def _swatches(region: RegionDifference) -> str:
    intended, measured = swatch_colour(region.intended_lab), swatch_colour(region.measured_lab)
    return (
        '<div class="swatches" aria-hidden="true">'
        f'<i style="background:{intended}"></i><i style="background:{measured}"></i></div>'
        '<div class="swatch-names"><span>artwork</span><span>piece</span></div>'
    )


def swatch_colour(lab: tuple[float, float, float]) -> str:
    """Return CIELAB (D50, 2 degree) as a CSS colour in sRGB, clipped to what a screen can show."""
    red, green, blue = lab_to_srgb8(lab).tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def colour_change_words(region: RegionDifference) -> str:
    """Say how a colour differs from the intended one: lighter or darker, duller or stronger, which hue."""
    changes = []
    if abs(region.delta_lightness) >= NOTICEABLE:
        changes.append("lighter" if region.delta_lightness > 0 else "darker")
    if abs(region.delta_chroma) >= NOTICEABLE:
        changes.append("more colourful" if region.delta_chroma > 0 else "less colourful")
    if abs(region.delta_hue) >= NOTICEABLE:
        changes.append(_hue_change_word(region))
    return f"{', '.join(changes).capitalize()}." if changes else "As the artwork asks."


def _hue_change_word(region: RegionDifference) -> str:
    """Name the a*, b* direction in which the hue turned: at right angles to the mean hue, CIELAB."""
    red = region.intended_lab[1] + region.measured_lab[1]
    yellow = region.intended_lab[2] + region.measured_lab[2]
    to_red, to_yellow = -yellow * region.delta_hue, red * region.delta_hue
    if abs(to_red) >= abs(to_yellow):
        return "redder" if to_red > 0 else "greener"
    return "yellower" if to_yellow > 0 else "bluer"


def figures_section(features: PressFeatures | None) -> str:
    """Show what was measured of the pressing, each with its uncertainty and what it is."""
    if features is None:
        return ""
    rows = "".join(_row(line.name, line.figure, line.meaning) for line in feature_lines(features))
    rows += _shares_row("Ink that arrived, by dye", features.transferred_by_dye, DYE_NAMES)
    rows += _shares_row("Ink that arrived, by tone", features.transferred_by_tone, TONE_NAMES)
    return (
        f'<section><h2>What was measured</h2><dl class="rows">{rows}</dl>'
        '<p class="quiet">The figure after \u00b1 is one standard uncertainty.</p></section>'
    )


def _row(name: str, figure: str, meaning: str = "") -> str:
    explained = f'<dd class="meaning">{html_text(meaning)}</dd>' if meaning else ""
    return f"<div><dt>{html_text(name)}</dt><dd>{html_text(figure)}</dd>{explained}</div>"


def _shares_row(name: str, shares: dict[str, float], order: tuple[str, ...]) -> str:
    known = [f"{key} {percent_words(shares[key])}" for key in order if key in shares]
    return _row(name, ", ".join(known)) if known else ""


def checks_section(checks: tuple[PhotoCheck, ...]) -> str:
    """Show each check of the photo with value and limit, failed ones first and with advice."""
    if not checks:
        return ""
    ordered = sorted(checks, key=lambda check: check.passed)
    items = "".join(_check(check) for check in ordered)
    return f'<section><h2>Checks of the photo</h2><ul class="checks">{items}</ul></section>'


def _check(check: PhotoCheck) -> str:
    mark, word, style = ("\u2713", "passed", "") if check.passed else ("\u2717", "failed", ' class="failed"')
    unit = f" {check.unit}" if check.unit else ""
    advice = f"<p>{html_text(check.advice)}</p>" if check.advice and not check.passed else ""
    return (
        f'<li{style}><span class="mark" aria-hidden="true">{mark}</span><div><div class="head">'
        f'<span class="name">{html_text(check.name)}: {word}</span>'
        f'<span class="figures">{_check_figure(check.value)}{html_text(unit)}, '
        f"limit {_check_figure(check.limit)}{html_text(unit)}</span></div>{advice}</div></li>"
    )


def _check_figure(value: float) -> str:
    """Say a check's number with at most three figures, whole from 100 on."""
    if not math.isfinite(value) or abs(value) >= 100.0:
        return number_words(value, 0)
    return f"{value:.3g}".replace("-", MINUS)


def card_section(inspection: Inspection) -> str:
    """Say which card was seen, how far its colours are to be trusted, and how the piece was matched."""
    card, piece = inspection.card, inspection.piece
    rows = _card_rows(card) if card is not None else ""
    if piece is not None and inspection.verdict is not Verdict.RETAKE:
        rows += _piece_rows(piece)
    if not rows:
        return ""
    return f'<section><h2>Card and piece</h2><dl class="rows">{rows}</dl></section>'


def _card_rows(card: CardReport) -> str:
    rows = _row("Card", f"{card.layout}, edition {card.edition}")
    rows += _row("Trust in the card's colours", card.trust)
    rows += _row(
        "The card's own test",
        f"\u0394E00 {number_words(card.leave_one_out_mean)} mean, "
        f"{number_words(card.leave_one_out_p95)} at 95 %",
        "each patch predicted from all the others: what the correction itself is uncertain by",
    )
    rows += _row("Correction", card.correction)
    if card.missing_markers:
        rows += _row("Markers not seen", ", ".join(str(marker) for marker in card.missing_markers))
    if card.left_out_patches:
        rows += _row("Patches left out", "; ".join(reason.sentence for reason in card.left_out_patches))
    return rows


def _piece_rows(piece: PieceReport) -> str:
    size = f"{number_words(piece.width_mm, 0)} mm × {number_words(piece.height_mm, 0)} mm"
    rows = _row("Piece", size + (", mirrored" if piece.mirrored else ""))
    rows += _row("Matched with the artwork within", f"{number_words(piece.registration_mm, 2)} mm")
    return rows + _row("Hidden by glare or an object", percent_words(piece.hidden_share))


def notes_section(notes: tuple[str, ...]) -> str:
    """Show what else a user should know about how the photo was read."""
    if not notes:
        return ""
    items = "".join(f"<li>{html_text(note)}</li>" for note in notes)
    return f'<section><h2>Notes</h2><ul class="notes">{items}</ul></section>'
