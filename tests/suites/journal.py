"""What every journal must do: what was acknowledged is there again, whole and in order, and one process alone writes it.

A subclass makes its journal; `tear` leaves the last batch as a crash in the middle of writing it would.
"""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.core import events as ev
from assistant.core.errors import JournalError
from assistant.core.quantities import Quantity
from assistant.journal import Journal
from tests.conftest import job_with

STARTED = ev.JobStarted(job_with(), "job", "0123")
BATCHES: list[tuple[ev.Event, ...]] = [
    (STARTED, ev.StepBegan("intake.manual")),
    (ev.StepDone("intake.manual"), ev.CautionShown("inspect.strip")),
    (ev.Replied("why"),),
    (
        ev.Recorded("r1", "preload.drag", "pinion_drag", Quantity.of("22.50", "lb-in"), None, 0, None, "gauge", "torque 7", "0d0a"),
        ev.StepDone("preload.drag"),
        ev.Missed("„ja“ ☃ 𝄞", "not understood"),
    ),
]


class JournalSuite:
    """Subclass it as Test…"""

    # How a process of its own opens the journal, as Python text with `folder` and `job_id` in it.
    opening = ""

    def make(self, folder: Path, job_id: str = "job", *, new: bool = True) -> Journal:
        """A journal kept in `folder`."""
        raise NotImplementedError

    @pytest.fixture(autouse=True)
    def _closed(self) -> Iterator[None]:
        self._made: list[Journal] = []
        yield
        for journal in self._made:
            journal.close()

    def open(self, folder: Path, job_id: str = "job", *, new: bool = True) -> Journal:
        """`make`, closed when the test ends."""
        self._made.append(self.make(folder, job_id, new=new))
        return self._made[-1]

    def tear(self, folder: Path, job_id: str = "job") -> None:
        """Leave the last batch half written."""
        raise NotImplementedError

    def filled(self, folder: Path) -> Journal:
        """A journal that holds `BATCHES`."""
        journal = self.open(folder)
        for batch in BATCHES:
            journal.append(batch, "0")
        return journal

    def test_what_was_appended_is_loaded_again_in_order_and_to_the_digit(self, tmp_path: Path) -> None:
        self.filled(tmp_path).close()
        loaded = self.open(tmp_path, new=False).load()
        assert loaded.events == tuple(event for batch in BATCHES for event in batch)
        assert [ev.to_json(event) for event in loaded.events] == [ev.to_json(event) for batch in BATCHES for event in batch]
        assert (loaded.torn, loaded.torn_path) == (0, "")

    def test_it_knows_its_job(self, tmp_path: Path) -> None:
        assert self.open(tmp_path, "20260101-ab").job_id == "20260101-ab"

    def test_a_new_journal_is_empty_and_an_empty_batch_leaves_it_so(self, tmp_path: Path) -> None:
        journal = self.open(tmp_path)
        journal.append((), "0")
        assert journal.load().events == ()

    def test_loading_and_going_on_keeps_what_was_there(self, tmp_path: Path) -> None:
        self.filled(tmp_path).close()
        again = self.open(tmp_path, new=False)
        before = again.load().events
        again.append((ev.Held(),), "1")
        again.append((ev.Resumed(),), "2")
        again.close()
        assert self.open(tmp_path, new=False).load().events == (*before, ev.Held(), ev.Resumed())

    def test_two_jobs_do_not_mix(self, tmp_path: Path) -> None:
        one, two = self.open(tmp_path, "one"), self.open(tmp_path, "two")
        one.append(BATCHES[0], "0")
        two.append((STARTED,), "0")
        assert one.load().events == BATCHES[0]
        assert two.load().events == (STARTED,)

    def test_a_job_is_begun_once(self, tmp_path: Path) -> None:
        self.filled(tmp_path).close()
        with pytest.raises(JournalError, match="job job exists already"):
            self.open(tmp_path)

    def test_a_job_that_is_not_there_cannot_be_gone_on_with(self, tmp_path: Path) -> None:
        with pytest.raises(JournalError, match="other"):
            self.open(tmp_path, "other", new=False)

    def test_a_batch_that_was_not_finished_does_not_count(self, tmp_path: Path) -> None:
        self.filled(tmp_path).close()
        self.tear(tmp_path)
        journal = self.open(tmp_path, new=False)
        loaded = journal.load()
        assert loaded.events == tuple(event for batch in BATCHES[:-1] for event in batch)
        assert loaded.torn > 0
        assert loaded.torn_path
        journal.append((ev.Held(),), "1")
        journal.close()
        again = self.open(tmp_path, new=False).load()
        assert again.events == (*loaded.events, ev.Held())
        assert again.torn == 0

    def test_two_processes_cannot_write_one_job(self, tmp_path: Path) -> None:
        journal = self.filled(tmp_path)
        other = f"""
from pathlib import Path
from assistant.core.errors import JournalError
folder, job_id = Path({str(tmp_path)!r}), "job"
try:
    {self.opening}
except JournalError as error:
    print(error)
"""
        told = subprocess.run([sys.executable, "-c", other], capture_output=True, text=True, check=True, timeout=60)
        assert told.stdout == "job job is open in another process: close that one first\n"
        journal.close()
        assert subprocess.run([sys.executable, "-c", other], capture_output=True, text=True, check=True, timeout=60).stdout == ""
