"""Formulas computed without running the notebook.

Only plain arithmetic is understood: names, numbers, ``+ - * / **``, comparisons
inside ``np.where``, the functions of `FUNCTIONS`, the formula sheet's functions of
plain numbers (``circuits.cell_dip``), steps like ``slope = a / b`` and a ``return``.
It is worked out node by node; nothing is compiled, looked up elsewhere or
called that is not listed here. What is not plain is left to a run.
"""

from __future__ import annotations

import ast
import inspect
import math
import operator
import textwrap
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from benchproof.measuring import circuits
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.values.units import Unit

_LONGEST = 20_000
_MOST_NODES = 1_000

_OPERATORS: dict[type[ast.AST], Callable[..., Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
    ast.USub: operator.neg,
    ast.UAdd: operator.pos,
    ast.Lt: operator.lt,
    ast.LtE: operator.le,
    ast.Gt: operator.gt,
    ast.GtE: operator.ge,
}
_ARRAY_NAMES = (
    "abs arccos arccosh arcsin arcsinh arctan arctan2 arctanh cos cosh exp expm1 hypot"
    " log log10 log1p log2 maximum minimum sin sinh sqrt square tan tanh where"
)
_SCALAR_NAMES = (
    "acos acosh asin asinh atan atan2 atanh cos cosh exp expm1 fabs hypot log log10"
    " log1p log2 sin sinh sqrt tan tanh"
)
FUNCTIONS: dict[str, Callable[..., Any]] = {
    **{f"np.{name}": getattr(np, name) for name in _ARRAY_NAMES.split()},
    **{f"math.{name}": getattr(math, name) for name in _SCALAR_NAMES.split()},
    "abs": abs,
}
_PLAIN = {"Number", "float", "Sequence[Number]"}
NUMBERS = {"np.pi": math.pi, "math.pi": math.pi, "np.e": math.e, "math.e": math.e}

Names = Mapping[str, Any]
Step = Callable[[Names], Any]


class NotPlainError(Exception):
    """A formula holds more than plain arithmetic; what, is the message."""


def plain_formula(name: str, unit: Unit, text: str) -> Formula:
    r"""Make a formula from its source text, without running the text.

    Parameters
    ----------
    name : str
        Of the quantity; the function's name.
    unit : Unit
        Of the result.
    text : str
        Of the function, decorator included.

    Raises
    ------
    NotPlainError
        If there is more in it than plain arithmetic.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> text = "def R(V, I):\n    return V / I"
    >>> plain_formula("R", unit_of("ohm"), text)([12.0, 3.0])
    4.0
    """
    found = _definition(name, text)
    arguments = tuple(a.arg for a in found.args.args)
    steps = [_statement(s) for s in _without_docstring(found.body)]
    if not steps or steps[-1][0] or any(not target for target, _ in steps[:-1]):
        raise NotPlainError("it does not end with its one return")
    return Formula(name, unit, _function(arguments, steps), arguments, text)


def _definition(name: str, text: str) -> ast.FunctionDef:
    if len(text) > _LONGEST:
        raise NotPlainError("it is too long")
    try:
        body = ast.parse(textwrap.dedent(text)).body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise NotPlainError("it cannot be read") from None
    if len(body) != 1 or not isinstance(body[0], ast.FunctionDef):
        raise NotPlainError("it is no plain function")
    found = body[0]
    plain = found.args
    if found.name != name or plain.vararg or plain.kwarg or plain.kwonlyargs:
        raise NotPlainError("its arguments are no plain names")
    if not plain.args or plain.defaults or plain.posonlyargs:
        raise NotPlainError("its arguments are no plain names")
    if sum(1 for _ in ast.walk(found)) > _MOST_NODES:
        raise NotPlainError("it is too long")
    return found


def _without_docstring(body: list[ast.stmt]) -> list[ast.stmt]:
    first = body[0]
    is_text = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    return body[1:] if is_text else body


def _statement(node: ast.stmt) -> tuple[str, Step]:
    """Return the name a statement sets ("" for the return) and how."""
    if isinstance(node, ast.Return) and node.value is not None:
        return "", _expression(node.value)
    if isinstance(node, ast.Assign) and len(node.targets) == 1:
        target = node.targets[0]
        if isinstance(target, ast.Name):
            return target.id, _expression(node.value)
    raise NotPlainError(f"line {node.lineno} is more than a step of arithmetic")


def _expression(node: ast.expr) -> Step:
    if isinstance(node, ast.Constant):
        return _constant(node.value)
    if isinstance(node, ast.Name):
        return operator.itemgetter(node.id)
    if isinstance(node, ast.Attribute) and ast.unparse(node) in NUMBERS:
        return _constant(NUMBERS[ast.unparse(node)])
    if isinstance(node, ast.BinOp):
        return _applied(_operator(node.op), node.left, node.right)
    if isinstance(node, ast.UnaryOp):
        return _applied(_operator(node.op), node.operand)
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        return _applied(_operator(node.ops[0]), node.left, node.comparators[0])
    if isinstance(node, ast.List):
        return _applied(_listed, *node.elts)
    if isinstance(node, ast.Call):
        return _called(node)
    raise NotPlainError(f"{ast.unparse(node)[:60]!r} is more than arithmetic")


def _constant(number: object) -> Step:
    if not isinstance(number, int | float) or isinstance(number, bool):
        raise NotPlainError("it holds something else than a number")
    try:
        value = float(number)  # a whole number could be raised to millions of digits
    except OverflowError:
        raise NotPlainError("it holds a number that is too large") from None
    return lambda names: value


def _operator(node: ast.AST) -> Callable[..., Any]:
    if type(node) not in _OPERATORS:
        raise NotPlainError(f"{type(node).__name__} is more than arithmetic")
    return _OPERATORS[type(node)]


def _called(node: ast.Call) -> Step:
    function, count = _function_named(node.func), len(node.args)
    words = [word.arg or "" for word in node.keywords]  # "" for **
    if words and ("" in words or function in FUNCTIONS.values()):
        raise NotPlainError(f"{ast.unparse(node)[:60]!r} is more than arithmetic")

    def call(*values: Any) -> Any:
        named = dict(zip(words, values[count:], strict=True))
        return function(*values[:count], **named)

    return _applied(call, *node.args, *(word.value for word in node.keywords))


def _function_named(node: ast.expr) -> Callable[..., Any]:
    name = ast.unparse(node)
    found = FUNCTIONS.get(name) or _of_the_sheet(name)
    if found is None:
        raise NotPlainError(f"it calls {name[:60]}")
    return found


def _of_the_sheet(name: str) -> Callable[..., Any] | None:
    """Return a function of the formula sheet if it takes and gives plain numbers."""
    room, _, word = name.partition(".")
    if room != "circuits" or word not in circuits.__all__:
        return None
    found = getattr(circuits, word)
    kinds = found.__annotations__.values() if inspect.isfunction(found) else ()
    return found if kinds and _PLAIN.issuperset(kinds) else None


def _listed(*values: Any) -> list[Any]:
    return list(values)


def _applied(function: Callable[..., Any], *nodes: ast.expr) -> Step:
    steps = [_expression(node) for node in nodes]
    return lambda names: function(*(step(names) for step in steps))


def _function(
    arguments: tuple[str, ...], steps: list[tuple[str, Step]]
) -> Callable[..., Any]:
    _refuse_unknown_names(arguments, steps)

    def evaluate(*values: Any) -> Any:
        names = dict(zip(arguments, values, strict=True))
        for target, step in steps[:-1]:
            names[target] = step(names)
        return steps[-1][1](names)

    evaluate.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [inspect.Parameter(a, inspect.Parameter.POSITIONAL_ONLY) for a in arguments]
    )
    return evaluate


def _refuse_unknown_names(
    arguments: tuple[str, ...], steps: list[tuple[str, Step]]
) -> None:
    """Work it out once on ones: a name from elsewhere in the notebook shows."""
    names: dict[str, Any] = dict.fromkeys(arguments, 1.0)
    for target, step in steps:
        try:
            with np.errstate(all="ignore"):
                names[target] = step(names)
        except KeyError as missing:
            raise NotPlainError(f"it uses {missing.args[0]} from elsewhere") from None
        except (ArithmeticError, ValueError, TypeError):
            names[target] = 1.0  # outside its domain at ones; that says nothing
