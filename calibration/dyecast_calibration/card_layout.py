"""The reference card as data: where its markers, patches, white areas and ruler lie.

All lengths are millimetres; the origin is the card's top-left corner, x runs right and y runs down.
A layout is a JSON file; the ones that ship with dyecast are told apart by the ids of their markers.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from itertools import combinations
from pathlib import Path
from typing import Any

from dyecast_calibration.json_fields import (
    field_of,
    flag_field,
    integer_field,
    length_field,
    list_field,
    number_field,
    read_json_record,
    record_of,
    srgb_field,
    text_field,
    triple_of,
)
from dyecast_shared.errors import CardFileInvalid

CORNERS = ("top_left", "top_right", "bottom_right", "bottom_left")
"""The corners a marker can stand in, clockwise from the top left as the card is read."""

SHIPPED_LAYOUTS = ("a6", "pocket")
"""The layouts in the folder `cards`, in the order `known_layouts` gives them."""

RULER_DEPTH_MM = 3.0
"""What a ruler takes up below its y: the length of its first and last tick."""

TOUCHING_MM = 1e-6
"""Rectangles that share less than this many mm touch but do not overlap; covers decimal rounding."""


@dataclass(frozen=True, slots=True)
class Marker:
    """A square ArUco marker, black border included; x, y is its top-left corner, all mm."""

    id: int
    corner: str
    x: float
    y: float
    size: float

    def corners(self) -> tuple[tuple[float, float], ...]:
        """Return its four corners, mm, clockwise from the top left: the order OpenCV's detector uses."""
        right, bottom = self.x + self.size, self.y + self.size
        return ((self.x, self.y), (right, self.y), (right, bottom), (self.x, bottom))


@dataclass(frozen=True, slots=True)
class Patch:
    """One coloured rectangle.

    Attributes
    ----------
    id
        Its name on this card, e.g. ``"a1"`` for row a, column 1.
    x, y, width, height
        Where it lies, mm.
    srgb
        The colour it is printed from, 8-bit sRGB (IEC 61966-2-1).
    neutral
        True for the greys, paper white included.
    lab_d50
        CIELAB, D50, 2 degree observer, when it is known better than from `srgb`.
    """

    id: str
    x: float
    y: float
    width: float
    height: float
    srgb: tuple[int, int, int]
    neutral: bool
    lab_d50: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class WhiteArea:
    """A rectangle left unprinted, so that the photo shows the paper and the light on it; mm."""

    id: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Ruler:
    """A horizontal line of known length starting at x, y, with a tick downwards every `tick` mm."""

    x: float
    y: float
    length: float
    tick: float


@dataclass(frozen=True, slots=True)
class CardLayout:
    """One design of the reference card.

    Attributes
    ----------
    name, edition
        Which design, and which print run of it; a change of any place or colour is a new edition.
    width, height
        Of the whole card, mm.
    marker_dictionary
        Name of the predefined ArUco dictionary in OpenCV, e.g. ``"DICT_5X5_100"``.
    markers
        Four, one in each corner, in the order of the file.
    patches, white_areas, ruler
        What else is on it; a card may have no white area and no ruler.
    """

    name: str
    edition: int
    width: float
    height: float
    marker_dictionary: str
    markers: tuple[Marker, ...]
    patches: tuple[Patch, ...]
    white_areas: tuple[WhiteArea, ...]
    ruler: Ruler | None

    def marker_ids(self) -> frozenset[int]:
        """Return the ids by which this layout is told from others of the same dictionary."""
        return frozenset(marker.id for marker in self.markers)

    def neutral_patches(self) -> tuple[Patch, ...]:
        """Return the greys, paper white included, in the order of the file."""
        return tuple(patch for patch in self.patches if patch.neutral)


@cache
def known_layouts() -> tuple[CardLayout, ...]:
    """Return the layouts that ship with dyecast, read once.

    >>> [layout.name for layout in known_layouts()]
    ['a6', 'pocket']
    """
    folder = files("dyecast_calibration") / "cards"
    layouts = []
    for name in SHIPPED_LAYOUTS:
        with as_file(folder / f"{name}.json") as path:
            layouts.append(load_card_layout(path))
    return tuple(layouts)


def layout_named(name: str) -> CardLayout:
    """Return the shipped layout of that name; raise CardFileInvalid naming the choices when there is none.

    >>> layout = layout_named("A6")
    >>> layout.width, layout.height, len(layout.patches)
    (148.0, 105.0, 30)
    """
    for layout in known_layouts():
        if layout.name == name.strip().lower():
            return layout
    choices = ", ".join(layout.name for layout in known_layouts())
    raise CardFileInvalid(
        f"There is no card layout named '{name}'.", advice=f"Choose one of: {choices}; or give a layout file."
    )


def load_card_layout(path: Path) -> CardLayout:
    """Read a card layout from a JSON file.

    Raises
    ------
    FileUnreadable
        The file is missing or may not be read.
    CardFileInvalid
        It is no card layout, or contradicts itself: a missing field, a rectangle outside the card, two
        that overlap, an id used twice, a dictionary OpenCV does not have. The message names which.
    """
    file = path.name
    record = read_json_record(path)
    if record.get("unit", "mm") != "mm":
        raise CardFileInvalid("The card's 'unit' must be mm.", file=file)
    layout = CardLayout(
        name=text_field(record, "name", "the card", file),
        edition=integer_field(record, "edition", "the card", file),
        width=length_field(record, "width", "the card", file),
        height=length_field(record, "height", "the card", file),
        marker_dictionary=text_field(record, "marker_dictionary", "the card", file),
        markers=tuple(_marker(item, file) for item in list_field(record, "markers", "the card", file)),
        patches=tuple(_patch(item, file) for item in list_field(record, "patches", "the card", file)),
        white_areas=tuple(_white_area(item, file) for item in _optional_list(record, "white_areas", file)),
        ruler=_ruler(record.get("ruler"), file),
    )
    _check_layout(layout, file)
    return layout


def _optional_list(record: dict[str, Any], name: str, file: str) -> list[Any]:
    return [] if record.get(name) is None else list_field(record, name, "the card", file)


def _marker(value: object, file: str) -> Marker:
    record = record_of(value, "a marker", file)
    identity = integer_field(record, "id", "a marker", file)
    where = f"marker {identity}"
    corner = text_field(record, "corner", where, file)
    if corner not in CORNERS:
        raise CardFileInvalid(f"Marker {identity}: 'corner' must be one of {', '.join(CORNERS)}.", file=file)
    return Marker(
        id=identity,
        corner=corner,
        x=number_field(record, "x", where, file),
        y=number_field(record, "y", where, file),
        size=length_field(record, "size", where, file),
    )


def _patch(value: object, file: str) -> Patch:
    record = record_of(value, "a patch", file)
    identity = text_field(record, "id", "a patch", file)
    where = f"patch {identity}"
    lab = record.get("lab_d50")
    return Patch(
        identity,
        *_rectangle(record, where, file),
        srgb=srgb_field(record, "srgb", where, file),
        neutral=flag_field(record, "neutral", where, file),
        lab_d50=None if lab is None else triple_of(lab, "lab_d50", where, file),
    )


def _white_area(value: object, file: str) -> WhiteArea:
    record = record_of(value, "a white area", file)
    identity = text_field(record, "id", "a white area", file)
    return WhiteArea(identity, *_rectangle(record, f"white area {identity}", file))


def _rectangle(record: dict[str, Any], where: str, file: str) -> tuple[float, float, float, float]:
    return (
        number_field(record, "x", where, file),
        number_field(record, "y", where, file),
        length_field(record, "width", where, file),
        length_field(record, "height", where, file),
    )


def _ruler(value: object, file: str) -> Ruler | None:
    if value is None:
        return None
    record = record_of(value, "the ruler", file)
    field_of(record, "x", "the ruler", file)
    ruler = Ruler(
        x=number_field(record, "x", "the ruler", file),
        y=number_field(record, "y", "the ruler", file),
        length=length_field(record, "length", "the ruler", file),
        tick=length_field(record, "tick", "the ruler", file),
    )
    if ruler.tick > ruler.length:
        raise CardFileInvalid("The ruler's 'tick' is longer than the ruler.", file=file)
    return ruler


def _check_layout(layout: CardLayout, file: str) -> None:
    if not layout.patches:
        raise CardFileInvalid("The card has no patches.", file=file)
    _check_markers(layout, file)
    _check_unique("patch", [patch.id.lower() for patch in layout.patches], file)
    _check_unique("white area", [area.id.lower() for area in layout.white_areas], file)
    _check_rectangles(layout, file)


def _check_markers(layout: CardLayout, file: str) -> None:
    import cv2

    _check_unique("marker", [str(marker.id) for marker in layout.markers], file)
    if sorted(marker.corner for marker in layout.markers) != sorted(CORNERS):
        raise CardFileInvalid("The card must have four markers, one in each corner.", file=file)
    number = getattr(cv2.aruco, layout.marker_dictionary, None)
    if not layout.marker_dictionary.startswith("DICT_") or not isinstance(number, int):
        raise CardFileInvalid(f"There is no marker dictionary '{layout.marker_dictionary}'.", file=file)
    count = len(cv2.aruco.getPredefinedDictionary(number).bytesList)
    for marker in layout.markers:
        if marker.id >= count:
            raise CardFileInvalid(f"{layout.marker_dictionary} has no marker {marker.id}.", file=file)


def _check_unique(kind: str, identities: list[str], file: str) -> None:
    for identity in identities:
        if identities.count(identity) > 1:
            raise CardFileInvalid(f"The id of {kind} {identity} is used more than once.", file=file)


def _check_rectangles(layout: CardLayout, file: str) -> None:
    named = [(f"marker {m.id}", (m.x, m.y, m.size, m.size)) for m in layout.markers]
    named += [(f"patch {p.id}", (p.x, p.y, p.width, p.height)) for p in layout.patches]
    named += [(f"white area {a.id}", (a.x, a.y, a.width, a.height)) for a in layout.white_areas]
    if layout.ruler is not None:
        named.append(("the ruler", (layout.ruler.x, layout.ruler.y, layout.ruler.length, RULER_DEPTH_MM)))
    for name, (x, y, width, height) in named:
        if (
            min(x, y) < 0
            or x + width > layout.width + TOUCHING_MM
            or y + height > layout.height + TOUCHING_MM
        ):
            raise CardFileInvalid(f"{name[:1].upper()}{name[1:]} lies outside the card.", file=file)
    for (first, one), (second, other) in combinations(named, 2):
        if _overlap(one, other):
            raise CardFileInvalid(f"The {first} and {second.removeprefix('the ')} overlap.", file=file)


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    shared_width = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    shared_height = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    return shared_width > TOUCHING_MM and shared_height > TOUCHING_MM
