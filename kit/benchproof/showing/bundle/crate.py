"""ro-crate-metadata.json: what is in the bundle, for machines.

RO-Crate Metadata Specification 1.1, sections "Root Data Entity" and "Data Entities".
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

NAME = "ro-crate-metadata.json"
_PROFILE = "https://w3id.org/ro/crate/1.1"

KINDS = {
    ".csv": "text/csv",
    ".html": "text/html",
    ".ipynb": "application/x-ipynb+json",
    ".json": "application/json",
    ".toml": "application/toml",
    ".txt": "text/plain",
    ".py": "text/x-python",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
}

ABOUT = {
    "investigation.ipynb": "The notebook: claim, rivals, method, data, conclusion",
    "case.toml": "Claim, reported and tested device, hazards",
    "instruments.toml": "Accuracy lines of the instruments",
    "readings.csv": "Every reading, strike and round, in order",
    "live.csv": "What instruments were asked and answered",
    "results.json": "What the last run computed",
    "versions.txt": "Versions of the software of that run",
    "README.txt": "How to check and run it again",
    "SHA256SUMS": "Hash of every file",
    "left-out.sha256": "Hashes of raw records too large to travel here",
}


def crate_text(results: Mapping[str, Any], sizes: Mapping[str, int]) -> str:
    """Write the metadata of a bundle.

    Parameters
    ----------
    results : mapping
        Of results.json: title, claim, and the time of the run, which stands for the
        date of publication (a bundle of the same run is the same file).
    sizes : mapping
        Every file of the bundle but this one, to its size in bytes.

    Examples
    --------
    >>> results = {"title": "Demo", "claim": {"text": ""}, "invented": True,
    ...            "ran_at": "2026-01-31T12:00:00Z", "versions": {}}
    >>> graph = json.loads(crate_text(results, {"case.toml": 12}))["@graph"]
    >>> [entity["@id"] for entity in graph][:3]
    ['ro-crate-metadata.json', './', 'case.toml']
    """
    files = [_file(name, sizes[name]) for name in sorted(sizes)]
    graph = [
        {
            "@id": NAME,
            "@type": "CreativeWork",
            "conformsTo": {"@id": _PROFILE},
            "about": {"@id": "./"},
        },
        _root(results, files),
        *files,
        {
            "@id": "#licence",
            "@type": "CreativeWork",
            "name": "Licence not stated",
            "description": "The author stated no licence; ask before reuse.",
        },
        _software(results),
    ]
    data = {"@context": f"{_PROFILE}/context", "@graph": graph}
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _root(results: Mapping[str, Any], files: list[dict[str, Any]]) -> dict[str, Any]:
    claim = results["claim"].get("text", "")
    invented = "Invented data. " if results["invented"] else ""
    about = f"{invented}A bench investigation with its readings, budgets and verdicts."
    return {
        "@id": "./",
        "@type": "Dataset",
        "name": results["title"],
        "description": f"{about} The claim: {claim}" if claim else about,
        "datePublished": results["ran_at"],
        "license": {"@id": "#licence"},
        "hasPart": [{"@id": f["@id"]} for f in files],
        "mentions": {"@id": "#software"},
    }


def _file(name: str, size: int) -> dict[str, Any]:
    suffix = name[name.rfind(".") :].lower() if "." in name else ""
    kind = "text/plain" if name.startswith("SHA") else KINDS.get(suffix, _UNKNOWN)
    entity = {
        "@id": _address(name),
        "@type": "File",
        "name": name,
        "encodingFormat": kind,
        "contentSize": str(size),
    }
    if name in ABOUT:
        entity["description"] = ABOUT[name]
    return entity


_UNKNOWN = "application/octet-stream"


def _address(name: str) -> str:
    """Write a file name as the relative address that the format asks for."""
    from urllib.parse import quote

    return quote(name)


def _software(results: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "@id": "#software",
        "@type": "SoftwareApplication",
        "name": "benchproof",
        "version": results["versions"].get("benchproof", "unknown"),
    }
