"""What trials and plans say: no word claims more than attempts can show."""

import ast
from pathlib import Path

import pytest

from benchproof.reasoning import trials

ROOMS = [Path(trials.__file__).parent, Path(trials.__file__).parents[1] / "plans"]
MODULES = sorted(p for room in ROOMS for p in room.glob("*.py"))
BARRED = ("never", "impossible", "proved", "proven", "confirmed", "ruled out")


def said(path):
    """Yield every text of a module that is no docstring."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    notes = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if text and id(node) not in notes:
            yield node.value.lower()


@pytest.mark.parametrize("path", MODULES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_no_text_claims_more_than_attempts_can_show(path):
    texts = [*said(path)]
    assert texts
    assert [t for t in texts if any(word in t for word in BARRED)] == []


def test_both_rooms_are_looked_through():
    assert {p.parent.name for p in MODULES} == {"trials", "plans"}
    assert len(MODULES) > 15
