"""Phases, steps, gates and cautions, and the rule that finds the next step.

House rules:
- A procedure is an ordered list of steps. The next step is the first one that applies and is not done: an act that spoils earlier work
  takes the marks of the steps that have to be made again, and the walk comes back to them by itself.
- A step's gate (`needs`) names earlier steps, so the walk cannot pass it; `problems` proves that on load.
- Every `torque` and `press` step carries its own caution; `problems` refuses a procedure where one does not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cached_property

from assistant.core.axle import PATTERNS, QUANTITIES

PHASES = ("intake", "baseline", "inspect", "pinion_preload", "pinion_depth", "carrier", "backlash", "pattern", "final")
KINDS = ("do", "measure", "torque", "press", "decide")
CAUTION_KINDS = ("torque", "press", "heat", "lift", "spring", "chemical")
# done: wait for "done"; reading: one value per spot; many: values until "done"; specs: the limits that the job file leaves out;
# choice: one of `choices`; pattern: one print per spot; creep: read the drag and tighten, again and again, until it is in its range;
# judge: nothing is asked, the numbers decide.
ASKS = ("done", "reading", "many", "specs", "choice", "pattern", "creep", "judge")
MOVE_PARTS = (
    "pinion_shims",
    "preload_shims",
    "crush_nut",
    "crush_sleeve",
    "ring_side_adjuster",
    "opposite_adjuster",
    "ring_side_shims",
    "opposite_shims",
)


@dataclass(frozen=True)
class Step:
    """One step of the work.

    id: `part.name`; quantity: what a measure step records or a judge step judges; part: the stack it is about; spots: how many places
    round the ring (0: not by place, -1: as many as the job says); when: conditions, all must hold (see `applies`); needs: steps that must
    be done before (the gate); voids: quantities whose readings lose their ground when it is done; undoes: steps it spoils; fits: the
    part whose first pack is fitted here; caution: the kind of caution that guards it, or None; redo: of a judge step, what to make again
    when the number is out of its range and no part can be changed for it; words: where its words are, when not under its id.
    """

    id: str
    phase: str
    kind: str
    ask: str
    quantity: str | None = None
    part: str | None = None
    spots: int = 0
    choices: tuple[str, ...] = ()
    when: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    voids: tuple[str, ...] = ()
    undoes: tuple[str, ...] = ()
    fits: str | None = None
    caution: str | None = None
    redo: tuple[str, ...] = ()
    words: str | None = None

    @property
    def text(self) -> str:
        """The entry of the phrases that holds its words: its own id, unless layouts that share the id say it differently."""
        return self.words or self.id


@dataclass(frozen=True)
class PartRule:
    """What changing a part spoils. undoes: steps (globs) to make again; voids: quantities whose readings lose their ground."""

    part: str
    undoes: tuple[str, ...]
    voids: tuple[str, ...]


@dataclass(frozen=True)
class Procedure:
    """The order of work for one layout, in the order it is done. requires: the specs to ask for when the job file leaves them out.

    checksum: of the data it was read from, so that a journal tells which procedure it followed.
    """

    name: str
    steps: tuple[Step, ...]
    parts: tuple[PartRule, ...]
    requires: tuple[str, ...]
    checksum: str

    def step(self, step_id: str) -> Step:
        """The step of that id. Raises KeyError: we asked for a step that is not in the procedure."""
        return self._by_id[step_id]

    @cached_property
    def _by_id(self) -> dict[str, Step]:
        return {step.id: step for step in self.steps}

    def rule(self, part: str) -> PartRule:
        """What changing `part` spoils. Raises KeyError for a part the layout does not have."""
        for rule in self.parts:
            if rule.part == part:
                return rule
        raise KeyError(part)

    def matching(self, globs: Iterable[str]) -> tuple[str, ...]:
        """The ids that any of the globs names, in the order of the work."""
        wanted = tuple(globs)
        return tuple(step.id for step in self.steps if any(fnmatchcase(step.id, glob) for glob in wanted))


def problems(procedure: Procedure) -> list[str]:
    """Everything that is wrong with a procedure, each with its place; empty when it can be trusted."""
    found: list[str] = []
    seen: list[str] = []
    for step in procedure.steps:
        place = f"{procedure.name}: step {step.id}"
        found += [f"{place}: used twice"] if step.id in seen else []
        for name, value, allowed in (("phase", step.phase, PHASES), ("kind", step.kind, KINDS), ("ask", step.ask, ASKS)):
            found += [f"{place}: {name} {value!r}, expected one of {', '.join(allowed)}"] if value not in allowed else []
        if step.caution is not None and step.caution not in CAUTION_KINDS:
            found.append(f"{place}: caution {step.caution!r}, expected one of {', '.join(CAUTION_KINDS)}")
        if step.kind in ("torque", "press") and step.caution != step.kind:
            found.append(f"{place}: a {step.kind} step needs its own {step.kind} caution")
        if step.ask in ("reading", "many", "pattern", "creep", "judge") and step.quantity is None:
            found.append(f"{place}: asks for a {step.ask} but names no quantity")
        known = (*QUANTITIES, *PATTERNS, "pattern", "verdict", None)
        found += [f"{place}: quantity {step.quantity!r} is not in the interface"] if step.quantity not in known else []
        found += [f"{place}: a choice needs at least two choices"] if step.ask == "choice" and len(step.choices) < 2 else []
        for gate in step.needs:
            if gate not in seen:
                found.append(f"{place}: its gate {gate!r} is not an earlier step")
        for glob in (*step.undoes, *step.redo):
            found += [f"{place}: undoes {glob!r}, which names no step"] if not procedure.matching([glob]) else []
        for quantity in step.voids:
            found += [f"{place}: voids {quantity!r}, not a quantity"] if quantity not in (*QUANTITIES, *PATTERNS) else []
        if step.fits is not None and step.fits not in MOVE_PARTS:
            found.append(f"{place}: fits {step.fits!r}, expected one of {', '.join(MOVE_PARTS)}")
        seen.append(step.id)
    found += _order_problems(procedure)
    for rule in procedure.parts:
        found += [f"{procedure.name}: part {rule.part!r} is not in the interface"] if rule.part not in MOVE_PARTS else []
        for glob in rule.undoes:
            found += [f"{procedure.name}: part {rule.part}: {glob!r} names no step"] if not procedure.matching([glob]) else []
    return found


def _order_problems(procedure: Procedure) -> list[str]:
    """Phases come in their order; preload and depth may alternate, because some layouts set both in one assembly."""
    ranks = {phase: rank for rank, phase in enumerate(PHASES)} | {"pinion_depth": PHASES.index("pinion_preload")}
    order = [ranks[step.phase] for step in procedure.steps if step.phase in ranks]
    return [f"{procedure.name}: the phases are out of order"] if order != sorted(order) else []


def text_problems(procedure: Procedure, titles: Sequence[str]) -> list[str]:
    """Steps that the phrases do not name."""
    return [f"{procedure.name}: step {step.text} has no title in the phrases" for step in procedure.steps if step.text not in titles]
