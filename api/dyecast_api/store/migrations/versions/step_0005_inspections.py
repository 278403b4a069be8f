"""Tables of inspections and what people say of them."""

import sqlalchemy as sa
from alembic import op

from dyecast_api.store.metadata import Moment

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the step."""
    _create_inspections()
    _create_judgements()
    _create_approved_pieces()


def _create_inspections() -> None:
    """Make the table `inspections`."""
    op.create_table(
        "inspections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.String(length=32), nullable=False),
        sa.Column("artwork_version_id", sa.Integer(), nullable=True),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("photo_sha256", sa.String(length=64), nullable=False),
        sa.Column("photo_name", sa.String(length=255), nullable=False),
        sa.Column("paper", sa.String(length=20), nullable=False),
        sa.Column("peek", sa.Boolean(), nullable=False),
        sa.Column("idempotency_key", sa.String(length=200), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("received_at", Moment(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("lease_until", Moment(), nullable=True),
        sa.Column("worker", sa.String(length=64), nullable=True),
        sa.Column("stage", sa.String(length=40), nullable=True),
        sa.Column("finished_at", Moment(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("verdict", sa.String(length=20), nullable=True),
        sa.Column("confidence", sa.Float(), nullable=True),
        sa.Column("delta_e_2000_median", sa.Float(), nullable=True),
        sa.Column("transferred_fraction", sa.Float(), nullable=True),
        sa.Column("document", sa.JSON(), nullable=True),
        sa.Column("problem", sa.JSON(), nullable=True),
        sa.Column("pictures", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(
            ["artwork_version_id"],
            ["artwork_versions.id"],
            name=op.f("fk_inspections_artwork_version_id_artwork_versions"),
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_inspections_batch_id_batches")),
        sa.ForeignKeyConstraint(["device_id"], ["devices.id"], name=op.f("fk_inspections_device_id_devices")),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_inspections_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspections")),
        sa.UniqueConstraint("public_id", name=op.f("uq_inspections_public_id")),
        sa.UniqueConstraint(
            "shop_id", "idempotency_key", name=op.f("uq_inspections_shop_id_idempotency_key")
        ),
    )
    with op.batch_alter_table("inspections", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_inspections_artwork_version_id"), ["artwork_version_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_inspections_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index("ix_inspections_by_verdict", ["shop_id", "verdict", "id"], unique=False)
        batch_op.create_index("ix_inspections_newest", ["shop_id", "id", "photo_name"], unique=False)
        batch_op.create_index(batch_op.f("ix_inspections_shop_id"), ["shop_id"], unique=False)
        batch_op.create_index("ix_inspections_waiting", ["finished_at", "lease_until"], unique=False)


def _create_judgements() -> None:
    """Make the table `judgements`."""
    op.create_table(
        "judgements",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("inspection_id", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("judged_by", sa.String(length=200), nullable=False),
        sa.Column("judged_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspections.id"], name=op.f("fk_judgements_inspection_id_inspections")
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_judgements_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_judgements")),
    )
    with op.batch_alter_table("judgements", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_judgements_inspection_id"), ["inspection_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_judgements_shop_id"), ["shop_id"], unique=False)


def _create_approved_pieces() -> None:
    """Make the table `approved_pieces`."""
    op.create_table(
        "approved_pieces",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("shop_id", sa.Integer(), nullable=False),
        sa.Column("artwork_id", sa.Integer(), nullable=False),
        sa.Column("inspection_id", sa.Integer(), nullable=False),
        sa.Column("approved_by", sa.String(length=200), nullable=False),
        sa.Column("approved_at", Moment(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.ForeignKeyConstraint(
            ["artwork_id"], ["artworks.id"], name=op.f("fk_approved_pieces_artwork_id_artworks")
        ),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspections.id"], name=op.f("fk_approved_pieces_inspection_id_inspections")
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.id"], name=op.f("fk_approved_pieces_shop_id_shops")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_approved_pieces")),
        sa.UniqueConstraint(
            "artwork_id", "inspection_id", name=op.f("uq_approved_pieces_artwork_id_inspection_id")
        ),
    )
    with op.batch_alter_table("approved_pieces", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_approved_pieces_artwork_id"), ["artwork_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_approved_pieces_shop_id"), ["shop_id"], unique=False)
