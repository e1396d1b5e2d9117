"""Where the screen is served, and who may look or act there.

On this computer's own address no key is needed; anywhere else there are two, one to act and one to look. Both come from one secret that is
kept beside the jobs, so a phone that has been let in once finds its bench again after a restart.
"""

import hashlib
import hmac
import os
import re
import secrets
import socket
from contextlib import closing, suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from assistant.core.errors import BadInputError

HERE = "127.0.0.1:8347"
ROLES = ("bench", "viewer")
_ADDRESS = re.compile(r"(?:\[(?P<six>[0-9A-Fa-f:.]+)\]|(?P<host>[A-Za-z0-9.-]+)):(?P<port>\d{1,5})", re.ASCII)
# Letters and figures that are not taken for one another when a key is copied by eye.
_KEY_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_KEY_LENGTH = 12


@dataclass(frozen=True)
class Address:
    """A host and a port; port 0 is any free one."""

    host: str
    port: int

    @classmethod
    def parse(cls, text: str) -> "Address":
        """From HOST:PORT. Raises BadInputError."""
        found = _ADDRESS.fullmatch(text.strip())
        if found is None or int(found["port"]) > 65535:
            raise BadInputError(f"--screen {text!r} is no address, expected HOST:PORT such as {HERE} or 0.0.0.0:8347")
        return cls(found["six"] or found["host"], int(found["port"]))

    @property
    def is_own(self) -> bool:
        """Whether only this computer can reach it."""
        if self.host.lower() == "localhost":
            return True
        try:
            return ip_address(self.host).is_loopback
        except ValueError:
            return False

    def listen(self) -> socket.socket:
        """The bound socket. Raises BadInputError when the address is not ours, is taken, or may not be used."""
        family = socket.AF_INET6 if ":" in self.host else socket.AF_INET
        try:
            return socket.create_server((self.host, self.port), family=family)
        except OSError as error:
            raise BadInputError(
                f"the screen cannot be served at {self.host}:{self.port}: {error.strerror or error}; "
                "another bench may use it: name another port, as --screen 127.0.0.1:8348"
            ) from error


def _outward_address() -> str | None:
    """This computer's address toward its network; None without one. Nothing is sent: a UDP socket only chooses its way."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as asked, suppress(OSError):
        # An address kept free for documents (RFC 5737): any other than our own would do.
        asked.connect(("192.0.2.1", 9))
        return str(asked.getsockname()[0])
    return None


@dataclass(frozen=True)
class Place:
    """An address that is ours now: its socket listens, and nobody is answered yet. keys: None where none is needed."""

    address: Address
    socket: socket.socket
    keys: "Keys | None"

    @classmethod
    def open(cls, text: str, secret: Path) -> "Place":
        """From HOST:PORT, empty for this computer's own address. secret: the file behind the keys. Raises BadInputError."""
        address = Address.parse(text or HERE)
        keys = None if address.is_own else Keys.kept_in(secret)
        return cls(address, address.listen(), keys)

    def close(self) -> None:
        """Let go of it."""
        self.socket.close()

    @property
    def port(self) -> int:
        """The port, also where any free one was asked for."""
        return int(self.socket.getsockname()[1])

    @property
    def url(self) -> str:
        """How a browser calls it; where it listens everywhere, by the address that other computers of the shop see."""
        host = self.address.host
        with suppress(ValueError):
            if ip_address(host).is_unspecified:
                host = _outward_address() or socket.gethostname()
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}/"

    @property
    def own_hosts(self) -> frozenset[str] | None:
        """The hosts that a page may name, where nobody is asked for a key; None where the key decides."""
        if not self.address.is_own:
            return None
        host = f"[{self.address.host}]" if ":" in self.address.host else self.address.host.lower()
        return frozenset(f"{name}:{self.port}" for name in {host, "localhost", "127.0.0.1", "[::1]"})


@dataclass(frozen=True)
class Keys:
    """The keys of one bench: `bench` may act, `viewer` may look."""

    bench: str
    viewer: str

    @classmethod
    def from_secret(cls, secret: bytes) -> "Keys":
        """Both keys of a secret, always the same."""
        return cls(*(_key(secret, role) for role in ROLES))

    @classmethod
    def kept_in(cls, path: Path) -> "Keys":
        """The keys of the secret in a file that only this user can read, made when it is not there. Raises BadInputError."""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.exists():
                _make_secret(path)
            secret = path.read_text(encoding="ascii").strip()
        except (OSError, UnicodeDecodeError) as error:
            raise BadInputError(f"the screen's secret {path} cannot be kept: {getattr(error, 'strerror', None) or error}") from error
        if len(secret) < 32:
            raise BadInputError(
                f"the screen's secret {path} has {len(secret)} characters, expected at least 32: remove it, and a new one is made"
            )
        return cls.from_secret(secret.encode())

    def role(self, key: str) -> str | None:
        """What a key may do, however it was copied: spaces, hyphens and capitals do not count. None for no key of this bench."""
        plain = "".join(letter for letter in key.lower() if letter not in " -").encode()
        found = None
        for role, wanted in zip(ROLES, (self.bench, self.viewer), strict=True):
            if hmac.compare_digest(plain, wanted.replace("-", "").encode()):
                found = role
        return found


def _make_secret(path: Path) -> None:
    """Written whole under another name first: of two benches that start at once, both get the one that came first."""
    fresh = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
        file.write(secrets.token_hex(32))
    try:
        with suppress(FileExistsError):
            os.link(fresh, path)
    finally:
        fresh.unlink()


def _key(secret: bytes, role: str) -> str:
    digest = int.from_bytes(hmac.new(secret, f"screen {role}".encode(), hashlib.sha256).digest(), "big")
    letters = []
    for _ in range(_KEY_LENGTH):
        digest, letter = divmod(digest, len(_KEY_LETTERS))
        letters.append(_KEY_LETTERS[letter])
    return "-".join("".join(letters[start : start + 4]) for start in range(0, _KEY_LENGTH, 4))
