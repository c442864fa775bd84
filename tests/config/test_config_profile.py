from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from config.errors import ConfigError
from config.files import shipped, shipped_names
from config.profile import GaugeProfile, KeyPress, LineFraming, PatternValue, Proof, Requested, SerialPort
from config.toml import read_toml

GOOD = shipped("gauges", "line-mm").read_text()


def read(tmp_path: Path, text: str) -> GaugeProfile:
    file = tmp_path / "mine.toml"
    file.write_text(text)
    return read_toml(file, GaugeProfile)


def mistakes(tmp_path: Path, *changes: tuple[str, str], text: str = GOOD) -> str:
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(ConfigError) as caught:
        read(tmp_path, text)
    return str(caught.value)


def test_the_archetypes_ship() -> None:
    line = {"line-mm", "line-inch", "line-requested-mm", "line-key-mm", "modem-line-mm"}
    line |= {"line-unit", "line-comma-mm", "line-exponent-mm", "channels-first-mm", "channels-second-mm"}
    usb = {"usb-lines", "usb-requested", "hid-reports", "hid-checked-mm", "typed-mm"}
    encoders, digits = {"encoder-degrees", "encoder-counts", "encoder-index"}, {"digits-mm", "burst-mm"}
    checked = {"binary-mm", "sum-mm", "xor-requested-mm"}
    assert line | usb | encoders | digits | checked == set(shipped_names("gauges"))


@pytest.mark.parametrize("name", shipped_names("gauges"))
def test_a_shipped_profile_is_valid_and_named_as_its_file(name: str) -> None:
    assert read_toml(shipped("gauges", name), GaugeProfile).id == name


def test_text_stands_for_bytes_one_to_one(tmp_path: Path) -> None:
    kind = read(tmp_path, GOOD.replace(r'terminator = "\r\n"', r'terminator = "\u0003\u00ff"'))
    assert isinstance(kind.framing, LineFraming)
    assert kind.framing.terminator_bytes == b"\x03\xff"


def test_manners() -> None:
    asked = read_toml(shipped("gauges", "line-requested-mm"), GaugeProfile)
    assert isinstance(asked.manner, Requested)
    assert asked.manner.request_bytes == b"read\r"
    assert asked.latency_ns == 7_300_000
    pressed = read_toml(shipped("gauges", "line-key-mm"), GaugeProfile)
    assert isinstance(pressed.manner, KeyPress)


@pytest.mark.parametrize(
    ("part", "kind"), [("framing", LineFraming), ("value", PatternValue), ("port", SerialPort)]
)
def test_a_part_without_a_kind_is_of_the_one_that_there_always_was(part: str, kind: type) -> None:
    """So no file of before there were others breaks; and one that says so reads the same."""
    data = tomllib.loads(GOOD)
    data[part].pop("kind", None)
    old = GaugeProfile.model_validate(data)
    assert type(getattr(old, part)) is kind
    data[part]["kind"] = getattr(old, part).kind
    assert GaugeProfile.model_validate(data) == old


def test_a_profile_without_a_port_has_a_serial_one() -> None:
    data = tomllib.loads(GOOD)
    del data["port"]
    assert GaugeProfile.model_validate(data).port == SerialPort()


DIGITS = shipped("gauges", "digits-mm").read_text()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ([("length = 6", "length = 7")], "a length of 6, as its value has 5 bytes"),
        ([("start_byte = 0xFA", "start_byte = 0x19")], "a start_byte that no other byte of a frame can be"),
        ([("start_byte = 0xFA", "max_pause_s = 0.05")], "a length of 5, as its value has 5 bytes"),
        (
            [("start_byte = 0xFA", "max_pause_s = 0.05"), ("length = 6", "length = 5"),
             ("digit = 14 }, {", "digit = 0 }, {"),
             ("digit = 14 }]", "digit = 0 }]")],
            "start_byte, or a value that ends in a mark that stands nowhere else",
        ),
        (
            [("start_byte = 0xFA", "start_byte = 0x80\nstart_mask = 0x80"), ("length = 6", "length = 5")],
            "a start_mask of bits that the value does not use in the first byte",
        ),
        (
            [('kind = "fixed"\nlength = 6\nstart_byte = 0xFA', 'terminator = "\\u0000"')],
            "a terminator with a byte that the value never holds",
        ),
        (
            [('kind = "fixed"\nlength = 6\nstart_byte = 0xFA', 'terminator = "\\n"\nmax_bytes = 4')],
            "max_bytes of 5 or more",
        ),
    ],
)  # fmt: skip
def test_a_framing_in_which_a_shifted_frame_could_be_a_value_is_refused(
    tmp_path: Path, changes: list[tuple[str, str]], told: str
) -> None:
    message = mistakes(tmp_path, *changes, text=DIGITS)
    line = next(n for n, row in enumerate(DIGITS.splitlines(), 1) if row == "[framing]")
    assert f"mine.toml:{line}: framing: expected" in message
    assert told in message


def test_without_a_start_byte_a_closing_mark_is_enough(tmp_path: Path) -> None:
    text = DIGITS.replace("start_byte = 0xFA", "max_pause_s = 0.05").replace("length = 6", "length = 5")
    assert read(tmp_path, text).framing.kind == "fixed"


def test_a_pattern_in_frames_of_one_length_needs_a_start_byte(tmp_path: Path) -> None:
    fixed = 'kind = "fixed"\nlength = 8\nmax_pause_s = 0.1'
    changes = [('kind = "line"', fixed), ('terminator = "\\r\\n"\n', ""), ("max_bytes = 16\n", "")]
    assert "start_byte, as a pattern may fit a shifted frame" in mistakes(tmp_path, *changes)


def test_proof_bytes() -> None:
    assert Proof(text="+1\r", values=(1,)).wire == b"+1\r"
    assert Proof(hex="2b 31 0d", rejected=True).wire == b"+1\r"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('schema = "ringtrue/gauge/1"', 'schema = "ringtrue/gauge/2"', "schema"),
        ('id = "line-mm"', 'id = "Line mm"', "id"),
        ("baud = 115200", "baud = 1", "baud"),
        ("baud = 115200", 'parity = "weird"', "parity"),
        ("baud = 115200", "speed = 9600", "speed"),
        ('kind = "line"', 'kind = "lines"', "kind"),
        (r'terminator = "\r\n"', 'terminator = ""', "terminator"),
        (r'terminator = "\r\n"', 'terminator = "\u2192"', "single bytes"),
        ("max_bytes = 16", "max_bytes = 0", "max_bytes"),
        ("(?P<value>", "(", "a group (?P<value>…)"),
        ("[+-]", "[+-", "a regular expression"),
        ("{:+08.3f}", "{:+08.3f", "a format of one decimal number"),
        ("{:+08.3f}", "{}{}", "a format of one decimal number"),
        ("{:+08.3f}", "{:+07.3f}", "a template that the pattern accepts"),
        ('unit = "mm"', 'unit = "cm"', "unit"),
        ('unit = "mm"', 'unit = "mm"\nscale = 0', "a number other than 0"),
        ('kind = "free-running"', 'kind = "talkative"', "manner"),
        ("period_s = 0.5", "period_s = 0", "period_s"),
        ("period_s = 0.5", "", "period_s"),
        ("u_s = 0.001", "u_s = -1", "u_s"),
        ("rejected = true", "rejected = true\nvalues = [1]", "either values or rejected = true"),
        ('hex = "2b 30', 'text = "+"\nhex = "2b 30', "either text or hex"),
        ('hex = "2b 30', 'hex = "2g 30', "pairs of hexadecimal digits"),
    ],
)
def test_a_mistake_is_named(tmp_path: Path, old: str, new: str, told: str) -> None:
    message = mistakes(tmp_path, (old, new))
    assert told in message
    assert "mine.toml:" in message


def test_all_mistakes_are_told_at_once_with_their_lines(tmp_path: Path) -> None:
    message = mistakes(
        tmp_path, ("baud = 115200", "baud = 1"), ('unit = "mm"', 'unit = "cm"'), ("u_s = 0.001", "u_ms = 1")
    )
    lines = message.splitlines()
    assert len(lines) == 3
    numbers = {n for n, line in enumerate(GOOD.splitlines(), 1) if line.startswith(("baud", "unit", "u_s"))}
    assert {int(line.split("mine.toml:")[1].split(":")[0]) for line in lines} == numbers


def test_a_mistake_within_a_kind_stands_where_the_file_has_it(tmp_path: Path) -> None:
    changes = [("decimals = 3", "decimals = -1"), ("point = 7", "pont = 7"), ("mask = 8", "mask = 16")]
    changes += [("start_byte = 0xFA", "start_byte = 256"), ("period_s = 0.5", "period_s = 0")]
    keys = {
        line.split("mine.toml:")[1].split(": expected")[0]
        for line in mistakes(tmp_path, *changes, text=DIGITS).splitlines()
    }
    starts = {
        "decimals": "value.decimals",
        "point": "value.pont",
        "sign": "value.sign.mask",
        "start_byte": "framing.start_byte",
        "period_s": "manner.period_s",
    }
    rows = {row.split(" = ")[0]: number for number, row in enumerate(DIGITS.splitlines(), 1)}
    assert keys == {f"{rows[start]}: {key}" for start, key in starts.items()}
    found = mistakes(tmp_path, ("point = 7", "pont = 7"), text=DIGITS)
    assert "value.pont: expected point, found unknown key pont" in found


def test_shipped_profiles_are_of_the_plainest_kind() -> None:
    """Eight bits, no parity, one stop bit, and a plain word as request: nobody's gauge in particular."""
    for file in shipped("gauges", "line-mm").parent.glob("*.toml"):
        kind = read_toml(file, GaugeProfile)
        if isinstance(kind.port, SerialPort):
            assert (kind.port.bytesize, kind.port.parity, kind.port.stopbits) == (8, "none", 1), file.name
        if isinstance(kind.manner, Requested):
            word = kind.manner.request_bytes.strip()
            assert word.isalpha(), file.name


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        (
            "hid-reports",
            'kind = "packet"\nmax_bytes = 4',
            'kind = "fixed"\nlength = 5\nstart_byte = 0xA5',
            "",
        ),
        ("usb-requested", "apart = true", "apart = false", None),
        (
            "usb-lines",
            'kind = "usb"',
            'kind = "usb"\napart = true',
            "kind packet, as its port hands on packets",
        ),
        (
            "typed-mm",
            r'terminator = "\n"',
            r'terminator = "\r\n"',
            r'framing: expected kind line with terminator "\n", as its port' "'s end is enter",
        ),
        (
            "typed-mm",
            'kind = "key-press"',
            'kind = "requested"\nrequest = "?"\nperiod_s = 1\ntimeout_s = 1',
            "manner: expected one that is not asked, as nothing can be sent to a gauge that types",
        ),
        (
            "typed-mm",
            'kind = "keyboard"',
            'kind = "keyboard"\nlayout = "dvorak"',
            "port.layout: expected 'us'",
        ),
        ("usb-lines", 'kind = "usb"', 'kind = "usb"\nendpoint = 0x01', "port.endpoint: expected"),
        (
            "hid-reports",
            "max_bytes = 4",
            "max_bytes = 3",
            "expected max_bytes of 4 or more, as its value has so",
        ),
    ],
)
def test_a_port_must_suit_what_comes_on_it(
    tmp_path: Path, name: str, old: str, new: str, said: str | None
) -> None:
    text = shipped("gauges", name).read_text()
    if said is None:
        assert read(tmp_path, text.replace(old, new, 1))
    else:
        assert said in mistakes(tmp_path, (old, new), text=text)


def test_a_unit_that_is_switched_shows_where_a_point_or_the_unit_is_in_the_frames() -> None:
    """Of what ships: who says it, and who does not even show where the point is."""
    profiles = [read_toml(shipped("gauges", name), GaugeProfile) for name in shipped_names("gauges")]
    told = {one.id for one in profiles if one.unit_is_told and one.value.unit in ("mm", "in")}
    hidden = {one.id for one in profiles if not one.unit_is_shown}
    assert told == {"burst-mm", "digits-mm", "line-unit"}
    assert hidden == {
        "binary-mm", "hid-checked-mm", "hid-reports", "line-exponent-mm", "sum-mm", "usb-requested",
        "xor-requested-mm",
    }  # fmt: skip


def test_a_key_of_another_kind_is_told_by_those_of_this_kind(tmp_path: Path) -> None:
    found = mistakes(tmp_path, ("[manner]", '[manner]\nrequest = "read"'))
    assert "manner.request: expected one of kind, period_s, found unknown key request" in found


def test_a_kind_that_is_none_is_told_by_those_there_are(tmp_path: Path) -> None:
    told = mistakes(tmp_path, ('kind = "free-running"', 'kind = "free"'))
    assert "manner.kind: expected 'free-running', 'requested', 'key-press' or 'modem-line', found" in told
    assert "expected this key, which must be given" in mistakes(tmp_path, ('kind = "free-running"\n', ""))
