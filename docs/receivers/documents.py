"""Takes `ringtrue export --format json` into a database: an example to start from. Python and nothing else.

python documents.py FILE.json shop.db
"""

import json
import sqlite3
import sys

with open(sys.argv[1], encoding="utf-8") as file, sqlite3.connect(sys.argv[2]) as shop:
    columns = "id TEXT, revision INTEGER, document TEXT, PRIMARY KEY (id, revision)"
    shop.execute(f"CREATE TABLE IF NOT EXISTS inspection ({columns})")
    for one in json.load(file):
        row = one["inspection"], one["revision"], json.dumps(one, ensure_ascii=False)
        shop.execute("INSERT OR IGNORE INTO inspection VALUES (?, ?, ?)", row)  # the same again is nothing
    latest = """
        SELECT id, max(revision), document ->> '$.engine.serial',
               coalesce(document ->> '$.decision', document ->> '$.verdict'),
               document ->> '$.checks.rim.true_tir_mm' FROM inspection GROUP BY id ORDER BY id"""
    for found in shop.execute(latest):
        print(*found)
