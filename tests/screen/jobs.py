"""Whole jobs of every kind of axle, walked through on the virtual axle, for what has to hold of every state on the way."""

import tomllib
from functools import cache

from assistant.core.state import State
from assistant.files import job_from
from assistant.headless import input_from
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle
from tests.table import Table

# One of each part of a layout, in both units, the ring gear on either side.
BUILDS = (
    Build("flange", "spacer-shims", "adjusters"),
    Build("head-cup", "crush-sleeve", "side-shims", units="mm", ring_gear_side="right", spots=3, judge="mean"),
    Build("head-cone", "spacer-shims", "case-shims", ring_gear_side="right", judge="minimum", etch_sign="toward"),
)


@cache
def walk(build: Build, seed: int = 3) -> tuple[State, ...]:
    """Every state of a job on its way from the first wait to its end; it ends, or the test fails."""
    axle = VirtualAxle(build, seed)
    hands, table = Technician(axle), Table(job_from(tomllib.loads(axle.job_toml()), "job.toml"))
    states = [table.state]
    for _ in range(600):
        if table.end is not None:
            return tuple(states)
        hands.observe(table.batch)
        table.give(input_from(hands.answer(table.wait)))
        states.append(table.state)
    raise AssertionError(f"no end after 600 inputs; the wait is {table.wait}")
