from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.register.columns import TABLES, Column, Row, TableName, key_of
from records.register.merging import Rows, merged
from ringtrue.register_files import as_csv, read_table
from tests.ringtrue.programme import EXAMPLES, Run, bay, import_examples, result, store


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return bay(tmp_path, monkeypatch, capsys)


def put(run: Run, table: str, text: str | bytes, *more: str) -> tuple[int, str, str]:
    file = Path("rows.csv")
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return run("register", "import", table, "rows.csv", *more)


@pytest.mark.slow
def test_the_examples_go_in_come_out_and_change_nothing_again(run: Run) -> None:
    import_examples(run)
    for table in ("engines", "dampers", "fittings", "readings", "gauges"):
        code, text, _ = run("register", "export", table)
        assert code == 0
        given_rows = [
            line for line in (EXAMPLES / f"{table}.csv").read_text().splitlines() if line[:1] != "#"
        ]
        assert sorted(text.splitlines()) == sorted(given_rows)
        code, said, _ = put(run, table, text)
        assert (code, said) == (0, f"{table}: {len(given_rows) - 1} as they were\n")


@pytest.mark.parametrize(
    "text",
    [
        b"\xef\xbb\xbfengine;fleet;rating_kw\r\nGQ-E-1;truck 1;522,5\r\n",
        b'sep=;\nENGINE;Fleet;rating_kw;;\nGQ-E-1;"truck 1";522,5;;\n\n',
        b"engine\tfleet\trating_kw\nGQ-E-1\ttruck 1\t522.5\n",
        b'# of the quarry\n"engine","fleet","rating_kw"\n"GQ-E-1","truck 1","522.5"\n,,\n',
    ],
)
def test_what_spreadsheets_write_is_read(run: Run, text: bytes) -> None:
    assert put(run, "engines", text)[:2] == (0, "engines: 1 new, 0 as they were\n")
    assert run("register", "export", "engines")[1] == "engine,fleet,rating_kw\nGQ-E-1,truck 1,522.5\n"


def test_days_may_be_written_with_dots_never_with_slashes(run: Run) -> None:
    head = "gauge;what;resolution_mm;mpe_mm;calibration_due\n"
    assert put(run, "gauges", f"{head}GQ-G-1;dial;0,01;0,015;1.6.2027\n")[0] == 0
    assert run("register", "export", "gauges")[1].splitlines()[1] == "GQ-G-1,dial,0.01,0.015,2027-06-01,"
    code, _, said = put(run, "gauges", f"{head}GQ-G-1;dial;0,01;0,015;6/1/2027\n")
    assert code == 3
    assert "rows.csv:2: calibration_due: expected a day written as 2026-11-02, found '6/1/2027'" in said


@pytest.mark.parametrize(
    ("table", "text", "what"),
    [
        ("engines", "engine,rating_kw\nGQ-E-1,1.100\n", "rating_kw: expected rated power in kW"),
        (
            "readings",
            "engine;date;hours_h\nGQ-E-2207;2026-11-20;13,300\n",
            "hours_h: expected the hour meter",
        ),
        ("readings", "engine,date,distance_km\nGQ-E-2207,2026-11-20,181.200\n", "distance_km: expected the"),
    ],
)
def test_what_may_be_thousands_is_not_taken_for_decimals(run: Run, table: str, text: str, what: str) -> None:
    """A sheet whose hours all stand so, 9.500 and 11.840, ran 2.34 h of its interval."""
    put(run, "engines", "engine\nGQ-E-2207\n")
    code, _, said = put(run, table, text)
    assert (code, f"rows.csv:2: {what}" in said, "which may be either" in said) == (3, True, True)
    assert "thousands without a mark, decimals with fewer digits" in said


@pytest.mark.parametrize("day", ["0001-01-01", "1900-01-01", "0001-01-01T00:00:00+14:00"])
def test_a_day_that_stands_for_nothing_is_none(run: Run, day: str) -> None:
    """One of the first year went in, and `due` ended in a traceback for every engine."""
    put(run, "engines", "engine\nGQ-E-2207\n")
    code, _, said = put(run, "events", f"engine,date,trigger\nGQ-E-2207,{day},impact\n")
    assert (code, "rows.csv:2: date: expected a day from 1950-01-01 on" in said) == (3, True)


def test_a_serial_that_begins_as_a_comment_does_is_not_passed_over(run: Run) -> None:
    text = "engine,fleet\n# of the quarry, and more\n#14,truck 14\n"
    code, _, said = put(run, "engines", text)
    assert (code, said.splitlines()[0]) == (
        3,
        'rows.csv:3: row: expected a comment that begins with "# ", or a row whose serial does not begin so, '
        "found '#14,truck 14'",
    )


def test_one_serial_in_other_capitals_is_of_no_other_kind(run: Run) -> None:
    put(run, "dampers", "damper,family,construction\nD-1,viscous,welded\n")
    code, _, said = put(run, "dampers", "damper,family,construction\nd -1,rubber,\n")
    assert (code, said.splitlines()[:-1]) == (
        3,
        [
            "rows.csv:2: family: expected viscous, as of D-1: it differs by capitals or spaces alone, "
            "found rubber",
            "rows.csv:2: construction: expected welded, as of D-1: it differs by capitals or spaces alone, "
            "found nothing",
        ],
    )
    assert put(run, "dampers", "damper,family,construction\nd -1,viscous,welded\n")[0] == 0
    assert put(run, "engines", "engine,rating_kw\nE-1,300\ne-1,400\n")[0] == 3


WRONG = """\
engine,date,distance_km,hours_h
GQ-E-2207,2026-11-27,200000,13400
GQ-E-2207,2026-11-20,12,13500
GQ-E-9999,2026-11-20,12,13
GQ-E-2211,2026-11-20,a lot,7600
GQ-E-2211,2026-02-30,99000,7600
GQ-E-2211,2026-11-20
,2026-11-20,99000,7600
GQ-E-2214,2026-11-20,,
GQ-E-2214,2026-11-23,66000,-1
GQ-E-2211,2026-11-24,106000,7600
GQ-E-2211,2026-11-24,106000,7601
"""


@pytest.mark.slow
def test_a_file_with_wrong_rows_imports_nothing_and_every_wrong_row_is_told(run: Run) -> None:
    import_examples(run)
    before = run("register", "export", "readings")[1]
    code, out, said = put(run, "readings", WRONG)
    assert (code, out) == (3, "")
    assert said.splitlines() == [
        "rows.csv:2: date: expected a day that has come (today is 2026-11-26), found 2026-11-27",
        "rows.csv:3: distance_km: expected at least 181100, as read on 2026-11-02, found 12",
        "rows.csv:4: engine: expected an engine of the register (import engines first, or mend the serial), "
        "found GQ-E-9999",
        "rows.csv:5: distance_km: expected the odometer such as 12.5, found 'a lot'",
        "rows.csv:6: date: expected a day that is in the calendar, found '2026-02-30'",
        "rows.csv:7: row: expected 4 cells: engine,date,distance_km,hours_h, found 'GQ-E-2211,2026-11-20'",
        "rows.csv:8: engine: expected the engine's serial, found nothing",
        "rows.csv:9: distance_km: expected at least one of the two, found nothing, nor hours_h",
        "rows.csv:10: hours_h: expected the hour meter, 0 or more, found -1",
        "rows.csv:12: engine: expected each once (it stands on line 11 already), "
        "found GQ-E-2211 2026-11-24 again",
        "rows.csv: nothing of it was imported: 10 mistakes",
    ]
    assert run("register", "export", "readings")[1] == before


@pytest.mark.parametrize(
    ("table", "text", "said"),
    [
        (
            "engines",
            "fleet,rating_kw\n",
            "rows.csv:1: header: expected a column engine, found nothing of that name",
        ),
        (
            "engines",
            "engine,colour\n",
            "rows.csv:1: header: expected no other than engine, fleet, rating_kw, found a column 'colour'",
        ),
        ("engines", "engine,engine\n", "rows.csv:1: header: expected each column once, found engine 2 times"),
        (
            "engines",
            "GQ-E-1,truck 1\n",
            "rows.csv:1: header: expected the header engine[,fleet][,rating_kw], found",
        ),
        ("engines", "", "rows.csv: file: expected the header engine, found no line of text"),
        ("engines", b"engine\xff\n", "rows.csv:1: text: expected UTF-8 text"),
        (
            "dampers",
            "damper,family,construction\nGQ-D-1,viscous,pressed\n",
            "rows.csv:2: construction: expected rolled or welded, by the edge that is seen, found 'pressed'",
        ),
        (
            "dampers",
            "damper,family\nGQ-D-1,\n",
            "rows.csv:2: family: expected viscous or rubber, found nothing",
        ),
        (
            "dampers",
            "damper,family\nGQ\x07D,viscous\n",
            "expected one line of at most 100 characters, found 'GQ\\x07D'",
        ),
    ],
)
def test_a_file_that_is_not_the_tables_is_refused(run: Run, table: str, text: str | bytes, said: str) -> None:
    code, _, err = put(run, table, text)
    assert code == 3
    assert said in err


def test_a_whole_table_from_an_empty_file_is_refused(run: Run) -> None:
    put(run, "engines", "engine\nGQ-E-1\nGQ-E-2\n")
    code, _, said = put(run, "engines", "engine\n", "--whole")
    assert (code, "expected the whole table, found none" in said) == (3, True)
    assert put(run, "engines", "engine\nGQ-E-2\n", "--whole")[1] == "engines: 1 removed, 1 as they were\n"


def test_there_is_no_register_yet(run: Run) -> None:
    for words in (("list",), ("export", "engines"), ("event", "GQ-E-1", "impact")):
        code, _, said = run("register", *words)
        assert (code, "`ringtrue register import engines FILE` makes it" in said) == (3, True)
    assert not Path("var").exists()


@pytest.mark.slow
def test_the_list_of_engines_tells_what_is_fitted_read_and_amiss(run: Run, tmp_path: Path) -> None:
    import_examples(run)
    store(
        tmp_path,
        result("GQ-E-2207", "GQ-D-0815", date(2026, 11, 24), hours_h=13300.0),
        result("GQ-E-77", "GQ-D-77", date(2026, 11, 24)),
    )
    put(run, "engines", "engine,fleet\nGQ-E-3001,loader 2\n")
    method = Path(__file__).parents[2].joinpath("config/methods/example.toml").read_text()
    Path("mine.toml").write_text(method.replace("# construction = {", "construction = {"))
    code, out, _ = run("register", "list", "--method", "mine.toml")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    lines = out.splitlines()
    assert lines[2].split()[-2:] == ["181100", "13300"]
    assert "".join(lines).count("a rolled edge suits engines up to 300 kW") == 1
    assert "    no damper is on record as fitted to it" in lines
    assert (
        "1 engine with inspections on record, not in the register: GQ-E-77: import it"
        in lines[-2] + lines[-1]
    )
    data = {one["engine"]: one for one in json.loads(run("register", "list", "--json")[1])}
    assert data["GQ-E-2214"]["damper"] == "GQ-D-0830"
    assert data["GQ-E-2214"]["amiss"] == []
    assert data["GQ-E-3001"]["fitted"] is None


@pytest.mark.slow
@pytest.mark.parametrize("table", ["dampers", "gauges", "fittings", "readings", "events"])
def test_every_table_is_listed_within_a_terminal(run: Run, table: str) -> None:
    import_examples(run)
    assert run("register", "event", "GQ-E-2207", "impact", "--note", "w" * 150)[0] == 0
    put(run, "gauges", "gauge,what,resolution_mm,mpe_mm,calibration_due\nGQ-G-1,dial,0.01,0.015,2026-11-25\n")
    code, out, _ = run("register", "list", table)
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert ("calibration has ended" in out) is (table == "gauges")
    assert (
        len(json.loads(run("register", "list", table, "--json")[1]))
        == len(run("register", "export", table)[1].splitlines()) - 1
    )


def test_an_empty_table_says_how_to_fill_it(run: Run) -> None:
    put(run, "engines", "engine\nGQ-E-1\n")
    assert run("register", "list", "gauges")[1] == "gauges: none yet: ringtrue register import gauges FILE\n"


@pytest.mark.slow
def test_an_event_is_recorded_now_or_on_its_day(run: Run) -> None:
    import_examples(run)
    code, said, _ = run("register", "event", "GQ-E-2207", "impact", "--note", " tip wall ")
    until = "due until an inspection that was opened later ends in keep"
    assert (code, said) == (0, f"recorded: impact on 2026-11-26T12:00:00Z: GQ-E-2207 is {until}\n")
    run("register", "event", "GQ-E-2207", "leak", "--date", "2026-11-20")
    assert run("register", "export", "events")[1].splitlines()[1:] == [
        "GQ-E-2207,2026-11-20,leak,",
        "GQ-E-2207,2026-11-26T12:00:00Z,impact,tip wall",
    ]


@pytest.mark.slow
def test_events_of_a_method_of_before_go_in_again(run: Run) -> None:
    import_examples(run)
    assert put(run, "events", "engine,date,trigger\nGQ-E-2207,2026-11-20,leak\n")[0] == 0
    text = Path(__file__).parents[2].joinpath("config/methods/example.toml").read_text()
    Path("mine.toml").write_text(
        text.replace('id = "leak", text = "silicone', 'id = "fluid", text = "silicone')
    )
    code, said, _ = put(run, "events", run("register", "export", "events")[1], "--method", "mine.toml")
    assert (code, said) == (0, "events: 1 as they were\n")
    code, _, said = put(
        run, "events", "engine,date,trigger\nGQ-E-2207,2026-11-21,leak\n", "--method", "mine.toml"
    )
    assert (code, "expected one of the method's triggers (crank-work, fluid," in said) == (3, True)


@pytest.mark.slow
def test_a_whole_table_with_a_wrong_row_is_told_of_that_row_alone(run: Run) -> None:
    import_examples(run)
    code, _, said = put(run, "engines", "engine,rating_kw\nGQ-E-2207,much\n", "--whole")
    assert (code, said.count("\n")) == (3, 2)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (
            ("GQ-E-9", "impact"),
            3,
            "engine: expected an engine of the register (import engines first, or mend",
        ),
        (("GQ-E-2207", "impcat"), 2, "TRIGGER: expected one of the method's triggers (leak, impact, rattle,"),
        (("GQ-E-2207", "leak", "--date", "2026-12-01"), 3, "date: expected a day that has come (today is"),
        (
            ("GQ-E-2207", "leak", "--date", "2026-11-20T06:30"),
            3,
            "or a time such as 2026-11-02T06:30:00Z, found",
        ),
        (("GQ-E-2207", "leak", "--date", "2026-11-26T12:00:01Z"), 3, "expected a time that has come"),
    ],
)
def test_an_event_that_cannot_be_is_refused(run: Run, words: tuple[str, ...], code: int, said: str) -> None:
    import_examples(run)
    found, _, err = run("register", "event", *words)
    assert (found, said in err, err.count("\n")) == (code, True, 1)
    assert len(run("register", "export", "events")[1].splitlines()) == 1


NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)
SERIALS = ("E-1", "=E 2", "'+3", "Motor Nr. 4;5", 'the "big" one')
TEXT = st.text(
    st.characters(categories=("L", "N", "P", "S", "Zs"), exclude_characters="\x85\xa0"), max_size=20
)


def cells(column: Column) -> st.SearchStrategy[str | float | None]:
    """What a column may hold."""
    if column.kind == "serial":
        return st.sampled_from(SERIALS)
    if column.kind == "choice":
        known = st.sampled_from(column.choices)
        return known if column.is_needed else st.one_of(st.none(), known)
    if column.kind == "number":
        number = st.floats(column.least, column.most).map(lambda value: value + 0.0)
        return number if column.is_needed else st.one_of(st.none(), number)
    if column.kind == "trigger":
        return st.sampled_from(("leak", "impact"))
    if column.kind == "text":
        text = TEXT.map(str.strip).filter(str.isprintable)
        return text.filter(bool) if column.is_needed else text
    day = st.dates(date(1990, 1, 1), NOW.date()).map(str)
    if column.kind != "moment":
        return day
    seconds = st.integers(0, 10**9).map(lambda s: (NOW - timedelta(seconds=s)).strftime("%Y-%m-%dT%H:%M:%SZ"))
    return st.one_of(day, seconds)


@st.composite
def tables(draw: st.DrawFn, name: TableName) -> list[Row]:
    """Rows of one table, each key once."""
    row = st.fixed_dictionaries({column.name: cells(column) for column in TABLES[name]})
    drawn = draw(st.lists(row, max_size=6, unique_by=lambda row: key_of(name, row)))
    if name == "readings":
        drawn = [{**row, "distance_km": 1.0, "hours_h": row["hours_h"] and 2.0} for row in drawn]
    if name == "fittings":
        drawn = list({(row["damper"], row["date"]): row for row in drawn}.values())
    return drawn


@pytest.mark.slow
@given(st.fixed_dictionaries({name: tables(name) for name in TABLES}))
def test_any_register_goes_out_and_in_again_as_it_was(drawn: dict[TableName, list[Row]]) -> None:
    book: dict[TableName, Rows] = {name: {} for name in TABLES}
    for name in ("engines", "dampers"):
        known = {key_of(name, row): row for row in drawn[name]}
        spare: Row = {"family": "viscous"} if name == "dampers" else {}
        key = TABLES[name][0].name
        drawn[name] = [known.get((one,), {key: one, **spare}) for one in SERIALS]
    with TemporaryDirectory() as folder:
        for name in TABLES:
            rows, file = drawn[name], Path(folder) / f"{name}.csv"
            whole = [{c.name: row.get(c.name, c.empty) for c in TABLES[name]} for row in rows]
            file.write_text("".join(as_csv(name, whole)))
            incoming, problems = read_table(file, name, NOW)
            change = merged(book, name, incoming, ("leak", "impact"), whole=False)
            assert (problems, change.wrong) == ([], ())
            assert list(change.new) == whole
            book[name] = {key_of(name, row): row for row in whole}
            again = merged(book, name, incoming, ("leak", "impact"), whole=True)
            assert (again.new, again.changed, again.removed, again.same) == ((), (), (), len(whole))
