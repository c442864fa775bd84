"""How long and how much is waited for between here and the broker."""

from __future__ import annotations

# Seconds between two signs of life to the broker. A frozen broker is noticed in at most twice this.
KEEPALIVE_S = 10
# Longest wait for the broker to acknowledge anything; a working one takes milliseconds.
TIMEOUT_S = 5.0
# Seconds without an answer after which it is looked whether the port wants TLS, or wants none.
DOUBT_S = 1.5
# Messages received at QoS 0 and not yet looked at. More is a flood: the newest are dropped, and counted.
INCOMING_MAX = 10_000
