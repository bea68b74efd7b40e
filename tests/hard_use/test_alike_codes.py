"""Codes that look like others in every table, list and upload: each has a finding with the letter's number."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.errors import Finding, InputFaulty
from kilnpack.works_folder import read_works
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.grids import Grid
from kilnpack.works_folder.letters import alike_in, letters_fault, looks_like
from kilnpack.works_folder.rows import read_table
from kilnpack.works_folder.sent_tables import SENT, SentFile, lay_down
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path

CODE_COLUMNS = [
    (sheet, column)
    for sheet in SHEETS
    for column in sheet.columns
    if column.kind is Kind.CODE or (column.kind is Kind.CODES and column.refers is not None)
]
UNSOUND = {
    "a Cyrillic letter among Latin ones": ("\u0421UP", "U+0421"),
    "a wide digit": ("CUP\uff11", "U+FF11"),
    "a wide letter": ("\uff23UP", "U+FF23"),
    "a joiner that nobody sees": ("CU\u200bP", "U+200B"),
    "a filler that nobody sees": ("CUP\u1160", "U+1160"),
    "a byte order mark inside": ("\ufeffCUP", "U+FEFF"),
    "a letter and its mark apart": ("CAFE\u0301", "U+0301"),
    "a mark without a letter of its own": ("CO\u0335P", "U+0335"),
    "a dash for a hyphen": ("CUP\u20131", "U+2013"),
    "digits of two kinds": ("CUP1\u0661", "U+0661"),
}
LATIN, CYRILLIC = "COP", "\u0421\u041e\u0420"
BOTH = "\u0421 (U+0421) here, C (U+0043) there"


def findings_of(folder: Path, **texts: str) -> tuple[Finding, ...]:
    """Return the findings of the small works with other texts in the place of some files."""
    files = small_files() | {
        name.replace("_toml", ".toml").replace("_csv", ".csv"): text for name, text in texts.items()
    }
    with pytest.raises(InputFaulty) as caught:
        read_works(write_files(folder, files))
    return tuple(caught.value.findings)


@pytest.mark.source("uts-39", "section 5.2, highly restrictive; section 5.3")
@pytest.mark.source("uax-15", "forms NFC and NFKC")
@pytest.mark.parametrize("what", UNSOUND)
def test_every_column_of_codes_names_the_letter(what: str) -> None:
    """Guards all tables of a works folder, and with them those that are sent: no column of codes lets one through."""
    code, number = UNSOUND[what]
    assert len(CODE_COLUMNS) > 40
    for sheet, column in CODE_COLUMNS:
        grid = Grid(table=sheet.name, file=f"{sheet.name}.csv", rows=((1, (column.heading,)), (2, (code,))))
        found = [one for one in read_table(grid, sheet).findings if (one.row, one.field) == (2, column.heading)]
        assert [number in one.wanted for one in found] == [True], (sheet.name, column.heading, found)


@pytest.mark.parametrize(
    ("file", "old", "new", "place"),
    [
        ("kilns_toml", 'code = "G1"', 'code = "{}"', "kilns[{}].code"),
        ("kilns_toml", 'code = "B"', 'code = "{}"', "kilns[G1].places[{}].code"),
        ("kilns_toml", 'code = "B1"', 'code = "{}"', "kilns[G1].keep_outs[{}].code"),
        ("kilns_toml", 'code = "P2"', 'code = "{}"', "kilns[G1].peepholes[{}].code"),
        ("kilns_toml", 'code = "C1"', 'code = "{}"', "kilns[G1].cars[{}].code"),
        ("programmes_toml", 'code = "COL8"', 'code = "{}"', "programmes[{}].code"),
    ],
)
def test_every_code_of_a_toml_file_names_the_letter(file: str, old: str, new: str, place: str, tmp_path: Path) -> None:
    """Guards kilns with all that has a code inside, and programmes, from signs that nobody sees or tells apart."""
    text = small_files()[file.replace("_", ".")]
    assert text.count(old) == 1
    for code, number in list(UNSOUND.values())[::3]:
        found = findings_of(tmp_path, **{file: text.replace(old, new.format(code))})
        assert any(one.field == place.format(code) and number in one.wanted for one in found), (code, found)


BOTH_STEPS = ("R1;BISC;\nR1;GLOST;2\n", "{a};BISC;\n{b};GLOST;2\n")
ALIKE = {
    "routes": ("routes_csv", *BOTH_STEPS, "route", "products_csv", ";R1;", ";{a};"),
    "orders": ("orders_csv", "1001/1;1001;", "1001/1;{a};", "order", "orders_csv", "1001/2;1001;", "1001/2;{b};"),
    "sets": ("sets_csv", "TEA;tea", "{a};tea", "set", "sets_csv", "TEA;;", "{b};;"),
    "parts": ("profiles_csv", "LID;knob;10", "LID;{a};10", "part", "profiles_csv", "LID;knob;24", "LID;{b};24"),
}  # fmt: skip


@pytest.mark.source("uts-39", "section 4, skeletons")
@pytest.mark.parametrize("what", ALIKE)
def test_rows_that_belong_together_only_by_their_looks_are_told(what: str, tmp_path: Path) -> None:
    """Guards codes that several rows share: a firing under a code that only looks like the route's is lost."""
    file, old, new, field, other, old_too, new_too = ALIKE[what]
    texts = {name: small_files()[name.replace("_", ".")] for name in (file, other)}
    for name, before, after in ((file, old, new), (other, old_too, new_too)):
        assert before in texts[name]
        texts[name] = texts[name].replace(before, after.format(a=LATIN, b=CYRILLIC))
    found = findings_of(tmp_path, **texts)
    assert any(one.field == field and one.found == CYRILLIC and BOTH in one.wanted for one in found), found


def test_codes_of_two_lists_that_must_differ_do_so_to_the_eye(tmp_path: Path) -> None:
    """Guards sets beside products, kilns, programmes, places in a kiln, supports of several tables, and vapours."""
    files = small_files()
    sets = files["sets.csv"] + f"{CYRILLIC};;CUP-W;2;\n"
    products = files["products.csv"] + f"{LATIN};CUP;CLEAR;;R1;;9\n"
    kilns = files["kilns.toml"].replace('code = "A"\nshelf = "S2"', f'code = "{LATIN}"\nshelf = "S2"')
    kilns = kilns.replace('code = "B"\n', f'code = "{CYRILLIC}"\n').replace('"COL8"]', f'"COL8", "{CYRILLIC}"]')
    programmes = files["programmes.toml"].replace('"COL8"', f'"{LATIN}"')
    for file, old in (("decorations.csv", "COL8"), ("lots.csv", "COL8")):
        files[file] = files[file].replace(old, LATIN)
    works = files["works.toml"].replace('["lead", "plain"]', '["chrom\u0435", "plain"], ["\u0441\u0430\u0440", "cap"]')
    found = findings_of(
        tmp_path, sets_csv=sets, products_csv=products, kilns_toml=kilns.replace('"COL8", ', f'"{LATIN}", '),
        programmes_toml=programmes, decorations_csv=files["decorations.csv"],
    )  # fmt: skip
    told = [(one.file, one.field) for one in found if BOTH in one.wanted]
    assert told == [
        ("sets.csv", "set"),
        ("kilns.toml", "kilns[K1].programmes"),
        ("kilns.toml", f"kilns[G1].places[{CYRILLIC}].code"),
    ]
    found = findings_of(tmp_path / "vapours", works_toml=works)
    said = [one.wanted for one in found if one.field == "settings.excluded_vapours"]
    assert [("U+0435" in one, "U+0441" in one) for one in said] == [(True, False), (False, True)]
    twice = small_files()["kilns.toml"].replace('code = "K1"', f'code = "{LATIN}"').replace("G1", CYRILLIC)
    offsets = small_files()["offsets.csv"].replace("G1", CYRILLIC)
    found = findings_of(tmp_path / "kilns", kilns_toml=twice, offsets_csv=offsets)
    assert [(one.field, BOTH in one.wanted) for one in found] == [(f"kilns[{CYRILLIC}].code", True)]


@pytest.mark.parametrize("table", SENT)
def test_a_table_that_was_sent_is_read_by_the_same_rules(table: str, tmp_path: Path) -> None:
    """Guards uploads: what is laid down of a file sent over the pages has the finding of a works folder."""
    key = SENT[table].columns[0]
    text = small_files()[f"{table}.csv"]
    first = text.splitlines()[1].split(";")[0]
    for code, number in UNSOUND.values():
        raw = text.replace(first, code, 1).encode()
        (sent,), faults = lay_down([SentFile(name=f"{table}.csv", content=raw)], tmp_path)
        found = read_table(sent.grid, SENT[table]).findings
        assert faults == ()
        assert any(one.row == 2 and (number in one.wanted or key.kind is Kind.DATE) for one in found), (code, found)


@pytest.mark.source("uts-39", "section 4, skeletons; table confusables.txt")
def test_pairs_of_the_published_table_look_alike() -> None:
    """Guards the list typed by hand: pairs of the table, by their names, of every script that is in it."""
    pairs = {
        "CYRILLIC SMALL LETTER A": "a", "CYRILLIC SMALL LETTER SHHA": "h", "CYRILLIC SMALL LETTER PALOCHKA": "i",
        "CYRILLIC CAPITAL LETTER ZE": "3", "CYRILLIC SMALL LETTER BE": "6", "GREEK SMALL LETTER OMICRON": "o",
        "GREEK CAPITAL LETTER RHO": "P", "GREEK LETTER DIGAMMA": "F", "LATIN SMALL LETTER DOTLESS I": "i",
        "LATIN SMALL LETTER ALPHA": "a", "LATIN LETTER SMALL CAPITAL O": "o", "LATIN LETTER YR": "R",
        "ARMENIAN SMALL LETTER VO": "n", "ARMENIAN CAPITAL LETTER SEH": "U", "KATAKANA LETTER RO": "\u53e3",
        "KATAKANA LETTER HE": "\u3078", "KATAKANA-HIRAGANA PROLONGED SOUND MARK": "\u4e00",
    }  # fmt: skip
    assert {name: looks_like(unicodedata.lookup(name)) for name in pairs} == pairs
    assert looks_like("\u0401") == "\u00cb"  # IO is IE with two dots, as E with them is
    assert list(alike_in(["O1", "01", "l1", "I1"])) == []  # plain letters and digits are told apart by hand


@given(code=st.text(max_size=8))
def test_no_text_breaks_the_look_at_letters(code: str) -> None:
    """Guards from tracebacks: any text is sound or has words that name a sign; what looks like it keeps its looks."""
    wanted = letters_fault(code)
    assert not wanted or "U+" in wanted or "digits of one kind" in wanted
    assert looks_like(looks_like(code)) == looks_like(code)
    if not wanted:
        assert unicodedata.normalize("NFC", code) == code


def test_words_for_people_stay_free(tmp_path: Path) -> None:
    """Guards names: a customer in any letters, also in several scripts, with marks apart, is no finding."""
    names = "Cafe\u0301 \u041a\u0438\u0440 \uff11"
    files = small_files()
    files["orders.csv"] = files["orders.csv"].replace("Mill Shop", names)
    works = read_works(write_files(tmp_path, files))
    assert works == replace(works, lines=works.lines)
    assert [line.customer for line in works.lines][-1] == names
