"""README.txt of a bundle: what it is, how to check it, how to run it again."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

_TEXT = """\
{title}
{line}

{invented}This bundle holds one bench investigation: what was claimed, every reading,
what follows from them, and the code that computes it.

To look:    open the page in write-up/. It runs nothing and fetches nothing.

To check that the files are those that were bundled, nothing needs to be installed:

    sha256sum -c SHA256SUMS

That says nothing about who made the bundle: compare the hash of the whole file with
one that its author published elsewhere.

To check the numbers without running anything of this bundle:

    python -m venv .venv
    .venv/bin/pip install 'benchproof=={version}'
    .venv/bin/benchproof check .

It computes measurands, plain formulas, predictions and verdicts again from
readings.csv and instruments.toml, and says what it could not check.

To run the notebook again, read it first: it is a program, and it runs with your
rights. Then, on a copy:

    .venv/bin/benchproof check . --run

or by other means, comparing the cells that are marked for it:

    .venv/bin/pip install nbval
    .venv/bin/pytest --nbval-lax investigation.ipynb

versions.txt names the software of the run; for the same versions:

    .venv/bin/pip install -r versions.txt
"""


def readme_text(results: Mapping[str, Any]) -> str:
    """Write the text.

    Parameters
    ----------
    results : mapping
        Of results.json: title, whether invented, versions.

    Examples
    --------
    >>> results = {"title": "Demo", "invented": False, "versions": {}}
    >>> readme_text(results).splitlines()[:2]
    ['Demo', '====']
    """
    title = " ".join(str(results["title"]).split())
    invented = "The data are invented. " if results["invented"] else ""
    return _TEXT.format(
        title="\n".join(textwrap.wrap(title, 80)),
        line="=" * min(len(title), 80),
        invented=invented,
        version=results["versions"].get("benchproof", "VERSION"),
    )
