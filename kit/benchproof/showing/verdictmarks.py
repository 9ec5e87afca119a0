"""What pages and figures share: a verdict's mark, and how a moment is written."""

from __future__ import annotations

from datetime import UTC, datetime

__all__ = ["glyph_of", "moment_of"]

# Shape first, colour not at all: the word beside it carries the meaning.
GLYPHS = (
    ("contradicted", "×"),
    ("not reproduced", "○"),
    ("compatible", "≈"),
    ("sufficient", "●"),
    ("not tested", "–"),
    ("not measured", "–"),
    ("met", "✓"),
)


def glyph_of(verdict: str) -> str:
    """Return the mark that stands before a verdict's words.

    Examples
    --------
    >>> glyph_of("not reproduced, p < 9.6 %"), glyph_of("undetermined")
    ('○', '?')
    """
    return next((g for start, g in GLYPHS if verdict.startswith(start)), "?")


def moment_of(written: str) -> dict[str, str]:
    """Return a time as it is shown and as machines read it.

    What is not an ISO time is shown as it was written.

    Examples
    --------
    >>> moment_of("2026-11-25T12:04:31+02:00")
    {'shown': '2026-11-25 10:04 UTC', 'machine': '2026-11-25T10:04Z'}
    """
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        return {"shown": written, "machine": ""}
    if moment.tzinfo is None:
        return {"shown": f"{moment:%Y-%m-%d %H:%M}", "machine": ""}
    utc = moment.astimezone(UTC)
    return {"shown": f"{utc:%Y-%m-%d %H:%M} UTC", "machine": f"{utc:%Y-%m-%dT%H:%MZ}"}
