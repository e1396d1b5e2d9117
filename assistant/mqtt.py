"""How a broker is named and reached: mqtt://[USER@]HOST[:PORT]/TOPIC, or mqtts:// behind TLS. For whatever is sent on by MQTT."""

import os
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote, urlsplit

from assistant.core.errors import BadInputError

_PORT, _SECURE_PORT = 1883, 8883


@dataclass(frozen=True)
class Address:
    """A broker and a plain topic of it. password: of the URL, else the environment's BENCHHAND_MQTT_PASSWORD; never shown."""

    host: str
    port: int
    topic: str
    user: str | None
    password: str | None
    is_secure: bool

    @classmethod
    def parse(cls, url: str, option: str, topic: str) -> "Address":
        """From a URL. option: which one told it, for the message; topic: where the URL names none. Raises BadInputError."""
        parts = urlsplit(url)
        expected = "expected mqtt://HOST[:PORT]/TOPIC"
        try:
            host, port = parts.hostname, parts.port or (_SECURE_PORT if parts.scheme == "mqtts" else _PORT)
        except ValueError as error:
            raise BadInputError(f"{option} {without_password(url)!r}: {error}, {expected}") from error
        named = unquote(parts.path.strip("/")) or topic
        if parts.scheme not in ("mqtt", "mqtts") or not host or parts.query or "#" in url or any(mark in named for mark in "#+\0"):
            raise BadInputError(f"{option} {without_password(url)!r}, {expected} without # or +")
        user = unquote(parts.username) if parts.username else None
        password = unquote(parts.password) if parts.password else os.environ.get("BENCHHAND_MQTT_PASSWORD")
        return cls(host, port, named, user, password, parts.scheme == "mqtts")

    @property
    def where(self) -> str:
        """The broker, as it may be shown."""
        return f"{self.host}:{self.port}"

    def client(self, name: str, *, is_kept: bool) -> Any:
        """A client of paho's under a name of its own, not connected yet. is_kept: whether the broker keeps its session."""
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion

        made = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=not is_kept)
        if self.user is not None:
            made.username_pw_set(self.user, self.password)
        if self.is_secure:
            made.tls_set()
        return made


def without_password(text: str) -> str:
    """A target as it may be kept and shown: the password of a URL is left out."""
    parts = urlsplit(text)
    return text.replace(f":{parts.password}@", "@", 1) if parts.password and "://" in text else text
