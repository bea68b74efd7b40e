"""Values saved as JSON and read back; what is wrong with a file is said as findings."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.codec import decode, encode
from kilnpack.errors import InputFaulty, SheetNotWritten
from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle
from kilnpack.model.loads import BodyForm, LeftOut, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.orders import Lot
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.model.plans import Plan, PlanGoals
from kilnpack.model.works import Works
from kilnpack.words import MOST_FINDINGS
from kilnpack.works_folder import load_value, read_works, save_value, schema
from kilnpack.works_folder.schema import SAVED, saved_type
from tests.works_folder.small import small_files, write_files

LOAD = Load(
    works="Alder Yard",
    kiln="K1",
    programme="BISC",
    stage=Stage.BISCUIT,
    car=None,
    forms=(BodyForm(code="F1", shape="CUP", stage=Stage.BISCUIT, way=StackWay.BOXED, pieces=2),),
    settings=(
        Setting(
            code="S1",
            shelf="S1",
            standings=(Standing(place=1, form="F1", x_mm=100.0, y_mm=120.5, turn_deg=15.0),),
        ),
    ),
    stacks=(
        StackLoad(
            place="A",
            stub="U1",
            tiers=(
                Tier(
                    number=1,
                    base_mm=40.0,
                    shelf="S1",
                    posts=("P100", "P50"),
                    room_mm=149.5,
                    setting="S1",
                    fills=(PlaceFill(place=1, lot="L1", pieces=2),),
                ),
            ),
        ),
    ),
    left_out=(LeftOut(lot="L2", pieces=3, rule="C3", reason="too tall"),),
    value_share=0.75,
    seed=7,
)


def saved(tmp_path: Path, edit: Any = None) -> Path:
    """Return the path of the load saved, its plain data edited."""
    path = tmp_path / "load.json"
    save_value(path, LOAD)
    if edit is not None:
        whole = json.loads(path.read_text(encoding="utf-8"))
        edit(whole)
        path.write_text(json.dumps(whole), encoding="utf-8")
    return path


def findings_of(path: Path, kind: type = Load) -> list[tuple[str, str, str]]:
    """Return field, found and wanted of every finding of a file."""
    with pytest.raises(InputFaulty) as caught:
        load_value(path, kind)
    return [(one.field, one.found, one.wanted) for one in caught.value.findings]


def test_a_load_survives(tmp_path: Path) -> None:
    """Guards the round trip and the published schema of a load."""
    path = saved(tmp_path)
    assert load_value(path, Load) == LOAD
    jsonschema.validate(json.loads(path.read_text(encoding="utf-8")), schema(Load))
    assert [one.name for one in tmp_path.iterdir()] == ["load.json"]


def test_a_works_survives(tmp_path: Path) -> None:
    """Guards the round trip of everything in a works folder, and its schema."""
    works = read_works(write_files(tmp_path / "folder", small_files()))
    shapes: tuple[Any, ...] = (
        Disc(x_mm=300.0, y_mm=300.0, r_mm=300.0),
        HalfDisc(x_mm=300.0, r_mm=300.0),
        ConvexPolygon(corners_mm=((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))),
        Rectangle(w_mm=9.0, d_mm=8.0),
    )
    kilns = tuple(replace(works.kilns[0], code=f"K{k}", chamber=chamber) for k, chamber in enumerate(shapes))
    works = replace(works, kilns=kilns)
    save_value(tmp_path / "works.json", works)
    assert load_value(tmp_path / "works.json", Works) == works
    whole = json.loads((tmp_path / "works.json").read_text(encoding="utf-8"))
    jsonschema.validate(whole, schema(Works))
    assert whole["value"]["kilns"][1]["chamber"]["is"] == "half disc"


def test_schemas_are_schemas() -> None:
    """Guards that what is published is valid JSON Schema, and refuses what the reader refuses."""
    for name in SAVED:
        jsonschema.Draft202012Validator.check_schema(schema(saved_type(name)))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"schema": "kilnpack load", "version": 1, "value": {"kiln": 3}}, schema(Load))


@pytest.mark.parametrize(
    ("edit", "expected"),
    [
        (lambda one: one.update(schema="kilnpack plan"), [("schema", "kilnpack plan", "kilnpack load")]),
        (lambda one: one.update(version=2), [("version", "2", "1")]),
        (lambda one: one.pop("schema"), [("schema", "", "kilnpack load")]),
        (lambda one: one.pop("value"), [("value", "", "the value")]),
        (lambda one: one.update(more=1), [("more", "an unknown key", "schema, version and value only")]),
        (lambda one: one.update(value=3), [("", "3", "keys of load")]),
        (lambda one: one["value"].update(seed=True), [("seed", "yes", "a whole number")]),
        (lambda one: one["value"].update(seed=1.5), [("seed", "1.5", "a whole number")]),
        (lambda one: one["value"].update(seed="7"), [("seed", "7", "a whole number")]),
        (
            lambda one: one["value"].update(seed=10**400),
            [("seed", "a very large number", "a whole number under 1e+15")],
        ),
        (lambda one: one["value"].update(value_share=float("nan")), [("value_share", "nan", "a finite number")]),
        (
            lambda one: one["value"].update(value_share=10**400),
            [("value_share", "a very large number", "a finite number")],
        ),
        (lambda one: one["value"].update(value_share=None), [("value_share", "", "a number")]),
        (lambda one: one["value"].update(kiln=None), [("kiln", "", "a text")]),
        (lambda one: one["value"].update(car=3), [("car", "3", "a text")]),
        (lambda one: one["value"].update(forms={}), [("forms", "{}", "a list")]),
        (
            lambda one: one["value"].update(stage="glaze"),
            [("stage", "glaze", "one of biscuit, glost, decoration")],
        ),
        (
            lambda one: one["value"]["forms"][0].update(way="boxt", piece=3),
            [
                ("forms[F1].piece", "an unknown key", "a key of body form (nearest: pieces)"),
                ("forms[F1].way", "boxt", "one of nested, boxed, piled (nearest: boxed)"),
            ],
        ),
        (
            lambda one: one["value"]["stacks"][0]["tiers"][0].pop("base_mm"),
            [("stacks[1].tiers[1].base_mm", "", "a value; it has no default")],
        ),
        (
            lambda one: one["value"]["stacks"][0]["tiers"][0].update(flat=0),
            [("stacks[1].tiers[1].flat", "0", "true or false")],
        ),
    ],
)
def test_every_fault_of_a_file_is_told(tmp_path: Path, edit: Any, expected: list[tuple[str, str, str]]) -> None:
    """Guards hand-made files: each fault with its place in the file."""
    assert findings_of(saved(tmp_path, edit)) == expected


def test_a_whole_number_may_have_a_point(tmp_path: Path) -> None:
    """Guards files of other programs, which write 7.0 for 7."""
    assert load_value(saved(tmp_path, lambda one: one["value"].update(seed=7.0)), Load) == LOAD


@pytest.mark.parametrize(
    ("raw", "row", "found"),
    [
        (b"{", 1, "no JSON from here on"),
        (b'{\n"schema": }', 2, "no JSON from here on"),
        (b"", 1, "no JSON from here on"),
        (b"\xff\xfe\x00", None, "bytes that are no text in UTF-8"),
        (b"[1]", None, "a list"),
        (b"null", None, "nothing"),
        (b"true", None, "yes or no"),
        (b'"load"', None, "a text"),
        (b"3.5", None, "a number"),
        (b"[" * 100_000, None, "lists in lists without an end"),
        (b"1" * 5000, None, "a number of thousands of digits"),
    ],
)
def test_files_that_are_no_saved_value(tmp_path: Path, raw: bytes, row: int | None, found: str) -> None:
    """Guards against tracebacks from broken files, and against words that only programmers know."""
    (tmp_path / "load.json").write_bytes(raw)
    with pytest.raises(InputFaulty) as caught:
        load_value(tmp_path / "load.json", Load)
    (finding,) = caught.value.findings
    assert (finding.file, finding.row, finding.found) == ("load.json", row, found)


@pytest.mark.source("rfc-8259", "section 4")
def test_a_key_that_is_there_twice_is_told(tmp_path: Path) -> None:
    """Guards files mended by hand: whoever writes a second seed below the first is told, wherever the key stands.

    The library keeps the last value in silence, also of an object inside another that is hidden by a later one.
    """
    path = saved(tmp_path)
    text = path.read_text(encoding="utf-8")
    text = text.replace('"seed": 7', '"seed": 7, "seed": 8, "seed": 8')
    text = text.replace('"base_mm": 40.0', '"base_mm": 40.0, "base_mm": 41.0').replace(
        '"code": "F1"', '"code": "F0", "code": "F1"'
    )
    path.write_text(text.replace('"version": 1', '"version": 1, "version": 1'), encoding="utf-8")
    once = "each key once"
    assert findings_of(path) == [
        ("version", "2 times: 1, 1", once),
        ("seed", "3 times: 7, 8, 8", once),
        ("forms[F1].code", "2 times: F0, F1", once),
        ("stacks[1].tiers[1].base_mm", "2 times: 40, 41", once),
    ]
    path.write_text('{"schema": "kilnpack load", "version": 1, "value": {"car": {"a": 1, "a": 2}, "car": null}}')
    assert ("car.a", "2 times: 1, 2", once) in findings_of(path)


def test_keys_without_number_that_are_there_twice_are_bounded(tmp_path: Path) -> None:
    """Guards from a file whose every line is a key twice: thousands are told, then that there are more."""
    twice = ", ".join(['{"a": 1, "a": 1}'] * (MOST_FINDINGS + 5))
    path = tmp_path / "load.json"
    path.write_text(f'{{"schema": "kilnpack load", "version": 1, "value": [{twice}]}}', encoding="utf-8")
    found = findings_of(path)
    assert len(found) == MOST_FINDINGS + 2
    assert found[MOST_FINDINGS][1] == f"more than {MOST_FINDINGS} faults"


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """Guards a wrong path."""
    assert findings_of(tmp_path / "none.json")[0][1] == "No such file or directory"


def test_a_folder_in_the_place_of_a_file_has_a_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards `kilnpack audit FOLDER .`: the finding names the folder one stands in, not an empty name."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputFaulty) as caught:
        load_value(Path(), Load)
    (finding,) = caught.value.findings
    assert (finding.file, finding.found) == (tmp_path.name, "Is a directory")


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    """Guards full and missing places: an own fault, and nothing left behind."""
    with pytest.raises(SheetNotWritten, match="No such file"):
        save_value(tmp_path / "nowhere" / "load.json", LOAD)
    (tmp_path / "load.json").mkdir()
    with pytest.raises(SheetNotWritten):
        save_value(tmp_path / "load.json", LOAD)
    assert [one.name for one in tmp_path.iterdir()] == ["load.json"]


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards writing aside: what was there before is there after."""
    path = saved(tmp_path)

    def full(*_args: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(SheetNotWritten, match="the disk is full; make room"):
        save_value(path, replace(LOAD, seed=8))
    assert load_value(path, Load) == LOAD
    assert [one.name for one in tmp_path.iterdir()] == ["load.json"]


def test_only_frozen_data_is_saved(tmp_path: Path) -> None:
    """Guards against saving what could not be read back."""
    with pytest.raises(TypeError, match="no frozen data"):
        save_value(tmp_path / "x.json", [1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Odd:
    """Kinds of field that no saved value has yet."""

    either: int | str
    hours: dict[str, float]
    pair: tuple[str, float]
    day: date
    moment: datetime | None
    clock: time
    own: Odd | None = None


ODD = Odd(
    either="a", hours={"K1": 2.0}, pair=("x", 1.5), day=date(2026, 12, 1), moment=None, clock=time(7, 30),
    own=Odd(either=3, hours={}, pair=("y", 2.0), day=date(2026, 1, 1), moment=datetime(2026, 1, 1, 7), clock=time(0)),
)  # fmt: skip


def test_moments_of_a_plan_keep_their_offset(tmp_path: Path) -> None:
    """Guards plans, whose moments carry the works' time zone: the same instant comes back."""
    zone = ZoneInfo("Europe/Vienna")
    plan = Plan(
        works="Alder Yard",
        made=datetime(2026, 11, 30, 7, tzinfo=zone),
        policy="hand",
        seed=1,
        firings=(),
        hand_work=(),
        outcomes=(),
        goals=PlanGoals(open_lines=0, weighted_late_days=0.0, firings=0, mean_finish_h=0.0),
    )
    save_value(tmp_path / "plan.json", plan)
    assert load_value(tmp_path / "plan.json", Plan) == plan
    assert "2026-11-30T07:00:00+01:00" in (tmp_path / "plan.json").read_text(encoding="utf-8")


def test_other_kinds_of_field_survive(tmp_path: Path) -> None:
    """Guards unions of plain types, maps, pairs, days and hours, and classes that hold themselves."""
    save_value(tmp_path / "odd.json", ODD)
    assert load_value(tmp_path / "odd.json", Odd) == ODD
    jsonschema.validate(json.loads((tmp_path / "odd.json").read_text(encoding="utf-8")), schema(Odd))


def test_other_kinds_of_field_have_faults_too() -> None:
    """Guards the same for what is wrong in them."""
    plain: Any = encode(ODD, Odd)
    plain |= {"either": [], "hours": {"K1": "x"}, "pair": ["x"], "day": "soon", "clock": 7, "own": 3, "moment": 5}
    value, faults = decode(plain, Odd)
    assert value is None
    assert [(fault.place, fault.wanted) for fault in faults] == [
        ("either", "one of int, str"),
        ("hours.K1", "a number"),
        ("pair", "a list of 2"),
        ("day", "a value such as 2026-12-01"),
        ("moment", "a value such as 2026-12-01T07:30:00"),
        ("clock", "a value such as 07:30:00"),
        ("own", "keys of odd"),
    ]
    plain["hours"] = 3
    assert ("hours", "keys with values") in [(fault.place, fault.wanted) for fault in decode(plain, Odd)[1]]


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@given(plain=JSON, kind=st.sampled_from([Load, Works, Lot, Tier, Odd]))
def test_no_data_breaks_the_decoder(plain: object, kind: Any) -> None:
    """Guards against tracebacks: any plain data is a value or has faults."""
    value, faults = decode(plain, kind)
    assert (value is None) == bool(faults)
