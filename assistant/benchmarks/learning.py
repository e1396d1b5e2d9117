"""`python -m assistant.benchmarks.learning`: what a shop's own builds bring: assemblies of the next axles of a kind, with and without them.

A family is one layout whose axles answer alike: its constants are drawn once from the ranges that axles in general have (`builds.OTHER`), and each
of its axles lies within a few per cent of them. So many builds of it are played and taught from; then others are played twice, with what was
learned and without, on the same axles. One assembly more or less is the first or a change of shims or sleeve (`benchmarks.builds`).
"""

import json
import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, stdev
from typing import Annotated, Any

import typer

from assistant.benchmarks import builds as whole_builds
from assistant.benchmarks.builds import OTHER, Played, Watch
from assistant.core.events import Learned
from assistant.core.shop_priors import Seen, learned, seen
from assistant.core.state import State
from assistant.virtual_axle import Build, Constants, VirtualAxle

FIRST_SEED = 640_000
_ALIKE = 0.04  # how far an axle of a family lies from the family's own figure, at most: assumed
_LAYOUTS = (
    Build("flange", "spacer-shims", "adjusters"),
    Build("head-cone", "spacer-shims", "side-shims"),
    Build("head-cup", "crush-sleeve", "case-shims"),
)


@dataclass(frozen=True)
class Pair:
    """The same axle with and without what was learned."""

    taught: Played
    plain: Played


def family(dice: random.Random) -> Constants:
    """The constants of axles that answer alike."""

    def near(pair: tuple[float, float]) -> tuple[float, float]:
        middle = dice.uniform(*pair)
        return middle * (1 - _ALIKE), middle * (1 + _ALIKE)

    return replace(
        OTHER, tooth_form=OTHER.tooth_form * _ALIKE, drag_rise=near(OTHER.drag_rise), drag_bend=near(OTHER.drag_bend),
        carrier_rate=near(OTHER.carrier_rate), notch_lead_thou=near(OTHER.notch_lead_thou),
    )  # fmt: skip


class _Untimed(Watch):
    timed = False


def play(axle: VirtualAxle, taught: tuple[Learned, ...] = ()) -> tuple[Played, State]:
    """One job to its end; gives what it showed and its last state."""
    watch = _Untimed(axle)
    played = whole_builds.play(axle, watch=watch, learned=taught)
    assert watch.last is not None
    return played, watch.last


def of_family(build: Build, constants: Constants, teachers: int, builds: int, seed: int) -> tuple[tuple[Learned, ...], Iterator[Pair]]:
    """Teach from so many axles of a family; gives what was learned, and the others played both ways."""
    said: list[Sequence[Seen]] = []
    for number in range(teachers):
        played, state = play(VirtualAxle(build, seed + number, (), constants))
        if played.verdict == "in spec":
            said.append(seen(state))
    taught = learned(said)
    others = (VirtualAxle(build, seed + teachers + number, (), constants) for number in range(builds))
    return taught, (_both(axle, taught) for axle in others)


def _both(axle: VirtualAxle, taught: tuple[Learned, ...]) -> Pair:
    again = VirtualAxle(axle.build, axle.seed, (), axle.constants)
    return Pair(play(axle, taught)[0], play(again)[0])


def main(
    families: Annotated[int, typer.Option(min=1, help="Families of each layout.")] = 4,
    teachers: Annotated[int, typer.Option(min=0, help="Builds that are learned from.")] = 8,
    builds: Annotated[int, typer.Option(min=1, help="Other builds of the family, each played both ways.")] = 8,
    seed: Annotated[int, typer.Option(help="The first seed.")] = FIRST_SEED,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a layout.")] = False,
) -> None:
    """Play families of axles, with and without what their own builds have shown."""
    pairs: list[Pair] = []
    for layout, build in enumerate(_LAYOUTS):
        of_layout: list[Pair] = []
        for number in range(families):
            first = seed + 10_000 * layout + 100 * number
            _, played = of_family(build, family(random.Random(first)), teachers, builds, first)
            of_layout += played
        _tell(f"{build.pinion_shims},{build.preload},{build.carrier}", of_layout, as_json)
        pairs += of_layout
    _tell("all", pairs, as_json)


def _tell(name: str, pairs: Sequence[Pair], as_json: bool) -> None:
    less = [pair.plain.assemblies - pair.taught.assemblies for pair in pairs]
    turns = [pair.plain.turns - pair.taught.turns for pair in pairs]
    figures: dict[str, Any] = {
        "layout": name, "builds": len(pairs), "assemblies_plain": round(fmean(p.plain.assemblies for p in pairs), 3),
        "assemblies_taught": round(fmean(p.taught.assemblies for p in pairs), 3), "less": round(fmean(less), 3),
        "error": round(stdev(less) / math.sqrt(len(less)), 3) if len(less) > 1 else None, "turns_less": round(fmean(turns), 3),
        "in_spec_plain": sum(p.plain.verdict == "in spec" for p in pairs), "in_spec_taught": sum(p.taught.verdict == "in spec" for p in pairs),
    }  # fmt: skip
    text = (
        "{layout}: {builds} builds, assemblies {assemblies_plain} without and {assemblies_taught} with what was learned ({less} less, standard error "
        "{error}); tightenings of a crush sleeve {turns_less} less; in spec {in_spec_plain} and {in_spec_taught}"
    )
    typer.echo(json.dumps(figures) if as_json else text.format(**figures))


if __name__ == "__main__":
    typer.run(main)
