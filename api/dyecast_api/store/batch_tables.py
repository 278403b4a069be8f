"""Table of batches: pieces of one artwork pressed by one recipe, from the first piece to the certificate."""

from typing import Final

from sqlalchemy import JSON, Column, ForeignKey, Integer, String, Table, Text, UniqueConstraint

from dyecast_api.store.metadata import Moment, metadata, row_number, shop_column

batches: Final = Table(
    "batches",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("recipe_id", ForeignKey("recipes.id"), nullable=False),
    Column("artwork_version_id", ForeignKey("artwork_versions.id")),
    Column("artwork_name", String(255), nullable=False, default=""),
    Column("artwork_sha256", String(64)),
    Column("planned_pieces", Integer),
    Column("every_nth", Integer, nullable=False, default=1),  # which pieces are inspected
    Column("sampling", JSON),  # ISO 2859-1: quality limit, severity; none without lot acceptance
    Column("state", String(20), nullable=False),  # started, approved, held, closed
    Column("started_at", Moment, nullable=False),
    Column("first_pressing_id", Integer),  # the piece others are held against, once it is approved
    Column("decided_by", String(200)),  # who approved or held the first piece
    Column("decided_at", Moment),
    Column("decision_reason", Text, nullable=False, default=""),
    Column("closed_by", String(200)),
    Column("closed_at", Moment),
    Column("certificate", JSON),  # as closed, see certificate.schema.json
    Column("certificate_sha256", String(64)),  # the same as PDF, in the store
    Column("notes", Text, nullable=False, default=""),
    Column(
        "revision", Integer, nullable=False, default=1
    ),  # raised by every change, so that two people notice
    UniqueConstraint("shop_id", "name"),
)
"""One row a batch."""
