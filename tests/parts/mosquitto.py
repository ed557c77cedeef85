"""A real mosquitto for tests, on loopback and a free port.

Rules: config, password file and certificates live in one folder; whoever starts it stops it;
`kill` is kill -9, `freeze` is SIGSTOP (the port still accepts, nobody answers).

    with Mosquitto(folder) as broker:           # broker.port, broker.house_broker()
        broker.kill(); broker.start()           # same port
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

from thermostatd.core.house import Broker

PROGRAM = "/usr/sbin/mosquitto"


def free_port() -> int:
    """A TCP port on 127.0.0.1 that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until(done: Any, seconds: float = 5.0, step: float = 0.02) -> bool:
    """Whether `done()` came true within some seconds of life."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if done():
            return True
        time.sleep(step)
    return bool(done())


class Mosquitto:
    """One broker process. `users` are name -> password; `tls` makes an authority and a certificate."""

    def __init__(
        self,
        folder: Path,
        *,
        users: dict[str, str] | None = None,
        tls: bool = False,
        port: int | None = None,
        host: str = "127.0.0.1",
        extra: str = "",
    ) -> None:
        self.folder, self.users, self.tls = Path(folder), dict(users or {}), tls
        self.port = port or free_port()
        self.host = host
        self.extra = extra
        self.process: subprocess.Popen[bytes] | None = None
        self.folder.mkdir(parents=True, exist_ok=True)
        if tls:
            self.authority = Authority(self.folder)
        self._write_config()

    @property
    def ca(self) -> Path:
        """The certificate of the authority that signed the broker's."""
        return self.authority.ca

    @property
    def log(self) -> str:
        """All that the broker logged."""
        return (self.folder / "mosquitto.log").read_text(errors="replace")

    def house_broker(self, **changes: Any) -> Broker:
        """The `[broker]` table of a house on this broker; a first user's password is put in a file."""
        table: dict[str, Any] = {"host": self.host, "port": self.port}
        if self.users:
            user, password = next(iter(self.users.items()))
            table |= {"user": user, "password_file": str(self.password_file(password))}
        if self.tls:
            table["tls"] = {"ca": str(self.ca)}
        return Broker.model_validate(table | changes)

    def password_file(self, password: str, name: str = "client.password") -> Path:
        """A file with that password as its first line, readable by its owner alone."""
        path = self.folder / name
        path.write_text(password + "\n")
        path.chmod(0o600)
        return path

    def start(self) -> Mosquitto:
        """Start it and wait until it accepts."""
        if self.process and self.process.poll() is None:
            return self
        with open(self.folder / "mosquitto.out", "ab") as out:
            self.process = subprocess.Popen(
                [PROGRAM, "-c", str(self.folder / "mosquitto.conf"), "-v"], stdout=out, stderr=out
            )
        if not wait_until(self._accepts, 10):
            raise RuntimeError(f"mosquitto did not start: {(self.folder / 'mosquitto.out').read_text()}")
        return self

    def stop(self) -> None:
        """End it in good order (thawed first if frozen)."""
        if not self.process:
            return
        with contextlib.suppress(ProcessLookupError):
            self.thaw()
            self.process.terminate()
        try:
            self.process.wait(5)
        except subprocess.TimeoutExpired:
            self.kill()
        self.process = None

    def kill(self) -> None:
        """kill -9: connections are reset, nothing is said."""
        if self.process:
            self.process.kill()
            self.process.wait(5)
            self.process = None

    def freeze(self) -> None:
        """SIGSTOP: connections stay open and silent."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """SIGCONT: it goes on where it was."""
        self._signal(signal.SIGCONT)

    def publish(self, topic: str, payload: str, *, retain: bool = False, qos: int = 0) -> None:
        """Publish as a stranger, with the mosquitto_pub command."""
        command = ["mosquitto_pub", *self._client(), "-t", topic, "-m", payload, "-q", str(qos)]
        subprocess.run(command + (["-r"] if retain else []), check=True, timeout=10)

    @contextlib.contextmanager
    def listening(self, topic: str = "#", version: str = "mqttv311") -> Iterator[Listener]:
        """Hear a topic as a stranger, with the mosquitto_sub command."""
        listener = Listener(
            ["stdbuf", "-oL", "mosquitto_sub", *self._client(), "-V", version, "-t", topic], self.folder
        )
        try:
            yield listener
        finally:
            listener.stop()

    def __enter__(self) -> Mosquitto:
        return self.start()

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, where: TracebackType | None
    ) -> None:
        self.stop()

    def _signal(self, number: int) -> None:
        if self.process and self.process.poll() is None:
            os.kill(self.process.pid, number)

    def _client(self) -> list[str]:
        words = ["-h", self.host, "-p", str(self.port)]
        if self.users:
            user, password = next(iter(self.users.items()))
            words += ["-u", user, "-P", password]
        return words + (["--cafile", str(self.ca)] if self.tls else [])

    def _accepts(self) -> bool:
        try:
            socket.create_connection((self.host, self.port), 0.2).close()
        except OSError:
            return False
        return True

    def _write_config(self) -> None:
        lines = [f"listener {self.port} {self.host}", f"log_dest file {self.folder}/mosquitto.log"]
        if os.getuid() == 0:
            lines.append("user root")
        if self.users:
            passwords = self.folder / "passwords"
            passwords.write_text("")
            passwords.chmod(0o600)
            for user, password in self.users.items():
                subprocess.run(["mosquitto_passwd", "-b", str(passwords), user, password], check=True)
            lines += ["allow_anonymous false", f"password_file {passwords}"]
        else:
            lines.append("allow_anonymous true")
        if self.tls:
            lines += [f"certfile {self.authority.cert}", f"keyfile {self.authority.key}"]
        lines += [
            f"persistence_location {self.folder}/",
            "persistence true",
            "autosave_on_changes true",
            "autosave_interval 1",
            self.extra,
        ]
        (self.folder / "mosquitto.conf").write_text("\n".join(lines) + "\n")


class Authority:
    """An authority and a certificate for 127.0.0.1 and localhost, made with the openssl command."""

    def __init__(self, folder: Path) -> None:
        self.ca, self.cert, self.key = folder / "ca.crt", folder / "broker.crt", folder / "broker.key"
        curve = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
        key, cert = str(self.key), str(self.cert)
        request, names = folder / "broker.csr", folder / "names.cnf"
        names.write_text("subjectAltName=IP:127.0.0.1,DNS:localhost\n")
        ca_key = str(folder / "ca.key")
        subject = ["-subj", "/CN=invented test authority"]
        _openssl("req", "-x509", *curve, "-keyout", ca_key, "-out", str(self.ca), "-days", "30", *subject)
        _openssl("req", "-new", *curve, "-keyout", key, "-out", str(request), "-subj", "/CN=localhost")
        signing = ["-CA", str(self.ca), "-CAkey", ca_key, "-CAcreateserial", "-extfile", str(names)]
        _openssl("x509", "-req", "-in", str(request), "-out", cert, "-days", "30", *signing)


class Listener:
    """A mosquitto_sub that keeps what it hears: `heard()` gives (retained, topic, payload)."""

    def __init__(self, command: list[str], folder: Path) -> None:
        self._path = folder / f"heard-{time.monotonic_ns()}.txt"
        self._out = open(self._path, "wb")  # noqa: SIM115
        self._process = subprocess.Popen([*command, "-F", "%r\t%t\t%p", "-d"], stdout=self._out)
        if not wait_until(lambda: "SUBACK" in self._path.read_text(errors="replace"), 10):
            self.stop()
            raise RuntimeError("mosquitto_sub was not let in")

    def heard(self, topic: str | None = None) -> list[tuple[bool, str, str]]:
        """What was heard so far, in order; of one topic where one is named."""
        rows = [line.split("\t", 2) for line in self._path.read_text(errors="replace").splitlines()]
        found = [(row[0] == "1", row[1], row[2]) for row in rows if len(row) == 3]
        return [row for row in found if topic is None or row[1] == topic]

    def payloads(self, topic: str) -> list[str]:
        """The payloads of one topic, in order."""
        return [payload for _, _, payload in self.heard(topic)]

    def wait(self, topic: str, payload: str, seconds: float = 5.0) -> bool:
        """Whether that payload was heard there within some seconds."""
        return wait_until(lambda: payload in self.payloads(topic), seconds)

    def stop(self) -> None:
        """End it."""
        self._process.terminate()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:  # now and then it misses the signal; what it heard is read already
            self._process.kill()
            self._process.wait(5)
        self._out.close()


def _openssl(*words: str) -> None:
    subprocess.run(["openssl", *words], check=True, capture_output=True)
