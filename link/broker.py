"""The built-in broker: a child process that is kept up, and never outlives the daemon.

mosquitto, where it is installed, lets everyone read, and asks for a credential to send commands and the
office's methods; what the bay itself says, its daemon alone may write. Without it the broker from the iotcore
wheel serves; it has no rights per topic, so everyone needs the credential, and may write anything.
The child dies with the daemon even after kill -9: the kernel sends it a signal when its parent goes
(PR_SET_PDEATHSIG, Linux).

Files in the folder, all readable by their owner only:
    password    the credential of user `ringtrue`, one line; made once, kept
    own         that of the daemon itself
    url         where the broker listens, one line, while it does
    protocol    5 or 4: the version of MQTT that it speaks, so that no client waits for the other
    the rest    the child's own configuration and its retained messages
"""

from __future__ import annotations

import asyncio
import os
import pwd
import secrets
import shutil
import signal
import socket
import sys
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Literal

import structlog

from config.settings import MqttSettings
from contract.pauses import Pauses
from link.address import BrokerAddress
from link.bridge import bridge_trouble
from link.children import end_child, start_child
from link.errors import BrokerError

Program = Literal["mosquitto", "iotcore"]

USERNAME = "ringtrue"
"""Who asks a bay for something."""
OWN = "ringtrue-bay"
"""The daemon itself: results, live and states come from nobody else."""
# What who asks may write: commands, what an office signs, and what another voice says of the bay.
_ASKED = ("ringtrue/1/+/+/command/+", "ringtrue/1/+/method", "spBv1.0/#")

# Where Debian puts servers; not on the PATH of an ordinary user.
_SERVER_FOLDERS = ("/usr/sbin", "/usr/local/sbin")
# Seconds that a broker may take to listen; mosquitto takes 10 ms, the other 0.2 s, a laden disk more.
START_MAX_S = 10.0
# Seconds to wait for a port still held by the broker of a daemon that was killed just now.
PORT_MAX_S = 2.0
# Seconds between SIGTERM and SIGKILL; mosquitto writes its retained messages in between.
STOP_MAX_S = 3.0
# First and longest pause before a broker that died is started again.
RETRY_FIRST_S, RETRY_MAX_S = 0.2, 5.0
# Messages that mosquitto keeps for one client that takes them more slowly than they come, before it drops
# some without a word: its own 1000 is less than one script of a workshop sends at once.
QUEUED_MAX = 100_000
# Largest message in bytes; results stay under 20 kB, a larger command is answered, not dropped.
MESSAGE_MAX_BYTES = 1 << 20
# The broker reports every packet as an error to Python's logging: only what ends it is let through.
_IOTCORE = """
import logging, sys, iotcore
logging.getLogger("rumqttd").setLevel(logging.CRITICAL)
iotcore.Broker(config_path=sys.argv[1]).run_forever()
"""


def find_mosquitto() -> str | None:
    """The program's path, None where it (or its password tool) is not installed."""
    path = os.pathsep.join((os.environ.get("PATH", os.defpath), *_SERVER_FOLDERS))
    return shutil.which("mosquitto", path=path) if shutil.which("mosquitto_passwd", path=path) else None


def built_in_address(settings: MqttSettings) -> BrokerAddress:
    """For a client on this machine: where the daemon's broker listens, with the credential.

    Raises BrokerError while there is none, or where its files may not be read.
    """
    try:
        url = (settings.folder / "url").read_text().strip()
        password = (settings.folder / "password").read_text().strip()
        protocol = int((settings.folder / "protocol").read_text())
    except FileNotFoundError:
        raise BrokerError("no broker runs for this bay: start `ringtrue run`") from None  # the wall says it
    except OSError as err:
        raise BrokerError(f"{settings.folder} cannot be read: {err.strerror}") from None
    host, _, port = url.removeprefix("mqtt://").rpartition(":")
    return BrokerAddress(host.strip("[]"), int(port), username=USERNAME, password=password, protocol=protocol)


class BuiltInBroker:
    """Starts the broker, then keeps it up. `start()` first, `run()` as a task, `stop()` at the end."""

    def __init__(self, settings: MqttSettings, bridge: str = "") -> None:
        """bridge: lines of mosquitto's configuration that hand on to other brokers."""
        self._settings, self._bridge = settings, bridge
        self._folder = settings.folder
        mosquitto = find_mosquitto()
        if settings.broker == "mosquitto" and mosquitto is None:
            raise BrokerError('mosquitto is not installed: install it, or set [mqtt] broker = "auto"')
        if bridge and mosquitto is None:
            raise BrokerError("[bridge] needs mosquitto, which is not installed: install it")
        self._mosquitto = mosquitto if settings.broker != "iotcore" else None
        self.program: Program = "mosquitto" if self._mosquitto else "iotcore"
        self._port = settings.port
        self._child: asyncio.subprocess.Process | None = None
        self._said: deque[str] = deque(maxlen=5)
        self._listener: asyncio.Task[None] | None = None
        self.restarts = 0
        self._log = structlog.get_logger().bind(broker=self.program)

    @property
    def pid(self) -> int | None:
        """The child's process id while there is one."""
        return self._child.pid if self._child is not None else None

    @property
    def password_file(self) -> Path:
        """Where the credential lies."""
        return self._folder / "password"

    @property
    def anonymous_reading(self) -> bool:
        """Whether a client without a credential may read."""
        return self.program == "mosquitto"

    def address(self) -> BrokerAddress:
        """For the daemon itself, with its own credential; a broker on every interface is reached by
        loopback."""
        # It is told apart, not listened on.
        host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(self._settings.listen, self._settings.listen)  # noqa: S104
        return BrokerAddress(
            host,
            self._port,
            username=OWN,
            password=self._secret("own"),
            protocol=5 if self.program == "mosquitto" else 4,
        )

    async def start(self) -> None:
        """Write the files, start the child, wait until it listens. Raises BrokerError."""
        try:
            self._write_credential()
            await self._claim_port()
            config = self._write_mosquitto() if self._mosquitto else self._write_iotcore()
            await self._hash_password()
            command = (
                [self._mosquitto, "-c", str(config)]
                if self._mosquitto
                else [sys.executable, "-P", "-c", _IOTCORE, str(config)]
            )
            # Being asked politely, mosquitto saves; the other has nothing to save, and might hang.
            dying = signal.SIGTERM if self._mosquitto else signal.SIGKILL
            self._said.clear()
            self._child = await start_child(*command, dying=dying, stderr=asyncio.subprocess.PIPE)
            self._listener = asyncio.ensure_future(self._listen(self._child))
            await self._wait_listening(self._child)
            self._write("protocol", f"{self.address().protocol}\n")
            self._write("url", self.address().url + "\n")
        except OSError as err:
            await self.stop()
            place = f"{err.filename}: " if err.filename else ""
            raise BrokerError(
                f"the built-in broker cannot start: {place}{err.strerror or err}; its files lie in "
                f"{self._folder}: set [mqtt] folder to one that this user can write"
            ) from None
        except BaseException:
            await self.stop()
            raise

    async def run(self, on_restart: Callable[[], None] | None = None) -> None:
        """Start the broker again whenever it has died; for ever."""
        pauses = Pauses(RETRY_FIRST_S, RETRY_MAX_S)
        while True:
            if self._child is not None:
                code = await self._child.wait()
                self._log.warning("the broker died", code=code, said=self._last_words())
            await pauses.wait()
            try:
                await self.start()
            except BrokerError as err:
                self._log.error("the broker could not be started again", reason=str(err))
                continue
            pauses.anew()
            self.restarts += 1
            self._log.info("the broker is up again", url=self.address().url)
            if on_restart is not None:
                on_restart()

    async def stop(self) -> None:
        """End the child; it writes its retained messages first. Safe to call twice."""
        child, self._child = self._child, None
        if child is not None:
            with suppress(FileNotFoundError):
                (self._folder / "url").unlink()
            await end_child(child, STOP_MAX_S)
        if self._listener is not None:
            await self._listener
            self._listener = None

    async def _listen(self, child: asyncio.subprocess.Process) -> None:
        """Keep the child's last lines, for the error that names its reason."""
        assert child.stderr is not None
        told = ""
        while line := await child.stderr.readline():
            said = line.decode(errors="replace").strip()
            self._said.append(said)
            why = bridge_trouble(said) if self._bridge else None
            if why is not None and why != told:
                told = why
                self._log.warning("the fleet's broker is tried on; what it is to have waits here", reason=why)

    def _last_words(self) -> str:
        return " / ".join(self._said) or "nothing"

    async def _claim_port(self) -> None:
        """Choose a free port where any will do; else wait a little for the configured one."""
        loop = asyncio.get_running_loop()
        until = loop.time() + PORT_MAX_S
        family = socket.AF_INET6 if ":" in self._settings.listen else socket.AF_INET
        while True:
            with socket.socket(family, socket.SOCK_STREAM) as probe:
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                try:
                    probe.bind((self._settings.listen, self._port))
                except OSError as err:
                    if loop.time() > until:
                        raise BrokerError(
                            f"port {self._port} on {self._settings.listen} cannot be had ({err.strerror}): "
                            "free it, or set another [mqtt] port (0: any free one)"
                        ) from None
                else:
                    self._port = probe.getsockname()[1]
                    return
            await asyncio.sleep(0.05)

    async def _wait_listening(self, child: asyncio.subprocess.Process) -> None:
        address = self.address()
        loop = asyncio.get_running_loop()
        until = loop.time() + START_MAX_S
        while loop.time() < until:
            try:
                _, writer = await asyncio.open_connection(address.host, address.port)
            except OSError:
                pass
            else:
                writer.close()
                if child.returncode is None:
                    return
            if child.returncode is not None:
                break
            await asyncio.sleep(0.01)
        raise BrokerError(
            f"{self.program} did not start to listen at {address.url}; it said: {self._last_words()}"
        )

    def _write(self, name: str, text: str) -> Path:
        """A file of the folder for its owner only, replaced as a whole."""
        file = self._folder / name
        fresh = file.with_name(name + ".new")
        fresh.unlink(missing_ok=True)
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as stream:
            stream.write(text)
        fresh.replace(file)
        return file

    def _write_credential(self) -> None:
        self._folder.mkdir(parents=True, exist_ok=True)
        self._folder.chmod(0o700)
        for name in (self.password_file.name, "own"):
            file = self._folder / name
            if not file.exists() or not file.read_text().strip():
                self._write(name, secrets.token_urlsafe(24) + "\n")

    def _secret(self, name: str) -> str:
        return (self._folder / name).read_text().strip()

    def _users(self) -> dict[str, str]:
        return {USERNAME: self._secret(self.password_file.name), OWN: self._secret("own")}

    async def _hash_password(self) -> None:
        """mosquitto keeps passwords hashed: its own tool does that in place."""
        if not self._mosquitto:
            return
        lines = (f"{name}:{password}\n" for name, password in self._users().items())
        users = self._write("users", "".join(lines))
        path = os.pathsep.join((os.environ.get("PATH", os.defpath), *_SERVER_FOLDERS))
        tool = shutil.which("mosquitto_passwd", path=path) or "mosquitto_passwd"
        hashing = await asyncio.create_subprocess_exec(
            tool, "-U", str(users),
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.PIPE,
        )  # fmt: skip
        _, said = await hashing.communicate()
        if hashing.returncode != 0:
            raise BrokerError(f"mosquitto_passwd failed: {said.decode(errors='replace').strip()}")

    def _write_mosquitto(self) -> Path:
        # Lines before the first `user` hold for clients without a credential.
        asked = "".join(f"topic write {topic}\n" for topic in _ASKED)
        rights = self._write(
            "rights", f"topic read #\nuser {USERNAME}\ntopic read #\n{asked}user {OWN}\ntopic readwrite #\n"
        )
        return self._write(
            "mosquitto.conf",
            f"""listener {self._port} {self._settings.listen}
allow_anonymous true
password_file {self._folder / "users"}
acl_file {rights}
persistence true
persistence_location {self._folder}/
autosave_interval 60
set_tcp_nodelay true
max_queued_messages {QUEUED_MAX}
max_packet_size {MESSAGE_MAX_BYTES}
user {pwd.getpwuid(os.geteuid()).pw_name}
connection_messages false
log_dest stderr
log_type error
log_type warning
{self._bridge}""",
        )

    def _write_iotcore(self) -> Path:
        users = "\n".join(f'{name} = "{password}"' for name, password in self._users().items())
        host = f"[{self._settings.listen}]" if ":" in self._settings.listen else self._settings.listen
        return self._write(
            "iotcore.toml",
            f"""id = 0
[router]
id = 0
max_connections = 200
max_outgoing_packet_count = 200
max_segment_size = 10485760
max_segment_count = 10
[v4.1]
name = "v4"
listen = "{host}:{self._port}"
next_connection_delay_ms = 1
[v4.1.connections]
connection_timeout_ms = 5000
max_payload_size = {MESSAGE_MAX_BYTES}
max_inflight_count = 100
dynamic_filters = true
[v4.1.connections.auth]
{users}
""",
        )
