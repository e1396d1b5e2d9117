"""`benchhand run --screen` and `resume --screen` as commands."""

import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2
import pytest
import typer
from typer.testing import CliRunner

from assistant.cli.app import app
from tests.conftest import JOB

PROGRAM: Any = typer.main.get_command(app)


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    """The invented job as a file."""
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


@contextmanager
def started(*arguments: str) -> Iterator[tuple[subprocess.Popen[str], list[str]]]:
    """The command, running without a keyboard, and the addresses it told."""
    process = subprocess.Popen(
        [sys.executable, "-m", "assistant", *arguments],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8",
    )  # fmt: skip
    assert process.stdout is not None
    try:
        addresses = []
        for line in process.stdout:
            addresses += re.findall(r"http://\S+", line)
            if line.startswith("\n") or "==" in line:
                break
        yield process, addresses
    finally:
        if process.poll() is None:
            process.kill()
        process.stdout.close()
        process.wait(10.0)


def stop(url: str) -> None:
    """Stop the job from the page: what a page does to learn the state's name is read from the stream."""
    with httpx2.Client(base_url=url, timeout=20.0) as http:
        for words in ("stop", "yes"):
            with http.stream("GET", "events") as answer:
                at = next(found[1] for line in answer.iter_lines() if (found := re.search(r'"at":"([\w-]+)"', line)))
            assert http.post("say", json={"words": words, "at": at}).status_code == 200


def test_a_job_runs_on_its_screen_alone_rests_and_goes_on(job_file: Path, tmp_path: Path) -> None:
    store = str(tmp_path / "jobs")
    with started("run", "--job", str(job_file), "--store", store, "--screen", "127.0.0.1:0") as (process, addresses):
        (url,) = addresses
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/", url)
        assert "<title>benchhand</title>" in httpx2.get(url).text
        stop(url)
        assert process.wait(20.0) == 0
    with started("resume", "--store", store, "--screen", "127.0.0.1:0") as (process, addresses):
        stop(addresses[0])
        assert process.wait(20.0) == 0


def test_elsewhere_than_here_the_command_tells_both_keys(job_file: Path, tmp_path: Path) -> None:
    store = str(tmp_path / "jobs")
    with started("run", "--job", str(job_file), "--store", store, "--screen", "0.0.0.0:0") as (_, addresses):
        keys = [address.partition("#")[2] for address in addresses]
        assert len(set(keys)) == 2
        assert all(re.fullmatch(r"\w{4}-\w{4}-\w{4}", key) for key in keys)


def refused(*arguments: str) -> str:
    """The one line of a command that gives up with status 2."""
    result = CliRunner().invoke(app, list(arguments))
    assert result.exit_code == 2, result.output
    assert len(result.output.strip().splitlines()) == 1
    return result.output


@pytest.mark.parametrize("screen", ["nowhere:x", "1:2:3", "host:70000", ":0"])
def test_what_is_no_address_is_refused_and_leaves_no_job_behind(job_file: Path, tmp_path: Path, screen: str) -> None:
    store = tmp_path / "jobs"
    refused("run", "--job", str(job_file), "--store", str(store), f"--screen={screen}")
    assert not store.exists()


def test_an_address_that_is_taken_leaves_no_job_behind(job_file: Path, tmp_path: Path) -> None:
    store = tmp_path / "jobs"
    with socket.create_server(("127.0.0.1", 0)) as taken:
        text = refused("run", "--job", str(job_file), "--store", str(store), "--screen", f"127.0.0.1:{taken.getsockname()[1]}")
    assert "name another port" in text
    assert not store.exists()


def test_lines_and_a_screen_do_not_go_together(job_file: Path, tmp_path: Path) -> None:
    store = tmp_path / "jobs"
    assert "--headless" in refused("run", "--job", str(job_file), "--store", str(store), "--headless", "--screen")
    assert not store.exists()


@pytest.mark.parametrize(
    ("words", "screen", "job_id"),
    [
        (["--screen"], "", None),
        (["--screen", "0.0.0.0:8347"], "0.0.0.0:8347", None),
        (["--screen=[::1]:9"], "[::1]:9", None),
        (["--screen", "20300101-120000"], "", "20300101-120000"),
        (["20300101-120000", "--screen"], "", "20300101-120000"),
        (["--screen", "--mouth", "captions"], "", None),
        ([], None, None),
    ],
)
def test_the_address_of_the_screen_may_be_left_out(words: list[str], screen: str | None, job_id: str | None) -> None:
    context = PROGRAM.commands["resume"].make_context("resume", list(words))
    assert (context.params["screen"], context.params["job_id"]) == (screen, job_id)
