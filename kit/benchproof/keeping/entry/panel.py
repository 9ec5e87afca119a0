"""The panel in a notebook: a widget over the desk, and a table that outlives it."""

from __future__ import annotations

import importlib
import importlib.util
import os
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchproof.keeping.entry.desk import Desk
from benchproof.keeping.entry.taking import latest_readings
from benchproof.keeping.live.instrument import RERUN
from benchproof.values.tables import Table, Tabular

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

HINT = (
    "The quick-entry panel needs an extra: pip install 'benchproof[entry]', then "
    "restart JupyterLab. Until then, type in a cell: case.record('V_idle', '12.10 V', "
    "using='handheld', at='socket, idle')"
)
"""Said where the panel cannot be shown; everything else works without it."""

_HERE = Path(__file__).parent


class Panel(Tabular):
    """Quick entry at the bench, for a case; shows itself at the end of a cell.

    Below the panel stands a table of the latest readings. It is the same whether
    somebody types or the notebook is run again with nobody there.

    Attributes
    ----------
    desk : Desk
        What the panel asks and shows; without a screen it works the same.
    """

    def __init__(self, case: Case) -> None:
        self.desk = Desk(case)
        self._case = case

    def table(self) -> Table:
        """Return the latest readings of the case."""
        return latest_readings(self._case)

    def _ipython_display_(self) -> None:
        from IPython.display import display

        attended = os.environ.get(RERUN) != "1"
        widget = _widget_for(self.desk) if attended and can_show() else None
        if widget is not None:
            # Without the widget's text nothing else differs where none is made, so
            # a saved notebook compares equal to one that was run again.
            display(_view_of(widget), raw=True)  # type: ignore[no-untyped-call]
        elif attended:
            print(HINT, file=sys.stderr)  # noqa: T201 - the panel's one line of text
        shown = display(self.table(), display_id=True)  # type: ignore[no-untyped-call]
        if widget is not None and shown is not None:
            _attach(widget, self.desk, lambda: shown.update(self.table()))


def can_show() -> bool:
    """Tell whether what the panel needs is installed."""
    return importlib.util.find_spec("anywidget") is not None


@cache
def _widget_class() -> Any:
    """Make the widget's class once; it needs packages that may be missing."""
    anywidget: Any = importlib.import_module("anywidget")
    traitlets: Any = importlib.import_module("traitlets")

    class EntryWidget(anywidget.AnyWidget):  # type: ignore[misc]
        _esm = (_HERE / "panel.js").read_text(encoding="utf-8")
        _css = (_HERE / "panel.css").read_text(encoding="utf-8")
        shown = traitlets.Dict().tag(sync=True)

    return EntryWidget


def _widget_for(desk: Desk) -> Any:
    return _widget_class()(shown=desk.shown())


def _view_of(widget: Any) -> dict[str, Any]:
    bundle = widget._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    kind = "application/vnd.jupyter.widget-view+json"
    return {kind: data[kind]}


def _attach(widget: Any, desk: Desk, changed: Any) -> None:
    """Let messages of the widget reach the desk, and its state the widget."""

    def heard(_: Any, message: dict[str, Any], __: Any) -> None:
        rows = desk.case.book.rows
        desk.ask(message)
        widget.shown = desk.shown()
        if desk.case.book.rows != rows:
            changed()

    widget.on_msg(heard)
