"""What one inspection found: the value that the command line, the documents and the reports read.

Colour figures are CIEDE2000 and CIELAB, D50, 2 degree observer. Lengths are millimetres unless the name
says pixels. Corners are (4, 2) x, y in the upright full-resolution photo, pixel centres at whole numbers,
in the order top-left, top-right, bottom-right, bottom-left of the card or the artwork.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.metamerism import DeltaERange


class Verdict(StrEnum):
    """The four answers dyecast gives."""

    UNDER_PRESSED = "under-pressed"
    GOOD = "good"
    OVER_PRESSED = "over-pressed"
    RETAKE = "retake"


class Paper(StrEnum):
    """Where the transfer paper is when the photo is taken."""

    UNKNOWN = "unknown"
    TAPED = "taped"
    OFF = "off"


class PeekAnswer(StrEnum):
    """The three answers to a peek: whether enough ink has arrived to end the pressing."""

    ENOUGH = "enough"
    NOT_ENOUGH = "not enough"
    CANT_TELL = "can't tell"


@dataclass(frozen=True, slots=True)
class PeekReport:
    """What a peek under the lifted corner of the transfer paper told.

    `visible_share` is the share of the artwork that shows, 0..1; `confidence` the probability in 0..1 that
    the answer is right, for ``can't tell`` that of the likelier of the other two. None when not known.
    """

    answer: PeekAnswer
    visible_share: float | None
    confidence: float | None


class Reference(StrEnum):
    """What a piece was compared with."""

    ARTWORK = "artwork"
    APPROVED_PIECE = "approved piece"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why the verdict is what it is: a stable code and a plain sentence."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do next, why, and the caution that goes with it (empty when there is none)."""

    code: str
    sentence: str
    because: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class FaultSize:
    """One figure of a fault: what it is, how much, and its unit."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with the piece beside how it was pressed on the whole.

    `confidence` is the probability in 0..1 that it is there and beyond its limit; `place` the corners of a
    polygon in the artwork's unit square, x to the right and y down, which may reach beyond it.
    """

    code: str
    sentence: str
    confidence: float
    place: tuple[tuple[float, float], ...]
    sizes: tuple[FaultSize, ...] = ()


@dataclass(frozen=True, slots=True)
class PhotoCheck:
    """One check of the photo: the measured value beside its limit, and what to do when it fails.

    `limit` is the most that passes, or with `at_least` the least.
    """

    name: str
    value: float
    limit: float
    unit: str
    passed: bool
    advice: str
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class ColourDifference:
    """CIEDE2000 over the judged part of the piece."""

    mean: float
    median: float
    p95: float


@dataclass(frozen=True, slots=True)
class RegionDifference:
    """One of the artwork's main colours: intended and measured CIELAB (D50, 2 degree), and how they differ.

    `name` is a plain colour word; `area_share` the share of the judged area in 0..1; the `delta_*` are
    measured minus intended.
    """

    name: str
    area_share: float
    intended_lab: tuple[float, float, float]
    measured_lab: tuple[float, float, float]
    delta_lightness: float
    delta_chroma: float
    delta_hue: float
    delta_e_2000: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with its standard uncertainty, both in `unit`."""

    value: float
    uncertainty: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class PressFeatures:
    """The physical signs of how long and how hot a piece was pressed.

    Attributes
    ----------
    transferred_fraction
        Share of the artwork's optical density found on the piece; 1 = all of it.
    transferred_by_dye
        The same per dye direction, keys ``cyan``, ``magenta``, ``yellow``.
    transferred_by_tone
        The same in ``highlights``, ``midtones`` and ``shadows``; only the tones the artwork has.
    veil
        Light the surface mirrors into the camera, as a share of perfect white, 0..1.
    coating_yellowing
        CIELAB b* that heat adds to white, coating and ink together, from the fitted model.
    warmth_of_darks
        CIELAB b* of the darks minus what the artwork asks for; above 0 on every pale piece, whose darks are
        browner by nature.
    detail_loss
        Blur of the piece beyond the photo's own, standard deviation in mm.
    unevenness
        Spread (standard deviation) of the transferred fraction over the piece.
    """

    transferred_fraction: Estimate
    transferred_by_dye: dict[str, float]
    transferred_by_tone: dict[str, float]
    veil: Estimate
    coating_yellowing: Estimate
    warmth_of_darks: Estimate
    detail_loss: Estimate
    unevenness: float


@dataclass(frozen=True, slots=True)
class ShopComparison:
    """A piece seen with the shop's own eye.

    Attributes
    ----------
    approved, labelled
        Pieces the shop has taught.
    ink_shift, yellowing_shift, bleed_shift
        How far its good pieces lie from the trained ones: log fraction, density in the short band, mm².
    delta_e_2000
        CIEDE2000 from the look of its approved pieces; None without any.
    spread
        How far those differ among themselves, mean distance in CIELAB; None with fewer than two.
    """

    approved: int
    labelled: int
    ink_shift: float
    yellowing_shift: float
    bleed_shift: float
    delta_e_2000: ColourDifference | None
    spread: float | None


@dataclass(frozen=True, slots=True, eq=False)
class CardReport:
    """The card as it was seen, and how well its colours could be corrected.

    `correction` and the leave-one-out figures are None when the photo was refused before they were known.
    `metamerism` is what no correction can undo, mean CIEDE2000, over the kinds of light it may have been.
    """

    layout: str
    edition: int
    trust: str
    corners_px: NDArray[np.float64]
    missing_markers: tuple[int, ...]
    pixels_per_mm: float
    plane_residual_px: float
    correction: str | None
    leave_one_out_mean: float | None
    leave_one_out_p95: float | None
    left_out_patches: tuple[Reason, ...]
    metamerism: DeltaERange


@dataclass(frozen=True, slots=True, eq=False)
class PieceReport:
    """Where the piece lies and how it was matched with the artwork.

    `hidden_share` is None when the photo was refused before it was known.
    """

    corners_px: NDArray[np.float64]
    width_mm: float
    height_mm: float
    mirrored: bool
    registration_mm: float
    hidden_share: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """Pictures of one inspection, all (h, w, ...) in the artwork's frame.

    `piece` and `intended` are uint8 sRGB (media as measured, 255 = perfect white diffuser);
    `delta_e_map` is float32 CIEDE2000, NaN where nothing was judged; `judged` is bool.
    """

    piece: NDArray[np.uint8]
    intended: NDArray[np.uint8]
    delta_e_map: NDArray[np.float32]
    judged: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Inspection:
    """Everything one photo told: the verdict first, the evidence behind it after.

    `confidence` is the probability in 0..1 that the verdict is right (for ``retake``: that the photo
    cannot be judged). Evidence that a retake did not reach is None.
    `compared_with` says what stands for the artwork; when it is an approved piece, `artwork` is the name of
    that piece's photo, and `delta_e_2000` and all that is said about the artwork are about that piece.
    `delta_e_2000` compares with the artwork; `delta_e_2000_approved` with the approved piece;
    `delta_e_2000_printer` with the artwork as the printer's profile can reach it.
    `shop` is None without a shop profile.
    `probabilities` is over under-pressed, good, over-pressed, in that order, empty for a retake.
    `peek` is set when the photo was a peek: then ``good`` stands for enough, ``under-pressed`` for not
    enough, ``retake`` for can't tell, and heat was not judged.
    `faults` never change the verdict; `faults_not_judged` says which could not be looked for, and why.
    """

    photo: str
    artwork: str
    verdict: Verdict
    confidence: float
    near_limit: bool
    probabilities: dict[str, float]
    reasons: tuple[Reason, ...]
    advice: tuple[Advice, ...]
    checks: tuple[PhotoCheck, ...]
    notes: tuple[str, ...]
    delta_e_2000: ColourDifference | None = None
    delta_e_2000_printer: ColourDifference | None = None
    delta_e_2000_approved: ColourDifference | None = None
    shop: ShopComparison | None = None
    regions: tuple[RegionDifference, ...] = ()
    features: PressFeatures | None = None
    card: CardReport | None = None
    piece: PieceReport | None = None
    pictures: Pictures | None = None
    peek: PeekReport | None = None
    faults: tuple[Fault, ...] = ()
    faults_not_judged: tuple[Reason, ...] = ()
    compared_with: Reference = Reference.ARTWORK
