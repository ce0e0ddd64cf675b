"""Keep under which key of its page a route was begun, so that one that is sent twice is one route.

Revision 0005, after 0004.
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "begun_route",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("route_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["route_id"], ["route.id"], name=op.f("fk_begun_route_route_id_route"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_begun_route")),
    )
    op.create_index(op.f("ix_begun_route_route_id"), "begun_route", ["route_id"])


def downgrade() -> None:
    """The routes stay."""
    op.drop_table("begun_route")
