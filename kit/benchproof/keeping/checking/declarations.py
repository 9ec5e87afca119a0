"""What a notebook's code declares, read as text: no cell is run.

Only calls whose arguments are written out are understood,
``case.constant("V_diode", "0.40 V")`` for one; a variable in their place is not.
"""

from __future__ import annotations

import ast
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

_LONGEST = 500_000
_MAGIC = re.compile(r"^\s*[%!?].*$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Call:
    """One call in the notebook whose arguments are written out.

    Attributes
    ----------
    name : str
        Of the method, e.g. ``constant``.
    arguments : tuple
    keywords : dict
    at_round : int or None
        The number in ``case.at_round(1).conclude(…)``.
    """

    name: str
    arguments: tuple[Any, ...]
    keywords: dict[str, Any] = field(default_factory=dict)
    at_round: int | None = None


@dataclass(frozen=True, slots=True)
class Declarations:
    """The code of a notebook, and the calls in it that are written out.

    Attributes
    ----------
    code : str
        Of all cells, for a search.
    calls : tuple of Call
        In the order of the notebook.
    loose : frozenset of str
        Methods that are also called with something not written out.
    """

    code: str
    calls: tuple[Call, ...]
    loose: frozenset[str]

    def named(self, name: str) -> list[Call]:
        """Return the calls of one method."""
        return [c for c in self.calls if c.name == name]


CORRECTIONS = frozenset({"loading", "burden", "leads", "body", "reversal", "gain"})
WANTED = CORRECTIONS | {
    "constant", "correlate", "conclude", "predicts", "signed", "valid_only_if",
}  # fmt: skip
CRITERIA = frozenset(
    {"below", "above", "within", "agrees_with", "differs_from", "at_least", "at_most"}
)


def read_declarations(cells: Sequence[str]) -> Declarations:
    """Read the declarations of a notebook from the source of its code cells.

    Examples
    --------
    >>> read = read_declarations(['case.constant("V_diode", "0.40 V", source=maker)'])
    >>> read.calls, sorted(read.loose)
    ((), ['constant'])
    """
    calls: list[Call] = []
    loose: set[str] = set()
    for cell in cells:
        for node in _calls_in(cell):
            found = _call(node)
            if isinstance(found, Call):
                calls.append(found)
            elif found:
                loose.add(found)
    return Declarations("\n".join(cells), tuple(calls), frozenset(loose))


def _calls_in(cell: str) -> Iterator[ast.Call]:
    if len(cell) > _LONGEST:
        return
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the notebook's own odd escapes
            tree = ast.parse(_MAGIC.sub("pass", cell))
        found = [n for n in ast.walk(tree) if isinstance(n, ast.Call)]
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return
    yield from sorted(found, key=lambda n: (n.lineno, n.col_offset))


def _call(node: ast.Call) -> Call | str:
    """Return a wanted call, its name if it is not written out, "" for others."""
    if not isinstance(node.func, ast.Attribute) or node.func.attr not in WANTED:
        return ""
    name = node.func.attr
    owner = node.func.value
    if name in CORRECTIONS:
        if not isinstance(owner, ast.Attribute) or owner.attr != "corrections":
            return ""
        owner = owner.value
    try:
        arguments = tuple(_argument(a) for a in node.args)
        keywords = {str(k.arg): ast.literal_eval(k.value) for k in node.keywords}
        return Call(name, arguments, keywords, _round_of(owner))
    except (ValueError, TypeError, SyntaxError, RecursionError, MemoryError):
        return name


def _argument(node: ast.expr) -> Any:
    """Return a literal, or a criterion written out as a call of its own."""
    is_call = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    if not is_call:
        return ast.literal_eval(node)
    assert isinstance(node, ast.Call)
    assert isinstance(node.func, ast.Attribute)
    owner = node.func.value
    if node.func.attr not in CRITERIA or not isinstance(owner, ast.Subscript):
        raise ValueError(node.func.attr)
    arguments = [_quantity_or_literal(a) for a in node.args]
    keywords = {str(k.arg): ast.literal_eval(k.value) for k in node.keywords}
    quantity = ast.literal_eval(owner.slice)
    return Call(node.func.attr, (quantity, *arguments), keywords)


def _quantity_or_literal(node: ast.expr) -> Any:
    """Return a literal, and for ``case["R"]`` the name in it."""
    return ast.literal_eval(node.slice if isinstance(node, ast.Subscript) else node)


def _round_of(node: ast.expr) -> int | None:
    if isinstance(node, ast.Name):
        return None
    is_round = (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "at_round"
        and len(node.args) == 1
    )
    if not is_round:
        raise ValueError("neither a case nor a round of it")
    assert isinstance(node, ast.Call)
    return int(ast.literal_eval(node.args[0]))
