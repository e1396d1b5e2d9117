"""The job as it stands: a frozen value, made by `evolve` from the journal's events and by nothing else."""

from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from assistant.core.axle import PATTERNS, Job, KitShim, Limits
from assistant.core.events import AlarmRaised, Asked, Doubted, Learned, MoveProposed, Offered, TwoOffered
from assistant.core.phrases import Phrases
from assistant.core.quantities import Dimension, Quantity, quantity_from, unit_named
from assistant.core.steps import Procedure, Step
from assistant.core.sums.wave import is_backlash_in_spec


@dataclass(frozen=True)
class Reading:
    """One confirmed reading.

    void: None, `changed` (its ground is gone: still evidence of how the axle answers) or `wrong`. replaces: the reading it corrects.
    fitted: what was in the axle when it was taken; assembly: a number that grows each time something was moved, pressed or torqued.
    """

    id: str
    step: str
    quantity: str
    value: Quantity | None
    choice: str | None
    spot: int
    part: str | None
    source: str
    gauge: str
    raw: str
    void: str | None
    replaces: str | None
    fitted: tuple[tuple[str, Quantity], ...]
    assembly: int


@dataclass(frozen=True)
class Fitted:
    """What is in the axle: a pack (stack: each shim) or an adjuster's count from its first setting."""

    part: str
    total: Quantity
    stack: tuple[Quantity, ...] = ()


@dataclass(frozen=True)
class AnsweredAlarm:
    """An alarm and what the look at the axle gave. reading_count: how many readings had been recorded by then."""

    quantity: str
    answer: str
    causes: tuple[str, ...]
    reading_count: int


@dataclass(frozen=True)
class Wait:
    """What the engine waits for now, and what may be said."""

    kind: str
    quantity: str | None = None
    part: str | None = None
    unit: str | None = None
    spot: int = 0
    spots: int = 0
    value: Quantity | None = None
    choice: str | None = None
    choices: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()


@dataclass(frozen=True)
class Refused:
    """A reading that was read back and refused: its value or its choice, and the form in which it had been heard."""

    value: Quantity | None
    choice: str | None
    form: str


@dataclass(frozen=True)
class Trouble:
    """How badly the open wait is heard. misses: unclear or wrongly heard; confirms: the same at its read-back; refused: not to be offered again."""

    misses: int = 0
    confirms: int = 0
    refused: tuple[Refused, ...] = ()


@dataclass(frozen=True)
class State:
    """Everything that the next decision depends on.

    open_step: the step on the bench now; caution_open: its caution waits to be accepted; shown: it has been shown.
    doubted: the value that was asked for once more; the same again is recorded.
    repeats: how often in a row the same was asked for once more; seen: the steps that were shown before.
    two: the two readings that were offered to choose from; trouble: how the ear gets on at this wait; ear: which one listens.
    refused: why a number was refused here last, "jammed" (no backlash at all) or "impossible"; empty where none was.
    gauge_units: the units that gauges were switched to, (gauge, unit); see `unit_held`.
    gauge_zeros: where each was zeroed by word.
    learned: what the shop's own builds say of this kind of axle; empty where they were not asked.
    looked: what was to be looked at before a number was read once more, (assembly, look).
    taken_from: the state before the last gauge reading, while "no" can still take that reading back.
    """

    procedure: Procedure
    phrases: Phrases
    job: Job
    job_id: str
    done: frozenset[str] = frozenset()
    readings: tuple[Reading, ...] = ()
    fitted: tuple[Fitted, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    specs_given: tuple[tuple[str, str, Quantity], ...] = ()
    open_step: str | None = None
    caution_open: bool = False
    offered: Offered | None = None
    doubted: Doubted | None = None
    asked: Asked | None = None
    correcting: str | None = None
    move: MoveProposed | None = None
    moves_made: tuple[MoveProposed, ...] = ()
    alarm: AlarmRaised | None = None
    alarms: tuple["AnsweredAlarm", ...] = ()
    unreachable: tuple[str, ...] = ()
    held: bool = False
    refused: str = ""
    gauge_units: tuple[tuple[str, str], ...] = ()
    gauge_zeros: tuple[tuple[str, Quantity], ...] = ()
    misses: int = 0
    two: TwoOffered | None = None
    trouble: Trouble = Trouble()
    ear: str = ""
    last_reply: str | None = None
    repeats: int = 0
    seen: frozenset[str] = frozenset()
    looked: tuple[tuple[int, str], ...] = ()
    taken_from: "State | None" = field(default=None, repr=False)
    taken_id: str | None = None
    stopped: bool = False
    verdict: str | None = None
    failed: tuple[str, ...] = ()
    reading_count: int = 0
    move_count: int = 0
    alarm_count: int = 0
    assembly: int = 0
    learned: tuple[Learned, ...] = ()

    def step(self) -> Step | None:
        """The step on the bench now."""
        return self.procedure.step(self.open_step) if self.open_step else None

    @cached_property
    def standing(self) -> tuple[Reading, ...]:
        """The readings that still stand, oldest first."""
        return tuple(r for r in self.readings if r.void is None)

    def current(self, quantity: str, part: str | None = None) -> tuple[Reading, ...]:
        """The readings of a quantity that still stand, oldest first."""
        return tuple(r for r in self.standing if r.quantity == quantity and (part is None or r.part == part))

    def latest(self, quantity: str, part: str | None = None) -> Reading | None:
        """The newest standing reading of a quantity."""
        return next((r for r in reversed(self.standing) if r.quantity == quantity and (part is None or r.part == part)), None)

    def reading(self, reading_id: str) -> Reading:
        """The reading of that id. Raises KeyError: the journal does not hold it."""
        for reading in reversed(self.readings):
            if reading.id == reading_id:
                return reading
        raise KeyError(reading_id)

    def answer(self, step: str) -> str | None:
        """What was chosen at a choice step."""
        return dict(self.answers).get(step)

    def pack(self, part: str) -> Fitted | None:
        """What is fitted of a part, or None before its first fit."""
        return next((fitted for fitted in self.fitted if fitted.part == part), None)

    def limits(self, quantity: str) -> Limits | None:
        """The manual's limits for a quantity."""
        return self.job.limits(quantity)

    def kit(self, part: str) -> tuple[KitShim, ...]:
        """The shims at hand for a part: the job file's, and those measured one by one."""
        kits = {"pinion_shims": self.job.parts.shim_kit, "preload_shims": self.job.parts.preload_kit}
        sides = ("ring_side_shims", "opposite_shims")  # one kit serves both
        parts = sides if part in sides else (part,)
        measured = tuple(KitShim(r.value, 1) for r in self.current("shim_thickness") if r.value is not None and r.part in parts)
        return (*kits.get(part, self.job.parts.side_kit), *measured)


def unit_held(state: State, channel: str, dimension: Dimension) -> str | None:
    """The unit that a gauge was switched to by word in this job; None where nothing was said of it, and any unit is converted.

    channel: its channel or name in plain words.
    """
    alike = ((gauge, unit) for gauge, unit in reversed(state.gauge_units) if unit_named(unit).dimension is dimension)
    return next((unit for gauge, unit in alike if gauge in ("", channel)), None)


def spots_of(state: State, step: Step) -> int:
    """How many places round the ring a step reads: 0 when it does not go by place."""
    return state.job.backlash_spots if step.spots == -1 else step.spots


def readings_of_step(state: State, step: Step) -> tuple[Reading, ...]:
    """The standing readings that this step took."""
    return tuple(r for r in state.standing if r.step == step.id)


def next_spot(state: State, step: Step) -> int | None:
    """The next place to read (from 1; 0 when the step does not go by place), or None when all are read."""
    have = {r.spot for r in readings_of_step(state, step)}
    spots = spots_of(state, step)
    return next((spot for spot in (range(1, spots + 1) if spots else (0,)) if spot not in have), None)


def missing_specs(state: State) -> tuple[tuple[str, str], ...]:
    """The limits that the procedure requires and neither the job file nor the technician has given yet: (quantity, which)."""
    missing: list[tuple[str, str]] = []
    given = {(quantity, which) for quantity, which, _ in state.specs_given}
    for quantity in state.procedure.requires:
        if quantity == "pinion_depth":
            wanted = [] if state.job.limits(quantity) or state.job.depth_by_pattern else ["target", "tolerance"]
        elif state.job.limits(quantity) is not None and not any(name == quantity for name, _ in given):
            wanted = []
        else:
            wanted = {"ring_runout": ["high"], "cap_torque": ["value"]}.get(quantity, ["low", "high"])
        missing += [(quantity, which) for which in wanted if (quantity, which) not in given]
    return tuple(missing)


def etch_open(state: State, quantity: str) -> bool:
    """Whether a pinion's mark has to be asked for: the job file tells the other one, or what a plus means, but not this one."""
    parts = state.job.parts
    mine, other = (parts.etch_new, parts.etch_old) if quantity == "etch_new" else (parts.etch_old, parts.etch_new)
    told = any(r.quantity == quantity for r in state.readings if r.void is None)
    return told or (mine is None and (other is not None or parts.etch_sign is not None))


def applies(state: State, step: Step) -> bool:
    """Whether a step belongs to this job as it stands: every condition of its `when` holds."""
    return all(_holds(state, condition) for condition in step.when)


def _holds(state: State, condition: str) -> bool:
    word, _, rest = condition.partition(" ")
    if word == "not":
        return not _holds(state, rest)
    if condition == "specs missing":
        return bool(missing_specs(state)) or "intake.limits" in state.done
    if condition == "loaded":
        return is_loaded(state)
    if condition == "bore off centre":
        offset = centre_offset(state)
        return offset is not None and abs(offset.base) > _CENTRED
    if word == "spec":
        return state.job.carrier_preload is not None if rest == "carrier_preload" else state.job.limits(rest) is not None
    if word == "seal":
        limits = state.job.limits(rest.removeprefix("in "))
        return limits is not None and limits.seal == "in"
    if word == "unread":
        return state.latest(rest) is None
    if word == "undone":
        return rest not in state.done
    if word == "answer":
        step, _, choice = rest.partition(" = ")
        return state.answer(step) == choice
    if word == "kit":
        part = rest.removesuffix(" empty")
        kits = {"pinion_shims": state.job.parts.shim_kit, "preload_shims": state.job.parts.preload_kit}
        return not kits.get(part, state.job.parts.side_kit)
    if condition == "etch meaning open":
        marks = (state.job.parts.etch_new, state.job.parts.etch_old)
        return any(mark is not None for mark in marks) and (state.job.parts.etch_sign is None or "intake.etch_sign" in state.done)
    if word in ("etch_new", "etch_old"):
        return etch_open(state, word)
    raise KeyError(f"condition {condition!r} is not known")


def centre_offset(state: State) -> Quantity | None:
    """How far the bore's centre lies on the housing side of the parting plane, from the two bore readings; None before both stand."""
    diameter, plane = state.latest("bore_diameter"), state.latest("plane_to_bore")
    if diameter is None or plane is None or diameter.value is None or plane.value is None:
        return None
    return quantity_from((plane.value.base - diameter.value.base / 2) / unit_named(plane.value.unit).factor, plane.value.unit)


def depth_offset(state: State) -> Fraction | None:
    """What has to come off a depth as read to count from the ring-gear centre line, in nanometres; None when that cannot be told (yet).

    MD = P − (plane to bore − radius) where the depth was taken from the parting plane, else nothing comes off (geometry, docs/trade.md 4.10).
    """
    if state.answer("depth.taken_from") != "from the plane":
        return Fraction(0)
    diameter, plane = state.latest("bore_diameter"), state.latest("plane_to_bore")
    if diameter is None or plane is None or diameter.value is None or plane.value is None:
        return None
    return plane.value.base - diameter.value.base / 2


# A bore this near to the middle of the parting plane is as good as centred: finer than a depth gauge reads (trade.md 4.10). Nanometres.
_CENTRED = 5_100


def is_loaded(state: State) -> bool:
    """Whether the pinion bearings are squeezed at all: half of the manual's least drag. With end play every thousandth is one of depth error."""
    drag, limits = state.latest("pinion_drag"), state.job.limits("pinion_drag")
    if drag is None or drag.value is None:
        return False
    return limits is None or limits.low is None or 2 * drag.value.base >= limits.low.base


def is_complete(state: State, quantity: str) -> bool:
    """Whether a quantity stands with a reading at every place that it needs."""
    if quantity in PATTERNS:
        spots = max((step.spots for step in state.procedure.steps if step.quantity == quantity), default=1)
    else:
        spots = state.job.backlash_spots if quantity in ("backlash", "baseline_backlash") else 0
    have = {r.spot for r in state.current(quantity)}
    return all(spot in have for spot in range(1, spots + 1)) if spots else bool(have)


def in_spec(state: State, quantity: str) -> bool | None:
    """Whether the standing readings are within the manual's limits, inclusive; None when something is missing or there is no spec."""
    limits = state.job.limits(quantity)
    if limits is None or not is_complete(state, quantity):
        return None
    newest = {r.spot: r.value for r in state.current(quantity) if r.value is not None}
    if quantity in ("backlash", "baseline_backlash"):
        return backlash_in_spec(tuple(newest.values()), limits)
    value = list(newest.values())[-1]
    if quantity != "pinion_depth":
        return limits.allows(value)
    offset = depth_offset(state)
    return None if offset is None else limits.allows_base(value.base - offset)


def backlash_in_spec(values: tuple[Quantity, ...], limits: Limits) -> bool:
    """Judge backlash round the ring as the job's manual does: all spots, the minimum or the mean; and maximum − minimum."""
    return is_backlash_in_spec(values, low=limits.low, high=limits.high, variation=limits.variation, judge=limits.judge)
