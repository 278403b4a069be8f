"""Inspect one queued photo against what the shop's tables say it should show."""

import contextlib
import tempfile
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from sqlalchemy import Engine

from dyecast_api import inspect_stages
from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.inspect_stages import ApprovedPiece, InspectStages, ShopEye
from dyecast_api.inspection_document import inspection_document
from dyecast_api.peek_stages import load_peek_stages
from dyecast_api.photo_batch import InspectedPhoto, Setting, inspected_photos
from dyecast_api.profile_place import kept_profile
from dyecast_api.store.database import reading
from dyecast_api.work.accept_photo import plain_name
from dyecast_api.work.comparison import ArtworkFile, Comparison, PiecePhoto, comparison_of
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.page_pictures import MEDIA_TYPE, page_pictures
from dyecast_api.work.queue import Claimed, InspectionResult
from dyecast_inspect.inspection import Paper
from dyecast_shared.errors import BadInput, FileMissing, Retake, StoreUnavailable
from dyecast_shared.meanwhile import meanwhile

if TYPE_CHECKING:
    from dyecast_inspect.read_artwork import Artwork

Result = TypeVar("Result")

KEPT_ARTWORKS: Final = 4
"""Artworks, and approved pieces, that a worker remembers: some 40 MB each."""


@dataclass(slots=True, eq=False)
class Remembered:
    """The results of the last few different questions."""

    most: int = KEPT_ARTWORKS
    results: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict)

    def __call__(self, question: Hashable, answer: Callable[[], Result]) -> Result:
        """Return what was answered to the question before, or ask."""
        if question not in self.results:
            self.results[question] = answer()
        self.results.move_to_end(question)
        while len(self.results) > self.most:
            self.results.popitem(last=False)
        result: Result = self.results[question]
        return result


@dataclass(frozen=True, slots=True, eq=False)
class ClaimedInspector:
    """Inspects claimed photos in one worker process, remembering artworks between them."""

    engine: Engine
    store: FileStore
    artworks: Remembered = field(default_factory=Remembered)
    approved: Remembered = field(default_factory=Remembered)
    shop_eyes: Remembered = field(default_factory=lambda: Remembered(1))

    def __call__(self, claimed: Claimed, say: Callable[[str], None]) -> InspectionResult:
        """Inspect; return the document and the pictures, which are in the store by then."""
        with reading(self.engine) as connection:
            comparison = comparison_of(connection, claimed)
        stages = load_peek_stages() if claimed.peek else inspect_stages.load_inspect_stages()
        with self.lent(claimed.photo_name, claimed.photo_sha256) as photo:
            inspected = self._inspected(claimed, comparison, stages, photo, say)
            say("keeping the pictures")
            pictures = self._kept_pictures(inspected, photo)
        return _result(inspected, pictures)

    @contextmanager
    def lent(self, name: str, sha256: str) -> Iterator[Path]:
        """Lend a content of the store as a file of this name, for as long as the block runs.

        Raises FileMissing, and StoreUnavailable when there is no room for temporary files.
        """
        content = self.store.read(sha256)
        with contextlib.ExitStack() as stack:
            try:
                folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="dyecast-"))
                path = Path(folder) / plain_name(name)
                path.write_bytes(content)
            except OSError as problem:
                reason = f"No temporary file could be written ({problem.strerror})."
                raise StoreUnavailable(reason) from problem
            yield path

    def _inspected(
        self,
        claimed: Claimed,
        comparison: Comparison,
        stages: InspectStages,
        photo: Path,
        say: Callable[[str], None],
    ) -> InspectedPhoto:
        layouts = layouts_to_look_for(None)
        values = self._card_values(comparison.card_values, layouts)
        read = partial(self._artwork, comparison, stages, layouts, values)
        with meanwhile(read) as artwork:
            approved, notes = self._approved(comparison, stages, artwork, layouts, values)
            setting = Setting(
                artwork,
                layouts,
                values,
                approved,
                self._shop_eye(stages),
                Paper(claimed.paper),
                claimed.peek,
            )
            (inspected,) = inspected_photos([photo], setting, stages, say)
        with_notes = replace(inspected.inspection, notes=(*inspected.inspection.notes, *notes))
        return replace(inspected, inspection=with_notes)

    def _card_values(self, files: Sequence[str], layouts: Sequence[Any]) -> dict[str, Any]:
        """Read the shop's own card values, by layout."""
        values: dict[str, Any] = {}
        for sha256 in files:
            with self.lent("card-values.json", sha256) as path:
                values.update(values_by_layout([path], layouts))
        return values

    def _artwork(
        self, comparison: Comparison, stages: InspectStages, layouts: Sequence[Any], values: dict[str, Any]
    ) -> "Artwork":
        """Return the artwork, or the approved piece in its place; raise BadInput when there is neither."""
        if comparison.artwork is not None:
            file = comparison.artwork
            return self.artworks(file, lambda: self._read_artwork(file, stages))
        piece = comparison.approved
        if piece is None:
            raise BadInput("There is neither an artwork nor an approved piece to compare with.")
        key = (piece, comparison.card_values)
        return self.artworks(key, lambda: self._read_piece(piece, stages, layouts, values))

    def _read_artwork(self, file: ArtworkFile, stages: InspectStages) -> "Artwork":
        with self.lent(file.name, file.sha256) as path:
            if file.printer_profile_sha256 is None:
                artwork = stages.read_artwork(path)
            else:
                with self.lent("printer.icc", file.printer_profile_sha256) as profile:
                    artwork = stages.read_artwork(path, printer_profile=profile)
        return artwork if file.print_size_mm is None else replace(artwork, print_size_mm=file.print_size_mm)

    def _read_piece(
        self, piece: PiecePhoto, stages: InspectStages, layouts: Sequence[Any], values: dict[str, Any]
    ) -> "Artwork":
        with self.lent(piece.name, piece.sha256) as path:
            return stages.approved_artwork(path, layouts=layouts, card_values=values)

    def _approved(
        self,
        comparison: Comparison,
        stages: InspectStages,
        artwork: "Callable[[], Artwork]",
        layouts: Sequence[Any],
        values: dict[str, Any],
    ) -> tuple[ApprovedPiece | None, tuple[str, ...]]:
        """Measure the approved piece beside the artwork; one that cannot be measured becomes a note."""
        piece = comparison.approved
        if piece is None or comparison.artwork is None:
            return None, ()

        def measured() -> tuple[ApprovedPiece | None, tuple[str, ...]]:
            try:
                with self.lent(piece.name, piece.sha256) as path:
                    return stages.measure_approved(path, artwork, layouts=layouts, card_values=values), ()
            except (BadInput, Retake, FileMissing) as error:
                return None, (f"The approved piece could not be measured: {error.message}",)

        return self.approved((piece, comparison.artwork, comparison.card_values), measured)

    def _shop_eye(self, stages: InspectStages) -> ShopEye | None:
        """Return what the shop has taught, read again when its file has changed."""
        path = kept_profile()
        if path is None:
            return None
        return self.shop_eyes((path, path.stat().st_mtime_ns), lambda: stages.read_shop_eye(path))

    def _kept_pictures(self, inspected: InspectedPhoto, photo: Path) -> dict[str, KeptFile]:
        """Keep the pictures for the pages; return their rows by name."""
        contents = page_pictures(inspected.inspection, photo)
        return {
            name: KeptFile(self.store.keep(content), len(content), MEDIA_TYPE)
            for name, content in contents.items()
        }


def _result(inspected: InspectedPhoto, pictures: dict[str, KeptFile]) -> InspectionResult:
    """Return an inspection as its row keeps it."""
    document = inspection_document(inspected.inspection, error=inspected.error)
    difference, features = document["delta_e_2000"], document["features"]
    return InspectionResult(
        verdict=document["verdict"],
        document=document,
        confidence=document["confidence"],
        delta_e_2000_median=None if difference is None else difference["median"],
        transferred_fraction=None if features is None else features["transferred_fraction"]["value"],
        pictures=pictures,
    )
