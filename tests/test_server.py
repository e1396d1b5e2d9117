"""The files of docs/server make a shop's server: run here on a real PostgreSQL and a real mosquitto, with accounts, passwords and roles."""

import os
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

import assistant
from assistant.benchmarks.postgres import Server, program
from assistant.core.errors import JournalError
from assistant.journal.sql import OnlyLookingError, Shop, lines_of
from tests.broker import free_port, mosquitto, until

FILES = Path(assistant.__file__).resolve().parent.parent / "docs" / "server"
PASSWORDS = {f"BENCHHAND_{name}_PASSWORD": f'it\'s a {name.lower()} \\ "secret"' for name in ("OWNER", "BENCH", "OFFICE")}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    """A server that was set up twice by the script, and the folder of the broker's settings."""
    found = program("psql")
    if found is None or program("initdb") is None:
        pytest.skip("no PostgreSQL is installed here")
    mosquitto()
    folder = tmp_path_factory.mktemp("mosquitto")
    folder.chmod(0o755)
    server = Server("postgres", free_port())
    try:
        environment = {
            **os.environ, **PASSWORDS, "BENCHHAND_PSQL": f"{found} -X -h {server.folder} -p {server.port} -U postgres",
            "BENCHHAND_MOSQUITTO": str(folder), "BENCHHAND_MQTT_PORT": str(free_port()),
        }  # fmt: skip
        # Whoever comes over the network comes in by the script's own rule or not at all.
        rules = server.folder / "data" / "pg_hba.conf"
        rules.write_text("".join(line for line in rules.read_text().splitlines(keepends=True) if not line.startswith("host")))
        for _ in range(2):
            subprocess.run(["sh", str(FILES / "set-up.sh")], env=environment, check=True, capture_output=True, timeout=60)
        server.stop()
        server.start()
        yield server, folder
    finally:
        server.remove()


def url(server: Server, account: str) -> str:
    return f"postgresql://{account}@127.0.0.1:{server.port}/benchhand"


def test_the_accounts_come_in_with_their_passwords_and_do_what_their_roles_allow(
    made: tuple[Server, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    server, _ = made
    line = lines_of(b'{"batch":1,"last":true}\n')
    monkeypatch.setenv("PGPASSWORD", "a guess")
    with pytest.raises(JournalError, match="password authentication failed"):
        Shop(url(server, "shop"))
    monkeypatch.setenv("PGPASSWORD", PASSWORDS["BENCHHAND_BENCH_PASSWORD"])
    with pytest.raises(OnlyLookingError):
        Shop(url(server, "bench"))  # before the owner has made the tables
    monkeypatch.setenv("PGPASSWORD", PASSWORDS["BENCHHAND_OWNER_PASSWORD"])
    owner = Shop(url(server, "shop"))
    owner.grant(["bench"], ["office"])
    owner.close()
    monkeypatch.setenv("PGPASSWORD", PASSWORDS["BENCHHAND_BENCH_PASSWORD"])
    bench = Shop(url(server, "bench"))
    assert bench.add("job", line) == 1
    bench.close()
    monkeypatch.setenv("PGPASSWORD", PASSWORDS["BENCHHAND_OFFICE_PASSWORD"])
    office = Shop(url(server, "office"))
    assert office.is_for_looking
    assert office.batches() == {"job": 1}
    with pytest.raises(OnlyLookingError):
        office.add("other", line)
    office.close()


def test_setting_up_again_lets_the_network_in_by_one_rule(made: tuple[Server, Path]) -> None:
    server, _ = made
    rules = (server.folder / "data" / "pg_hba.conf").read_text()
    assert re.findall(r"^host benchhand .*$", rules, re.MULTILINE) == ["host benchhand shop,bench,office samenet scram-sha-256"]


def test_the_board_lets_benches_tell_and_the_office_listen_and_nobody_else_in(made: tuple[Server, Path]) -> None:
    from paho.mqtt.client import Client
    from paho.mqtt.enums import CallbackAPIVersion

    _, folder = made
    settings = (folder / "benchhand.conf").read_text()
    if os.geteuid() == 0:
        # Only here: the settings lie in a folder that nobody but root may enter.
        (folder / "benchhand.conf").write_text(f"{settings}user root\n")
    port = int(settings.split()[1])
    heard: dict[str, list[bytes]] = {"office": []}
    refused: list[str] = []
    process = subprocess.Popen([mosquitto(), "-c", str(folder / "benchhand.conf")], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    clients = []

    def connected(account: str | None, password: str | None) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, client_id=f"of {account} {len(clients)}")
        if account is not None:
            client.username_pw_set(account, password)
        client.on_connect = lambda _c, _d, _f, code, _p: (
            refused.append(str(account)) if code.is_failure else client.subscribe("benchhand/#", 1)
        )
        client.on_message = lambda _c, _d, message: heard.setdefault(str(account), []).append(message.payload)
        until(lambda: _connects(client, port))
        client.loop_start()
        clients.append(client)
        return client

    try:
        office = connected("office", PASSWORDS["BENCHHAND_OFFICE_PASSWORD"])
        bench = connected("bench", PASSWORDS["BENCHHAND_BENCH_PASSWORD"])
        until(lambda: bool(heard["office"]), lambda: bench.publish("benchhand/board/bench-3", b"working", 1))
        office.publish("benchhand/board/bench-3", b"forged", 1)
        bench.publish("benchhand/board/bench-3", b"last", 1)
        until(lambda: heard["office"][-1] == b"last")
        assert b"forged" not in heard["office"]
        connected("office", "a guess")
        until(lambda: "office" in refused)
        connected(None, None)
        until(lambda: "None" in refused)
    finally:
        for client in clients:
            client.disconnect()
            client.loop_stop()
        process.terminate()
        process.wait(20)


def _connects(client: object, port: int) -> bool:
    try:
        client.connect("127.0.0.1", port)  # type: ignore[attr-defined]
    except OSError:
        return False
    return True


@pytest.mark.parametrize("missing", PASSWORDS)
def test_without_a_password_nothing_is_done_and_it_says_which(missing: str, tmp_path: Path) -> None:
    environment = {name: text for name, text in {**os.environ, **PASSWORDS}.items() if name != missing}
    environment |= {"BENCHHAND_PSQL": "false", "BENCHHAND_MOSQUITTO": str(tmp_path)}
    done = subprocess.run(["sh", str(FILES / "set-up.sh")], env=environment, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert missing in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_containers_take_every_password_from_the_environment_and_use_the_same_files() -> None:
    text = (FILES / "compose.yaml").read_text(encoding="utf-8")
    asked = re.findall(r"\$\{(\w+)([^}]*)\}", text)
    assert {name for name, _ in asked} == set(PASSWORDS)
    assert all(rest.startswith(":?") for _, rest in asked), "a password has a default"
    assert not re.findall(r"PASSWORD: (?!\$\{)", text)
    for name in re.findall(r"- \./([\w.]+):", text):
        assert (FILES / name).is_file()
