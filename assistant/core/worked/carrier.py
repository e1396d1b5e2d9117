"""The kinds about the carrier between its side bearings: side-total, side-shims, spread."""

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length, Quantity
from assistant.core.sums import carrier
from assistant.core.sums.carrier import SideShims
from assistant.core.worked.keys import Answer, Given, Key, Kind
from assistant.core.worked.mesh import K, change_wanted, ring_move
from assistant.core.worked.readers import backlash, length, list_of

# Beyond these the dial has run out of travel, or the caps were read on other faces (common practice, no source).
_USUAL_PLAY = Length.of(Quantity.of("0.200", "in"))
_USUAL_SPREAD = Length.of(Quantity.of("0.020", "in"))

_pack = length("0mm", "50mm")
_squeeze = length("0mm", "2mm")
_caps = length("0mm", "1000mm", above=True)


def _solve_side_total(given: Given) -> Answer:
    trial, play, preload = given.lengths("trial"), given.length("play"), given.length("preload")
    zero_play = carrier.zero_play_total(trial, play)
    given.say(f"{' + '.join(given.text(size) for size in (*trial, play))} = {given.text(zero_play)}: the sum without play, pinion out.")
    given.say(
        f"{given.text(zero_play)} + {given.text(preload)} of preload = {given.text(zero_play + preload)} in all, both sides together."
    )
    if not play.nanometres:
        given.doubt("no play at all: the packs may squeeze the bearings already; fit thinner ones and read again.")
    if play > _USUAL_PLAY:
        given.doubt(f"{given.text(play)} of play is more than most dials travel: fit thicker trial shims and read again.")
    return given.answer(zero_play=zero_play, total=zero_play + preload)


def _solve_side_shims(given: Given) -> Answer:
    before = SideShims(given.length("ring_side"), given.length("opposite"))
    if "move" in given:
        move = given.length("move")
        given.say(f"The ring gear moves {given.text(abs(move))} {'away from' if move >= Length(0) else 'toward'} the pinion.")
    else:
        move = ring_move(given, change_wanted(given), given.number("k"))
    preload = given.length("preload")
    step = given.length("step") if "step" in given else None
    try:
        after = carrier.side_shims_after(before, move, preload=preload, step=step)
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"ring_side, opposite: {error}") from error
    given.say("A thicker shim on the ring side pushes the ring gear toward the pinion; what one side loses, the other gains.")
    if preload.nanometres:
        given.say(f"Preload adds {given.text(preload)} in all, half on each side.")
    if step is not None:
        given.say(f"The ring side goes to the nearest step of {given.text(step)}, the opposite side takes the rest, so that the sum stays.")
        if after.opposite.nanometres % step.nanometres:
            given.doubt(f"the sum {given.text(after.total)} is no multiple of {given.text(step)}, so the opposite side is none either.")
    given.say(
        f"Ring side {given.text(before.ring_side)} to {given.text(after.ring_side)}, "
        f"opposite {given.text(before.opposite)} to {given.text(after.opposite)}."
    )
    grown = after.total - before.total
    given.say(
        f"Sum {given.text(before.total)} to {given.text(after.total)}: "
        f"{given.signed(grown) + ', the preload' if grown.nanometres else 'unchanged, and with it the bearing preload'}."
    )
    return given.answer(ring_side=after.ring_side, opposite=after.opposite, total=after.total)


def _solve_spread(given: Given) -> Answer:
    before, after, low, high = (given.quantity(name) for name in ("before", "after", "low", "high"))
    if low > high:
        raise ImpossibleValueError(f"low={low}, high={high}: expected low to be the smaller")
    try:
        spread = carrier.cap_spread(Length.of(before), Length.of(after))
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"before={before}, after={after}: {error}") from error
    given.say(f"{given.text(Length.of(after))} - {given.text(Length.of(before))} = {given.text(spread)}.")
    if spread > _USUAL_SPREAD:
        given.doubt(f"{given.text(spread)} of spread is large: was it read on the same faces, at the same temperature?")
    passes = low.base <= after.base - before.base <= high.base
    given.say(f"The manual allows {low} to {high}, inclusive: {'pass' if passes else 'fail'}.")
    return given.answer(spread=spread, verdict="pass" if passes else "fail")


KINDS = (
    Kind(
        "side-total",
        "the side shims in all, from a trial pack, its play and the preload wanted",
        (
            Key("trial", list_of(_pack, at_most=2), "the pack as it stands in all, or two with a comma: one each side"),
            Key("play", length("0mm", "12.7mm"), "the play read with the pinion out"),
            Key("preload", _squeeze, "the preload wanted, both sides together"),
        ),
        {"zero_play": "the sum without play or preload", "total": "with the preload"},
        "trial=0.118in,0.118in play=0.042in preload=0.008in",
        _solve_side_total,
    ),
    Kind(
        "side-shims",
        "the two side shims after a move of the ring gear, the sum kept",
        (
            Key("ring_side", _pack, "the pack behind the ring gear's back face"),
            Key("opposite", _pack, "the pack on the other side"),
            Key("move", length("-12.7mm", "12.7mm"), "how far the ring gear moves; positive: away from the pinion"),
            Key("backlash", backlash, "the backlash now"),
            Key("target", backlash, "the backlash wanted"),
            K,
            Key("preload", _squeeze, "the preload to add, both sides together", optional=True),
            Key("step", length("0mm", "2mm", above=True), "the step in which these shims are made", optional=True),
        ),
        {"ring_side": "the new pack behind the ring gear's back face", "opposite": "the new pack on the other side", "total": "both"},
        "ring_side=0.250in opposite=0.265in move=0.010in preload=0.008in",
        _solve_side_shims,
        choices=((("move",), ("backlash", "target", "k")),),
    ),
    Kind(
        "spread",
        "how far the bearing caps opened, against the manual's limits",
        (
            Key("before", _caps, "across the caps before the preload"),
            Key("after", _caps, "across the same faces after it"),
            Key("low", length("0mm", "2.54mm"), "the least the manual allows"),
            Key("high", length("0mm", "2.54mm"), "the most the manual allows"),
        ),
        {"spread": "after - before", "verdict": "pass or fail"},
        "before=13.927in after=13.932in low=0.002in high=0.009in",
        _solve_spread,
    ),
)
