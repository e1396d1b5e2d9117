"""Any line in, one batch out: the machine interface on JSON lines, and what nonsense may never do to it."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.bench import Bench, new_bench
from assistant.core.inputs import Bad, Pedal, Quit, Said, Taken
from assistant.core.quantities import Quantity
from assistant.headless import answer, input_from, run
from tests.conftest import job_with
from tests.table import plain
from tests.test_bench import FullDisk

Line = dict[str, Any]


def told(bench: Bench, text: str) -> list[Line]:
    """The batch for a line, as JSON text carries it."""
    return [json.loads(json.dumps(effect.json(), allow_nan=False)) for effect in answer(bench, text)]


# ---- lines that are inputs


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ({"say": "six and a half thou"}, Said("six and a half thou")),
        (
            {"gauge": {"channel": "dial", "value": "0.0065", "unit": "in"}},
            Taken("dial", Quantity.of("0.0065", "in")),
        ),
        ({"gauge": {"channel": "torque", "value": "2.10", "unit": "N.m"}}, Taken("torque", Quantity.of("2.10", "N·m"))),
        ({"gauge": {"channel": "depth", "value": "18", "unit": "lbf.in"}}, Taken("depth", Quantity.of("18", "lb-in"))),
        ({"pedal": "press"}, Pedal()),
        ({"quit": True}, Quit()),
    ],
)
def test_every_line_of_the_interface_is_its_input(line: Line, meant: object) -> None:
    assert input_from(line) == meant


def test_a_gauge_reading_keeps_every_digit(bench: Bench) -> None:
    batch = told(bench, '{"gauge": {"channel": "dial", "value": "0.01200", "unit": "in"}, "at": 3.250}')
    assert next(line["recorded"] for line in batch if "recorded" in line)["value"] == "0.01200"


# ---- lines that are none

NONSENSE = [
    ("", "the line is not JSON"),
    ("done", "the line is not JSON"),
    ("[" * 100_000, "the line is not JSON"),
    ('{"say": ' + "9" * 5000 + "}", "the line is not JSON"),
    ("[]", "the line is no object"),
    ("null", "the line is no object"),
    ("{}", "an empty object is no input"),
    ('{"say": 1}', '"say" is 1, expected words in quotes'),
    ('{"say": "done", "quit": true}', "'say', 'quit' is no input"),
    ('{"shout": "done"}', "'shout' is no input"),
    ('{"\\ud800": 1}', "is no input"),
    ('{"pedal": true}', '"pedal" is True, expected "press"'),
    ('{"quit": 1}', '"quit" is 1, expected true'),
    ('{"say": "done", "at": "noon"}', "\"at\" is 'noon', expected seconds"),
    ('{"say": "done", "at": true}', '"at" is True, expected seconds'),
    ('{"say": "done", "at": NaN}', '"at" is nan, expected seconds'),
    ('{"audio": 3}', '"audio" is 3, expected the path of a clip'),
    ('{"audio": "no such clip.wav"}', "\"audio\" is 'no such clip.wav', which is no file"),
    ('{"audio": "\\u0000"}', "which is no file"),
    ('{"audio": "\\ud800.wav"}', "which is no file"),
    ('{"gauge": null}', '"gauge" is null, expected {"channel": "dial"'),
    ('{"gauge": {"channel": "dial", "value": 0.0065, "unit": "in"}}', '"gauge" is {"channel": "dial", "value": "0.0065", "unit": "in"}'),
    ('{"gauge": {"channel": "dial", "value": "0.0065"}}', '"gauge" is {"channel": "dial"'),
    ('{"gauge": {"channel": "spoon", "value": "0.0065", "unit": "in"}}', "gauge channel 'spoon' is not known, expected one of dial"),
    ('{"gauge": {"channel": "dial", "value": "0,0065", "unit": "in"}}', "gauge reading: '0,0065' is not a plain decimal number"),
    ('{"gauge": {"channel": "dial", "value": "6.5e-3", "unit": "in"}}', "gauge reading: '6.5e-3' is not a plain decimal number"),
    ('{"gauge": {"channel": "dial", "value": "NaN", "unit": "in"}}', "gauge reading: 'NaN' is not a plain decimal number"),
    ('{"gauge": {"channel": "dial", "value": "' + "9" * 5000 + '", "unit": "in"}}', "gauge reading: a number of 5000 characters"),
    ('{"gauge": {"channel": "dial", "value": "0.0065", "unit": "furlong"}}', "gauge reading: unit 'furlong' is not known"),
    (
        '{"gauge": {"channel": "dial", "value": "0.0065", "unit": "N·m"}}',
        "zero point zero zero six five newton metres. That is no backlash",
    ),
    ('{"gauge": {"channel": "dial", "value": "-0.0065", "unit": "in"}}', "too small to be true"),
    ('{"pedal": "press"}', "No gauge has a settled reading"),
]


@pytest.mark.parametrize(("text", "says"), NONSENSE, ids=[text[:40] for text, _ in NONSENSE])
def test_nonsense_gives_an_error_that_says_what_was_seen_and_the_wait_that_still_stands(bench: Bench, text: str, says: str) -> None:
    before, wait = plain(bench.state), told(bench, '{"say": "repeat"}')[-1]
    batch = told(bench, text)
    errors = [line["error"]["text"] for line in batch if "error" in line]
    assert len(errors) == 1
    assert says in errors[0]
    assert batch[-1] == wait
    assert plain(bench.state) == {**before, **{name: plain(getattr(bench.state, name)) for name in ("misses", "repeats", "refused")}}


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
keyed = st.dictionaries(st.sampled_from(("say", "gauge", "pedal", "quit", "audio", "at", "other")), json_values, max_size=3)


@settings(max_examples=150, deadline=None)
@given(texts=st.lists(st.one_of(st.text(max_size=40), json_values.map(json.dumps), keyed.map(json.dumps)), max_size=6))
def test_whatever_the_lines_hold_each_gives_one_whole_batch(texts: list[str]) -> None:
    bench, _ = new_bench(job_with(), FullDisk(), lambda: "0")
    for text in texts:
        batch = told(bench, text)
        assert [line for line in batch if "wait" in line or "end" in line] == [batch[-1]]
        if "end" in batch[-1]:
            break


@settings(max_examples=200, deadline=None)
@given(data=st.dictionaries(st.text(max_size=6) | st.sampled_from(("say", "gauge", "pedal", "quit", "audio")), json_values, max_size=2))
def test_an_object_is_an_input_or_a_bad_one_never_an_exception(data: dict[str, Any]) -> None:
    assert isinstance(input_from(data), Said | Taken | Pedal | Quit | Bad)


# ---- the loop


def test_each_input_is_answered_by_a_batch_and_the_end_of_the_input_rests_the_job(bench: Bench) -> None:
    out: list[Line] = []
    status = run(bench, (), ['{"say": "why"}\n', "\n", "rubbish\n"], lambda line: out.append(json.loads(line)))
    assert status == 0
    assert [next(iter(line)) for line in out] == ["speak", "wait", "error", "speak", "wait", "speak", "end"]
    assert out[2]["error"]["line"] == 3  # the line of the input it is about, blank ones counted
    assert out[-1] == {"end": {"verdict": "stopped", "job": "job", "failed": []}}


def test_quit_and_the_end_of_the_input_are_the_same(bench: Bench) -> None:
    out: list[Line] = []
    assert run(bench, (), ['{"quit": true}\n', '{"say": "why"}\n'], lambda line: out.append(json.loads(line))) == 0
    assert out[-1]["end"]["verdict"] == "stopped"
    assert not any("wait" in line for line in out)


def test_stop_and_its_yes_end_a_job_as_stopped(bench: Bench) -> None:
    out: list[Line] = []
    assert run(bench, (), ['{"say": "stop"}\n', '{"say": "yes"}\n', '{"say": "why"}\n'], lambda line: out.append(json.loads(line))) == 0
    assert [line["wait"]["for"] for line in out if "wait" in line] == ["confirm"]
    assert out[-1]["end"]["verdict"] == "stopped"


def test_a_full_disk_is_told_as_an_error_and_the_job_goes_on_when_there_is_room() -> None:
    disk = FullDisk()
    bench, _ = new_bench(job_with(), disk, lambda: "0")
    for words in ("done", "still together", "0.012 in"):
        bench.give(Said(words))
    wait = told(bench, '{"say": "repeat"}')[-1]
    disk.has_room = False
    batch = told(bench, '{"say": "yes"}')
    assert "Nothing was accepted" in batch[0]["error"]["text"]
    assert batch[-1] == wait
    disk.has_room = True
    assert any("recorded" in line for line in told(bench, '{"say": "yes"}'))


def test_seconds_on_the_callers_clock_may_be_any_number(bench: Bench) -> None:
    for at in ("0", "-3", "12.50", "1e3"):
        assert "error" not in told(bench, f'{{"say": "why", "at": {at}}}')[0]
