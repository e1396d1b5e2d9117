"""Keys → worked answers: units and signs of what is given back, what is refused and how, and sums derived afresh with numpy and scipy.

The published examples are in tests/worked_examples.toml (see tests/cli/test_solve.py).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants
from scipy.optimize import brentq, least_squares

from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity
from assistant.core.worked import KINDS, Answer, solve
from assistant.core.worked.keys import Given


def answer(line: str) -> Answer:
    name, *pairs = line.split()
    return solve(name, pairs)


def result(line: str, name: str) -> Quantity:
    found = answer(line).result[name]
    assert isinstance(found, Quantity)
    return found


def number(line: str, name: str) -> float:
    return float(result(line, name).value)


def refusal(line: str) -> str:
    with pytest.raises(BadInputError) as caught:
        answer(line)
    assert "\n" not in str(caught.value)
    return str(caught.value)


# Units and signs of the answer


@pytest.mark.parametrize(
    ("line", "name", "unit"),
    [
        ("etch layout=flange old_shim=3.20mm etch_old=0 etch_new=+2 etch_unit=0.001in sign=away", "shim", "mm"),
        ("etch layout=flange etch_old=0 etch_new=+2 etch_unit=0.001in sign=away", "change", "in"),
        ("etch layout=flange etch_old=0 etch_new=+2 etch_unit=0.01mm sign=away", "change", "mm"),
        ("depth layout=flange measured=2.620in target=66.55mm shim=0.030in", "shim", "in"),
        ("depth layout=flange target=66.55mm measured=2.620in shim=0.030in", "shim", "mm"),
        ("stack kit=0.005inx4 target=0.25mm", "total", "in"),
        ("drag force=12.7N radius=37.8mm", "torque", "N·m"),
        ("drag force=12.7N radius=1.5in", "torque", "lb-in"),
        ("total-drag pinion=2.0N.m carrier=12lb-in ratio=41/11", "total", "N·m"),
        ("total-drag carrier=12lb-in pinion=2.0N.m ratio=41/11", "total", "lb-in"),
        ("total-drag pinion=20cN.m carrier=10cN.m ratio=4", "total", "N·m"),
        ("pair b=0.12mm a=0.005in", "difference", "mm"),
        ("convert value=254um to=in", "value", "in"),
        ("runout readings=2um,3um,4um", "tir", "mm"),
    ],
)
def test_the_answer_is_in_the_unit_of_the_first_length_or_torque_given(line: str, name: str, unit: str) -> None:
    assert result(line, name).unit == unit


def test_an_inch_etch_on_a_metric_shim_is_carried_over_exactly() -> None:
    # 3.20 mm + 2 x 0.0254 mm.
    line = "etch layout=flange old_shim=3.20mm etch_old=0 etch_new=+2 etch_unit=0.001in sign=away"
    assert result(line, "shim") == Quantity.parse("3.2508mm")


def test_the_working_tells_seat_direction_and_every_number() -> None:
    # A plus means toward and the shim sits under the head, so a plus adds shim: TM 9-2320-289-34 p. 6-37, example (b).
    told = " ".join(answer("etch layout=head-cone old_shim=0.019in etch_old=0 etch_new=+2 etch_unit=0.001in sign=toward").working)
    assert "Your shim sits under the head bearing cone, so more shim moves the pinion in, toward the ring-gear centre line." in told
    assert "Plus on your pinion means it wants to sit in, at a shorter mounting distance." in told
    assert "So I add 0.0020 in of shim." in told
    assert "0.0190 in + 0.0020 in = 0.0210 in." in told


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("backlash-move change=0.003in k=0.75", "moves away from the pinion"),
        ("backlash-move change=-0.003in k=0.75", "moves toward the pinion"),
        ("backlash-move change=0in k=0.75", "moves not at all"),
        (
            "backlash-move change=0.009in per_notch=0.003in",
            "To open the mesh loosen the ring side 3 first, then tighten the opposite side the same 3.",
        ),
        (
            "backlash-move change=-0.009in per_notch=0.003in",
            "To close the mesh loosen the opposite side 3 first, then tighten the ring side the same 3.",
        ),
        ("backlash-move change=-0.010in per_notch=0.003in", "leaves the backlash 0.0010 in above"),
        ("backlash-move change=0.010in per_notch=0.003in", "leaves the backlash 0.0010 in below"),
        ("side-shims ring_side=0.2in opposite=0.2in move=-0.01in", "moves 0.0100 in toward the pinion"),
        ("side-shims ring_side=0.2in opposite=0.2in move=-0.01in", "unchanged, and with it the bearing preload"),
        ("side-shims ring_side=0.101in opposite=0.102in move=0.01in step=0.002in", "so the opposite side is none either"),
        ("depth layout=flange shim=1mm measured=60mm target=60mm", "The pinion stands at 60.00 mm, as wanted. So the shim stays as it is."),
        ("etch layout=flange etch_old=+2 etch_new=+2 etch_unit=0.001in sign=away", "both pinions want to sit at the same distance"),
        ("bore-centre plane_to_bore=40mm diameter=80mm", "The centre lies in the plane"),
        ("bore-centre plane_to_bore=40.1mm diameter=80mm", "on the housing side of the plane, to be subtracted from"),
        ("stack target=0.010in kit=0.005inx4", "exactly that"),
        ("convert value=1in to=mm", "exactly"),
        ("convert value=1lb-in to=N.m", "rounded to 6 decimals"),
        ("pair a=18lb-in b=18lb-ft", "about 12 times apart: lb-in and lb-ft"),
        ("pair a=0.30mm b=3.0mm", "about 10 times apart: a decimal place"),
    ],
)
def test_the_working_says_which_way(line: str, told: str) -> None:
    assert told in " ".join(answer(line).working)


@pytest.mark.parametrize(
    ("line", "doubt"),
    [
        ("etch layout=flange etch_old=-12 etch_new=+9 etch_unit=0.001in sign=away", "a change of 0.0210 in is large"),
        ("depth layout=flange shim=0.030in measured=2.650in target=2.625in", "passed a whole turn"),
        ("depth layout=flange shim=0.400in measured=2.625in target=2.625in", "a shim of 0.4000 in is unusual"),
        ("two-bores layout=flange left=0.30mm right=0.02mm", "the two bores differ by 0.28 mm"),
        ("side-total trial=0.118in play=0.250in preload=0.008in", "more than most dials travel"),
        ("side-total trial=0.118in play=0in preload=0.008in", "no play at all"),
        ("spacer inserted=3mm play=0mm preload=0.1mm", "no play at all"),
        ("backlash-move change=0.003in k=1.5", "k = 1.5 is unusual"),
        ("backlash-stats readings=0.008in,0.045in,0.009in", "0.0450 in at spot 2 is unusual"),
        ("runout readings=0.001in,0.001in,0.001in", "every reading is the same"),
        ("runout readings=0.001in,0.041in,0.001in", "0.0400 in is unusual"),
        ("spread before=13.900in after=13.930in low=0.002in high=0.009in", "0.0300 in of spread is large"),
        ("drag force=50lbf radius=1in", "a pull of 50 lbf is unusual"),
        ("drag force=12lbf radius=6.5in", "a drag of 78 lb-in is unusual"),
        ("total-drag pinion=0.5lb-in carrier=12lb-in ratio=4", "a drag of 0.5 lb-in is unusual"),
    ],
)
def test_an_unusual_number_is_worked_but_doubted(line: str, doubt: str) -> None:
    found = answer(line)
    assert any(doubt in told for told in found.doubts)
    assert all(f"Doubtful: {told}" in found.working for told in found.doubts)


@pytest.mark.parametrize(
    ("line", "figure"),
    [
        # Exact where it ends: 1 in = 25.4 mm.
        ("value=0.0001in to=mm", "0.00254"),
        ("value=0.00125in to=mm", "0.03175"),
        ("value=1in to=mm", "25.40"),
        ("value=0.1651mm to=in", "0.0065"),
        ("value=0.0in to=mm", "0.00"),
        ("value=0.0065in to=in", "0.0065"),
        # Six figures where it does not: NIST SP 811, appendix B.8, 1 lbf.in = 1.129848 E-01 N.m, 1 lbf = 4.448222 N.
        ("value=1lb-in to=N.m", "0.112985"),
        ("value=0.1lb-in to=N.m", "0.0112985"),
        ("value=-1lbf to=N", "-4.44822"),
        ("value=1um to=in", "0.0000393701"),
        ("value=200lb-ft to=N.m", "271.164"),
    ],
)
def test_a_conversion_is_exact_where_it_ends_and_right_to_six_figures_else(line: str, figure: str) -> None:
    assert result(f"convert {line}", "value").text == figure


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("convert value=5notch to=1", "5 notch is a count of notches; expected notch"),
        ("convert value=5deg to=mm", "5 deg is an angle; expected deg"),
        ("drag force=5deg radius=3in", "force=5deg: that is an angle; expected a force"),
    ],
)
def test_a_value_of_another_kind_is_named_as_what_it_is(line: str, told: str) -> None:
    assert told in refusal(line)


@pytest.mark.parametrize(("change", "notches", "direction"), [("0.001in", "0", "open"), ("-0.001in", "0", "close"), ("0in", "0", "none")])
def test_less_than_half_a_notch_is_no_notch(change: str, notches: str, direction: str) -> None:
    found = answer(f"backlash-move change={change} per_notch=0.003in")
    assert found.result == {"notches": Quantity.of(notches, "notch"), "direction": direction}
    assert not any("loosen" in told for told in found.working)


def test_a_kind_that_asks_for_another_type_than_its_key_reads_is_our_fault() -> None:
    with pytest.raises(TypeError, match="is not a Quantity"):
        Given("etch", {"shim": "flange"}).length("shim")


@pytest.mark.parametrize(("after", "verdict"), [("13.929in", "pass"), ("13.936in", "pass"), ("13.9289in", "fail"), ("13.9361in", "fail")])
def test_limits_of_the_spread_are_inclusive(after: str, verdict: str) -> None:
    assert answer(f"spread before=13.927in after={after} low=0.002in high=0.009in").result["verdict"] == verdict


@pytest.mark.parametrize(("shim", "allowed"), [("0.001in", True), ("0.500in", True), ("0.0009in", False), ("0.5001in", False)])
def test_a_shim_may_be_as_thin_or_as_thick_as_said(shim: str, allowed: bool) -> None:
    line = f"depth layout=flange shim={shim} measured=60mm target=60mm"
    if allowed:
        assert result(line, "shim") == Quantity.parse(shim)
    else:
        assert "impossible here" in refusal(line)


# What is refused


@pytest.mark.parametrize(
    ("line", "message"),
    [
        # an etch without its sign, its unit or its meaning
        ("etch layout=flange etch_old=2 etch_new=+5 etch_unit=0.001in sign=away", "etch_old=2: no sign; expected +2 or -2"),
        ("etch layout=flange etch_old=+2 etch_new=+5 sign=away", "etch_unit is missing: expected what the etch counts: 0.001in, 0.01mm or 0.001mm"),
        ("etch layout=flange etch_old=+2 etch_new=+5 etch_unit=0.001in", "sign is missing: expected what a plus wants: away"),
        ("etch etch_old=+2 etch_new=+5 etch_unit=0.001in sign=away", "layout is missing: expected where the depth shim sits"),
        ("etch layout=flange etch_new=+5 etch_unit=0.001in sign=away", "etch_old is missing"),
        ("etch layout=flange etch_old=+2 etch_new=m+5 etch_unit=0.01mm sign=away", "etch_new=m+5: expected the figure on the pinion with its sign"),
        ("etch layout=flange etch_old=+2 etch_new=+.15 etch_unit=0.01mm sign=away", "is it printed in millimetres"),
        ("etch layout=flange etch_old=+2 etch_new=+5 etch_unit=thou sign=away", "etch_unit=thou: no unit of that name; expected 0.001 in"),
        ("etch layout=flange etch_old=+2 etch_new=+5 etch_unit=in sign=away", "etch_unit=in: expected 0.001 in, 0.01 mm or 0.001 mm"),
        ("etch layout=flange etch_old=+2 etch_new=+5 etch_unit=0.001in sign=plus", "sign=plus: expected away or toward"),
        ("etch layout=cup etch_old=+2 etch_new=+5 etch_unit=0.001in sign=away", "layout=cup: expected flange, head-cone or head-cup"),
        ("target nominal=3.5in etch=+41 etch_unit=0.01mm sign=away", "etch: 41 is no etch in units of 0.01 mm"),
        ("two-bores layout=flange left=0.1mm right=0.1mm etch=+2", "etch_unit and sign missing: etch, etch_unit, sign go together"),
        ("chain mounting=100mm parts=99mm sign=away", "etch and etch_unit missing"),
        # units and shapes
        ("depth layout=flange shim=0.030 measured=2.6in target=2.6in", "shim=0.030: no unit; expected a length with its unit"),
        ("depth layout=flange shim=18lb-in measured=2.6in target=2.6in", "shim=18lb-in: that is a torque; expected a length"),
        ("depth layout=flange shim=thick measured=2.6in target=2.6in", "shim=thick: expected a length with its unit"),
        ("drag force=5 radius=3in", "force=5: no unit; expected a force with its unit, such as 5lbf or 12.7N"),
        ("runout readings=0.1mm,0.2,0.1mm", "value 2 ('0.2'): no unit"),
        ("runout readings=0.1mm,,0.1mm", "value 2 (''): expected a length"),
        ("convert value=18 to=N.m", "value=18: '18' is not a number with its unit"),
        ("convert value=18lb-in to=mm", "to=mm: 18 lb-in is a torque; expected lb-in, lb-ft, N·m"),
        ("pair a=1in b=1N.m", "a=1 in, b=1 N·m"),
        ("stack target=0.02in kit=0.005in", "'0.005in' is not a thickness and a count; expected such as 0.005inx4"),
        ("stack target=0.02in kit=", "kit=: '' is not a thickness and a count"),
        ("stack target=0.02in kit=0.005inx0", "kit: there is no shim in it"),
        ("side-total trial=1mm,1mm,1mm play=0.1mm preload=0.1mm", "3 values; expected 2 at most"),
        # impossible values
        ("depth layout=flange shim=30in measured=2.6in target=2.6in", "shim=30in: impossible here; expected 0.001 in to 0.500 in"),
        ("depth layout=flange shim=0.030in measured=-2.6in target=2.6in", "measured=-2.6in: impossible here; expected above 0 to"),
        ("depth layout=flange shim=0.030in measured=2.6in target=2.5in", "shim: the new shim would be 0.0300 in - 0.1000 in = -0.0700 in"),
        ("chain mounting=283.5mm parts=235mm", "= 48.50 mm for the shim: expected more than nothing and 12.70 mm at most; is a part missing?"),
        ("chain mounting=50mm parts=30mm,21mm", "mounting 50.00 mm is less than its parts"),
        ("feeler feeler=0.1mm constant=0.2mm", "trial_shim and feeler are less than etch and constant"),
        ("feeler feeler=0.2mm constant=0.2mm", "leave nothing for the shim"),
        ("bore-centre plane_to_bore=40mm diameter=40mm", "was a diameter taken for a radius?"),
        ("spacer inserted=1mm play=0.9mm preload=0.2mm", "inserted is used up by play, preload and settling"),
        ("side-shims ring_side=0.01in opposite=0.2in move=0.02in", "ring_side, opposite: the packs would be"),
        ("side-shims ring_side=0.1in opposite=0.2in backlash=0in target=0.008in k=0.7", "backlash=0in: zero is not a backlash"),
        ("backlash-move backlash=0.012in target=0in k=0.7", "target=0in: zero is not a backlash, the gears may be jammed"),
        ("backlash-move change=0.003in k=0", "k=0: impossible here; expected above 0 to 2"),
        ("backlash-move change=0.003in k=0.7in", "k=0.7in: expected a plain number, without a unit"),
        ("backlash-move change=0.003in per_notch=0in", "per_notch=0in: impossible here; expected above 0"),
        ("backlash-move change=1in k=0.7", "change=1in: impossible here; expected -0.1 in to 0.1 in"),
        ("backlash-stats readings=0.28in,0.30in,0.29in", "readings=0.28in,0.30in,0.29in: value 1 ('0.28in'): impossible here"),
        ("backlash-stats readings=0.008in", "expected three or more"),
        ("backlash-stats readings=0.008in,0.009in,0.008in low=0.010in high=0.006in", "low=0.010 in, high=0.006 in: expected low to be the smaller"),
        ("backlash-stats readings=0.008in,0.009in,0.008in judge=median", "judge=median: expected minimum, mean or all"),
        ("k pressure_angle=20 spiral_angle=35 ratio=0.27", "ratio=0.27: impossible here; expected ring teeth over pinion teeth"),
        ("k pressure_angle=20 spiral_angle=35 ratio=11/41", "ratio=11/41: impossible here"),
        ("k pressure_angle=20 spiral_angle=35 ring_teeth=9 pinion_teeth=37", "ring_teeth, pinion_teeth: 9 ring teeth to 37"),
        ("k pressure_angle=20 spiral_angle=35 ring_teeth=37.5 pinion_teeth=9", "ring_teeth=37.5: expected a whole number of teeth"),
        ("k pressure_angle=90 spiral_angle=35 ratio=4", "pressure_angle=90: expected an angle of 10 to 30 degrees"),
        ("k pressure_angle=20 spiral_angle=35mm ratio=4", "spiral_angle=35mm: expected an angle"),
        ("k pressure_angle=20 spiral_angle=steep ratio=4", "spiral_angle=steep: expected an angle"),
        ("drag force=-5lbf radius=3in", "force=-5lbf: expected a pull above 0"),
        ("drag force=200lbf radius=3in", "force=200 lbf, radius=3 in: no bearing here drags 600 lb-in"),
        ("total-drag pinion=300N.m carrier=12lb-in ratio=4.1", "pinion=300N.m: no bearing here drags 300 N·m; the same figure in N·cm is 3.0 N·m"),
        ("total-drag pinion=0lb-in carrier=12lb-in ratio=4.1", "pinion=0lb-in: expected more than nothing"),
        ("total-drag pinion=18lb-in carrier=-2lb-in ratio=4.1", "carrier=-2lb-in: a drag is never negative"),
        ("spread before=13.925in after=13.9250in low=0.002in high=0.009in", "before and after are the same to the last digit"),
        ("spread before=13.932in after=13.927in low=0.002in high=0.009in", "after is less than before"),
        ("spread before=13.927in after=13.932in low=0.009in high=0.002in", "expected low to be the smaller"),
        # keys
        ("depth layout=flange shim=0.030in depth=2.6in target=2.6in", "unknown key 'depth': expected layout, shim, measured, target, centre_offset"),
        ("depth layout=flange shims=0.030in measured=2.6in target=2.6in", "unknown key 'shims': did you mean shim?"),
        ("depth layout=flange shim=0.030in shim=0.031in measured=2.6in target=2.6in", "shim is given twice"),
        ("drag force=5lbf radius=3in diameter=6in", "expected radius, or diameter; got diameter and radius"),
        ("drag force=5lbf", "expected radius, or diameter"),
        ("backlash-move change=0.003in", "expected k, or pressure_angle and spiral_angle and ring_teeth and pinion_teeth, or per_notch"),
        ("backlash-move change=0.003in backlash=0.008in k=0.7", "expected backlash and target, or change; got backlash and change"),
        ("side-shims ring_side=0.1in opposite=0.2in backlash=0.012in target=0.008in", "expected move, or backlash and target and k"),
    ],
)  # fmt: skip
def test_bad_input_names_the_key_and_what_was_expected(line: str, message: str) -> None:
    assert message in refusal(line)


def test_all_problems_of_a_line_are_told_at_once() -> None:
    told = refusal("etch layout=cup old_shim=0.030 etch_old=2 etch_new=+5 colour=red")
    for part in ("layout=cup", "old_shim=0.030", "etch_old=2", "unknown key 'colour'", "etch_unit is missing", "sign is missing"):
        assert part in told


numbers = st.from_regex(r"[+-]?\d{0,9}\.?\d{0,9}(in|mm|um|lb-in|N|deg|inx4)?", fullmatch=True)
words = st.sampled_from(["flange", "head-cup", "away", "toward", "0.01mm", "0.001in", "minimum", "N.m"])


@given(st.data(), st.sampled_from(sorted(KINDS)))
def test_whatever_is_typed_is_answered_or_refused_in_one_printable_line(data: st.DataObject, kind: str) -> None:
    keys = data.draw(st.lists(st.sampled_from([key.name for key in KINDS[kind].keys]), unique=True))
    pairs = [f"{key}={data.draw(numbers | words | st.text(max_size=9))}" for key in keys]
    message = "answered"
    try:
        found = solve(kind, pairs)
        assert found.working
    except BadInputError as error:
        message = str(error)
    assert message.isprintable()


# Laws


etches = st.integers(-15, 15)


@given(st.sampled_from(["head-cone", "head-cup"]), st.sampled_from(["away", "toward"]), etches, etches)
def test_flange_and_head_side_seats_get_opposite_changes(layout: str, sign: str, old: int, new: int) -> None:
    marks = f"etch_old={old:+} etch_new={new:+} etch_unit=0.001in sign={sign}"
    flange, head = (result(f"etch layout={seat} {marks}", "change") for seat in ("flange", layout))
    assert flange.value == -head.value


@given(st.sampled_from(["flange", "head-cone", "head-cup"]), st.sampled_from(["away", "toward"]), etches, etches)
def test_the_pinion_exchanged_back_brings_the_old_shim_back(layout: str, sign: str, old: int, new: int) -> None:
    there = result(f"etch layout={layout} old_shim=0.060in etch_old={old:+} etch_new={new:+} etch_unit=0.001in sign={sign}", "shim")
    back = f"etch layout={layout} old_shim={there.text}in etch_old={new:+} etch_new={old:+} etch_unit=0.001in sign={sign}"
    assert result(back, "shim") == Quantity.parse("0.060in")


@given(st.integers(1, 400), st.integers(1, 400), st.sampled_from(["0.5", "0.667", "0.7", "0.75", "1.0"]))
def test_a_backlash_move_keeps_the_sum_of_the_side_shims(now: int, wanted: int, k: str) -> None:
    line = f"side-shims ring_side=12.00mm opposite=12.50mm backlash={now}um target={wanted}um k={k}"
    assert result(line, "total") == Quantity.parse("24.5mm")


@given(st.decimals(min_value=-100, max_value=100, places=4))
def test_inches_to_millimetres_and_back_is_the_identity(inches: object) -> None:
    there = result(f"convert value={inches}in to=um", "value")
    assert result(f"convert value={there.text}um to=in", "value") == Quantity.parse(f"{inches}in")


# Derived afresh with another library


@pytest.mark.parametrize(
    ("value", "to", "factor"),
    [
        ("1in", "mm", constants.inch / constants.milli),
        ("1lb-in", "N.m", constants.lbf * constants.inch),
        ("1lb-ft", "N.m", constants.lbf * constants.foot),
        ("1kgf.cm", "N.m", constants.kgf * constants.centi),
        ("1lbf", "N", constants.lbf),
    ],
)
def test_conversions_are_those_of_scipys_constants(value: str, to: str, factor: float) -> None:
    # CODATA and NIST values, as scipy.constants has them.
    found = result(f"convert value={value} to={to}", "value")
    assert float(found.value) == pytest.approx(factor, abs=0.51 * 10 ** int(found.value.as_tuple().exponent))


@given(st.integers(-300, 300), st.integers(-300, 300), etches, st.sampled_from([("flange", 1), ("head-cone", -1), ("head-cup", -1)]))
def test_two_bores_are_the_solution_of_their_equations(left: int, right: int, etch: int, seat: tuple[str, int]) -> None:
    """numpy solves for shim change and mean at once: mean = (left + right) / 2; mean + lay * change = etch (Mazda M-60 has the numbers)."""
    layout, lay = seat
    mean, change = np.linalg.solve([[1.0, 0.0], [1.0, lay]], [(left + right) / 2, etch * 10.0])
    line = f"two-bores layout={layout} left={left}um right={right}um etch={etch:+} etch_unit=0.01mm sign=away"
    assert number(line, "mean") * 1000 == pytest.approx(mean, abs=0.06)
    assert number(line, "change") * 1000 == pytest.approx(change, abs=0.06)


@given(st.integers(30_000, 60_000), st.integers(-500, 500))
def test_the_bores_centre_is_that_of_a_circle_fitted_to_its_wall(radius: int, offset: int) -> None:
    """Points on a wall whose centre lies `offset` below the plane of the caps (housing side); scipy fits a circle to them."""
    turns = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    across, height = radius * np.cos(turns), radius * np.sin(turns) - offset
    fit = least_squares(
        lambda p: np.hypot(across - p[0], height - p[1]) - p[2], [0.0, 0.0, radius * 0.9], xtol=1e-12, ftol=1e-12, gtol=1e-12
    )
    centre, found = fit.x[1], fit.x[2]
    line = f"bore-centre plane_to_bore={radius + offset}um cap_half={radius - offset}um"
    assert number(line, "radius") * 1000 == pytest.approx(found, abs=0.1)
    assert number(line, "centre_offset") * 1000 == pytest.approx(-centre, abs=0.1)


@given(st.integers(1000, 9000), st.integers(0, 900), st.integers(0, 50), st.integers(0, 20))
def test_the_spacer_is_where_the_settled_squeeze_is_the_wanted_one(inserted: int, play: int, preload: int, settling: int) -> None:
    """scipy finds the thickness at which the squeeze of the cones, less what settling takes, is the preload."""

    def squeeze_left(thickness: float) -> float:
        clearance = play - (inserted - thickness)
        return -clearance - settling - preload

    wanted = brentq(squeeze_left, 0, inserted)
    line = f"spacer inserted={inserted}um play={play}um preload={preload}um settling={settling}um"
    assert number(line, "shim") * 1000 == pytest.approx(wanted, abs=0.1)


@given(st.integers(5, 100), st.integers(0, 100), st.integers(30, 60), st.integers(6, 15))
def test_total_drag_takes_the_power_that_pinion_and_carrier_take(pinion: int, on_carrier: int, ring_teeth: int, pinion_teeth: int) -> None:
    """Power at one turn a second, in watts: what goes in at the pinion is used up by both pairs of bearings."""
    lb_in = constants.lbf * constants.inch
    speed = 2 * np.pi
    used = pinion * lb_in * speed + on_carrier * lb_in * speed * pinion_teeth / ring_teeth
    total = number(f"total-drag pinion={pinion}lb-in carrier={on_carrier}lb-in ratio={ring_teeth}/{pinion_teeth}", "total")
    assert total * lb_in * speed == pytest.approx(used, abs=0.006 * lb_in * speed)


@given(st.integers(1, 200), st.integers(10, 80), st.integers(50, 150), st.integers(2, 8))
def test_a_yoke_reading_is_one_angle_seen_at_two_radii(reading: int, yoke: int, ring: int, ratio: int) -> None:
    turned = np.arctan2(reading / 1000, yoke)
    wanted = np.tan(turned) / ratio * ring
    found = number(f"yoke-backlash reading={reading}um yoke_radius={yoke}mm ring_radius={ring}mm ratio={ratio}", "backlash")
    assert found == pytest.approx(wanted, abs=0.6e-4)


@given(st.lists(st.integers(-200, 200), min_size=3, max_size=12))
def test_runout_is_the_first_line_of_numpys_spectrum(readings: list[int]) -> None:
    line = "runout readings=" + ",".join(f"{reading}um" for reading in readings)
    spectrum = np.fft.rfft(readings)
    assert number(line, "tir") * 1000 == pytest.approx(np.ptp(readings), abs=0.01)
    assert number(line, "first_harmonic") * 1000 == pytest.approx(2 * abs(spectrum[1]) / len(readings), abs=0.06)
    if abs(spectrum[1]) > 1:
        wanted = np.degrees(-np.angle(spectrum[1]))
        assert abs((number(line, "high_spot") - wanted + 180) % 360 - 180) <= 0.06
