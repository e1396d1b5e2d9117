"""What the next reading should be: it moves with what is fitted, as the layout says, and learns from every reading that was right."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core import events as ev
from assistant.core import predictions as pr
from assistant.core.belief import priors
from assistant.core.evolve import evolve
from assistant.core.quantities import Quantity
from assistant.core.state import Fitted, State
from tests.conftest import job_with
from tests.table import Table

Change = Callable[[dict[str, Any]], object]


def q(text: str) -> Quantity:
    return Quantity.parse(text)


def fitted(state: State, **totals: str) -> State:
    """The state with other packs or counts fitted."""
    packs = {pack.part: pack for pack in state.fitted}
    for part, total in totals.items():
        packs[part] = Fitted(part, q(total), ())
    return replace(state, fitted=tuple(packs.values()))


def expected(state: State, quantity: str, spot: int = 0) -> float:
    law = pr.law(state, quantity, spot)
    assert law is not None
    return law.mean


def spread(state: State, quantity: str, spot: int = 0) -> float:
    law = pr.law(state, quantity, spot)
    assert law is not None
    return law.spread


def read_once(table: Table, step: str) -> State:
    """The state after a step's first reading: before it, only what was fitted first is thought of."""
    table.until(step)
    table.answer()
    table.answer()
    return table.state


# ---- sizes


@given(st.integers(-(10**6), 10**6), st.sampled_from(("in", "mm", "lb-in", "N·m")))
def test_a_size_becomes_its_quantity_again(whole: int, unit: str) -> None:
    places = {"in": 5, "mm": 4, "lb-in": 2, "N·m": 3}[unit]
    quantity = Quantity(Decimal(whole).scaleb(-places), unit)
    assert pr.quantity_of(pr.size(quantity), unit, places) == quantity


def test_sizes_are_micrometres_and_newton_metres() -> None:
    """An inch is 25 400 micrometres (international inch); a pound-inch 0.112985 N·m (NIST SP 811, appendix B.8)."""
    assert pr.size(q("1in")) == 25_400.0
    assert pr.size(q("1lb-in")) == pytest.approx(0.1129848, rel=1e-6)
    assert pr.size(Quantity.of("3", "notch")) == 3.0


def test_places_lie_evenly_round_the_ring() -> None:
    assert [pr.degrees_of(spot, 4) for spot in (1, 2, 3, 4)] == [0, 90, 180, 270]
    assert pr.degrees_of(0, 0) == 0


# ---- each belief moves the right way


def test_a_thicker_pack_between_the_cones_is_expected_to_drag_less(table: Table) -> None:
    state = read_once(table, "preload.drag")
    thin, thick = (expected(fitted(state, preload_shims=pack), "pinion_drag") for pack in ("0.0195 in", "0.0215 in"))
    assert thin > expected(state, "pinion_drag") > thick


@pytest.mark.parametrize(("layout", "sign"), [("flange", 1), ("head-cone", -1), ("head-cup", -1)])
def test_a_thicker_pinion_pack_is_expected_to_move_the_depth_one_for_one_by_its_seat(layout: str, sign: int) -> None:
    """Signs as in tests/core/test_axle.py; one for one is geometry (docs/trade.md, 4.2)."""
    table = Table(job_with(lambda data: data["axle"].update(pinion_shims=layout)))
    state = read_once(table, "depth.depth")
    now = state.pack("pinion_shims")
    assert now is not None
    more = Quantity(now.total.value + Decimal("0.0050"), "in")
    change = expected(fitted(state, pinion_shims=str(more)), "pinion_depth") - expected(state, "pinion_depth")
    assert change == pytest.approx(sign * 0.0050 * 25_400, rel=1e-6)


def test_the_angles_of_the_teeth_foretell_how_backlash_follows_the_ring() -> None:
    """2 tan 20° sin(atan 37/9) / cos 35° = 0.8635 (geometry of the pitch cones, docs/trade.md 4.3, worked out by hand)."""

    def told(data: dict[str, Any]) -> None:
        data["axle"] |= {"pressure_angle": "20", "spiral_angle": "35"}

    state = read_once(Table(job_with(told)), "backlash.measure")
    two_away = fitted(state, ring_side_adjuster="-1 notch", opposite_adjuster="3 notch")
    change = expected(two_away, "backlash", 1) - expected(state, "backlash", 1)
    assert change / (2 * 0.0025 * 25_400) == pytest.approx(0.8635, abs=0.005)
    assert pr.k_ring_before(state).mean == pytest.approx(0.8635, abs=0.001)


def test_backlash_is_expected_to_follow_the_ring_by_about_seven_tenths(table: Table) -> None:
    """.001 in of ring movement is about .0007 of backlash (docs/trade.md, 4.3 and its published factors)."""
    state = table.until("pattern.drive").state
    two_away = fitted(state, ring_side_adjuster="-1 notch", opposite_adjuster="3 notch")
    change = expected(two_away, "backlash", 1) - expected(state, "backlash", 1)
    ring = 2 * 0.0025 * 25_400
    assert 0.5 < change / ring < 0.95


def test_one_adjuster_alone_moves_the_ring_half_as_far(table: Table) -> None:
    """docs/machine.md: moving one adjuster alone moves the ring half as far and changes preload."""
    state = table.until("pattern.drive").state
    both = pr.ring_away(state, pr.fitted_now(fitted(state, ring_side_adjuster="-1 notch", opposite_adjuster="3 notch")))
    one = pr.ring_away(state, pr.fitted_now(fitted(state, ring_side_adjuster="-1 notch", opposite_adjuster="1 notch")))
    assert one == pytest.approx(both / 2)


def test_side_shims_move_the_ring_by_half_their_difference() -> None:
    table = Table(job_with())
    packs = (("ring_side_shims", q("0.1420in")), ("opposite_shims", q("0.1430in")))
    shifted = (("ring_side_shims", q("0.1350in")), ("opposite_shims", q("0.1500in")))
    # docs/trade.md, invented job A: seven thousandths over from one side to the other moves the ring by seven.
    moved = pr.ring_away(table.state, shifted) - pr.ring_away(table.state, packs)
    assert moved == pytest.approx(0.0070 * 25_400)
    assert sum(pr.sides(packs)) == pytest.approx(0.2850 * 25_400) == pytest.approx(sum(pr.sides(shifted)))


def test_total_drag_is_pinion_and_seal_and_the_carriers_share(table: Table) -> None:
    """docs/trade.md, 4.7: total = pinion + carrier / ratio (+ seal); a new seal adds 20 N·cm (BMW E36 type K pages)."""
    state = table.until("final.total_drag").state
    with_pinion = expected(state, "total_drag")
    drag = state.latest("pinion_drag")
    assert drag is not None
    assert drag.value is not None
    assert with_pinion > pr.size(drag.value) + priors.SEAL.mean
    seal_in = replace(state, job=job_with(lambda data: data["spec"]["pinion_drag"].update(seal="in")))
    assert with_pinion - expected(seal_in, "total_drag") == pytest.approx(priors.SEAL.mean, abs=1e-9)


# ---- learning


def test_after_a_reading_the_same_pack_is_expected_to_read_the_same(table: Table) -> None:
    table.until("preload.drag")
    first = spread(table.state, "pinion_drag")
    table.say("24 lb-in")
    table.say("yes")
    again = evolve(table.state, ev.StepsUndone(("preload.drag",), "test"))
    assert expected(again, "pinion_drag") == pytest.approx(pr.size(q("24lb-in")), rel=0.06)
    assert spread(again, "pinion_drag") < first / 2


def test_two_packs_teach_how_stiff_the_bearings_are() -> None:
    table = Table(job_with(), {"pinion_drag": ["12 lb-in", "17 lb-in", "22 lb-in"]}).until("preload.drag")
    table.answer()
    table.answer()
    table.until("preload.drag")
    one = table.state
    guessed = spread(fitted(one, preload_shims="0.0185 in"), "pinion_drag")
    table.answer()
    table.answer()
    known = evolve(table.state, ev.StepsUndone(("preload.drag",), "test"))
    assert spread(fitted(known, preload_shims="0.0185 in"), "pinion_drag") < guessed


def test_a_wrong_reading_teaches_nothing_and_a_void_one_does(table: Table) -> None:
    table.until("preload.drag")
    before = expected(table.state, "pinion_drag")
    table.say("28 lb-in")
    table.say("yes")
    drag = table.state.latest("pinion_drag")
    assert drag is not None
    for why, learnt in (("wrong", before), ("changed", pr.size(q("28lb-in")))):
        state = evolve(evolve(table.state, ev.Voided((drag.id,), why, "test")), ev.StepsUndone(("preload.drag",), "test"))
        assert expected(state, "pinion_drag") == pytest.approx(learnt, rel=0.05), why


def test_a_reading_that_is_being_corrected_says_nothing_of_its_correction(table: Table) -> None:
    table.until("preload.drag")
    before = expected(table.state, "pinion_drag")
    table.say("28 lb-in")
    table.say("yes")
    drag = table.state.latest("pinion_drag")
    assert drag is not None
    assert expected(evolve(table.state, ev.Correcting(drag.id)), "pinion_drag") == pytest.approx(before, rel=1e-6)


def test_the_next_place_is_better_known_than_the_first(table: Table) -> None:
    table.until("backlash.measure")
    first = spread(table.state, "backlash", 1)
    table.answer()
    table.answer()
    assert spread(table.state, "backlash", 2) < first / 2


# ---- what nothing is known of


@pytest.mark.parametrize("quantity", ["nut_torque", "cap_torque", "baseline_backlash", "shim_thickness", "etch_new", "spread"])
def test_nothing_is_predicted_of_what_no_belief_is_kept_of(table: Table, quantity: str) -> None:
    assert pr.predict(table.until("final.total_drag").state, quantity, table.state.job.unit_of(quantity)) is None


def test_nothing_is_predicted_before_there_is_anything_to_go_by(table: Table) -> None:
    for quantity in ("pinion_drag", "pinion_depth", "total_drag"):
        assert pr.law(table.state, quantity) is None


def test_a_prediction_is_told_in_the_unit_of_the_wait_with_a_spread_above_zero() -> None:
    def metric(data: dict[str, Any]) -> None:
        data["units"] = "mm"
        data["axle"]["notch_lead_mm"] = "0.0635"
        del data["axle"]["notch_lead_in"]
        data["parts"].update(shim_kit=[{"thickness": "0.10", "count": 9}], preload_kit=[{"thickness": "0.05", "count": 9}])

    answers = {
        "old_stack_thickness pinion_shims": "0.76 mm", "old_stack_thickness preload_shims": "0.50 mm", "baseline_backlash": "0.30 mm",
        "plane_to_bore": "41.27 mm", "bore_diameter": "82.54 mm", "pinion_depth": "66.63 mm", "ring_runout": "0.05 mm",
    }  # fmt: skip
    table = Table(job_with(metric), answers).until("backlash.measure")
    predicted = table.wait["predicted"]
    assert table.wait["unit"] == "mm"
    assert Decimal(predicted["spread"]) > 0
    assert Decimal("0.01") < Decimal(predicted["value"]) < Decimal("1")


@pytest.mark.parametrize("crush", [False, True])
@pytest.mark.parametrize("layout", ["flange", "head-cone", "head-cup"])
def test_every_measured_wait_of_a_whole_job_carries_what_is_predicted(layout: str, *, crush: bool) -> None:
    def change(data: dict[str, Any]) -> None:
        data["axle"]["pinion_shims"] = layout
        del data["parts"]["etch_new"]
        if crush:
            data["axle"]["preload"] = "crush-sleeve"
            del data["spec"]["nut_torque"], data["parts"]["preload_kit"]

    table = Table(job_with(change))
    seen = set()
    while table.end is None:
        if table.wait["for"] == "reading":
            predicted = table.wait["predicted"]
            assert Decimal(predicted["spread"]) > 0, table.wait
            seen.add(table.wait["quantity"])
        table.answer()
    assert {"etch_new", "plane_to_bore", "bore_diameter", "ring_runout", "cap_torque", "baseline_backlash", "pinion_drag"} <= seen


def test_before_anything_is_known_the_manual_says_what_to_expect_and_one_size_the_other(table: Table) -> None:
    table.until("depth.bore_diameter")
    assert table.wait["predicted"]["value"] == "3.2500", "twice from the plane to the bore, 1.6250"
    table.until("carrier.runout")
    assert table.wait["predicted"] == {"value": "0.0020", "spread": "0.00100"}, "half of the most that the manual allows"
    assert pr.predict(table.state, "ring_runout", "in") is None, "nothing of this axle: no reading is doubted for it"


def test_a_runout_that_was_read_is_foretold_when_the_case_has_been_out(table: Table) -> None:
    """Ten times what the same ring gear showed before is asked about, in the manual's range or not."""
    table.until("carrier.runout")
    table.say("0.0005 in")
    table.say("yes")
    law = pr.law(table.state, "ring_runout")
    assert law is not None
    assert law.mean == pytest.approx(12.7)
    table.say("go back to carrier.runout")
    table.say("yes")
    while table.wait.get("quantity") != "ring_runout":
        table.answer()
    assert table.wait["predicted"] == {"value": "0.0005", "spread": "0.00080"}
    table.say("0.0040 in")
    assert table.wait["for"] == "reading"
