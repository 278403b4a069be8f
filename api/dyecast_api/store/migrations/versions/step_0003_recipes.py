"""Tables of presses, blanks and recipes."""

import sqlalchemy as sa
from alembic import op

from dyecast_api.store.metadata import Moment

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the step."""
    _create_presses()
    _create_blanks()
    _create_recipes()


def _create_presses() -> None:
    """Make the table `presses`."""
    op.create_table(
        "presses",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("highest_temperature_k", sa.Float(), nullable=True),
        sa.Column("created_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_presses_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_presses")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("uq_presses_shop_id_name")),
    )
    with op.batch_alter_table("presses", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_presses_shop_id"), ["shop_id"], unique=False)


def _create_blanks() -> None:
    """Make the table `blanks`."""
    op.create_table(
        "blanks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("material", sa.String(length=40), nullable=False),
        sa.Column("thickness_mm", sa.Float(), nullable=False),
        sa.Column("coating_side", sa.String(length=20), nullable=False),
        sa.Column("supplier_temperature_k", sa.Float(), nullable=True),
        sa.Column("supplier_time_s", sa.Float(), nullable=True),
        sa.Column("lowest_temperature_k", sa.Float(), nullable=True),
        sa.Column("highest_temperature_k", sa.Float(), nullable=True),
        sa.Column("shortest_time_s", sa.Float(), nullable=True),
        sa.Column("longest_time_s", sa.Float(), nullable=True),
        sa.Column("cost", sa.Float(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("created_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_blanks_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blanks")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("uq_blanks_shop_id_name")),
    )
    with op.batch_alter_table("blanks", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_blanks_shop_id"), ["shop_id"], unique=False)


def _create_recipes() -> None:
    """Make the table `recipes`."""
    op.create_table(
        "recipes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("press_id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("ink", sa.String(length=200), nullable=False),
        sa.Column("paper", sa.String(length=200), nullable=False),
        sa.Column("protective_sheet", sa.String(length=200), nullable=False),
        sa.Column("pad", sa.String(length=200), nullable=False),
        sa.Column("temperature_k", sa.Float(), nullable=False),
        sa.Column("time_s", sa.Float(), nullable=False),
        sa.Column("pressure_kpa", sa.Float(), nullable=True),
        sa.Column("through_blank", sa.Integer(), nullable=False),
        sa.Column("created_at", Moment(), nullable=False),
        sa.Column("retired_at", Moment(), nullable=True),
        sa.ForeignKeyConstraint(["blank_id"], ["blanks.id"], name=op.f("fk_recipes_blank_id_blanks")),
        sa.ForeignKeyConstraint(["press_id"], ["presses.id"], name=op.f("fk_recipes_press_id_presses")),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_recipes_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipes")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("uq_recipes_shop_id_name")),
    )
    with op.batch_alter_table("recipes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recipes_shop_id"), ["shop_id"], unique=False)
