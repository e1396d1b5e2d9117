"""A PostgreSQL server of our own: a private cluster in a temporary folder, on a socket there, that can be stopped and started. On Linux."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

_FOLDERS = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
_START_SECONDS = 60.0


def program(name: str) -> str | None:
    """Where a program of the server lies, or None where there is no PostgreSQL."""
    return shutil.which(name) or next((str(folder / name) for folder in _FOLDERS if (folder / name).exists()), None)


class Server:
    """One server. It refuses to run as root, so root hands it to the account `postgres`.

    url: of its superuser, who needs no password on the socket.
    """

    def __init__(self, superuser: str = "bench", port: int | None = None) -> None:
        """port: on this computer's own address, where a password is asked for once a rule lets somebody in; None: on the socket alone."""
        self.folder = Path(tempfile.mkdtemp(prefix="shop"))
        self._user = "postgres" if os.geteuid() == 0 else None
        if self._user is not None:
            shutil.chown(self.folder, self._user, self._user)
        auth = ("--auth-local=trust", "--auth-host=reject")
        self._run("initdb", "-D", str(self.folder / "data"), "-U", superuser, *auth, "-E", "UTF8", "--locale=C", "-N")
        self._process: subprocess.Popen[bytes] | None = None
        self.port = port
        self.start()
        self.url = f"postgresql://{superuser}@/postgres?host={self.folder}" + (f"&port={port}" if port else "")

    def start(self) -> None:
        """Start it, and wait until it answers."""
        found = program("postgres")
        assert found is not None
        options = ["-c", "listen_addresses=127.0.0.1" if self.port else "listen_addresses=", "-c", f"unix_socket_directories={self.folder}"]
        options += ["-c", f"port={self.port}"] if self.port else []
        # As our own child: one that was killed and that nobody waits for would seem to be alive to the next one.
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [found, "-D", str(self.folder / "data"), *options], stdout=log, stderr=log, user=self._user, cwd="/", start_new_session=True
            )
        until = time.monotonic() + _START_SECONDS
        while self._asked("pg_isready", "-q", "-h", str(self.folder), "-p", str(self.port or 5432)) != 0:
            if self._process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"the server does not start: {(self.folder / 'log').read_text(errors='replace')[-2000:]}")
            time.sleep(0.02)

    def stop(self) -> None:
        """Stop it at once: connections are cut, nothing is put in order. SIGQUIT, as `pg_ctl stop -m immediate` sends it."""
        if self._process is not None:
            self._process.send_signal(signal.SIGQUIT)
            self._process.wait(_START_SECONDS)
            self._process = None

    def kill(self) -> None:
        """Signal 9 to the server and everything that it had started, as a power cut would: nothing of it runs any more."""
        assert self._process is not None
        own = self._process.pid
        for one in (own, *map(int, Path(f"/proc/{own}/task/{own}/children").read_text(encoding="ascii").split())):
            with suppress(ProcessLookupError):
                os.kill(one, signal.SIGKILL)
        self._process.wait(_START_SECONDS)
        self._process = None

    def remove(self) -> None:
        """Stop it and forget what it held."""
        self.stop()
        shutil.rmtree(self.folder)

    def _asked(self, name: str, *arguments: str) -> int:
        found = program(name)
        assert found is not None
        return subprocess.run([found, *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/", check=False).returncode

    def _run(self, name: str, *arguments: str) -> None:
        found = program(name)
        assert found is not None
        done = subprocess.run([found, *arguments], capture_output=True, user=self._user, cwd="/", timeout=120, check=False)
        assert done.returncode == 0, (done.stdout + done.stderr).decode(errors="replace")
