"""Tables of inspections and of what people say of them.

An inspection's row is its place in the queue: `finished_at` is empty until it is done, a worker takes it for
a while by setting `lease_until` and raising `attempt`, and finishes it only while `attempt` is still its own.
"""

from typing import Final

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from dyecast_api.store.metadata import Moment, metadata, row_number, shop_column

inspections: Final = Table(
    "inspections",
    metadata,
    row_number(),
    shop_column(),
    Column("public_id", String(32), nullable=False, unique=True),  # random, in addresses
    Column("artwork_version_id", ForeignKey("artwork_versions.id"), index=True),
    Column("batch_id", ForeignKey("batches.id"), index=True),
    Column("photo_sha256", String(64), nullable=False),
    Column("photo_name", String(255), nullable=False),
    Column("paper", String(20), nullable=False, default="unknown"),  # unknown, taped or off
    Column("peek", Boolean, nullable=False, default=False),
    Column("idempotency_key", String(200)),
    Column("device_id", ForeignKey("devices.id")),
    Column("received_at", Moment, nullable=False),
    Column("attempt", Integer, nullable=False, default=0),
    Column("lease_until", Moment),
    Column("worker", String(64)),  # who holds the lease, so that it can be freed when that process dies
    Column("stage", String(40)),
    Column("finished_at", Moment),
    Column("seconds", Float),
    Column("verdict", String(20)),  # as in the inspection document; "trouble" when there is only a problem
    Column("confidence", Float),
    Column("delta_e_2000_median", Float),
    Column("transferred_fraction", Float),
    Column("document", JSON),  # the inspection document, see inspection.schema.json
    Column("problem", JSON),  # code, message and advice when there is no document
    Column("pictures", JSON),  # what pages show: name → SHA-256 in the store
    UniqueConstraint("shop_id", "idempotency_key"),
    Index(
        "ix_inspections_newest", "shop_id", "id", "photo_name"
    ),  # lists, and searching names in the index alone
    Index("ix_inspections_by_verdict", "shop_id", "verdict", "id"),
    Index("ix_inspections_waiting", "finished_at", "lease_until"),
)
"""One row a photo to be judged, or judged."""

judgements: Final = Table(
    "judgements",
    metadata,
    row_number(),
    shop_column(),
    Column("inspection_id", ForeignKey("inspections.id"), nullable=False, index=True),
    Column("verdict", String(20), nullable=False),
    Column("reason", Text, nullable=False),
    Column("judged_by", String(200), nullable=False),
    Column("judged_at", Moment, nullable=False),
)
"""What a person says of a piece, kept beside the machine's verdict; the newest one counts."""

approved_pieces: Final = Table(
    "approved_pieces",
    metadata,
    row_number(),
    shop_column(),
    Column("artwork_id", ForeignKey("artworks.id"), nullable=False, index=True),
    Column("inspection_id", ForeignKey("inspections.id"), nullable=False),
    Column("approved_by", String(200), nullable=False),
    Column("approved_at", Moment, nullable=False),
    Column("withdrawn_at", Moment),
    UniqueConstraint("artwork_id", "inspection_id"),
)
"""Pieces that show how an artwork looks when it is good."""
