"""Bench and viewer as real roles of a real PostgreSQL: what a viewer may do is done by the real commands, what it may not the server refuses."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.benchmarks.postgres import Server, program
from assistant.core import events as ev
from assistant.core.errors import BadInputError
from assistant.journal.lines import LinesJournal
from assistant.journal.spool import Carrier, is_viewer, keep_carrying, mirror
from assistant.journal.sql import OnlyLookingError, Shop
from tests.conftest import JOB
from tests.suites.journal import BATCHES


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server with two accounts, `bench 3` and `office`, and the roles given to them."""
    if program("initdb") is None:
        pytest.skip("no PostgreSQL is installed here")
    made = Server()
    try:
        sql(made.url, 'create role "bench 3" login; create role office login')
        owner = Shop(made.url)
        owner.grant(["bench 3"], ["office"])
        owner.close()
        yield made
    finally:
        made.remove()


def sql(url: str, text: str) -> list[tuple[object, ...]]:
    import psycopg

    with psycopg.connect(url) as connection:
        cursor = connection.execute(text)  # type: ignore[arg-type]  # psycopg wants a literal; this is one, from a few lines below
        return cursor.fetchall() if cursor.description else []


def as_account(server: Server, account: str) -> str:
    return server.url.replace("bench@", f"{account.replace(' ', '%20')}@", 1)


def bench(folder: Path, job_id: str) -> LinesJournal:
    journal = LinesJournal(folder, job_id, new=True)
    for batch in BATCHES:
        journal.append(batch, "2026-01-02T03:04:05.000+00:00")
    return journal


def test_a_bench_adds_and_nobody_but_the_owner_changes_or_deletes(server: Server, tmp_path: Path) -> None:
    url = as_account(server, "bench 3")
    journal, carrier = bench(tmp_path, "kept"), Carrier(tmp_path, url)
    assert carrier.carry() == sum(map(len, BATCHES))
    carrier.close()
    journal.close()
    import psycopg

    changes = ("update entry set text = ''", "delete from entry", "drop table entry")
    adds = ("insert into entry values ('x', 1, 0, true, '')",)
    for account, may_not in (("bench 3", changes), ("office", (*changes, *adds))):
        for text in may_not:
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                sql(as_account(server, account), text)
    shop = Shop(as_account(server, "office"))
    assert shop.raw("kept") == (tmp_path / "kept.jsonl").read_bytes()
    shop.close()


def test_what_a_viewer_would_write_is_refused_in_one_line(server: Server, tmp_path: Path) -> None:
    journal, carrier = bench(tmp_path, "office-job"), Carrier(tmp_path, as_account(server, "office"))
    with pytest.raises(
        OnlyLookingError, match=r"^this account may not do that in the shop's store \(permission denied for table entry\): take"
    ):
        carrier.carry()
    carrier.close()
    told: list[str] = []
    keep_carrying(Carrier(tmp_path, as_account(server, "office")), told.append)()
    assert len(told) == 1
    assert "benchhand_bench" in told[0]
    journal.close()


def test_granting_twice_changes_nothing_and_an_account_that_is_not_there_is_named(server: Server) -> None:
    owner = Shop(server.url)
    owner.grant(["bench 3"], ["office"])
    with pytest.raises(BadInputError, match="no account 'nobody' on this server"):
        owner.grant(["nobody"], [])
    owner.close()
    shop = Shop(as_account(server, "bench 3"))
    with pytest.raises(OnlyLookingError, match="its tables belong to 'bench'"):
        shop.grant([], [])
    shop.close()


def test_a_viewer_who_gets_more_may_write_when_it_is_asked_again(server: Server, tmp_path: Path) -> None:
    sql(server.url, "create role changing login in role benchhand_viewer")
    url = as_account(server, "changing")
    assert is_viewer(tmp_path, url, ask_again=False)
    sql(server.url, "grant benchhand_bench to changing")
    assert is_viewer(tmp_path, url, ask_again=False)
    assert not is_viewer(tmp_path, url, ask_again=True)
    assert not is_viewer(tmp_path, f"postgresql://changing@/x?host={tmp_path}", ask_again=False)


def test_a_viewers_copy_follows_what_goes_on(server: Server, tmp_path: Path) -> None:
    journal, carrier = bench(tmp_path / "a", "goes-on"), Carrier(tmp_path / "a", as_account(server, "bench 3"))
    carrier.carry()
    url, copy = as_account(server, "office"), tmp_path / "copy"
    assert mirror(copy, url) >= 1
    assert mirror(copy, url) == 0
    journal.append((ev.Held(),), "1")
    carrier.carry()
    assert mirror(copy, url) == 1
    assert (copy / "goes-on.jsonl").read_bytes() == (tmp_path / "a" / "goes-on.jsonl").read_bytes()
    carrier.close()
    journal.close()


def run(*arguments: object, home: Path, store: str, lines: str = "") -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        input=lines, capture_output=True, text=True, timeout=90, check=False,
        env={**os.environ, "XDG_DATA_HOME": str(home), "BENCHHAND_STORE": store},
    )  # fmt: skip


def test_a_viewer_lists_reports_compares_and_exports_with_the_real_commands_and_may_not_work(server: Server, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace("invented light", "office test"), encoding="utf-8")
    at_bench, office = as_account(server, "bench 3"), as_account(server, "office")
    for _ in range(2):
        done = run("run", "--job", path, "--headless", home=tmp_path / "bench", store=at_bench, lines='{"say": "done"}\n')
        assert (done.returncode, done.stderr) == (0, "")
    listed = run("jobs", "list", "office test", home=tmp_path / "office", store=office)
    assert listed.returncode == 0
    assert "2 jobs" in listed.stderr
    one, other = [line.split()[0] for line in listed.stdout.splitlines() if not line.startswith(" ")]
    assert "office test axle" in run("report", one, home=tmp_path / "office", store=office).stdout
    assert "FINAL NUMBERS" in run("jobs", "compare", one, other, home=tmp_path / "office", store=office).stdout
    exported = run("jobs", "export", one, "--to", tmp_path / "one.zip", home=tmp_path / "office", store=office)
    assert exported.returncode == 0
    for refused in (("run", "--job", path, "--headless"), ("resume", one, "--headless"), ("jobs", "import", tmp_path / "one.zip")):
        done = run(*refused, home=tmp_path / "office", store=office)
        assert done.returncode == 2, refused
        assert done.stdout == ""
        assert done.stderr.splitlines()[-1].endswith(
            "this account of the shop's store may look and not write: work with the bench's own account"
        )
        assert len(done.stderr.splitlines()) == 1
    # While the server is away the viewer looks at what was there.
    server.stop()
    try:
        again = run("jobs", "list", "office test", home=tmp_path / "office", store=office)
        assert "2 jobs" in again.stderr
        assert "what is shown was there when it was last asked" in again.stderr
    finally:
        server.start()


def test_the_command_makes_the_roles_and_says_to_whom(server: Server, tmp_path: Path) -> None:
    sql(server.url, "create role bench_4 login")
    done = run("jobs", "roles", "--bench", "bench_4", home=tmp_path, store=server.url)
    assert (done.returncode, done.stdout) == (0, "benchhand_bench: bench_4\nbenchhand_viewer: given to nobody now\n")
    assert not is_viewer(tmp_path / "x", as_account(server, "bench_4"), ask_again=False)
    wrong = run("jobs", "roles", "--viewer", "nobody", home=tmp_path, store=server.url)
    assert wrong.returncode == 2
    assert len(wrong.stderr.splitlines()) == 1


def test_a_file_of_sqlite_has_no_roles(tmp_path: Path) -> None:
    shop = Shop(f"sqlite:///{tmp_path / 'shop.db'}")
    assert not shop.is_for_looking
    with pytest.raises(BadInputError, match="roles are those of a PostgreSQL server"):
        shop.grant([], [])
    shop.close()
