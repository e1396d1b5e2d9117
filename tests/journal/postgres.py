"""A PostgreSQL server of our own: a private cluster in a temporary folder, on a socket there, that can be stopped and started."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

_FOLDERS = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)


def program(name: str) -> str | None:
    """Where a program of the server lies, or None where there is no PostgreSQL."""
    return shutil.which(name) or next((str(folder / name) for folder in _FOLDERS if (folder / name).exists()), None)


class Server:
    """One server. It refuses to run as root, so root hands it to the account `postgres`."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="shop"))
        self._user = "postgres" if os.geteuid() == 0 else None
        if self._user is not None:
            account = pwd.getpwnam(self._user)
            os.chown(self.folder, account.pw_uid, account.pw_gid)
        self._run("initdb", "-D", str(self.folder / "data"), "-U", "bench", "--auth=trust", "-E", "UTF8", "--locale=C", "-N")
        self.start()
        self.url = f"postgresql://bench@/postgres?host={self.folder}"

    def start(self) -> None:
        """Start it, and wait until it answers."""
        options = f"-c listen_addresses='' -c unix_socket_directories='{self.folder}'"
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", str(self.folder / "log"), "-o", options, "start")

    def kill(self) -> None:
        """Stop it at once, as a power cut would: connections are cut, nothing is put in order."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", "immediate", "stop")

    def remove(self) -> None:
        """Stop it and forget what it held."""
        self.kill()
        shutil.rmtree(self.folder)

    def _run(self, name: str, *arguments: str) -> None:
        found = program(name)
        assert found is not None
        # Into a file: the server goes on, and would hold a pipe open for good.
        with (Path(tempfile.gettempdir()) / f"{self.folder.name}.out").open("w+b") as out:
            Path(out.name).unlink()
            done = subprocess.run([found, *arguments], stdout=out, stderr=out, user=self._user, cwd="/", timeout=120, check=False)
            out.seek(0)
            assert done.returncode == 0, out.read().decode(errors="replace")
