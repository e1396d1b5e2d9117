"""Hypothesis strategies: quantities, kits, whole job tables, and what may come in at any moment, sensible or not."""

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from assistant.core.axle import PATTERN_CHOICES
from assistant.core.english import COMMANDS, ONE_OF_TWO
from assistant.core.inputs import Bad, Input, Pedal, Quit, Said, Start, Taken, Unheard
from assistant.core.quantities import UNITS, Quantity

LENGTH_UNITS = ("in", "mm", "0.001 in", "0.01 mm", "0.001 mm", "um")
TORQUE_UNITS = ("lb-in", "lb-ft", "N·m", "cN·m", "kgf·cm", "ozf·in")


def decimals(places: int = 5, most: int = 10**7) -> st.SearchStrategy[Decimal]:
    """Plain decimals, with the digits they were written with (0.0060 stays 0.0060)."""
    return st.builds(lambda whole, down: Decimal(whole).scaleb(-down), st.integers(-most, most), st.integers(0, places))


def quantities(units: tuple[str, ...] = tuple(UNITS)) -> st.SearchStrategy[Quantity]:
    """Any size in any of `units`."""
    return st.builds(Quantity, decimals(), st.sampled_from(units))


def lengths() -> st.SearchStrategy[Quantity]:
    """A length in any unit."""
    return quantities(LENGTH_UNITS)


def torques() -> st.SearchStrategy[Quantity]:
    """A torque in any unit."""
    return quantities(TORQUE_UNITS)


def shims(unit: str = "in") -> st.SearchStrategy[dict[str, Any]]:
    """One row of a kit, as the job file has it: 0.0010 to 0.0600 in, or 0.02 to 1.50 mm."""
    if unit == "in":
        return st.builds(lambda size, count: {"thickness": f"{size / 10000:.4f}", "count": count}, st.integers(10, 600), st.integers(0, 9))
    return st.builds(lambda size, count: {"thickness": f"{size / 100:.2f}", "count": count}, st.integers(2, 150), st.integers(0, 9))


def kits(unit: str = "in") -> st.SearchStrategy[list[dict[str, Any]]]:
    """A kit of up to five sizes; it may be empty."""
    return st.lists(shims(unit), max_size=5)


@st.composite
def job_tables(draw: st.DrawFn) -> dict[str, Any]:
    """The table of a valid job file for a cartridge axle with a solid spacer and threaded adjusters; limits and marks may be left out."""
    unit = draw(st.sampled_from(("in", "mm")))
    pinion_teeth = draw(st.integers(6, 15))
    scale = 10000 if unit == "in" else 1000

    def size(whole: int) -> str:
        return f"{whole / scale:.{4 if unit == 'in' else 3}f}"

    low = draw(st.integers(20, 150))
    high = low + draw(st.integers(10, 80))
    drag = draw(st.integers(5, 25))
    spec: dict[str, Any] = {
        "pinion_drag": {"low": str(drag), "high": str(drag + draw(st.integers(3, 20))), "unit": "lb-in", "seal": "out"},
        "pinion_depth": {"target": size(26000), "tolerance": size(draw(st.integers(5, 40))), "unit": unit},
        "backlash": {
            "low": size(low), "high": size(high), "variation": size(draw(st.integers(5, 60))), "unit": unit,
            "judge": draw(st.sampled_from(("all", "minimum", "mean"))),
        },
        "total_drag": {"low": str(drag), "high": str(drag + 40), "unit": "lb-in"},
        "ring_runout": {"high": size(draw(st.integers(10, 80))), "unit": unit},
        "nut_torque": {"low": "160", "high": "200", "unit": "lb-ft"},
        "cap_torque": {"value": "75", "unit": "lb-ft"},
        "carrier_preload": {"value": draw(st.sampled_from(("1", "2", "3"))), "unit": "notch"},
        "backlash_spots": draw(st.integers(3, 8)),
    }  # fmt: skip
    left_out = draw(st.sets(st.sampled_from(sorted(spec)), max_size=3))
    mark = {"value": draw(st.sampled_from(("+2", "-3", "0"))), "unit": "0.001 in" if unit == "in" else "0.01 mm"}
    parts = {"etch_new": mark, "etch_sign": draw(st.sampled_from(("away", "toward"))), "etch_old": {**mark, "value": "+1"}}
    parts_left_out = draw(st.sets(st.sampled_from(sorted(parts)), max_size=3))
    return {
        "title": draw(st.text(max_size=12)),
        "units": unit,
        "axle": {
            "pinion_shims": "flange", "preload": "spacer-shims", "carrier": "adjusters",
            "ring_gear_side": draw(st.sampled_from(("left", "right"))),
            "teeth": draw(st.sampled_from(("face-milled", "face-hobbed", "unknown"))),
            "ring_teeth": pinion_teeth * 3 + 1, "pinion_teeth": pinion_teeth,
        },
        "spec": {name: table for name, table in spec.items() if name not in left_out},
        "parts": {
            **{name: value for name, value in parts.items() if name not in parts_left_out},
            "shim_kit": draw(kits(unit)), "preload_kit": draw(kits(unit)),
        },
    }  # fmt: skip


# ---- inputs

_NUMBERS = (
    "six and a half thou", "point zero zero eight two", "eighteen inch pounds", "two point one newton metres", "one eight zero foot pounds",
    "plus two", "minus three", "three", "zero point one four millimetres", "twelve thousandths", "zero", "fifteen", "fifty", "one eighty",
    "six, no, seven thou", "6,5", "0.0065", "-0.0065 in", "180 lb-ft", "22 lb-in", "1.6250 in", "a hundredth",
)  # fmt: skip
WORDS = (
    *(phrase for phrases in COMMANDS.values() for phrase in phrases), *PATTERN_CHOICES, *ONE_OF_TWO, *_NUMBERS, "nothing found", "measure again",
    "go back to preload drag", "go back to intake manual", "correct backlash", "correct pinion drag", "correct cap torque", "skip", "marked",
    "away", "toward", "still together", "apart with its old shims", "correct",
)  # fmt: skip
CHANNELS = ("dial", "torque", "caliper", "micrometer", "depth")


def near_sizes() -> st.SearchStrategy[Quantity]:
    """Sizes that this trade meets, right and wrong by a slip of ten or of the unit."""
    usual = ("0.0065 in", "0.065 in", "0.0082 in", "0.21 mm", "0.0082 mm", "22 lb-in", "2.4 N·m", "180 lb-ft", "75 lb-ft", "0.0020 in",
             "0.0050 in", "1.6250 in", "3.2500 in", "2.6232 in", "66.63 mm", "0 in", "-0.0010 in", "30 lb-in", "0.0305 in")  # fmt: skip
    return st.sampled_from([Quantity.parse(text) for text in usual])


def inputs() -> st.SearchStrategy[Input]:
    """Anything that may come in, at any moment."""
    sizes = st.one_of(near_sizes(), quantities())
    texts = st.one_of(
        st.sampled_from(WORDS),
        st.builds(lambda size: f"{size.text} {size.unit}", sizes),
        st.lists(st.sampled_from(WORDS), min_size=2, max_size=3).map(" ".join),
        st.text(max_size=30),
    )
    return st.one_of(
        st.builds(Said, texts),
        st.builds(
            Said, texts, st.just("spoken"), st.floats(0.9, 1.0), st.floats(-2.0, 0.0), st.booleans(),
        ),
        st.builds(Taken, st.sampled_from(CHANNELS), sizes, st.just("gauge 1"), st.just("0d0a")),
        st.just(Pedal()),
        st.just(Unheard(("six thou",), "close")),
        st.builds(Unheard, st.lists(st.sampled_from(WORDS), max_size=3).map(tuple), st.just("close"), st.floats(0.0, 1.0), st.floats(-2.0, 0.0),
                  st.booleans()),
        st.builds(Bad, st.text(min_size=1, max_size=20)),
        st.just(Start()),
        st.just(Quit()),
    )  # fmt: skip
