"""Files changed at random: each is read as a value or has findings; never a traceback, never a hang.

A few hundred cases of each kind run with every test; `run.py test --long` runs `LONG`, more than 200,000 in all.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import Phase, given, seed, settings
from hypothesis import strategies as st

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.loads import Load
from kilnpack.model.plans import Plan
from kilnpack.model.works import Works
from kilnpack.records.states import Role
from kilnpack.works_folder import load_value, read_works
from kilnpack.works_folder.toml_syntax import NoToml, plain_toml
from tests.hard_use.limits import in_time
from tests.hard_use.mutations import Dice
from tests.hard_use.targets import (
    Drawings,
    Loads,
    Plans,
    SentTables,
    Tables,
    TomlFiles,
    WorksFolders,
)
from tests.web.small_place import client_of, place_in, signed_in, token_of
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from tests.hard_use.targets import Target

TARGETS: dict[str, Callable[[Path], Target]] = {
    "tables": Tables,
    "TOML files": TomlFiles,
    "works folders": WorksFolders,
    "loads": Loads,
    "plans": Plans,
    "sent tables": lambda place: SentTables(place, workbooks=False),
    "sent workbooks": lambda place: SentTables(place, workbooks=True),
    "drawings": Drawings,
}
SHORT = {
    "tables": 300, "TOML files": 100, "works folders": 12, "loads": 60, "plans": 50, "sent tables": 150,
    "sent workbooks": 120, "drawings": 12,
}  # fmt: skip
LONG = {
    "tables": 90_000, "TOML files": 16_000, "works folders": 3_000, "loads": 15_000, "plans": 8_000,
    "sent tables": 44_000, "sent workbooks": 24_000, "drawings": 2_000,
}  # fmt: skip
CHUNK = 5_000
"""Cases drawn from one seed; what the library keeps of them is let go after each."""
LEAST_DRAWS = 12
LIBRARY_WORDS = ("(at line ", "(at end of document", "codec can't", "has no attribute", "object is not", "Traceback")
"""What findings never say: the words of the libraries and of the language."""


def assert_told(findings: Iterable[Finding]) -> None:
    """Check that findings can be printed and say where and what is wanted, in our own words."""
    for finding in findings:
        assert isinstance(finding, Finding)
        assert finding.file
        assert finding.wanted
        line = str(finding)
        line.encode()
        assert line.isprintable() or "\ufffd" in line or "\xa0" in line or not line.isascii(), line
        assert not any(words in line for words in LIBRARY_WORDS), line


def run(target: Target, cases: int) -> tuple[int, int]:
    """Draw so many different cases; returns how many there were and how many had findings."""
    seen: set[bytes] = set()
    faulty = chunk = 0

    def one(raw: bytes) -> None:
        nonlocal faulty
        seen.add(raw)
        with in_time():
            findings = target.case(Dice(raw))
        assert_told(findings)
        faulty += bool(findings)

    while len(seen) < cases:
        # Every seed begins with the simplest case, so one more case needs more than one draw.
        draws = min(CHUNK, max(LEAST_DRAWS, cases - len(seen)))
        few = settings(max_examples=draws, phases=[Phase.generate, Phase.shrink])
        few(seed(chunk)(given(raw=st.binary(min_size=4, max_size=48))(one)))()
        chunk += 1
        assert chunk < 10 + 2 * cases // CHUNK, "the same cases are drawn again and again"
    return len(seen), faulty


@pytest.mark.parametrize("name", TARGETS)
def test_a_changed_file_is_read_or_has_findings(name: str, tmp_path: Path) -> None:
    """Guards against tracebacks and hangs, a few cases of each kind; most changes are found, some are harmless."""
    cases, faulty = run(TARGETS[name](tmp_path), SHORT[name])
    assert cases >= SHORT[name]
    assert faulty > 0


@pytest.mark.long
@pytest.mark.parametrize("name", TARGETS)
def test_very_many_changed_files_are_read_or_have_findings(
    name: str, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Guards the same with as many cases as `LONG` says."""
    cases, faulty = run(TARGETS[name](tmp_path), LONG[name])
    record_property("cases", f"{name}: {cases} cases, {faulty} with findings")
    assert cases >= LONG[name]
    assert 0 < faulty < cases


def test_the_long_share_has_as_many_cases_as_it_says() -> None:
    """Guards the count: 200,000 cases in all, every kind among them, in the short share too."""
    assert sum(LONG.values()) >= 200_000
    assert LONG.keys() == SHORT.keys() == TARGETS.keys()


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=150)
@given(plain=JSON, kind=st.sampled_from([Load, Plan, Works]))
def test_wild_json_is_no_saved_value(tmp_path_factory: pytest.TempPathFactory, plain: object, kind: Any) -> None:
    """Guards saved values made of nothing: any JSON under the right heading has findings."""
    path = tmp_path_factory.getbasetemp() / "wild.json"
    whole = {"schema": f"kilnpack {kind.__name__.lower()}", "version": 1, "value": plain}
    path.write_text(json.dumps(whole), encoding="utf-8")
    with in_time(), pytest.raises(InputFaulty) as caught:
        load_value(path, kind)
    assert_told(caught.value.findings)


@settings(max_examples=20)
@given(
    name=st.sampled_from(sorted(small_files())),
    raw=st.binary(max_size=300) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")),
)
def test_a_wild_file_of_a_works_folder_has_findings(
    tmp_path_factory: pytest.TempPathFactory, name: str, raw: bytes
) -> None:
    """Guards works folders with any bytes or text in the place of a file."""
    folder = write_files(tmp_path_factory.mktemp("wild"), small_files())
    (folder / name).write_bytes(raw)
    with in_time(), pytest.raises(InputFaulty) as caught:
        read_works(folder)
    assert_told(caught.value.findings)


@given(text=st.text(alphabet=st.sampled_from("ab=.[]{}\"'\n#0-1:T_,\\ \u00e9"), max_size=60))
def test_wild_toml_is_read_or_told_in_our_words(text: str) -> None:
    """Guards syntax: whatever is no TOML is a fault with its line, in our own words."""
    fault = None
    try:
        plain_toml(text)
    except NoToml as found:
        fault = found
    if fault is not None:
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1
        assert fault.found != "no TOML from here on", text
        assert not any(words in fault.found for words in LIBRARY_WORDS)


@pytest.mark.parametrize("cases", [8, pytest.param(300, marks=pytest.mark.long)])
def test_what_is_sent_over_the_pages_is_taken_in_or_marked(tmp_path: Path, cases: int) -> None:
    """Guards the upload of the planner's page from end to end: taken in (303) or every fault shown (422)."""
    kept = tmp_path / "place"
    kept.mkdir()
    client = signed_in(client_of(place_in(kept, with_plan=True)), Role.PLANNER)
    token = token_of(client, "/planner/backlog")
    answers = []
    (tmp_path / "made").mkdir()
    for workbooks in (False, True):
        target = SentTables(tmp_path / "made", workbooks=workbooks)
        for number in range(cases // 2):
            sent = target.sent(Dice(bytes((37 * number + 101 * place + 11) % 256 for place in range(24))))
            files = {"files": (sent.name, sent.content)}
            with in_time():
                answer = client.post("/planner/backlog", data={"form_token": token}, files=files)
            assert answer.status_code in (303, 422), answer.text[:500]
            answers.append(answer.status_code)
    assert len(answers) == cases
    assert 422 in answers
