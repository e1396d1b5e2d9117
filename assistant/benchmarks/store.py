"""`python -m assistant.benchmarks.store search|benches|long|full`: what the store bears: many jobs, many benches, a long job, a full disk.

Every job is a virtual axle's, played by its technician through the real engine and kept by the real journal; the server is a real PostgreSQL.
"""

import itertools
import json
import multiprocessing
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Annotated, Any

import typer

from assistant.bench import Bench, new_bench, resume_bench
from assistant.benchmarks.jobs import Command, Script, is_same, scripted
from assistant.benchmarks.postgres import Server, program
from assistant.benchmarks.times import at_share
from assistant.files import job_from
from assistant.headless import answer
from assistant.journal.lines import LinesJournal, read_record
from assistant.journal.spool import Carrier, keep_carrying
from assistant.journal.sql import Shop, lines_of
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle

if TYPE_CHECKING:
    from multiprocessing.synchronize import Barrier

app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False, help=__doc__)
Seed = Annotated[int, typer.Option(help="The same seed makes the same jobs.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]
Line = dict[str, Any]


def _end(figures: dict[str, Any], text: str, *, as_json: bool, is_good: bool) -> None:
    """Print the figures, and end with 0 when they are as they should be."""
    typer.echo(json.dumps(figures) if as_json else text.format(**figures))
    raise typer.Exit(0 if is_good else 1)


# ---- ten thousand jobs

MOST_SEARCH_SECONDS = 1.0
_LAYOUTS = (
    Build(),
    Build("head-cone", "crush-sleeve", "side-shims"),
    Build("head-cup", "spacer-shims", "case-shims", units="mm"),
)


@dataclass(frozen=True)
class Search:
    """Seconds of the command `jobs list WORD` from its start to its end. first: there is no index yet; again: one for each word;
    one_more: after a job went on. cpu: of them, what one search took of a core, the most. found: how many jobs each word found;
    megabytes: of the journals."""

    jobs: int
    megabytes: float
    first: float
    again: tuple[float, ...]
    one_more: float
    cpu: float
    found: tuple[int, ...]


def fill(store: Path, count: int, seed: int) -> float:
    """So many finished jobs in a store: whole journals of three axles, each under a name, a title and a day of its own. Gives megabytes."""
    store.mkdir(parents=True)
    played = [_journal(build, seed + index) for index, build in enumerate(_LAYOUTS)]
    size = 0
    for number in range(count):
        year, month, day = 2020 + number % 6, 1 + number % 12, 1 + number % 28
        job_id = f"{year}{month:02d}{day:02d}-{number:06d}"
        raw = played[number % len(played)]
        for old, new in (
            ('"job_id":"model"', f'"job_id":"{job_id}"'),
            ('"title":"', f'"title":"order {number} '),
            ('"at":"0"', f'"at":"{year}-{month:02d}-{day:02d}T08:00:00.000+00:00"'),
        ):
            raw = raw.replace(old.encode(), new.encode())
        size += (store / f"{job_id}.jsonl").write_bytes(raw)
    return size / 1e6


def _journal(build: Build, seed: int) -> bytes:
    """The journal of one whole job."""
    with tempfile.TemporaryDirectory() as folder:
        axle = VirtualAxle(build, seed)
        bench, batch = _begun(axle, Path(folder), "model")
        hands = Technician(axle)
        while "wait" in batch[-1]:
            hands.observe(batch)
            batch = _answered(bench, hands.answer(batch[-1]["wait"]))
        bench.journal.close()
        return (Path(folder) / "model.jsonl").read_bytes()


def _begun(axle: VirtualAxle, folder: Path, job_id: str) -> tuple[Bench, list[Line]]:
    job = job_from(tomllib.loads(axle.job_toml()), "job.toml")
    bench, effects = new_bench(job, LinesJournal(folder, job_id, new=True), lambda: "0")
    return bench, [effect.json() for effect in effects]


def _answered(bench: Bench, line: Line) -> list[Line]:
    return [effect.json() for effect in answer(bench, json.dumps(line))]


def searched(store: Path, words: Sequence[str]) -> Search:
    """Search a store that was filled, with the real command."""
    journals = list(store.glob("*.jsonl"))
    first, _, _ = _listed(store, words[0])
    again, cpu, found = zip(*(_listed(store, word) for word in words), strict=True)
    max(journals).touch()
    one_more, _, _ = _listed(store, words[0])
    return Search(len(journals), sum(path.stat().st_size for path in journals) / 1e6, first, again, one_more, max(cpu), found)


def _listed(store: Path, word: str) -> tuple[float, float, int]:
    """(seconds, of them on a core, jobs found) of one search."""
    command = [sys.executable, "-m", "assistant", "jobs", "list", word, "--store", str(store)]
    began, before = time.perf_counter(), os.times()
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    after = os.times()
    on_a_core = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - began, on_a_core, int(done.stderr.split()[0])


@app.command()
def search(
    count: Annotated[int, typer.Option("--jobs", min=1, help="How many jobs are kept.")] = 10_000, seed: Seed = 1, as_json: Json = False
) -> None:
    """Search a store of many jobs with the real command: no search but the first one, which makes the index, may take a second."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "store"
        fill(store, count, seed)
        figures = searched(store, ("crush-sleeve", f"order {count - 1}", "2023", "nothing-of-that-name", "in spec"))
    slowest = max(*figures.again, figures.one_more)
    text = (
        "{jobs} jobs, {megabytes:.0f} MB: the first search, which makes the index, {first:.1f} s\n"
        "five searches {again_text} s (at most {cpu:.2f} s of a core), they found {found}; after one job went on {one_more:.2f} s"
    )
    again_text = ", ".join(f"{seconds:.2f}" for seconds in figures.again)
    _end({**asdict(figures), "again_text": again_text}, text, as_json=as_json, is_good=slowest <= MOST_SEARCH_SECONDS)


# ---- many benches, one database

# How much longer a reply may take while the server is away before "unchanged" is not true any more: this machine's own scatter.
MOST_LONGER_SECONDS = 0.005
_READY_SECONDS = 120.0


@dataclass(frozen=True)
class Played:
    """What one bench did. replies: (when, on the machine's clock; seconds) of each; readings: (job, id, value) of each acknowledged one."""

    replies: list[tuple[float, float]]
    readings: list[tuple[str, str, str]]
    told: list[str]


@dataclass(frozen=True)
class Shift:
    """Many benches at one server. up and away: the reply times while it answered and while it did not; worse: of each bench, how much longer
    its replies took (95th percentile) while the server was away, the worst first."""

    benches: int
    acknowledged: int
    lost: int
    doubled: int
    jobs: int
    differing: int
    rows: int
    up: list[float]
    away: list[float]
    worse: list[float]
    caught_up_seconds: float
    told: int


def work(number: int, folder: Path, url: str, script: Script, seconds: float, ready: "Barrier") -> None:
    """One bench, in a process of its own: job after job, at a technician's pace, carried to the database beside the work.

    A technician gives an input every few seconds; here it is every half second, so that a minute holds a whole job.
    """
    store = folder / f"bench {number}"
    dice, pause, told = random.Random(number), threading.Event(), list[str]()
    end = keep_carrying(Carrier(store, url), told.append)
    job = job_from(tomllib.loads(script.job_toml), "job.toml")
    played = Played([], [], told)
    until = None
    for count in itertools.count():
        job_id = f"b{number:02d}-{count}"
        bench, _ = new_bench(job, LinesJournal(store, job_id, new=True), lambda: "0")
        # Each bench is somewhere else in its job, so that what is asked of them while the server is away is what is asked otherwise.
        skipped = dice.randrange(len(script.inputs)) if until is None else 0
        for place, line in enumerate(script.inputs):
            if until is None and place == skipped:
                ready.wait(_READY_SECONDS)
                until = time.monotonic() + seconds
            if until is not None:
                pause.wait(dice.uniform(0.25, 0.75))
            began = time.perf_counter()
            effects = answer(bench, json.dumps(line))
            if until is not None:
                played.replies.append((time.monotonic(), time.perf_counter() - began))
            played.readings.extend((job_id, e.body["id"], str(e.body["value"])) for e in effects if e.kind == "recorded")
            if until is not None and time.monotonic() >= until:
                break
        bench.journal.close()
        if until is not None and time.monotonic() >= until:
            break
    end()
    (folder / f"bench {number}.json").write_text(json.dumps(asdict(played)), encoding="utf-8")


def shift(benches: int, seconds: float, outages: Sequence[tuple[float, float]], folder: Path, script: Script, server: Server) -> Shift:
    """Let so many benches work at a server that is killed and started again. outages: (killed at, started at) in seconds from the beginning."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__, "scipy.special", "assistant.journal.sql", "sqlalchemy", "alembic.command", "psycopg"])
    ready = context.Barrier(benches + 1)
    processes = [context.Process(target=work, args=(number, folder, server.url, script, seconds, ready)) for number in range(benches)]
    for process in processes:
        process.start()
    ready.wait(_READY_SECONDS)
    began = time.monotonic()
    away = []
    pause = threading.Event()
    for killed_at, started_at in outages:
        pause.wait(max(0.0, began + killed_at - time.monotonic()))
        server.kill()
        gone = time.monotonic()
        pause.wait(max(0.0, began + started_at - time.monotonic()))
        server.start()
        away.append((gone, time.monotonic()))
    for process in processes:
        process.join()
    failed = [process.exitcode for process in processes if process.exitcode]
    if failed:
        raise RuntimeError(f"{len(failed)} benches ended with {failed}")
    caught_up = time.monotonic()
    for number in range(benches):
        # A bench that ended while the server was still coming up carries its rest when it is next started.
        carrier = Carrier(folder / f"bench {number}", server.url)
        carrier.carry()
        carrier.close()
    return _counted(folder, benches, server.url, away, time.monotonic() - caught_up)


def _counted(folder: Path, benches: int, url: str, away: Sequence[tuple[float, float]], caught_up: float) -> Shift:
    """Hold what is in the database against what every bench acknowledged, and its replies against one another."""
    shop = Shop(url)
    held = {job_id: shop.raw(job_id) for job_id in shop.batches()}
    shop.close()
    in_shop = [reading for job_id, raw in held.items() for reading in _readings_of(job_id, raw)]
    played = [Played(**json.loads((folder / f"bench {number}.json").read_text(encoding="utf-8"))) for number in range(benches)]
    acknowledged = [tuple(reading) for bench in played for reading in bench.readings]
    journals = {path.stem: path.read_bytes() for number in range(benches) for path in (folder / f"bench {number}").glob("*.jsonl")}
    replies = [[(any(gone <= at <= back for gone, back in away), seconds) for at, seconds in bench.replies] for bench in played]
    shares = [[[s for is_away, s in bench if is_away is which] for which in (False, True)] for bench in replies]
    return Shift(
        benches=benches,
        acknowledged=len(acknowledged),
        lost=len(set(acknowledged) - set(in_shop)),
        doubled=len(in_shop) - len(set(in_shop)),
        jobs=len(journals),
        differing=sum(held.get(job_id) != raw for job_id, raw in journals.items()) + len(held.keys() - journals.keys()),
        rows=sum(len(lines_of(raw)) for raw in held.values()),
        up=[s for up, _ in shares for s in up],
        away=[s for _, gone in shares for s in gone],
        worse=sorted((at_share(gone, 0.95) - at_share(up, 0.95) for up, gone in shares if up and gone), reverse=True),
        caught_up_seconds=caught_up,
        told=sum(len(bench.told) for bench in played),
    )


def _readings_of(job_id: str, raw: bytes) -> list[tuple[str, str, str]]:
    """(job, id, value) of every reading that a journal holds, as the lines out say it."""
    found = []
    for text in raw.splitlines():
        event = json.loads(text)
        if event["event"] == "Recorded":
            found.append((job_id, event["id"], str(event["value"]["value"] if event["value"] else event["choice"])))
    return found


@app.command()
def benches(
    count: Annotated[int, typer.Option("--benches", min=1, help="How many benches.")] = 50,
    seconds: Annotated[float, typer.Option(min=4.0, help="How long they work; the server is away for a third of it.")] = 60.0,
    seed: Seed = 1,
    as_json: Json = False,
) -> None:
    """Benches at one PostgreSQL that is killed (signal 9) and started twice: nothing may be lost or doubled, no reply may wait for it."""
    if program("initdb") is None:
        typer.echo("store: no PostgreSQL is installed here", err=True)
        raise typer.Exit(2)
    outages = [(seconds * 0.2, seconds * 0.4), (seconds * 0.6, seconds * 0.75)]
    server = Server()
    try:
        with tempfile.TemporaryDirectory() as folder:
            found = shift(count, seconds, outages, Path(folder), scripted(seed), server)
    finally:
        server.remove()
    worst = found.worse[0] if found.worse else 0.0
    times = {
        f"{name}_{share}_ms": round(1000 * at_share(getattr(found, name), float(f"0.{share}")), 2)
        for name in ("up", "away") for share in ("50", "95")
    }  # fmt: skip
    figures = {
        **{name: value for name, value in asdict(found).items() if name not in ("up", "away", "worse")},
        **times, "replies_up": len(found.up), "replies_away": len(found.away), "seconds": seconds,
        "median_worse_ms": round(1000 * median(found.worse), 2) if found.worse else 0.0, "worst_ms": round(1000 * worst, 2),
    }  # fmt: skip
    text = (
        "{benches} benches for {seconds:.0f} s, {jobs} jobs, {rows} lines; acknowledged readings {acknowledged}: lost {lost}, doubled {doubled}; "
        "journals that are not byte for byte in the database: {differing}\n"
        "a reply while the server was up ({replies_up}): p50 {up_50_ms} ms, p95 {up_95_ms} ms; away ({replies_away}): p50 {away_50_ms} ms, "
        "p95 {away_95_ms} ms\n"
        "of each bench, p95 away less p95 up: in the middle {median_worse_ms} ms, the worst {worst_ms} ms; "
        "the rest was carried in {caught_up_seconds:.1f} s"
    )
    unchanged = at_share(found.away, 0.95) - at_share(found.up, 0.95) <= MOST_LONGER_SECONDS
    _end(figures, text, as_json=as_json, is_good=not (found.lost or found.doubled or found.differing) and unchanged)


# ---- a long job

MEASURED = ("pinion_drag", "pinion_depth", "backlash")
_COMPARED = 100
# A reply of a long job may take this many times as much of a core as one of a short job before it is called slower. What a disk and other
# programs add scatters far more than that, and is reported beside it.
MOST_TIMES = 1.5


@dataclass(frozen=True)
class Long:
    """A job in which one quantity was measured again and again. early and late: seconds of the first and of the last replies of that;
    early_cpu and late_cpu: what they took of a core; resumed: seconds until it can be gone on with."""

    quantity: str
    events: int
    readings: int
    early: tuple[float, ...]
    late: tuple[float, ...]
    early_cpu: tuple[float, ...]
    late_cpu: tuple[float, ...]
    resumed: float

    @property
    def times(self) -> float:
        """How many times as much of a core a late reply took as an early one, in the mean."""
        return sum(self.late_cpu) / sum(self.early_cpu)


def measured_again(quantity: str, events: int, folder: Path, seed: int) -> Long:
    """Take a job to its first reading of a quantity; then read it, go back to it and read it again until the journal holds so many events."""
    axle = VirtualAxle(Build(), seed)
    bench, batch = _begun(axle, folder, quantity)
    hands = Technician(axle, gauges=0.0)
    while batch[-1]["wait"].get("quantity") != quantity:
        hands.observe(batch)
        batch = _answered(bench, hands.answer(batch[-1]["wait"]))
    path = folder / f"{quantity}.jsonl"
    seconds: list[float] = []
    cpu: list[float] = []
    while path.read_bytes().count(b"\n") < events:
        line, wait = {"say": "go back"}, batch[-1]["wait"]
        if wait["for"] != "reading" and bench.state.asked is not None:
            line = {"say": "yes"}
        elif not _just_read(bench, quantity, wait):
            hands.observe(batch)
            line = hands.answer(wait)
        began, cpu_began = time.perf_counter(), time.process_time()
        batch = _answered(bench, line)
        seconds.append(time.perf_counter() - began)
        cpu.append(time.process_time() - cpu_began)
    bench.journal.close()
    readings = len(bench.state.readings)
    began = time.perf_counter()
    again = resume_bench(LinesJournal(folder, quantity, new=False), lambda: "0")
    resumed = time.perf_counter() - began
    again.bench.journal.close()
    return Long(
        quantity, path.read_bytes().count(b"\n"), readings, tuple(seconds[:_COMPARED]), tuple(seconds[-_COMPARED:]),
        tuple(cpu[:_COMPARED]), tuple(cpu[-_COMPARED:]), resumed,
    )  # fmt: skip


def _just_read(bench: Bench, quantity: str, wait: Line) -> bool:
    """Whether the quantity has been read at all its places and something else is waited for."""
    last = bench.state.readings[-1] if bench.state.readings else None
    asks_for_it = wait.get("quantity") == quantity
    return last is not None and last.quantity == quantity and last.void is None and not asks_for_it and wait["for"] != "caution"


@app.command("long")
def long_job(
    events: Annotated[int, typer.Option(min=1000, help="How many events the journal holds in the end.")] = 5_000,
    seed: Seed = 1,
    as_json: Json = False,
) -> None:
    """Jobs of many events, with hundreds of readings of one quantity: the last replies may not take longer than the first ones."""
    with tempfile.TemporaryDirectory() as folder:
        found = [measured_again(quantity, events, Path(folder), seed) for quantity in MEASURED]
    is_good = True
    for job in found:
        is_good = is_good and job.times <= MOST_TIMES
        figures = {
            "quantity": job.quantity, "events": job.events, "readings": job.readings, "times": round(job.times, 2), "resumed": round(job.resumed, 2),
            **{f"{name}_{share}_ms": round(1000 * at_share(getattr(job, name), float(f"0.{share}")), 1)
               for name in ("early", "late") for share in ("50", "95")},
        }  # fmt: skip
        text = (
            "{quantity}: {events} events, {readings} readings; the first 100 replies p50 {early_50_ms} ms, p95 {early_95_ms} ms, "
            "the last 100 p50 {late_50_ms} ms, p95 {late_95_ms} ms; of a core {times} times as much; gone on with after {resumed} s"
        )
        typer.echo(json.dumps(figures) if as_json else text.format(**figures))
    raise typer.Exit(0 if is_good else 1)


# ---- a full disk


@dataclass
class Full:
    """times: how often the disk refused; aloud: how often that was said, as urgent as it can be; corrupt: journals with anything but whole
    batches, or a state other than before; wrong: how often the job did not go on as if nothing had been."""

    times: int = 0
    aloud: int = 0
    corrupt: int = 0
    wrong: int = 0


class SmallDisk:
    """The room that a process has to write in: by a limit of the operating system on its files, or by filling up the disk itself."""

    def __init__(self, process: int, journal: Path, ballast: Path | None) -> None:
        """process: whose files are limited; ballast: a file on the journal's own small disk, which then is filled up with it instead."""
        self._process, self._journal, self._ballast = process, journal, ballast

    def fill(self, room: int) -> None:
        """Leave room for so many bytes of the journal: fewer than a batch, so that it is torn in the middle."""
        import resource

        if self._ballast is None:
            size = self._journal.stat().st_size + room
            resource.prlimit(self._process, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
            return
        with suppress(OSError), self._ballast.open("ab", buffering=0) as file:
            while True:
                file.write(b"x" * 4096)
        with suppress(OSError), self._ballast.open("ab", buffering=0) as file:
            while True:
                file.write(b"x")

    def free(self) -> None:
        """There is room again."""
        import resource

        if self._ballast is None:
            resource.prlimit(self._process, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        else:
            self._ballast.unlink()


def filled_up(script: Script, folder: Path, times: int, dice: random.Random, disk: Path | None = None) -> Full:
    """Drive the headless command by a script, and let it meet a full disk at random inputs. disk: a folder on a small disk, for the store."""
    found = Full()
    path = folder / "job.toml"
    path.write_text(script.job_toml, encoding="utf-8")
    store = (disk or folder) / "store"
    command = Command("run", "--job", str(path), "--store", str(store))
    (journal,) = store.glob("*.jsonl")
    room = SmallDisk(command.process.pid, journal, disk / "ballast" if disk is not None else None)
    fill_at = set(dice.sample(range(len(script.inputs)), min(times, len(script.inputs))))
    is_full = False
    for number, line in enumerate(script.inputs):
        if number in fill_at and not is_full:
            room.fill(dice.randrange(60))
            is_full = True
        before = journal.read_bytes()
        batch = command.send(line)
        if is_full and not is_same(batch, script.batches[number + 1]):
            # A disk gives room by whole blocks: what fits into the last one is accepted as ever, and the next thing is refused.
            _refused(command, batch, line, script.last(number), journal, before, found, dice)
            room.free()
            is_full = False
            batch = command.send(line)
        found.wrong += not is_same(batch, script.batches[number + 1])
    found.wrong += command.close() != 0
    return found


def _refused(
    command: Command, batch: list[Line], line: Line, stood: Line, journal: Path, before: bytes, found: Full, dice: random.Random
) -> None:
    """Look at an input that the disk refused, and perhaps at the same once more. stood: the wait that it was given at; before: the journal then."""
    for _ in range(dice.randrange(2)):
        _look(batch, stood, journal, before, found)
        batch = command.send(line)
    _look(batch, stood, journal, before, found)
    found.corrupt += len(read_record(journal.parent, journal.stem).lines) != before.count(b"\n")


def _look(batch: list[Line], stood: Line, journal: Path, before: bytes, found: Full) -> None:
    found.times += 1
    said = [one["speak"] for one in batch if one.get("urgency") == "stop"]
    found.aloud += any("cannot be written" in text and "Nothing was accepted" in text for text in said)
    found.wrong += batch[-1] != stood
    found.corrupt += journal.read_bytes() != before


@app.command("full")
def full_disk(
    times: Annotated[int, typer.Option(min=1, help="At how many inputs the disk is full.")] = 40,
    disk: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="A folder on a small disk, which is filled up; else the system limits the file.")
    ] = None,
    seed: Seed = 1,
    as_json: Json = False,
) -> None:
    """A whole job that meets a full disk: said aloud, nothing corrupted, and it goes on when there is room."""
    with tempfile.TemporaryDirectory() as folder:
        found = filled_up(scripted(seed), Path(folder), times, random.Random(seed), disk)
    text = (
        "the disk refused {times} times: said aloud {aloud} times; journals changed by it {corrupt}; replies other than without it {wrong}"
    )
    _end(asdict(found), text, as_json=as_json, is_good=found.aloud == found.times and not (found.corrupt or found.wrong))


if __name__ == "__main__":
    app()
