"""What every figure shares: colours, a white card, SVG that is the same each time."""

from __future__ import annotations

import base64
import html
import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchproof.showing.figures.sheet import INK, LIMIT, MEASURED, Sheet
from benchproof.showing.figures.slimsvg import slim_svg

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "INK",
    "LIMIT",
    "MEASURED",
    "Drawing",
    "Plot",
    "Size",
    "blank_card",
    "card",
    "explain",
    "plain",
    "svg_of",
    "two_cards",
    "written",
]

Size = tuple[float, float]
"""Width and height in inches."""

# Text stays text: a tenth of the size, and readable by a screen reader.
_SETTINGS: Any = {
    "svg.hashsalt": "benchproof",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 10,
}


@dataclass(frozen=True)
class Drawing:
    """A figure with the sentence that says the same; shows itself in a notebook.

    Attributes
    ----------
    svg : str
        Empty where there is nothing to draw.
    alt : str
        Text alternative.
    """

    svg: str
    alt: str

    def __repr__(self) -> str:
        return self.alt

    def _repr_mimebundle_(
        self, include: Any = None, exclude: Any = None
    ) -> tuple[dict[str, str], dict[str, Any]]:
        if not self.svg:
            return {"text/plain": self.alt}, {}
        code = base64.b64encode(self.svg.encode()).decode()
        alt = html.escape(self.alt)
        image = f'<img alt="{alt}" src="data:image/svg+xml;base64,{code}">'
        return (
            {"text/plain": self.alt, "text/html": image},
            {"text/html": {"alt": self.alt}},
        )


@dataclass(frozen=True)
class Plot:
    """A figure that can still be written in any format.

    Attributes
    ----------
    name : str
        Of a file with it.
    title : str
        One line above it.
    alt : str
        Text alternative.
    figure : matplotlib.figure.Figure, Sheet or None
        None where there is nothing to draw.
    """

    name: str
    title: str
    alt: str
    figure: Figure | Sheet | None = None

    def drawing(self) -> Drawing:
        """Return it as SVG."""
        svg = "" if self.figure is None else svg_of(self.figure)
        return Drawing(svg, self.alt)


def card(
    height: float, size: Size | None = None, sides: Size | None = None
) -> tuple[Figure, Axes]:
    """Make axes on a white card, which reads in light and dark pages alike.

    Parameters
    ----------
    height : float
        In inches, of a card as wide as a page.
    size : (float, float), optional
        In inches, instead.
    sides : (float, float), optional
        Room left and right of the axes, in inches; fitted to the words if not given.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    width, height = size or (8.0, height)
    with rc_context(_SETTINGS):
        figure = Figure(figsize=(width, height), facecolor="white")
        if sides is None:
            figure.set_layout_engine("constrained")
        else:
            left, right = sides[0] / width, 1 - sides[1] / width
            bottom, top = _BELOW / height, 1 - _ABOVE / height
            figure.subplots_adjust(left, bottom, right, top)
        axes = figure.add_subplot(facecolor="white")
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", alpha=0.25)
    return figure, axes


def two_cards(size: Size | None = None) -> tuple[Figure, tuple[Axes, Axes]]:
    """Make a large card above a low one that share their horizontal axis, in inches."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    width, height = size or (8.0, 5.0)
    with rc_context(_SETTINGS):
        figure = Figure(figsize=(width, height), facecolor="white")
        above, below = figure.subplots(
            2, 1, sharex=True,
            gridspec_kw={
                "height_ratios": (3, 1), "hspace": 0.12, "left": 0.85 / width,
                "right": 1 - 0.2 / width, "bottom": _BELOW / height,
                "top": 1 - _ABOVE / height,
            },
        )  # fmt: skip
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK)
        axes.grid(alpha=0.25)
    return figure, (above, below)


def blank_card(size: Size) -> Figure:
    """Make a white card for words only, in inches."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context(_SETTINGS):
        return Figure(figsize=size, facecolor="white")


_ABOVE, _BELOW = 0.4, 0.55
"""Inches for a row of explanations and for the words of an axis."""


def explain(figure: Figure, handles: Sequence[Artist]) -> None:
    """Say above a card what its marks mean."""
    figure.legend(
        handles=handles, loc="upper left", ncols=len(handles), frameon=False,
        fontsize=9, borderaxespad=0.2, columnspacing=1.4, handletextpad=0.5,
    )  # fmt: skip


def plain(text: str, width: int = 200) -> str:
    r"""Return typed text for a figure: broken into lines, a dollar no mathematics.

    Examples
    --------
    >>> plain("costs $5 or $6")
    'costs \\$5 or \\$6'
    """
    return "\n".join(textwrap.wrap(text, width)).replace("$", r"\$")


def svg_of(figure: Figure | Sheet) -> str:
    """Write SVG that is small and the same on every run: no date, fixed ids."""
    if isinstance(figure, Sheet):
        return figure.svg()
    return slim_svg(written(figure, "svg").decode("utf-8"))


def written(figure: Figure, kind: str, dpi: float = 100) -> bytes:
    """Write a figure as ``svg``, ``png`` or ``pdf``, without date and program.

    Parameters
    ----------
    dpi : float
        Of the pixels of a PNG.
    """
    from matplotlib import rc_context

    nameless: dict[str, dict[str, None]] = {
        "svg": {"Date": None, "Creator": None},
        "png": {"Software": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    }
    buffer = io.BytesIO()
    with rc_context(_SETTINGS):
        figure.savefig(buffer, format=kind, dpi=dpi, metadata=nameless[kind])
    return buffer.getvalue()
