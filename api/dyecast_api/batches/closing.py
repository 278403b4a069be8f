"""Closing a batch: its certificate is made, kept in the store, and only then is the batch closed."""

import json

from dyecast_api.batches.batch_rows import batch_named, check_open
from dyecast_api.batches.batch_steps import Decision, KeptCertificate, close_batch
from dyecast_api.batches.batch_values import Batch
from dyecast_api.batches.certificate import certificate_document
from dyecast_api.batches.certificate_pdf import certificate_pdf
from dyecast_api.batches.chart_drawing import chart_drawing
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.batches.whole_batch import first_piece_pictures, whole_batch
from dyecast_api.store.database import reading, writing
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_shared.errors import BatchInvalid


def closed_with_certificate(shop: OpenedShop, name: str, decision: Decision) -> Batch:
    """Close a batch with its certificate; return it as it is then.

    Raises
    ------
    BatchInvalid
        It has no approved first piece.
    BatchChanged
        It was closed before, or somebody changed it while the certificate was made; then it stays open.
    """
    whole = whole_batch(shop, name)
    check_open(whole.batch)
    document = certificate_document(whole, decision)
    drawings = [chart_drawing(charts) for charts in whole.charts.quantities]
    pdf = certificate_pdf(document, drawings, first_piece_pictures(shop, whole))
    kept = KeptFile(shop.store.keep(pdf), len(pdf), "application/pdf")
    with writing(shop.engine) as connection:
        record_file(connection, shop.shop_id, kept, decision.at)
        certificate = KeptCertificate(document, kept.sha256)
        return close_batch(connection, shop.shop_id, whole.batch, decision, certificate)


def kept_certificate(shop: OpenedShop, name: str) -> tuple[bytes, bytes]:
    """Return a closed batch's certificate as PDF and as JSON, as they were when it was closed.

    Raises BatchInvalid when it has none, FileMissing when the PDF is no longer in the store.
    """
    with reading(shop.engine) as connection:
        batch = batch_named(connection, shop.shop_id, name)
    if batch.certificate is None or batch.certificate_sha256 is None:
        raise BatchInvalid(f"Batch '{name}' has no certificate.", advice="Close it first.", field="close")
    written = json.dumps(batch.certificate, indent=1, ensure_ascii=False, allow_nan=False)
    return shop.store.read(batch.certificate_sha256), f"{written}\n".encode()
