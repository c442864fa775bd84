"""The daemon's one configuration file, as data.

Paths are taken from the file's own folder, and are absolute here. Every key can be set from the
environment as RINGTRUE_SECTION__KEY.
"""

from __future__ import annotations

import datetime
import itertools
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal
from urllib.parse import urlsplit

from pydantic import (
    AfterValidator,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from config.bridge import BridgeSettings, bridge_mistakes
from config.display import DisplaySettings
from config.errors import ConfigError, Problem
from config.files import Kind, resolve
from config.press import Press
from config.section import FilePath, Section, base_of, from_base, mistake
from config.sparkplug import SparkplugSettings
from config.table import GaugeError, GaugeStep
from config.toml import Mistake, read_toml, spelled
from config.usb import UsbIdentity
from config.webhook import WebhookSettings
from config.whose import refuse_other
from contract.terms import TYPED

BROKER_URL = "mqtt://host:port or mqtts://host:port"
"""How a broker's address is written."""


def known_broker(url: str, wanted: str = BROKER_URL) -> str:
    """A broker's address, as it is. Raises ValueError, which says what is wanted, where it is none."""
    try:
        parts = urlsplit(url)
        good = parts.scheme in ("mqtt", "mqtts") and bool(parts.hostname) and parts.port != 0
        bare = parts.username is None and parts.path in ("", "/") and not parts.query
    except ValueError:
        good = bare = False
    if not good:
        raise ValueError(wanted)
    if not bare:
        raise ValueError("a URL of host and port only; username and password_file are keys of their own")
    return url


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


def _topic_level(text: str) -> str:
    if not text or not text.isprintable() or len(text.encode()) > 60 or set(text) & set("/+#$ \\'\""):
        raise ValueError("a short name without spaces, quotes and / + # $ (it becomes part of an MQTT topic)")
    return text


def _file(kind: Kind) -> AfterValidator:
    def found(value: str, info: ValidationInfo) -> str:
        try:
            return str(resolve(value, kind, base_of(info)))
        except FileNotFoundError as err:
            raise ValueError(f"a file or a shipped name ({err})") from None

    return AfterValidator(found)


def _public_key(text: str) -> str:
    if re.fullmatch(r"[0-9a-f]{64}", text) is None:
        raise ValueError("the office's public key, 64 hexadecimal digits, as `ringtrue method key` prints it")
    return text


Name = Annotated[str, AfterValidator(_topic_level)]


class BaySettings(Section):
    """Which bay of which site this is; both are levels of the MQTT topics."""

    site: Name
    """The site, a level of the MQTT topics."""
    name: Name
    """The bay, the level below it."""


class MqttSettings(Section):
    """The broker: one supervised here, or one that exists."""

    url: str = "built-in"
    """`built-in`, `mqtt://host[:port]` or `mqtts://host[:port]`."""
    broker: Literal["auto", "mosquitto", "iotcore"] = "auto"
    """Built-in: which program; auto: mosquitto where installed, else iotcore."""
    listen: str = "127.0.0.1"
    """Built-in: its address. Beyond this machine only where the network is yours."""
    port: Annotated[int, Field(strict=True, ge=0, le=65535)] = 1883
    """Built-in: its port, which nothing else may use; 0: any free one."""
    folder: FilePath = Field(default=Path("var/broker"), validate_default=True)
    """Built-in: where its credential and retained state are kept."""
    username: str | None = None
    """Existing one: if it wants one."""
    password_file: FilePath | None = None
    """Existing one: its first line is the password."""
    ca_file: FilePath | None = None
    """Existing one, mqtts: the authority to trust (PEM); without it the system's."""
    certificate: FilePath | None = None
    """Existing one, mqtts: our own certificate (PEM), if it wants one."""
    key: FilePath | None = None
    """The certificate's key (PEM), without a password."""

    @field_validator("url")
    @classmethod
    def _known_url(cls, url: str) -> str:
        return url if url == "built-in" else known_broker(url, f"built-in, {BROKER_URL}")

    @model_validator(mode="after")
    def _whole(self) -> MqttSettings:
        if (self.certificate is None) != (self.key is None):
            raise mistake("certificate", "one of the two", "certificate and key, or neither")
        if self.certificate is not None and not self.url.startswith("mqtts:"):
            raise mistake("url", spelled(self.url), "mqtts://…, as there is a certificate")
        if self.password_file is not None and self.username is None:
            raise mistake("username", "nothing", "whose password password_file names")
        return self

    @property
    def built_in(self) -> bool:
        """Whether the broker is a child of the daemon."""
        return self.url == "built-in"


class JournalSettings(Section):
    """Where the journal lies."""

    path: FilePath = Field(default=Path("var/journal.db"), validate_default=True)
    """The journal, the truth: every event and reading of every inspection."""
    key: FilePath | None = None
    """The key that signs the bay's chain of results, made where there is none; without it `journal.key`
    beside the journal."""

    @property
    def key_file(self) -> Path:
        """Where the key lies."""
        return self.key or self.path.with_suffix(".key")


class PhotosSettings(Section):
    """Where pictures of what was seen lie: beside the records, named for their own hash."""

    folder: FilePath = Field(default=Path("var/photos"), validate_default=True)
    """The folder of photos."""


class RecordsSettings(Section):
    """Where results are kept for good."""

    url: str = Field(default="sqlite:///var/records.db", validate_default=True)
    """The database of results."""

    @field_validator("url")
    @classmethod
    def _absolute(cls, url: str, info: ValidationInfo) -> str:
        scheme, found, path = url.partition("://")
        if not found or path in ("", "/"):
            raise ValueError("a database URL such as sqlite:///var/records.db")
        if scheme.startswith("sqlite") and path.startswith("/") and path[1:] not in ("", ":memory:"):
            return f"{scheme}:///{from_base(Path(path[1:]), info)}"
        return url


class MethodSettings(Section):
    """The method in force: a shipped name or a file. Here: the file's path."""

    file: Annotated[str, _file("methods")]
    """The method in force: a shipped name or a file. With authority: until the first one is handed out."""
    authority: Annotated[str, AfterValidator(_public_key)] | None = None
    """The public key (64 hex digits) of the office whose signed methods the bay takes from the site's topic
    `method`; left out: it takes none."""
    least: Annotated[int, Field(strict=True, ge=1)] = 1
    """The lowest number of an issue that is taken, and gone by. A bay that is set up anew, or put back from a
    copy, has nothing by which to tell an old one from the latest."""


class GaugeSettings(Section):
    """One instrument of the bay."""

    id: Name
    """Its name in commands and topics."""
    profile: Annotated[str, _file("gauges")]
    """What kind it is: a shipped name or a file."""
    port: Annotated[str, Field(min_length=1)] | None = None
    """Device, URL (socket://, rfc2217://), or place of USB (usb:1-2) where the profile reads the device
    itself; or usb."""
    usb: UsbIdentity | None = None
    """In place of port: the device by what it says of itself."""
    resolution_mm: GaugeStep | None = None
    """One step of its display. Every gauge but the encoder needs it."""
    mpe_mm: GaugeError | None = None
    """Maximum permissible error: the difference between any two readings is wrong by at most this. Where the
    register has a larger one of its serial, that counts. Every gauge but the encoder needs it."""
    travel_mm: Annotated[Number, Field(gt=0, le=1_000)] | None = None
    """How far its plunger can move; `live` warns near its end."""
    serial: Annotated[str, Field(min_length=1, max_length=100)] | None = None
    """Its serial, by which the register knows it."""
    calibration_due: datetime.date | None = None
    """Until when its calibration holds; left out: as the register has it."""
    latency_s: Annotated[Number, Field(ge=0, le=10)] | None = None
    """How long a reading takes from the moment it is of to its last byte, where this one differs from its
    profile."""
    latency_u_s: Annotated[Number, Field(ge=0, le=10)] | None = None
    """Standard uncertainty of that; left out: as the profile has it."""
    counts_per_turn: Annotated[int, Field(strict=True, gt=0, le=1_000_000_000)] | None = None
    """Of an encoder that gives counts."""
    reversed: Annotated[bool, Field(strict=True)] = False
    """Of an encoder whose value falls as the crank is barred in running direction."""
    gear: Annotated[Number, Field(gt=0, le=1_000)] = 1.0
    """Of an encoder: its turns for one of the crank, where gears are between, as on the barring pinion."""

    @field_validator("port")
    @classmethod
    def _is_a_line(cls, port: str | None) -> str | None:
        if port is not None and port.startswith("capture:"):
            raise ValueError("a device or URL; ringtrue run --from-capture plays a capture")
        return port

    @model_validator(mode="after")
    def _one_place(self) -> GaugeSettings:
        if (self.port is None) == (self.usb is None):
            found = "neither" if self.port is None else "both"
            raise mistake("port", found, "either port or usb")
        return self


class AngleSettings(Section):
    """Where the crank angle comes from."""

    source: Literal["encoder", "marks", "dwells"]
    """An encoder; marks that a person tells; or dwells: a person tells the start and the end of a turn, and
    stops at the marks between, which the readings show."""
    gauge: str | None = None
    """The encoder's id; only with encoder."""
    marks_deg: tuple[Annotated[Number, Field(ge=-360, le=720)], ...] = ()
    """Crank positions in the order in which barring in the running direction meets them, repeating every
    turn. With marks: those that are told; with dwells: where the crank is let stand; with an encoder: where
    to stop, told on `live` once `zero` is."""
    press: Press | None = None
    """A foot switch or a key that is pressed at a mark."""

    @field_validator("source", mode="before")
    @classmethod
    def _built(cls, source: object) -> object:
        if source not in ("encoder", "marks", "dwells"):
            raise ValueError('"encoder", "marks" or "dwells"')
        return source

    @field_validator("marks_deg")
    @classmethod
    def _in_order(cls, marks: tuple[float, ...]) -> tuple[float, ...]:
        if any(b <= a for a, b in itertools.pairwise(marks)):
            raise ValueError("angles that increase")
        if marks and marks[-1] - marks[0] >= 360:
            raise ValueError("angles within one turn (they repeat every 360 degrees by themselves)")
        return marks

    @model_validator(mode="after")
    def _enough(self) -> AngleSettings:
        if self.source == "encoder" and self.gauge is None:
            raise mistake("gauge", "nothing", 'the id of the encoder\'s [[gauge]], as source is "encoder"')
        if self.source != "encoder" and not self.marks_deg:
            raise mistake("marks_deg", "nothing", f'at least one angle, as source is "{self.source}"')
        if self.source == "encoder" and self.press is not None:
            wanted = 'no [angle.press], as source is "encoder": it tells where the crank is by itself'
            raise mistake("press", "a table", wanted)
        if self.source != "encoder" and self.gauge is not None:
            also = f"and the whole [[gauge]] with id = {spelled(self.gauge)} where it is the encoder"
            wanted = f'no gauge, as source is "{self.source}": take out this line, {also}'
            raise mistake("gauge", spelled(self.gauge), wanted)
        return self


class Settings(Section):
    """The whole file."""

    bay: BaySettings
    """Which bay this is."""
    mqtt: MqttSettings = Field(default_factory=dict, validate_default=True)
    """The broker."""
    bridge: BridgeSettings = BridgeSettings()
    """Where the broker hands on what a fleet keeps."""
    journal: JournalSettings = Field(default_factory=dict, validate_default=True)
    """The journal."""
    photos: PhotosSettings = Field(default_factory=dict, validate_default=True)
    """Pictures."""
    records: RecordsSettings = Field(default_factory=dict, validate_default=True)
    """The records."""
    display: DisplaySettings = Field(default_factory=dict, validate_default=True)
    """A display."""
    webhook: WebhookSettings = WebhookSettings()
    """A system that takes each result."""
    sparkplug: SparkplugSettings = SparkplugSettings()
    """An edge node of Sparkplug."""
    method: MethodSettings
    """The method."""
    gauge: tuple[GaugeSettings, ...] = ()
    """The gauges, each a [[gauge]]."""
    angle: AngleSettings
    """Where the crank angle comes from."""

    @classmethod
    def cross_checks(cls, data: Mapping[str, Any]) -> list[Mistake]:
        """Mistakes between the sections, on the raw document (which may be wrong elsewhere too)."""
        mistakes: list[Mistake] = []
        raw = data.get("gauge", [])
        gauges = [(n, g) for n, g in enumerate(raw) if isinstance(g, dict)] if isinstance(raw, list) else []
        angle = data.get("angle") if isinstance(data.get("angle"), dict) else {}
        angle_gauge = (angle or {}).get("gauge")
        # Where it is wrong, any of the gauges may be meant as the encoder.
        encoder = next((g for _, g in gauges if g.get("id") == angle_gauge), {})
        # So it may where the one named is stated as a length gauge is, or with marks one is stated as an
        # encoder is: the profiles tell (`read_bay`).
        facts = {"resolution_mm", "mpe_mm"}
        by_marks = (angle or {}).get("source") in ("marks", "dwells")
        is_encoder_known = by_marks or (bool(encoder) and not facts & set(encoder))
        seen: dict[str, int] = {}
        for n, gauge in gauges:
            if isinstance(value := gauge.get("id"), str) and (first := seen.setdefault(value, n)) != n:
                found = f"{spelled(value)}, also of gauge[{first}]"
                mistakes.append(Mistake(("gauge", n, "id"), found, "an id of its own"))
        for n, gauge in gauges:
            if gauge.get("id") == TYPED:
                reserved = "another id: this one is kept for readings typed in"
                mistakes.append(Mistake(("gauge", n, "id"), spelled(TYPED), reserved))
            may_be_left_in = by_marks and not facts & set(gauge)
            if is_encoder_known and gauge.get("id") != angle_gauge and not may_be_left_in:
                mistakes += [
                    Mistake(("gauge", n, key), "nothing", f"{what} (every gauge but the encoder needs it)")
                    for key, what in (
                        ("resolution_mm", "one step of its display"),
                        ("mpe_mm", "its maximum permissible error"),
                    )
                    if key not in gauge
                ]
        if isinstance(angle_gauge, str) and angle_gauge not in [g.get("id") for _, g in gauges]:
            known = ", ".join(g["id"] for _, g in gauges if isinstance(g.get("id"), str)) or "there are none"
            mistakes.append(
                Mistake(("angle", "gauge"), spelled(angle_gauge), f"the id of a [[gauge]] ({known})")
            )
        mistakes += bridge_mistakes(data)
        return mistakes


def read_settings(path: Path, environ: Mapping[str, str]) -> Settings:
    """The configuration of a bay. Raises ConfigError with all its mistakes."""
    if not path.exists():
        wanted = "the bay's configuration (README shows one; --config FILE names another)"
        raise ConfigError([Problem(str(path), None, "file", "no such file", wanted)])
    try:
        return read_toml(path, Settings, overrides=environ)
    except ConfigError:
        refuse_other(path, "bay configuration")
        raise
