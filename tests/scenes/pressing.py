"""What the heat press makes of the printed dye: less of it, all of it, or too much heat.

Documented assumptions (common practice, no published source, unless named):

* Pressing scales optical densities: a share `transferred` of each dye arrives in the coating. Uptake grows
  with time and temperature and then levels off (Park 2022, doi 10.1177/00405175221139320, for film).
* Too short or too cold: every dye is weaker, not all by the same share, since each has its own activation
  energy; cyan, the largest molecule, lags most.
* Too long or too hot: dyes fade a little and unequally (Mangut, Becerir, Alpay 2008, IJFTR 33:80-87: colour
  strength falls, lightness rises), the coating yellows, gas creeps sideways and blurs edges.
"""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

State = Literal["under-pressed", "good", "over-pressed"]

GOOD_DOSE = (0.93, 1.03)
"""Range of the dose index that counts as good: about +-5 % of optical density, hardly visible."""

UNDER_DOSE = (0.40, 0.85)
OVER_DOSE = (1.12, 1.65)
"""Ranges that scenes draw from; what lies between is a matter of taste and is not drawn."""

CYAN_LAG = 0.20
"""Share by which cyan falls behind per missing unit of dose."""

PLATEAU = 1.03
"""Most that arrives, relative to a right pressing; beyond it the share falls back to 1."""

FADING_PER_DOSE = (0.48, 0.23, 0.11)
"""Share of cyan, magenta, yellow lost per unit of dose above 1. With the two rates below, a dose of 1.12 to
1.25 differs from a right one by about 2 CIEDE2000, which is what this index of heat means."""

YELLOWING_PER_DOSE = 0.18
"""Optical density at 450 nm that the coating gains per unit of dose above 1."""

YELLOWING_DECAY_NM = (45.0, 110.0)
"""Wavelengths within which the absorption of a yellowed coating falls to 1/e; polymers differ."""

INK_OF_A_PICTURE = 1.2
"""Dye amount, all inks together, at which scorched dye yellows as much as a scorched coating would: about the
mean of a full picture."""

BLEED_MM_PER_DOSE = 0.60
"""Standard deviation of the gas blur, mm, per unit of dose above 1."""

PIECE_SPREAD = (0.6, 1.5)
"""How much less or more of fading, yellowing and blur a blank may show than the rates say, each by itself."""

DYE_SPREAD = 0.012
"""Standard deviation of each dye's transferred share between pieces pressed alike."""


@dataclass(frozen=True, slots=True)
class Pressing:
    """One pressing.

    Attributes
    ----------
    dose
        Index of heat and time; 1 is right. For the record: the other fields say what it did.
    transferred
        Factor on every optical density, 0..1.1.
    by_dye
        Further factors on cyan, magenta, yellow; black gets their mean.
    yellowing, yellowing_decay_nm
        Optical density the coating gained at 450 nm, and the wavelengths in which it falls to 1/e.
    yellowing_of_ink
        Share of it that comes with the ink (scorched dye) rather than everywhere (scorched coating).
    bleed_mm
        Standard deviation of the gas blur, mm.
    unevenness
        Relative change of density from the middle of the piece to its edge along the direction.
    unevenness_direction_deg
        0 = more density to the right of the artwork, 90 = to the bottom.
    """

    dose: float = 1.0
    transferred: float = 1.0
    by_dye: tuple[float, float, float] = (1.0, 1.0, 1.0)
    yellowing: float = 0.0
    yellowing_decay_nm: float = 55.0
    yellowing_of_ink: float = 0.0
    bleed_mm: float = 0.0
    unevenness: float = 0.0
    unevenness_direction_deg: float = 0.0

    @property
    def state(self) -> State:
        """The right answer for this dose; the limits lie halfway between the ranges scenes draw from."""
        if self.dose < (UNDER_DOSE[1] + GOOD_DOSE[0]) / 2:
            return "under-pressed"
        return "good" if self.dose <= (GOOD_DOSE[1] + OVER_DOSE[0]) / 2 else "over-pressed"

    @property
    def gains(self) -> NDArray[np.float64]:
        """Factors on the optical density of cyan, magenta, yellow, black, (4,)."""
        return self.transferred * np.array([*self.by_dye, sum(self.by_dye) / 3.0])


def _arriving_share(dose: float) -> float:
    """Factor on every density: the dose up to the plateau, then back to 1 at a quarter of the pace."""
    return dose if dose <= PLATEAU else max(PLATEAU - (dose - PLATEAU) / 4.0, 1.0)


def _blank_spread(random: np.random.Generator) -> tuple[float, float, float]:
    """Factors on fading, yellowing and bleed of one blank, evenly spread in their logarithms."""
    low, high = np.log(PIECE_SPREAD)
    fading, yellowing, bleed = np.exp(random.uniform(low, high, 3))
    return float(fading), float(yellowing), float(bleed)


def pressing_at(dose: float, seed: int = 0, unevenness: float = 0.0) -> Pressing:
    """Return what a dose index does to a piece; the seed scatters the dyes and the direction."""
    random = np.random.default_rng((seed, 11))
    scatter = random.normal(0.0, DYE_SPREAD, 3)
    missing, excess = max(1.0 - dose, 0.0), max(dose - 1.0, 0.0)
    fading, yellowing, bleed = _blank_spread(random)
    faded = 1.0 - np.array(FADING_PER_DOSE) * excess * fading
    lag = np.array([1.0 - CYAN_LAG * missing, 1.0, 1.0])
    cyan, magenta, yellow = (faded * lag + scatter).tolist()
    return Pressing(
        dose=dose,
        transferred=_arriving_share(dose),
        by_dye=(cyan, magenta, yellow),
        yellowing=YELLOWING_PER_DOSE * excess * yellowing,
        yellowing_decay_nm=float(random.uniform(*YELLOWING_DECAY_NM)),
        yellowing_of_ink=float(random.uniform(0.0, 1.0)),
        bleed_mm=BLEED_MM_PER_DOSE * excess * bleed,
        unevenness=unevenness,
        unevenness_direction_deg=float(random.uniform(0.0, 360.0)),
    )


def scorched_ink(amounts: NDArray[np.float32], pressing: Pressing) -> NDArray[np.float32]:
    """Density at 450 nm that scorched dye adds, (h, w, 1), from the pressed amounts (h, w, 4)."""
    per_unit = np.float32(pressing.yellowing * pressing.yellowing_of_ink / INK_OF_A_PICTURE)
    return np.asarray(amounts.sum(axis=2, keepdims=True) * per_unit, np.float32)


def unevenness_field(height: int, width: int, pressing: Pressing) -> NDArray[np.float32]:
    """Factor on every density over the artwork, (h, w, 1), mean 1: a slope in one direction."""
    angle = np.deg2rad(pressing.unevenness_direction_deg)
    down, across = np.meshgrid(
        np.linspace(-1, 1, height, dtype=np.float32),
        np.linspace(-1, 1, width, dtype=np.float32),
        indexing="ij",
    )
    slope = across * np.float32(np.cos(angle)) + down * np.float32(np.sin(angle))
    return (1.0 + np.float32(pressing.unevenness) * slope)[..., None]


def press(amounts: NDArray[np.float32], pressing: Pressing, pixels_per_mm: float) -> NDArray[np.float32]:
    """Dye amounts in the coating, (h, w, 4), from the printed amounts; yellowing is not in here."""
    height, width = amounts.shape[:2]
    pressed = amounts * pressing.gains.astype(np.float32)
    if pressing.unevenness:
        pressed = pressed * unevenness_field(height, width, pressing)
    blur = pressing.bleed_mm * pixels_per_mm
    if blur > 0.05:
        pressed = np.asarray(cv2.GaussianBlur(pressed, (0, 0), blur, borderType=cv2.BORDER_REPLICATE))
    return pressed.astype(np.float32)
