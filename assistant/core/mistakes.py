"""Known mistakes: each maps what was predicted to what would then be read, and a reading weighs all of them at once.

The rows are data (assistant/mistakes.toml). A row has odds before the reading, a transform of the predicted law, the quantities and occasions
that it can touch, what to check first and what is said. `weigh` compares how well each row, "no mistake" and "something else" foretold the
reading. Readings that belong together add up: what one reading said for a row is handed to the next as `earned`.

Sizes are floats in the belief's units (micrometres, newton-metres); a reading comes as the exact quantity it is, because its digits count.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal, NamedTuple

from assistant.core.axle import QUANTITIES
from assistant.core.belief.normal import Normal, standard_below, standard_quantile
from assistant.core.errors import BadInputError
from assistant.core.quantities import UNITS, Dimension, Quantity, unit_named

Kind = Literal["slip", "bench"]
Verdict = Literal["clear", "doubtful", "alarm"]

# The two answers that are no row: nothing is wrong; something is, and no row knows it.
NONE, UNKNOWN = "none", "unknown"
# How often something happens that no row tells, and how many spreads it goes astray. Assumed; measured with the rest in tests/core/test_mistakes.py.
_UNKNOWN_ODDS, _UNKNOWN_SPREADS = 0.005, 6.0
# A first reading is foretold by what axles are like, not by this one, and that has long tails: now and then several times as far. Assumed.
_FIRST_WIDER, _FIRST_SHARE = 2.5, 0.1
# How often a check that is made with the hands misses what is there. Assumed.
CHECK_MISSES = 0.2
# A print shows a depth error of about this much, and the eye's spread about it; one look in twenty is plain wrong. Assumed: no publication
# seen gives a shift per error (docs/trade.md, 6).
_PRINT_SHOWS_UM, _PRINT_SPREAD_UM, _PRINT_WRONG = 65.0, 40.0, 0.05


@dataclass(frozen=True)
class Transform:
    """How a mistake changes a reading. `by` holds numbers, or names that the context knows; several are equally likely.

    factor    the reading is `by` times what it should be; width: relative spread of the factor
    offset    it is off by `by` (micrometres or newton-metres, or named); width: spread of the offset, of a named one as a share of it
    response  since the last change it moved `by` times as far as it should have; width: spread of that factor
    unit      the number belongs to another unit of `by`
    digits    "transposed", "teen-ty" or "misheard": the number was said, read or heard wrong
    level     the reading is near `by` itself, whatever was expected; width: its spread
    echo      the last reading once more, to the last digit
    variation largest less smallest of a round is `by` times what the runout explains (`weigh_round`); width: relative to that too
    reflect   the scale was read from its other end: `by` (named: one turn of the dial) less the reading
    """

    kind: Literal["factor", "offset", "level", "response", "unit", "digits", "echo", "reflect", "variation"]
    by: tuple[float | str, ...] = ()
    width: float = 0.0


@dataclass(frozen=True)
class Mistake:
    """One row. odds: against no mistake, before a reading on such an occasion; again: how likely asking once more brings the same wrong number."""

    id: str
    kind: Kind
    cause: str
    check: str
    phrase: str
    quantities: frozenset[str]
    when: frozenset[str]
    unless: frozenset[str]
    odds: float
    again: float
    transform: Transform
    redo: tuple[str, ...] = ()

    def fits(self, context: "Context") -> bool:
        """Whether it can touch this quantity on this occasion."""
        return context.quantity in self.quantities and self.when <= context.occasion and not self.unless & context.occasion


@dataclass(frozen=True)
class Look:
    """What is looked at, in place and in seconds, before a number has anything changed. rows: the mistakes that it would show; odds: as theirs."""

    id: str
    text: str
    rows: frozenset[str]
    quantities: frozenset[str]
    when: frozenset[str]
    unless: frozenset[str]
    odds: float

    def fits(self, context: "Context") -> bool:
        """Whether it can be made on this occasion."""
        return context.quantity in self.quantities and self.when <= context.occasion and not self.unless & context.occasion


# What an occasion may hold: where the number came from, what was done since the last reading of this quantity, and the layout.
OCCASIONS = frozenset(
    {
        "voice", "typed", "gauge",
        "changed", "assembled", "nut", "caps", "sleeve", "first", "final",
        "flange", "head-cone", "head-cup", "spacer-shims", "crush-sleeve", "adjusters", "side-shims", "case-shims",
    }
)  # fmt: skip
# Sizes that only the job knows, by the name under which a row asks for them (Context.sizes).
SIZES = frozenset(
    {
        "shim-missing", "shim-extra", "thicker", "stand-off", "etch-sign", "etch-unit", "etch-old", "seal", "carrier-share", "notch", "dial-turn",
        "bearing-width", "yoke", "apart", "depth-extra", "side-missing", "side-extra", "side-thicker", "side-swapped",
    }
)  # fmt: skip


@dataclass(frozen=True)
class Context:
    """What is known about a reading besides its prediction. All sizes in the belief's unit of this quantity.

    occasion: words of OCCASIONS. before: the reading to expect had nothing been changed; None when nothing was. last: the last reading of this
    quantity as it was recorded. noise: spread of one reading; step: the least that the
    instrument shows.
    sizes, by names of SIZES: by how much this reading would be off (signed; one entry for each way it can be): `shim-missing` and `shim-extra`
    one for each size in the pack (`depth-extra`: of the depth pack, on the drag), `thicker` for a burr of .0035 in, `apart` for cones that are
    not together, `stand-off` for a bearing .0055 in off its shoulder, `etch-sign`,
    `etch-unit`, `etch-old`, `seal`, `carrier-share`, `notch` for one notch walked, `dial-turn`, `bearing-width` for set-up bearings; and
    `side-missing`, `side-extra` and `side-thicker` the same of the side packs, `side-swapped` for each on the other's side;
    `yoke`: the factor of a reading taken at the yoke. A row whose size is not here is left out.
    earned: log odds that earlier readings and answers brought, by row. said_again: the value was asked for once more, and is the same.
    parts: equally likely laws that make up the predicted one, where that is not normal (drag near contact); empty where it is.
    laws, by names of SIZES: equally likely laws of the reading with that wrong, where it is not simply off by a size (drag ends at its floor).
    """

    quantity: str
    occasion: frozenset[str]
    noise: float
    step: float
    before: Normal | None = None
    last: Quantity | None = None
    sizes: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    earned: Mapping[str, float] = field(default_factory=dict)
    said_again: bool = False
    parts: tuple[Normal, ...] = ()
    laws: Mapping[str, tuple[Normal, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        strange = (self.occasion - OCCASIONS) | ((set(self.sizes) | set(self.laws)) - SIZES)
        if strange:
            raise ValueError(f"no occasion or size is called {', '.join(sorted(strange))}")
        if not (self.noise > 0.0 and self.step > 0.0):
            raise ValueError(f"noise and step are above zero, not {self.noise} and {self.step}")


@dataclass(frozen=True)
class Suspect:
    """One answer: a row's, or NONE or UNKNOWN. odds: its share of all answers, 0 to 1. likelihood: log of how much better than "no mistake" it
    foretold this reading. meant: what the number would be without the slip, if that can be told."""

    id: str
    cause: str
    odds: float
    check: str
    phrase: str
    slip: bool
    likelihood: float
    redo: tuple[str, ...] = ()
    meant: Quantity | None = None


@dataclass(frozen=True)
class Limits:
    """When to speak. surprise: spreads from the prediction; doubt, alarm: least share of "no mistake" that passes.

    The figures are set by the rates that tests/core/test_mistakes.py measures on clean virtual readings.
    """

    surprise: float = 2.9
    doubt: float = 0.8
    alarm: float = 0.6


@dataclass(frozen=True)
class Weighing:
    """What a reading says about all answers: most likely first, NONE and UNKNOWN among them. surprise: spreads from the prediction."""

    suspects: tuple[Suspect, ...]
    surprise: float
    said_again: bool

    @property
    def clean(self) -> float:
        """The share of "no mistake"."""
        return next(suspect.odds for suspect in self.suspects if suspect.id == NONE)

    @property
    def likely(self) -> tuple[Suspect, ...]:
        """The known mistakes alone, most likely first, their odds as shares of one another."""
        known = [suspect for suspect in self.suspects if suspect.id not in (NONE, UNKNOWN)]
        total = math.fsum(suspect.odds for suspect in known)
        return tuple(_with_odds(suspect, suspect.odds / total) for suspect in known) if total > 0.0 else ()

    def verdict(self, limits: Limits = Limits()) -> Verdict:
        """Doubtful: ask for it once more before it is recorded. Alarm: the same came again, and "no mistake" is not likely enough."""
        if self.said_again:
            return "alarm" if self.clean < limits.alarm else "clear"
        return "doubtful" if self.clean < limits.doubt or self.surprise > limits.surprise else "clear"

    def earned(self, earlier: Mapping[str, float]) -> dict[str, float]:
        """What is to be handed on as `Context.earned`: earlier log odds and what this reading adds, for mistakes that stay (not slips)."""
        after = dict(earlier)
        for suspect in self.suspects:
            if suspect.id not in (NONE, UNKNOWN) and not suspect.slip:
                after[suspect.id] = earlier.get(suspect.id, 0.0) + suspect.likelihood
        return after


def weigh(mistakes: Iterable[Mistake], reading: Quantity, predicted: Normal, context: Context) -> Weighing:
    """How likely each mistake is, now that `reading` came where `predicted` (in the belief's unit, the reading's own error included) was expected."""
    value = _size(reading)
    parts = list(context.parts) or [predicted]
    clean = _log_mean([_clean(part, value, context) for part in parts])
    unknown = Normal(predicted.mean, _UNKNOWN_SPREADS * predicted.spread).log_density(value)
    weights: list[tuple[float, Suspect]] = [
        (0.0, _answer(NONE, 0.0)),
        (math.log(_UNKNOWN_ODDS) + unknown - clean, _answer(UNKNOWN, unknown - clean)),
    ]
    for mistake in mistakes:
        if not mistake.fits(context):
            continue
        # What moved, and how far, is known as one law only; laws of their own hold all parts already.
        is_one = mistake.transform.kind == "response" or any(by in context.laws for by in mistake.transform.by)
        found = _foretold_by([predicted] if is_one else parts, mistake.transform, reading, value, context)
        if found is None:
            continue
        density, meant = found
        better = max(density - clean, -50.0)
        weight = math.log(mistake.odds) + better + context.earned.get(mistake.id, 0.0)
        if context.said_again:
            weight += math.log(mistake.again)
        weights.append((weight, _suspect(mistake, better, meant)))
    return Weighing(_shared_out(weights), _surprise(parts, value), context.said_again)


def joined(weighing: Weighing, earlier: Weighing, better: float) -> Weighing:
    """What a reading says, with the slips that an earlier one may have held.

    better: log of how much likelier this reading is where the earlier one is left out.
    """
    shares = {suspect.id: suspect.odds for suspect in earlier.suspects if suspect.slip}
    # As an exponent: a reading many spreads off leaves next to nothing of "no mistake".
    factor = math.exp(min(better + math.log(max(weighing.clean, 1e-300)) - math.log(max(earlier.clean, 1e-300)), 300.0))
    known = {suspect.id: suspect for suspect in earlier.suspects if suspect.slip} | {suspect.id: suspect for suspect in weighing.suspects}
    odds = {name: shares.get(name, 0.0) * factor for name in known}
    for suspect in weighing.suspects:
        odds[suspect.id] += suspect.odds
    total = math.fsum(odds.values())
    suspects = sorted((_with_odds(suspect, odds[name] / total) for name, suspect in known.items()), key=lambda each: (-each.odds, each.id))
    return Weighing(tuple(suspects), weighing.surprise, weighing.said_again)


def weigh_round(mistakes: Iterable[Mistake], values: Sequence[float], swing: Normal, context: Context) -> Weighing:
    """How likely each mistake is, now that a whole round of backlash readings lies there.

    values: the round's readings. swing: how far the largest should lie above the smallest, with its spread: k_ring times the measured runout,
    give or take about a third (how the spots fall, what the runout does not explain). A round that hardly differs was read at one tooth.
    """
    seen = max(values) - min(values)
    scatter = math.hypot(2.0 * context.noise, context.step)  # what several readings of one thing differ by
    expected = Normal(swing.mean, math.hypot(swing.spread, math.sqrt(2.0) * context.noise))
    clean = expected.log_density(seen)
    unknown = Normal(expected.mean, _UNKNOWN_SPREADS * expected.spread).log_density(seen) - clean
    weights = [(0.0, _answer(NONE, 0.0)), (math.log(_UNKNOWN_ODDS) + unknown, _answer(UNKNOWN, unknown))]
    for mistake in mistakes:
        if mistake.transform.kind == "variation" and mistake.fits(context):
            laws = [
                Normal(factor * swing.mean, math.hypot(mistake.transform.width * swing.mean, scatter))
                for factor in _numbers(mistake.transform, context)
            ]
            better = log_density(laws, seen) - clean
            weights.append((math.log(mistake.odds) + better + context.earned.get(mistake.id, 0.0), _suspect(mistake, better, None)))
    return Weighing(_shared_out(weights), abs(expected.z(seen)), said_again=True)


def weigh_pattern(mistakes: Iterable[Mistake], seen: Literal["out", "in", "right"], error: Normal, context: Context) -> Weighing:
    """How likely each mistake of the depth reading is, now that a contact pattern speaks against it or for it.

    seen: where the print says that the pinion stands, both flanks taken together. error: how far out (positive) it stands by its readings,
    micrometres. context.quantity is "pinion_depth": a mistake that put the reading off by d hid that the pinion stands −d from there.
    """

    def chance(law: Normal) -> float:
        spread = math.hypot(law.spread, _PRINT_SPREAD_UM)
        out = standard_below((law.mean - _PRINT_SHOWS_UM) / spread)
        inward = standard_below((-law.mean - _PRINT_SHOWS_UM) / spread)
        looks = {"out": out, "in": inward, "right": 1.0 - out - inward}[seen]
        return (1.0 - _PRINT_WRONG) * looks + _PRINT_WRONG / 3.0

    clean = chance(error)
    weights: list[tuple[float, Suspect]] = [(0.0, _answer(NONE, 0.0))]
    for mistake in mistakes:
        if not mistake.fits(context) or mistake.transform.kind != "offset":
            continue
        laws = _offset_laws(mistake.transform, error, context, [-off for off in _numbers(mistake.transform, context)])
        if laws:
            better = math.log(math.fsum(chance(law) for law in laws) / len(laws) / clean)
            weights.append((math.log(mistake.odds) + better + context.earned.get(mistake.id, 0.0), _suspect(mistake, better, None)))
    return Weighing(_shared_out(weights), abs(error.z(0.0)), said_again=True)


def nothing_found(earned: Mapping[str, float], mistake: str) -> dict[str, float]:
    """The log odds after a check for `mistake` found nothing: less likely, not impossible."""
    return {**earned, mistake: earned.get(mistake, 0.0) + math.log(CHECK_MISSES)}


# ---------------------------------------------------------------------- how each transform foretells a reading


def _foretold_by(
    parts: list[Normal], transform: Transform, reading: Quantity, value: float, context: Context
) -> tuple[float, Quantity | None] | None:
    """Log density of `value` under the transform, all parts taken together, and what was meant, by the part that foretold the reading best.

    None when the context lacks what the transform needs.
    """
    meant, numbers = _meant(transform, reading), _numbers(transform, context)
    found = [(density, part) for part in parts if (density := _foretold(transform, value, part, context, numbers, meant)) is not None]
    if not found:
        return None
    best = max(found, key=lambda each: each[0])[1]
    return _log_mean([density for density, _ in found]), _best(transform, reading, value, best, numbers, meant)


class _Meant(NamedTuple):
    """A number that may have been there instead of the one that was read. shift: log of how much denser numbers of its unit lie on the scale."""

    number: Decimal
    unit: str
    size: float
    shift: float


def _meant(transform: Transform, reading: Quantity) -> list[_Meant]:
    """What may have been meant, all equally likely, where a number was taken for another; else nothing."""
    match transform.kind:
        case "unit":
            # A number in another unit is denser or thinner on the scale by the ratio of the units.
            return [
                _Meant(reading.value, other, _size_of(reading.value, other), math.log(UNITS[other].factor / UNITS[reading.unit].factor))
                for other in _other_units(transform, reading)
            ]
        case "digits":
            numbers = _MISREADINGS[str(transform.by[0])](reading)
            return [_Meant(number, reading.unit, _size_of(number, reading.unit), 0.0) for number in numbers]
        case _:
            return []


def _foretold(
    transform: Transform, value: float, predicted: Normal, context: Context, numbers: list[float], meant: list[_Meant]
) -> float | None:
    """Log density of `value` under the transform; None when the context lacks what it needs. numbers, meant: its `_numbers` and `_meant`."""
    match transform.kind:
        case "factor":
            laws = _factor_laws(transform, predicted, numbers)
            return log_density(laws, value) if laws else None
        case "offset":
            laws = _offset_laws(transform, predicted, context, numbers)
            return log_density(laws, value) if laws else None
        case "level":
            return log_density([Normal(by, math.hypot(transform.width, context.noise)) for by in numbers], value)
        case "response":
            return _response(transform, value, predicted, context, numbers)
        case "unit" | "digits":
            return _log_mean(_logs(meant, predicted)) if meant else None
        case "echo":
            if context.last is None or abs(_size(context.last) - value) > context.step / 2:
                return None
            return -math.log(context.step)
        case "reflect":
            laws = [Normal(turn - predicted.mean, predicted.spread) for turn in numbers]
            return log_density(laws, value) if laws else None
        case "variation":
            return None


def _best(
    transform: Transform, reading: Quantity, value: float, predicted: Normal, numbers: list[float], meant: list[_Meant]
) -> Quantity | None:
    """What explains the reading best, when that can be told."""
    if meant:
        logs = _logs(meant, predicted)
        best = meant[logs.index(max(logs))]
        return Quantity(best.number, best.unit)
    if transform.kind != "factor":
        return None
    # The reading without the factor, when that is a plain decimal.
    logs = [law.log_density(value) for law in _factor_laws(transform, predicted, numbers)]
    number = (reading.value / Decimal(repr(numbers[logs.index(max(logs))]))).normalize()
    return Quantity(number + 0, reading.unit) if len(number.as_tuple().digits) <= 6 else None


def _logs(meant: list[_Meant], predicted: Normal) -> list[float]:
    return [predicted.log_density(each.size) + each.shift for each in meant]


def _surprise(parts: list[Normal], value: float) -> float:
    """How many spreads off a normal law would have to be to be as unlikely: the smaller tail of all parts together."""
    tail = min(math.fsum(standard_below(side * part.z(value)) for part in parts) / len(parts) for side in (-1, 1))
    return min((abs(part.z(value)) for part in parts), default=0.0) if tail < 1e-12 else -standard_quantile(min(tail, 0.5))


def _clean(predicted: Normal, value: float, context: Context) -> float:
    """Log density of the reading when nothing is wrong."""
    near = predicted.log_density(value)
    if "first" not in context.occasion:
        return near
    far = Normal(predicted.mean, _FIRST_WIDER * predicted.spread).log_density(value)
    return math.log((1.0 - _FIRST_SHARE) * math.exp(near - far) + _FIRST_SHARE) + far if near < far else near


def _numbers(transform: Transform, context: Context) -> list[float]:
    """`by` with its names looked up; empty when the context does not know one."""
    return [number for by in transform.by for number in (context.sizes.get(by, ()) if isinstance(by, str) else (by,))]


def _factor_laws(transform: Transform, predicted: Normal, numbers: list[float]) -> list[Normal]:
    return [
        Normal(factor * predicted.mean, math.hypot(factor * predicted.spread, transform.width * factor * predicted.mean))
        for factor in numbers
    ]


def _offset_laws(transform: Transform, predicted: Normal, context: Context, numbers: list[float]) -> list[Normal]:
    named = any(isinstance(by, str) for by in transform.by)
    own = [law for by in transform.by for law in context.laws.get(str(by), ())]
    if own:
        return [Normal(law.mean, math.hypot(law.spread, transform.width * abs(law.mean - predicted.mean))) for law in own]
    return [
        Normal(predicted.mean + off, math.hypot(predicted.spread, transform.width * abs(off) if named else transform.width))
        for off in numbers
    ]


def _response(transform: Transform, value: float, predicted: Normal, context: Context, numbers: list[float]) -> float | None:
    before = context.before
    if before is None or abs(predicted.mean - before.mean) < before.spread:
        return None  # a change that small could not be seen
    added = math.sqrt(max(predicted.spread**2 - before.spread**2, 0.0))
    change = predicted.mean - before.mean
    laws = [
        Normal(before.mean + factor * change, math.sqrt(before.spread**2 + (factor * added) ** 2 + (transform.width * change) ** 2))
        for factor in numbers
    ]
    return log_density(laws, value)


def log_density(laws: Sequence[Normal], value: float) -> float:
    """Of `value`, where each of these laws is as likely as the others."""
    return _log_mean([law.log_density(value) for law in laws])


def _log_mean(logs: list[float]) -> float:
    """The logarithm of the mean of what these are logarithms of."""
    top = max(logs)
    return top + math.log(math.fsum(math.exp(log - top) for log in logs) / len(logs))


def _other_units(transform: Transform, reading: Quantity) -> list[str]:
    units = [unit_named(str(by)) for by in transform.by]
    if reading.unit not in [unit.symbol for unit in units]:
        return []
    return [unit.symbol for unit in units if unit.symbol != reading.unit]


def _number(figures: Iterable[int], like: Decimal) -> Decimal:
    """The figures with the decimal places of `like`."""
    return Decimal("".join(map(str, figures))).scaleb(int(like.as_tuple().exponent))


def _transposed(reading: Quantity) -> list[Decimal]:
    """Each number with two unlike neighbouring figures changed back; zeros in front stay where they are."""
    figures = reading.value.as_tuple().digits
    return [
        _number((*figures[:at], figures[at + 1], figures[at], *figures[at + 2 :]), reading.value)
        for at in range(len(figures) - 1)
        if figures[at] != figures[at + 1]
    ]


def _misheard(reading: Quantity) -> list[Decimal]:
    """Each number that differs from it in one figure."""
    figures = reading.value.as_tuple().digits
    return [
        _number((*figures[:at], other, *figures[at + 1 :]), reading.value)
        for at, figure in enumerate(figures)
        for other in range(10)
        if other != figure
    ]


# The unit in which a number of each unit is spoken: "fifteen" thousandths of an inch, hundredths of a millimetre, whole pound-inches.
_SPOKEN = {"in": Decimal("0.001"), "mm": Decimal("0.01")}


def _teen_ty(reading: Quantity) -> list[Decimal]:
    """Fifteen for fifty and fifty for fifteen, in the unit in which the number is spoken."""
    spoken = _SPOKEN.get(reading.unit, Decimal(1))
    whole = int(reading.value / spoken) % 100
    if 13 <= whole <= 19:
        other = (whole - 10) * 10
    elif whole in range(30, 100, 10):
        other = whole // 10 + 10
    else:
        return []
    return [reading.value + (other - whole) * spoken]


_MISREADINGS = {"transposed": _transposed, "misheard": _misheard, "teen-ty": _teen_ty}


# Base units (nanometres, micronewton-metres) in one unit of the belief.
_SCALE = {Dimension.LENGTH: 1000, Dimension.TORQUE: 10**6}


def _size(quantity: Quantity) -> float:
    """Micrometres of a length, newton-metres of a torque, else the plain number."""
    return _size_of(quantity.value, quantity.unit)


def _size_of(number: Decimal, unit: str) -> float:
    # As the exact fraction would give it: a quotient of whole numbers is rounded once.
    (whole, parts), known = number.as_integer_ratio(), UNITS[unit]
    return whole * known.factor.numerator / (parts * known.factor.denominator * _SCALE.get(known.dimension, 1))


# ---------------------------------------------------------------------- shares


def _answer(name: str, likelihood: float) -> Suspect:
    return Suspect(name, "", 0.0, "", "", False, likelihood)


def _suspect(mistake: Mistake, likelihood: float, meant: Quantity | None) -> Suspect:
    slip = mistake.kind == "slip"
    return Suspect(mistake.id, mistake.cause, 0.0, mistake.check, mistake.phrase, slip, likelihood, mistake.redo, meant if slip else None)


def _with_odds(suspect: Suspect, odds: float) -> Suspect:
    return Suspect(
        suspect.id, suspect.cause, odds, suspect.check, suspect.phrase, suspect.slip, suspect.likelihood, suspect.redo, suspect.meant
    )


def _shared_out(weights: list[tuple[float, Suspect]]) -> tuple[Suspect, ...]:
    top = max(weight for weight, _ in weights)
    total = math.fsum(math.exp(weight - top) for weight, _ in weights)
    return tuple(
        _with_odds(suspect, math.exp(weight - top) / total) for weight, suspect in sorted(weights, key=lambda pair: (-pair[0], pair[1].id))
    )


# ---------------------------------------------------------------------- the rows from their file

_GROUPS = {
    "lengths": frozenset(name for name, dimension in QUANTITIES.items() if dimension is Dimension.LENGTH and not name.startswith("etch")),
    "drags": frozenset(name for name in QUANTITIES if name.endswith("drag")),
    "all": frozenset(QUANTITIES),
}
_NUMBER, _NUMBER_OR_NAME = (int, float), (int, float, str)
_KINDS: dict[str, tuple[type, ...]] = {
    "factor": _NUMBER_OR_NAME, "offset": _NUMBER_OR_NAME, "reflect": _NUMBER_OR_NAME, "level": _NUMBER, "response": _NUMBER,
    "variation": _NUMBER, "unit": (str,), "digits": (str,),
}  # fmt: skip
_FLAGS = ("echo",)
_TEXTS = ("id", "kind", "cause", "check", "phrase")
_KNOWN = {*_TEXTS, "quantities", "when", "unless", "odds", "again", "width", "redo", *_KINDS, *_FLAGS}


def mistakes_from(document: Mapping[str, object]) -> tuple[Mistake, ...]:
    """The rows of a mistakes file, as TOML was read. Raises BadInputError that names every problem with its row."""
    rows = document.get("mistake")
    if not isinstance(rows, list) or not rows:
        raise BadInputError("mistakes: [[mistake]] rows were expected, none found")
    problems: list[str] = []
    found = [row for at, each in enumerate(rows, start=1) if (row := _row(at, each, problems)) is not None]
    for key in ("id", "cause"):
        names = [str(getattr(row, key)) for row in found]
        problems += [f"{key} {name!r} stands twice" for name in sorted(set(names)) if names.count(name) > 1]
    if problems:
        raise BadInputError("mistakes: " + "; ".join(problems))
    return tuple(found)


def looks_from(document: Mapping[str, object], mistakes: Iterable[Mistake]) -> tuple[Look, ...]:
    """The looks of a mistakes file. Raises BadInputError that names every problem with its row."""
    known = {mistake.id for mistake in mistakes}
    problems: list[str] = []
    found: list[Look] = []
    rows = document.get("look", [])
    assert isinstance(rows, list)
    for at, row in enumerate(rows, start=1):
        name = f"look {at}"
        if not isinstance(row, dict) or set(row) - {"id", "text", "rows", "quantities", "when", "unless", "odds"}:
            problems.append(f"{name}: a table of id, text, rows, quantities, when, unless and odds was expected")
            continue
        text, odds = row.get("text"), row.get("odds")
        problems += [f"{name}: {key} must be a text" for key in ("id", "text") if not (isinstance(row.get(key), str) and row[key])]
        problems += [f"{name}: odds is {odds!r}, a number above 0 and at most 1 was expected"] if not _is_share(odds) else []
        shown, quantities = _texts(row, "rows", name, problems), _texts(row, "quantities", name, problems)
        problems += [f"{name}: no mistake is called {each!r}" for each in shown if each not in known]
        problems += [f"{name}: no quantity is called {each!r}" for each in quantities if each not in QUANTITIES]
        occasions = {key: frozenset(_texts(row, key, name, problems)) for key in ("when", "unless")}
        problems += [f"{name}: no occasion is called {word!r}" for words in occasions.values() for word in sorted(words - OCCASIONS)]
        found.append(
            Look(
                str(row.get("id")),
                str(text),
                frozenset(shown),
                frozenset(quantities),
                occasions["when"],
                occasions["unless"],
                float(odds) if isinstance(odds, (int, float)) else 0.0,
            )
        )
    if problems:
        raise BadInputError("mistakes: " + "; ".join(problems))
    return tuple(found)


def _is_share(share: object) -> bool:
    return isinstance(share, (int, float)) and 0.0 < share <= 1.0


def _row(at: int, row: object, problems: list[str]) -> Mistake | None:
    """One row, or None with what is wrong with it added to `problems`."""
    if not isinstance(row, dict):
        problems.append(f"row {at} is {row!r}, a table was expected")
        return None
    name = f"row {at} ({row.get('id', 'without id')})"
    before = len(problems)
    problems += [f"{name}: {key} is not known" for key in sorted(set(row) - _KNOWN)]
    problems += [f"{name}: {key} must be a text" for key in _TEXTS if not (isinstance(row.get(key), str) and row[key])]
    if row.get("kind") not in ("slip", "bench"):
        problems.append(f"{name}: kind is {row.get('kind')!r}, slip or bench was expected")
    quantities: set[str] = set()
    for quantity in _texts(row, "quantities", name, problems):
        if quantity not in _GROUPS and quantity not in QUANTITIES:
            problems.append(f"{name}: no quantity or group is called {quantity!r}")
        quantities |= _GROUPS.get(quantity, {quantity})
    if not quantities:
        problems.append(f"{name}: quantities are missing")
    occasions = {}
    for key in ("when", "unless"):
        occasions[key] = frozenset(_texts(row, key, name, problems))
        problems += [f"{name}: no occasion is called {word!r}" for word in sorted(occasions[key] - OCCASIONS)]
    shares = {}
    for key, fallback in (("odds", None), ("again", 1.0)):
        share = row.get(key, fallback)
        if isinstance(share, (int, float)) and _is_share(share):
            shares[key] = float(share)
        else:
            problems.append(f"{name}: {key} is {share!r}, a number above 0 and at most 1 was expected")
    transform = _transform(row, name, problems)
    redo = tuple(_texts(row, "redo", name, problems))
    if len(problems) > before or transform is None:
        return None
    return Mistake(
        row["id"], row["kind"], row["cause"], row["check"], row["phrase"], frozenset(quantities), occasions["when"], occasions["unless"],
        shares["odds"], shares["again"], transform, redo,
    )  # fmt: skip


def _transform(row: Mapping[str, object], name: str, problems: list[str]) -> Transform | None:
    kinds = [key for key in (*_KINDS, *_FLAGS) if key in row]
    if len(kinds) != 1:
        problems.append(f"{name}: exactly one of {', '.join((*_KINDS, *_FLAGS))} was expected, found {', '.join(kinds) or 'none'}")
        return None
    kind = kinds[0]
    width = row.get("width", 0.0)
    if not isinstance(width, (int, float)) or width < 0.0:
        problems.append(f"{name}: width is {width!r}, a number of at least 0 was expected")
        return None
    if kind in _FLAGS:
        if row[kind] is not True:
            problems.append(f"{name}: {kind} can only be true")
        return Transform(kind)  # type: ignore[arg-type]  # one of the flags, by the lines above
    by = row[kind] if isinstance(row[kind], list) else [row[kind]]
    assert isinstance(by, list)
    bad = [each for each in by if not isinstance(each, _KINDS[kind])]
    names = [each for each in by if isinstance(each, str)]
    if kind in ("factor", "offset", "reflect"):
        bad += [each for each in names if each not in SIZES]
    elif kind == "unit":
        bad += [each for each in names if each not in UNITS]
    elif kind == "digits":
        bad += [each for each in names if each not in _MISREADINGS]
    if bad or not by or (kind == "factor" and any(not isinstance(each, str) and each <= 0 for each in by)):
        problems.append(f"{name}: {kind} cannot be {row[kind]!r}")
        return None
    return Transform(kind, tuple(each if isinstance(each, str) else float(each) for each in by), float(width))  # type: ignore[arg-type]


def _texts(row: Mapping[str, object], key: str, name: str, problems: list[str]) -> list[str]:
    """A list of texts, empty when the key is not there."""
    value = row.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        problems.append(f"{name}: {key} is {value!r}, a list of words was expected")
        return []
    return value
