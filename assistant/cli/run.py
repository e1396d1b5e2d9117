"""`benchhand run` and `benchhand resume`: the job, live or on JSON lines."""

import functools
import io
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
import typer.core

from assistant.cli.gauges import Gauges, Settings, parts_from
from assistant.core.errors import BadInputError, BenchError, JournalError

if TYPE_CHECKING:
    from assistant.bench import Bench, Watcher
    from assistant.core.axle import Job
    from assistant.core.effects import Effect
    from assistant.core.events import Learned
    from assistant.hearing import Hearing
    from assistant.live_gauges import Part
    from assistant.mqtt import Address
    from assistant.own_words import OwnWords
    from assistant.screen.address import Place

Store = Annotated[
    str | None,
    typer.Option(
        "--store",
        metavar="DIR|URL",
        help="Where jobs are kept: a folder (default: one of your user account), or a shop's postgresql://…, sqlite:///…",
    ),
]
Headless = Annotated[bool, typer.Option("--headless", help="JSON lines on standard input and output.")]
Ears = Annotated[
    str, typer.Option("--ears", help="typed; net: the microphone through our own recogniser; vosk: through a Vosk model of yours.")
]
VoskModel = Annotated[
    Path | None, typer.Option("--vosk-model", metavar="FOLDER", help="For --ears vosk: the folder of an unpacked model, by its path.")
]
Screen = Annotated[
    str | None,
    typer.Option(
        "--screen", metavar="[HOST:PORT]", help="Serve the screen; at this computer's own address unless told, and then with a key."
    ),
]
Language = Annotated[
    str,
    typer.Option(
        "--language", envvar="BENCHHAND_LANGUAGE", metavar="en|de", help="What is said, shown, typed and heard; the job keeps it."
    ),
]
BoardUrl = Annotated[
    str | None,
    typer.Option(
        "--board", metavar="mqtt://HOST[:PORT][/TOPIC]", help="Tell the shop's own board what this bench is doing; it is never waited for."
    ),
]
Learn = Annotated[
    bool, typer.Option("--learn", help="Suppose of this axle what this store's finished builds of its kind have shown (`jobs learned`).")
]
Mouth = Annotated[str, typer.Option("--mouth", help="captions, or pyttsx3: aloud as well.")]


def register(app: typer.Typer) -> None:
    """Mount both commands."""
    app.command("run", cls=_WithScreen)(run)
    app.command("resume", cls=_WithScreen)(resume)


def run(
    job: Annotated[Path, typer.Option("--job", metavar="JOB.toml", help="The job file: layout, the manual's limits, parts.")],
    store: Store = None,
    language: Language = "en",
    ears: Ears = "typed",
    vosk_model: VoskModel = None,
    mouth: Mouth = "captions",
    gauge: Gauges = None,
    settings: Settings = None,
    screen: Screen = None,
    board: BoardUrl = None,
    learn: Learn = False,
    headless: Headless = False,
) -> None:
    """Begin a job and go through it, live.

    Exit status 1 when the job ends out of spec, 2 for bad input.
    """
    try:
        from assistant.bench import new_bench
        from assistant.clock import new_job_id, now
        from assistant.files import language_named, read_job
        from assistant.journal.lines import LinesJournal

        wanted, language = read_job(job), language_named(language)
        told, mouth = _board(board), _mouth(mouth)
        own = _own_words(settings, language)
        hearing = _hearing(ears, vosk_model, store, own, language)
        gauges = _gauges(gauge, settings, headless)
        # Before the journal: an address that is taken must not leave a job behind.
        place = _place(screen, store, headless)
        folder = store_folder(store, writes=True)
        learned = _learned(folder, wanted) if learn else ()
        journal = LinesJournal(folder, new_job_id(), new=True)
        bench, first = new_bench(wanted, journal, now, language=language, learned=learned)
        bench.own = own
        status = _drive(bench, first, hearing=hearing, mouth=mouth, gauges=gauges, place=place, told=told, headless=headless)
    except BenchError as error:
        _give_up(error)
    raise typer.Exit(status)


def resume(
    job_id: Annotated[str | None, typer.Argument(metavar="[JOB-ID]", help="Which job; without it, the one touched last.")] = None,
    store: Store = None,
    ears: Ears = "typed",
    vosk_model: VoskModel = None,
    mouth: Mouth = "captions",
    gauge: Gauges = None,
    settings: Settings = None,
    screen: Screen = None,
    board: BoardUrl = None,
    headless: Headless = False,
) -> None:
    """Go on exactly where the last accepted input left a job, in the language that it was begun in."""
    try:
        from assistant.bench import resume_bench
        from assistant.clock import now
        from assistant.journal.lines import LinesJournal

        told, mouth = _board(board), _mouth(mouth)
        gauges = _gauges(gauge, settings, headless)
        folder = store_folder(store, writes=True)
        if job_id is None:
            job_id = _newest(folder)
        language = _language_of(folder, job_id)
        own = _own_words(settings, language)
        hearing = _hearing(ears, vosk_model, store, own, language)
        place = _place(screen, store, headless)
        found = resume_bench(LinesJournal(folder, job_id, new=False), now)
        found.bench.own = own
        for note in found.notes:
            typer.echo(f"note: {note}", err=True)
        status = _drive(found.bench, found.effects, hearing=hearing, mouth=mouth, gauges=gauges, place=place, told=told, headless=headless)
    except BenchError as error:
        _give_up(error)
    raise typer.Exit(status)


def _newest(folder: Path) -> str:
    """The job that was written last, of those that can be gone on with; each that is passed over is told. Raises BadInputError for none."""
    from assistant.core.errors import JournalError
    from assistant.journal.lines import jobs_in, read_record

    for job_id, _ in jobs_in(folder) if folder.is_dir() else ():
        try:
            if read_record(folder, job_id).lines:
                return job_id
            why = f"job {job_id} holds no accepted input"
        except JournalError as error:
            why = str(error)
        typer.echo(f"note: passed over: {why}", err=True)
    raise BadInputError(f"there is no job to go on with in {folder}: begin one with `benchhand run --job JOB.toml`")


def _learned(folder: Path, job: "Job") -> "tuple[Learned, ...]":
    """What the store's builds say of this job's kind of axle, and a line that tells so."""
    from assistant.history.teach import taught_about

    found = taught_about(folder, job) if folder.is_dir() else None
    learned = found.learned if found is not None else ()
    many = max((one.builds for one in learned), default=0)
    _tell(f"learned from {many} finished builds of this kind" if learned else "no finished build of this kind teaches anything yet")
    return learned


def store_folder(store: str | None, *, writes: bool = False) -> Path:
    """The folder of the store: as told, else the environment's BENCHHAND_STORE, else the user's data folder.

    writes: whether a job is to be begun, gone on with or taken over there. Raises BadInputError: a shop's account that may only look, or a user
    without a home.
    """
    told = store or os.environ.get("BENCHHAND_STORE")
    try:
        if told and "://" not in told:
            return Path(told).expanduser()
        # Set and empty is the same as not set (XDG Base Directory Specification).
        own = Path(os.environ.get("XDG_DATA_HOME") or "~/.local/share").expanduser() / "benchhand"
    except RuntimeError as error:
        raise BadInputError("there is no home folder to keep jobs in: say --store DIR, or set BENCHHAND_STORE") from error
    return _of_shop(told, own, writes=writes) if told else own


def _of_shop(url: str, own: Path, *, writes: bool) -> Path:
    """This bench's own folder for a shop's database, carried to it from now on; of a viewer, a copy of what the shop holds.

    Raises BadInputError for what is no such URL, and when an account that may only look wants to write.
    """
    from assistant.journal.spool import is_viewer, spool_folder

    folder = spool_folder(url, own)
    if not is_viewer(folder, url, ask_again=writes):
        _carry(folder, url)
    elif writes:
        raise BadInputError("this account of the shop's store may look and not write: work with the bench's own account")
    else:
        _mirror(folder, url)
    return folder


@functools.cache
def _carry(folder: Path, url: str) -> None:
    """Begin to carry the folder to the database; once for a process."""
    from assistant.journal.spool import Carrier, keep_carrying

    keep_carrying(Carrier(folder, url), _tell)


@functools.cache
def _mirror(folder: Path, url: str) -> None:
    """Bring what the shop holds to a viewer's folder; once for a process."""
    from assistant.journal.spool import mirror

    try:
        mirror(folder, url)
    except JournalError as error:
        _tell(f"{error}; what is shown was there when it was last asked")


def _tell(text: str) -> None:
    typer.echo(f"note: {text}", err=True)


class _WithScreen(typer.core.TyperCommand):
    """An option whose value may be left out: `--screen` alone, or with HOST:PORT behind it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        given = []
        for index, word in enumerate(args):
            given.append(word)
            # Only what holds a colon is an address: `resume --screen JOB-ID` names a job.
            if word == "--screen" and not re.search(r"^[^/]*:\d*$", (args[index + 1 :] or [""])[0]):
                given.append("")
        return super().parse_args(ctx, given)


def _place(screen: str | None, store: str | None, headless: bool) -> "Place | None":
    """The address of the screen, ours from now on. Raises BadInputError: it cannot be had; on JSON lines the caller alone says what comes in."""
    if screen is None:
        return None
    from assistant.screen.address import Place

    if headless:
        raise BadInputError("--screen belongs to a live job, not to --headless: leave one of them out")
    return Place.open(screen, store_folder(store) / "screen.secret")


def _gauges(texts: list[str] | None, settings: Path | None, headless: bool) -> "tuple[Part, ...]":
    """What hangs on which port. Raises BadInputError; on JSON lines the caller alone says what comes in."""
    if texts and headless:
        raise BadInputError('--gauge belongs to a live job, not to --headless: there a reading comes as {"gauge": …}')
    return parts_from(texts, settings)


def _own_words(settings: Path | None, language: str) -> "OwnWords":
    """The user's own words. Raises BadInputError with everything that is wrong with them: before the job begins, not at the bench."""
    from assistant.own_words import own_words
    from gauges.known import settings_file

    return own_words(settings_file(settings), language)


def _language_of(folder: Path, job_id: str) -> str:
    """The language of a kept job: the ear must be of it before the job goes on. Raises JournalError."""
    from assistant.core.events import language_of
    from assistant.journal.lines import read_record

    return language_of(event for _, event in read_record(folder, job_id).lines)


def _hearing(ears: str, vosk_model: Path | None, store: str | None, own: "OwnWords", language: str) -> "Hearing | None":
    """The ear, loaded before the job begins: a model that is not there must not leave a job behind. Raises BadInputError."""
    if ears == "typed" and vosk_model is None:
        return None
    from assistant.core.tongues import TONGUES
    from assistant.hearing import open_hearing

    return open_hearing(ears, vosk_model, store_folder(store), own, TONGUES[language])


def _mouth(name: str) -> str:
    """A mouth's name. Raises BadInputError for one that does not exist: before the journal, so that no job is left behind."""
    from assistant.mouth import MOUTHS

    if name not in MOUTHS:
        raise BadInputError(f"--mouth {name!r} is not known, expected {' or '.join(MOUTHS)}")
    return name


def _drive(
    bench: "Bench", first: "tuple[Effect, ...]", *, hearing: "Hearing | None", mouth: str, gauges: "tuple[Part, ...]",
    place: "Place | None", told: "Address | None", headless: bool,
) -> int:  # fmt: skip
    bench.hearing = hearing
    with _watched(bench, told) as watchers:
        if headless:
            from assistant.headless import run as run_lines

            _lines_in_utf8()
            return run_lines(bench, first, sys.stdin, _write_line, watchers)
        from assistant.live import run as run_live

        return run_live(bench, first, mouth=mouth, hearing=hearing, gauges=gauges, place=place, watchers=watchers)


def _board(url: str | None) -> "Address | None":
    """Where the board listens. Raises BadInputError: before the journal, for a wrong URL must not leave a job behind."""
    if url is None:
        return None
    from assistant.board import address_of

    return address_of(url)


@contextmanager
def _watched(bench: "Bench", told: "Address | None") -> "Iterator[tuple[Watcher, ...]]":
    """Whoever looks on beside the screen, told to the end how the job is left."""
    if told is None:
        yield ()
        return
    from assistant.board import Board
    from assistant.clock import now

    board = Board(told, bench.state, now, _tell)
    try:
        yield (board,)
    finally:
        board.close()


def _lines_in_utf8() -> None:
    """JSON lines are UTF-8 whatever the locale (RFC 8259, section 8.1): a byte that is none is a bad line, not the end of the job."""
    for stream, encoding, errors in ((sys.stdin, "utf-8-sig", "replace"), (sys.stdout, "utf-8", "backslashreplace")):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding=encoding, errors=errors)


def _write_line(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _give_up(error: BenchError) -> None:
    typer.echo(f"benchhand: {error}", err=True)
    raise typer.Exit(2) from error
