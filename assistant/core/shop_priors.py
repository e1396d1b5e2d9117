"""What a shop's finished builds of one kind of axle say of the next one: its sensitivities, and how far they scatter from build to build.

Each build is asked what its own readings said, with what had been supposed beforehand taken out again; builds that said little count little. The
builds together move what is supposed, as so many observations of a normal law with unknown middle and spread would: the middle from one
supposed build (`_SUPPOSED`), the spread from three, so that a few lucky builds make nobody sure.
Source: the normal law with a scaled-inverse-chi-squared prior, Gelman et al., Bayesian Data Analysis, 3.3, from memory; weights by how much a build
said are our own simplification, and err on the side of too wide a spread.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.core import events as ev
from assistant.core import predictions as pr
from assistant.core.belief.normal import Normal
from assistant.core.state import State

NAMES = ("k_ring", "reach")
"""`k_ring`: backlash per ring movement, mean and spread. `reach`: the squeeze that raises the pinion's drag by `belief.drag.RISE`, micrometres of
shims or degrees of the nut: a median, and the factor of one spread."""

_SUPPOSED, _SUPPOSED_SPREAD = 1.0, 3.0
# A build whose own reading of a sensitivity is wider than this many times what was supposed has said nothing.
_NOTHING = 2.0
_PLACES = 6


@dataclass(frozen=True)
class Seen:
    """What one build said of a sensitivity by its own readings. law: of `reach` the law of its logarithm; plain: what is supposed without builds."""

    name: str
    law: Normal
    plain: Normal


def seen(state: State) -> tuple[Seen, ...]:
    """What a finished build has to say; nothing of what it never changed."""
    # Asked as if it had been taught nothing: what it was told came from others, and would be counted twice.
    untaught = replace(state, learned=())
    found: list[tuple[str, Normal, Normal]] = []
    # Where the notch's lead was not told, the figure is per notch of that housing and no sensitivity of the gears.
    if state.job.axle.carrier != "adjusters" or state.job.axle.notch_lead is not None:
        belief = pr.backlash_belief(untaught)
        found.append(("k_ring", belief.k_ring_before, belief.k_ring))
    drag = pr.drag_belief(untaught)
    if drag is not None and drag.readings:
        found.append(("reach", Normal(math.log(drag.reach.median), math.log(drag.reach.factor)), drag.log_reach))
    own = ((name, alone(before, after, _NOTHING * before.spread), before) for name, before, after in found)
    return tuple(Seen(name, law, before) for name, law, before in own if law is not None)


def alone(before: Normal, after: Normal, most: float) -> Normal | None:
    """What the readings alone said, given the law before and after them; None where that is nothing, or wider than `most`."""
    precision = after.spread**-2 - before.spread**-2
    if precision <= most**-2:
        return None
    return Normal((after.mean * after.spread**-2 - before.mean * before.spread**-2) / precision, precision**-0.5)


def pooled(before: Normal, builds: Sequence[Normal]) -> Normal:
    """What to suppose of the next build after these; without any, what was supposed."""
    if not builds:
        return before
    weights = [before.spread**2 / (before.spread**2 + build.spread**2) for build in builds]
    count = math.fsum(weights)
    middle = math.fsum(weight * build.mean for weight, build in zip(weights, builds, strict=True)) / count
    scatter = math.fsum(weight * (build.mean - middle) ** 2 for weight, build in zip(weights, builds, strict=True))
    mean = (_SUPPOSED * before.mean + count * middle) / (_SUPPOSED + count)
    between = _SUPPOSED * count / (_SUPPOSED + count) * (middle - before.mean) ** 2
    variance = (_SUPPOSED_SPREAD * before.spread**2 + scatter + between) / (_SUPPOSED_SPREAD + count)
    return Normal(mean, math.sqrt(variance * (1.0 + 1.0 / (_SUPPOSED + count))))


def learned(builds: Iterable[Sequence[Seen]]) -> tuple[ev.Learned, ...]:
    """What these builds teach."""
    said: dict[str, list[Seen]] = {}
    for build in builds:
        for one in build:
            said.setdefault(one.name, []).append(one)
    return tuple(
        _rounded(name, pooled(said[name][0].plain, [one.law for one in said[name]]), len(said[name])) for name in NAMES if name in said
    )


def _rounded(name: str, law: Normal, builds: int) -> ev.Learned:
    middle, spread = (math.exp(law.mean), math.exp(law.spread)) if name == "reach" else (law.mean, law.spread)
    return ev.Learned(name, _decimal(middle), _decimal(spread), builds)


def _decimal(number: float) -> Decimal:
    return Decimal(f"{number:.{_PLACES}f}")
