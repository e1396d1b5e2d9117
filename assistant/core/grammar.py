"""What can be heard at a step: every legal value in each of its spoken forms, and the commands, as phrases with their meaning.

A recogniser is given these phrases and no others, so the list is made from the values of the step, not from number rules. "oh" is in none
of them (as one vowel it drowns in hum), and every phrase means to `assistant.core.words` what it means here.

Values: the dial's and the wrench's own steps over the range that the reading can have. A size of inches or tens of millimetres has too many
values for one list; it gets those around the expected one, in full digits.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from assistant.core.axle import CHANNELS, GAUGE_UNITS, LARGE_QUANTITIES, PLAY
from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity, unit_named
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH
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


def units_of(quantity: str) -> tuple[str, ...]:
    """The units that `quantity` can be spoken in. Raises BadInputError for a quantity that is no number here."""
    if quantity in LARGE_QUANTITIES:
        return tuple(_WINDOW_STEPS)
    if quantity not in _RANGES:
        raise BadInputError(f"{quantity!r} is no spoken reading: expected one of {', '.join(sorted({*_RANGES, *LARGE_QUANTITIES}))}")
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
    if quantity in LARGE_QUANTITIES:
        return () if around is None else tuple(_window(symbol, Decimal(_WINDOW_STEPS[symbol]), around, spread))
    low, high, step = (Decimal(text) for text in _RANGES[quantity][symbol])
    usual = list(_stepped(low, high, step, symbol))
    if around is None or usual[0] <= around <= usual[-1]:
        return tuple(usual)
    return tuple(sorted({*usual, *_window(symbol, step, around, spread)}))


def heard_values(quantity: str, unit: str, around: Quantity | None = None, spread: Quantity | None = None) -> tuple[Quantity, ...]:
    """The values of `value_set`, and of the gears' play none at all: that is never a reading, and opens a jammed mesh (`core.jammed`)."""
    values = value_set(quantity, unit, around, spread)
    return (Quantity(Decimal(0), values[0].unit), *values) if quantity in PLAY else values


def spoken_forms(value: Quantity, quantity: str | None = None, tongue: Tongue = ENGLISH) -> tuple[tuple[str, str], ...]:
    """All ways to say `value` that are listened for, as (form, words), usual speech first.

    quantity: what it is a reading of; the torque of a nut or cap may be spelt in newton metres, where a drag may not.
    """
    return tuple(tongue.spoken_forms(value, quantity))


def phrases(expected: Expectation, values: Sequence[Quantity] | None = None) -> tuple[tuple[str, Meaning], ...]:
    """Everything that can be heard where `expected` is due, each phrase once, as (words, meaning).

    values: the values that can be heard; left out, those of `heard_values`. At a confirm there are exactly its own words.
    """
    heard: dict[str, Meaning] = {}
    if expected.unit is not None:
        name = expected.quantity or ""
        listed = heard_values(name, expected.unit) if values is None else values
        for value in listed:
            for form, words in _forms(value, expected):
                if len(listed) <= _MANY or expected.tongue.is_taught(form, words):
                    heard.setdefault(words, Value(value, words, form))
    for choice, said in expected.said_choices:
        heard.setdefault(" ".join(plain_words(said, expected.tongue)), Choice(choice))
    for words, command in _commands(expected):
        heard.setdefault(words, command)
    return tuple(heard.items())


def _forms(value: Quantity, expected: Expectation) -> Iterator[tuple[str, str]]:
    """All ways to say a value here; no play at all is said as "zero", or as the dial shows it."""
    forms = expected.tongue.spoken_forms(value, expected.quantity)
    if value.value or expected.quantity not in PLAY:
        return forms
    return iter((("count", expected.tongue.ones[0]), *(each for each in forms if each[0] in ("thou", "point_mm"))))


def vocabulary(tongue: Tongue = ENGLISH) -> frozenset[str]:
    """Every word that any grammar can hold, apart from the names of steps, choices and an alarm's causes, which come with the job."""
    spoken = [*tongue.reading_words(), tongue.go_back_to, *(words for words, _ in _unit_changes(tongue))]
    spoken += [words for names in (*tongue.commands.values(), *tongue.quantity_names.values()) for words in names]
    return frozenset(word for words in spoken for word in tongue.folded(words).split())


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
    tongue = expected.tongue
    for name in expected.commands:
        for spoken in tongue.commands[name]:
            if name not in ("correct", "change unit") and not ("yes" in expected.commands and spoken in tongue.not_heard_at_confirm):
                yield tongue.folded(spoken), Command(name)
    if "correct" in expected.commands:
        for quantity, names in tongue.quantity_names.items():
            for spoken in names:
                yield tongue.folded(f"{tongue.commands['correct'][0]} {spoken}"), Command("correct", quantity)
    if "change unit" in expected.commands:
        yield from _unit_changes(tongue)
    if "go back" in expected.commands:
        for step, said in expected.said_steps:
            yield f"{tongue.go_back_to} {' '.join(plain_words(said, tongue))}", Command("go back", step)


def _unit_changes(tongue: Tongue) -> Iterator[tuple[str, Command]]:
    """A gauge that was switched: by its kind of unit alone, or by its name as well."""
    plain, named = tongue.unit_changes_said
    for unit in GAUGE_UNITS:
        said = tongue.folded(tongue.units_said[unit][1])
        yield plain.format(unit=said), Command("change unit", unit)
        for channel, dimension in CHANNELS.items():
            if unit_named(unit).dimension is dimension:
                gauge = tongue.folded(tongue.gauges[channel])
                yield named.format(gauge=gauge, unit=said), Command("change unit", unit, channel)
