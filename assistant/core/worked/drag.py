"""The kinds about drag at the pinion: drag, total-drag, and the spacer that sets it."""

from collections.abc import Callable
from fractions import Fraction

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length, Quantity
from assistant.core.sums import drag
from assistant.core.worked.keys import Answer, Given, Key, Kind
from assistant.core.worked.mesh import RATIO
from assistant.core.worked.readers import force, length, torque

# Outside these one asks again (common practice, no source).
_USUAL_DRAG = (Quantity.of("1", "lb-in"), Quantity.of("60", "lb-in"))
_USUAL_RADIUS = Quantity.of("6", "in")
_USUAL_PULL = Quantity.of("40", "lbf")


def _possible(reads: Callable[[str], Quantity]) -> Callable[[str], Quantity]:
    """Of the torques that are read, only those that a bearing can drag with; zero is left to the reader."""

    def reads_drag(text: str) -> Quantity:
        found = reads(text)
        reason = drag.why_no_drag(found) if found.value else None
        if reason is not None:
            raise ImpossibleValueError(reason)
        return found

    return reads_drag


def _some_drag(text: str) -> Quantity:
    found = torque(text)
    if not found.value:
        raise ImpossibleValueError("expected more than nothing: a loaded pair of bearings always drags")
    return found


def _doubt_drag(given: Given, found: Quantity) -> None:
    if not _USUAL_DRAG[0] <= found <= _USUAL_DRAG[1]:
        given.doubt(f"a drag of {found} is unusual, 1 to 60 lb-in (0.1 to 7 N·m) is what one meets: check the unit and the reading.")


def _solve_drag(given: Given) -> Answer:
    pull, named = given.quantity("force"), "radius" if "radius" in given else "diameter"
    radius = Length.of(given.quantity(named))
    if named == "diameter":
        half = radius.times(Fraction(1, 2))
        given.say(f"Radius: half of {given.text(radius)} = {given.text(half)}.")
        radius = half
    found = drag.drag_from_pull(given.force("force"), radius)
    shown = found.quantity(given.torque_unit)
    reason = drag.why_no_drag(shown)
    if reason is not None:
        raise ImpossibleValueError(f"force={pull}, {named}={given.quantity(named)}: {reason}")
    given.say(f"{pull} x {given.text(radius)} = {shown}, pulled steadily, square to the radius.")
    if pull > _USUAL_PULL:
        given.doubt(f"a pull of {pull} is unusual: does the scale read another unit?")
    if radius > Length.of(_USUAL_RADIUS):
        given.doubt(f"a radius of {given.text(radius)} is unusual: was the diameter given?")
    _doubt_drag(given, shown)
    return given.answer(torque=found)


def _solve_total_drag(given: Given) -> Answer:
    pinion, on_carrier, seals = given.torque("pinion"), given.torque("carrier"), given.torque("seals")
    ratio = given.number("ratio")
    share = drag.carrier_drag_at_pinion(on_carrier, ratio)
    total = drag.total_drag(pinion, on_carrier, ratio, seals)
    given.say(
        f"The carrier's {given.text(on_carrier)} are felt at the pinion as {given.text(on_carrier)} / {float(ratio):.4g} = {given.text(share)}."
    )
    seal_term = f" + {given.text(seals)} of seals" if "seals" in given else ""
    given.say(f"{given.text(pinion)} + {given.text(share)}{seal_term} = {given.text(total)}.")
    _doubt_drag(given, given.quantity("pinion"))
    return given.answer(total=total)


def _solve_spacer(given: Given) -> Answer:
    inserted, play, preload, settling = (given.length(name) for name in ("inserted", "play", "preload", "settling"))
    try:
        shim = drag.spacer_between_cones(inserted, play, preload, settling)
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"inserted is used up by play, preload and settling: {error}") from error
    settled = f" - {given.text(settling)}" if "settling" in given else ""
    given.say("The spacer sits between the cones, so a thinner one is tighter.")
    given.say(f"{given.text(inserted)} - {given.text(play)} - {given.text(preload)}{settled} = {given.text(shim)}.")
    if not play.nanometres:
        given.doubt("no play at all: the bearings may be squeezed already; fit a thicker spacer and read again.")
    return given.answer(shim=shim)


_amount = length("0mm", "12.7mm")
KINDS = (
    Kind(
        "drag",
        "the drag torque from a steady pull on a cord or a bar",
        (
            Key("force", force, "the steady pull"),
            Key("radius", length("0mm", "1000mm", above=True), "from the axis to the pull"),
            Key("diameter", length("0mm", "2000mm", above=True), "of what the cord is wound on; it is halved"),
        ),
        {"torque": "the rotating drag; lb-in beside inches, N·m beside millimetres"},
        "force=5lbf diameter=6.0in",
        _solve_drag,
        choices=((("radius",), ("diameter",)),),
    ),
    Kind(
        "total-drag",
        "the drag felt at the pinion with the carrier meshed in",
        (
            Key("pinion", _possible(_some_drag), "the pinion's own drag"),
            Key("carrier", _possible(torque), "the carrier's drag about its own axis"),
            RATIO,
            Key("seals", _possible(torque), "the drag of seals that were out when the pinion was read", optional=True),
        ),
        {"total": "pinion + carrier / ratio + seals"},
        "pinion=22lb-in carrier=12lb-in ratio=4.1 seals=2lb-in",
        _solve_total_drag,
    ),
    Kind(
        "spacer",
        "the spacer between the pinion's cones, from play and the squeeze wanted",
        (
            Key("inserted", length("0mm", "100mm", above=True), "the spacer in place while play was read"),
            Key("play", _amount, "the play read; the shaft is not turned, or the bearings settle"),
            Key("preload", _amount, "the squeeze wanted"),
            Key("settling", _amount, "what the bearings give on bedding in", optional=True),
        ),
        {"shim": "the spacer to fit: inserted - play - preload - settling"},
        "inserted=3.00mm play=0.93mm preload=0.12mm settling=0.10mm",
        _solve_spacer,
    ),
)
