"""Files as spreadsheets leave them: delimiters, encodings, workbooks, locks."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.errors import InputFaulty
from kilnpack.works_folder import read_works
from kilnpack.works_folder.grids import decoded
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kilnpack.errors import Finding


def findings_of(folder: Path) -> tuple[Finding, ...]:
    """Return the findings of a folder that has some."""
    with pytest.raises(InputFaulty) as caught:
        read_works(folder)
    return caught.value.findings


def places(findings: tuple[Finding, ...]) -> list[tuple[str, int | None, str]]:
    """Return where the findings are."""
    return [(one.file, one.row, one.field) for one in findings]


@pytest.mark.parametrize(
    "encode",
    [
        pytest.param(lambda text: text.encode(), id="UTF-8"),
        pytest.param(lambda text: text.encode("utf-8-sig"), id="UTF-8 with a mark"),
        pytest.param(lambda text: text.encode("utf-16"), id="UTF-16 with a mark"),
        pytest.param(lambda text: text.encode("cp1252"), id="Windows-1252"),
        pytest.param(lambda text: text.replace("\n", "\r\n").encode(), id="line ends of Windows"),
        pytest.param(lambda text: text.replace(";", "\t").encode(), id="tabs"),
        pytest.param(lambda text: text.replace(",", ".").replace(";", ",").encode(), id="commas"),
        pytest.param(lambda text: ("sep=;\n" + text).encode(), id="delimiter said first"),
        pytest.param(lambda text: ("\n\n" + text.replace("\n", "\n;;;\n")).encode(), id="empty rows"),
        pytest.param(lambda text: text.replace("customer", '"Customer "').encode(), id="capitals and blanks"),
    ],
)
def test_files_of_many_programs_are_read(tmp_path: Path, encode: Callable[[str], bytes]) -> None:
    """Guards delimiters and encodings: the same works comes out of all of them."""
    files = small_files()
    files["orders.csv"] = files["orders.csv"].replace("Inn at the Weir", "Gasthof Größ")
    wanted = read_works(write_files(tmp_path / "plain", files))
    folder = write_files(tmp_path / "mess", files)
    (folder / "orders.csv").write_bytes(encode(files["orders.csv"]))
    assert read_works(folder) == wanted


def test_bytes_that_are_no_text_are_a_finding(tmp_path: Path) -> None:
    """Guards files that are in no known encoding."""
    folder = write_files(tmp_path, small_files())
    (folder / "moulds.csv").write_bytes(b"shape;\x81\xff")
    assert places(findings_of(folder)) == [("moulds.csv", None, "")]
    with pytest.raises(UnicodeDecodeError):
        decoded(b"\x81")


def test_an_open_quote_is_a_finding(tmp_path: Path) -> None:
    """Guards against a quote that swallows the rest of a file."""
    folder = write_files(tmp_path, small_files() | {"moulds.csv": 'shape;moulds_pieces;casts_per_day\n"CUP;10;2\n'})
    assert places(findings_of(folder)) == [("moulds.csv", 2, "")]


def test_a_cell_may_hold_a_line_break(tmp_path: Path) -> None:
    """Guards row numbers: a spreadsheet counts a cell of two lines as one row."""
    files = small_files()
    files["orders.csv"] = files["orders.csv"].replace("Inn at the Weir", '"Inn at\nthe Weir"').replace(";30;", ";x;")
    assert places(findings_of(write_files(tmp_path, files))) == [("orders.csv", 4, "quantity_pieces")]


def test_left_overs_are_passed_over(tmp_path: Path) -> None:
    """Guards locks of open spreadsheets, notes, results and folders beside the tables."""
    folder = write_files(tmp_path, small_files())
    for name in ("~$works.xlsx", ".~lock.orders.csv#", "README.md", "readme.txt", "load.json", ".hidden"):
        (folder / name).write_bytes(b"\x81")
    (folder / "sheets").mkdir()
    assert read_works(folder).name == "Alder Yard"


def test_a_misspelt_file_is_a_finding(tmp_path: Path) -> None:
    """Guards against a file that is silently not read."""
    folder = write_files(tmp_path, small_files() | {"mould.csv": "x"})
    (finding,) = findings_of(folder)
    assert (finding.file, finding.row) == ("mould.csv", None)
    assert "nearest: moulds.csv" in finding.wanted


@pytest.mark.parametrize("name", ["shapes.csv", "products.csv", "posts.csv"])
def test_a_needed_table_is_missed(tmp_path: Path, name: str) -> None:
    """Guards the tables that no works can do without; what refers to them is not judged."""
    files = small_files()
    del files[name]
    assert places(findings_of(write_files(tmp_path, files))) == [(name, None, "")]


@pytest.mark.parametrize("name", ["works.toml", "programmes.toml", "kilns.toml"])
def test_a_needed_file_is_missed(tmp_path: Path, name: str) -> None:
    """Guards the three TOML files."""
    files = small_files()
    del files[name]
    assert places(findings_of(write_files(tmp_path, files))) == [(name, None, "")]


def test_a_toml_file_that_is_no_text_is_a_finding(tmp_path: Path) -> None:
    """Guards TOML files in no known encoding."""
    folder = write_files(tmp_path, small_files())
    (folder / "works.toml").write_bytes(b'name = "\x81"')
    assert places(findings_of(folder)) == [("works.toml", None, "")]


def test_no_folder_is_a_finding(tmp_path: Path) -> None:
    """Guards the simplest mistake."""
    assert places(findings_of(tmp_path / "nowhere")) == [(str(tmp_path / "nowhere"), None, "")]


def book_of(tables: dict[str, str]) -> openpyxl.Workbook:
    """Return a workbook with a sheet for each table, numbers as numbers, as a person would have typed it."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in tables.items():
        page = book.create_sheet(name)
        for line in text.splitlines():
            page.append([_as_typed(cell) for cell in line.split(";")])
    return book


def _as_typed(cell: str) -> str | float | None:
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return cell or None


def tables_of(files: dict[str, str]) -> dict[str, str]:
    """Return the CSV files by the name of their table."""
    return {name.removesuffix(".csv"): text for name, text in files.items() if name.endswith(".csv")}


def test_a_workbook_holds_the_same_works(tmp_path: Path) -> None:
    """Guards XLSX: 24.0 for 24, numbers in columns of codes, a sheet of notes."""
    files = small_files()
    wanted = read_works(write_files(tmp_path / "csv", files))
    folder = write_files(tmp_path / "xlsx", {name: text for name, text in files.items() if name.endswith(".toml")})
    book = book_of(tables_of(files))
    book.create_sheet("Notes of May")["A1"] = "anything"
    page = book["orders"]
    page["H2"] = dt.date(2026, 12, 18)
    book.save(folder / "works.xlsx")
    assert read_works(folder) == wanted


def test_a_table_may_be_a_workbook_of_its_own(tmp_path: Path) -> None:
    """Guards NAME.xlsx, with the table on a sheet of its name or on the first."""
    files = small_files()
    wanted = read_works(write_files(tmp_path / "csv", files))
    for title in ("moulds", "Sheet 1"):
        folder = write_files(tmp_path / title, {k: text for k, text in files.items() if k != "moulds.csv"})
        book_of({title: files["moulds.csv"]}).save(folder / "moulds.xlsx")
        assert read_works(folder) == wanted


def test_a_table_in_two_places_is_a_finding(tmp_path: Path) -> None:
    """Guards against two truths."""
    files = small_files()
    folder = write_files(tmp_path, files)
    book_of({"moulds": files["moulds.csv"]}).save(folder / "works.xlsx")
    (finding,) = findings_of(folder)
    assert "moulds.csv" in finding.wanted
    assert finding.file == "works.xlsx: moulds"


def test_an_unknown_sheet_is_a_finding(tmp_path: Path) -> None:
    """Guards misspelt sheets."""
    folder = write_files(tmp_path, small_files())
    book_of({"mould": "shape"}).save(folder / "works.xlsx")
    (finding,) = findings_of(folder)
    assert "nearest: moulds" in finding.wanted


def test_a_broken_workbook_is_one_finding(tmp_path: Path) -> None:
    """Guards damaged files: the tables that may be in it are not missed one by one."""
    files = {name: text for name, text in small_files().items() if name.endswith(".toml")}
    folder = write_files(tmp_path, files)
    (folder / "works.xlsx").write_bytes(b"PK\x03\x04 no workbook")
    assert places(findings_of(folder)) == [("works.xlsx", None, "")]
    (folder / "works.xlsx").unlink()
    write_files(folder, {name: text for name, text in small_files().items() if name != "moulds.csv"})
    (folder / "moulds.xlsx").write_bytes(b"PK\x03\x04 no workbook")
    assert places(findings_of(folder)) == [("moulds.xlsx", None, "")]


def test_noughts_that_a_workbook_lost_are_found(tmp_path: Path) -> None:
    """Guards 007 that became 7: beside codes with noughts in front, and where it is referred to."""
    files = small_files()
    folder = write_files(tmp_path, {name: text for name, text in files.items() if name != "stilts.csv"})
    book = book_of({"stilts": files["stilts.csv"]})
    page = book["stilts"]
    for number, code in enumerate(("001", "002", 7), start=2):
        for place, cell in enumerate((code, 12, 15, 20, 3, 0.03, 1100, 40), start=1):
            page.cell(number, place, cell)
    book.save(folder / "stilts.xlsx")
    (finding,) = findings_of(folder)
    assert (finding.file, finding.row, finding.field, finding.found) == ("stilts.xlsx", 4, "code", "7")
    assert "noughts" in finding.wanted


def test_a_code_that_a_workbook_made_a_date_of_is_found(tmp_path: Path) -> None:
    """Guards 3-4 that became the third of April."""
    files = small_files()
    folder = write_files(tmp_path, {name: text for name, text in files.items() if name != "stilts.csv"})
    book = book_of({"stilts": files["stilts.csv"]})
    book["stilts"]["A2"] = dt.date(2026, 4, 3)
    book.save(folder / "stilts.xlsx")
    (finding,) = findings_of(folder)
    assert (finding.row, finding.field, finding.found) == (2, "code", "2026-04-03")
    assert "format the column as text" in finding.wanted


def test_ten_thousand_rows_are_read(tmp_path: Path) -> None:
    """Guards large backlogs: every row arrives, from CSV and from a workbook."""
    files = small_files()
    head, *_ = files["lots.csv"].splitlines()
    rows = [f"L{k};PLATE-W;GLOST;{k % 40 + 1};;;;" for k in range(10_000)]
    files["lots.csv"] = "\n".join([head, *rows])
    folder = write_files(tmp_path, files)
    works = read_works(folder)
    assert len(works.lots) == 10_000
    (folder / "lots.csv").unlink()
    book_of({"lots": files["lots.csv"]}).save(folder / "lots.xlsx")
    assert read_works(folder).lots == works.lots


def test_a_file_that_may_not_be_read_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards files whose rights or disk refuse them, tables and TOML alike."""
    folder, real = write_files(tmp_path, small_files()), type(tmp_path).read_bytes

    def refuse(path: Path) -> bytes:
        if path.name in ("moulds.csv", "kilns.toml"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr("pathlib.Path.read_bytes", refuse)
    findings = findings_of(folder)
    assert places(findings) == [("kilns.toml", None, ""), ("moulds.csv", None, "")]
    assert all("Permission denied" in finding.found for finding in findings)


MESS = st.text(alphabet=st.characters(codec="utf-8", exclude_characters=";\n\r"), max_size=12) | st.sampled_from(
    ["", "-", "0", "-1", "1e9", "nan", "12,5", "1.234,5", "007", "3-4", "03.04.2026", "yes", "R1", "CUP", "a | b", '"']
)


@settings(max_examples=80)
@given(data=st.data())
def test_no_mess_in_a_cell_breaks_the_reader(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    """Guards against tracebacks: a works with any text in any three cells reads, or has findings."""
    files = small_files()
    tables = sorted(tables_of(files))
    for _ in range(3):
        name = f"{data.draw(st.sampled_from(tables))}.csv"
        lines = files[name].split("\n")
        number = data.draw(st.integers(0, len(lines) - 2))
        cells = lines[number].split(";")
        cells[data.draw(st.integers(0, len(cells) - 1))] = data.draw(MESS)
        lines[number] = ";".join(cells)
        files[name] = "\n".join(lines)
    folder = write_files(tmp_path_factory.mktemp("mess"), files)
    findings = 0
    try:
        works = read_works(folder)
    except InputFaulty as faulty:
        works, findings = None, len(faulty.findings)
    assert (works is None) == (findings > 0)


ODD_VALUES = (
    "[]", "[1]", "[[]]", "{}", "{ shape = [] }", "{ shape = 3, code = 4 }", '""', '"x y"', "nan", "-inf", "-1", "0",
    "1e308", "99999999999999999999999", "true", "2026-01-01", "07:30:00", "2026-01-01T07:00:00Z", "[{}]", '["GLOST"]',
)  # fmt: skip


@settings(max_examples=120)
@given(data=st.data())
def test_no_value_breaks_the_reader(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    """Guards against tracebacks: TOML files with any value at any two keys read, or have findings."""
    files = small_files()
    for _ in range(2):
        name = data.draw(st.sampled_from(["works.toml", "kilns.toml", "programmes.toml"]))
        lines = files[name].split("\n")
        keys = [number for number, line in enumerate(lines) if " = " in line]
        number = data.draw(st.sampled_from(keys))
        lines[number] = f"{lines[number].partition(' = ')[0]} = {data.draw(st.sampled_from(ODD_VALUES))}"
        files[name] = "\n".join(lines)
    folder = write_files(tmp_path_factory.mktemp("values"), files)
    findings = 0
    try:
        works = read_works(folder)
    except InputFaulty as faulty:
        works, findings = None, len(faulty.findings)
    assert (works is None) == (findings > 0)


@settings(max_examples=60)
@given(raw=st.binary(max_size=200))
def test_no_bytes_break_the_reader(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    """Guards against tracebacks from files that are no tables at all."""
    folder = write_files(tmp_path_factory.mktemp("bytes"), small_files())
    (folder / "moulds.csv").write_bytes(raw)
    findings = findings_of(folder)
    assert {finding.file for finding in findings} == {"moulds.csv"}


def test_a_folder_in_the_place_of_a_table_is_a_finding(tmp_path: Path) -> None:
    """Guards against a backlog that is empty because its file is none."""
    folder = write_files(tmp_path, small_files())
    (folder / "orders.csv").unlink()
    (folder / "orders.csv").mkdir()
    with pytest.raises(InputFaulty) as caught:
        read_works(folder)
    assert ("orders.csv", "no file") in {(finding.file, finding.found) for finding in caught.value.findings}
