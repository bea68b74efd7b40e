"""A tiny works at every step of its records, and what people do to it there: commands, and requests to the pages."""

from __future__ import annotations

import json
import shutil
import signal
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.records.address import records_url
from kilnpack.records.engine import engine_of
from kilnpack.records.people import add_person
from kilnpack.records.states import RecordedState, Role
from kilnpack.web.app import NOT_NOW
from kilnpack.workflow.records import Desk, make_records, step_firing, take_inspection, take_plan, take_works
from kilnpack.works_folder import load_value, save_value
from kilnpack.works_folder.landing import NOTE
from kilnpack.works_folder.replacing import is_left
from tests.cli.left_behind import differing, files_of, rows_of
from tests.cli.paged import OWNER, WORD
from tests.cli.tiny_folder import write_tiny
from tests.records.first_form import bring_back

if TYPE_CHECKING:
    import random
    from pathlib import Path

    from tests.cli.forked import Commands, Ran

ORDERS = (
    "code,order,customer,item,quantity_pieces,due\n"
    "O1,O1,Lantern Inn,MUG,6,2026-03-03\nO2,O2,Lantern Inn,MUG,9,2026-03-14\nO3,O3,Quay,MUG,2,2026-03-30\n"
)
METERED = "fired_on,kiln,programme,ware_kg,furniture_kg,metered_kwh\n2026-02-02,K,D,3,40,75\n2026-02-09,K,D,2,40,70\n"
CONES = (
    "fired_on,kiln,programme,x_mm,y_mm,z_mm,read_degc\n"
    "2026-02-02,K,D,100,100,100,870\n2026-02-02,K,D,500,500,400,885\n2026-02-09,K,D,300,300,250,880\n"
)


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that is done in a scene; `again` is how it ends when it is done twice."""

    name: str
    scene: str
    words: tuple[str, ...]
    again: tuple[int, ...] = (0,)


def page(name: str, scene: str, path: str, *again: int, **sent: object) -> Deed:
    """Return a request to the pages; 303 and 200 count as done."""
    return Deed(name, scene, (WORD, "WORKS", json.dumps({"path": path, **sent})), again or (0,))


def tick(mark: str, what: str, **more: object) -> dict[str, object]:
    """Return a note at the first place of the only stack."""
    return {"mark": f"mark-{mark}", "what": what, "stack": "A", "tier": 1, "place": 1, **more}


DEEDS = (
    Deed("migrate", "first form", ("record", "init", "WORKS")),
    Deed("inspect", "unloaded", ("record", "inspect", "WORKS", "P1.F1", "out.csv"), (2,)),
    Deed("measured", "unloaded", ("record", "measured", "WORKS", "P1.F1", "--kwh", "80", "--cooling", "cooling.csv")),
    Deed("condemn", "kept", ("record", "condemn", "WORKS", "shelves", "S", "2", "--cause", "bowed"), (0, 2)),
    Deed("correct", "inspected", ("record", "inspect", "WORKS", "P1.F1", "better.csv", "--correct")),
    Deed("deliver", "inspected", ("record", "deliver", "WORKS", "O1", "2"), (0, 2)),
    Deed("reload", "kept", ("reload", "WORKS", "load.json", "--broken", "L1", "--from-tier", "1", "--out", "OUT",
                            "--effort", "1")),
    Deed("energy", "kept", ("energy", "WORKS", "plan.json", "--out", "OUT", "--posts", "0")),
    Deed("calibrate", "kept", ("calibrate", "WORKS", "--write-offsets")),
    Deed("person", "kept", ("person", "WORKS", "Lena", "--role", "loader", "--password", "glaze and grog")),
    page("page: keep plan", "kept", "/planner/anew/keep", 166, form={}, plan="plan.json"),
    page("page: lock", "kept", "/planner/lock", 153,
         form={"code": "P1.F1", "version": 1, "firing": "F1", "lock": "true"}),
    page("page: tables", "kept", "/planner/backlog", files={"orders.csv": ORDERS}),
    page("page: ticks", "kept", "/loader/P1.F1/ticks",
         json={"ticks": [tick("0001", "set"), tick("0002", "breakage", pieces=1)]}),
    page("page: step", "kept", "/loader/P1.F1/step", 153, form={"state": "firing", "version": 1}),
    page("page: inspection", "unloaded", "/inspection/P1.F1", 153, 303, form={"version": 4}),
    page("page: correction", "inspected", "/inspection/P1.F1", 153, 303,
         form={"version": 5, "scrap|A|1|L1": "1", "cause|A|1|L1": "crack"}),
    page("page: readings", "unloaded", "/readings/P1.F1", 153, form={"version": 4, "meter|metered_kwh|1": "80"}),
    page("page: delivery", "inspected", "/planner/backlog/delivered", 153,
         form={"line": "O1", "version": 1, "quantity": 2}),
    page("page: person", "kept", "/people", 166,
         form={"name": "Piet", "role": "planner", "password": "grog and glaze"}),
)  # fmt: skip
SEVERAL_FILES = ("reload", "energy", "calibrate")
"""Deeds cut off between files that are whole each: under a note, or of no account to each other."""


class Scenes:
    """The works at every step, and how every deed ends when it is let alone."""

    def __init__(self, folder: Path, commands: Commands) -> None:
        self.folder, self.commands = folder, commands
        self.at(folder / "stage")
        self.stage.mkdir()
        write_tiny(self.works)
        self._build()
        self.known: dict[str, tuple[Found, Ran]] = {}

    def at(self, stage: Path) -> None:
        """Play in another place."""
        self.stage, self.works, self.out = stage, stage / "works", stage / "out"

    def _build(self) -> None:
        planned = self.run(("plan", "WORKS", "--out", "OUT", "--effort", "1"))
        assert planned.code == 0, planned.said
        (self.out / "plan.json").rename(self.stage / "plan.json")
        shutil.rmtree(self.out)
        self._tables()
        desk = Desk(folder=self.works, by="Olga")
        make_records(desk)
        take_works(desk)
        take_plan(desk, self.stage / "plan.json")
        with desk.open() as records, records.writing("set-up") as session:
            add_person(session, OWNER, Role.OWNER, "a hash that no password has")
        self._keep("kept")
        engine = engine_of(records_url(self.works))
        bring_back(engine)
        engine.dispose()
        self._keep("first form")
        self.enter("kept")
        for state in (RecordedState.LOADING, RecordedState.FIRING, RecordedState.UNLOADED):
            step_firing(desk, "P1.F1", state)
        self._keep("unloaded")
        take_inspection(desk, "P1.F1", self.stage / "out.csv")
        self._keep("inspected")

    def _tables(self) -> None:
        """Write what was measured and inspected beside the works, and the key of the pages."""
        from kilnpack.model.plans import Plan
        from kilnpack.web.place import session_key

        session_key(self.works / "records")
        (self.works / "meter_readings.csv").write_text(METERED)
        (self.works / "cone_readings.csv").write_text(CONES)
        load = load_value(self.stage / "plan.json", Plan).firing("F1").load
        save_value(self.stage / "load.json", load)
        pieces = load.pieces_by_lot
        rows = "".join(f"{lot},first,{count},\n" for lot, count in pieces.items())
        (self.stage / "out.csv").write_text(f"lot,grade,pieces,cause\n{rows}")
        lot, count = next(iter(pieces.items()))
        rest = rows.replace(f"{lot},first,{count},", f"{lot},first,{count - 1},\n{lot},scrap,1,crack")
        (self.stage / "better.csv").write_text(f"lot,grade,pieces,cause\n{rest}")
        (self.stage / "cooling.csv").write_text("after_h,chamber_degc\n1,700\n3,500\n6,300\n")

    def _keep(self, scene: str) -> None:
        shutil.copytree(self.stage, self.folder / scene)

    def enter(self, scene: str) -> None:
        """Bring everything to how it was at a step."""
        shutil.rmtree(self.stage)
        shutil.copytree(self.folder / scene, self.stage)

    def run(self, words: tuple[str, ...], **how: object) -> Ran:
        """Run a command or a request in the place of the scene."""
        known = {"WORKS": str(self.works), "OUT": str(self.out)}
        own = [known.get(word, str(self.stage / word) if (self.stage / word).is_file() else word) for word in words]
        if words[0] == WORD:
            asked = json.loads(words[2])
            own[2] = json.dumps(asked | ({"plan": str(self.stage / asked["plan"])} if "plan" in asked else {}))
        return self.commands.run(*own, **how)  # type: ignore[arg-type]

    def found(self) -> Found:
        """Return what there is now."""
        return Found(_files(self.stage), rows_of(self.works / "records" / "records.sqlite"))

    def left_alone(self, deed: Deed) -> tuple[Found, Ran]:
        """Return what a deed makes, and how often it changed something."""
        if deed.name not in self.known:
            if "OUT" in deed.words:
                self.enter(deed.scene)
                self.run(deed.words)  # what is compiled is so from now on
            self.enter(deed.scene)
            ran = self.run(deed.words)
            assert ran.code == 0, (deed.name, ran.said)
            self.known[deed.name] = (self.found(), ran)
        return self.known[deed.name]

    def kill(self, deed: Deed, chance: random.Random) -> str:
        """Kill a deed once, look at what is left, do it again; returns when it was killed."""
        made, ran = self.left_alone(deed)
        self.enter(deed.scene)
        before = self.found()
        if chance.random() < 0.5 and deed.words[0] != WORD:
            moment = chance.uniform(0.0, ran.seconds)
            killed = self.run(deed.words, after_s=moment)
            said = f"{deed.name} after {moment:.3f} s"
        else:
            change = chance.randint(1, ran.changes)
            killed = self.run(deed.words, at_change=change)
            said = f"{deed.name} at change {change}"
        assert killed.code in (0, -signal.SIGKILL), (said, killed.said)
        self._whole(before, made, said)
        done = self.found() == made
        again = self.run(deed.words)
        assert "Traceback" not in again.said, (said, again.said)
        if done:
            assert again.code in (0, *deed.again), (said, again.code, again.said)
        else:
            assert again.code == 0, (said, again.said)
            self._same(self.found(), made, said)
        return said

    def refused(self, deed: Deed, **how: object) -> str:
        """Do something where the system refuses; all stays as it was, and it succeeds afterwards. Returns its words.

        Where the system refuses only what comes after, nothing is returned, and all is as made.
        """
        made, _ = self.left_alone(deed)
        self.enter(deed.scene)
        before = self.found()
        ran = self.run(deed.words, **how)
        said = f"{deed.name} {how}: {ran.code} {ran.said}"
        assert "Traceback" not in ran.said, said
        if ran.code == 0:
            self._same(self.found(), made, said)
            return ""
        assert ran.code == (NOT_NOW % 256 if deed.words[0] == WORD else 2), said
        self._whole(before, made, said)
        if deed.name not in SEVERAL_FILES:
            self._same(self.found(), before, said)
        again = self.run(deed.words)
        assert again.code == 0, (said, again.said)
        self._same(self.found(), made, said)
        return ran.said

    def _whole(self, before: Found, made: Found, said: str) -> None:
        """Everything is as before or as made; what goes together is of one kind."""
        found = self.found()
        assert found.rows in (before.rows, made.rows), (said, differing(found.rows, before.rows))
        if is_left(self.works):
            finished = self.run(("record", "init", "WORKS"))
            assert finished.code == 0, (said, finished.said)
            found = self.found()
        noted = found.files.pop(f"out/{NOTE}", None)
        for path, content in found.files.items():
            assert content in (before.files.get(path), made.files.get(path)), (said, path)
        if said.startswith("page: tables"):
            kind = before if found.rows == before.rows else made
            self._same(found, kind, said)
        out = {path for path in found.files if path.startswith("out/")}
        assert noted or not out or out == {path for path in made.files if path.startswith("out/")}, (said, out)

    def _same(self, found: Found, wanted: Found, said: str) -> None:
        assert differing(found.rows, wanted.rows) == [], (said, found.rows, wanted.rows)
        assert differing(found.files, wanted.files) == [], said


@dataclass(frozen=True, slots=True)
class Found:
    """What lies in the place of a scene: files by path, rows by table."""

    files: dict[str, object]
    rows: dict[str, object]


def _files(place: Path) -> dict[str, object]:
    """Return the files of a scene but for those of the records."""
    return {path: content for path, content in files_of(place).items() if not path.startswith("works/records/")}
