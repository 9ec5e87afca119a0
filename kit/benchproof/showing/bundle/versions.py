"""versions.txt: the software of the run, as lines that pip reads."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from importlib import metadata

_NAME = re.compile(r"[A-Za-z0-9][\w.-]*")

Requires = Callable[[str], list[str]]
Version = Callable[[str], str]


def versions_text(
    ran_with: Mapping[str, str],
    requires: Requires = lambda name: metadata.requires(name) or [],
    version: Version = metadata.version,
) -> str:
    """Write ``name==version`` lines, walked from the direct dependencies.

    Parameters
    ----------
    ran_with : mapping
        Versions of Python and of the direct dependencies at the run.
    requires, version : callable
        What a distribution needs, and which is installed.

    Returns
    -------
    str
        What those need in turn follows only where it is certain: if this environment
        has the direct ones in the versions of the run.

    Examples
    --------
    >>> needs = {"benchproof": ["a>=1"], "a": ["b"], "b": []}
    >>> print(versions_text({"python": "3.11.9", "benchproof": "0.1.0", "a": "1.2"},
    ...                     needs.__getitem__, {"a": "1.2", "b": "2.0"}.__getitem__))
    # Python 3.11.9
    a==1.2
    b==2.0
    benchproof==0.1.0
    <BLANKLINE>
    """
    direct = {n: v for n, v in ran_with.items() if n != "python"}
    lines = [f"# Python {ran_with.get('python', 'unknown')}"]
    walked = _walked(direct, requires, version)
    if any(walked.get(n, v) != v for n, v in direct.items()):
        lines.append("# What these need in turn was not recorded at the run.")
        walked = {}
    found = {**walked, **direct}
    lines += [f"{name}=={found[name]}" for name in sorted(found, key=str.lower)]
    return "\n".join(lines) + "\n"


def _walked(
    direct: Mapping[str, str], requires: Requires, version: Version
) -> dict[str, str]:
    found: dict[str, str] = {}
    waiting = [n for n in direct if n != "benchproof"]
    known: set[str] = set()
    while waiting:
        name = waiting.pop()
        key = re.sub(r"[-_.]+", "-", name).lower()
        if key in known:
            continue
        known.add(key)
        try:
            found[name] = version(name)
            waiting += _needed(requires(name))
        except (metadata.PackageNotFoundError, KeyError):
            found.pop(name, None)
    return found


def _needed(requirements: list[str]) -> list[str]:
    """Name what is needed, extras left out; what is not installed drops out later."""
    needed = [r for r in requirements if "extra" not in r.partition(";")[2]]
    return [m.group() for m in map(_NAME.match, needed) if m]
