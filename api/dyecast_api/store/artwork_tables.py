"""Tables of files, artworks and the true colours of cards."""

from typing import Final

from sqlalchemy import Column, Float, ForeignKey, Integer, String, Table, UniqueConstraint

from dyecast_api.store.metadata import Moment, metadata, row_number, shop_column

files: Final = Table(
    "files",
    metadata,
    row_number(),
    shop_column(),
    Column("sha256", String(64), nullable=False),  # of the bytes as kept; names the file in the store
    Column("byte_count", Integer, nullable=False),
    Column("media_type", String(100), nullable=False),
    Column("kept_at", Moment, nullable=False),
    Column("dropped_at", Moment),  # retention took the bytes away
    UniqueConstraint("shop_id", "sha256"),
)
"""Pictures and profiles in the store, one row a content."""

artworks: Final = Table(
    "artworks",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("retired_at", Moment),
    UniqueConstraint("shop_id", "name"),
)
"""What a shop prints; its files are versions."""

artwork_versions: Final = Table(
    "artwork_versions",
    metadata,
    row_number(),
    shop_column(),
    Column("artwork_id", ForeignKey("artworks.id"), nullable=False, index=True),
    Column("number", Integer, nullable=False),  # from 1
    Column("file_name", String(255), nullable=False),
    Column("file_sha256", String(64), nullable=False),
    Column("printer_profile_sha256", String(64)),
    Column("print_width_mm", Float),
    Column("print_height_mm", Float),
    Column("created_at", Moment, nullable=False),
    UniqueConstraint("artwork_id", "number"),
)
"""One row a version of an artwork; inspections name the version they were judged against."""

card_values: Final = Table(
    "card_values",
    metadata,
    row_number(),
    shop_column(),
    Column("layout", String(100), nullable=False),
    Column("edition", Integer, nullable=False),
    Column("trust", String(20), nullable=False),  # measured or transferred
    Column("file_sha256", String(64), nullable=False),
    Column("added_at", Moment, nullable=False),
    Column("withdrawn_at", Moment),
)
"""True colours of a shop's own cards."""
