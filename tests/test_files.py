"""Job files, procedures and phrases: read whole, or refused with everything that is wrong, each with its place."""

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.axle import Job, KitShim
from assistant.core.errors import BadInputError
from assistant.core.events import from_json, to_json
from assistant.core.quantities import Quantity
from assistant.files import FileProblemsError, check, job_from, phrases_for, procedure_for, read_job
from tests.conftest import JOB, job_with
from tests.strategies import job_tables
from tests.table import Table, plain

Data = dict[str, Any]


def q(text: str) -> Quantity:
    return Quantity.parse(text)


def problems(change: Callable[[Data], object]) -> tuple[str, ...]:
    """What is wrong with the job of `conftest` after `change`."""
    data = tomllib.loads(JOB)
    change(data)
    with pytest.raises(FileProblemsError) as refused:
        job_from(data, "job.toml")
    return refused.value.problems


# ---- what a job file says


def test_the_job_of_the_interface_is_read_to_the_digit() -> None:
    job = job_with()
    backlash = job.limits("backlash")
    assert backlash is not None
    assert (backlash.low, backlash.high, backlash.variation, backlash.judge) == (q("0.0060in"), q("0.0100in"), q("0.0030in"), "all")
    assert str(backlash.low) == "0.0060 in"
    drag = job.limits("pinion_drag")
    assert drag is not None
    assert (drag.seal, drag.bearings) == ("out", "new")
    cap = job.limits("cap_torque")
    assert cap is not None
    assert (cap.low, cap.high) == (q("75lb-ft"), q("75lb-ft"))
    assert (job.depth_target, job.depth_tolerance, job.carrier_preload) == (q("2.6250in"), q("0.0020in"), Quantity.of("2", "notch"))
    assert (job.parts.etch_old, job.parts.etch_new) == (Quantity.of("+1", "0.001 in"), Quantity.of("-2", "0.001 in"))
    assert job.parts.shim_kit[0] == KitShim(q("0.0050in"), 4)
    assert job.backlash_spots == 3


def test_units_may_be_spelt_as_other_programs_do() -> None:
    def change(data: Data) -> None:
        data["spec"]["pinion_drag"]["unit"] = "lbf.in"
        data["spec"]["total_drag"] = {"low": "2.7", "high": "4.5", "unit": "N.m"}

    job = job_with(change)
    assert job.unit_of("pinion_drag") == "lb-in"
    assert job.unit_of("total_drag") == "N·m"


def test_any_quantity_of_the_interface_may_have_limits_and_spots_may_be_told() -> None:
    def change(data: Data) -> None:
        data["spec"]["seal_drag"] = {"high": "3", "unit": "lb-in"}
        data["spec"]["backlash_spots"] = 8

    job = job_with(change)
    limits = job.limits("seal_drag")
    assert limits is not None
    assert (limits.low, limits.high) == (None, q("3lb-in"))
    assert job.backlash_spots == 8


def test_a_mark_without_a_count_of_its_size_is_one_shim_and_a_kit_may_be_empty() -> None:
    job = job_with(lambda data: data["parts"].update(shim_kit=[{"thickness": "0.0031"}], preload_kit=[]))
    assert job.parts.shim_kit == (KitShim(q("0.0031in"), 1),)
    assert job.parts.preload_kit == ()


@settings(max_examples=40, deadline=None)
@given(table=job_tables())
def test_a_valid_job_begins_whatever_it_leaves_out(table: Data) -> None:
    job = job_from(copy.deepcopy(table), "job.toml")
    bench = Table(job)
    assert bench.step == "intake.manual"
    assert plain(from_json(to_json(bench.events[0]))) == plain(bench.events[0])
    assert bench.wait["for"] == "done"


# ---- what is refused, and how


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d.pop("units"), "units: is missing"),
        (lambda d: d.update(units="cm"), "units: expected 'in' or 'mm', not 'cm'"),
        (lambda d: d.pop("axle"), "axle: is missing"),
        (lambda d: d.update(colour="red"), "colour: is not known here"),
        (lambda d: d["axle"].update(pinion_shims="cage"), "axle.pinion_shims: expected 'flange', 'head-cone' or 'head-cup', not 'cage'"),
        (lambda d: d["axle"].update(wheels=4), "axle.wheels: is not known here"),
        (lambda d: d["axle"].update(ring_teeth=9, pinion_teeth=37), "ring_teeth is 9, expected more than the pinion's 37"),
        (lambda d: d["axle"].update(ring_teeth="37"), "axle.ring_teeth:"),
        (lambda d: d["axle"].update(ring_teeth=0), "axle.ring_teeth:"),
        (lambda d: d["axle"].update(notch_lead_in="0"), "axle.notch_lead_in:"),
        (lambda d: d["axle"].update(notch_lead_in=0.0025), "axle.notch_lead_in: 0.0025 is not a decimal in quotes"),
        (lambda d: d["axle"].update(pressure_angle="20"), "axle: spiral_angle is missing, expected both angles of the teeth or none"),
        (lambda d: d["axle"].update(pressure_angle="20", spiral_angle="80"), "axle.spiral_angle:"),
        (lambda d: d["spec"]["backlash"].update(low=0.006), "spec.backlash.low: 0.006 is not a decimal in quotes"),
        (lambda d: d["spec"]["backlash"].update(low="0,006"), "spec.backlash.low: '0,006' is not a plain decimal number"),
        (lambda d: d["spec"]["backlash"].update(low="-0.006"), "spec.backlash.low:"),
        (lambda d: d["spec"]["backlash"].update(low="0.020"), "high 0.0100 is below low 0.020"),
        (lambda d: d["spec"]["backlash"].pop("unit"), "spec.backlash.unit: is missing"),
        (lambda d: d["spec"]["backlash"].update(unit="lb-in"), "spec.backlash.unit: lb-in, expected a unit of length"),
        (lambda d: d["spec"]["backlash"].update(unit="furlong"), "spec.backlash.unit: unit 'furlong' is not known"),
        (lambda d: d["spec"]["backlash"].update(judge="median"), "spec.backlash.judge: expected 'all', 'minimum' or 'mean', not 'median'"),
        (lambda d: d["spec"].update(backlash={"unit": "in"}), "has neither low nor high"),
        (lambda d: d["spec"]["cap_torque"].update(low="70"), "value stands beside low or high"),
        (lambda d: d["spec"].update(wobble={"high": "1", "unit": "in"}), "spec.wobble: not known, expected a quantity of the interface"),
        (lambda d: d["spec"].update(backlash="0.006"), "spec.backlash:"),
        (lambda d: d.update(spec=3), "spec:"),
        (lambda d: d["spec"]["pinion_depth"].update(tolerance="0"), "spec.pinion_depth.tolerance:"),
        (lambda d: d["spec"]["pinion_depth"].update(unit="lb-in"), "spec.pinion_depth.unit: lb-in, expected a unit of length"),
        (lambda d: d["spec"]["carrier_preload"].update(unit="in"), "spec.carrier_preload.unit: in, expected a unit of notches"),
        (lambda d: d["spec"].update(backlash_spots=2), "spec.backlash_spots: 2, expected 3 to 16 places"),
        (lambda d: d["spec"].update(backlash_spots=True), "spec.backlash_spots: True, expected 3 to 16 places"),
        # Possible for no axle: a unit slip (bounds of docs/trade.md, section 3).
        (lambda d: d["spec"]["backlash"].update(high="0.65"), "spec.backlash: 0.65 in is more than is possible"),
        (lambda d: d["spec"]["pinion_drag"].update(unit="lb-ft"), "spec.pinion_drag: 29 lb-ft is more than is possible"),
        (lambda d: d["parts"]["etch_new"].update(value="2"), "parts.etch_new.value: '2' has no sign, expected + or -"),
        (lambda d: d["parts"]["etch_new"].update(unit="in"), "parts.etch_new.unit: expected '0.001 in', '0.01 mm' or '0.001 mm', not 'in'"),
        # A serial number or a date read as a mark (docs/trade.md, F04).
        (lambda d: d["parts"]["etch_new"].update(value="+312"), "is too large for a mark: a serial number or a date?"),
        (lambda d: d["parts"].update(etch_sign="up"), "parts.etch_sign: expected 'away' or 'toward', not 'up'"),
        (lambda d: d["parts"].update(shim_kit=[{"thickness": "30"}]), "parts.shim_kit.1: 30 in is no shim, expected less than 2 in"),
        (lambda d: d["parts"].update(shim_kit=[{"thickness": "0.0300", "count": -1}]), "parts.shim_kit.1.count:"),
        (lambda d: d["parts"].update(shim_kit=[{"thickness": "0.0300", "unit": "N"}]), "is no shim"),
        (lambda d: d["parts"].update(shim_kit="many"), "parts.shim_kit:"),
    ],
)  # fmt: skip
def test_each_slip_is_told_with_its_place_what_was_seen_and_what_was_expected(change: Callable[[Data], object], says: str) -> None:
    found = problems(change)
    assert any(says in problem for problem in found), found


def test_every_problem_is_told_at_once() -> None:
    def change(data: Data) -> None:
        data["units"] = "cm"
        data["axle"]["ring_gear_side"] = "up"
        data["spec"]["backlash"]["low"] = "six"
        data["spec"]["wobble"] = {}
        data["parts"]["etch_new"]["value"] = "2"

    found = problems(change)
    for place in ("units", "axle.ring_gear_side", "spec.backlash.low", "spec.wobble", "parts.etch_new.value"):
        assert any(problem.startswith(place) for problem in found), (place, found)


tables = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(-(10**6), 10**6), st.floats(), st.text(max_size=6), st.sampled_from(("in", "0.006", "-1"))
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(("units", "axle", "spec", "parts", "backlash", "low", "unit", "shim_kit", "value")), inner, max_size=4
        ),
    ),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None)
@given(data=st.dictionaries(st.sampled_from(("title", "units", "axle", "spec", "parts")), tables, max_size=5))
def test_whatever_a_file_holds_it_is_read_or_refused_never_an_exception(data: Data) -> None:
    _read_or_refused(data)


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_a_good_file_with_anything_in_one_place_is_read_or_refused(data: st.DataObject) -> None:
    table = tomllib.loads(JOB)
    holder: Any = table
    while True:
        key = data.draw(st.sampled_from(sorted(holder)) if isinstance(holder, dict) else st.integers(0, len(holder) - 1))
        if not isinstance(holder[key], dict | list) or not holder[key] or data.draw(st.booleans()):
            break
        holder = holder[key]
    holder[key] = data.draw(tables)
    _read_or_refused(table)


def _read_or_refused(data: Data) -> None:
    told: tuple[str, ...] = ()
    try:
        job: Job | None = job_from(data, "job.toml")
    except FileProblemsError as refused:
        job, told = None, refused.problems
    assert (job is None) == bool(told)


def test_a_byte_order_mark_before_a_job_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8-sig")  # as some editors of Windows keep it
    assert read_job(path) == job_with()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d.update(axle=[1]), "axle: expected a table, not [1]"),
        (lambda d: d.update(parts="none"), "parts: expected a table, not 'none'"),
        (lambda d: d.update(title=5), "title: expected text in quotes, not 5"),
        (lambda d: d["parts"].update(shim_kit={"thickness": "0.005"}), "parts.shim_kit: expected a list of tables"),
        (lambda d: d["parts"]["shim_kit"][0].update(count="4"), "parts.shim_kit.1.count: expected a whole number, not '4'"),
    ],
)
def test_what_was_expected_is_told_in_the_words_of_a_file(change: Callable[[Data], object], says: str) -> None:
    assert says in problems(change)


def test_files_that_are_none_are_refused_by_name(tmp_path: Path) -> None:
    for name, content, says in (
        ("none.toml", None, r"none\.toml: cannot be read: No such file or directory"),
        ("broken.toml", b"units = ", r"broken\.toml: is not TOML"),
        ("latin.toml", "title = 'Zähne'".encode("latin-1"), r"latin\.toml: is not TOML"),
        ("empty.toml", b"", r"empty\.toml: units: is missing; axle: is missing"),
    ):
        if content is not None:
            (tmp_path / name).write_bytes(content)
        with pytest.raises(FileProblemsError, match=says):
            read_job(tmp_path / name)


def test_a_file_problem_is_bad_input_for_the_command_line() -> None:
    assert issubclass(FileProblemsError, BadInputError)


# ---- procedures and phrases


def test_a_layouts_procedure_is_made_once_and_keeps_its_checksum() -> None:
    axle = job_with().axle
    assert procedure_for(axle) is procedure_for(axle)
    assert len(procedure_for(axle).checksum) == 64


def test_phrases_are_whole_and_fit_the_procedure() -> None:
    phrases = phrases_for()
    assert phrases.language == "en"
    check(procedure_for(job_with().axle), phrases)
    assert all(text.title and text.say and text.why for text in phrases.steps.values())


def test_a_language_that_is_not_there_is_not_made_up() -> None:
    with pytest.raises(FileNotFoundError):
        phrases_for("xx")
