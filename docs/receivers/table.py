"""Takes `ringtrue export --format csv` into a database: an example to start from. Python and nothing else.

python table.py FILE.csv shop.db
"""

import csv
import sqlite3
import sys

with open(sys.argv[1], encoding="utf-8-sig", newline="") as file, sqlite3.connect(sys.argv[2]) as shop:
    rows = csv.DictReader(file)
    columns = ", ".join(f'"{name}"' for name in rows.fieldnames)
    key = 'PRIMARY KEY (inspection, revision, "check")'
    shop.execute(f"CREATE TABLE IF NOT EXISTS reading ({columns}, {key})")
    places = ", ".join("?" for _ in rows.fieldnames)
    for row in rows:
        cells = [value or None for value in row.values()]  # no cell: no such figure, which is not zero
        shop.execute(f"INSERT OR IGNORE INTO reading VALUES ({places})", cells)
    amiss = "SELECT engine, [check], outcome FROM reading WHERE outcome NOT IN ('within', 'good') ORDER BY 1"
    for found in shop.execute(amiss):
        print(*found)
