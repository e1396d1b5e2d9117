"""The job on the bench: the signs of the layouts, the manual's limits and the units in which things are said."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.axle import Axle, Job, Limits, Parts
from assistant.core.quantities import Quantity
from tests.conftest import job_with


def q(text: str) -> Quantity:
    return Quantity.parse(text)


def axle(pinion_shims: str = "flange", side: str = "left") -> Axle:
    return Axle(pinion_shims, "spacer-shims", "adjusters", side, "face-milled", 37, 9)


@pytest.mark.parametrize(
    ("layout", "sign", "source"),
    [
        (
            "flange",
            1,
            "Spicer Drive Axles Service Manual p. 14; Doosan D120 p. 26: shims between cage flange and housing move the pinion out",
        ),
        (
            "head-cone",
            -1,
            "TM 9-2320-280-34 p. 19-12; Infiniti M35: under the head bearing's inner ring a thicker shim moves the pinion in",
        ),
        ("head-cup", -1, "Meritor MM-15103 p. 25: behind the head bearing's cup a thicker shim moves the pinion in"),
    ],
)
def test_a_thicker_shim_moves_the_pinion_as_its_seat_says(layout: str, sign: int, source: str) -> None:
    assert axle(layout).depth_sign == sign, source


def test_the_opposite_side_is_the_other_one() -> None:
    assert (axle(side="left").opposite_side, axle(side="right").opposite_side) == ("right", "left")


def test_limits_are_inclusive_and_exact_across_units() -> None:
    limits = Limits(q("0.0060in"), q("0.0100in"))
    assert limits.allows(q("0.0060in"))
    assert limits.allows(q("0.0100in"))
    assert not limits.allows(q("0.00599in"))
    assert not limits.allows(q("0.0101in"))
    assert limits.allows(q("0.2540mm"))  # 0.0100 in is 0.2540 mm exactly (an inch is 25.4 mm: international yard and pound, 1959)
    assert not limits.allows(q("0.25401mm"))
    assert Limits(None, q("0.0040in")).allows(q("0in"))
    assert Limits(q("140lb-ft"), None).allows(q("1500N·m"))


@given(st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6), st.integers(0, 10**6))
def test_a_size_is_allowed_as_its_quantity_is(value: int, low: int, width: int) -> None:
    limits = Limits(q(f"{low}um"), q(f"{low + width}um"))
    assert limits.allows(q(f"{value}um")) == limits.allows_base(Fraction(value * 1000)) == (low <= value <= low + width)


def test_the_mark_shifts_the_depth_by_its_sign_and_its_meaning() -> None:
    """A plus that means away wants a longer mounting distance (Dana/Spicer, Isuzu); toward, a shorter one (TM 9-2320-289-34)."""
    job = Job("t", "in", axle(), depth_target=q("2.6250in"), depth_tolerance=q("0.0020in"))

    def limits(etch: str | None, sign: str | None) -> tuple[Quantity | None, Quantity | None]:
        mark = None if etch is None else Quantity.of(etch, "0.001 in")
        found = Job(
            "t", "in", axle(), depth_target=job.depth_target, depth_tolerance=job.depth_tolerance, parts=Parts(None, mark, sign)
        ).limits("pinion_depth")  # fmt: skip
        assert found is not None
        return found.low, found.high

    assert limits(None, None) == (q("2.6230in"), q("2.6270in"))
    assert limits("+3", "away") == (q("2.6260in"), q("2.6300in"))
    assert limits("-3", "away") == (q("2.6200in"), q("2.6240in"))
    assert limits("+3", "toward") == (q("2.6200in"), q("2.6240in"))
    assert limits("-3", "toward") == (q("2.6260in"), q("2.6300in"))
    assert limits("+3", None) == (q("2.6230in"), q("2.6270in"))  # without its meaning a mark shifts nothing; it is asked for


def test_a_depth_needs_its_target_and_its_tolerance() -> None:
    assert Job("t", "in", axle(), depth_target=q("2.6250in")).limits("pinion_depth") is None
    assert Job("t", "in", axle(), depth_tolerance=q("0.0020in")).limits("pinion_depth") is None


def test_needed_is_every_quantity_that_has_a_spec() -> None:
    assert set(job_with().needed) == {"pinion_drag", "pinion_depth", "backlash", "total_drag", "ring_runout", "nut_torque", "cap_torque"}


def test_lengths_are_said_in_the_jobs_unit_and_torques_in_the_manuals() -> None:
    job = job_with()
    assert job.unit_of("backlash") == "in"
    assert job.unit_of("pinion_drag") == "lb-in"
    assert job.unit_of("baseline_total_drag") == "lb-in"
    assert job.unit_of("nut_torque") == "lb-ft"
    assert job.unit_of("etch_new") == "0.001 in"

    def without(data: dict[str, Any]) -> None:
        del data["spec"]["nut_torque"], data["spec"]["pinion_drag"]
        data["spec"]["seal_drag"] = {"high": "0.3", "unit": "N·m"}

    assert job_with(without).unit_of("nut_torque") == "lb-ft"  # as the caps, not as the drags
    assert job_with(without).unit_of("pinion_drag") == "lb-in"
    assert job_with(without).unit_of("seal_drag") == "N·m"
    metric = job_with(lambda data: (data.update(units="mm"), data["axle"].pop("notch_lead_in"), data.pop("spec"), data["parts"].clear()))
    assert metric.unit_of("backlash") == "mm"
    assert metric.unit_of("pinion_drag") == "N·m"
    assert metric.unit_of("cap_torque") == "N·m"
    assert metric.unit_of("etch_new") == "0.01 mm"
