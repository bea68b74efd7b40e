"""Every hard rule at its edge: a load drawn beyond the limit is caught, and one drawn inside it has no finding."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.rules.checker import audit
from tests.rules.edges import hard_rules
from tests.rules.edges_furniture import FURNITURE
from tests.rules.edges_ware import WARE

EDGES = FURNITURE | WARE


@pytest.mark.parametrize("name", EDGES)
@settings(max_examples=12)
@given(data=st.data())
def test_beyond_the_limit_the_rule_is_seen(name: str, data: st.DataObject) -> None:
    """Guards every hard rule against blindness, whatever the amount, the place and the kind."""
    edge = EDGES[name]
    beyond = data.draw(st.floats(edge.slack, edge.most, exclude_min=True), label="beyond")
    works, load = edge.build(data, beyond + 1e-6)
    assert edge.rule in {finding.field.split()[0] for finding in audit(works, load).findings}


@pytest.mark.parametrize("name", EDGES)
@settings(max_examples=12)
@given(data=st.data())
def test_inside_the_limit_nothing_is_found(name: str, data: st.DataObject) -> None:
    """Guards every hard rule against false alarms, down to the very limit."""
    edge = EDGES[name]
    inside = data.draw(st.floats(-edge.room, 0.0), label="inside")
    works, load = edge.build(data, inside - 1e-6)
    assert audit(works, load).findings == ()


def test_every_hard_rule_has_an_edge() -> None:
    """Guards the two tables of edges: no hard rule of the page is left out."""
    named = {one for name in EDGES for one in re.findall(r"[CFWZ]\d+", name)}
    assert hard_rules() - named == set()
    assert {edge.rule for edge in EDGES.values()} <= named | {"T9"}
