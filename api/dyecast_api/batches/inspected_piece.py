"""The photo of a batch's piece inspected on this computer: against the artwork and the first piece."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from dyecast_api.batches.batch_pieces import InspectedPhoto
from dyecast_api.batches.batch_values import Batch, estimate
from dyecast_api.batches.kept_artwork import file_bytes
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.press_log.log_values import MACHINE, Pressing, Recipe
from dyecast_api.work.accept_photo import kept_content, plain_name
from dyecast_api.work.file_store import fingerprint
from dyecast_api.work.inspect_claimed import ClaimedInspector
from dyecast_api.work.queue import Claimed
from dyecast_shared.errors import BatchInvalid


@dataclass(frozen=True, slots=True)
class PieceEntry:
    """What is said of a piece beside its photo; without a number it gets the next one."""

    pressed_at: datetime
    piece_number: int | None = None
    lost: bool = False
    note: str = ""


def inspected_photo(
    shop: OpenedShop, batch: Batch, path: Path, say: Callable[[str], None]
) -> tuple[InspectedPhoto, str]:
    """Keep a photo in the store and inspect it; return it with the SHA-256 of the file as it was given.

    Raises BadInput for a file that cannot be inspected. A photo to be taken again is returned as such.
    """
    content = file_bytes(path)
    name = plain_name(path.name)
    kept, stripped = kept_content(content, name, keep_metadata=False)
    shop.store.keep(stripped)
    claimed = Claimed(
        id=0,  # the row is made when the inspection is done
        shop_id=shop.shop_id,
        public_id="",
        attempt=1,
        photo_sha256=kept.sha256,
        photo_name=name,
        artwork_version_id=batch.artwork_version_id,
        batch_id=batch.number,
        paper="off",
        peek=False,
    )
    result = ClaimedInspector(shop.engine, shop.store)(claimed, say)
    return InspectedPhoto(name, kept, result), fingerprint(content)


def check_judged(photo: InspectedPhoto) -> None:
    """Raise BatchInvalid when the photo has to be taken again."""
    document = photo.result.document or {}
    if document.get("verdict") != "retake":
        return
    why = " ".join(reason["sentence"] for reason in document["reasons"])
    raise BatchInvalid(
        f"The photo has to be taken again: {why}",
        advice="No piece was added. " + " ".join(step["sentence"] for step in document["advice"]),
        file=photo.name,
    )


def pressing_of(
    recipe: Recipe, entry: PieceEntry, photo: InspectedPhoto, photo_sha256: str, now: datetime
) -> Pressing:
    """Return the pressing by the recipe's settings with what the photo told."""
    document = photo.result.document or {}
    fraction, uncertainty = estimate(document, "transferred_fraction")
    return Pressing(
        recipe_id=recipe.number,
        temperature_k=recipe.temperature_k,
        time_s=recipe.time_s,
        pressed_at=entry.pressed_at,
        logged_at=now,
        pressure_kpa=recipe.pressure_kpa,
        grade=document["verdict"],
        confidence=document["confidence"],
        judged_by=MACHINE,
        transferred_fraction=fraction,
        transferred_fraction_uncertainty=uncertainty,
        delta_e_2000=_median(document.get("delta_e_2000")),
        delta_e_2000_first=_median(document.get("delta_e_2000_approved")),
        veil=estimate(document, "veil")[0],
        lost=entry.lost,
        note=entry.note,
        piece_number=entry.piece_number,
        photo_sha256=photo_sha256,
    )


def _median(difference: Mapping[str, Any] | None) -> float | None:
    return None if difference is None else difference["median"]
