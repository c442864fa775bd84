"""Asks the pages for their metrics and says what is worth a call: an example to start from. Python alone.

python alarms.py URL
"""

import re
import sys
import urllib.request

with urllib.request.urlopen(f"{sys.argv[1]}/metrics") as answer:
    text = answer.read().decode()
assert text.endswith("# EOF\n"), "cut short"  # OpenMetrics 1.0.0 ends so
worth = {
    "ringtrue_broker_up": ("the broker is not heard", lambda value: value == 0),
    "ringtrue_bay_up": ("its daemon is not running", lambda value: value == 0),
    "ringtrue_outbox_oldest_seconds": ("results wait for {:.0f} s", lambda value: value > 300),
    "ringtrue_disk_free_bytes": ("{:.0f} bytes of disk left", lambda value: value < 1e9),
}
for name, labels, value in re.findall(r"^(\w+)(?:\{(.*?)\})? (\S+)$", text, re.MULTILINE):
    said, is_so = worth.get(name, ("", lambda _: False))
    if is_so(float(value)):
        of = dict(re.findall(r'(\w+)="(.*?)"', labels))
        print(f"{of.get('site', 'all')}/{of.get('bay', 'bays')}: {said.format(float(value))}")
