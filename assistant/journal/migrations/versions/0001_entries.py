"""The lines of the journals."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One row a line of a journal; the key keeps a line from being there twice."""
    op.create_table(
        "entry",
        sa.Column("job_id", sa.Text, primary_key=True),
        sa.Column("batch", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("place", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("is_last", sa.Boolean, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )


def downgrade() -> None:
    """Without the journals, which stay at the benches."""
    op.drop_table("entry")
