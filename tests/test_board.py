"""What the shop's board is told: by the state alone, through a real broker, and never at the bench's cost."""

import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.bench import new_bench
from assistant.board import Board, Told, address_of, told
from assistant.cli.app import app
from assistant.core.errors import BadInputError
from assistant.core.inputs import Quit, Said
from assistant.files import read_job
from assistant.journal.lines import LinesJournal
from tests.broker import Broker, Subscriber, free_port, until
from tests.conftest import JOB
from tests.engine import command
from tests.screen.jobs import BUILDS, walk
from tests.table import Table


def message(table: Table) -> Told:
    return told(table.state, "bench-3", "2026-11-25T10:00:00.000+00:00")


def test_it_tells_the_step_what_is_waited_for_and_the_last_number_against_the_manuals_limits(table: Table) -> None:
    table.until("preload.drag")
    now = message(table)
    assert (now.state, now.bench, now.job, now.title, now.verdict) == ("working", "bench-3", "job", "invented light axle", None)
    assert now.step is not None
    assert (now.step.id, now.step.title) == ("preload.drag", "Pinion drag, turning")
    assert now.wait is not None
    assert (now.wait.kind, now.wait.quantity, now.wait.unit) == ("reading", "pinion_drag", "lb-in")
    table.say("22 lb-in")
    table.say("yes")
    assert message(table).last is not None
    assert message(table).last.model_dump() == {  # type: ignore[union-attr]
        "id": table.state.readings[-1].id, "quantity": "pinion_drag", "value": "22", "unit": "lb-in", "spot": None,
        "limits": "inside", "void": None,
    }  # fmt: skip


@pytest.mark.parametrize(("drag", "limits"), [("16 lb-in", "inside"), ("29 lb-in", "inside"), ("14 lb-in", "below"), ("31 lb-in", "above")])
def test_limits_count_inclusive(table: Table, drag: str, limits: str) -> None:
    """16 to 29 lb-in in the job file; a limit itself is inside (docs/machine.md, the verdict)."""
    table.answers["pinion_drag"] = [drag]
    table.until(lambda t: bool(t.state.readings) and t.state.readings[-1].quantity == "pinion_drag")
    last = message(table).last
    assert last is not None
    assert (last.value, last.limits) == (drag.split()[0], limits)


def test_what_lost_its_ground_is_named_until_it_is_read_again(table: Table) -> None:
    table.until("backlash.measure")
    table.say("go back to pinion drag turning")
    table.say("yes")
    assert "pinion_drag" in message(table).void
    assert "pinion_depth" in message(table).void
    table.until("backlash.measure")
    assert message(table).void == ()


def test_a_caution_a_hold_a_rest_and_the_end_are_told(table: Table) -> None:
    table.until(lambda t: t.state.caution_open)
    assert message(table).caution in ("torque", "press", "heat", "lift", "spring", "chemical")
    table.say("understood")
    table.say("hold")
    assert message(table).state == "held"
    table.say("resume")
    table.quit()
    rests = message(table)
    assert (rests.state, rests.wait) == ("resting", None)
    table.resume()
    assert message(table).state == "working"
    table.finish()
    over = message(table)
    assert (over.state, over.verdict, over.failed, over.wait) == ("over", "in spec", (), None)


@pytest.mark.parametrize("build", BUILDS)
def test_every_state_of_every_kind_of_axle_has_a_message_and_it_reads_back(build: object) -> None:
    for state in walk(build):  # type: ignore[arg-type]
        now = told(state, "b", "t")
        assert Told.model_validate_json(now.text()) == now


@pytest.mark.parametrize("wrong", ["http://shop/board", "mqtt:///board", "mqtt://host/a/#", "mqtt://host:port/a", "board"])
def test_what_is_no_board_says_what_was_expected(wrong: str) -> None:
    with pytest.raises(BadInputError, match=r"--board .*expected mqtt://HOST\[:PORT\]/TOPIC"):
        address_of(wrong)


def test_without_a_topic_the_bench_is_told_by_the_computers_name() -> None:
    assert address_of("mqtt://broker").topic == f"benchhand/board/{socket.gethostname()}"


# ---- a real broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as made:
        made.start()
        yield made


def url(broker: Broker) -> str:
    return f"mqtt://127.0.0.1:{broker.port}/shop/bench-3"


def states(listener: Subscriber) -> list[str]:
    return [line["state"] for line in listener.heard]


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def test_the_command_tells_the_board_and_a_bench_that_is_killed_is_away(broker: Broker, job_file: Path, tmp_path: Path) -> None:
    listener = Subscriber(broker, "shop/bench-3")
    with command("run", "--job", str(job_file), "--headless", "--store", str(tmp_path / "store"), "--board", url(broker)) as running:
        until(lambda: states(listener) == ["working"])
        running.send({"say": "done"})
        until(lambda: len(listener.heard) > 1)
        assert listener.heard[-1]["step"]["id"] != listener.heard[0]["step"]["id"]
        running.process.send_signal(signal.SIGKILL)
        running.finish()
    until(lambda: states(listener)[-1] == "away")
    away = listener.heard[-1]
    assert (away["job"], away["title"]) == (listener.heard[0]["job"], "invented light axle")
    assert (away["last"], away["step"], away["wait"]) == (None, None, None)  # nothing stale is left for a board to show
    listener.close()


def test_who_asks_later_gets_the_newest_and_a_job_that_was_left_rests(broker: Broker, job_file: Path, tmp_path: Path) -> None:
    with command("run", "--job", str(job_file), "--headless", "--store", str(tmp_path / "store"), "--board", url(broker)) as running:
        running.send({"say": "done"})
        running.send({"quit": True})
        running.finish()
    listener = Subscriber(broker, "shop/bench-3")
    until(lambda: states(listener) == ["resting"])
    listener.close()


def test_a_broker_that_is_away_costs_the_bench_nothing_and_is_told_when_it_comes(tmp_path: Path, job_file: Path) -> None:
    notes: list[str] = []
    with Broker(tmp_path / "broker") as broker:
        bench, first = new_bench(read_job(job_file), LinesJournal(tmp_path / "store", "job", new=True), lambda: "0")
        board = Board(address_of(url(broker)), bench.state, lambda: "t", notes.append)
        board.watch(bench.state, first)
        until(lambda: bool(notes))
        effects = bench.give(Said("done"))
        board.watch(bench.state, effects)
        board.note("The dial has gone quiet.", "warn")
        board.note("only told", "info")
        broker.start()
        listener = Subscriber(broker, "shop/bench-3")
        until(lambda: bool(listener.heard))
        # Only the newest is told: what the board missed is in the journal.
        assert len(listener.heard) == 1
        assert listener.heard[0]["trouble"] == "The dial has gone quiet."
        broker.stop()
        broker.start()
        # A broker that goes down in order says that its benches are away; the bench says otherwise as soon as it is back.
        until(lambda: len(listener.heard) > 2 and states(listener)[-1] == "working")
        effects = bench.give(Quit())
        board.watch(bench.state, effects)
        board.close()
        until(lambda: states(listener)[-1] == "resting")
        listener.close()
        bench.journal.close()
    assert notes == [f"no broker for the board at 127.0.0.1:{broker.port}: the job goes on without it, and tells it when it is there"]


def test_a_board_that_never_is_does_not_hold_up_the_end(tmp_path: Path, job_file: Path) -> None:
    bench, first = new_bench(read_job(job_file), LinesJournal(tmp_path / "store", "job", new=True), lambda: "0")
    board = Board(address_of(f"mqtt://127.0.0.1:{free_port()}/a"), bench.state, lambda: "t", lambda _: None)
    board.watch(bench.state, first)
    began = time.monotonic()
    board.close()
    assert time.monotonic() - began < 10
    bench.journal.close()


def test_a_wrong_board_leaves_no_job_behind(job_file: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["run", "--job", str(job_file), "--store", str(tmp_path / "store"), "--board", "http://x"])
    assert done.exit_code == 2
    assert "--board 'http://x', expected mqtt://HOST[:PORT]/TOPIC" in done.stderr
    assert not list(tmp_path.glob("store/*.jsonl"))
