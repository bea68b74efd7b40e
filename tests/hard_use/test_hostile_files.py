"""Files made to do harm: deep, huge, far out, in letters that look alike, or with formulas; each has a finding."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
import subprocess
import sys
import zipfile
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.cli.main import run
from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.loads import Load
from kilnpack.model.questions import TradeOff, TradePoint
from kilnpack.sheets.tables import FIRING_HEADINGS, csv_bytes, firing_table, workbook_bytes
from kilnpack.sheets.trade_off import write_trade_off
from kilnpack.words import FORMULA_STARTS, MOST_FINDINGS, guarded, text_fault, unguarded
from kilnpack.workflow.plan_prints import PRINTS, plan_print
from kilnpack.workflow.saved_plans import saved_plan
from kilnpack.works_folder import load_value, read_works, save_value, write_works
from kilnpack.works_folder.grids import FOLDER_BOUNDS, MOST_ROWS
from kilnpack.works_folder.letters import letters_fault, looks_like
from kilnpack.works_folder.sent_tables import SentFile, lay_down
from kilnpack.works_folder.template import new_works
from kilnpack.works_folder.workbook_guard import UnsafeWorkbook, safe_workbook
from tests.hard_use.limits import in_time
from tests.hard_use.targets import Drawings
from tests.records.small import small_plan
from tests.rules.small_audit import small_load
from tests.sheets.small_plan import PLAN
from tests.works_folder.small import small_files, write_files
from tests.works_folder.test_sent_tables import ORDERS, book, rows_of, with_part

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.works import Works

ROOT = Path(__file__).resolve().parents[2]
WORKS = small_files()["works.toml"]
SHEET = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>%s</sheetData></worksheet>'


def findings_of(folder: Path) -> tuple[Finding, ...]:
    """Return the findings of a folder that has some."""
    with in_time(), pytest.raises(InputFaulty) as caught:
        read_works(folder)
    return caught.value.findings


def with_name(value: str) -> dict[str, str]:
    """Return works.toml with another value for the name."""
    return {"works.toml": WORKS.replace('"Alder Yard"', value)}


def changed(file: str, old: str, new: str) -> dict[str, str]:
    """Return a file of the small works with one text replaced."""
    text = small_files()[file]
    assert text.count(old) == 1, f"{file} holds {old!r} {text.count(old)} times"
    return {file: text.replace(old, new)}


HOSTILE: dict[str, tuple[dict[str, str], str, str]] = {
    "lists in lists": (with_name("[" * 50_000), "works.toml", "lists in lists without an end"),
    "lists in lists that end": (with_name("[" * 300 + "]" * 300), "works.toml", "[[[[[...]]]]]"),
    "tables in tables": (with_name("{a=" * 5000), "works.toml", "lists in lists without an end"),
    "a number of many digits": (with_name("9" * 5000), "works.toml", "a number of thousands of digits"),
    "a number of many hex digits": (with_name("0x" + "f" * 5000), "works.toml", "a very large number"),
    "a key of many parts": (with_name('"x"\n' + ".".join("a" * 20_000) + " = 1"), "works.toml", "more dots"),
    "a header of many parts": (
        {"works.toml": WORKS + "[" + ". ".join(['"a"'] * 9000) + "]"}, "works.toml", "more dots"
    ),
    "a text of megabytes": (with_name('"' + "A" * 1_500_000 + '"'), "works.toml", "AAA"),
    "a file of megabytes": ({"works.toml": "#" * 2_000_001}, "works.toml", "2.0 MB"),
    "thousands of kilns": ({"kilns.toml": '[[kilns]]\ncode = "K"\n' * 501}, "kilns.toml", "501 of them"),
    "a sign that rings the bell": (with_name('"\\u0007"'), "works.toml", "\ufffd"),
    "a sign that turns what follows": (
        changed("orders.csv", "Mill Shop", "Mill\u202e Shop"), "orders.csv", "Mill\ufffd"
    ),
    "a cell with a nought byte": (changed("orders.csv", "Mill Shop", "Mill\0Shop"), "orders.csv", "Mill\ufffdShop"),
    "a thousand million pieces ordered": (
        changed("orders.csv", "CUP-W;60", "CUP-W;1000000000"), "orders.csv", "1000000000"
    ),
    "a thousand million pieces made": (changed("lots.csv", "BISC;70", "BISC;1000000000"), "lots.csv", "1000000000"),
    "a cell too long": (changed("orders.csv", "Mill Shop", "M" * 200_000), "orders.csv", "a cell too long to be one"),
    "a name too long": (changed("orders.csv", "Mill Shop", "M" * 20_000), "orders.csv", "MMM"),
    "a code too long": (changed("orders.csv", "1002/1;1002", "1002/1;" + "1" * 81), "orders.csv", "111"),
    "a quote that never ends": (changed("orders.csv", "Mill Shop", '"Mill'), "orders.csv", "and never ends"),
    "a quote inside": (changed("orders.csv", "Mill Shop", '"Mill" Shop'), "orders.csv", 'a " inside a cell'),
    "two kinds of line end": (changed("orders.csv", "Mill Shop", "Mill\rShop"), "orders.csv", ""),
    "infinity": (changed("shapes.csv", "tea cup;0,24", "tea cup;1e999"), "shapes.csv", "1e999"),
    "a length beyond measure": (changed("profiles.csv", "CUP;;60;42", "CUP;;60;1e300"), "profiles.csv", "1e300"),
    "a mass next to nothing": (changed("shapes.csv", "tea cup;0,24", "tea cup;5e-324"), "shapes.csv", "5e-324"),
    "no number in TOML": (changed("works.toml", "= 12.0", "= nan"), "works.toml", "nan"),
    "infinity in TOML": (changed("works.toml", "= 12.0", "= -inf"), "works.toml", "-inf"),
    "a turn beyond measure": (changed("kilns.toml", "= 180.0", "= 1e308"), "kilns.toml", "1e+308"),
    "a whole number beyond measure": (
        changed("works.toml", "crew_people = 2", "crew_people = 10_000_000_000"), "works.toml", ""
    ),
    "a profile that goes back": (changed("profiles.csv", "CUP;;60;42", "CUP;;60;42\nCUP;;30;50"), "profiles.csv", "30"),
    "an outline that crosses itself": (
        changed("kilns.toml", '"rectangle", w_mm = 700.0, d_mm = 600.0',
                '"convex polygon", corners_mm = [[0.0, 0.0], [700.0, 600.0], [700.0, 0.0], [0.0, 600.0]]'),
        "kilns.toml", "600",
    ),
    "a Cyrillic letter in a Latin code": (changed("moulds.csv", "CUP;10", "\u0421UP;10"), "moulds.csv", "\u0421UP"),
    "a Greek letter in a kiln's code": (
        changed("kilns.toml", 'code = "G1"', 'code = "\u0397G1"'), "kilns.toml", "\u0397G1"
    ),
    "a wide digit in a code": (changed("stilts.csv", "ST1;", "ST\uff11;"), "stilts.csv", "ST\uff11"),
    "digits of two kinds in a code": (changed("stilts.csv", "ST1;", "ST1\u0661;"), "stilts.csv", "ST1\u0661"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_has_a_finding(name: str, tmp_path: Path) -> None:
    """Guards works folders from files made to do harm: found in time, in the file meant, and said in few words."""
    files, file, found = HOSTILE[name]
    findings = findings_of(write_files(tmp_path, small_files() | files))
    assert any(one.file == file and found in one.found for one in findings), findings
    assert all(len(str(one)) < 1000 for one in findings)


@pytest.mark.parametrize("name", ["lists in lists", "a quote that never ends", "a sign that rings the bell"])
def test_the_command_ends_with_the_exit_code_of_findings(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards the command line: exit code 2, the findings, and no traceback."""
    folder = write_files(tmp_path, small_files() | HOSTILE[name][0])
    monkeypatch.setattr(sys, "argv", ["kilnpack", "check", str(folder)])
    with pytest.raises(SystemExit) as left:
        run()
    said = "".join(capsys.readouterr())
    assert left.value.code == 2
    assert HOSTILE[name][1] in said
    assert "Traceback" not in said


def test_a_file_name_in_another_encoding_can_be_printed(tmp_path: Path) -> None:
    """Guards the printing of findings: a name that is no UTF-8 is marked, not a fault of the program."""
    folder = write_files(tmp_path, small_files())
    (folder / os.fsdecode(b"\xff\xfe.csv")).write_bytes(b"x")
    (finding,) = findings_of(folder)
    assert finding.file.encode().decode() == "\ufffd\ufffd.csv"


# -- JSON -----------------------------------------------------------------------------------------------------------


def json_findings(path: Path, raw: bytes) -> tuple[Finding, ...]:
    """Return the findings of a saved load."""
    path.write_bytes(raw)
    with in_time(), pytest.raises(InputFaulty) as caught:
        load_value(path, Load)
    return caught.value.findings


def saved_load(**more: object) -> bytes:
    """Return a load whose keys are replaced, as JSON."""
    return json.dumps({"schema": "kilnpack load", "version": 1, "value": more}).encode()


@pytest.mark.parametrize("depth", [10, 500, 900, 960, 980, 990, 5000, 200_000])
def test_deep_json_has_a_finding(depth: int, tmp_path: Path) -> None:
    """Guards from lists in lists, at every depth: those that can just be read must be shown too."""
    raw = saved_load(kiln=1).replace(b'"kiln": 1', b'"kiln": ' + b"[" * depth + b"]" * depth)
    findings = json_findings(tmp_path / "load.json", raw)
    assert any("[[[" in one.found or "without an end" in one.found for one in findings)


def test_json_with_very_many_faults_is_told_in_part(tmp_path: Path) -> None:
    """Guards from millions of findings: after `MOST_FINDINGS` the rest is said in one."""
    findings = json_findings(tmp_path / "load.json", saved_load(forms=[{}] * 100_000))
    assert len(findings) == MOST_FINDINGS + 1
    assert findings[-1].found == f"more than {MOST_FINDINGS} faults"


def test_json_too_large_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards memory: a saved value of more bytes than any plan has is refused unread."""
    monkeypatch.setattr("kilnpack.works_folder.saved.MOST_SAVED_BYTES", 10)
    (finding,) = json_findings(tmp_path / "load.json", b"[" * 11)
    assert "a file of at most" in finding.wanted


def test_a_text_that_no_screen_can_print_is_a_finding(tmp_path: Path) -> None:
    """Guards half a letter of two, which JSON can name and nothing can print."""
    found = {
        one.field: one for one in json_findings(tmp_path / "load.json", saved_load(kiln="\ud800", **{"\ud801": 1}))
    }
    assert "U+D800" in found["kiln"].wanted
    assert found["\ufffd"].found == "an unknown key"
    assert str(found["\ufffd"]).encode()


@pytest.mark.parametrize(
    ("edit", "field"),
    [
        (lambda plan: replace(plan, firings=(plan.firings[0], plan.firings[0])), "firings"),
        (lambda plan: replace(plan, made=plan.made.replace(tzinfo=None)), "made"),
        (lambda plan: replace(plan, made=plan.made.replace(year=9999)), "made"),
        (lambda plan: replace(plan, firings=(_naive(plan.firings[0]),)), "firings[F1].draw"),
    ],
)
def test_a_plan_whose_parts_cannot_be_told_apart_is_refused(
    edit: Callable[[Any], Any], field: str, tmp_path: Path
) -> None:
    """Guards the commands that take a plan without an audit: doubled codes, moments without an offset or far away."""
    save_value(tmp_path / "plan.json", small_plan())
    assert saved_plan(tmp_path / "plan.json") == small_plan()
    save_value(tmp_path / "plan.json", edit(small_plan()))
    with pytest.raises(InputFaulty) as caught:
        saved_plan(tmp_path / "plan.json")
    assert {one.field for one in caught.value.findings} == {field}


def _naive(firing: Any) -> Any:
    return replace(firing, draw=firing.draw.replace(tzinfo=None))


# -- tables ---------------------------------------------------------------------------------------------------------


def test_a_million_rows_are_refused_in_little_memory(tmp_path: Path) -> None:
    """Guards memory and time: 10^6 rows are one finding, by a process given 2 GB and a minute of its time."""
    head = small_files()["lots.csv"].splitlines()[0]
    rows = (f"L{k};PLATE-W;GLOST;{k % 40 + 1};;;;" for k in range(1_000_000))
    folder = write_files(tmp_path, small_files() | {"lots.csv": "\n".join((head, *rows))})
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (2 << 30,) * 2);"
        "resource.setrlimit(resource.RLIMIT_CPU, (60, 60));"
        "sys.argv = ['kilnpack', 'check', sys.argv[1]]; from kilnpack.cli.main import run; run()"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(folder)], capture_output=True, text=True, timeout=900, check=False
    )
    assert ran.returncode == 2, ran.stderr[-2000:]
    assert f"lots.csv, row {MOST_ROWS + 2}: found more than {MOST_ROWS} rows" in ran.stdout + ran.stderr
    assert "Traceback" not in ran.stderr


def test_a_table_of_faults_is_told_in_part(tmp_path: Path) -> None:
    """Guards from hundreds of thousands of findings, and from what would follow of the rows that were not read."""
    head = small_files()["orders.csv"].splitlines()[0]
    rows = [f"{k};1;a shop;CUP-W;none;;;2026-12-18;;" for k in range(6000)]
    findings = findings_of(write_files(tmp_path, small_files() | {"orders.csv": "\n".join((head, *rows))}))
    assert len(findings) == MOST_FINDINGS + 2
    assert {one.file for one in findings} == {"orders.csv"}


def test_very_many_codes_that_are_not_there_are_told_in_time(tmp_path: Path) -> None:
    """Guards the hint at the nearest code, which takes longer the more codes there are: two columns swapped."""
    files = small_files()
    head, *_ = files["orders.csv"].splitlines()
    rows = [f"N{k:04}/1;1;a shop;CUP-W;1;;;2026-12-18;;" for k in range(3000)]
    lots = [f"L{k};CUP-W;BISC;1;M{k:04}/1;;;" for k in range(3000)]
    files["orders.csv"] = "\n".join((head, *rows))
    files["lots.csv"] = "\n".join((files["lots.csv"].splitlines()[0], *lots))
    findings = findings_of(write_files(tmp_path, files))
    assert len([one for one in findings if one.field == "order_line"]) == 3000
    assert "nearest" in findings[0].wanted
    assert "there are" in findings[2999].wanted


def test_a_file_too_large_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards memory: tables, workbooks and drawings of too many bytes are refused unread."""
    monkeypatch.setattr("kilnpack.works_folder.grids.MOST_FILE_BYTES", 100)
    folder = write_files(
        tmp_path, {k: v for k, v in small_files().items() if k != "lots.csv"} | {"lots.xlsx": "P" * 101}
    )
    findings = findings_of(folder)
    assert ("lots.xlsx", "0.0 MB") in {(one.file, one.found) for one in findings}
    assert ("orders.csv", "0.0 MB") in {(one.file, one.found) for one in findings}


# -- workbooks ------------------------------------------------------------------------------------------------------


def with_book(folder: Path, content: bytes) -> tuple[Finding, ...]:
    """Return the findings of a works whose moulds are in a workbook."""
    write_files(folder, {name: text for name, text in small_files().items() if name != "moulds.csv"})
    (folder / "moulds.xlsx").write_bytes(content)
    return findings_of(folder)


def test_a_bomb_of_a_workbook_is_not_unpacked(tmp_path: Path) -> None:
    """Guards works folders from a workbook of 0.1 MB that would unpack to a thousand times as much."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/big.xml", "w") as part:
        part.write(b"<")
        for _ in range(120):
            part.write(b"a" * 1_000_000)
    bomb = out.getvalue()
    assert len(bomb) < 130_000
    (finding,) = with_book(tmp_path, bomb)
    assert finding.file == "moulds.xlsx"
    assert "xl/big.xml unpacks to more than 400 times its size" in finding.found


def test_parts_that_overlap_and_places_that_lie_are_told(tmp_path: Path) -> None:
    """Guards archives that are cut or say wrong places of themselves: a finding where there was once a traceback."""
    raw = book(moulds=rows_of("shape,moulds_pieces,casts_per_day\nCUP,10,2\n"))
    for cut in (1, 11, 23, 39):
        with pytest.raises(UnsafeWorkbook, match="no workbook that can be read"):
            safe_workbook(raw[cut:])
    (finding,) = with_book(tmp_path, raw[11:])
    assert finding.found == "no workbook that can be read"


def test_links_to_other_workbooks_are_not_followed(tmp_path: Path) -> None:
    """Guards from links: what a workbook says of other files does not come through, its own cells do."""
    raw = book(orders=rows_of(ORDERS))
    link = b'<externalLink xmlns="x"><externalBook r:id="rId1" xmlns:r="y"/></externalLink>'
    there = (
        b'<Relationships><Relationship Id="rId1" Target="file:///etc/passwd" TargetMode="External"/></Relationships>'
    )
    raw = with_part(raw, "xl/externalLinks/externalLink1.xml", link)
    raw = with_part(raw, "xl/externalLinks/_rels/externalLink1.xml.rels", there)
    safe = safe_workbook(raw)
    with zipfile.ZipFile(io.BytesIO(safe.content)) as archive:
        assert not [name for name in archive.namelist() if "external" in name.lower()]
        assert not any(b"/etc/passwd" in archive.read(name) for name in archive.namelist())
    laid, faults = lay_down([SentFile(name="orders.xlsx", content=raw)], tmp_path)
    assert faults == ()
    assert [row[1][0] for row in laid[0].grid.rows] == ["code", "1/1"]


def test_many_sheets_with_one_cell_far_out_are_refused() -> None:
    """Guards from a hundred sheets of one cell each, for which millions of empty ones would be laid out."""
    raw = book(orders=rows_of(ORDERS))
    far = SHEET % b'<row r="20000"><c r="GR20000"><v>1</v></c></row>'
    for number in range(2, 5):
        raw = with_part(raw, f"xl/worksheets/sheet{number}.xml", far)
    with pytest.raises(UnsafeWorkbook, match="more than 4 million cells"):
        safe_workbook(raw)
    assert safe_workbook(raw, FOLDER_BOUNDS) is not None if FOLDER_BOUNDS.cells >= 3 * 4_000_000 else True


# -- drawings -------------------------------------------------------------------------------------------------------

_SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">{}</svg>'
_BOMB = "".join(f'<!ENTITY a{k} "{(f"&a{k - 1};" if k else "aaaaaaaaaa") * 10}">' for k in range(9))


def zigzag(count: int) -> str:
    """Return the lines of a scribble whose lines nearly all cross."""
    return "M " + " L ".join(f"{k * 7919 % 200} {k * 104729 % 199}" for k in range(count))


def star(count: int) -> str:
    """Return a star with so many corners."""
    turns = [(50 + 30 * (k % 2), 2 * math.pi * k / count) for k in range(count)]
    return "M " + " L ".join(f"{r * math.cos(a):.4f} {r * math.sin(a):.4f}" for r, a in turns) + " Z"


@pytest.mark.parametrize(
    ("text", "shows", "said"),
    [
        (_SVG.format('<path d="M 0 0 L 40 40 L 40 0 L 0 40 Z"/>'), "outline", "does not cross itself"),
        (_SVG.format(f'<path d="{zigzag(400)}"/>'), "half section", "without a scribble"),
        (_SVG.format(f'<path d="{star(800)}"/>'), "outline", "at most 600 corners"),
        (_SVG.format('<circle r="3"/>' * 2000), "outline", "one plain line"),
        (_SVG.format('<path d="M 0 0 L 1e308 1e308 L 0 5 Z"/>'), "outline", "within 10000 mm"),
        (f"<!DOCTYPE svg [{_BOMB}]>" + _SVG.format("<text>&a8;</text>"), "outline", "a drawing in SVG"),
        (_SVG.format("<g>" * 50_000 + "</g>" * 50_000), "outline", "a drawing in SVG"),
        (_SVG.format('<g id="a"><use xlink:href="#a"/></g>'), "outline", "a"),
        ("<notes/>", "outline", "a drawing in SVG"),
    ],
)  # fmt: skip
def test_a_hostile_drawing_has_a_finding(text: str, shows: str, said: str, tmp_path: Path) -> None:
    """Guards from drawings that cross themselves, scribble, reach far, bomb, or are none."""
    (finding,) = in_folder(tmp_path, "vase.svg", text.encode(), shows)
    assert said in finding.wanted
    assert finding.field == "drawing"


@pytest.mark.parametrize(
    "raw", [b"", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nx\n0\nENDSEC\n0\nEOF\n", b"\xff\xfe", b"AC1018"]
)
def test_what_is_no_dxf_has_a_finding(raw: bytes, tmp_path: Path) -> None:
    """Guards from DXF files that are none."""
    (finding,) = in_folder(tmp_path, "vase.dxf", raw, "outline")
    assert finding.wanted in ("a drawing in DXF", "a part of the drawing with a path")


def in_folder(folder: Path, name: str, raw: bytes, shows: str) -> tuple[Finding, ...]:
    """Return the findings of a drawing."""
    (folder / name).write_bytes(raw)
    with in_time():
        return Drawings(folder).read(name, shows)


# -- codes that look alike ------------------------------------------------------------------------------------------


@pytest.mark.source("uts-39", "section 5.2, highly restrictive; section 5.3")
@pytest.mark.parametrize(
    ("code", "sound"),
    [
        ("CUP-1", True), ("\u00c9T\u00c9-1", True), ("\u0427\u0410\u0428\u041a\u0410", True), ("\u8336\u7897B", True),
        ("\u8336\u308f\u3093\u30ab\u30c3\u30d7", True), ("\ucc3b\uc794A", True), ("\u0661\u0662", True),
        ("\u0421UP", False), ("CU\u03a1", False), ("\u0421\u039f", False), ("\uff23UP", False), ("CUP\u00b2", False),
        ("1\u0661", False), ("\u8336\u0416", False), ("\U0001d400B", False),
    ],
)  # fmt: skip
def test_codes_are_in_one_script(code: str, sound: bool) -> None:
    """Guards from letters that look alike: one script, or those that are written together; digits of one kind."""
    assert (letters_fault(code) == "") == sound


def test_the_odd_letter_is_named() -> None:
    """Guards the finding: which letter it is, its number, and what the others are."""
    assert letters_fault("\u0421UP") == "a code in one script; \u0421 (U+0421) is Cyrillic among Latin letters"
    assert letters_fault("\uff23UP").endswith("\uff23 (U+FF23) is another form of C")


@pytest.mark.source("uts-39", "section 4, skeletons")
def test_a_code_wholly_in_other_letters_is_found(tmp_path: Path) -> None:
    """Guards COP in Cyrillic beside COP in Latin letters: doubled where it is defined, told where it is referred to."""
    assert looks_like("\u0421\u041e\u0420") == "COP"
    cyrillic = "\u0421\u041e\u0420"
    files = small_files()
    files["glazes.csv"] += "COP;copper;1100;;;;\n" + f"{cyrillic};copper;1100;;;;\n"
    (finding,) = findings_of(write_files(tmp_path / "twice", files))
    assert (finding.file, finding.row, finding.found) == ("glazes.csv", 5, cyrillic)
    assert "looks the same, in other letters" in finding.wanted
    files = small_files()
    files["glazes.csv"] += "COP;copper;1100;;;;\n"
    files["products.csv"] += f"CUP-C;CUP;{cyrillic};;R1;;12\n"
    (finding,) = findings_of(write_files(tmp_path / "referred", files))
    assert (finding.file, finding.field) == ("products.csv", "glaze")
    assert "COP, which looks the same" in finding.wanted


# -- formulas -------------------------------------------------------------------------------------------------------

FREE_TEXT = st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cf"]), max_size=12)


@pytest.mark.source("cwe-1236", "mitigations: cells that begin with = + - @")
@given(start=st.sampled_from(["", "'", "''", *FORMULA_STARTS]), rest=st.text(max_size=12))
def test_guarded_text_is_no_formula_and_comes_back(start: str, rest: str) -> None:
    """Guards the quote before such text: never a formula, and the text again when it is read."""
    assert not guarded(start + rest).startswith(FORMULA_STARTS)
    assert unguarded(guarded(start + rest)) == start + rest


@pytest.mark.source("cwe-1236", "mitigations: cells that begin with = + - @")
@settings(max_examples=6)
@given(start=st.sampled_from([sign for sign in FORMULA_STARTS if not sign.isspace()]), rest=FREE_TEXT)
def test_no_cell_of_a_works_folder_becomes_a_formula(
    tmp_path_factory: pytest.TempPathFactory, start: str, rest: str
) -> None:
    """Guards the folder that the records write: names like formulas are text in every file, and read back the same."""
    folder = tmp_path_factory.mktemp("formula")
    works = read_works(write_files(folder / "small", small_files()))
    text = f"{start}{rest}".strip()
    works = replace(
        works,
        lines=tuple(replace(line, customer=text) for line in works.lines),
        shapes=tuple(replace(shape, name=text) for shape in works.shapes),
        **with_vapour(works, text.replace("|", "/")),
    )
    write_works(works, folder / "written")
    assert read_works(folder / "written") == works
    for path in (folder / "written").glob("*.csv"):
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline="")):
            assert all(is_plain(cell) for cell in row), (path.name, row)


def with_vapour(works: Works, vapour: str) -> dict[str, Any]:
    """Return the works' settings and products with a class of vapour of this name, where it can be one."""
    if letters_fault(vapour) or text_fault(vapour):
        return {}
    product = works.products[0]
    route = (*product.route[:-1], replace(product.route[-1], vapours=(vapour,)))
    return {
        "settings": replace(works.settings, excluded_vapours=((vapour, "tin white"), ("chrome", "lead"))),
        "products": (replace(product, route=route), *works.products[1:]),
    }


def is_plain(cell: str) -> bool:
    """Tell whether a cell is no formula: a number, points, the mark of none, or text that does not begin like one."""
    if not cell.startswith(FORMULA_STARTS):
        return True
    return cell == "-" or all(sign in "+-.,0123456789e| " for sign in cell)


@pytest.mark.source("cwe-1236", "mitigations: cells that begin with = + - @")
@pytest.mark.parametrize("start", FORMULA_STARTS)
def test_no_cell_of_an_exported_file_becomes_a_formula(start: str) -> None:
    """Guards the plan's tables, CSV and workbook, in every column of text."""
    text = f'{start}cmd|"/C calc"!A1'
    (row,) = list(csv.reader(io.StringIO(csv_bytes(["a"], [[text]]).decode(), newline="")))[1:]
    assert row == [f"'{text}"]
    rows = replace(
        PLAN,
        title="=1+1",
        lines=tuple(replace(line, customer=text, item=text, reason=text, remedy=text) for line in PLAN.lines),
        firings=tuple(replace(firing, ware=text, programme=text) for firing in PLAN.firings),
    )
    made = openpyxl.load_workbook(io.BytesIO(workbook_bytes(rows)))
    cells = [cell for sheet in made for line in sheet.iter_rows() for cell in line]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert [cell for cell in cells if cell.value is not None and "calc" in str(cell.value)]


def hurt(value: Any, text: str) -> Any:
    """Return rows with this text in the place of every text in them, however deep."""
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{one.name: hurt(getattr(value, one.name), text) for one in fields(value)})
    if isinstance(value, tuple):
        return tuple(hurt(one, text) for one in value)
    return text if type(value) is str else value


@pytest.mark.source("cwe-1236", "mitigations: cells that begin with = + - @")
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_table_of_any_command_has_a_formula(start: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards every table that is written or sent, with the text in every field: planner's prints, plan, trade-off."""
    text = f'{start}cmd|"/C calc"!A1'
    rows = replace(PLAN, firings=hurt(PLAN.firings, text), lines=hurt(PLAN.lines, text))
    monkeypatch.setattr("kilnpack.workflow.plan_prints.plan_rows", lambda *_: rows)
    shown: Any = SimpleNamespace(works=None, plan=None)
    made = {name: plan_print(name, shown) for name in PRINTS if name.endswith((".csv", ".xlsx"))}
    made["firings.csv"] = csv_bytes(FIRING_HEADINGS, firing_table(rows))
    point = TradePoint(weight_days_per_mwh=1.0, energy_kwh=2.0, weighted_late_days=-1.5, open_lines=0, firings=3,
                          mean_finish_h=4.0, best=True, policy=text)  # fmt: skip
    write_trade_off(TradeOff(works="Alder Yard", points=(point,)), tmp_path)
    made["trade-off.csv"] = (tmp_path / "trade-off.csv").read_bytes()
    assert sorted(made) == ["firings.csv", "order-lines.csv", "plan.xlsx", "trade-off.csv"]
    for name, raw in made.items():
        assert b"calc" in raw or name == "plan.xlsx"
        if name == "plan.xlsx":
            book = openpyxl.load_workbook(io.BytesIO(raw))
            cells = [cell for sheet in book for line in sheet.iter_rows() for cell in line]
            assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
            assert any("calc" in str(cell.value) for cell in cells)
        else:
            table = list(csv.reader(io.StringIO(raw.decode(), newline="")))
            assert all(is_plain(cell) for row in table for cell in row), name
            assert any(cell == f"'{text}" for row in table for cell in row), name


def test_there_is_no_other_writer_of_tables() -> None:
    """Guards the tests above: whoever writes tables in a further place, also the owner's, has to add it to them."""
    package = ROOT / "kilnpack"
    writers = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"csv\.writer|DictWriter|\bWorkbook\(|to_csv|to_excel", path.read_text(encoding="utf-8"))
    }
    assert writers == {"sheets/tables.py", "works_folder/template.py", "works_folder/writer.py"}


def test_the_folder_to_start_from_has_no_formula(tmp_path: Path) -> None:
    """Guards the workbook of `kilnpack new`."""
    new_works(tmp_path / "new", example=True)
    made = openpyxl.load_workbook(tmp_path / "new" / "works.xlsx")
    assert not [cell for sheet in made for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def test_a_load_of_everything_sound_is_still_read(tmp_path: Path) -> None:
    """Guards the other side: nothing of the above refuses what is in order."""
    save_value(tmp_path / "load.json", small_load())
    assert load_value(tmp_path / "load.json", Load) == small_load()
