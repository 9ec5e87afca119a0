"""Names offered while a cell is typed: Tab inside the quotes of a call of a case."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.reports.report import REPORTS

_TEXT = r"""(?:"[^"\n]*"|'[^'\n]*')"""
_OPEN_QUOTE = re.compile(
    rf"""(?P<case>[^\W\d]\w*)\.?(?P<call>[\w.]*)(?:\[|\()
    (?P<before>(?:[^()\[\]"']|{_TEXT})*)(?P<quote>["'])(?P<typed>[^"'\n]*)\Z""",
    re.VERBOSE,
)
_KEY = re.compile(r"(\w+)\s*=\s*\Z")
_LOOKED_AT = 500
"""Characters before the cursor; a call that is longer gets no offers."""

Offer = Callable[[Case], Iterable[str]]


def _places(case: Case) -> Iterable[str]:
    return (r.at for r in reversed(case.book.record.readings) if r.at)


_ONE_NAME = ("", "record", "strike", "budget", "monte_carlo", "sharing")
_SEVERAL_NAMES = ("correlation", "correlations", "combine")
_OFFERS: dict[tuple[str, int], Offer] = {
    **{(call, 0): Case.names for call in _ONE_NAME},
    **{(call, place): Case.names for call in _SEVERAL_NAMES for place in range(6)},
    ("live", 0): lambda case: case.instruments,
    ("report", 0): lambda case: REPORTS,
    ("trials", 0): lambda case: case.trials.names(),
    ("contacts.voltages", 0): lambda case: case.file.survey.states,
    ("contacts.ohms", 0): lambda case: case.file.survey.names,
    ("contacts.ohms", 1): lambda case: case.file.survey.names,
}
"""What stands in the quotes, by what is called and the place in it; "" is ``case[``."""

_BY_KEY: dict[str, Offer] = {
    "using": lambda case: case.instruments,
    "at": _places,
    "state": lambda case: case.file.survey.states,
}
"""The same by keyword, whatever is called."""


def offered(before: str, namespace: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return what could stand in the quotes that are open where the cursor is.

    Parameters
    ----------
    before : str
        The cell up to the cursor.
    namespace : mapping
        The notebook's names; what is called must be a case by one of them. Nothing
        of the cell is evaluated.

    Returns
    -------
    typed : str
        What stands in the quotes already.
    names : list of str
        What it can be the beginning of; none outside such quotes.

    Examples
    --------
    >>> offered('case.record("V_', {})
    ('', [])
    """
    found = _OPEN_QUOTE.search(before[-_LOOKED_AT:])
    case = namespace.get(found["case"]) if found else None
    if not found or not isinstance(case, Case):
        return "", []
    key = _KEY.search(found["before"])
    place = re.sub(_TEXT, "", found["before"]).count(",")
    offer = _BY_KEY.get(key[1]) if key else _OFFERS.get((found["call"], place))
    names = dict.fromkeys(offer(case)) if offer else {}
    typed, quote = found["typed"], found["quote"]
    return typed, [n for n in names if n.startswith(typed) and quote not in n]


def offer_names(shell: Any = None) -> None:
    """Let IPython offer them, once; where it cannot, nothing happens.

    Parameters
    ----------
    shell : InteractiveShell, optional
        The running one, if there is one.
    """
    try:
        from IPython.core.completer import SimpleCompletion, context_matcher
        from IPython.core.getipython import get_ipython
    except ImportError:
        return
    shell = shell or get_ipython()
    if shell is None or any(map(_is_ours, shell.Completer.custom_matchers)):
        return

    @context_matcher(identifier=__name__)  # type: ignore[untyped-decorator]
    def names_of_the_case(context: Any) -> dict[str, Any]:
        lines = context.full_text.split("\n")[: context.cursor_line + 1]
        lines[-1] = lines[-1][: context.cursor_position]
        typed, names = offered("\n".join(lines), shell.user_ns)
        return {
            "completions": [SimpleCompletion(name, type="name") for name in names],
            "matched_fragment": typed,
            "suppress": bool(names),
            "ordered": True,
        }

    shell.Completer.custom_matchers.append(names_of_the_case)


def _is_ours(matcher: Any) -> bool:
    return getattr(matcher, "matcher_identifier", "") == __name__
