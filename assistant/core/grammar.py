"""What can be heard at a step: every legal value in each of its spoken forms, and the commands, as phrases with their meaning.

A recogniser is given these phrases and no others, so the list is made from the values of the step, not from number rules. "oh" is in none
of them (as one vowel it drowns in hum), and every phrase means to `assistant.core.words` what it means here.

Values: the dial's and the wrench's own steps over the range that the reading can have. A size of inches or tens of millimetres has too many
values for one list; it gets those around the expected one, in full digits.
"""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from assistant.core import english
from assistant.core.axle import CHANNELS, GAUGE_UNITS
from assistant.core.english import AND, GO_BACK_TO, MINUS, ONES, PLUS, POINT
from assistant.core.errors import BadInputError
from assistant.core.numerals import count_words, digit_words
from assistant.core.quantities import Quantity, unit_named
from assistant.core.words import Choice, Command, Expectation, Value, plain_words

Meaning = Value | Command | Choice

_DRAG = {"lb-in": ("2", "60", "1"), "N·m": ("0.1", "9.9", "0.1")}
_WIDE_DRAG = {"lb-in": ("1", "99", "1"), "N·m": ("0.1", "9.9", "0.1")}
_TIGHTENING = {"lb-ft": ("10", "250", "1"), "N·m": ("10", "400", "1")}
_BACKLASH = {"in": ("0.0005", "0.0300", "0.0005"), "mm": ("0.01", "0.99", "0.01")}
_STACK = {"in": ("0.0010", "0.1500", "0.0001"), "mm": ("0.05", "4.00", "0.01")}
_ETCH = {"0.001 in": ("-20", "20", "1"), "0.01 mm": ("-40", "40", "1"), "0.001 mm": ("-200", "200", "1")}
# Lowest, highest, step, per quantity and unit.
_RANGES: dict[str, dict[str, tuple[str, str, str]]] = {
    "backlash": _BACKLASH,
    "baseline_backlash": _BACKLASH,
    "ring_runout": {"in": ("0.0001", "0.0099", "0.0001"), "mm": ("0.01", "0.99", "0.01")},
    "spread": {"in": ("0.0001", "0.0300", "0.0001"), "mm": ("0.01", "0.99", "0.01")},
    "shim_thickness": {"in": ("0.0010", "0.0600", "0.0001"), "mm": ("0.03", "2.00", "0.01")},
    "stack_thickness": _STACK,
    "old_stack_thickness": _STACK,
    "pinion_drag": _DRAG,
    "seal_drag": _WIDE_DRAG,
    "carrier_drag": _WIDE_DRAG,
    "total_drag": _WIDE_DRAG,
    "baseline_total_drag": _WIDE_DRAG,
    "nut_torque": _TIGHTENING,
    "cap_torque": _TIGHTENING,
    "etch_old": _ETCH,
    "etch_new": _ETCH,
    "angle": {"deg": ("1", "180", "1")},
    "notches": {"notch": ("0", "9", "1")},
}
# Too many values for a list: the step of those around the expected one.
_WINDOW_STEPS = {"in": "0.0001", "mm": "0.01"}
# How far a window reaches: six spreads to either side, and at least and at most this many steps.
_WINDOW_SPREADS, _WINDOW_LEAST, _WINDOW_MOST = 6, 100, 300
# Beyond this many values only the forms that are taught are listened for.
_MANY = 400
_TAUGHT = frozenset(("thou", "half", "point_thou", "digits", "point_mm", "point_nm", "count"))


def units_of(quantity: str) -> tuple[str, ...]:
    """The units that `quantity` can be spoken in. Raises BadInputError for a quantity that is no number here."""
    if quantity in english.LARGE_QUANTITIES:
        return tuple(_WINDOW_STEPS)
    if quantity not in _RANGES:
        raise BadInputError(
            f"{quantity!r} is no spoken reading: expected one of {', '.join(sorted({*_RANGES, *english.LARGE_QUANTITIES}))}"
        )
    return tuple(_RANGES[quantity])


def value_set(quantity: str, unit: str, around: Quantity | None = None, spread: Quantity | None = None) -> tuple[Quantity, ...]:
    """The values that can be heard for `quantity` in `unit`, rising.

    around, spread: the expected value and one standard deviation, in any unit of the dimension. A large size (pinion depth, bore diameter,
    plane to bore) has only the values around it: none without `around`. Elsewhere an expected value outside the usual range adds its
    surroundings. Raises BadInputError for a quantity or unit that is not spoken, DimensionError for an `around` of another dimension.
    """
    symbol = unit_named(unit).symbol
    if symbol not in units_of(quantity):
        raise BadInputError(f"{quantity} is not spoken in {symbol}: expected one of {', '.join(units_of(quantity))}")
    if quantity in english.LARGE_QUANTITIES:
        return () if around is None else tuple(_window(symbol, Decimal(_WINDOW_STEPS[symbol]), around, spread))
    low, high, step = (Decimal(text) for text in _RANGES[quantity][symbol])
    usual = list(_stepped(low, high, step, symbol))
    if around is None or usual[0] <= around <= usual[-1]:
        return tuple(usual)
    return tuple(sorted({*usual, *_window(symbol, step, around, spread)}))


def spoken_forms(value: Quantity, quantity: str | None = None) -> tuple[tuple[str, str], ...]:
    """All ways to say `value` that are listened for, as (form, words), usual speech first.

    quantity: what it is a reading of; the torque of a nut or cap may be spelt in newton metres, where a drag may not.
    """
    size = abs(Fraction(value.value))
    if value.unit in _ETCH_PARTS:
        return tuple(_etch_forms(value, size))
    forms: Iterator[tuple[str, str]] = iter(())
    if value.unit == "in":
        forms = _inch_forms(size)
    elif value.unit == "mm":
        forms = _millimetre_forms(size)
    elif value.unit == "N·m":
        forms = _newton_metre_forms(size, spelt=quantity in english.TIGHTENED)
    else:
        forms = _plain_forms(size, value.unit)
    return tuple((form, f"{MINUS} {words}" if value.value < 0 else words) for form, words in forms)


def phrases(expected: Expectation, values: Sequence[Quantity] | None = None) -> tuple[tuple[str, Meaning], ...]:
    """Everything that can be heard where `expected` is due, each phrase once, as (words, meaning).

    values: the values that a reading can have; left out, those of `value_set`. At a confirm there are exactly its own words.
    """
    heard: dict[str, Meaning] = {}
    if expected.unit is not None:
        name = expected.quantity or ""
        listed = value_set(name, expected.unit) if values is None else values
        for value in listed:
            for form, words in spoken_forms(value, expected.quantity):
                if len(listed) <= _MANY or (form in _TAUGHT and "thousandth" not in words):
                    heard.setdefault(words, Value(value, words, form))
    for choice in expected.choices:
        heard.setdefault(" ".join(plain_words(choice)), Choice(choice))
    for words, command in _commands(expected):
        heard.setdefault(words, command)
    return tuple(heard.items())


def vocabulary() -> frozenset[str]:
    """Every word that any grammar can hold, apart from the names of steps and of an alarm's causes, which come with the job."""
    spoken = [*ONES, *english.TENS, english.HUNDRED, POINT, AND, PLUS, MINUS, GO_BACK_TO, english.PATTERN_UNCLEAR]
    spoken += [*english.FRACTIONS, *english.PATTERN_LENGTHWISE, *english.PATTERN_DEPTHWISE, *english.ALARM_CHOICES, *english.ONE_OF_TWO]
    spoken += [words for names in (*english.COMMANDS.values(), *english.QUANTITY_NAMES.values()) for words in names]
    spoken += [words for unit in _SPOKEN_UNITS for words in english.UNITS_SAID[unit]]
    spoken += [words for words, _ in _unit_changes()]
    spoken += ["thou", "of a thousandth", *(unit for parts in _ETCH_PARTS.values() for pair in parts for unit in pair)]
    return frozenset(word for words in spoken for word in words.split())


def words_in(listed: Iterable[tuple[str, Meaning]]) -> frozenset[str]:
    """The words of some phrases."""
    return frozenset(word for words, _ in listed for word in words.split())


_SPOKEN_UNITS = ("in", "thou", "tenth", "mm", "0.01 mm", "lb-in", "lb-ft", "N·m", "deg", "notch")
# How the parts that an etch counts are named, one and many.
_ETCH_PARTS = {
    "0.001 in": (("thou", "thou"), ("thousandth", "thousandths")),
    "0.01 mm": (("hundredth", "hundredths"), ("hundredth of a millimetre", "hundredths of a millimetre")),
    "0.001 mm": (("micron", "microns"), ("thousandth of a millimetre", "thousandths of a millimetre")),
}
_QUARTERS = {Fraction(1, 2): ("half", "a half"), Fraction(1, 4): ("quarter", "a quarter"), Fraction(3, 4): ("quarter", "three quarters")}


def _stepped(low: Decimal, high: Decimal, step: Decimal, unit: str) -> Iterator[Quantity]:
    for number in range(int((high - low) / step) + 1):
        yield Quantity(low + number * step, unit)


def _window(unit: str, step: Decimal, around: Quantity, spread: Quantity | None) -> Iterator[Quantity]:
    """The multiples of `step` around an expected value, above zero."""
    centre = round(around.number_in(unit) / Fraction(step))
    wide = 0 if spread is None else round(spread.number_in(unit) * _WINDOW_SPREADS / Fraction(step))
    reach = min(max(wide, _WINDOW_LEAST), _WINDOW_MOST)
    for number in range(max(centre - reach, 1), centre + reach + 1):
        yield Quantity(number * step, unit)


def _commands(expected: Expectation) -> Iterator[tuple[str, Command]]:
    """The words of the commands that may be given now."""
    for name in expected.commands:
        for spoken in english.COMMANDS[name]:
            if name not in ("correct", "change unit") and not ("yes" in expected.commands and spoken in english.NOT_HEARD_AT_CONFIRM):
                yield spoken, Command(name)
    if "correct" in expected.commands:
        for quantity, names in english.QUANTITY_NAMES.items():
            for spoken in names:
                yield f"correct {spoken}", Command("correct", quantity)
    if "change unit" in expected.commands:
        yield from _unit_changes()
    if "go back" in expected.commands:
        for step in expected.steps:
            yield f"{GO_BACK_TO} {' '.join(plain_words(step))}", Command("go back", step)


def _unit_changes() -> Iterator[tuple[str, Command]]:
    """A gauge that was switched: by its kind of unit alone, or by its name as well."""
    plain, named = english.UNIT_CHANGES_SAID
    for unit in GAUGE_UNITS:
        said = english.UNITS_SAID[unit][1]
        yield plain.format(unit=said), Command("change unit", unit)
        for channel, dimension in CHANNELS.items():
            if unit_named(unit).dimension is dimension:
                yield named.format(gauge=english.GAUGES[channel], unit=said), Command("change unit", unit, channel)


def _inch_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Thousandths and four digits below an inch; digits alone from there on."""
    thousandths, tenths = size * 1000, size * 10_000
    four = tenths.denominator == 1
    if size >= 1:
        if four:
            digits = f"{count_words(int(size))} {POINT} {digit_words(f'{int(tenths) % 10_000:04d}')}"
            yield "digits", digits
            yield "digits", f"{digits} inches"
        return
    whole, part = int(thousandths), thousandths % 1
    if part == 0:
        yield "thou", f"{count_words(whole)} thou"
        if whole < 100:  # "one hundred thousandths" could be counting something else
            yield "thou", f"{count_words(whole)} thousandths"
        if whole == 1:
            yield "thou", "one thousandth"
    if part in _QUARTERS:
        yield from _with_part(whole, *_QUARTERS[part])
    if four:
        if whole < 100:
            last = ONES[int(tenths) % 10]
            yield "point_thou", f"{count_words(whole)} {POINT} {last} thou"
            yield "point_thou", f"{count_words(whole)} {POINT} {last} thousandths"
        digits = digit_words(f"{int(tenths):04d}")
        yield "digits", f"{POINT} {digits}"
        if whole < 100:
            yield "digits_bare", digits
        if 0 < tenths < 10:
            named = f"{count_words(int(tenths))} {'tenth' if tenths == 1 else 'tenths'}"
            yield "tenths", named
            yield "tenths", f"{named} of a thousandth"


def _with_part(whole: int, form: str, part: str) -> Iterator[tuple[str, str]]:
    """ "six and a half thou"; below one "half a thou", "three quarters of a thou"."""
    if whole:
        yield form, f"{count_words(whole)} {AND} {part} thou"
        yield form, f"{count_words(whole)} {AND} {part} thousandths"
    elif form == "half":
        yield form, "half a thou"
        yield form, "half a thousandth"
    else:
        yield form, f"{part} of a thou"


def _millimetre_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Two digits after the point; hundredths below one."""
    hundredths = size * 100
    if hundredths.denominator != 1:
        return
    whole, rest = divmod(int(hundredths), 100)
    digits = f"{count_words(whole)} {POINT} {digit_words(f'{rest:02d}')}"
    yield "point_mm", f"{digits} millimetres"
    yield "digits", digits
    if whole == 0 and rest:
        yield "hundredths", f"{count_words(rest)} {'hundredth' if rest == 1 else 'hundredths'}"


def _newton_metre_forms(size: Fraction, *, spelt: bool) -> Iterator[tuple[str, str]]:
    """One digit after the point; whole ones from ten on as a count too, and digit by digit where `spelt`."""
    tenths = size * 10
    if tenths.denominator != 1:
        return
    if spelt and size.denominator == 1 and size >= 10:
        yield from _counts(int(size), "newton metre", "newton metres")
        yield "digits", f"{digit_words(str(int(size)))} newton metres"
        return
    digits = f"{count_words(int(size))} {POINT} {ONES[int(tenths) % 10]}"
    yield "point_nm", f"{digits} newton metres"
    yield "digits", digits


def _plain_forms(size: Fraction, unit: str) -> Iterator[tuple[str, str]]:
    """Counts and digits of torques in pounds, angles, notches and plain numbers."""
    one, many = english.UNITS_SAID[unit]
    if size.denominator == 1:
        number = int(size)
        yield from _counts(number, one, many)
        if unit in ("notch", "1"):
            if number < 10 or unit == "1":
                yield ("digits_bare" if number >= 10 else "count"), digit_words(str(number))
            return
        digits = digit_words(f"{number:02d}" if unit == "lb-in" else str(number))
        if number < 10 and unit != "lb-in":  # one digit is a count; a torque that short is never said without its unit
            yield "count", f"{digits} {many}"
            if unit == "deg":
                yield "count", digits
            return
        yield "digits", f"{digits} {many}"
        yield "digits_bare", digits
    elif size.denominator == 2:
        yield "half", (f"{count_words(int(size))} {AND} a half {many}" if size > 1 else f"half a {one}")


def _counts(number: int, one: str, many: str) -> Iterator[tuple[str, str]]:
    unit = one if number == 1 else many
    yield "count", f"{count_words(number)} {unit}".rstrip()
    if number > 100 and number % 100:
        yield "count", f"{count_words(number, AND)} {unit}".rstrip()


def _etch_forms(value: Quantity, size: Fraction) -> Iterator[tuple[str, str]]:
    """ "plus two", "minus three thou"; zero has no sign."""
    if size.denominator != 1:
        return
    if size == 0:
        yield "count", count_words(0)
        return
    said = f"{MINUS if value.value < 0 else PLUS} {count_words(int(size))}"
    yield "count", said
    for one, many in _ETCH_PARTS[value.unit]:
        yield ("thou" if value.unit == "0.001 in" else "hundredths"), f"{said} {one if size == 1 else many}"
