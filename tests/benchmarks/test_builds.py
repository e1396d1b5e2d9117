"""Whole builds: the measures are worked out from the truth of the axle, not from what the engine says of itself."""

import pytest

from assistant.benchmarks import builds
from assistant.benchmarks.builds import Expected, Played, Totals, build_of, limits, main, play, untrue, wrong_way
from assistant.core import decide, moves
from assistant.virtual_axle import Build, VirtualAxle

FLANGE = Build()


def change(part: str, value: str, unit: str = "in", quantity: str = "pinion_depth") -> dict[str, object]:
    return {"part": part, "change": {"value": value, "unit": unit}, "expect": {"quantity": quantity}}


def test_the_limits_of_depth_carry_the_etch() -> None:
    """Target and tolerance as the axle's manual prints them, and the etch added where plus means away."""
    axle = VirtualAxle(FLANGE, 3)
    target = float(str(axle.spec["pinion_depth"]["target"])) + axle.etch_new / 1000
    assert limits(axle, "pinion_depth") == pytest.approx((target - 0.002, target + 0.002))


def test_an_axle_as_it_comes_is_not_in_spec_in_truth() -> None:
    axle = VirtualAxle(FLANGE, 3)
    assert any(text.startswith("pinion_drag") for text in untrue(axle)), "its nut is off: no drag to speak of"


def test_a_depth_move_away_from_where_the_pinion_should_stand_is_a_wrong_way_move() -> None:
    axle = VirtualAxle(FLANGE, 3)
    needed = (axle.truth.wanted_distance - axle.mounting_distance()) / 25.4  # a thicker pack under a flange moves it out
    sign = 1 if needed > 0 else -1
    assert wrong_way(axle, [change("pinion_shims", f"{-0.004 * sign:.4f}")])
    assert not wrong_way(axle, [change("pinion_shims", f"{needed:.4f}")])


def test_a_ring_move_that_opens_what_is_too_open_is_a_wrong_way_move() -> None:
    axle = VirtualAxle(FLANGE, 3)
    axle.tighten("caps")
    low, high = (limit * 25.4 for limit in limits(axle, "backlash"))
    opens = axle.mean_backlash() < (low + high) / 2
    right, wrong = ("3", "-3") if opens else ("-3", "3")
    assert wrong_way(axle, [change("opposite_adjuster", wrong, "notch", "backlash")])
    assert not wrong_way(axle, [change("opposite_adjuster", right, "notch", "backlash")])


@pytest.mark.parametrize("policy", builds.POLICIES)
def test_each_policy_plays_a_job_to_its_end_and_leaves_the_engine_as_it_was(policy: str) -> None:
    played = play(VirtualAxle(build_of("head-cone,spacer-shims,side-shims", 500_009), 500_009, constants=builds.OTHER), policy)
    assert played.trouble == ""
    assert played.verdict == "in spec"
    assert played.untrue == ()
    assert played.wrong_way == []
    assert played.assemblies >= 1
    assert played.readings > 20
    assert vars(decide)["correction"] is moves.correction


def test_the_same_seed_is_the_same_build() -> None:
    one, other = (play(VirtualAxle(build_of("flange,crush-sleeve,adjusters", 7), 7)) for _ in range(2))
    assert (one.inputs, one.readings, one.assemblies, one.turns) == (other.inputs, other.readings, other.assemblies, other.turns)


def test_the_sums_of_the_table_are_those_of_the_builds() -> None:
    good, false = (
        Played("a", 1, verdict="in spec", readings=10),
        Played("a", 2, verdict="in spec", untrue=("x",), readings=10, assemblies=3),
    )
    good.expected = [Expected("backlash", 1.0, 2.0, 0.9, [1.5], True), Expected("backlash", 1.0, 2.0, 0.5, [2.5], False)]
    good.false_alarms = ["one"]
    row = Totals([good, false]).row()
    assert (row["in spec"], row["false in spec"], row["assemblies"], row["readings"]) == (1, 1, 2.0, 20)
    assert row["readings in low-high"] == 0.5
    assert row["brier"] == pytest.approx((0.1**2 + 0.5**2) / 2)
    assert row["brier of base rate"] == 0.25


def test_the_command_prints_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    layout = "flange,crush-sleeve,adjusters"
    assert main(["--builds", "1", "--layouts", layout]) == 0
    clean = capsys.readouterr().out
    assert f"| {layout} ours | 1 |" in clean
    assert "assemblies, ours to knowing:" in clean


def test_an_unknown_layout_is_refused_by_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--layouts", "flange"])
    assert stopped.value.code == 2
    assert "layout 'flange': expected one of flange,spacer-shims,adjusters" in capsys.readouterr().err
