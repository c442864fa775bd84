"""Lists what a calendar of due inspections says, by day: an example to start from. Python and nothing else.

python agenda.py due.ics
"""

import pathlib
import re
import sys

text = pathlib.Path(sys.argv[1]).read_text(encoding="utf-8")
text = re.sub(r"\r?\n[ \t]", "", text)  # a folded line goes on (RFC 5545, 3.1)
found = []
for event in re.findall(r"BEGIN:VEVENT(.*?)END:VEVENT", text, re.DOTALL):
    said = dict(re.findall(r"^([A-Z]+)[^:\r\n]*:(.*?)\r?$", event, re.MULTILINE))
    summary = re.sub(r"\\([\\;,])", r"\1", said["SUMMARY"])
    found.append((said["DTSTART"], summary))  # UID is the engine's: the same again, it was moved
for day, summary in sorted(found):
    print(f"{day[:4]}-{day[4:6]}-{day[6:8]} {summary}")
