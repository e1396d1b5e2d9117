"""`python -m assistant.benchmarks.screen`: how soon a reading that is on disk is on the screen, how soon the page is, and how large.

Whole jobs on the virtual axle, with the real loop, journal and server, and a headless Chromium that looks on. A reading counts as shown when the
frame after the one that drew it has begun: only then has it surely been painted. Both clocks are this computer's.
"""

import json
import tempfile
import threading
import time
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from assistant.bench import new_bench
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError
from assistant.core.events import Event
from assistant.core.state import State
from assistant.files import job_from
from assistant.headless import input_from
from assistant.journal import Loaded
from assistant.journal.lines import LinesJournal
from assistant.live import Guarded, Loop
from assistant.screen.address import Place
from assistant.screen.page import page_for
from assistant.screen.server import Screen
from assistant.screen.words import words_for
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# What makes the exit status 1.
MOST_SHOWN_MS, MOST_PAINT_MS, MOST_BYTES = 100.0, 1000.0, 100_000

# Notes, under the state's name, when the frame after the one that drew it begins.
_WATCH = """
window.shownAt = {};
new MutationObserver(() => {
  const at = document.body && document.body.dataset.at;
  if (!at || at in window.shownAt) return;
  window.shownAt[at] = null;
  requestAnimationFrame(() => requestAnimationFrame(() => { window.shownAt[at] = performance.timeOrigin + performance.now(); }));
}).observe(document, {attributes: true, subtree: true, attributeFilter: ['data-at']});
"""

Figures = dict[str, Any]


def main(
    readings: Annotated[int, typer.Option(help="How many accepted readings, at least.")] = 100,
    loads: Annotated[int, typer.Option(help="How many times the page is loaded anew.")] = 10,
    chromium: Annotated[str, typer.Option(metavar="PATH", help="The browser.")] = "/usr/bin/chromium",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Measure the screen. Exit status 1 when it is slower or larger than it may be."""
    try:
        figures = measured(readings, loads, chromium)
    except BadInputError as error:
        typer.echo(f"screen: {error}", err=True)
        raise typer.Exit(2) from error
    if as_json:
        typer.echo(json.dumps(figures))
    else:
        for name, value in figures.items():
            typer.echo(f"{name.replace('_', ' '):>28}  {value}")
    raise typer.Exit(0 if holds(figures) else 1)


def holds(figures: Figures) -> bool:
    """Whether every measure is kept."""
    shown, paint, size = figures["shown_after_disk_ms_p95"], figures["first_paint_ms_max"], figures["page_bytes"]
    return bool(shown <= MOST_SHOWN_MS and paint <= MOST_PAINT_MS and size <= MOST_BYTES)


def measured(readings: int, loads: int, chromium: str) -> Figures:
    """All figures. Raises BadInputError without a browser to look with."""
    with chromium_at(chromium) as browser:
        delays: list[float] = []
        paints: list[float] = []
        seed = 0
        while len(delays) < readings:
            seed += 1
            with tempfile.TemporaryDirectory() as folder:
                delays += _job(browser, seed, Path(folder))
        with tempfile.TemporaryDirectory() as folder, _at_work(1, Path(folder)) as job:
            paints = [_first_paint(browser, job.url) for _ in range(loads)]
    return {
        "readings": len(delays),
        "shown_after_disk_ms_p50": share(delays, 0.5),
        "shown_after_disk_ms_p95": share(delays, 0.95),
        "shown_after_disk_ms_max": share(delays, 1.0),
        "loads": len(paints),
        "first_paint_ms_p50": share(paints, 0.5),
        "first_paint_ms_max": share(paints, 1.0),
        "page_bytes": len(page_for(words_for("en")).body),
    }


def share(values: Sequence[float], part: float) -> float:
    """The smallest value that at least `part` of them do not exceed, to a tenth."""
    ordered = sorted(values)
    count = max(1, -int(-part * len(ordered) // 1))
    return round(ordered[min(count, len(ordered)) - 1], 1)


@contextmanager
def chromium_at(chromium: str) -> "Iterator[Browser]":
    """A headless browser. Raises BadInputError without one."""
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError as error:
        raise BadInputError("playwright is not installed: it comes with the extra `test`") from error
    with sync_playwright() as playwright:
        try:
            found = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        except Error as error:
            raise BadInputError(f"no browser starts at {chromium}: install Chromium, and name it by --chromium") from error
        yield found
        found.close()


# ---- one job


class _Stamped:
    """The usual journal, which remembers when it last had something on disk."""

    def __init__(self, journal: LinesJournal) -> None:
        self._journal = journal
        self.synced = 0.0

    @property
    def job_id(self) -> str:
        return self._journal.job_id

    def load(self) -> Loaded:
        return self._journal.load()

    def append(self, events: Sequence[Event], at: str) -> None:
        self._journal.append(events, at)
        self.synced = time.time()

    def close(self) -> None:
        self._journal.close()


@dataclass
class _AtWork:
    """A job at work: its loop runs beside us. came: set when a batch is out; kept: when the readings of a state were on disk."""

    axle: VirtualAxle
    loop: Loop
    screen: Screen
    journal: _Stamped
    url: str
    batch: tuple[Effect, ...] = ()
    came: threading.Event = field(default_factory=threading.Event)
    kept: dict[str, float] = field(default_factory=dict)

    def watch(self, state: State, effects: Sequence[Effect]) -> None:
        """After the screen: a reading of this batch has been on disk since `synced`."""
        del state
        self.batch = tuple(effects)
        if any(effect.kind == "recorded" for effect in effects):
            self.kept[self.screen.at] = self.journal.synced
        self.came.set()

    def note(self, text: str, urgency: str) -> None:
        """Nothing to be measured."""

    def give(self, line: dict[str, Any]) -> list[dict[str, Any]]:
        """One input in, its batch out."""
        self.came.clear()
        self.loop.put(input_from(line))
        return self.wait()

    def wait(self) -> list[dict[str, Any]]:
        """The batch that has come."""
        if not self.came.wait(60.0):
            raise RuntimeError("the loop does not answer")
        return [effect.json() for effect in self.batch]


@contextmanager
def _at_work(seed: int, folder: Path) -> Iterator[_AtWork]:
    axle = VirtualAxle(Build(), seed)
    journal = _Stamped(LinesJournal(folder, "job", new=True))
    bench, first = new_bench(job_from(tomllib.loads(axle.job_toml()), "job.toml"), journal, lambda: "0")
    loop, place = Loop(bench, (), lambda _: None), Place.open("127.0.0.1:0", folder / "secret")
    screen = Screen(place, lambda given, still_holds, answered: loop.put(Guarded(given, still_holds, answered)))
    job = _AtWork(axle, loop, screen, journal, place.url)
    loop.watchers = (screen, job)
    thread = threading.Thread(target=loop.run, args=(first,), daemon=True)
    thread.start()
    try:
        yield job
    finally:
        loop.put(None)
        thread.join(10.0)
        screen.close()
        journal.close()


def _job(browser: "Browser", seed: int, folder: Path) -> list[float]:
    """Go through a job with a page that looks on. Gives, for each accepted reading, the milliseconds from disk to screen."""
    with _at_work(seed, folder) as job:
        page = browser.new_page(viewport={"width": 1920, "height": 1080})
        page.add_init_script(_WATCH)
        page.goto(job.url)
        page.wait_for_selector("body[data-at]")
        hands = Technician(job.axle)
        batch = job.wait()
        while "wait" in batch[-1]:
            hands.observe(batch)
            batch = job.give(hands.answer(batch[-1]["wait"]))
            _drawn(page, job.screen.at)
        shown: dict[str, float] = page.evaluate("window.shownAt")
        page.close()
    return [shown[at] - synced * 1000 for at, synced in job.kept.items()]


def _drawn(page: "Page", at: str) -> None:
    """Wait until the page has drawn a state, as a person does who reads it before going on."""
    page.evaluate("at => new Promise(done => { const look = () => (window.shownAt[at] ? done() : setTimeout(look, 5)); look(); })", at)


def _first_paint(browser: "Browser", url: str) -> float:
    """Milliseconds from the request to the first content, in a browser that has never seen the page."""
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    page = context.new_page()
    page.goto(url)
    page.wait_for_selector("body[data-at]")
    (paint,) = page.evaluate("performance.getEntriesByName('first-contentful-paint').map(entry => entry.startTime)")
    context.close()
    return float(paint)


if __name__ == "__main__":
    typer.run(main)
