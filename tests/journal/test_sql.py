"""The shop's database holds what its benches acknowledged, whole and once, however often it goes away. On SQLite and on a real PostgreSQL."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.benchmarks.postgres import Server, program
from assistant.core import events as ev
from assistant.core.errors import BadInputError, JournalError
from assistant.journal import Journal
from assistant.journal.lines import LinesJournal, read_record, record_of
from assistant.journal.spool import Carrier, fetch, keep_carrying, spool_folder
from assistant.journal.sql import Shop, WentOnElsewhereError, lines_of
from tests.suites.journal import BATCHES, STARTED, JournalSuite


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A PostgreSQL server of our own."""
    if program("initdb") is None:
        pytest.skip("no PostgreSQL is installed here")
    made = Server()
    yield made
    made.remove()


@pytest.fixture
def empty(server: Server) -> Server:
    """The server, with nothing in it."""
    from sqlalchemy import create_engine, text

    engine = create_engine(server.url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        connection.execute(text("drop table if exists entry"))
        connection.execute(text("drop table if exists alembic_version"))
    engine.dispose()
    return server


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An empty shop's store."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'shop.db'}"
        return
    empty: Server = request.getfixturevalue("empty")
    yield empty.url


class TestCarried(JournalSuite):
    """The suite of every journal, at a bench of a shop: whatever a test left in its folder is in the database as well, byte for byte."""

    opening = "from assistant.journal.lines import LinesJournal; LinesJournal(folder, job_id, new=False)"

    @pytest.fixture(autouse=True)
    def _carried(self, url: str, tmp_path: Path) -> Iterator[None]:
        yield
        carrier = Carrier(tmp_path, url)
        carrier.carry()
        shop = Shop(url)
        paths = list(tmp_path.glob("*.jsonl"))
        whole = {path.stem: b"".join(path.read_bytes().splitlines(True)[: len(lines_of(path.read_bytes()))]) for path in paths}
        assert {job_id: shop.raw(job_id) for job_id in shop.batches()} == {job_id: raw for job_id, raw in whole.items() if raw}
        carrier.close()
        shop.close()

    def make(self, folder: Path, job_id: str = "job", *, new: bool = True) -> Journal:
        return LinesJournal(folder, job_id, new=new)

    def tear(self, folder: Path, job_id: str = "job") -> None:
        path = folder / f"{job_id}.jsonl"
        path.write_bytes(path.read_bytes()[:-20])


def bench(folder: Path, job_id: str = "job") -> LinesJournal:
    journal = LinesJournal(folder, job_id, new=True)
    for batch in BATCHES:
        journal.append(batch, "0")
    return journal


@pytest.fixture
def closing() -> Iterator[list[Carrier | Shop | LinesJournal]]:
    """Closed when the test ends."""
    opened: list[Carrier | Shop | LinesJournal] = []
    yield opened
    for one in opened:
        one.close()


Closing = list[Carrier | Shop | LinesJournal]


def test_what_arrived_has_the_hash_and_the_events_of_the_bench(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [bench(tmp_path / "a"), carrier := Carrier(tmp_path / "a", url), shop := Shop(url)]
    assert carrier.carry() == sum(map(len, BATCHES))
    assert record_of(shop.raw("job"), "job") == read_record(tmp_path / "a", "job")


def test_a_round_without_news_sends_nothing_and_one_with_news_only_them(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [journal := bench(tmp_path / "a"), carrier := Carrier(tmp_path / "a", url)]
    carrier.carry()
    assert carrier.carry() == 0
    journal.append((ev.Held(), ev.Resumed()), "1")
    assert carrier.carry() == 2


def test_a_bench_that_cannot_know_what_arrived_sends_it_again_and_nothing_is_doubled(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [bench(tmp_path / "a"), first := Carrier(tmp_path / "a", url), shop := Shop(url)]
    first.carry()
    before = shop.raw("job")
    assert shop.add("job", lines_of((tmp_path / "a" / "job.jsonl").read_bytes())) == 0
    closing += [again := Carrier(tmp_path / "a", url)]
    assert again.carry() == 0
    assert shop.raw("job") == before


def test_many_lines_go_over_in_one_round(url: str, tmp_path: Path, closing: Closing) -> None:
    journal = LinesJournal(tmp_path / "a", "job", new=True)
    journal.append((STARTED, *(ev.Replied("why"),) * 1_700), "0")
    closing += [journal, carrier := Carrier(tmp_path / "a", url), shop := Shop(url)]
    assert carrier.carry() == 1_701
    assert shop.raw("job") == (tmp_path / "a" / "job.jsonl").read_bytes()


def test_a_job_that_went_on_at_two_benches_is_refused_and_the_others_are_carried(url: str, tmp_path: Path, closing: Closing) -> None:
    for name, event in (("a", ev.Held()), ("b", ev.Replied("why"))):
        journal = bench(tmp_path / name)
        journal.append((event,), "1")
        journal.close()
    closing += [
        one := Carrier(tmp_path / "a", url),
        other := Carrier(tmp_path / "b", url),
        bench(tmp_path / "b", "more"),
        shop := Shop(url),
    ]
    one.carry()
    held = shop.raw("job")
    assert other.carry() == sum(map(len, BATCHES))
    assert shop.raw("job") == held
    assert "job job went on elsewhere" in other.refused["job"]
    assert set(shop.batches()) == {"job", "more"}
    with pytest.raises(WentOnElsewhereError):
        shop.add("job", lines_of((tmp_path / "b" / "job.jsonl").read_bytes()))


def test_a_bench_that_is_behind_is_refused_when_it_goes_on_otherwise_even_by_one_entry(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [ahead := bench(tmp_path / "a"), one := Carrier(tmp_path / "a", url)]
    one.carry()
    fetch(tmp_path / "b", url, ["job"])
    for event in (ev.Held(), ev.Resumed(), ev.Held()):
        ahead.append((event,), "1")
    one.carry()
    closing += [behind := LinesJournal(tmp_path / "b", "job", new=False), other := Carrier(tmp_path / "b", url)]
    assert other.carry() == 0
    assert other.refused == {}
    behind.load()
    behind.append((ev.Replied("why"),), "2")
    other.carry()
    assert "job job went on elsewhere" in other.refused["job"]


def test_a_job_of_another_bench_is_fetched_byte_for_byte_and_can_be_gone_on_with(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [bench(tmp_path / "a"), carrier := Carrier(tmp_path / "a", url)]
    carrier.carry()
    assert fetch(tmp_path / "b", url, None) == ["job"]
    assert (tmp_path / "b" / "job.jsonl").read_bytes() == (tmp_path / "a" / "job.jsonl").read_bytes()
    assert fetch(tmp_path / "b", url, None) == []
    with pytest.raises(JournalError, match="is at this bench already"):
        fetch(tmp_path / "b", url, ["job"])
    with pytest.raises(JournalError, match="job other is not in the shop's store"):
        fetch(tmp_path / "b", url, ["other"])
    journal = LinesJournal(tmp_path / "b", "job", new=False)
    journal.load()
    journal.append((ev.Held(),), "1")
    closing += [journal, there := Carrier(tmp_path / "b", url)]
    assert there.carry() == 1


def test_eight_benches_open_an_empty_store_at_once(url: str, tmp_path: Path, closing: Closing) -> None:
    problems: list[BaseException] = []

    def work(number: int) -> None:
        try:
            journal = bench(tmp_path / str(number), f"job{number}")
            carrier = Carrier(tmp_path / str(number), url)
            carrier.carry()
            carrier.close()
            journal.close()
        except BaseException as error:
            problems.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    closing += [shop := Shop(url)]
    assert shop.batches() == {f"job{number}": len(BATCHES) for number in range(8)}


def test_the_tables_of_a_newer_program_are_left_alone(url: str, tmp_path: Path, closing: Closing) -> None:
    closing += [bench(tmp_path / "a"), carrier := Carrier(tmp_path / "a", url), shop := Shop(url)]
    carrier.carry()
    from sqlalchemy import text

    with shop._engine.begin() as connection:
        connection.execute(text("update alembic_version set version_num = '9999'"))
    with pytest.raises(JournalError, match=r"of a newer program \(its tables are at '9999'\)"):
        Shop(url)


def test_a_server_killed_twice_loses_and_doubles_nothing(empty: Server, tmp_path: Path, closing: Closing) -> None:
    closing += [journal := bench(tmp_path / "a", "killed"), carrier := Carrier(tmp_path / "a", empty.url)]
    carrier.carry()
    for _ in range(2):
        empty.kill()
        try:
            journal.append((ev.Held(), ev.Resumed()), "1")
            with pytest.raises(JournalError, match="the shop's store is away"):
                carrier.carry()
            journal.append((ev.Replied("why"),), "2")
        finally:
            empty.start()
        assert carrier.carry() == 3
    closing += [shop := Shop(empty.url)]
    assert shop.raw("killed") == (tmp_path / "a" / "killed.jsonl").read_bytes()


def test_a_bench_begins_and_works_while_the_store_is_away_and_is_told_so_once(tmp_path: Path) -> None:
    told: list[str] = []
    journal = bench(tmp_path / "a")
    end = keep_carrying(Carrier(tmp_path / "a", f"postgresql://bench@/none?host={tmp_path / 'nowhere'}"), told.append)
    journal.append((ev.Held(),), "1")
    end()
    journal.close()
    assert len(told) == 1
    assert told[0].startswith("the shop's store is away: ")
    assert len(read_record(tmp_path / "a", "job").lines) == sum(map(len, BATCHES)) + 1


def test_what_was_written_to_the_very_end_is_carried_before_the_process_ends(url: str, tmp_path: Path, closing: Closing) -> None:
    journal = bench(tmp_path / "a")
    end = keep_carrying(Carrier(tmp_path / "a", url), lambda text: pytest.fail(text))
    journal.append((ev.Stopped(True),), "1")
    journal.close()
    end()
    closing += [shop := Shop(url)]
    assert shop.raw("job") == (tmp_path / "a" / "job.jsonl").read_bytes()


def test_the_bench_is_told_of_a_job_that_went_on_elsewhere(url: str, tmp_path: Path) -> None:
    for name, event in (("a", ev.Held()), ("b", ev.Replied("why"))):
        journal = bench(tmp_path / name)
        journal.append((event,), "1")
        journal.close()
    told: list[str] = []
    for name in ("a", "b"):
        keep_carrying(Carrier(tmp_path / name, url), told.append)()
    assert len(told) == 1
    assert told[0].startswith("job job went on elsewhere")
    assert told[0].endswith("it is kept at this bench alone")


@pytest.mark.parametrize("wrong", ["mysql://x/y", "http://shop", "postgres://x", "ftp://a"])
def test_what_is_no_store_of_a_shop_is_refused_in_one_line(wrong: str, tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match=r"is no database: expected postgresql://… or sqlite:///…"):
        spool_folder(wrong, tmp_path)
    with pytest.raises(BadInputError, match="is no database"):
        Shop(wrong)
    with pytest.raises(BadInputError, match="is no database URL"):
        Shop("postgresql://host:port:port/x")


def test_two_shops_have_two_folders_and_none_tells_a_password(tmp_path: Path) -> None:
    one, other = (spool_folder(f"postgresql://bench:secret@{name}/shop", tmp_path) for name in ("a", "b"))
    assert one != other
    assert "secret" not in str(one)


def test_damaged_lines_and_a_torn_end_are_not_carried() -> None:
    assert [line.place for line in lines_of(b'{"batch":1,"last":false}\n{"batch":1,"last":true}\n{"batch":2,"last":false}\n{"ba')] == [0, 1]
    assert lines_of(b'{"batch":1,"last":true,"x":"\xff"}\n{"batch":2,"last":true}\n') == []
