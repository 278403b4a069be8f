"""Tables of pressings and of their grades."""

import sqlalchemy as sa
from alembic import op

from dyecast_api.store.metadata import Moment

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the step."""
    _create_pressings()
    _create_pressing_grades()


def _create_pressings() -> None:
    """Make the table `pressings`."""
    op.create_table(
        "pressings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("piece_number", sa.Integer(), nullable=True),
        sa.Column("inspection_id", sa.Integer(), nullable=True),
        sa.Column("photo_sha256", sa.String(length=64), nullable=True),
        sa.Column("pressed_at", Moment(), nullable=False),
        sa.Column("logged_at", Moment(), nullable=False),
        sa.Column("temperature_k", sa.Float(), nullable=False),
        sa.Column("time_s", sa.Float(), nullable=False),
        sa.Column("pressure_kpa", sa.Float(), nullable=True),
        sa.Column("grade", sa.String(length=20), nullable=True),
        sa.Column("confidence", sa.Float(), nullable=True),
        sa.Column("judged_by", sa.String(length=200), nullable=False),
        sa.Column("transferred_fraction", sa.Float(), nullable=True),
        sa.Column("transferred_fraction_uncertainty", sa.Float(), nullable=True),
        sa.Column("delta_e_2000", sa.Float(), nullable=True),
        sa.Column("delta_e_2000_first", sa.Float(), nullable=True),
        sa.Column("veil", sa.Float(), nullable=True),
        sa.Column("lost", sa.Integer(), nullable=False),
        sa.Column("taken_back_at", Moment(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_pressings_batch_id_batches")),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspections.id"], name=op.f("fk_pressings_inspection_id_inspections")
        ),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipes.id"], name=op.f("fk_pressings_recipe_id_recipes")),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_pressings_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pressings")),
        sa.UniqueConstraint("batch_id", "piece_number", name=op.f("uq_pressings_batch_id_piece_number")),
    )
    with op.batch_alter_table("pressings", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pressings_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pressings_recipe_id"), ["recipe_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pressings_shop_id"), ["shop_id"], unique=False)


def _create_pressing_grades() -> None:
    """Make the table `pressing_grades`."""
    op.create_table(
        "pressing_grades",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("pressing_id", sa.Integer(), nullable=False),
        sa.Column("grade", sa.String(length=20), nullable=False),
        sa.Column("judged_by", sa.String(length=200), nullable=False),
        sa.Column("judged_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pressing_id"], ["pressings.id"], name=op.f("fk_pressing_grades_pressing_id_pressings")
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_pressing_grades_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pressing_grades")),
    )
    with op.batch_alter_table("pressing_grades", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pressing_grades_pressing_id"), ["pressing_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pressing_grades_shop_id"), ["shop_id"], unique=False)
