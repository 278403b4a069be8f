"""Look for every kind of fault on a measured piece."""

from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.explain_surface import ExplainedPiece, explain_again, fit_size
from dyecast_inspect.faults.banding import find_banding
from dyecast_inspect.faults.fault_views import fault_views
from dyecast_inspect.faults.fine_residual import FineView, fine_residual, fine_view
from dyecast_inspect.faults.ghost import Ghost, beside_ghost, printed_twice
from dyecast_inspect.faults.ghosting import find_ghosting
from dyecast_inspect.faults.mirrored import find_mirrored
from dyecast_inspect.faults.off_centre import find_off_centre
from dyecast_inspect.faults.print_residual import print_residual
from dyecast_inspect.faults.print_size import find_wrong_size
from dyecast_inspect.faults.specks import find_specks
from dyecast_inspect.faults.uneven import find_uneven
from dyecast_inspect.informed_prior import informed_prior
from dyecast_inspect.inspection import Fault, Reason
from dyecast_inspect.intended_ink import intended_ink
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.meanwhile import meanwhile


@dataclass(frozen=True, slots=True, eq=False)
class FaultFindings:
    """What was found wrong, what could not be looked for, and what must not pull the pressing.

    `set_aside` is (h, w) bool in the piece's frame, or None when all of the piece may speak; `ghost` is the
    second print, if there is one.
    """

    faults: tuple[Fault, ...]
    not_judged: tuple[Reason, ...]
    set_aside: NDArray[np.bool_] | None = None
    ghost: Ghost | None = None


def find_faults(measured: MeasuredPhoto, artwork: Artwork) -> FaultFindings:
    """Return all faults, those of the whole print first."""
    registration, piece, explained = measured.registration, measured.piece, measured.explained
    views = measured.fault_views or fault_views(measured.photo, measured.card, registration, piece, artwork)
    with meanwhile(partial(_specks, views.fine, explained, piece.width_mm)) as specks:
        pale = find_uneven(piece, explained, informed_prior(measured.correction, measured.bleed))
        residual = print_residual(measured.card, registration, piece, measured.bleed, explained, artwork)
        ghosting = find_ghosting(residual)
        marks = specks() if ghosting is None else _specks_beside(ghosting.ghost, measured, artwork)
        found = (
            find_mirrored(registration),
            find_wrong_size(piece, artwork.print_size_mm),
            find_off_centre(views.borders, piece),
            None if pale is None else pale.fault,
            None if ghosting is None else ghosting.fault,
            find_banding(residual if ghosting is None else beside_ghost(residual, ghosting.ghost)),
            *marks,
        )
    return FaultFindings(
        faults=tuple(finding for finding in found if isinstance(finding, Fault)),
        not_judged=tuple(finding for finding in found if isinstance(finding, Reason)),
        set_aside=None if pale is None else _in_frame(pale.place, piece.usable.shape),
        ghost=None if ghosting is None else ghosting.ghost,
    )


def _specks(view: FineView, explained: ExplainedPiece, width_mm: float) -> tuple[Fault | Reason, ...]:
    """Look for specks in the photo's own detail."""
    return tuple(find_specks(fine_residual(view, explained, width_mm)))


def _specks_beside(ghost: Ghost, measured: MeasuredPhoto, artwork: Artwork) -> tuple[Fault | Reason, ...]:
    """Look for specks that a second print does not explain."""
    piece = measured.piece
    view = fine_view(measured.photo, measured.registration, artwork, ghost, piece.width_mm)
    return _specks(view, measured.explained, piece.width_mm)


def freed_of_faults(measured: MeasuredPhoto, findings: FaultFindings, artwork: Artwork) -> MeasuredPhoto:
    """Return the piece explained again without what is pale, its ghost taken into account."""
    if findings.set_aside is None and findings.ghost is None:
        return measured
    piece, frame = measured.piece, measured.piece.usable.shape
    ink = intended_ink(artwork, fit_size(*frame))
    if findings.ghost is not None:
        pixels_per_mm = piece.pixels_per_mm * ink.amounts.shape[1] / frame[1]
        ink = printed_twice(ink, findings.ghost, pixels_per_mm)
    prior = informed_prior(measured.correction, measured.bleed)
    return replace(
        measured, explained=explain_again(piece, ink, prior, measured.explained, findings.set_aside)
    )


def _in_frame(place: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Enlarge a place of the fit to the piece's frame."""
    size = (shape[1], shape[0])
    return cv2.resize(place.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST).astype(bool)
