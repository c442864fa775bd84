"""Fetches every inspection's result by HTTP, once each: an example to start from. Python and nothing else.

python inspections.py URL NAME PASSWORD_FILE FOLDER
"""

import json
import pathlib
import sys
import urllib.parse
import urllib.request
from datetime import UTC, datetime, timedelta
from http.cookiejar import CookieJar

url, name, password, folder = sys.argv[1], sys.argv[2], pathlib.Path(sys.argv[3]), pathlib.Path(sys.argv[4])
folder.mkdir(parents=True, exist_ok=True)
opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
said = {"name": name, "password": password.read_text().splitlines()[0]}
entering = urllib.request.Request(f"{url}/enter", urllib.parse.urlencode(said).encode(), {"X-Ringtrue": "1"})
opener.open(entering).read()
began = (datetime.now(UTC) - timedelta(hours=1)).isoformat()  # an hour more: clocks differ
last = folder / "last"  # when it was asked before: what came since is enough
asked = {"limit": "100"} | ({"since": last.read_text()} if last.exists() else {})
while True:
    leaf = json.load(opener.open(f"{url}/api/1/inspections?{urllib.parse.urlencode(asked)}"))
    for result in leaf["inspections"]:
        named = f"{result['inspection']}-{result['revision']}.json"
        (folder / named).write_text(json.dumps(result, ensure_ascii=False))
    if leaf["next"] is None:
        break
    asked["after"] = leaf["next"]
last.write_text(began)
