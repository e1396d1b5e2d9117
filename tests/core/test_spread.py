"""Caps that open too little or too far: which way the preload goes, by how much, and when nothing helps."""

from typing import Any

import pytest

from assistant.core.quantities import Quantity
from tests.conftest import job_with
from tests.table import Table


def _judged(data: dict[str, Any]) -> None:
    """.006 to .013 in: the row of one maker (Meritor, docs/trade.md section 9)."""
    data["spec"]["spread"] = {"low": "0.0060", "high": "0.0130", "unit": "in"}


def _changes(table: Table) -> dict[str, str]:
    return {line["move"]["part"]: line["move"]["change"]["value"] for line in table.batch if "move" in line}


def test_caps_that_open_too_little_are_tightened_on_both_sides_by_what_the_count_from_no_play_tells() -> None:
    """Two notches from no play opened .004 in, so .002 a notch: to the middle of .0095 it is 2.75 notches more, one or two a side.

    The ring gear stays, because both sides turn alike; the second reading is then in.
    """
    table = Table(job_with(_judged), {"spread": ["0.0040 in", "0.0080 in"]}).until("carrier.judge_spread")
    assert "carrier.spread" in {line["step"]["id"] for batch in table.batches for line in batch if "step" in line}
    changes = _changes(table)
    assert set(changes) == {"ring_side_adjuster", "opposite_adjuster"}
    assert len(set(changes.values())) == 1
    assert changes["ring_side_adjuster"] in ("1", "2")
    (first, *_) = table.lines("move")
    assert first["expect"]["quantity"] == "spread"
    assert Quantity.of("0.0060", "in") <= Quantity.of(first["expect"]["value"], "in") <= Quantity.of("0.0130", "in")
    assert "opened too little" in table.spoken
    table.say("done")
    assert table.finish()["verdict"] == "in spec"
    assert table.standing("spread") == ["0.0080 in"]
    assert table.replayed() == table.state


def test_caps_that_open_too_far_are_loosened() -> None:
    table = Table(job_with(_judged), {"spread": ["0.0180 in", "0.0100 in"]}).until("carrier.judge_spread")
    assert set(_changes(table).values()) <= {"-1", "-2"}
    assert "opened too far" in table.spoken
    assert table.finish()["verdict"] == "in spec"


def test_two_readings_tell_how_steeply_the_caps_open() -> None:
    """From 2 to 4 notches it went from .0030 to .0040 in, so .0005 a notch: .006 is at least four notches further, more than one step of ours."""
    table = Table(job_with(_judged), {"spread": ["0.0030 in", "0.0040 in", "0.0085 in"]}).until("carrier.judge_spread")
    first = int(_changes(table)["ring_side_adjuster"])
    table.say("done")
    table.until("carrier.judge_spread")
    assert int(_changes(table)["ring_side_adjuster"]) >= max(2, first)
    assert table.finish()["verdict"] == "in spec"


@pytest.mark.parametrize("carrier", ["side-shims", "case-shims"])
def test_between_side_shims_both_packs_get_thicker(carrier: str) -> None:
    def sides(data: dict[str, Any]) -> None:
        _judged(data)
        data["axle"]["carrier"] = carrier
        data["axle"].pop("notch_lead_in", None)
        data["spec"].pop("carrier_preload")
        data["parts"]["side_kit"] = [{"thickness": size, "count": 8} for size in ("0.0300", "0.0050", "0.0020", "0.0010")]

    packs = {"old_stack_thickness ring_side_shims": "0.1000 in", "old_stack_thickness opposite_shims": "0.1000 in"}
    table = Table(job_with(sides), {**packs, "spread": ["0.0040 in", "0.0090 in"]}).until("carrier.judge_spread")
    changes = _changes(table)
    assert set(changes) == {"ring_side_shims", "opposite_shims"}
    assert all(0 < float(change) <= 0.010 for change in changes.values())
    assert table.finish()["verdict"] == "in spec"


def test_a_spread_that_no_preload_mends_is_told_and_ends_out_of_spec() -> None:
    table = Table(job_with(_judged), {"spread": ["0.0001 in"]})
    end = table.finish()
    assert end["verdict"] == "out of spec"
    assert end["failed"] == ["spread"]
    assert "spread" in table.state.unreachable
