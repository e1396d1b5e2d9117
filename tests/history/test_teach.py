"""A store's finished builds teach about the next axle of their kind and of no other; the job that asked keeps what it was told."""

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.bench import new_bench, resume_bench
from assistant.cli.app import app
from assistant.core.axle import Job
from assistant.files import job_from
from assistant.headless import answer
from assistant.history.teach import all_taught, taught_about
from assistant.journal.lines import LinesJournal, read_record
from assistant.report import sheet
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle


def build(store: Path, name: str, seed: int, kind: Build) -> Job:
    """A whole job of the kind in the store."""
    axle = VirtualAxle(kind, seed)
    job = job_from(tomllib.loads(axle.job_toml()), "job.toml")
    bench, effects = new_bench(job, LinesJournal(store, name, new=True), lambda: "0")
    hands, batch = Technician(axle), [effect.json() for effect in effects]
    while "wait" in batch[-1]:
        hands.observe(batch)
        batch = [effect.json() for effect in answer(bench, json.dumps(hands.answer(batch[-1]["wait"])))]
    bench.journal.close()
    assert batch[-1]["end"]["verdict"] == "in spec"
    return job


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three builds of one kind, one of another, and one that was only begun."""
    folder = tmp_path_factory.mktemp("store")
    for seed in (1, 2, 3):
        build(folder, f"side-{seed}", seed, Build("head-cone", "spacer-shims", "side-shims"))
    build(folder, "sleeve", 4, Build("head-cup", "crush-sleeve", "case-shims"))
    begun = job_from(tomllib.loads(VirtualAxle(Build("head-cone", "spacer-shims", "side-shims"), 9).job_toml()), "job.toml")
    new_bench(begun, LinesJournal(folder, "begun", new=True), lambda: "0")[0].journal.close()
    return folder


def job_file(folder: Path, kind: Build, seed: int) -> Path:
    path = folder / "job.toml"
    path.write_text(VirtualAxle(kind, seed).job_toml(), encoding="utf-8")
    return path


def test_builds_teach_about_their_own_kind_alone(store: Path) -> None:
    kinds = {taught.kind[0]: taught.builds for taught in all_taught(store)}
    assert kinds == {("head-cone", "spacer-shims", "side-shims"): 3, ("head-cup", "crush-sleeve", "case-shims"): 1}
    other = job_from(tomllib.loads(VirtualAxle(Build("flange", "spacer-shims", "adjusters"), 5).job_toml()), "job.toml")
    assert taught_about(store, other).learned == ()


def test_a_job_that_asked_keeps_what_it_was_told_over_a_resume_and_its_sheet_holds(store: Path, tmp_path: Path) -> None:
    kind = Build("head-cone", "spacer-shims", "side-shims")
    job = job_from(tomllib.loads(job_file(tmp_path, kind, 11).read_text()), "job.toml")
    taught = taught_about(store, job).learned
    assert taught
    bench, _ = new_bench(job, LinesJournal(tmp_path, "next", new=True), lambda: "0", learned=taught)
    assert bench.state.learned == taught
    bench.journal.close()
    again = resume_bench(LinesJournal(tmp_path, "next", new=False), lambda: "0")
    assert again.bench.state == bench.state
    again.bench.journal.close()
    record = read_record(tmp_path, "next")
    assert sheet(record.lines, record.sha256).learned == bench.state.learned != ()


def begin(path: Path, store: Path, *arguments: str) -> "subprocess.CompletedProcess[str]":
    """The real command, that begins a job and leaves it."""
    return subprocess.run(
        [sys.executable, "-m", "assistant", "run", "--job", str(path), "--store", str(store), "--headless", *arguments],
        input='{"quit": true}\n', capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_learning_is_asked_for_by_an_option_and_told(store: Path, tmp_path: Path) -> None:
    path = job_file(tmp_path, Build("head-cone", "spacer-shims", "side-shims"), 12)
    for name, arguments, told in (
        ("plain", [], ""),
        ("taught", ["--learn"], "note: learned from 3 finished builds of this kind\n"),
    ):
        copy = tmp_path / name
        copy.mkdir()
        for journal in store.glob("*.jsonl"):
            (copy / journal.name).write_bytes(journal.read_bytes())
        before = {journal.name for journal in copy.glob("*.jsonl")}
        done = begin(path, copy, *arguments)
        assert (done.returncode, done.stderr) == (0, told)
        (new,) = {journal.name for journal in copy.glob("*.jsonl")} - before
        assert (b'"ShopTaught"' in (copy / new).read_bytes()) is bool(arguments)


def test_a_store_that_teaches_nothing_says_so(tmp_path: Path) -> None:
    path = job_file(tmp_path, Build(), 1)
    done = begin(path, tmp_path / "s", "--learn")
    assert done.returncode == 0
    assert done.stderr == "note: no finished build of this kind teaches anything yet\n"


def test_what_was_learned_can_be_looked_at(store: Path) -> None:
    told = CliRunner().invoke(app, ["jobs", "learned", "--store", str(store)])
    assert told.exit_code == 0
    assert "head-cone, spacer-shims, side-shims; " in told.stdout
    assert "3 builds in spec" in told.stdout
    assert "Backlash per ring gear movement: 0." in told.stdout
    lines = [json.loads(line) for line in CliRunner().invoke(app, ["jobs", "learned", "--json", "--store", str(store)]).stdout.splitlines()]
    assert {line["builds"] for line in lines} == {1, 3}
    assert all(isinstance(one["mean"], str) for line in lines for one in line["learned"])
