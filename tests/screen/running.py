"""A live job with its screen, in this process: the real loop, journal and server, without a terminal."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from assistant.bench import Bench, new_bench, resume_bench
from assistant.core.axle import Job
from assistant.core.effects import Effect
from assistant.journal import Journal
from assistant.journal.lines import LinesJournal
from assistant.live import Guarded, Loop
from assistant.screen.address import Place
from assistant.screen.server import Screen


@dataclass
class Running:
    """One job that runs. statuses: the loop's, once it has ended."""

    bench: Bench
    loop: Loop
    screen: Screen
    place: Place
    thread: threading.Thread
    statuses: list[int]

    def rest(self) -> None:
        """Let the job rest, as the end of the keyboard does, and wait for it."""
        self.loop.put(None)
        self.thread.join(10.0)


@contextmanager
def running(bench: Bench, first: tuple[Effect, ...], address: str, secret: Path) -> Iterator[Running]:
    """Serve the job until the block ends; then let it rest, and close."""
    place = Place.open(address, secret)
    loop = Loop(bench, (), lambda _: None)
    screen = Screen(
        place, lambda given, still_holds, answered: loop.put(Guarded(given, still_holds, answered)), bench.state.phrases.language
    )
    loop.watchers = (screen,)
    statuses: list[int] = []
    thread = threading.Thread(target=lambda: statuses.append(loop.run(first)), name="job", daemon=True)
    thread.start()
    job = Running(bench, loop, screen, place, thread, statuses)
    try:
        yield job
    finally:
        job.rest()
        screen.close()
        bench.journal.close()


@contextmanager
def new_job(
    job: Job, folder: Path, address: str = "127.0.0.1:0", journal: Journal | None = None, language: str = "en"
) -> Iterator[Running]:
    """A new job with its screen. journal: another than the usual one in `folder`."""
    bench, first = new_bench(job, journal or LinesJournal(folder, "job", new=True), lambda: "0", language=language)
    with running(bench, first, address, folder / "secret") as found:
        yield found


@contextmanager
def resumed_job(folder: Path, address: str) -> Iterator[Running]:
    """The same job again, from its journal."""
    found = resume_bench(LinesJournal(folder, "job", new=False), lambda: "0")
    with running(found.bench, found.effects, address, folder / "secret") as job:
        yield job
