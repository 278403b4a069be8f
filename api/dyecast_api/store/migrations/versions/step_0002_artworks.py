"""Tables of files, artworks and card values."""

import sqlalchemy as sa
from alembic import op

from dyecast_api.store.metadata import Moment

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the step."""
    _create_files()
    _create_artworks()
    _create_artwork_versions()
    _create_card_values()


def _create_files() -> None:
    """Make the table `files`."""
    op.create_table(
        "files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("byte_count", sa.Integer(), nullable=False),
        sa.Column("media_type", sa.String(length=100), nullable=False),
        sa.Column("kept_at", Moment(), nullable=False),
        sa.Column("dropped_at", Moment(), nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_files_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_files")),
        sa.UniqueConstraint("shop_id", "sha256", name=op.f("uq_files_shop_id_sha256")),
    )
    with op.batch_alter_table("files", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_files_shop_id"), ["shop_id"], unique=False)


def _create_artworks() -> None:
    """Make the table `artworks`."""
    op.create_table(
        "artworks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("created_at", Moment(), nullable=False),
        sa.Column("retired_at", Moment(), nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_artworks_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_artworks")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("uq_artworks_shop_id_name")),
    )
    with op.batch_alter_table("artworks", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_artworks_shop_id"), ["shop_id"], unique=False)


def _create_artwork_versions() -> None:
    """Make the table `artwork_versions`."""
    op.create_table(
        "artwork_versions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("artwork_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("file_name", sa.String(length=255), nullable=False),
        sa.Column("file_sha256", sa.String(length=64), nullable=False),
        sa.Column("printer_profile_sha256", sa.String(length=64), nullable=True),
        sa.Column("print_width_mm", sa.Float(), nullable=True),
        sa.Column("print_height_mm", sa.Float(), nullable=True),
        sa.Column("created_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(
            ["artwork_id"], ["artworks.id"], name=op.f("fk_artwork_versions_artwork_id_artworks")
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_artwork_versions_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_artwork_versions")),
        sa.UniqueConstraint("artwork_id", "number", name=op.f("uq_artwork_versions_artwork_id_number")),
    )
    with op.batch_alter_table("artwork_versions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_artwork_versions_artwork_id"), ["artwork_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_artwork_versions_shop_id"), ["shop_id"], unique=False)


def _create_card_values() -> None:
    """Make the table `card_values`."""
    op.create_table(
        "card_values",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("layout", sa.String(length=100), nullable=False),
        sa.Column("edition", sa.Integer(), nullable=False),
        sa.Column("trust", sa.String(length=20), nullable=False),
        sa.Column("file_sha256", sa.String(length=64), nullable=False),
        sa.Column("added_at", Moment(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_card_values_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_card_values")),
    )
    with op.batch_alter_table("card_values", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_card_values_shop_id"), ["shop_id"], unique=False)
