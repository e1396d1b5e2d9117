"""The kinds about figures, and about what is in the kit: pair, convert, stack."""

from fractions import Fraction

from assistant.core.errors import DimensionError, ImpossibleValueError
from assistant.core.quantities import UNITS, Length, Quantity, quantity_from, rounded
from assistant.core.stacks import best_pack
from assistant.core.sums import figures
from assistant.core.worked.keys import Answer, Given, Key, Kind, public_unit
from assistant.core.worked.readers import kit, length, quantity, unit

# A conversion is given to so many decimals if it ends there, else to so many figures; a gauge has no more.
_ENDS_WITHIN, _FIGURES = 8, 6
# Slips that a pair of figures shows: a decimal place, lb-in for lb-ft, N·cm for N·m.
_SLIPS = (10, 12, 100)


def _solve_pair(given: Given) -> Answer:
    a, b = given.quantity("a"), given.quantity("b")
    shown = public_unit(given.quantity(next(iter(given.values))).unit)
    try:
        apart, agreed = figures.apart(a, b), figures.agree(a, b)
    except DimensionError as error:
        raise DimensionError(f"a={a}, b={b}: {error}") from error
    difference = quantity_from(abs(a.base - b.base) / UNITS[shown].factor, shown)
    given.say(f"{_open(a, shown)}; {_open(b, shown)}.")
    given.say(f"They differ by {difference}, {float(100 * apart):.1f} % of the larger; 10 % is allowed for a coarsely rounded column.")
    if agreed:
        given.say("What the last digits leave open overlaps: they agree.")
    else:
        given.say("They disagree: take neither, and ask for the figure again.")
        sizes = sorted((abs(a.base), abs(b.base)))
        slips = [slip for slip in _SLIPS if sizes[0] and abs(sizes[1] / sizes[0] / slip - 1) <= Fraction(2, 100)]
        if slips:
            given.say(
                f"They are about {slips[0]} times apart: {'lb-in and lb-ft' if slips[0] == 12 else 'a decimal place'} may have been confused."
            )
    return given.answer(verdict="agree" if agreed else "disagree", difference=difference)


def _open(figure: Quantity, shown: str) -> str:
    low, high = (quantity_from(size / UNITS[shown].factor, shown) for size in figures.left_open(figure))
    return f"{figure} may stand for {low.text} to {high}"


def _solve_convert(given: Given) -> Answer:
    value, to = given.quantity("value"), given.word("to")
    if UNITS[to].dimension is not value.dimension:
        fitting = [symbol for symbol, known in UNITS.items() if known.dimension is value.dimension]
        raise DimensionError(f"to={to}: {value} is {value.dimension.noun}; expected {', '.join(fitting)}")
    exact = value.number_in(to)
    places = _places(exact, to)
    found = value if value.unit == to else Quantity(rounded(exact, places), to)
    given.say(f"{value} = {found}, exactly." if found == value else f"{value} = {found}, rounded to {places} decimals.")
    return given.answer(value=found)


def _places(number: Fraction, unit_: str) -> int:
    """The decimals of a converted number: all of them if it ends soon, else so many that its first figures are right; not fewer than usual."""
    known = UNITS[unit_]
    for places in range(known.places, _ENDS_WITHIN + 1):
        if Fraction(rounded(number, places)) == number:
            return places
    size = len(str(int(abs(number)))) if abs(number) >= 1 else -len(str(int(1 / abs(number)))) + 1
    return max(known.places, known.finest, _FIGURES - size)


def _solve_stack(given: Given) -> Answer:
    target, shims = given.length("target"), given.shims("kit")
    pack = best_pack(target, shims)
    if pack is None:
        raise ImpossibleValueError("kit: there is no shim in it; expected one at least")
    error = pack.total - target
    terms = " + ".join(given.text(shim) for shim in pack.shims)
    given.say(f"{terms} = {given.text(pack.total)}: {len(pack.shims)} of {sum(shim.count for shim in shims)} shims.")
    if error.nanometres:
        off = f"{given.text(abs(error))} too {'thick' if error > Length(0) else 'thin'}"
        given.say(f"Wanted {given.text(target)}: this leaves it {off}, and no pack of this kit is nearer.")
    else:
        given.say(f"Wanted {given.text(target)}: exactly that.")
    given.say("Marked sizes are nominal: measure each shim, and let the measured ones be the kit.")
    if "tolerance" not in given:
        return given.answer(stack=pack.shims, total=pack.total, error=error)
    passes = abs(error) <= given.length("tolerance")
    given.say(f"A tolerance of {given.text(given.length('tolerance'))} either way, inclusive: {'pass' if passes else 'fail'}.")
    return given.answer(stack=pack.shims, total=pack.total, error=error, verdict="pass" if passes else "fail")


KINDS = (
    Kind(
        "pair",
        "whether one quantity printed in two units is the same in both",
        (Key("a", quantity, "the first figure with its unit"), Key("b", quantity, "the second figure with its unit")),
        {
            "verdict": "agree when what each last digit leaves open overlaps and they differ by at most 10 %, else disagree",
            "difference": "how far they are apart",
        },
        "a=0.005in b=0.12mm",
        _solve_pair,
    ),
    Kind(
        "convert",
        "a value in another unit",
        (Key("value", quantity, "a value with its unit, such as 20lb-in"), Key("to", unit(), "the unit wanted, such as N.m")),
        {"value": "the same in that unit"},
        "value=20lb-in to=N.m",
        _solve_convert,
    ),
    Kind(
        "stack",
        "the pack of shims from a kit that comes nearest to a thickness",
        (
            Key("target", length("0in", "4in", above=True), "the thickness wanted"),
            Key("kit", kit, "thickness x count of each size, with commas: 0.005inx4,0.010inx3"),
            Key("tolerance", length("0in", "0.1in"), "how far off the pack may be, either way", optional=True),
        ),
        {
            "stack": "the shims to fit, thickest first",
            "total": "their sum",
            "error": "total - target",
            "verdict": "with a tolerance: pass or fail",
        },
        "target=0.0381in kit=0.003inx2,0.005inx3,0.010inx4",
        _solve_stack,
    ),
)
