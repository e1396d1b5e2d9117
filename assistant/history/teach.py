"""What the finished builds of a store teach about the next axle of the same kind: same layout, same teeth, ended in spec."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assistant.core import events as ev
from assistant.core.axle import Job
from assistant.core.errors import BenchError
from assistant.core.evolve import replay
from assistant.core.shop_priors import Seen, learned, seen
from assistant.files import phrases_for, procedure_for
from assistant.history.index import Wanted, jobs
from assistant.history.summary import Summary
from assistant.journal.lines import read_record

MOST_BUILDS = 40
"""Of the newest builds of a kind: older ones were made with other hands and gauges, and each has to be worked through once."""

Kind = tuple[tuple[str, ...], tuple[int, int]]


@dataclass(frozen=True)
class Taught:
    """What a kind of axle has taught. kind: layout (pinion shims, preload, carrier) and teeth; builds: how many were looked at."""

    kind: Kind
    builds: int
    learned: tuple[ev.Learned, ...]


def kind_of(job: Job) -> Kind:
    """Which builds teach about this one."""
    axle = job.axle
    return (axle.pinion_shims, axle.preload, axle.carrier), (axle.ring_teeth, axle.pinion_teeth)


def taught_about(folder: Path, job: Job) -> Taught:
    """What the builds of a store say of an axle of this job's kind; nothing where there are none."""
    wanted = kind_of(job)
    return _taught(folder, wanted, [summary for summary in _finished(folder) if _kind(summary) == wanted])


def all_taught(folder: Path) -> Iterator[Taught]:
    """What each kind of axle in a store has taught, the one built last first."""
    kinds: dict[Kind, list[Summary]] = {}
    for summary in _finished(folder):
        kinds.setdefault(_kind(summary), []).append(summary)
    for kind, builds in kinds.items():
        yield _taught(folder, kind, builds)


def _finished(folder: Path) -> list[Summary]:
    return jobs(folder, Wanted(state="in spec"))


def _kind(summary: Summary) -> Kind:
    return summary.layout, summary.teeth


def _taught(folder: Path, kind: Kind, builds: list[Summary]) -> Taught:
    said = [one for one in (_said(folder, summary.job_id) for summary in builds[:MOST_BUILDS]) if one is not None]
    return Taught(kind, len(said), learned(said))


def _said(folder: Path, job_id: str) -> tuple[Seen, ...] | None:
    """What one build said; None for one that this program cannot follow."""
    try:
        events = [event for _, event in read_record(folder, job_id).lines]
        first = events[0]
        assert isinstance(first, ev.JobStarted)
        return seen(replay(events, procedure_for(first.job.axle), phrases_for()))
    except (BenchError, KeyError):
        return None
