"""``companion export --tables``: every session as tables, read back by other programs."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pyarrow.csv
import pyarrow.parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.sessions import sessions_folder
from companion.log.writer import LogWriter
from companion.report.parts import Item, PartsList, Section, as_csv
from companion.session.opening import open_session
from companion.shelf.load import load_card, load_sheet
from companion.transfer.chosen import Chosen
from companion.transfer.columns import TABLES
from companion.transfer.tables import write_tables
from companion.transfer.xlsx_book import XlsxBook, held_exactly
from tests.logs import MACHINE, MONDAY, Bench, any_event, invented_job, reading
from tests.shops import Shop, environment_kept

FORMS = ("csv", "json", "parquet", "xlsx")

HOSTILE = (
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1:A9)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "'=1+1",
    "＝1+1",
    '=HYPERLINK("http://example.invalid","see")',
    "=cmd|' /C calc'!A0",
    "http://example.invalid/",
    "mailto:somebody@example.invalid",
    "internal:Sheet2!A1",
    "{=1+1}",
    'a "quoted", cell',
    "two\r\nlines",
    "\x00\x07 bell",
    " blank before",
    "-",
)
"""Texts that a spreadsheet or a reader may make something else of."""


@pytest.fixture(scope="module", autouse=True)
def _environment() -> Iterator[None]:
    with environment_kept():
        yield


def exported(shop: Shop, to: str = "tables", form: str = "csv", *more: str) -> Path:
    folder = shop.folder / to
    assert shop.run("export", "--tables", folder, "--form", form, *more) == 0
    return folder


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The tiller's two days, typed calls at a saw, and a machine with hostile names."""
    shop = Shop(tmp_path_factory.mktemp("one") / "shop", "Marsh Lane Engines")
    invented_job(sessions_folder() / "tiller", clips=False)
    session = open_session(
        sessions_folder() / "typed",
        at=MONDAY + timedelta(days=3),
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    session.open(MONDAY + timedelta(days=3))
    for minute, call in enumerate(
        ("gap 30 thou", "step done", "correction 31 thou", "added 20 ounces of oil", "spark weak")
    ):
        session.typed(call, MONDAY + timedelta(days=3, minutes=minute))
    session.close()
    bench = Bench(sessions_folder() / "unusual", start=MONDAY + timedelta(days=9), clips=False)
    bench.open(machine={**MACHINE, "name": "=1+1"}, card=None)
    for text in HOSTILE:
        bench.call(text, ev.PartNeeded(part=text, count=1), ev.NoteKept(text=text, draft=False))
    bench.clips = True
    bench.call("far below", reading("air temperature", "-40", "celsius", verdict="unknown"))
    bench.writer.close()
    return shop


@pytest.fixture(scope="module")
def other_shop(tmp_path_factory: pytest.TempPathFactory, shop: Shop) -> Shop:
    other = Shop(tmp_path_factory.mktemp("two") / "shop", "Weir Road Repairs")
    bench = Bench(sessions_folder() / "tiller", start=MONDAY + timedelta(hours=1), clips=False)
    bench.open()
    bench.call("compression 110 psi", reading("compression", "110", "psi", verdict="in"))
    bench.writer.close()
    return other


@pytest.fixture(scope="module")
def csv_tables(shop: Shop) -> Path:
    return exported(shop, "as-csv")


def strict_rows(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened, strict=True))


# --- what the tables hold ------------------------------------------------------------------------
def test_readings_have_value_unit_window_verdict_step_and_what_was_heard(csv_tables: Path) -> None:
    rows = [row for row in strict_rows(csv_tables / "readings.csv") if row["session"] == "tiller"]
    first, second, third = rows
    assert first["measure"] == "gap"
    assert (first["value"], first["unit"]) == ("30", "thou")
    assert (first["counts"], first["superseded"]) == ("false", "corrected")
    assert (second["counts"], second["superseded"]) == ("true", "")
    assert second["corrects"] == first["record"]
    assert (second["value"], second["verdict"]) == ("31", "in")
    assert (second["window_low"], second["window_high"], second["window_unit"]) == (
        "28",
        "31",
        "thou",
    )
    assert second["step"] == "set-gap"
    assert second["heard_text"] == "correction thirty one thou"
    assert (third["verdict"], third["beyond"], third["window_high"]) == ("low", "15", "")
    assert third["si_unit"] == "Pa"
    # 75 psi by NIST SP 811: 6894.757 Pa a psi.
    assert float(third["si_value"]) == pytest.approx(75 * 6894.757, rel=1e-6)
    assert {row["shop"] for row in rows} == {"Marsh Lane Engines"}
    assert {row["machine"] for row in rows} == {"Quillmoor tiller"}


def test_a_reading_names_the_sound_of_its_call(csv_tables: Path) -> None:
    last = strict_rows(csv_tables / "readings.csv")[-1]
    assert last["clip"] == f"audio/{int(last['heard']):04d}.flac"
    assert (sessions_folder() / last["session"] / last["clip"]).is_file()


def test_a_reading_is_at_one_instant_in_utc_and_by_the_shops_clock(csv_tables: Path) -> None:
    row = strict_rows(csv_tables / "readings.csv")[0]
    assert row["recorded_at"].endswith("Z")
    assert row["recorded_with_offset"].endswith("+01:00")
    assert datetime.fromisoformat(row["recorded_at"]) == datetime.fromisoformat(
        row["recorded_with_offset"]
    )


def test_a_correction_called_at_a_later_step_belongs_to_the_step_of_the_reading(
    csv_tables: Path,
) -> None:
    rows = [row for row in strict_rows(csv_tables / "readings.csv") if row["session"] == "typed"]
    assert [(row["value"], row["step"]) for row in rows] == [("30", "take-in"), ("31", "take-in")]


def test_every_record_is_a_row_of_events(csv_tables: Path) -> None:
    log = (sessions_folder() / "tiller" / "log.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [row for row in strict_rows(csv_tables / "events.csv") if row["session"] == "tiller"]
    assert len(rows) == len(log)
    for row, line in zip(rows, map(json.loads, log), strict=True):
        assert (row["record"], row["kind"]) == (str(line["seq"]), line["kind"])
        assert json.loads(row["data"]) == line["data"]


def test_fluids_parts_work_and_sessions_are_tables_too(csv_tables: Path) -> None:
    def of_tiller(name: str) -> list[dict[str, str]]:
        rows = strict_rows(csv_tables / f"{name}.csv")
        return [row for row in rows if row["session"] == "tiller"]

    fluids = [(row["action"], row["value"], row["level"]) for row in of_tiller("fluids")]
    assert fluids == [
        ("drained", "18", ""),
        ("added", "0.5", ""),
        ("added", "1", ""),
        ("level", "", "full"),
    ]
    parts = [(row["action"], row["part"], row["count"]) for row in of_tiller("parts")]
    assert ("needed", "shear pin", "2") in parts
    assert ("follow up", "carburetor", "") in parts
    work = [(row["about"], row["what"], row["part"], row["counts"]) for row in of_tiller("work")]
    assert ("finding", "broken", "shear pin", "false") in work
    assert ("work", "tightened", "handle bolt", "true") in work
    (session,) = of_tiller("sessions")
    assert session["status"] == "open"
    assert session["tags"] == "plug wire off"
    assert session["job_title"] == "Spring service"
    assert session["session_id"] == fluids_id(csv_tables)


def fluids_id(csv_tables: Path) -> str:
    return strict_rows(csv_tables / "fluids.csv")[0]["session_id"]


def test_columns_prints_every_column_with_its_type(
    shop: Shop, csv_tables: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert shop.run("export", "--columns") == 0
    told = capsys.readouterr().out
    for name, table in TABLES.items():
        assert list(strict_rows(csv_tables / f"{name}.csv")[0]) == [c.name for c in table.columns]
        for column in table.columns:
            assert column.name in told
            assert column.about in told


# --- CSV -----------------------------------------------------------------------------------------
def test_csv_is_read_alike_by_three_readers(csv_tables: Path) -> None:
    for name in TABLES:
        file = csv_tables / f"{name}.csv"
        assert file.read_bytes().endswith(b"\r\n")
        strict = strict_rows(file)
        arrow = pyarrow.csv.read_csv(
            file,
            parse_options=pyarrow.csv.ParseOptions(newlines_in_values=True),
            convert_options=pyarrow.csv.ConvertOptions(
                column_types=dict.fromkeys(strict[0], pyarrow.string())
            ),
        )
        assert arrow.to_pylist() == strict
        quoted = str(file).replace("'", "''")
        counted = duckdb.sql(
            f"SELECT count(*) FROM read_csv('{quoted}', all_varchar=true, quote='\"', "
            "escape='\"', delim=',', header=true)"
        ).fetchall()
        assert counted == [(len(strict),)]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_a_formula_and_none_is_lost(csv_tables: Path, text: str) -> None:
    shown = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "\ufffd", text)
    parts = [row["part"] for row in strict_rows(csv_tables / "parts.csv")]
    cell = parts[-len(HOSTILE) + HOSTILE.index(text)]
    assert cell[:1] not in tuple("=+-@\t\r\n＝＋－＠")
    assert re.sub(r"^'(?='*[=+\-@\t\r\n＝＋－＠])", "", cell) == shown
    with_parts = PartsList("m", "j", True, "s", "d", (), (Section(text, (Item(text, "2"),)),))
    (row,) = csv.reader(as_csv(with_parts).splitlines(keepends=True)[1:], strict=True)
    assert row[1] == cell
    assert row[0] == cell


def test_a_number_below_zero_stays_a_number(csv_tables: Path) -> None:
    text = (csv_tables / "readings.csv").read_text(encoding="utf-8")
    assert ',"air temperature",-40,-40.0,"celsius",' in text


# --- JSON, Parquet, XLSX -------------------------------------------------------------------------
def test_json_lines_hold_the_same_rows_with_exact_decimals_and_the_event_itself(
    shop: Shop, csv_tables: Path
) -> None:
    folder = exported(shop, "as-json", "json")
    lines = (folder / "readings.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [json.loads(line) for line in lines]
    assert rows[0]["value"] == "30"
    assert rows[0]["counts"] is False
    assert rows[0]["window_low"] == "28"
    events = (folder / "events.jsonl").read_text(encoding="utf-8").splitlines()
    assert json.loads(events[0])["data"]["call_sign"] == "bench"
    assert len(events) == len(strict_rows(csv_tables / "events.csv"))
    for name in TABLES:
        assert duckdb.sql(f"SELECT * FROM read_json('{folder / name}.jsonl')").fetchall()


def test_parquet_of_two_shops_is_one_table_to_sql(shop: Shop, other_shop: Shop) -> None:
    files = [
        str(exported(each, "as-parquet", "parquet") / "readings.parquet")
        for each in (shop, other_shop)
    ]
    lowest = duckdb.execute(
        "SELECT shop, count(*), min(si_value), min(recorded_at) FROM read_parquet(?) "
        "WHERE measure = 'compression' AND counts GROUP BY shop ORDER BY shop",
        [files],
    ).fetchall()
    assert [row[:2] for row in lowest] == [("Marsh Lane Engines", 1), ("Weir Road Repairs", 1)]
    assert lowest[1][2] == pytest.approx(110 * 6894.757, rel=1e-6)
    ids = duckdb.execute(
        "SELECT count(DISTINCT session_id), count(DISTINCT session) FROM read_parquet(?) "
        "WHERE session = 'tiller'",
        [files],
    ).fetchall()
    assert ids == [(2, 1)]
    exact = duckdb.execute(
        "SELECT sum(value::DECIMAL(18, 6)) FROM read_parquet(?) WHERE measure = 'compression'",
        [files],
    ).fetchall()
    assert exact == [(Decimal("185.000000"),)]


@pytest.mark.parametrize("name", TABLES)
def test_no_column_needs_quotes_in_sql(shop: Shop, csv_tables: Path, name: str) -> None:
    columns = ", ".join(column.name for column in TABLES[name].columns)
    file = csv_tables / f"{name}.csv"
    assert duckdb.execute(f"SELECT max(1), {columns} FROM '{file}' GROUP BY {columns}").fetchall()


def test_parquet_has_the_types_that_columns_promises(shop: Shop) -> None:
    folder = exported(shop, "types", "parquet")
    types = {
        "text": "string",
        "whole": "int64",
        "number": "double",
        "exact": "string",
        "truth": "bool",
        "time": "timestamp[us, tz=UTC]",
        "json": "string",
    }
    for name, table in TABLES.items():
        read = pyarrow.parquet.read_table(folder / f"{name}.parquet")
        assert [(field.name, str(field.type)) for field in read.schema] == [
            (column.name, types[column.kind]) for column in table.columns
        ]
        for column in table.columns:
            assert read.schema.field(column.name).metadata[b"about"] == column.about.encode()
        assert read.num_rows > 0
    at = pyarrow.parquet.read_table(folder / "readings.parquet").column("recorded_at")[0].as_py()
    assert at.utcoffset() == timedelta(0)


def test_parquet_without_its_package_is_told_in_one_sentence(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert shop.run("export", "--tables", shop.folder / "none", "--form", "parquet") == 1
    assert '-m pip install "pyarrow>=18"' in capsys.readouterr().err
    assert not (shop.folder / "none").exists()


def test_a_workbook_has_a_sheet_a_table_and_no_formula_in_it(shop: Shop) -> None:
    folder = exported(shop, "as-xlsx", "xlsx")
    book = openpyxl.load_workbook(folder / "tables.xlsx")
    assert book.sheetnames == list(TABLES)
    for name, table in TABLES.items():
        sheet = book[name]
        assert sheet.freeze_panes == "A2"
        header = [cell.value for cell in sheet[1]]
        assert [str(title).split(" (")[0] for title in header] == [c.name for c in table.columns]
        assert all(cell.font.bold for cell in sheet[1])
        assert sheet.column_dimensions["B"].width > 30
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.hyperlink is None
    readings = list(book["readings"].iter_rows(min_row=2, values_only=True))
    columns = [column.name for column in TABLES["readings"].columns]
    first = dict(zip(columns, readings[0], strict=True))
    assert first["value"] == 30
    assert isinstance(first["recorded_at"], datetime)
    assert first["recorded_at"].replace(tzinfo=UTC) == datetime.fromisoformat(
        str(first["recorded_with_offset"])
    )
    parts = [row[columns.index("measure")] for row in book["parts"].iter_rows(values_only=True)]
    assert parts.count("needed") > len(HOSTILE)
    texts = {cell for row in book["parts"].iter_rows(values_only=True) for cell in row}
    assert "=1+1" in texts
    assert "http://example.invalid/" in texts


def test_a_table_longer_than_a_sheet_goes_on_on_the_next(tmp_path: Path) -> None:
    table = TABLES["parts"]
    row: Any = tuple(None for _ in table.columns)
    with (tmp_path / "book.xlsx").open("w+b") as file:
        book = XlsxBook(file, str(tmp_path), rows_a_sheet=4)
        book.begin(table)
        for number in range(8):
            book.add(table, (f"shop {number}", *row[1:]))
        book.end()
    read = openpyxl.load_workbook(tmp_path / "book.xlsx")
    assert read.sheetnames == ["parts", "parts 2", "parts 3"]
    shops = [sheet.cell(at, 1).value for sheet in read for at in range(2, sheet.max_row + 1)]
    assert shops == [f"shop {number}" for number in range(8)]
    assert all(sheet.cell(1, 1).value == "shop" for sheet in read)


def test_a_text_longer_than_a_cell_says_that_it_is_cut(tmp_path: Path) -> None:
    table = TABLES["parts"]
    with (tmp_path / "book.xlsx").open("w+b") as file:
        book = XlsxBook(file, str(tmp_path))
        book.begin(table)
        book.add(table, ("x" * 40_000, *(None for _ in table.columns[1:])))
        book.end()
    text = openpyxl.load_workbook(tmp_path / "book.xlsx")["parts"]["A2"].value
    assert len(text) <= 32_767
    assert text.endswith("(cut here; CSV, JSON and Parquet have all of it)")


@pytest.mark.parametrize(
    ("digits", "held"),
    [
        ("30", True),
        ("0.03", True),
        ("-40", True),
        ("12.60", False),
        ("0.1234567890123456789", False),
        ("12345678901234567890", False),
    ],
)
def test_a_decimal_is_a_number_on_a_sheet_only_if_no_digit_gets_lost(
    digits: str, held: bool
) -> None:
    assert held_exactly(digits) is held


# --- which sessions, where to --------------------------------------------------------------------
def test_a_session_a_machine_and_a_day_narrow_it(shop: Shop) -> None:
    def names(*more: str) -> list[str]:
        folder = exported(shop, f"narrow-{len(list(shop.folder.iterdir()))}", "csv", *more)
        return [row["session"] for row in strict_rows(folder / "sessions.csv")]

    assert names() == ["tiller", "typed", "unusual"]
    assert names("typed") == ["typed"]
    assert names("typed", "tiller") == ["typed", "tiller"]
    assert names("--machine", "quillmoor TILLER") == ["tiller"]
    assert names("--machine", "quillmoor-tiller") == ["typed"]
    assert names("--since", "2026-03-11") == ["unusual"]
    # Opened on the second, gone on with on the third.
    assert names("--since", "2026-03-03") == ["tiller", "typed", "unusual"]
    assert names("--since", "2026-03-04", "--machine", "quillmoor-tiller") == ["typed"]


def test_one_table_alone(shop: Shop) -> None:
    folder = exported(shop, "alone", "csv", "--only", "readings")
    assert [path.name for path in folder.iterdir()] == ["readings.csv"]


def test_what_is_there_is_replaced_only_if_asked(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = exported(shop, "again", "csv", "--only", "parts")
    (folder / "parts.csv").write_text("mine")
    capsys.readouterr()
    assert shop.run("export", "--tables", folder) == 1
    assert "--replace" in capsys.readouterr().err
    assert [(path.name, path.read_text()) for path in folder.iterdir()] == [("parts.csv", "mine")]
    exported(shop, "again", "csv", "--replace")
    assert strict_rows(folder / "parts.csv")


@pytest.mark.parametrize(
    ("arguments", "status", "told"),
    [
        (("export",), 2, "--tables FOLDER, or --zip FILE"),
        (("export", "--tables", "{}/new/er"), 1, "No such file or directory"),
        (("export", "--tables", "{}/settings.toml"), 1, "settings.toml"),
        (("export", "nothing", "--tables", "{}/x"), 1, "There is no session 'nothing'"),
        (("export", "--machine", "nobody's", "--tables", "{}/x"), 1, "sessions of =1+1, Quill"),
        (("export", "--since", "yesterday", "--tables", "{}/x"), 2, "write it as 2026-03-01"),
        (("export", "--since", "2199-01-01", "--tables", "{}/x"), 1, "none is of 2199-01-01"),
        (("export", "--only", "wages", "--tables", "{}/x"), 2, "there are sessions, readings"),
        (
            ("export", "--tables", "{}/shop.xlsx"),
            2,
            "what the files are with --form",
        ),
        (("export", "--zip", "{}/x.tar"), 2, "name a file in .zip"),
        (("export", "--zip", "/dev/full"), 2, "name a file in .zip"),
        (("export", "--zip", "{}/missing/x.zip"), 1, "No such file or directory"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(
    shop: Shop,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    status: int,
    told: str,
) -> None:
    before = sorted(shop.folder.iterdir())
    capsys.readouterr()
    assert shop.run(*(part.replace("{}", str(shop.folder)) for part in arguments)) == status
    (line,) = capsys.readouterr().err.splitlines()
    assert told in line
    assert sorted(shop.folder.iterdir()) == before


def test_a_shop_without_a_session_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty = Shop(tmp_path / "empty")
    assert empty.run("export", "--tables", tmp_path / "tables") == 1
    assert "start one with 'companion work'" in capsys.readouterr().err
    assert not (tmp_path / "tables").exists()


def test_a_damaged_log_is_told_of_and_the_rest_is_exported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = Shop(tmp_path / "shop")
    for name in ("sound", "spoiled"):
        bench = Bench(sessions_folder() / name, clips=False)
        bench.open()
        bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="in"))
        bench.writer.close()
    log = sessions_folder() / "spoiled" / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"30"', b'"31"'))
    assert shop.run("export", "--tables", tmp_path / "tables") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "spoiled is left out: The log in" in line
    assert [row["session"] for row in strict_rows(tmp_path / "tables" / "sessions.csv")] == [
        "sound"
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of files")
@pytest.mark.parametrize("form", [*FORMS, "zip"])
def test_a_disk_that_is_full_leaves_nothing_behind(
    shop: Shop, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    # The system itself refuses the write here, after taking part of it: setrlimit(2), RLIMIT_FSIZE.
    import resource

    folder = shop.folder / f"full-{form}"
    where = ("--zip", f"{folder}.zip") if form == "zip" else ("--tables", folder, "--form", form)
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (3_000, most))
    try:
        status = shop.run("export", *where)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    assert status == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "cannot be written" in line
    assert not list(shop.folder.glob("*full*"))


def test_a_link_or_a_device_in_the_place_of_a_file_is_left_alone(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    link = shop.folder / "full.zip"
    link.symlink_to("/dev/full")
    assert shop.run("export", "--zip", link, "--replace") == 1
    assert "no plain file" in capsys.readouterr().err
    assert link.is_symlink()
    link.unlink()


@settings(max_examples=8)
@given(st.lists(any_event(), max_size=20))
def test_whatever_a_log_holds_every_form_takes_it(
    tmp_path_factory: pytest.TempPathFactory, events: list[ev.AnyEvent]
) -> None:
    # A card or sheet that is none is refused where the log is read.
    kept = [event for event in events if not isinstance(event, ev.SessionOpened)]
    folder = tmp_path_factory.mktemp("any") / "job"
    bench = Bench(folder, clips=False)
    bench.open()
    if kept:
        bench.happen(*kept)
    bench.writer.close()
    for form in ("csv", "json", "parquet"):
        written = write_tables(Chosen((folder,)), folder.parent / form, form)
        assert written.rows["events"] == len(kept) + 1
    rows = strict_rows(folder.parent / "csv" / "events.csv")
    assert [row["kind"] for row in rows] == ["session.opened", *(event.kind for event in kept)]
    lines = (folder.parent / "json" / "events.jsonl").read_bytes().splitlines()
    arrow = pyarrow.parquet.read_table(folder.parent / "parquet" / "events.parquet")
    for line, data in zip(lines, arrow.column("data").to_pylist(), strict=True):
        assert json.loads(line)["data"] == json.loads(data)


def test_numbers_beyond_every_column_never_get_into_a_log(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    with LogWriter.create(folder) as writer:
        opened = ev.SessionOpened(
            session="job", machine=None, card=None, call_sign="bench", ounce="us", software="0"
        )
        writer.append([opened, ev.PartUsed(part="shim", count=10**18)], MONDAY)
        with pytest.raises(CompanionError, match="cannot be recorded"):
            writer.append([ev.PartUsed(part="shim", count=10**30)], MONDAY)
        first = datetime(1, 1, 1, tzinfo=MONDAY.tzinfo)
        with pytest.raises(CompanionError, match="clock"):
            writer.append([ev.PartUsed(part="shim", count=3)], first)
        writer.append([ev.PartUsed(part="shim", count=2)], MONDAY.replace(year=1971))
    for form in FORMS:
        write_tables(Chosen((folder,)), tmp_path / form, form)
    rows = strict_rows(tmp_path / "csv" / "parts.csv")
    assert [(row["count"], row["recorded_at"][:4]) for row in rows] == [
        (f"{10**18}", "2026"),
        ("2", "1971"),
    ]


@pytest.mark.skipif(sys.platform != "linux", reason="/dev/full is of Linux")
def test_what_is_printed_onto_a_full_disk_ends_in_one_sentence(shop: Shop) -> None:
    shop.enter()
    with open("/dev/full", "w") as full:
        run = subprocess.run(
            [sys.executable, "-m", "companion", "export", "--columns"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert run.returncode == 1
    (line,) = run.stderr.splitlines()
    assert "the disk is full" in line
