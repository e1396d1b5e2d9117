"""The job that most tests of the engine work on: numbers invented, plausible for a light axle; and a table to work on it."""

import os
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from assistant.bench import Bench, new_bench
from assistant.core.axle import Job
from assistant.core.inputs import Said
from assistant.files import job_from
from assistant.journal.lines import LinesJournal
from tests.table import Table

# No example is timed: on a busy machine a deadline says something about the machine. Where everything is checked at once the examples are the
# same each time, so that a change fails by itself and not by the day's dice.
settings.register_profile("bench", deadline=None)
settings.register_profile("checks", deadline=None, derandomize=True)
settings.load_profile("checks" if os.environ.get("BENCHHAND_CI") else "bench")

JOB = """
title = "invented light axle"
units = "in"

[axle]
pinion_shims = "flange"
preload = "spacer-shims"
carrier = "adjusters"
ring_gear_side = "left"
teeth = "face-milled"
ring_teeth = 37
pinion_teeth = 9
notch_lead_in = "0.0025"

[spec]
pinion_drag = { low = "16", high = "29", unit = "lb-in", bearings = "new", seal = "out" }
pinion_depth = { target = "2.6250", tolerance = "0.0020", unit = "in" }
backlash = { low = "0.0060", high = "0.0100", variation = "0.0030", judge = "all", unit = "in" }
total_drag = { low = "24", high = "40", unit = "lb-in", seal = "in" }
ring_runout = { high = "0.0040", unit = "in" }
nut_torque = { low = "160", high = "200", unit = "lb-ft" }
cap_torque = { value = "75", unit = "lb-ft" }
carrier_preload = { value = "2", unit = "notch" }

[parts]
etch_old = { value = "+1", unit = "0.001 in" }
etch_new = { value = "-2", unit = "0.001 in" }
etch_sign = "away"
shim_kit = [ { thickness = "0.0050", count = 4 }, { thickness = "0.0100", count = 3 }, { thickness = "0.0030", count = 3 } ]
preload_kit = [ { thickness = "0.0050", count = 4 }, { thickness = "0.0100", count = 3 }, { thickness = "0.0030", count = 3 },
  { thickness = "0.0005", count = 3 } ]
"""

Answers = Mapping[str, str | Sequence[str]]


def job_with(change: Callable[[dict[str, Any]], object] | None = None) -> Job:
    """The job above, after `change` was made to its table."""
    data = tomllib.loads(JOB)
    if change is not None:
        change(data)
    return job_from(data, "job.toml")


@pytest.fixture
def job() -> Job:
    """The job above."""
    return job_with()


@pytest.fixture
def table(job: Job) -> Table:
    """The job above on the bench, before any input."""
    return Table(job)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A job that waits for the first baseline backlash."""
    journal = LinesJournal(tmp_path, "job", new=True)
    made, _ = new_bench(job_with(), journal, lambda: "0")
    for words in ("done", "still together"):
        made.give(Said(words))
    yield made
    journal.close()
