"""The contact map: where the contacts lie and what was read there in each state."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from benchproof.keeping.case import Case
from benchproof.keeping.reports.surveytables import NOT_MEASURED, observed
from benchproof.measuring.contactflags import Observed, survey_flags
from benchproof.measuring.contacts import Contact
from benchproof.showing.figures.drawing import INK, LIMIT, MEASURED, Drawing, svg_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROOM = 9
"""Contacts in one row of the map from which on the values stand upright."""
_ROWS = 6
"""So many rows get full height; with more the map is drawn closer."""


def figure_of_contacts(case: Case) -> Drawing:
    """Draw the contacts where they lie, with their voltages, a panel per state.

    The shape of a mark says what kind of value stands beside it, and the value is
    written out; nothing depends on colour.

    Parameters
    ----------
    case : Case
        With coordinates (x, y) of its contacts in case.toml.

    Returns
    -------
    Drawing
        Without a picture where no contact has coordinates.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case, open_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = open_case(new_case("Fan hums", bench))
    ...     figure_of_contacts(case).alt
    'No contact has coordinates in case.toml: nothing to draw.'
    """
    seen = observed(case)
    placed = [c for c in seen.plan.contacts if c.place is not None]
    if not placed:
        return Drawing("", "No contact has coordinates in case.toml: nothing to draw.")
    used = {state for _, state in seen.voltages}
    states = [s for s in seen.plan.states if s in seen.plan.powered or s in used]
    doubtful = _doubtful(seen)
    upright = _most_in_a_row(placed) >= _ROOM
    figure, panels = _panels(len(states), placed, upright)
    for axes, state in zip(panels, states, strict=True):
        # A state is a person's word: `$` in it starts no mathematics.
        axes.set_title(
            state, loc="left", color=INK, fontweight="bold", parse_math=False
        )
        for kind in _STYLES:
            cells = [(c, *_what(seen, c.name, state, doubtful)) for c in placed]
            _draw(axes, kind, [(c, t) for c, k, t in cells if k == kind], upright)
    panels[-1].set_xlabel("x in mm (the scales of x and y differ)", color=INK)
    _explain(panels[0], seen)
    return Drawing(svg_of(figure), _alt(seen, states, doubtful))


def _doubtful(seen: Observed) -> set[str]:
    """Return the measurands whose value the meter may have made."""
    flags = survey_flags(seen)
    return {name for f in flags if f.kind == "floating" for name in f.about}


def _key(contact: Contact) -> tuple[float, float]:
    x, y = contact.place or (0.0, 0.0)
    return round(1e3 * x, 6), round(1e3 * y, 6)


def _most_in_a_row(contacts: list[Contact]) -> int:
    return max(Counter(_key(c)[1] for c in contacts).values())


def _panels(
    count: int, placed: list[Contact], upright: bool
) -> tuple[Figure, list[Axes]]:
    """Make one panel per state, with room for the words below and above the marks."""
    from matplotlib.figure import Figure

    xs, ys = (sorted({_key(c)[i] for c in placed}) for i in (0, 1))
    # Fixed sizes, in inches: to fit them to hundreds of words takes seconds.
    row, low, high = (1.2, 0.95, 0.4) if upright else (0.75, 0.4, 0.4)
    span = row * min(len(ys) - 1, _ROWS)
    height, gap, below, above = span + low + high, 0.3, 0.55, 0.75
    total = count * (height + gap) - gap + below + above
    figure = Figure(figsize=(8.0, total), facecolor="white")
    panels = figure.subplots(
        count, 1, sharex=True, sharey=True, squeeze=False,
        gridspec_kw={
            "left": 0.1, "right": 0.98, "bottom": below / total,
            "top": 1 - above / total, "hspace": gap / height,
        },
    )  # fmt: skip
    inch = (ys[-1] - ys[0]) / span if span else 1.0
    beside = 0.08 * (xs[-1] - xs[0]) or 1.0
    for axes in panels[:, 0]:
        axes.set_facecolor("white")
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK)
        axes.set_ylabel("y in mm", color=INK)
        axes.set_xlim(xs[0] - beside, xs[-1] + beside)
        axes.set_ylim(ys[0] - low * inch, ys[-1] + high * inch)
        if len(ys) <= _ROWS:
            axes.set_yticks(ys)
    return figure, list(panels[:, 0])


_STYLES: dict[str, dict[str, Any]] = {
    "measured": {"marker": "o", "color": MEASURED},
    "reference": {"marker": "s", "color": INK},
    "doubtful": {"marker": "D", "color": LIMIT, "fillstyle": "none"},
    "not measured": {"marker": "o", "color": INK, "fillstyle": "none"},
}
_LEGEND = {
    "measured": "measured",
    "reference": "reference (black lead)",
    "doubtful": "may be defined by the meter",
    "not measured": "not measured",
}


def _what(
    seen: Observed, contact: str, state: str, doubtful: set[str]
) -> tuple[str, str]:
    """Return the kind of a value and the value as text."""
    if contact == seen.plan.reference:
        return "reference", "reference"
    found = seen.voltages.get((contact, state))
    if found is None:
        return NOT_MEASURED, NOT_MEASURED
    kind = "doubtful" if found.name in doubtful else "measured"
    return kind, seen.texts[found.name]


def _draw(
    axes: Axes, kind: str, cells: list[tuple[Contact, str]], upright: bool
) -> None:
    """Draw the contacts whose values are of one kind, with name and value."""
    from matplotlib.transforms import ScaledTranslation

    places = [_key(contact) for contact, _ in cells]
    if not places:
        return
    axes.plot(*zip(*places, strict=True), linestyle="none", markersize=8,
              **_STYLES[kind])  # fmt: skip
    above, below = (
        axes.transData + ScaledTranslation(0, y / 72, axes.figure.dpi_scale_trans)
        for y in (7, -8)
    )
    for (contact, text), place in zip(cells, places, strict=True):
        axes.text(
            *place, contact.name, transform=above, ha="center", va="bottom",
            color=INK, fontweight="bold", fontsize=8 if upright else 10,
        )  # fmt: skip
        axes.text(
            *place, text, transform=below, ha="center", va="top", color=INK,
            rotation=90 if upright else 0, fontsize=7 if upright else 9,
        )  # fmt: skip


def _explain(axes: Axes, seen: Observed) -> None:
    """Say what the marks mean, above the first panel."""
    from matplotlib.lines import Line2D

    marks = [
        Line2D([], [], linestyle="none", label=_LEGEND[kind], **style)
        for kind, style in _STYLES.items()
    ]
    axes.legend(
        handles=marks, loc="lower right", bbox_to_anchor=(1, 1), ncols=4, frameon=False,
        fontsize=8, title=f"Voltages to {seen.plan.reference}", alignment="right",
    )  # fmt: skip


def _alt(seen: Observed, states: list[str], doubtful: set[str]) -> str:
    said = [
        f"{state}: "
        + ", ".join(
            f"{contact} {text}" + (f" ({_LEGEND[kind]})" if kind == "doubtful" else "")
            for contact in seen.plan.probed
            for kind, text in [_what(seen, contact, state, doubtful)]
        )
        for state in states
    ]
    missing = [c.name for c in seen.plan.contacts if c.place is None]
    absent = (
        f" Not drawn, without coordinates: {', '.join(missing)}." if missing else ""
    )
    return (
        f"Contact map of {len(seen.plan.contacts)} contacts, voltages to "
        f"{seen.plan.reference}. {'; '.join(said)}.{absent}"
    )
