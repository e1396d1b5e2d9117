"""A ring gear and pinion on a bench that does not exist: honest physics, an instrument's noise, and mistakes on order.

Two house rules. Nothing of the assistant is known here but its exact quantities, so that what it is tested against is not itself.
Inside, sizes are floats in millimetres and newton-metres (nature has no decimals); what an instrument shows is a `Quantity`, to the
instrument's own step.

Signs: a mounting distance grows away from the ring gear's centre line; a ring move is positive away from the pinion.
Beside each constant stands its source, or "assumed". Sources are workshop manuals named by maker and unit; the same names are used in
docs/trade.md.
"""

import hashlib
import math
import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise, product
from operator import mul
from typing import Literal

from assistant.core.quantities import Quantity, unit_named

INCH = 25.4  # mm, exactly (NIST SP 811)
POUND_INCH = 0.1129848290276167  # N·m, exactly (NIST SP 811)
THOU = INCH / 1000

Side = Literal["ring_side", "opposite"]
PINION_LAYOUTS = ("flange", "head-cone", "head-cup")
PRELOAD_LAYOUTS = ("spacer-shims", "crush-sleeve")
CARRIER_LAYOUTS = ("adjusters", "side-shims", "case-shims")

# Uncertainty of one reading, about 95 % (common practice, no source), and the step that the instrument is read to.
# unit → (step, 95 % uncertainty); a kind of instrument for each kind of quantity.
_DIAL = {"in": ("0.0005", 0.0005), "mm": ("0.01", 0.01)}
_MICROMETER = {"in": ("0.0001", 0.00015), "mm": ("0.001", 0.004)}
_DEPTH_GAUGE = {"in": ("0.0005", 0.0007), "mm": ("0.01", 0.015)}
_BORE_GAUGE = {"in": ("0.0005", 0.0005), "mm": ("0.01", 0.012)}
_BEAM_WRENCH = {"lb-in": ("1", 1.0), "N·m": ("0.1", 0.11)}
_CLICK_WRENCH = {"lb-ft": ("1", 2.0), "N·m": ("1", 3.0), "lb-in": ("1", 20.0)}
_WIDE_MICROMETER = {"in": ("0.0005", 0.0007), "mm": ("0.01", 0.018)}
INSTRUMENTS: dict[str, Mapping[str, tuple[str, float]]] = {
    "backlash": _DIAL, "baseline_backlash": _DIAL, "ring_runout": _DIAL,
    "shim_thickness": _MICROMETER, "stack_thickness": _MICROMETER, "old_stack_thickness": _MICROMETER,
    "pinion_depth": _DEPTH_GAUGE, "plane_to_bore": _DEPTH_GAUGE, "bore_diameter": _BORE_GAUGE, "spread": _WIDE_MICROMETER,
    "pinion_drag": _BEAM_WRENCH, "seal_drag": _BEAM_WRENCH, "carrier_drag": _BEAM_WRENCH, "total_drag": _BEAM_WRENCH,
    "baseline_total_drag": _BEAM_WRENCH, "nut_torque": _CLICK_WRENCH, "cap_torque": _CLICK_WRENCH,
}  # fmt: skip
ETCHES = ("etch_old", "etch_new")
CHANNELS = {  # the gauge that gives each quantity when it is not spoken
    "backlash": "dial", "baseline_backlash": "dial", "ring_runout": "dial", "spread": "caliper",
    "shim_thickness": "micrometer", "stack_thickness": "micrometer", "old_stack_thickness": "micrometer",
    "pinion_depth": "depth", "plane_to_bore": "depth", "bore_diameter": "caliper",
    "pinion_drag": "torque", "seal_drag": "torque", "carrier_drag": "torque", "total_drag": "torque",
    "baseline_total_drag": "torque", "nut_torque": "torque", "cap_torque": "torque",
}  # fmt: skip

# Kits: marked thickness and how many. Dana packs come in .003/.005/.010/.030 (Ford E150 1982); metric ones in .10/.15/.20/.50 (Meritor 17X).
# The in-between sizes make every .001 in (preload .0005 in; 0.02 mm) reachable, and are assumed.
KITS: dict[str, dict[str, tuple[tuple[str, int], ...]]] = {
    "in": {
        "shim_kit": (("0.0030", 4), ("0.0050", 4), ("0.0100", 3), ("0.0300", 1)),
        "preload_kit": (("0.0030", 3), ("0.0035", 1), ("0.0040", 2), ("0.0050", 3), ("0.0100", 2)),
        "side_kit": (("0.0020", 4), ("0.0030", 4), ("0.0050", 4), ("0.0100", 6), ("0.0200", 4), ("0.0500", 4)),
    },
    "mm": {
        "shim_kit": (("0.10", 3), ("0.12", 2), ("0.15", 3), ("0.20", 2), ("0.50", 2)),
        "preload_kit": (("0.05", 3), ("0.06", 2), ("0.08", 2), ("0.10", 3), ("0.20", 2)),
        "side_kit": (("0.05", 4), ("0.08", 4), ("0.10", 4), ("0.20", 6), ("0.50", 4), ("1.00", 2)),
    },
}
KIT_OF = {"pinion_shims": "shim_kit", "preload_shims": "preload_kit", "ring_side_shims": "side_kit", "opposite_shims": "side_kit"}
_SHIM_TOLERANCE_MM = 0.003  # one standard deviation; Porsche allows 0.02 mm within one shim (911/996), the makers hold less: assumed


@dataclass(frozen=True)
class Build:
    """What kind of axle it is: all that may be known from its label and its manual."""

    pinion_shims: str = "flange"
    preload: str = "spacer-shims"
    carrier: str = "adjusters"
    units: str = "in"
    teeth: str = "face-milled"
    ring_gear_side: str = "left"
    ring_teeth: int = 41
    pinion_teeth: int = 11
    etch_sign: str = "away"
    spots: int = 4
    judge: str = "all"

    def __post_init__(self) -> None:
        for name, value, allowed in (
            ("pinion_shims", self.pinion_shims, PINION_LAYOUTS), ("preload", self.preload, PRELOAD_LAYOUTS),
            ("carrier", self.carrier, CARRIER_LAYOUTS), ("units", self.units, ("in", "mm")),
            ("teeth", self.teeth, ("face-milled", "face-hobbed", "unknown")), ("etch_sign", self.etch_sign, ("away", "toward")),
        ):  # fmt: skip
            if value not in allowed:
                raise ValueError(f"{name} is {value!r}: expected one of {', '.join(allowed)}")

    @property
    def lay(self) -> int:
        """+1 when a thicker pinion shim pushes the pinion away from the ring gear's centre line, else -1.

        Cartridge flange +1 (Doosan D120 p. 26); under the head cone -1 (Infiniti M35); behind the head cup -1 (Meritor MM-15103).
        """
        return 1 if self.pinion_shims == "flange" else -1

    @property
    def toward(self) -> int:
        """+1 when a plus etch wants a longer mounting distance (Dana/Spicer, Isuzu), -1 when a shorter one (TM 9-2320-289-34)."""
        return 1 if self.etch_sign == "away" else -1

    @property
    def ratio(self) -> float:
        """Ring teeth to pinion teeth."""
        return self.ring_teeth / self.pinion_teeth


@dataclass(frozen=True)
class Constants:
    """What is assumed about axles and instruments in general, so that figures can be taken on others than those that thresholds were set on.

    Pairs are the ends of a range that is drawn from evenly; thou: .001 in. Sources, where there are any, stand where a figure is used.
    """

    tooth_form: float = 0.05  # relative spread of backlash per ring move about the formula
    depth_miss_thou: float = 1.5  # how far the old depth pack misses, one spread
    preload_miss_thou: float = 1.8  # the same of the old preload pack, which ends at -3 and +4
    drag_rise: tuple[float, float] = (0.6, 1.05)  # N·m for the first 0.025 mm of squeeze
    drag_bend: tuple[float, float] = (0.1, 0.5)
    drag_free: tuple[float, float] = (0.08, 0.22)
    notch_lead_thou: tuple[float, float] = (2.0, 3.3)
    carrier_rate: tuple[float, float] = (6.0, 10.0)
    wobble_thou: tuple[float, float] = (0.6, 1.8)
    second_wave_thou: tuple[float, float] = (0.0, 0.2)
    cap_shift_thou: tuple[float, float] = (2.5, 4.5)
    sleeve_play: tuple[float, float] = (35, 110)
    burr_thou: tuple[float, float] = (2.5, 4.5)
    stand_off_thou: float = 5.5  # a bearing that is not home holds the pinion off by this much
    loose_nut_thou: float = 3.5  # by this much the cones have not come together
    breakaway: float = 1.35  # starting to steady drag
    noise: float = 1.0  # times each instrument's error
    eye: float = 0.16  # share of the 95 % uncertainty that differs from look to look; the rest of a spread stays with the set-up


@dataclass(frozen=True)
class Truth:
    """The hidden sizes of one axle. Millimetres, newton-metres, degrees of the ring; see each line."""

    nominal_distance: float  # mounting distance of an unmarked pinion, as the manual prints it
    wanted_distance: float  # the same for the new pinion: nominal with its etch
    base_distance: float  # mounting distance with no pinion shim
    bore_diameter: float  # of the side bearing bore
    centre_offset: float  # how far the bore's centre lies on the housing side of the parting plane
    contact: float  # preload pack (head-cup: less the depth pack) at which the rollers just touch
    drag_free: float  # turning drag of the pinion without preload
    drag_rate: float  # N·m per mm of interference, at its start
    drag_bend: float  # share by which that rate has grown at 0.05 mm
    seal_drag: float
    sleeve_play: float  # degrees of nut from snug to where the preload begins
    sleeve_lead: float  # mm of nut travel a degree
    sleeve_torque: float  # N·m on the nut while the sleeve yields
    k_ring: float  # backlash per mm of ring move
    k_pinion: float  # backlash per mm of mounting distance
    ring_base: float  # side shims: ring position (from zero backlash) with packs of equal thickness; adjusters: at the first setting
    carrier_zero: float  # side shims: total at which play just ends; adjusters: interference at the first setting, below zero is play
    notch_lead: float  # ring movement a notch when the other side is backed off as much
    carrier_free: float
    carrier_rate: float  # N·m per mm of total interference
    wobble: float  # total indicated runout of the ring's back face
    wobble_at: float  # degrees of the largest backlash
    second_wave: float  # amplitude of a wave twice a turn
    cap_shift: float  # backlash that loose caps add
    cap_spread_share: float  # cap spread as a share of the carrier's interference
    old_backlash: float
    old_total_drag: float
    light_drag: float  # what a trial nut is set to on a bench without a sleeve


@dataclass(frozen=True)
class Mistake:
    """One way to go wrong.

    kind: `hands` spoil the assembly until put right, `reading` spoils what is said once, `position` the readings of one round.
    words: any of these groups, all of its words found in an alarm's cause or check, means this mistake.
    reveals: what an honest second look shows. lesson: what a learner should have noticed.
    """

    name: str
    kind: Literal["hands", "reading", "position"]
    occasions: tuple[str, ...]
    words: tuple[tuple[str, ...], ...]
    reveals: str
    lesson: str


def _mistake(name: str, kind: Literal["hands", "reading", "position"], occasions: str, words: str, reveals: str, lesson: str) -> Mistake:
    groups = tuple(tuple(group.split()) for group in words.split("|"))
    return Mistake(name, kind, tuple(occasions.split()), groups, reveals, lesson)


_DRAGS = "read:pinion_drag read:carrier_drag read:total_drag"
_LENGTHS = "read:backlash read:pinion_depth read:ring_runout read:stack_thickness"
MISTAKES: dict[str, Mistake] = {
    each.name: each
    for each in (
        _mistake("not-seated", "hands", "fit:preload_shims fit:pinion_shims press:any", "seat|not home|bottom",
                 "a 0.0015 in feeler goes in behind the bearing", "the drag or the depth did not answer to the shim"),
        _mistake("nut-not-torqued", "hands", "torque:nut", "nut torque|nut tight|nut not",
                 "the wrench turns the nut before it reaches its torque", "the drag was far too low for the pack"),
        _mistake("caps-loose", "hands", "torque:caps", "cap loose|cap torque|cap bolt|caps",
                 "the wrench turns a cap bolt before it reaches its torque", "the backlash moved with nothing changed"),
        _mistake("shim-left-out", "hands", "fit:pinion_shims fit:preload_shims fit:ring_side_shims fit:opposite_shims",
                 "shim left out|shim missing|shim out|one shim few|missing|few",
                 "one shim of the pack lies on the bench", "the answer was off by the size of one shim"),
        _mistake("shim-doubled", "hands", "fit:pinion_shims fit:preload_shims fit:ring_side_shims fit:opposite_shims",
                 "double|one shim too many|one shim many|stuck together|extra shim|too many",
                 "two shims stuck together by oil: the pack is one too thick", "the answer was off by the size of one shim"),
        _mistake("burr", "hands", "fit:pinion_shims fit:preload_shims fit:ring_side_shims fit:opposite_shims", "burr|dirt|chip",
                 "a burr stands on the edge of a shim", "the answer was off by less than any shim"),
        _mistake("wrong-side", "hands", "fit:ring_side_shims turn:ring_side_adjuster",
                 "wrong side|sides swapped|swapped side|wrong way|side swap|sides|way round",
                 "what belongs on the ring side went to the other side", "the backlash moved the wrong way"),
        _mistake("one-side-only", "hands", "turn:opposite_adjuster turn:ring_side_adjuster", "one side|only one|one adjuster|not turned",
                 "one adjuster still stands at its old mark", "the backlash moved half as far, the preload changed"),
        _mistake("decimal-slip", "reading", f"{_LENGTHS} {_DRAGS}", "decimal|factor 10|ten times|tenth",
                 "the point was one place off", "ten times the prediction"),
        _mistake("inch-millimetre", "reading", _LENGTHS, "inch millimetre|inches millimetres|mm inch|unit|25.4",
                 "the gauge stood in the other unit", "25.4 times the prediction"),
        _mistake("wrench-unit", "reading", _DRAGS, "newton|N·m|lb-in|pound|unit",
                 "the other scale of the wrench was read", "8.85 times the prediction"),
        _mistake("digits-swapped", "reading", f"{_LENGTHS} {_DRAGS}", "transpos|digits|swapped digits|two figures|misread",
                 "two figures changed places", "the right figures in the wrong order"),
        _mistake("stuck-gauge", "reading", "read:pinion_drag read:pinion_depth read:backlash read:carrier_drag",
                 "stuck|repeat|same reading|echo|old reading|stale",
                 "the pointer had not moved: the old reading was read again", "the same to the last digit after something was moved"),
        _mistake("breakaway", "reading", _DRAGS, "breakaway|starting|break away",
                 "the first peak was read, not the steady turning", "a third too high, with nothing else to explain it"),
        _mistake("one-place", "position", "read:backlash", "one place|same place|same spot|same tooth|not turned",
                 "the chalk mark is still at the same tooth", "no variation at all where the runout demands some"),
        _mistake("etch-sign", "reading", "read:etch_new read:etch_old", "sign|plus minus|etch",
                 "there is a minus before the figure", "the depth is off by twice the etch"),
        _mistake("at-the-yoke", "reading", "read:backlash", "yoke|plunger|flange|square",
                 "the plunger stood on the yoke", "nearly twice the prediction"),
        _mistake("seal-in", "reading", "read:pinion_drag", "seal", "the seal was in", "a seal's drag too much"),
        _mistake("dry-bearing", "reading", "read:pinion_drag", "dry|oil|lubric", "the bearing had been washed and not oiled",
                 "twice the prediction (Mitsubishi Pajero Pinin 26-39 prints a factor of two)"),
        _mistake("dial-wrapped", "reading", "read:pinion_depth", "turn|wrap|revolution|0.100|dial",
                 "the small hand had passed one turn", "off by one turn of the dial"),
    )
}  # fmt: skip


@dataclass
class Fault:
    """A mistake that happens once: at the `nth` time (from 1) that `at` comes round ("read:backlash", "fit:pinion_shims", "torque:nut")."""

    name: str
    at: str
    nth: int = 1
    state: Literal["waiting", "active", "past"] = "waiting"
    happened_as: str = ""

    def __post_init__(self) -> None:
        if self.name not in MISTAKES:
            raise ValueError(f"no mistake is called {self.name!r}: expected one of {', '.join(MISTAKES)}")
        if self.at not in MISTAKES[self.name].occasions:
            raise ValueError(f"{self.name} cannot happen at {self.at}: expected one of {', '.join(MISTAKES[self.name].occasions)}")

    @classmethod
    def parse(cls, text: str) -> "Fault":
        """From "decimal-slip", "decimal-slip@read:backlash" or "decimal-slip@read:backlash#2". Raises ValueError."""
        name, _, rest = text.strip().partition("@")
        at, _, nth = rest.partition("#")
        if name not in MISTAKES:
            raise ValueError(f"no mistake is called {name!r}: expected one of {', '.join(MISTAKES)}")
        if nth and not nth.isdecimal():
            raise ValueError(f"{text!r}: after # a whole number is expected")
        return cls(name, at or MISTAKES[name].occasions[0], int(nth or 1))

    @property
    def text(self) -> str:
        """As `parse` takes it."""
        return f"{self.name}@{self.at}#{self.nth}"

    @property
    def mistake(self) -> Mistake:
        """Its row of MISTAKES."""
        return MISTAKES[self.name]


@dataclass(frozen=True)
class Shim:
    """One shim: what is marked on it, and how thick it is (mm)."""

    marked: Quantity
    actual: float


@dataclass(frozen=True)
class Shown:
    """What was read: `said`, and what an honest reading would have been; the fault in between, if any."""

    said: Quantity
    honest: Quantity
    fault: Fault | None = None


@dataclass
class Assembly:
    """What is together at this moment. `version` counts each change, so that a set-up keeps its own small error."""

    version: int = 0
    stripped: bool = False
    packs: dict[str, list[Shim]] = field(default_factory=dict)
    notches: dict[Side, float] = field(default_factory=lambda: {"ring_side": 0.0, "opposite": 0.0})
    nut: Literal["off", "light", "torqued"] = "off"
    nut_degrees: float = 0.0
    sleeve: bool = False
    sleeve_worst: float = 0.0  # the farthest this sleeve was ever crushed, degrees
    caps: Literal["off", "snug", "torqued"] = "off"
    seal: bool = False


class VirtualAxle:
    """An axle, its kit, its manual and its instruments.

    build, seed: the same two give the same axle and, asked the same things, the same readings.
    faults: mistakes to come, each once. constants: what all axles and instruments of this kind have in common.
    """

    def __init__(self, build: Build, seed: int, faults: Iterable[Fault] = (), constants: Constants = Constants()) -> None:
        self.build = build
        self.constants = constants
        self.seed = seed
        self.faults = [replace(fault) for fault in faults]
        self._dice = random.Random(f"{seed} {build}")
        self._counts: dict[str, int] = {}
        self._last_shown: dict[str, Quantity] = {}
        self._one_place: float | None = None
        self._burrs: dict[str, float] = {}
        self._undo_by: dict[str, float] = {}  # mistake → notches by which an adjuster stands wrong
        self._stray: dict[str, Shim] = {}  # mistake → the shim that lies where it should not
        self.bin: dict[str, list[Shim]] = {}
        self.state = Assembly()
        self.etch_old, self.etch_new = (self._dice.randint(-4, 4) if build.units == "in" else self._dice.randint(-9, 9) for _ in range(2))
        self._fill_the_bins()
        self.truth, self.old_packs = self._made()
        self.spec = self._manual()
        for part, pack in self.old_packs.items():
            self.state.packs[part] = self._taken_out(part, [shim.marked for shim in pack])

    # ------------------------------------------------------------------ making one

    def _fill_the_bins(self) -> None:
        unit = self.build.units
        for kit, sizes in KITS[unit].items():
            if (kit == "preload_kit" and self.build.preload != "spacer-shims") or (kit == "side_kit" and self.build.carrier == "adjusters"):
                continue
            self.bin[kit] = [
                Shim(Quantity.of(marked, unit), _mm(Quantity.of(marked, unit)) + self._dice.gauss(0, _SHIM_TOLERANCE_MM))
                for marked, count in sizes
                for _ in range(count)
            ]

    def _made(self) -> tuple[Truth, dict[str, list[Shim]]]:
        """Draw the hidden sizes; and the packs that were in the axle when it came."""
        dice, build, constants = self._dice, self.build, self.constants
        # Normal pressure angles 19 to 22.5 degrees, ring spiral angles up to 35: usual bevel practice (memory). The last factor, for tooth
        # form and offset, is assumed; what comes out spans the printed 0.6 (GM) to 1.0 (Lexus LS460) backlash per ring move.
        k_ring = ring_sensitivity(dice.uniform(19, 22.5), dice.uniform(0, 33), build.ratio) * math.exp(dice.gauss(0, constants.tooth_form))
        scale = 1.0 if build.units == "in" else 0.9
        etch_mm = {"in": THOU, "mm": 0.01}[build.units]
        nominal = round(dice.uniform(2.2, 3.8) * 200) / 200 * INCH if build.units == "in" else float(dice.randrange(5500, 9600, 5)) / 100
        wanted = nominal + build.toward * etch_mm * self.etch_new
        pack_ideal = dice.uniform(0.026, 0.046) * INCH
        # The old pack suited the old pinion; new bearings are not as wide as the old ones, and the last builder rounded: assumed.
        pack_old = (
            pack_ideal
            - build.lay * build.toward * etch_mm * (self.etch_new - self.etch_old)
            + dice.gauss(0, constants.depth_miss_thou * THOU)
        )
        old_packs = {"pinion_shims": self._pack_near("pinion_shims", pack_old)}

        # About 1 N·m for 0.025 mm of squeeze (Land Rover Discovery II); how it spreads and bends is assumed.
        drag_rate, drag_bend = dice.uniform(*constants.drag_rise) / 0.025, dice.uniform(*constants.drag_bend)
        window = self._drag_window()
        drag_free = dice.uniform(*constants.drag_free)
        squeeze = _squeeze_for((window[0] + window[1]) / 2 - drag_free, drag_rate, drag_bend)
        preload_ideal = dice.uniform(0.019, 0.029) * INCH
        if build.preload == "spacer-shims":
            # The old bearings' pack misses the new ones' by a few thou; more than three would lock the pinion: assumed.
            missed = max(-3.0, min(4.0, dice.gauss(0, constants.preload_miss_thou))) * THOU
            # Behind the head cup the two packs were right together: a thicker old depth pack went with a thicker old preload pack.
            follows = pack_old - pack_ideal if build.pinion_shims == "head-cup" else 0.0
            old_packs["preload_shims"] = self._pack_near("preload_shims", preload_ideal + missed + follows)
        contact = preload_ideal + squeeze - (pack_ideal if build.pinion_shims == "head-cup" else 0.0)

        lead = dice.uniform(*constants.notch_lead_thou) * THOU  # a notch moves the lash about .003 in (Spicer single, GM Astro)
        backlash_low, backlash_high = self._backlash_window()
        ring_ideal = (backlash_low + backlash_high) / 2 / k_ring
        if build.carrier == "adjusters":
            # The first setting: play just gone, give or take a third of a notch; the lash wherever it fell.
            ring_base, carrier_zero = dice.uniform(0.3, 2.4) * ring_ideal, dice.uniform(-0.4, 0.3) * lead
        else:
            ring_base, carrier_zero, old_sides = self._side_packs(dice, ring_ideal)
            old_packs |= old_sides
        wobble = dice.uniform(*constants.wobble_thou) * THOU * scale  # manuals allow .002 (HMMWV) to .010 in; a good case has less: assumed
        return Truth(
            nominal_distance=nominal, wanted_distance=wanted, base_distance=wanted - build.lay * pack_ideal,
            bore_diameter=dice.uniform(2.8, 3.6) * INCH, centre_offset=dice.gauss(0, 0.006) * INCH,
            contact=contact, drag_free=drag_free, drag_rate=drag_rate, drag_bend=drag_bend,
            seal_drag=dice.uniform(0.12, 0.28),  # a new pinion seal adds 0.2 N·m (BMW E36)
            sleeve_play=dice.uniform(*constants.sleeve_play), sleeve_lead=1.5 / 360,  # a 1.5 mm thread: usual, assumed
            sleeve_torque=dice.uniform(*_inner(*self._nut_window())),
            k_ring=k_ring, k_pinion=k_ring / build.ratio, ring_base=ring_base, carrier_zero=carrier_zero, notch_lead=lead,
            carrier_free=dice.uniform(0.15, 0.35),
            carrier_rate=dice.uniform(*constants.carrier_rate),  # .008 in of side preload is some 14 lb-in at the case: assumed
            wobble=wobble, wobble_at=dice.uniform(0, 360), second_wave=dice.uniform(*constants.second_wave_thou) * THOU,
            cap_shift=dice.choice((-1, 1)) * dice.uniform(*constants.cap_shift_thou) * THOU,
            cap_spread_share=dice.uniform(0.6, 0.85),
            old_backlash=dice.uniform(0.009, 0.015) * INCH, old_total_drag=dice.uniform(1.0, 2.2),
            light_drag=dice.uniform(window[0] + 0.25 * (window[1] - window[0]), window[1] - 0.25 * (window[1] - window[0])),
        ), old_packs  # fmt: skip

    def _side_packs(self, dice: random.Random, ring_ideal: float) -> tuple[float, float, dict[str, list[Shim]]]:
        """Ring position with equal packs, the total of no play, and the packs that came out: right for the old gears, not for the new."""
        ring_pack, opposite_pack = (dice.uniform(0.078, 0.105) * INCH * (1.0 if self.build.units == "in" else 0.9) for _ in range(2))
        old_ring = self._pack_near("ring_side_shims", ring_pack)
        left = list(self.bin["side_kit"])
        for shim in old_ring:
            left.remove(shim)
        old_opposite = self._pack_near("opposite_shims", opposite_pack, left)
        ring_mm, opposite_mm = (sum(shim.actual for shim in pack) for pack in (old_ring, old_opposite))
        start = dice.uniform(0.6, 2.2) * ring_ideal  # where the new gear set stands with the old packs
        base = start - (opposite_mm - ring_mm) / 2
        # Side preload .008 in in all is printed by Dodge Durango 2000; new bearings shift it by a few thou: assumed.
        zero = ring_mm + opposite_mm - dice.uniform(0.002, 0.010) * INCH
        return base, zero, {"ring_side_shims": old_ring, "opposite_shims": old_opposite}

    def _pack_near(self, part: str, wanted_mm: float, available: Sequence[Shim] | None = None) -> list[Shim]:
        """The pack from the bin whose marked sum lies nearest to `wanted_mm`; of equal ones that with the fewest shims."""
        stock = list(available if available is not None else self.bin[KIT_OF[part]])
        sizes = sorted({shim.marked for shim in stock})
        counts = [[shim.marked for shim in stock].count(size) for size in sizes]
        marked_mm = [_mm(size) for size in sizes]
        best = min(
            product(*(range(count + 1) for count in counts)),
            key=lambda chosen: (round(abs(sum(map(mul, chosen, marked_mm)) - wanted_mm), 6), sum(chosen)),
        )
        pack: list[Shim] = []
        for many, size in zip(best, sizes, strict=True):
            pack += [shim for shim in stock if shim.marked == size][:many]
        return pack

    def _taken_out(self, part: str, marked: Sequence[Quantity]) -> list[Shim]:
        """Take shims out of the bin, the nearest mark for each. Raises ValueError when the bin has no such shim left."""
        stock = self.bin[KIT_OF[part]]
        pack: list[Shim] = []
        for wanted in marked:
            near = [shim for shim in stock if abs(_mm(shim.marked) - _mm(wanted)) < 0.0065]
            if not near:
                stock.extend(pack)
                raise ValueError(f"no shim of {wanted} is left in the {KIT_OF[part]} for the {part}")
            chosen = min(near, key=lambda shim: abs(shim.actual - _mm(wanted)))
            stock.remove(chosen)
            pack.append(chosen)
        return pack

    # ------------------------------------------------------------------ its manual

    def _drag_window(self) -> tuple[float, float]:
        return (16 * POUND_INCH, 29 * POUND_INCH) if self.build.units == "in" else (1.6, 2.8)  # Ford integral new 16-29 lb-in

    def _backlash_window(self) -> tuple[float, float]:
        wide = self.build.carrier == "adjusters"  # a notch is coarse: the heavy axles with adjusters print wider limits (Spicer single)
        if self.build.units == "in":
            return (0.006 * INCH, (0.012 if wide else 0.010) * INCH)
        return (0.15, 0.30) if wide else (0.13, 0.24)

    def _nut_window(self) -> tuple[float, float]:
        return (160 * POUND_INCH * 12, 200 * POUND_INCH * 12) if self.build.units == "in" else (210.0, 280.0)

    def _manual(self) -> dict[str, dict[str, str | int]]:
        """The [spec] table: limits that this axle can reach with its kit, printed as a manual prints them."""
        unit, drag_unit, high_unit = ("in", "lb-in", "lb-ft") if self.build.units == "in" else ("mm", "N·m", "N·m")
        build, truth = self.build, self.truth
        low, high = self._backlash_window()
        drag_low, drag_high = self._drag_window()
        spec: dict[str, dict[str, str | int]] = {
            "pinion_drag": {
                "low": _text(drag_low, drag_unit, _BEAM_WRENCH), "high": _text(drag_high, drag_unit, _BEAM_WRENCH), "unit": drag_unit,
                "bearings": "new", "seal": "out" if build.preload == "spacer-shims" else "in",
            },
            "pinion_depth": {
                "target": _text(truth.nominal_distance, unit, _DEPTH_GAUGE),
                "tolerance": "0.0020" if unit == "in" else "0.05", "unit": unit,  # within .002 of the etch (GM C/K 1995, Dana)
            },
            "backlash": {
                "low": _text(low, unit, _DIAL), "high": _text(high, unit, _DIAL), "variation": "0.0030" if unit == "in" else "0.07",
                "judge": build.judge, "unit": unit,
            },
            "ring_runout": {"high": "0.0040" if unit == "in" else "0.10", "unit": unit},
            "nut_torque": {
                "low": _text(self._nut_window()[0], high_unit, _CLICK_WRENCH), "high": _text(self._nut_window()[1], high_unit, _CLICK_WRENCH),
                "unit": high_unit,
            },
            "cap_torque": {"value": "75" if high_unit == "lb-ft" else "100", "unit": high_unit},
        }  # fmt: skip
        squeeze = self._wanted_squeeze()
        carrier_low, carrier_high = (truth.carrier_free + truth.carrier_rate * each for each in squeeze)
        if build.carrier == "adjusters":
            spec["carrier_preload"] = {"value": "2", "unit": "notch"}
        else:
            spec["carrier_drag"] = {
                "low": _text(carrier_low, drag_unit, _BEAM_WRENCH), "high": _text(carrier_high, drag_unit, _BEAM_WRENCH), "unit": drag_unit,
            }  # fmt: skip
        spec["total_drag"] = {
            "low": _text(drag_low + carrier_low / build.ratio - 0.05, drag_unit, _BEAM_WRENCH),
            "high": _text(drag_high + carrier_high / build.ratio + truth.seal_drag + 0.25, drag_unit, _BEAM_WRENCH),
            "unit": drag_unit, "seal": "in",
        }  # fmt: skip
        return spec

    def _wanted_squeeze(self) -> tuple[float, float]:
        """The least and the most carrier interference (mm) that the manual's figures allow."""
        if self.build.carrier == "adjusters":
            return (max(0.0, 0.7 * self.truth.notch_lead), 3.2 * self.truth.notch_lead)
        return 0.003 * INCH, 0.012 * INCH

    @property
    def specs_with_limits(self) -> list[str]:
        """The quantities that the verdict needs (all with a spec but the carrier's setting)."""
        return [name for name in self.spec if name != "carrier_preload"]

    def job_toml(self, *, etches: bool = True, notch_lead: bool = True, leave_out: Sequence[str] = ()) -> str:
        """The job file of this axle.

        etches: written in (else they are asked for at intake); notch_lead: told (else to be learnt); leave_out: specs to be asked for.
        """
        build = self.build
        etch_unit = "0.001 in" if build.units == "in" else "0.01 mm"
        lines = [
            f'title = "virtual axle {self.seed}"', f'units = "{build.units}"', "", "[axle]",
            f'pinion_shims = "{build.pinion_shims}"', f'preload = "{build.preload}"', f'carrier = "{build.carrier}"',
            f'ring_gear_side = "{build.ring_gear_side}"', f'teeth = "{build.teeth}"',
            f"ring_teeth = {build.ring_teeth}", f"pinion_teeth = {build.pinion_teeth}",
        ]  # fmt: skip
        if build.carrier == "adjusters" and notch_lead:
            lines.append(f'notch_lead_in = "{self.truth.notch_lead / INCH:.4f}"')
        lines += ["", "[spec]"]
        for name, row in self.spec.items():
            if name not in leave_out:
                lines.append(f"{name} = {{ {', '.join(f'{key} = {_toml(value)}' for key, value in row.items())} }}")
        lines += [f"backlash_spots = {build.spots}", "", "[parts]"]
        if etches:
            lines += [f'{name} = {{ value = "{getattr(self, name):+d}", unit = "{etch_unit}" }}' for name in ETCHES]
        lines.append(f'etch_sign = "{build.etch_sign}"')
        for kit in ("shim_kit", "preload_kit", "side_kit"):
            rows = KITS[build.units][kit] if kit in self.bin else ()
            lines.append(f"{kit} = [ {', '.join(f'{{ thickness = {_toml(size)}, count = {count} }}' for size, count in rows)} ]")
        return "\n".join(lines) + "\n"

    # ------------------------------------------------------------------ hands

    def strip(self) -> None:
        """Take the old assembly apart."""
        self.state = replace(self.state, stripped=True, nut="off", caps="off", seal=False, version=self.state.version + 1)

    def fit(self, packs: Mapping[str, Sequence[Quantity]]) -> None:
        """Fit shim packs in place of those that are there, all at once. Raises ValueError for a shim that the kit does not hold."""
        state = self.state
        for part in packs:
            self._overtaken(f"fit:{part}")
            self.bin[KIT_OF[part]].extend(state.packs.pop(part, []))
            self._burrs.pop(part, None)
        for part, pack in packs.items():
            state.packs[part] = self._taken_out(part, pack)
            pinion_out = part == "pinion_shims" and self.build.pinion_shims != "flange"  # a cartridge lifts out whole
            if part == "preload_shims" or pinion_out:
                state.nut = "off"
                state.sleeve = False  # a crushed sleeve is scrap; trials go without one
            if part.endswith("_side_shims") or part == "opposite_shims" or pinion_out:
                state.caps = "off"
        self._changed()
        for part in sorted(packs):  # the ring side after the opposite one: what is swapped is swapped when both are in
            self._happen(f"fit:{part}")

    def _changed(self) -> None:
        self.state.version += 1
        self.state.stripped = True
        self._one_place = None

    def _overtaken(self, occasion: str) -> None:
        """What was done wrong here before is done anew: the old fault is gone, noticed or not."""
        for fault in self.active:
            if fault.at == occasion and fault.mistake.kind == "hands" and (occasion.startswith(("fit", "torque", "press"))):
                fault.state = "past"

    def turn(self, part: str, amount: float) -> None:
        """Turn an adjuster (notches) or the nut on its crush sleeve (degrees); positive tightens. Raises ValueError for another part."""
        state = self.state
        self._changed()
        if part == "crush_nut":
            state.sleeve = True
            state.nut_degrees += amount
            state.sleeve_worst = max(state.sleeve_worst, state.nut_degrees)
            state.nut = "torqued"
            return
        if part not in ("ring_side_adjuster", "opposite_adjuster"):
            raise ValueError(f"a {part} cannot be turned")
        state.notches[_side(part)] += amount
        state.caps = "snug"
        fault = self._happen(f"turn:{part}")
        if fault is not None and fault.name == "wrong-side":
            state.notches[_side(part)] -= amount
            state.notches["opposite"] += amount
            fault.happened_as = f"{amount:g} notches on the wrong adjuster"
            self._undo_by[fault.text] = amount
        elif fault is not None and fault.name == "one-side-only":
            state.notches[_side(part)] -= amount
            fault.happened_as = f"the {part.replace('_', ' ')} was not turned by its {amount:g} notches"
            self._undo_by[fault.text] = amount

    def new_sleeve(self) -> None:
        """A fresh crush sleeve, the nut snug on it."""
        state = self.state
        state.sleeve, state.nut_degrees, state.sleeve_worst, state.nut = True, 0.0, 0.0, "light"
        self._changed()

    def tighten(self, what: Literal["nut", "caps"]) -> None:
        """Torque the pinion nut or the cap bolts to the manual's figure."""
        self._overtaken(f"torque:{what}")
        self._changed()
        if what == "nut" and self.build.preload == "spacer-shims":
            self.state.nut = "torqued"
        elif what == "caps":
            self.state.caps = "torqued"
        self._happen(f"torque:{what}")

    def press(self) -> None:
        """Press a bearing, cone or cup home."""
        self._overtaken("press:any")
        self._changed()
        self._happen("press:any")

    def set_up_anew(self) -> None:
        """Take the gauge off and set it up once more: its error of that is another one."""
        self.state.version += 1

    def fit_seal(self, fitted: bool = True) -> None:
        """Put the pinion seal in, or take it out."""
        self.state.seal = fitted
        self.state.version += 1

    # ------------------------------------------------------------------ mistakes

    def _happen(self, occasion: str) -> Fault | None:
        """Count the occasion; the fault that is due at it, now active."""
        self._counts[occasion] = self._counts.get(occasion, 0) + 1
        for fault in self.faults:
            if fault.at == occasion and fault.nth == self._counts[occasion] and fault.state == "waiting":
                fault.state = "active"
                self._begin(fault)
                return fault
        return None

    def _begin(self, fault: Fault) -> None:
        """What a fault of the hands does to the assembly at once."""
        part = fault.at.partition(":")[2]
        pack = self.state.packs.get(part, [])
        if fault.name == "shim-left-out" and pack:
            lost = self._dice.choice(pack)
            pack.remove(lost)
            self.bin[KIT_OF[part]].append(lost)
            self._stray[fault.text] = lost
            fault.happened_as = f"{lost.marked} was left out of the {part.replace('_', ' ')}"
        elif fault.name == "shim-doubled":
            spare = self.bin[KIT_OF[part]]
            more = next((shim for shim in spare if any(shim.marked == each.marked for each in pack)), spare[0] if spare else None)
            if more is None:
                fault.state = "past"
                return
            spare.remove(more)
            pack.append(more)
            self._stray[fault.text] = more
            fault.happened_as = f"one {more.marked} too many is in the {part.replace('_', ' ')}"
        elif fault.name == "burr":
            self._burrs[part] = self._dice.uniform(*self.constants.burr_thou) * THOU
            fault.happened_as = f"a burr of {self._burrs[part]:.2f} mm is in the {part.replace('_', ' ')}"
        elif fault.name == "wrong-side" and part == "ring_side_shims":
            self._swap_side_packs()
            fault.happened_as = "the two side packs were swapped"
        elif not fault.happened_as:
            fault.happened_as = f"{fault.mistake.reveals} ({fault.at.replace(':', ' ')})"

    def _swap_side_packs(self) -> None:
        packs = self.state.packs
        packs["ring_side_shims"], packs["opposite_shims"] = packs.get("opposite_shims", []), packs.get("ring_side_shims", [])

    @property
    def one_place(self) -> float | None:
        """The place (degrees) where a whole round of backlash is being read by mistake."""
        return self._one_place

    @property
    def active(self) -> list[Fault]:
        """Faults of the hands that are in the assembly now."""
        return [fault for fault in self.faults if fault.state == "active"]

    def put_right(self, fault: Fault) -> None:
        """The fault was found: what it did is undone, as its second look shows."""
        part = fault.at.partition(":")[2]
        fault.state = "past"
        self.state.version += 1
        if fault.name == "burr":
            self._burrs.pop(part, None)
        elif fault.name == "wrong-side" and part == "ring_side_shims":
            self._swap_side_packs()
        elif fault.name == "one-place":
            self._one_place = None
        elif fault.text in self._undo_by:
            amount = self._undo_by.pop(fault.text)
            self.state.notches[_side(part)] += amount
            if fault.name == "wrong-side":
                self.state.notches["opposite"] -= amount
        elif fault.name in ("shim-left-out", "shim-doubled"):
            self._right_pack(part, fault)

    def _right_pack(self, part: str, fault: Fault) -> None:
        pack, stock, shim = self.state.packs.get(part, []), self.bin[KIT_OF[part]], self._stray[fault.text]
        source, target = (stock, pack) if fault.name == "shim-left-out" else (pack, stock)
        source.remove(shim)
        target.append(shim)

    def named_by(self, text: str) -> Fault | None:
        """The fault at work (of the hands, or the last reading's) that `text`, a cause and its check, describes."""
        words = text.lower()
        recent = [fault for fault in self.faults if fault.state == "active"]
        for fault in recent:
            if any(all(word.lower() in words for word in group) for group in fault.mistake.words):
                return fault
        return None

    # ------------------------------------------------------------------ what is so

    def pack(self, part: str) -> float:
        """Thickness of the pack that is in, burr and all (mm)."""
        return sum(shim.actual for shim in self.state.packs.get(part, [])) + self._burrs.get(part, 0.0)

    def _has(self, name: str) -> bool:
        return any(fault.name == name for fault in self.active)

    def pinion_squeeze(self) -> float:
        """Interference of the pinion bearings (mm); below zero it is end play."""
        truth, state = self.truth, self.state
        if self.build.preload == "crush-sleeve":
            # The sleeve hardly springs back: a nut that was backed off leaves play.
            back = state.sleeve_worst - state.nut_degrees
            return (state.sleeve_worst - truth.sleeve_play) * truth.sleeve_lead - 4 * back * truth.sleeve_lead
        squeeze = truth.contact - self.pack("preload_shims") + (self.pack("pinion_shims") if self.build.pinion_shims == "head-cup" else 0.0)
        if self._has("nut-not-torqued"):
            squeeze -= self.constants.loose_nut_thou * THOU  # size assumed
        if state.nut != "torqued":
            squeeze -= 0.015 * INCH
        if any(fault.name == "not-seated" and fault.at != "fit:pinion_shims" for fault in self.active):
            squeeze = min(squeeze - 0.006 * INCH, -0.001 * INCH)
        return squeeze

    def pinion_drag(self) -> float:
        """Steady drag of the pinion alone, without its seal (N·m)."""
        if self.build.preload == "crush-sleeve" and not self.state.sleeve:
            return self.truth.light_drag  # a trial nut without a sleeve is turned until the drag is right
        return self.truth.drag_free + _drag(self.pinion_squeeze(), self.truth.drag_rate, self.truth.drag_bend)

    def mounting_distance(self) -> float:
        """From the ring gear's centre line to the pinion's face (mm), the pinion pulled up against its play."""
        distance = self.truth.base_distance + self.build.lay * self.pack("pinion_shims")
        if any(fault.name == "not-seated" and fault.at == "fit:pinion_shims" for fault in self.active):
            # What is not home stands off its shoulder like one shim more.
            distance += self.build.lay * self.constants.stand_off_thou * THOU
        return distance

    def carrier_squeeze(self) -> float:
        """Interference of the side bearings in all (mm); below zero it is play."""
        truth = self.truth
        if self.build.carrier == "adjusters":
            return truth.carrier_zero + truth.notch_lead * sum(self.state.notches.values())
        return self.pack("ring_side_shims") + self.pack("opposite_shims") - truth.carrier_zero

    def ring_position(self) -> float:
        """Where the ring stands (mm, away from the pinion) from the place of no backlash at the wanted mounting distance."""
        truth, notches = self.truth, self.state.notches
        if self.build.carrier == "adjusters":
            return truth.ring_base + truth.notch_lead * (notches["opposite"] - notches["ring_side"]) / 2
        return truth.ring_base + (self.pack("opposite_shims") - self.pack("ring_side_shims")) / 2

    def mean_backlash(self) -> float:
        """Mean backlash round the ring (mm), below zero when the teeth would have to overlap."""
        truth = self.truth
        lash = truth.k_ring * self.ring_position() + truth.k_pinion * (self.mounting_distance() - truth.wanted_distance)
        if self.state.caps != "torqued" or self._has("caps-loose"):
            lash += truth.cap_shift
        return lash + 0.7 * max(0.0, -self.carrier_squeeze())  # side looseness feels like backlash: about seven tenths of it

    def backlash_at(self, degrees: float) -> float:
        """Backlash (mm) with the ring turned to `degrees`: the mean, the wobble's wave of k times the runout, and a small second wave."""
        truth, angle = self.truth, math.radians(degrees - self.truth.wobble_at)
        wave = truth.k_ring * truth.wobble / 2 * math.cos(angle) + truth.second_wave * math.cos(2 * angle + 1)
        return max(0.0, self.mean_backlash() + wave)

    def carrier_drag(self) -> float:
        """Drag of the case in its own bearings (N·m), about its own axis."""
        return self.truth.carrier_free + self.truth.carrier_rate * max(0.0, self.carrier_squeeze())

    def total_drag(self) -> float:
        """What is felt at the pinion with everything in: equal power on both sides of the mesh; a bound mesh adds a lot."""
        bound = 4.0 if min(self.backlash_at(degrees) for degrees in range(0, 360, 15)) <= 0 else 0.0
        return self.pinion_drag() + self.carrier_drag() / self.build.ratio + (self.truth.seal_drag if self.state.seal else 0.0) + bound

    def size(self, quantity: str, *, degrees: float = 0.0, part: str | None = None, index: int = 0, from_plane: bool = False) -> float:
        """The true size (mm or N·m) of a quantity of the contract as things stand. Raises ValueError for one it has not.

        degrees: where on the ring; part: which pack; index: which of its shims, from 1, 0 for the pack; from_plane: depth taken from the
        parting plane, not from the bores' centre.
        """
        truth = self.truth
        if quantity in ("stack_thickness", "old_stack_thickness", "shim_thickness"):
            # Each shim is measured singly: a burr is squeezed flat by the micrometer and not found by it.
            packs = self.old_packs if quantity == "old_stack_thickness" else self.state.packs
            shims = packs[part or "pinion_shims"]
            return shims[(index - 1) % len(shims)].actual if quantity == "shim_thickness" and shims else sum(shim.actual for shim in shims)
        play = max(0.0, -self.pinion_squeeze()) if self.build.preload == "spacer-shims" else 0.0
        old_wave = truth.k_ring * truth.wobble / 2 * math.cos(math.radians(degrees - truth.wobble_at))
        sizes: dict[str, Callable[[], float]] = {
            "backlash": lambda: self.backlash_at(degrees),
            "baseline_backlash": lambda: truth.old_backlash + old_wave,
            "ring_runout": lambda: truth.wobble + max(0.0, -self.carrier_squeeze()) * (1.0 if self.state.stripped else 0.0),
            "pinion_drag": lambda: self.pinion_drag() + (truth.seal_drag if self.state.seal else 0.0),
            "seal_drag": lambda: truth.seal_drag,
            "carrier_drag": self.carrier_drag,
            "total_drag": self.total_drag,
            "baseline_total_drag": lambda: truth.old_total_drag,
            "pinion_depth": lambda: self.mounting_distance() + play + (truth.centre_offset if from_plane else 0.0),
            "bore_diameter": lambda: truth.bore_diameter,
            "plane_to_bore": lambda: truth.bore_diameter / 2 + truth.centre_offset,
            "spread": lambda: truth.cap_spread_share * max(0.0, self.carrier_squeeze()),
            "nut_torque": lambda: truth.sleeve_torque if self.build.preload == "crush-sleeve" else sum(self._nut_window()) / 2,
            "cap_torque": lambda: 75 * 12 * POUND_INCH if self.build.units == "in" else 100.0,
        }
        if quantity not in sizes:
            raise ValueError(f"a virtual axle has no {quantity}")
        return sizes[quantity]()

    def pattern(self, flank: Literal["drive", "coast"]) -> str:
        """The print on one flank in the contract's words ("toe root"), from where ring and pinion stand.

        Directions: gear maker's contact pattern page (Revolution Gear & Axle), its hobbed rows as GM Silverado 2008 prints them, its first
        row as TM 10-3930-638-24 prints it. How far a print moves for how much is in no publication: sizes assumed.
        """
        if self.carrier_squeeze() < -0.05 or (self.build.preload == "spacer-shims" and self.pinion_squeeze() < 0):
            return "unclear"
        low, high = self._backlash_window()
        pinion_out = (self.mounting_distance() - self.truth.wanted_distance) / 0.08
        ring_out = (self.ring_position() - (low + high) / 2 / self.truth.k_ring) / 0.16
        height = pinion_out + 0.5 * ring_out
        if self.build.teeth == "face-hobbed":
            along = ring_out - pinion_out
            along = along if flank == "drive" else -along
        else:
            along = ring_out + pinion_out if flank == "drive" else ring_out - pinion_out
        # Printed rows name the larger of the two shifts first; below one half of the assumed step nobody sees it.
        end = "heel" if along > 0.75 else "toe" if along < -0.75 else "centre"
        edge = "tip" if height > 0.75 else "root" if height < -0.75 else "middle"
        return f"{end} {edge}"

    # ------------------------------------------------------------------ instruments

    def read(
        self, quantity: str, unit: str, *, degrees: float = 0.0, part: str | None = None, index: int = 0, from_plane: bool = False,
        again: bool = False,
    ) -> Shown:  # fmt: skip
        """One reading, with the instrument's error and step, and whatever mistake is due.

        unit: wanted; the instrument has that scale. degrees, part, index, from_plane: as for `size`.
        again: the same set-up is looked at a second time, which is no new occasion for a mistake.
        Raises ValueError for a quantity or a unit that no instrument here shows.
        """
        if quantity in ETCHES:
            honest = Quantity.of(getattr(self, quantity), unit)
            fault = None if again else self._happen(f"read:{quantity}")
            if fault is not None and honest.value != 0:
                return self._slipped(quantity, honest, Quantity(-honest.value, unit), fault)
            return Shown(honest, honest)
        scale = INSTRUMENTS[quantity].get(unit_named(unit).symbol) if quantity in INSTRUMENTS else None
        if scale is None:
            raise ValueError(f"no instrument here shows {quantity} in {unit}")
        fault = None if again else self._happen(f"read:{quantity}")
        if fault is not None and fault.mistake.kind == "position":
            self._one_place = degrees
            fault.happened_as = "the whole round was read at one place"
        place = degrees if self._one_place is None or quantity != "backlash" else self._one_place
        true = self.size(quantity, degrees=place, part=part, index=index, from_plane=from_plane)
        if quantity in ("nut_torque", "cap_torque"):
            honest = self._at_the_click(quantity, unit, true)
        else:
            honest = self._with_noise(f"{quantity} {place:.0f} {part} {index}", true, unit, *scale)
        if fault is None or fault.mistake.kind != "reading":
            self._last_shown[quantity] = honest
            return Shown(honest, honest)
        return self._slipped(quantity, honest, self._slip(fault, quantity, honest, scale[0]), fault)

    def _with_noise(self, key: str, true: float, unit: str, step: str, uncertainty: float) -> Quantity:
        """Most of the error belongs to the set-up and comes again; the rest is the eye."""
        setup = random.Random(hashlib.sha256(f"{self.seed} {self.state.version} {key}".encode()).hexdigest())
        eye = self.constants.eye
        error = setup.gauss(0, math.sqrt(0.25 - eye**2) * uncertainty) + self._dice.gauss(0, eye * uncertainty)
        error *= self.constants.noise
        number = max(0.0, _from_base(true, unit) + error)
        return _stepped(number, unit, step)

    def _at_the_click(self, quantity: str, unit: str, true: float) -> Quantity:
        row = self.spec[quantity]
        if quantity == "cap_torque":
            return Quantity.of(str(row["value"]), str(row["unit"])).to(unit)
        return _stepped(_from_base(true, unit), unit, _CLICK_WRENCH[unit_named(unit).symbol][0])

    def _slipped(self, quantity: str, honest: Quantity, said: Quantity, fault: Fault) -> Shown:
        if said.value == honest.value:  # nothing came of it: it waits for the next time
            fault.state, fault.nth = "waiting", fault.nth + 1
            return Shown(honest, honest)
        fault.happened_as = f"{said} was said for {quantity.replace('_', ' ')}, {honest} was there"
        return Shown(said, honest, fault)

    def _slip(self, fault: Fault, quantity: str, honest: Quantity, step: str) -> Quantity:
        """What is said instead of the honest reading."""
        value, unit = honest.value, honest.unit
        if fault.name == "decimal-slip":
            return Quantity(value * 10 if value < Decimal(1) or unit != "in" else value / 10, unit)
        if fault.name == "inch-millimetre":
            other = "mm" if unit == "in" else "in"
            shown = _stepped(float(honest.number_in(other)), other, INSTRUMENTS[quantity][other][0])
            return Quantity(shown.value, unit)
        if fault.name == "wrench-unit":
            other = "N·m" if unit == "lb-in" else "lb-in"
            return Quantity(_stepped(float(honest.number_in(other)), other, _BEAM_WRENCH[other][0]).value, unit)
        if fault.name == "digits-swapped":
            return Quantity(_swapped(value), unit)
        if fault.name == "stuck-gauge":
            return self._last_shown.get(quantity, honest)
        if fault.name == "dial-wrapped":
            return Quantity(value + (Decimal("0.1") if unit == "in" else Decimal("1.0")), unit)
        # Starting torque: the first peak, a third above the turning drag; at the yoke: the yoke's radius is half the ring's (both assumed).
        factor = {"breakaway": self.constants.breakaway, "at-the-yoke": self.build.ratio * 0.5, "dry-bearing": 2.0, "seal-in": 1.0}[
            fault.name
        ]
        number = float(value) * factor + (_from_base(self.truth.seal_drag, unit) if fault.name == "seal-in" else 0.0)
        return _stepped(number, unit, step)

    def settle(self, shown: Shown) -> None:
        """The slip in this reading was seen and is over."""
        if shown.fault is not None and shown.fault.mistake.kind == "reading":
            shown.fault.state = "past"


# ---------------------------------------------------------------------- small sums


def ring_sensitivity(pressure_angle: float, spiral_angle: float, ratio: float) -> float:
    """Transverse backlash per axial move of the ring: 2 tan(phi) sin(Gamma) / cos(psi), Gamma the ring's pitch angle (degrees in).

    Derived from the pitch cones opening by dX sin(Gamma) and each flank retreating by that times tan(phi) / cos(psi); 20 degrees, no
    spiral and 3.73 give 0.703, the shops' seven tenths.
    """
    pitch = math.atan(ratio)
    return 2 * math.tan(math.radians(pressure_angle)) * math.sin(pitch) / math.cos(math.radians(spiral_angle))


def _drag(squeeze: float, rate: float, bend: float) -> float:
    return 0.0 if squeeze <= 0 else rate * squeeze * (1 + bend * squeeze / 0.05)


def _squeeze_for(drag: float, rate: float, bend: float) -> float:
    """The interference (mm) that gives a drag (N·m) above the free one."""
    if drag <= 0:
        return 0.0
    curve = rate * bend / 0.05
    return drag / rate if curve == 0 else (-rate + math.sqrt(rate * rate + 4 * curve * drag)) / (2 * curve)


def _inner(low: float, high: float) -> tuple[float, float]:
    return low + 0.2 * (high - low), high - 0.2 * (high - low)


def _side(part: str) -> Side:
    return "ring_side" if part.startswith("ring_side") else "opposite"


def _mm(quantity: Quantity) -> float:
    return float(quantity.base) / 1e6


def _from_base(size: float, unit: str) -> float:
    """From millimetres or newton-metres to a unit."""
    return size * 1e6 / float(unit_named(unit).factor)


def _stepped(number: float, unit: str, step: str) -> Quantity:
    """To the nearest step of the scale, with the decimals that the step has."""
    finest = Decimal(step)
    whole = round(Fraction(number) / Fraction(finest))
    return Quantity((whole * finest).quantize(finest), unit)


def _text(size: float, unit: str, scale: Mapping[str, tuple[str, float]]) -> str:
    """A manual's figure: to the instrument's step."""
    return _stepped(_from_base(size, unit), unit, scale[unit][0]).text


def _toml(value: str | int) -> str:
    return str(value) if isinstance(value, int) else f'"{value}"'


def _swapped(value: Decimal) -> Decimal:
    """The first two unlike neighbouring figures (zeros in front left alone) change places."""
    text = format(value, "f")
    figures = [place for place, figure in enumerate(text) if figure.isdigit()]
    first = next((place for place in figures if text[place] != "0"), None)
    if first is None:
        return value
    tail = [place for place in figures if place >= first]
    for left, right in pairwise(tail):
        if text[left] != text[right]:
            swapped = list(text)
            swapped[left], swapped[right] = swapped[right], swapped[left]
            return Decimal("".join(swapped))
    return value
