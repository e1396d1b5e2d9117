"""`benchhand run` and `benchhand resume` as another program drives them: processes of their own, JSON lines, exit statuses."""

import json
import os
import resource
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from assistant.bench import new_bench
from assistant.cli.run import store_folder
from assistant.core.errors import BadInputError
from assistant.files import read_job
from assistant.headless import answer
from assistant.journal.lines import LinesJournal
from assistant.own_words import NO_OWN_WORDS, own_words
from gauges.known import known_gauges, settings_file
from tests.conftest import JOB, job_with
from tests.engine import command
from tests.table import Table

Line = dict[str, Any]
BEGIN = ({"say": "done"}, {"say": "still together"}, {"say": "0.012 in"}, {"say": "yes"})


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def run(*arguments: str | Path, lines: tuple[Line, ...] = (), **environment: str) -> subprocess.CompletedProcess[str]:
    """The command with these lines on its standard input, to its end."""
    return subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        input="".join(json.dumps(line) + "\n" for line in lines),
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False, env={**os.environ, **environment},
    )  # fmt: skip


def printed(done: subprocess.CompletedProcess[str]) -> list[Line]:
    """Every line of standard output; each has to be one JSON object."""
    lines = [json.loads(text) for text in done.stdout.splitlines()]
    assert all(isinstance(line, dict) for line in lines)
    return lines


def test_before_any_input_one_batch_is_printed_and_the_end_of_the_input_rests_the_job(job_file: Path, tmp_path: Path) -> None:
    done = run("run", "--job", job_file, "--headless", "--store", tmp_path / "store")
    lines = printed(done)
    assert done.returncode == 0
    assert done.stderr == ""
    assert next(iter(lines[0])) == "step"
    assert next(line for line in lines if "wait" in line)["wait"]["for"] == "done"
    assert lines[-1]["end"]["verdict"] == "stopped"


def begun(store: Path, job_id: str, *lines: Line) -> list[Line]:
    """A job that this process begins and leaves; gives all that was printed."""
    journal = LinesJournal(store, job_id, new=True)
    bench, first = new_bench(job_with(), journal, lambda: "0")
    effects = [*first, *(effect for line in lines for effect in answer(bench, json.dumps(line)))]
    journal.close()
    return [effect.json() for effect in effects]


def test_an_empty_data_home_is_the_same_as_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("BENCHHAND_STORE", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", "")
    assert store_folder(None) == tmp_path / ".local" / "share" / "benchhand"


def test_a_user_without_a_home_is_told_to_name_the_store_and_with_it_works(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def homeless(path: str) -> str:
        return path

    for name in ("BENCHHAND_STORE", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "BENCHHAND_SETTINGS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(os.path, "expanduser", homeless)  # as Python does where neither HOME nor the user is known
    with pytest.raises(BadInputError, match="there is no home folder to keep jobs in: say --store DIR"):
        store_folder(None)
    assert store_folder(str(tmp_path)) == tmp_path
    assert known_gauges(settings_file()) == {}
    assert own_words(settings_file(), "en") == NO_OWN_WORDS


@pytest.mark.parametrize("encoding", ["utf-8:strict", "ascii:strict", "cp1252:strict"])
def test_lines_are_utf_8_whatever_the_locale_and_a_byte_that_is_none_is_a_bad_line(encoding: str, job_file: Path, tmp_path: Path) -> None:
    store = tmp_path / "store"
    sent = b'\xef\xbb\xbf{"say": "why"}\n\xff\xfe\n{"say": "\xe9"}\n' + '{"audio": "größe.wav"}\n'.encode()
    done = subprocess.run(
        [sys.executable, "-m", "assistant", "run", "--job", str(job_file), "--headless", "--store", str(store)],
        input=sent, capture_output=True, timeout=60, check=False, env={**os.environ, "PYTHONIOENCODING": encoding},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    lines = [json.loads(text) for text in done.stdout.decode("utf-8").splitlines()]
    assert [line["error"]["line"] for line in lines if "error" in line] == [2, 3, 4]
    assert any("größe.wav" in line["error"]["text"] for line in lines if "error" in line)
    assert lines[-1]["end"]["verdict"] == "stopped"


def test_a_rested_job_goes_on_where_it_was_with_every_reading_repeated(tmp_path: Path) -> None:
    store = tmp_path / "store"
    first = begun(store, "job", *BEGIN)
    wait = [line for line in first if "wait" in line][-1]
    recorded = [line["recorded"] for line in first if "recorded" in line]
    again = run("resume", "--headless", "--store", store)
    lines = printed(again)
    assert again.returncode == 0
    assert [line["recorded"] for line in lines if "recorded" in line] == [{**reading, "replayed": True} for reading in recorded]
    assert [line for line in lines if "wait" in line] == [wait]
    assert [line["step"]["id"] for line in lines if "step" in line] == ["baseline.backlash"]


def test_at_a_terminal_only_the_readings_that_stand_are_shown_again(tmp_path: Path) -> None:
    store = tmp_path / "store"
    begun(store, "job", *BEGIN, {"say": "undo"}, {"say": "0.013 in"}, {"say": "yes"})
    shown = run("resume", "--store", store).stdout
    assert "0.013 in" in shown
    assert "0.012 in" not in shown


def test_a_job_is_gone_on_with_by_its_name_or_else_the_one_touched_last(tmp_path: Path) -> None:
    store = tmp_path / "store"
    for job_id in ("older", "newer"):
        begun(store, job_id)
    assert printed(run("resume", "--headless", "--store", store))[-1]["end"]["job"] == "newer"
    assert printed(run("resume", "older", "--headless", "--store", store))[-1]["end"]["job"] == "older"
    assert printed(run("resume", "--headless", "--store", store))[-1]["end"]["job"] == "older"


def test_the_store_may_be_told_by_the_environment(job_file: Path, tmp_path: Path) -> None:
    run("run", "--job", job_file, "--headless", BENCHHAND_STORE=str(tmp_path / "told"))
    assert len(list((tmp_path / "told").glob("*.jsonl"))) == 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("run", "--job", "no such job.toml"), "no such job.toml: cannot be read"),
        (("run", "--job", "{broken}"), "broken.toml: is not TOML"),
        (("run", "--job", "{wrong}"), "units: expected 'in' or 'mm', not 'cm'"),
        (("resume",), "there is no job to go on with"),
        (("resume", "20260101-000000-abcd"), "20260101-000000-abcd"),
    ],
)
def test_bad_input_is_one_clear_line_on_standard_error_and_status_2(tmp_path: Path, arguments: tuple[str, ...], says: str) -> None:
    broken, wrong, store = tmp_path / "broken.toml", tmp_path / "wrong.toml", tmp_path / "store"
    broken.write_text("units = ")
    wrong.write_text(JOB.replace('units = "in"', 'units = "cm"'))
    done = run(*(argument.format(broken=broken, wrong=wrong) for argument in arguments), "--headless", "--store", store)
    assert done.returncode == 2
    assert done.stdout == ""
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert "Traceback" not in done.stderr
    assert not list(store.glob("*.jsonl"))  # nothing half begun is left behind


def test_a_job_that_ends_out_of_spec_exits_1_and_is_over_for_good(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace("[parts]", 'seal_drag = { high = "3", unit = "lb-in" }\n[parts]'))
    table = Table(read_job(path), {"seal_drag": "9 lb-in"})
    script: list[Line] = []
    while table.end is None:
        script.append({"say": table.answer_words()})
        table.say(script[-1]["say"])
        assert len(script) < 500
    done = run("run", "--job", path, "--headless", "--store", tmp_path / "store", lines=tuple(script))
    assert done.returncode == 1
    end = {"verdict": "out of spec", "job": printed(done)[-1]["end"]["job"], "failed": ["seal_drag"]}
    assert printed(done)[-1] == {"end": end}
    again = run("resume", "--headless", "--store", tmp_path / "store", lines=({"say": "undo"},))
    assert again.returncode == 1
    assert printed(again)[-1] == {"end": end}


def test_two_processes_cannot_have_one_job(job_file: Path, tmp_path: Path) -> None:
    store = str(tmp_path / "store")
    with command("run", "--job", str(job_file), "--headless", "--store", store) as running:
        other = run("resume", "--headless", "--store", store)
        assert other.returncode == 2
        assert "is open in another process" in other.stderr
        assert other.stdout == ""
        assert "wait" in running.send({"say": "done"})[-1]  # the first goes on undisturbed


def test_a_killed_process_has_lost_nothing_that_it_acknowledged(job_file: Path, tmp_path: Path) -> None:
    store = str(tmp_path / "store")
    with command("run", "--job", str(job_file), "--headless", "--store", store) as running:
        for line in BEGIN[:-1]:
            running.send(line)
        last = running.send(BEGIN[-1])
        running.process.send_signal(signal.SIGKILL)
        running.finish()
    again = printed(run("resume", "--headless", "--store", store))
    assert [line["recorded"]["value"] for line in again if "recorded" in line] == ["0.012"]
    assert [line for line in again if "wait" in line] == [last[-1]]


def test_a_torn_line_is_told_on_standard_error_alone(tmp_path: Path) -> None:
    store = tmp_path / "store"
    begun(store, "job", *BEGIN)
    (path,) = store.glob("*.jsonl")
    with path.open("ab") as file:
        file.write(b'{"batch":99,"las')
    again = run("resume", "--headless", "--store", store)
    assert again.returncode == 0
    assert again.stderr.startswith("note: 1 torn line(s)")
    assert [line["recorded"]["value"] for line in printed(again) if "recorded" in line] == ["0.012"]
    assert len(list(store.glob("*.torn-*"))) == 1


def test_on_a_full_disk_each_input_is_refused_and_nothing_acknowledged_is_lost(job_file: Path, tmp_path: Path) -> None:
    """The limit on the size of a file stands in for a full disk."""
    store = tmp_path / "store"
    begun(tmp_path / "size", "20260101-000000-abcd", *BEGIN)
    size = (tmp_path / "size" / "20260101-000000-abcd.jsonl").stat().st_size + 400  # the times of the real clock are longer than "0"
    limited = f"import resource, runpy, sys; resource.setrlimit(resource.RLIMIT_FSIZE, ({size}, {size})); sys.argv = sys.argv[1:]; "
    done = subprocess.run(
        [sys.executable, "-c", limited + "runpy.run_module('assistant', run_name='__main__')",
         "benchhand", "run", "--job", str(job_file), "--headless", "--store", str(store)],
        input="".join(json.dumps(line) + "\n" for line in (*BEGIN, {"say": "0.0121 in"}, {"say": "yes"}, {"say": "why"})),
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False,
    )  # fmt: skip
    lines = printed(done)
    refused = [line["error"]["text"] for line in lines if "error" in line]
    assert refused
    assert all("cannot be written" in text and "Nothing was accepted" in text for text in refused)
    assert done.returncode == 2  # at the end even the rest cannot be written
    assert len(done.stderr.splitlines()) == 1
    recorded = [line["recorded"] for line in lines if "recorded" in line]
    wait = [line for line in lines if "wait" in line][-1]
    again = printed(run("resume", "--headless", "--store", store))
    assert [line["recorded"] for line in again if "recorded" in line] == [{**reading, "replayed": True} for reading in recorded]
    assert [line for line in again if "wait" in line] == [wait]


def test_at_the_terminal_a_full_disk_is_said_and_the_job_goes_on_when_there_is_room(job_file: Path, tmp_path: Path) -> None:
    """The system's limit on the size of a file is set and lifted while the job runs."""
    store = tmp_path / "store"
    process = subprocess.Popen(
        [sys.executable, "-m", "assistant", "run", "--job", str(job_file), "--store", str(store)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
    )  # fmt: skip
    assert process.stdin is not None
    assert process.stdout is not None
    printed_lines = iter(process.stdout)

    def typed(words: str) -> None:
        assert process.stdin is not None
        process.stdin.write(words + "\n")
        process.stdin.flush()

    try:
        assert any(line == "  > done\n" for line in printed_lines)
        (journal,) = store.glob("*.jsonl")
        before = journal.read_bytes()
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (len(before) + 20, resource.RLIM_INFINITY))
        typed("done")
        said = next(printed_lines)
        assert said.startswith(" !! The journal cannot be written: ")
        assert "Nothing was accepted; make room and say it again" in said
        assert journal.read_bytes() == before
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        typed("done")
        assert any(line.startswith("== ") for line in printed_lines)
        assert journal.read_bytes().startswith(before)
        assert len(journal.read_bytes()) > len(before)
    finally:
        process.stdin.close()
        process.wait(30)
        process.stdout.close()


def test_a_clip_goes_through_the_real_recogniser(job_file: Path, tmp_path: Path) -> None:
    """Our own recorded word, heard at a done wait; a file that is no sound is an error with the wait that still stands."""
    next_clip = Path(__file__).parents[2] / "recordings_demo" / "clips" / "00_next.wav"
    noise = tmp_path / "noise.wav"
    noise.write_bytes(b"no sound")
    done = run(
        "run", "--job", job_file, "--headless", "--store", tmp_path / "store", lines=({"audio": str(noise)}, {"audio": str(next_clip)})
    )
    lines = printed(done)
    assert "noise.wav" in next(line for line in lines if "error" in line)["error"]["text"]
    assert [line["step"]["id"] for line in lines if "step" in line] == ["intake.manual", "baseline.state"]


@pytest.mark.parametrize("newest", ["empty", "torn in its first batch", "damaged"])
def test_without_an_id_the_newest_job_that_can_be_gone_on_with_is_taken_and_the_others_are_told(newest: str, tmp_path: Path) -> None:
    store = tmp_path / "store"
    begun(store, "older", *BEGIN)
    lines = (store / "older.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    held = {"empty": "", "torn in its first batch": lines[0], "damaged": "".join([*lines[:3], "rubbish\n", *lines[4:]])}[newest]
    (store / "newer.jsonl").write_text(held, encoding="utf-8")
    os.utime(store / "older.jsonl", (1, 1))
    again = run("resume", "--headless", "--store", store)
    assert again.returncode == 0
    assert printed(again)[-1]["end"]["job"] == "older"
    assert again.stderr.startswith("note: passed over: ")
    assert "newer" in again.stderr
    (store / "older.jsonl").unlink()
    none = run("resume", "--headless", "--store", store)
    assert none.returncode == 2
    assert "there is no job to go on with" in none.stderr
