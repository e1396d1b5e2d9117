"""A gauge that drifts between jobs: its readings leave, from some job on, what the axles had led to expect.

Before each reading a job predicts it, with a spread. The first reading that a gauge gives of a quantity in a job is independent of every other
job, so over the jobs the surprises (reading less prediction, in spreads) scatter about one level: whatever the predictions get wrong in general
is in that level too, and drops out. A gauge that changed, was dropped or was zeroed on another master shows as a step from one job to the next.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.core import events as ev
from assistant.core import predictions as pr
from assistant.core.evolve import begin, evolve
from assistant.files import phrases_for, procedure_for

# At least so many jobs on either side of a step: fewer and one odd axle would be called a drift.
FEWEST = 4
# How many standard errors a step must have. False alarms at this level: measured by tests/history/test_drift.py over sound gauges.
STEP = 4.0
_HELD = 4  # jobs that the predictions' own scatter counts for


@dataclass(frozen=True)
class Surprise:
    """The first reading of a quantity that a gauge gave in a job.

    by: reading less prediction, micrometres or newton-metres; spreads: the same in the prediction's standard deviations.
    """

    job_id: str
    gauge: str
    quantity: str
    by: float
    spreads: float


@dataclass(frozen=True)
class Drift:
    """A step in what a gauge reads. since: the first job after it.

    by: how far it moved, micrometres or newton-metres; errors: the same in standard errors; jobs: how many were looked at.
    """

    gauge: str
    quantity: str
    since: str
    by: float
    errors: float
    jobs: int


def surprises(lines: Sequence[tuple[str, ev.Event]]) -> tuple[Surprise, ...]:
    """Of one job: at most one for each gauge and quantity. A reading that turned out wrong says nothing of its gauge and is left out.

    lines: (time, event), oldest first. Raises KeyError or BadInputError when they do not fit this program's procedure.
    """
    if not lines or not isinstance(lines[0][1], ev.JobStarted):
        return ()
    first = lines[0][1]
    state = begin(first, procedure_for(first.job.axle), phrases_for(ev.language_of(event for _, event in lines)))
    found: dict[tuple[str, str], tuple[str, Surprise]] = {}
    for _, event in lines[1:]:
        if isinstance(event, ev.Recorded) and event.source == "gauge" and event.value is not None and event.replaces is None:
            key = (event.gauge, event.quantity)
            expected = pr.law(state, event.quantity, event.spot) if key not in found else None
            if expected is not None and expected.spread > 0:
                by = pr.size(event.value) - expected.mean
                found[key] = (event.id, Surprise(first.job_id, event.gauge, event.quantity, by, by / expected.spread))
        state = evolve(state, event)
    wrong = {reading.id for reading in state.readings if reading.void == "wrong"}
    return tuple(surprise for reading_id, surprise in found.values() if reading_id not in wrong)


def drifts(all_jobs: Sequence[Sequence[Surprise]]) -> tuple[Drift, ...]:
    """Every gauge and quantity with a step in it. all_jobs: the surprises of each job, the oldest job first."""
    series: dict[tuple[str, str], list[Surprise]] = {}
    for job in all_jobs:
        for surprise in job:
            series.setdefault((surprise.gauge, surprise.quantity), []).append(surprise)
    found = (_step(line) for line in series.values())
    return tuple(step for step in found if step is not None)


def _step(line: Sequence[Surprise]) -> Drift | None:
    """The largest step of a series, when it is large enough."""
    best: Drift | None = None
    for at in range(FEWEST, len(line) - FEWEST + 1):
        before, after = line[:at], line[at:]
        errors = _errors([one.spreads for one in before], [one.spreads for one in after])
        if abs(errors) >= STEP and (best is None or abs(errors) > abs(best.errors)):
            by = _mean([one.by for one in after]) - _mean([one.by for one in before])
            best = Drift(line[at].gauge, line[at].quantity, line[at].job_id, by, errors, len(line))
    return best


def _errors(before: Sequence[float], after: Sequence[float]) -> float:
    """The step in standard errors. The scatter is the one seen, held towards the predictions' own (one): few jobs may agree by chance."""
    low, high = _mean(before), _mean(after)
    squares = sum((one - low) ** 2 for one in before) + sum((one - high) ** 2 for one in after)
    scatter = math.sqrt((squares + _HELD) / (len(before) + len(after) - 2 + _HELD))
    return (high - low) / (scatter * math.sqrt(1 / len(before) + 1 / len(after)))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
