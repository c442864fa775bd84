"""What bytes become between two ends of a serial line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import SerialPort
from simulators.wire import received


def port(frame: str, baud: int = 9600) -> SerialPort:
    parity = {"N": "none", "E": "even", "O": "odd"}[frame[1]]
    return SerialPort.model_validate(
        {"baud": baud, "bytesize": int(frame[0]), "parity": parity, "stopbits": int(frame[2])}
    )


def heard(data: bytes, sender: SerialPort, hearer: SerialPort) -> bytes:
    return bytes(byte for _, byte in received(data, sender, hearer))


@given(
    st.binary(max_size=40), st.sampled_from(["8N1", "8E1", "8O2", "8N2"]), st.sampled_from([1200, 115_200])
)
def test_alike_it_is_what_was_sent(data: bytes, frame: str, baud: int) -> None:
    came = received(data, port(frame, baud), port(frame, baud))
    assert bytes(byte for _, byte in came) == data
    nearly = received(data, port(frame, baud), port(frame, baud + 1))
    assert [byte for _, byte in nearly] == [byte for _, byte in came]
    bit_ns = 1e9 / baud
    assert all(abs(at - other) < 0.01 * bit_ns for (at, _), (other, _) in zip(came, nearly, strict=True))


@given(st.binary(max_size=40))
def test_seven_bits_with_parity_are_eight_with_it_in_the_highest(data: bytes) -> None:
    low = bytes(byte & 0x7F for byte in data)
    even = heard(low, port("7E1"), port("8N1"))
    assert bytes(byte & 0x7F for byte in even) == low
    assert all(byte.bit_count() % 2 == 0 for byte in even)
    odd = heard(low, port("7O1"), port("8N1"))
    assert all(byte.bit_count() % 2 for byte in odd)
    assert heard(low, port("8N1"), port("7E1")) == low


@pytest.mark.parametrize(("slow", "fast"), [(9600, 115_200), (4800, 9600), (1200, 57_600)])
def test_at_another_speed_it_is_something_else(slow: int, fast: int) -> None:
    sent = b"+000.190\r\n"
    assert heard(sent, port("8N1", slow), port("8N1", fast)) != sent
    assert heard(sent, port("8N1", fast), port("8N1", slow)) != sent
    assert len(heard(sent, port("8N1", fast), port("8N1", slow))) < len(sent)


def test_a_low_stop_bit_is_a_nought() -> None:
    """For even parity 0x01 needs a 1, which reads as a stop bit; 0x03 a 0, which does not."""
    assert heard(b"\x01", port("8E1"), port("8N1")) == b"\x01"
    assert heard(b"\x03", port("8E1"), port("8N1")) == b"\x00"
