"""Table of batches."""

import sqlalchemy as sa
from alembic import op

from dyecast_api.store.metadata import Moment

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the step."""
    _create_batches()


def _create_batches() -> None:
    """Make the table `batches`."""
    op.create_table(
        "batches",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=False),
        sa.Column("artwork_version_id", sa.Integer(), nullable=True),
        sa.Column("artwork_name", sa.String(length=255), nullable=False),
        sa.Column("artwork_sha256", sa.String(length=64), nullable=True),
        sa.Column("planned_pieces", sa.Integer(), nullable=True),
        sa.Column("every_nth", sa.Integer(), nullable=False),
        sa.Column("sampling", sa.JSON(), nullable=True),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("started_at", Moment(), nullable=False),
        sa.Column("first_pressing_id", sa.Integer(), nullable=True),
        sa.Column("decided_by", sa.String(length=200), nullable=True),
        sa.Column("decided_at", Moment(), nullable=True),
        sa.Column("decision_reason", sa.Text(), nullable=False),
        sa.Column("closed_by", sa.String(length=200), nullable=True),
        sa.Column("closed_at", Moment(), nullable=True),
        sa.Column("certificate", sa.JSON(), nullable=True),
        sa.Column("certificate_sha256", sa.String(length=64), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["artwork_version_id"],
            ["artwork_versions.id"],
            name=op.f("fk_batches_artwork_version_id_artwork_versions"),
        ),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipes.id"], name=op.f("fk_batches_recipe_id_recipes")),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_batches_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batches")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("uq_batches_shop_id_name")),
    )
    with op.batch_alter_table("batches", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batches_shop_id"), ["shop_id"], unique=False)
