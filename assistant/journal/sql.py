"""The shop's store: the journals of many benches in one database, SQLite or PostgreSQL, line for line as the benches wrote them.

A line is known by its job, its batch and its place in the batch, and is never changed: writing what is there already does nothing, so a bench
that cannot know whether its last lines arrived sends them again without harm. The lines of a job joined again are the bytes of its journal, so
that its hash, and a build sheet that bears it, hold here as well.
"""

import json
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from assistant.core.errors import BadInputError, JournalError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine, Table

_MIGRATIONS = Path(__file__).parent / "migrations"
_ONE_AT_A_TIME = 7_206_018  # any number: the lock under which a PostgreSQL database is brought to the newest form
_ALEMBIC = threading.Lock()
_MAY_NOT = "42501"  # SQLSTATE insufficient_privilege (PostgreSQL documentation, appendix A)
ROLES = {"bench": "benchhand_bench", "viewer": "benchhand_viewer"}
_MOST_LINES = 500  # of one statement: SQLite takes 32,766 values at most


class WentOnElsewhereError(JournalError):
    """Two benches went on with one job. Scene: an exported job was gone on with at both ends."""


class OnlyLookingError(BadInputError):
    """The account may look and not write. Scene: a job is begun with the office's account instead of the bench's."""


class Line(NamedTuple):
    """One line of a journal. batch: from 1; place: within the batch, from 0; text: without its line feed."""

    batch: int
    place: int
    is_last: bool
    text: str


def lines_of(raw: bytes) -> list[Line]:
    """The lines of a journal's whole batches; what comes after the last one was never acknowledged, and does not count."""
    found: list[Line] = []
    pending: list[Line] = []
    for encoded in raw.split(b"\n")[:-1]:
        try:
            text = encoded.decode()
            data = json.loads(text)
            line = Line(int(data["batch"]), len(pending), bool(data["last"]), text)
        except (ValueError, KeyError, TypeError):
            break
        pending.append(line)
        if line.is_last:
            found += pending
            pending = []
    return found


class Shop:
    """The database of a shop, at the newest form of its tables."""

    def __init__(self, url: str, wait_seconds: int = 5) -> None:
        """Connect, and bring the tables to the newest form. wait_seconds: for a server that does not answer.

        Raises BadInputError for a wrong URL, or for tables that this account may not bring to their form; JournalError when the database is away.
        """
        from sqlalchemy import create_engine
        from sqlalchemy.exc import ArgumentError, NoSuchModuleError
        from sqlalchemy.pool import NullPool

        if not is_url(url):
            raise BadInputError(f"store {url!r} is no database: expected postgresql://… or sqlite:///…")
        driver = url.replace("postgresql://", "postgresql+psycopg://", 1)
        options = {} if url.startswith("sqlite") else {"connect_timeout": wait_seconds}
        try:
            # A connection for each round: a bench that has nothing to send holds none, and none is left from before the server went away.
            self._engine: Engine = create_engine(driver, connect_args=options, poolclass=NullPool)
        except (ArgumentError, NoSuchModuleError, ValueError) as error:
            raise BadInputError(f"store {url!r} is no database URL: {error}") from error
        if url.startswith("sqlite"):
            _make_whole(self._engine)
        # Alembic keeps what it works on in one place for the whole process.
        with _ALEMBIC, self._begun() as connection:
            _migrate(connection)
        self._entry = _entry_table()

    @property
    def is_for_looking(self) -> bool:
        """Whether this account may read the jobs and not write any."""
        from sqlalchemy import text

        if self._engine.dialect.name != "postgresql":
            return False
        with self._begun() as connection:
            return not connection.execute(text("select has_table_privilege('entry', 'insert')")).scalar_one()

    def grant(self, benches: Sequence[str], viewers: Sequence[str]) -> None:
        """Make the two roles of a shop, and give them to accounts that are there. What is there already stays.

        A bench may read and add; a viewer may read. Nobody but the owner of the tables may change or delete a line.
        Raises BadInputError: no PostgreSQL, an account that is not there, or one that may not grant.
        """
        from sqlalchemy import text

        if self._engine.dialect.name != "postgresql":
            raise BadInputError("roles are those of a PostgreSQL server: whoever may write a file of SQLite may write all of it")
        with self._begun() as connection:
            # Two that make them at once would trip over each other.
            connection.execute(text(f"select pg_advisory_xact_lock({_ONE_AT_A_TIME})"))
            # The server only warns of what somebody else grants in vain.
            owns = text("select pg_has_role(relowner, 'member'), pg_get_userbyid(relowner) from pg_class where oid = 'entry'::regclass")
            is_owner, owner = connection.execute(owns).one()
            if not is_owner:
                raise OnlyLookingError(f"this account may not give roles in the shop's store: its tables belong to {owner!r}")
            there = set(connection.execute(text("select rolname from pg_roles")).scalars())
            missing = [name for name in (*benches, *viewers) if name not in there]
            if missing:
                raise BadInputError(f"no account {', '.join(map(repr, missing))} on this server: make it first, with `create role … login`")
            quoted = connection.dialect.identifier_preparer.quote
            schema = quoted(connection.execute(text("select current_schema()")).scalar_one())
            for role, rights in (ROLES["bench"], "select, insert"), (ROLES["viewer"], "select"):
                if role not in there:
                    connection.execute(text(f"create role {role} nologin"))
                connection.execute(text(f"grant usage on schema {schema} to {role}"))
                connection.execute(text(f"revoke all on entry, alembic_version from {role}"))
                connection.execute(text(f"grant {rights} on entry to {role}"))
                connection.execute(text(f"grant select on alembic_version to {role}"))
            for role, names in (ROLES["bench"], benches), (ROLES["viewer"], viewers):
                for name in names:
                    connection.execute(text(f"grant {role} to {quoted(name)}"))

    def add(self, job_id: str, lines: Sequence[Line]) -> int:
        """Take lines of a job in; on return they are on disk there. Gives how many were new.

        Raises JournalError when the database is away, WentOnElsewhereError when it holds another text in the same place; nothing of them counts then.
        """
        with self._begun() as connection:
            return sum(self._add(connection, job_id, lines[at : at + _MOST_LINES]) for at in range(0, len(lines), _MOST_LINES))

    def _add(self, connection: "Connection", job_id: str, lines: Sequence[Line]) -> int:
        from sqlalchemy import select
        from sqlalchemy.dialects import postgresql, sqlite

        rows = [{"job_id": job_id, **line._asdict()} for line in lines]
        insert = (postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert)(self._entry)
        done = connection.execute(insert.on_conflict_do_nothing().returning(self._entry.c.batch), rows)
        new = len(done.fetchall())
        if new < len(rows):
            entry = self._entry.c
            among = entry.batch.between(lines[0].batch, lines[-1].batch)
            held = connection.execute(select(entry.batch, entry.place, entry.text).where(entry.job_id == job_id, among))
            texts = {(batch, place): text for batch, place, text in held}
            odd = next((line for line in lines if texts.get((line.batch, line.place)) != line.text), None)
            if odd is not None:
                raise WentOnElsewhereError(
                    f"job {job_id} went on elsewhere: entry {odd.batch} of the shop's store is another one than this bench's"
                )
        return new

    def batches(self) -> dict[str, int]:
        """The last batch of every job that is kept."""
        from sqlalchemy import func, select

        with self._begun() as connection:
            found = connection.execute(select(self._entry.c.job_id, func.max(self._entry.c.batch)).group_by(self._entry.c.job_id))
            return {row[0]: row[1] for row in found}

    def raw(self, job_id: str) -> bytes:
        """A job's journal, byte for byte as its bench wrote it. Raises JournalError when it is not there."""
        from sqlalchemy import select

        entry = self._entry.c
        with self._begun() as connection:
            texts = connection.execute(select(entry.text).where(entry.job_id == job_id).order_by(entry.batch, entry.place)).scalars().all()
        if not texts:
            raise JournalError(f"job {job_id} is not in the shop's store")
        return ("\n".join(texts) + "\n").encode()

    def close(self) -> None:
        """Let go of its connections."""
        self._engine.dispose()

    @contextmanager
    def _begun(self) -> Iterator["Connection"]:
        """One transaction. Raises JournalError when the database is away, OnlyLookingError for what this account may not do."""
        from sqlalchemy.exc import SQLAlchemyError

        try:
            with self._engine.begin() as connection:
                yield connection
        except SQLAlchemyError as error:
            cause = str(getattr(error, "orig", None) or error).strip().splitlines()
            if getattr(getattr(error, "orig", None), "sqlstate", None) == _MAY_NOT:
                raise OnlyLookingError(
                    f"this account may not do that in the shop's store ({cause[0]}): take an account with the role {ROLES['bench']}, "
                    "and let the owner of the store run `benchhand jobs roles` once"
                ) from error
            raise JournalError(f"the shop's store is away: {cause[0] if cause else type(error).__name__}") from error


def is_url(store: str) -> bool:
    """Whether a store is told as a database rather than as a folder."""
    return store.startswith(("postgresql://", "sqlite:///"))


def _entry_table() -> "Table":
    from sqlalchemy import BigInteger, Boolean, Column, Integer, MetaData, Table, Text

    return Table(
        "entry",
        MetaData(),
        Column("job_id", Text, primary_key=True),
        Column("batch", BigInteger, primary_key=True),
        Column("place", Integer, primary_key=True),
        Column("is_last", Boolean, nullable=False),
        Column("text", Text, nullable=False),
    )


def _make_whole(engine: "Engine") -> None:
    """Have SQLite take tables and rows alike in one transaction, and one writer at a time: its driver alone leaves tables out."""
    from sqlalchemy import event

    @event.listens_for(engine, "connect")
    def _(raw: Any, _record: object) -> None:
        raw.isolation_level = None

    @event.listens_for(engine, "begin")
    def _(connection: "Connection") -> None:
        connection.exec_driver_sql("begin immediate")


def _migrate(connection: "Connection") -> None:
    """Bring the tables to the newest form, one bench at a time."""
    from alembic import command
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory
    from sqlalchemy import text

    if connection.dialect.name == "postgresql":
        connection.execute(text(f"select pg_advisory_xact_lock({_ONE_AT_A_TIME})"))
    settings = Config()
    settings.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    settings.attributes["connection"] = connection
    newest = ScriptDirectory.from_config(settings).get_current_head()
    here = MigrationContext.configure(connection).get_current_revision()
    if here == newest:
        return
    known = {script.revision for script in ScriptDirectory.from_config(settings).walk_revisions()}
    if here is not None and here not in known:
        raise JournalError(f"the shop's store is of a newer program (its tables are at {here!r}): bring this bench's program up to date")
    command.upgrade(settings, "head")
