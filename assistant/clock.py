"""The only clock and the only dice of the program: when something happened, and a name that no other job has."""

import secrets
from datetime import UTC, datetime


def now() -> str:
    """The time, to the millisecond, in UTC."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def new_job_id() -> str:
    """A new job's id: when it began, and four letters that keep two benches apart."""
    return f"{datetime.now(UTC):%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"
