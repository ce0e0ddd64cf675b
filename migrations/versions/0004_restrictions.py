"""Keep of each part of a beacon whether its coverage is published as restricted, and why that does not matter where it does not.

Revision 0004, after 0003.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

SAID = (
    ("RESTRICTED: part of this station''s coverage is unusable", "('azimuth', 'distance', 'bearing')"),
    ("RESTRICTED: part of this DME''s coverage is unusable", "('distance')"),
)
"""What the reader of a table wrote into the remarks of a beacon until now, and the parts it spoke of."""


def upgrade() -> None:
    """What stood only in the remarks becomes a value of the parts: restricted, and nobody has read the sectors."""
    op.add_column("beacon_component", sa.Column("restrictions", sa.Text(), nullable=True))
    for words, kinds in SAID:
        op.execute(
            f"UPDATE beacon_component SET restrictions = '' WHERE kind IN {kinds}"
            f" AND beacon_id IN (SELECT id FROM beacon WHERE remarks LIKE '%{words}%')"
        )


def downgrade() -> None:
    """The remarks still say it."""
    with op.batch_alter_table("beacon_component") as component:
        component.drop_column("restrictions")
