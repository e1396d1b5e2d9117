"""Whole jobs on the virtual axle, through the headless contract: every layout, in both units, spoken and from gauges."""

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from assistant.technician import Technician
from assistant.virtual_axle import CARRIER_LAYOUTS, PINION_LAYOUTS, PRELOAD_LAYOUTS, Build, Fault, VirtualAxle
from tests.driver import Record, play, resumed
from tests.engine import InProcess, command

LAYOUTS = [
    Build(pinion, preload, carrier, ("in", "mm")[(number + other) % 2])
    for number, pinion in enumerate(PINION_LAYOUTS) for other, preload in enumerate(PRELOAD_LAYOUTS) for carrier in CARRIER_LAYOUTS
]  # fmt: skip


def named(build: Build) -> str:
    return f"{build.pinion_shims}, {build.preload}, {build.carrier}, {build.units}"


def job(build: Build, seed: int, folder: Path, **how: float) -> Record:
    axle = VirtualAxle(build, seed)
    with InProcess(axle.job_toml(), folder) as engine:
        return play(engine.send, engine.first, axle, power_cut=engine.resume, cuts=how.get("cuts", 0.0), restless=how.get("restless", 0.0))


@pytest.mark.parametrize("build", LAYOUTS, ids=named)
def test_a_sound_build_of_every_layout_ends_in_spec_and_breaks_no_promise(build: Build, tmp_path: Path) -> None:
    record = job(build, 2, tmp_path)
    assert record.problems == []
    assert record.verdict == "in spec"


@pytest.mark.parametrize("build", LAYOUTS[::4], ids=named)
def test_asides_slips_of_the_tongue_and_power_cuts_change_no_outcome(build: Build, tmp_path: Path) -> None:
    record = job(build, 1, tmp_path, restless=0.2, cuts=0.05)
    assert record.problems == []
    assert record.verdict == "in spec"


def test_a_depth_taken_from_the_parting_plane_is_judged_from_the_bores_centre(tmp_path: Path) -> None:
    axle = VirtualAxle(Build(), 58)
    with InProcess(axle.job_toml(), tmp_path) as engine:
        record = play(engine.send, engine.first, axle, technician=Technician(axle, gauge_on_plane=True))
    assert record.problems == []
    assert record.verdict == "in spec"
    assert any(taken.from_plane for taken in record.taken)


@pytest.mark.parametrize("name", ["decimal-slip@read:backlash#3", "decimal-slip@read:pinion_depth", "wrench-unit@read:total_drag"])
def test_a_slip_of_a_factor_is_doubted_before_it_is_recorded(name: str, tmp_path: Path) -> None:
    axle = VirtualAxle(Build(), 4, [Fault.parse(name)])
    with InProcess(axle.job_toml(), tmp_path) as engine:
        record = play(engine.send, engine.first, axle)
    assert record.problems == []
    assert record.verdict == "in spec"
    assert list(record.noticed) == [axle.faults[0].name]
    slip = next(taken for taken in record.taken if taken.shown.fault is not None)
    assert slip.recorded_as is None


def test_the_command_plays_a_job_is_stopped_and_goes_on_where_it_was(tmp_path: Path) -> None:
    axle = VirtualAxle(Build("head-cone", "spacer-shims", "side-shims"), 3)
    path = tmp_path / "job.toml"
    path.write_text(axle.job_toml(), encoding="utf-8")
    store = str(tmp_path / "store")
    hands = Technician(axle)
    with command("run", "--job", str(path), "--headless", "--store", store) as running:
        record = play(running.send, running.first, axle, technician=hands, max_inputs=60)
        assert record.problems == [f"no end after 60 inputs; last wait {record.batches[-1][-1]}"]
        end = running.send({"quit": True})[-1]
        assert end["end"]["verdict"] == "stopped"
        assert running.finish() == 0
    with command("resume", "--headless", "--store", store) as running:
        assert resumed(running.first, record) == []
        rest = play(running.send, running.first, axle, technician=hands)
        assert rest.verdict == "in spec"
        assert running.finish() == 0


BAD_LINES: list[dict[str, Any]] = [
    {}, {"say": 5}, {"gauge": {"channel": "dial", "value": 0.0065, "unit": "in"}}, {"gauge": {"channel": "nose", "value": "1", "unit": "in"}},
    {"gauge": {"channel": "dial", "value": "1", "unit": "furlong"}}, {"pedal": "lift"}, {"say": "banana"}, {"audio": "no-such-clip.wav"},
    {"say": "done", "more": 1},
]  # fmt: skip


def test_bad_lines_change_nothing(tmp_path: Path) -> None:
    axle = VirtualAxle(Build(), 1)
    with InProcess(axle.job_toml(), tmp_path) as engine:
        wait = engine.first[-1]
        for line in BAD_LINES:
            batch = engine.send(line)
            assert "error" in batch[0], line
            assert batch[-1] == wait, line


@pytest.mark.parametrize("build", LAYOUTS[::5], ids=named)
def test_etches_that_the_job_file_leaves_out_are_asked_for(build: Build, tmp_path: Path) -> None:
    axle = VirtualAxle(build, 7)
    text = axle.job_toml(etches=False)
    assert "etch_new" not in tomllib.loads(text)["parts"]
    with InProcess(text, tmp_path) as engine:
        record = play(engine.send, engine.first, axle)
    assert record.problems == []
    assert record.verdict == "in spec"
    assert {"etch_old", "etch_new"} <= {kept.quantity for kept in record.kept}


@pytest.mark.parametrize("off", [0.15, -0.15])
@pytest.mark.parametrize("build", [one for one in LAYOUTS if one.carrier == "adjusters"], ids=named)
def test_a_manual_without_a_depth_is_worked_by_the_pattern_in_every_layout(build: Build, off: float, tmp_path: Path) -> None:
    """The pinion stands 0.15 mm (.006 in) from where it prints in the middle: small steps of the right sign bring it within one of them.

    Positive: it has to come out, which is a thicker pack under a flange and a thinner one at the head bearing (docs/trade.md, section 4).
    """
    axle = VirtualAxle(build, 3 if off > 0 else 4)
    toml = re.sub(r"(?m)^pinion_depth = .*$", 'pinion_depth = "by pattern"', axle.job_toml())
    axle.spec.pop("pinion_depth")
    axle.truth = replace(axle.truth, wanted_distance=axle.truth.wanted_distance + off)
    with InProcess(toml, tmp_path) as engine:
        record = play(engine.send, engine.first, axle)
    assert record.problems == []
    assert record.verdict == "in spec"
    assert all(kept.quantity != "pinion_depth" for kept in record.kept)
    first, *steps = (move for move in record.moves if move["part"] == "pinion_shims")
    assert "pack takes both marks in" in first["why"]
    assert all((float(step["change"]["value"]) > 0) == (off * build.lay > 0) for step in steps)
    assert abs(axle.mounting_distance() - axle.truth.wanted_distance) < 0.1
