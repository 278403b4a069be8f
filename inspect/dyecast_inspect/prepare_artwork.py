"""What the search, the registration and the fit need of an artwork alone, made before any photo is seen.

It is made in the time the photo is being read, and once for all photos of one artwork.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.gradient_alignment import Template, artwork_template
from dyecast_inspect.intended_ink import sampled_ink
from dyecast_inspect.piece_views import ArtworkView, artwork_view
from dyecast_inspect.read_artwork import Artwork, read_artwork
from dyecast_inspect.register_piece import COARSE_PX, FINE_PX


@dataclass(frozen=True, slots=True, eq=False)
class ArtworkParts:
    """Parts of one artwork, each as the function of its name makes it.

    Attributes
    ----------
    view
        Its details, not mirrored: `artwork_view`.
    templates
        Its gradients at the two sizes of the registration: `artwork_template`.
    ink
        Dye amounts of its samples, (h, w, 3) float32: `sampled_ink`.
    """

    view: ArtworkView
    templates: dict[int, Template]
    ink: NDArray[np.float32]


def prepared_artwork(path: Path, *, printer_profile: Path | None = None) -> Artwork:
    """Read an artwork and prepare it; raises what `read_artwork` raises."""
    artwork = read_artwork(path, printer_profile=printer_profile)
    return replace(artwork, parts=artwork_parts(artwork))


def artwork_parts(artwork: Artwork) -> ArtworkParts:
    """Make the parts of an artwork."""
    return ArtworkParts(
        view=artwork_view(artwork, mirrored=False),
        templates={size: artwork_template(artwork, size) for size in (COARSE_PX, FINE_PX)},
        ink=sampled_ink(artwork),
    )
