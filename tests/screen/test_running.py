"""The screen of a job that runs: the loop takes from it like from a keyboard, only never too late, and nothing is shown before it is on disk."""

import json
import queue
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import httpx2
import pytest

from assistant.core.axle import Job
from assistant.core.errors import JournalError
from assistant.core.events import Event
from assistant.core.inputs import Said
from assistant.journal import Loaded
from assistant.journal.lines import LinesJournal
from assistant.live import Guarded
from assistant.screen import server
from tests.screen.running import Running, new_job, resumed_job


class Page:
    """What a browser does without drawing: follows the stream, and says words to the state it saw last."""

    def __init__(self, url: str, key: str | None = None) -> None:
        self.http = httpx2.Client(base_url=url, timeout=10.0)
        if key is not None:
            assert self.http.post("enter", json={"key": key}).status_code == 200
        self.came: queue.Queue[tuple[str, Any]] = queue.Queue()
        self._thread = threading.Thread(target=self._follow, daemon=True)
        self._thread.start()
        self.shown: dict[str, Any] = {}

    def _follow(self) -> None:
        name = ""
        try:
            with self.http.stream("GET", "events") as answer:
                for line in answer.iter_lines():
                    if line.startswith("event: "):
                        name = line.removeprefix("event: ")
                    elif line.startswith("data: "):
                        self.came.put((name, json.loads(line.removeprefix("data: "))))
        except httpx2.HTTPError:
            pass
        self.came.put(("lost", None))

    def wait_for(self, event: str) -> Any:
        """The data of the next event of a kind; a view becomes what is shown."""
        while True:
            name, data = self.came.get(timeout=10.0)
            if name == "view":
                self.shown = data
            if name == event:
                return data

    def say(self, words: str) -> int:
        """Say something to what is shown, and look at what came of it. Gives the status."""
        status = self.http.post("say", json={"words": words, "at": self.shown["at"]}).status_code
        if status == 200:
            self.wait_for("view")
        return status

    def close(self) -> None:
        self.http.close()


@pytest.fixture
def bench(job: Job, tmp_path: Path) -> Iterator[Running]:
    """A new job with its screen on this computer's own address."""
    with new_job(job, tmp_path) as found:
        yield found


@pytest.fixture
def page(bench: Running) -> Iterator[Page]:
    """A page that has seen the first view."""
    found = Page(bench.place.url)
    found.wait_for("view")
    yield found
    found.close()


def events_of(bench: Running) -> int:
    return len(bench.bench.journal.load().events)


def test_what_a_page_says_is_taken_and_shown(page: Page) -> None:
    assert page.shown["view"]["now"]["title"] == "Manual open, place safe"
    assert page.say("done") == 200
    assert page.shown["view"]["now"]["title"] != "Manual open, place safe"


def test_what_the_page_shows_is_on_disk(bench: Running, page: Page) -> None:
    before = events_of(bench)
    assert page.say("done") == 200
    assert events_of(bench) > before


def test_a_second_tap_changes_nothing(bench: Running, page: Page) -> None:
    at = page.shown["at"]
    assert page.say("done") == 200
    title, events = page.shown["view"]["now"]["title"], events_of(bench)
    assert page.http.post("say", json={"words": "done", "at": at}).status_code == 409
    assert page.http.post("pedal", json={"at": at}).status_code == 409
    assert events_of(bench) == events
    assert bench.bench.state.step() is not None
    assert page.shown["view"]["now"]["title"] == title


def test_two_pages_see_the_same_and_each_what_the_other_said(bench: Running, page: Page) -> None:
    other = Page(bench.place.url)
    other.wait_for("view")
    try:
        assert other.shown == page.shown
        assert other.say("done") == 200
        page.wait_for("view")
        assert page.shown["at"] == other.shown["at"]
        assert page.say("still together") == 200
        other.wait_for("view")
        assert other.shown["view"] == page.shown["view"]
    finally:
        other.close()


def test_what_is_typed_at_the_keyboard_is_shown_too(bench: Running, page: Page) -> None:
    bench.loop.put(Said("done"))
    page.wait_for("view")
    assert page.shown["view"]["now"]["title"] != "Manual open, place safe"


def test_trouble_of_a_gauge_is_shown_and_leaves_the_state_as_it_is(bench: Running, page: Page) -> None:
    at = page.shown["at"]
    bench.loop.put("The dial has gone quiet.")
    page.wait_for("view")
    assert page.shown["at"] == at
    assert page.shown["said"][-1] == {"text": "The dial has gone quiet.", "urgency": "warn", "fresh": True}
    assert page.say("done") == 200


def test_silence_is_filled_so_that_a_page_knows_the_bench_is_there(bench: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "BEAT_SECONDS", 0.05)
    page = Page(bench.place.url)
    assert page.wait_for("hello")["beat_seconds"] == 0.05
    page.wait_for("view")
    page.wait_for("beat")
    page.wait_for("beat")
    page.close()


def test_a_job_that_rests_tells_its_pages(bench: Running, page: Page) -> None:
    bench.rest()
    assert page.wait_for("view")["view"]["end"]["verdict"] == "stopped"
    bench.screen.close()
    page.wait_for("over")
    page.wait_for("lost")


def test_a_job_can_be_stopped_from_the_page(bench: Running, page: Page) -> None:
    assert page.say("stop") == 200
    assert page.say("yes") == 200
    assert page.shown["view"]["end"]["word"] == "STOPPED"
    bench.thread.join(10.0)
    assert bench.statuses == [0]


def test_after_a_restart_the_page_finds_its_bench_by_the_same_key_and_sees_the_same(job: Job, tmp_path: Path) -> None:
    with new_job(job, tmp_path, "0.0.0.0:0") as bench:
        keys, port = bench.place.keys, bench.place.port
        assert keys is not None
        page = Page(f"http://127.0.0.1:{port}/", keys.bench)
        page.wait_for("view")
        page.say("done")
        before, at = page.shown["view"]["now"], page.shown["at"]
        page.close()
    with resumed_job(tmp_path, f"0.0.0.0:{port}") as again:
        assert again.place.keys == keys
        page = Page(f"http://127.0.0.1:{port}/", keys.bench)
        page.wait_for("view")
        assert page.shown["view"]["now"] == before
        assert page.http.post("say", json={"words": "still together", "at": at}).status_code == 409, "said to the state of an earlier run"
        page.close()


def test_a_viewer_sees_the_job_and_cannot_touch_it(job: Job, tmp_path: Path) -> None:
    with new_job(job, tmp_path, "0.0.0.0:0") as bench:
        assert bench.place.keys is not None
        page = Page(f"http://127.0.0.1:{bench.place.port}/", bench.place.keys.viewer)
        assert page.wait_for("hello")["role"] == "viewer"
        page.wait_for("view")
        before = events_of(bench)
        assert page.say("done") == 403
        assert events_of(bench) == before
        page.close()


class FullDisk:
    """A journal whose disk refuses while it is full; otherwise the usual one."""

    def __init__(self, journal: LinesJournal) -> None:
        self.journal, self.is_full = journal, False

    @property
    def job_id(self) -> str:
        return self.journal.job_id

    def load(self) -> Loaded:
        return self.journal.load()

    def append(self, events: Sequence[Event], at: str) -> None:
        if self.is_full:
            raise JournalError("the journal cannot be written: no space left; make room and say it again")
        self.journal.append(events, at)

    def close(self) -> None:
        self.journal.close()


def test_what_the_disk_refuses_is_not_shown_as_done_and_goes_on_when_there_is_room(job: Job, tmp_path: Path) -> None:
    disk = FullDisk(LinesJournal(tmp_path, "job", new=True))
    with new_job(job, tmp_path, journal=disk) as bench:
        page = Page(bench.place.url)
        page.wait_for("view")
        title, at = page.shown["view"]["now"]["title"], page.shown["at"]
        disk.is_full = True
        answer = page.http.post("say", json={"words": "done", "at": at})
        assert answer.status_code == 507
        assert "no space left" in answer.json()["text"]
        page.wait_for("view")
        assert (page.shown["at"], page.shown["view"]["now"]["title"]) == (at, title)
        assert page.shown["said"][-1]["urgency"] == "stop"
        disk.is_full = False
        assert page.say("done") == 200
        assert page.shown["view"]["now"]["title"] != title
        page.close()


def test_an_input_that_no_longer_holds_is_dropped_without_a_word(bench: Running, page: Page) -> None:
    before = events_of(bench)
    told: queue.Queue[str] = queue.Queue()
    bench.loop.put(Guarded(Said("done"), lambda: False, told.put))
    bench.loop.put(Guarded(Said("why"), lambda: True, told.put))
    page.wait_for("view")
    assert told.get(timeout=10.0) == ""
    assert told.empty()
    assert events_of(bench) == before + 1
