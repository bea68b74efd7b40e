"""Valid files changed on purpose: cell by cell, row by row, key by key, byte by byte.

A change is read off a few bytes, so that a property draws one short string of bytes for a whole file, many cases a
second, and a failing case shrinks to few and small bytes.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

_One = TypeVar("_One")

LOOK_ALIKE = "\u0421UP"
"""CUP with a Cyrillic letter for its C."""
NUMBERS = (
    "0", "-0", "-1", "1", "2", "3", "0.5", "1e-9", "1e9", "1000000000", "1e15", "1e16", "1e308", "-1e308", "1e999",
    "nan",
    "-nan", "inf", "-inf", "Infinity", "0x10", "1_000", "1.234,5", "12,5", "1,000", "10 %", "200 %", "-5 %", "360",
    "45",
    "9" * 40, "5e-324", "\u0661\u0662", "\u00b2", "1e", "--1", "+ 1",
)  # fmt: skip
WORDS = (
    "", "-", " ", "yes", "no", "true", "perhaps", "CUP", "cup", LOOK_ALIKE, "CUP-W", "R1", "S1", "S2", "G1", "K1",
    "BISC",
    "GLOST", "COL8", "BLUE | GREEN", "BLUE | | GREEN", "|", "a | a", "007", "3-4", "03.04.2026", "1001/1", "=1+1", "@x",
    "+x", "-x", "=HYPERLINK(\"x\")", "\t=1", "a b", "A" * 300, "\u202eabc", "\u200b", "\u0000", "e\u0301", "\U0001f3fa",
    "\ufeff", "\u2028", "NONE", "null", "finished", "biscuit", "glost", "nested", "turned", "oval", "rectangle", "disc",
)  # fmt: skip
MOMENTS = (
    "2026-12-01", "01.12.2026", "2026-12-01 07:30", "2026-02-30", "0001-01-01", "9999-12-31",
    "9999-12-31 23:59:59.9999999",
    "1990-01-01", "2200-12-31", "2026-12-01 24:00", "2026-12-01T07:30:00Z", "46374", "12/18/2026", "2026-13-01",
)  # fmt: skip
POINTS = (
    "0 0 | 40 0 | 20 30",
    "0 0",
    "0 0 | 0 0",
    "0 0 | 9 9 | 0 9 | 9 0",
    "1e9 1e9 | 0 0 | 5 5",
    "1 2 3",
    "nan 0 | 1 1",
)
CELLS = (*NUMBERS, *WORDS, *MOMENTS, *POINTS)
TOML = (
    "[]", "[1]", "[[]]", "{}", "{ shape = [] }", "{ shape = 3, code = 4 }", '""', '"x y"', '"CUP"', "nan", "-inf", "-1",
    "0", "1", "0.5", "1e9", "1000000000", "1e308", "-1e308", "5e-324", "99999999999999999999999", "true", "false",
    "2026-01-01", "07:30:00", "23:59:59.999999", "2026-01-01T07:00:00Z", "0001-01-01T00:00:00", "9999-12-31T23:59:59",
    "[{}]", '["GLOST"]', '["GLOST", "GLOST"]', '["K1", 3]', '"biscuit"', '"glost"', '"decoration"', '"rectangle"',
    '"Nowhere/Land"', '"../../etc/passwd"', '"\\u0000"', '"UTC"', "[[0.0, 0.0], [9.0, 9.0], [0.0, 9.0], [9.0, 0.0]]",
    '{ shape = "disc", x_mm = 300.0, y_mm = 300.0, r_mm = 300.0 }', '{ shape = "rectangle", w_mm = 1e9, d_mm = 1e-9 }',
    '{ shape = "half disc", x_mm = 300.0, r_mm = 1e300 }', "'", '"""', "1979-05-27T07:32:00-08:00", "0b1", "1__0", "01",
    '{ shape = "convex polygon", corners_mm = [[0.0, 0.0], [900.0, 900.0], [0.0, 900.0], [900.0, 0.0]] }',
)  # fmt: skip
PLAIN: tuple[Any, ...] = (
    None, True, False, 0, 1, -1, 2, 3, 10**9, 10**15, 10**400, 0.5, -0.5, 1e-9, 1e9, 1e16, 1e308, -1e308, float("nan"),
    float("inf"), "", "x", "CUP", LOOK_ALIKE, "A" * 300, "\u0000", "2030-01-07T06:00:00+00:00", "2030-01-07T06:00:00",
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "2030-03-01", "9999-12-31", "0001-01-01", "\ud800",
    "\u202e", "\x1b[2J", 2**62, [], {}, [[]],
    [{}], [None], {"is": "disc"}, {"code": []},
)  # fmt: skip


class Dice:
    """Choices read off a string of bytes, two bytes each; noughts once it is used up."""

    def __init__(self, raw: bytes) -> None:
        self.raw, self.at = raw, 0

    def __bool__(self) -> bool:
        """Whether there is something left."""
        return self.at < len(self.raw)

    def below(self, limit: int) -> int:
        """Return a number from 0 to below a limit."""
        pair = self.raw[self.at : self.at + 2]
        self.at += 2
        return int.from_bytes(pair.ljust(2, b"\0"), "big") % max(limit, 1)

    def one(self, things: Sequence[_One]) -> _One:
        """Return one of some things."""
        return things[self.below(len(things))]


# -- tables as text, cells parted by semicolons ---------------------------------------------------------------------


def _replaced_cell(rows: list[list[str]], dice: Dice) -> None:
    row = dice.one(rows)
    row[dice.below(len(row))] = dice.one(CELLS)


def _number_in(text: str) -> float | None:
    try:
        return float(text.strip("% ").replace(",", "."))
    except ValueError:
        return None


def _number_changed(rows: list[list[str]], dice: Dice) -> None:
    row = dice.one(rows[1:] or rows)
    numbers = {k: value for k, cell in enumerate(row) if (value := _number_in(cell)) is not None}
    if numbers:
        place = dice.one(list(numbers))
        value = numbers[place]
        factor = dice.one((-1.0, 0.0, 0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 3.0, 10.0, 100.0, 1e6, 1e9, 1e-3, 1e-9))
        row[place] = f"{value * factor:.10g}"


def _cell_from_elsewhere(rows: list[list[str]], dice: Dice) -> None:
    row, other = dice.one(rows), dice.one(rows)
    row[dice.below(len(row))] = other[dice.below(len(other))]


def _cell_from_its_column(rows: list[list[str]], dice: Dice) -> None:
    row, other = dice.one(rows[1:] or rows), dice.one(rows[1:] or rows)
    place = dice.below(min(len(row), len(other)))
    row[place] = other[place]


def _cell_emptied(rows: list[list[str]], dice: Dice) -> None:
    row = dice.one(rows)
    row[dice.below(len(row))] = ""


def _row_gone(rows: list[list[str]], dice: Dice) -> None:
    if len(rows) > 1:
        rows.pop(dice.below(len(rows)))


def _row_twice(rows: list[list[str]], dice: Dice) -> None:
    rows.insert(dice.below(len(rows) + 1), list(dice.one(rows)))


def _rows_swapped(rows: list[list[str]], dice: Dice) -> None:
    here, there = dice.below(len(rows)), dice.below(len(rows))
    rows[here], rows[there] = rows[there], rows[here]


def _column_gone(rows: list[list[str]], dice: Dice) -> None:
    place = dice.below(len(rows[0]))
    for row in rows:
        if len(row) > max(place, 1):
            row.pop(place)


def _column_twice(rows: list[list[str]], dice: Dice) -> None:
    place = dice.below(len(rows[0]))
    for row in rows:
        row.insert(place, row[place] if place < len(row) else "")


def _cells_more(rows: list[list[str]], dice: Dice) -> None:
    dice.one(rows).extend([dice.one(CELLS)] * (1 + dice.below(3)))


def _rows_many(rows: list[list[str]], dice: Dice) -> None:
    row = dice.one(rows)
    rows.extend([[f"{row[0]}{k}", *row[1:]] for k in range(dice.below(20))])


_GRID_CHANGES: tuple[Callable[[list[list[str]], Dice], None], ...] = (
    _replaced_cell, _replaced_cell, _replaced_cell, _number_changed, _number_changed, _cell_from_elsewhere,
    _cell_from_its_column, _cell_from_its_column, _cell_emptied, _row_gone, _row_twice, _rows_swapped, _column_gone,
    _column_twice, _cells_more, _rows_many,
)  # fmt: skip


def changed_table(text: str, dice: Dice) -> bytes:
    """Return a table with one change, now and then of its bytes or its way of writing."""
    way = dice.below(20)
    if way == 0:
        return changed_bytes(text.encode(), dice)
    if way == 1:
        return _written_otherwise(text, dice)
    rows = [line.split(";") for line in text.splitlines()] or [[""]]
    dice.one(_GRID_CHANGES)(rows, dice)
    return ("\n".join(";".join(row) for row in rows) + "\n").encode("utf-8", "surrogatepass")


def _written_otherwise(text: str, dice: Dice) -> bytes:
    ways: tuple[Callable[[str], bytes], ...] = (
        lambda one: one.encode("utf-16"),
        lambda one: one.encode("utf-16")[:-1],
        lambda one: one.encode("utf-32"),
        lambda one: b"\xef\xbb\xbf" + one.encode(),
        lambda one: one.replace("\n", "\r").encode(),
        lambda one: one.replace("\n", "\r\n").encode(),
        lambda one: one.replace(";", ",").encode(),
        lambda one: one.replace(";", "|").encode(),
        lambda one: ("sep=\n" + one).encode(),
        lambda one: ('sep="\n' + one).encode(),
        lambda one: ("sep=|\n" + one).encode(),
        lambda one: one.replace(";", '";"').encode(),
        lambda one: one.replace("\n", '"\n').encode(),
        lambda one: one.replace("\n", "\n\n;;;\n").encode(),
        lambda one: one.upper().encode(),
        lambda _: b"",
        lambda one: (one + one).encode(),
    )
    return dice.one(ways)(text)


# -- bytes ----------------------------------------------------------------------------------------------------------

_BYTES = (
    b"\0",
    b"\n",
    b'"',
    b";",
    b"'",
    b"=",
    b"[",
    b"]",
    b"{",
    b"}",
    b"\xff",
    b"\x80",
    b"\xed\xa0\x80",
    b"9",
    b"-",
    b"\\",
)


def changed_bytes(raw: bytes, dice: Dice) -> bytes:
    """Return bytes with one change: a byte flipped, put in, some cut out, the end lost, a stretch twice."""
    way, at = dice.below(6), dice.below(len(raw))
    length = 1 + dice.below(40)
    if way == 0 and raw:
        return raw[:at] + bytes([raw[at] ^ (1 << dice.below(8))]) + raw[at + 1 :]
    if way == 1:
        return raw[:at] + dice.one(_BYTES) + raw[at:]
    if way == 2:
        return raw[:at] + raw[at + length :]
    if way == 3:
        return raw[:at]
    if way == 4:
        return raw[: at + length] + raw[at:]
    return raw[:at] + dice.one(_BYTES) * length + raw[at + length :]


# -- TOML as text ---------------------------------------------------------------------------------------------------


def changed_toml(text: str, dice: Dice) -> bytes:
    """Return a TOML text with one change, of a value, a line or a byte."""
    lines = text.split("\n")
    keys = [number for number, line in enumerate(lines) if " = " in line]
    way = dice.below(12)
    if way < 5 and keys:
        number = dice.one(keys)
        lines[number] = f"{lines[number].partition(' = ')[0]} = {dice.one(TOML)}"
    elif way < 7 and keys:
        number = dice.one(keys)
        key, _, value = lines[number].partition(" = ")
        if (number_there := _number_in(value)) is not None:
            lines[number] = (
                f"{key} = {number_there * dice.one((-1.0, 0.0, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e9, 1e-6))!r}"
            )
    elif way == 7 and keys:
        here, there = dice.one(keys), dice.one(keys)
        lines[here] = lines[here].partition(" = ")[0] + " = " + lines[there].partition(" = ")[2]
    elif way == 8:
        lines.pop(dice.below(len(lines)))
    elif way == 9:
        lines.insert(dice.below(len(lines) + 1), dice.one(lines))
    elif way == 10:
        here, there = dice.below(len(lines)), dice.below(len(lines))
        lines[here], lines[there] = lines[there], lines[here]
    else:
        return changed_bytes(text.encode(), dice)
    return "\n".join(lines).encode()


# -- plain data of saved values -------------------------------------------------------------------------------------

_Spot = tuple[Any, Any]
"""A list or dict and the key in it."""


def spots(plain: Any) -> list[_Spot]:
    """Return every place of plain data that holds something."""
    found: list[_Spot] = []
    left = [plain]
    while left:
        inside = left.pop()
        keys = list(inside) if isinstance(inside, dict) else range(len(inside)) if isinstance(inside, list) else ()
        for key in keys:
            found.append((inside, key))
            left.append(inside[key])
    return found


def changed_plain(plain: Any, dice: Dice) -> None:
    """Change one place of plain data: mostly so that it stays of its kind, else anyhow."""
    places = spots(plain)
    if not places:
        return
    inside, key = dice.one(places)
    value, way = inside[key], dice.below(10)
    alike = [one[other] for one, other in places if other == key and type(one[other]) is type(value)]
    if way < 3 and isinstance(value, int | float) and not isinstance(value, bool):
        more = dice.one((-1, 0, 0.5, 0.999, 1.001, 2, 10, 1000, 10**9, 1e300))
        inside[key] = type(value)(value * more) if abs(value) < 1e8 else value
    elif way < 6:
        inside[key] = _copied(dice.one(alike))
    elif way == 6 and isinstance(inside, list):
        inside.insert(dice.below(len(inside) + 1), _copied(value))
    elif way == 7:
        del inside[key]
    elif way == 8 and isinstance(inside, dict):
        inside[dice.one(("code", "is", "x", "", "\u0000", str(key).upper()))] = _copied(value)
    else:
        inside[key] = _copied(dice.one(PLAIN))


def _copied(plain: Any) -> Any:
    """Copy plain data, so that no later change meets two places at once."""
    if isinstance(plain, dict):
        return {key: _copied(inner) for key, inner in plain.items()}
    return [_copied(inner) for inner in plain] if isinstance(plain, list) else plain


def changed_saved(text: str, dice: Dice) -> bytes:
    """Return the text of a saved value with one change or several; now and then of a byte."""
    if dice.below(12) == 0:
        return changed_bytes(text.encode(), dice)
    plain = json.loads(text)
    while True:
        changed_plain(plain if dice.below(30) == 0 else plain.get("value", plain), dice)
        if not dice or not isinstance(plain, dict):
            break
    return json.dumps(plain).encode()


# -- workbooks ------------------------------------------------------------------------------------------------------


def changed_workbook(raw: bytes, dice: Dice) -> bytes:
    """Return a workbook with one change: a byte of the archive, a byte or a tag of a part, a part gone or twice."""
    if dice.below(3) == 0:
        return changed_bytes(raw, dice)
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = dice.one([one for one in parts if one.startswith("xl/")] if dice.below(4) else list(parts))
    way = dice.below(6)
    if way == 0:
        del parts[name]
    elif way == 1:
        parts[name] = parts[dice.one(list(parts))]
    elif way < 4:
        parts[name] = changed_bytes(parts[name], dice)
    else:
        parts[name] = parts[name].replace(dice.one(_MARKUP_OLD), dice.one(_MARKUP_NEW), 1 + dice.below(3))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for one, content in parts.items():
            archive.writestr(one, content)
    return out.getvalue()


_MARKUP_OLD = (
    b"<v>",
    b"</v>",
    b't="s"',
    b't="n"',
    b' r="A1"',
    b' r="B2"',
    b' r="2"',
    b"<row",
    b"<c ",
    b"<sheet ",
    b"rId1",
)
_MARKUP_NEW = (
    b"", b"<f>1</f><v>", b"<v>1e999", b"<v>-1", b"<v>99999999999", b't="d"', b't="e"', b't="b"', b't="inlineStr"',
    b' r="XFD1"',
    b' r="A1048577"', b' r="0"', b' r="-1"', b"<row/><row", b's="99999" ', b"&lt;", b"&#0;", b"&x;", b"rId99",
    b"<c/><c ",
)  # fmt: skip


# -- drawings -------------------------------------------------------------------------------------------------------

_HEAD = b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" viewBox="0 0 9 9">'
_CURVES = (
    b'<path id="rim" d="M 0 0 L 10 0 C 12 5 14 6 12 30 Q 3 4 5 40 A 5 5 0 0 1 0 50 Z"/><circle cx="5" cy="6" r="2"/>'
)
_TURNED = b'<g transform="rotate(5) scale(2)">' + _CURVES + b'<rect x="1" y="1" width="5" height="4" rx="1"/></g></svg>'
_PLAIN = b'<polygon points="0,0 40,0 40,30 0,30"/><ellipse cx="5" cy="6" rx="2" ry="4" style="stroke:red"/></svg>'
_SVG = (_HEAD + _TURNED, _HEAD + _PLAIN, _HEAD + b'<path d="M 0 0 L 30 0 L 42 60"/></svg>')
_DRAWN = (
    b"nan", b"inf", b"1e308", b"-1", b"0", b"1e-300", b"", b"A", b"M", b"Z", b"99999999999", b"%", b"url(#x)", b"1e9",
    b"<g>", b"</g>", b'x="1"', b"C", b"m 0 0 z", b"rotate(nan)", b"scale(0)", b"matrix(1,2)", b"skewX(90)", b"em",
)  # fmt: skip


def changed_svg(dice: Dice) -> bytes:
    """Return a drawing in SVG with one to three of its words or numbers replaced."""
    raw = dice.one(_SVG)
    for _ in range(1 + dice.below(3)):
        word = dice.one(list(re.finditer(rb"[A-Za-z#]+|-?[\d.]+", raw)) or [re.compile(b"").search(raw)])
        if word is not None:
            raw = raw[: word.start()] + dice.one(_DRAWN) + raw[word.end() :]
    return raw


@cache
def _dxf() -> tuple[bytes, ...]:
    """Return the lines of a small drawing in DXF."""
    from ezdxf.filemanagement import new

    drawing = new()
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 30), (0, 30)], close=True)
    space.add_circle((5, 5), 3)
    space.add_spline([(0, 0), (3, 4), (5, 9)])
    space.add_arc((0, 0), 5, 0, 90)
    space.add_text("x")
    out = io.StringIO()
    drawing.write(out)
    return tuple(out.getvalue().encode().split(b"\n"))


def changed_dxf(dice: Dice) -> bytes:
    """Return a drawing in DXF with one to three lines replaced, mostly those of what is drawn."""
    lines = list(_dxf())
    first = len(lines) - lines[::-1].index(b"ENTITIES") if dice.below(4) else 0
    for _ in range(1 + dice.below(3)):
        lines[first + dice.below(len(lines) - first)] = dice.one(_DRAWN)
    return b"\n".join(lines)
