"""Invented evidence to draw, and a reader of drawn paths."""

import re


def prediction(criterion, verdict, detail, seen, role="necessary", quantity="V"):
    return {
        "text": "as foretold", "role": role, "criterion": criterion,
        "quantity": quantity, "verdict": verdict, "detail": detail, "seen": seen,
    }  # fmt: skip


VALUE = prediction(
    "V below 8.80 V", "met", "8.472(60) V, probability > 0.99",
    {"inside": 5.5, "half_width": 1.96},
)  # fmt: skip
FAR = prediction("V above 1 V", "met", "9 V", {"inside": 4000.0, "half_width": 2.0})
CENSORED = prediction("R above 10 MΩ", "met", "> 58.8 MΩ", {"censored": True})
OPEN = prediction("R below 99 MΩ", "undetermined", "> 58.8 MΩ", {"censored": True})
COUNT = prediction(
    "lost in at least 15 % of attempts", "met", "17 of 20", {"limits": [0.15, None]},
    "symptom", "lost",
)  # fmt: skip
CONTROL = prediction(
    "kept in at most 15 % of attempts", "met", "0 of 20", {"limits": [None, 0.15]},
    "control", "kept",
)  # fmt: skip


def rivals(*predictions):
    return [{"name": "H1", "predictions": list(predictions)}]


def arm(name, count, low, high, number=1):
    return {
        "name": name, "count": count, "attempts": 20, "low": low, "high": high,
        "interval": f"{100 * low:g} % to {100 * high:g} %",
        "round": number, "at": "brick, both axes",
    }  # fmt: skip


LOST, KEPT = arm("lost", 17, 0.621, 0.968), arm("kept", 0, 0.0, 0.168)


LENGTHS = {"m": 2, "l": 2, "h": 1, "v": 1, "q": 4, "c": 6, "z": 0}


def points(path):
    """Return every point a path names, in order: an own reading of the grammar."""
    found, here, start, command, at = [], (0.0, 0.0), (0.0, 0.0), "", 0
    tokens = re.findall(r"[A-Za-z]|-?(?:\d+\.?\d*|\.\d+)", path)
    while at < len(tokens):
        if tokens[at].isalpha():
            command, at = tokens[at], at + 1
        count = LENGTHS[command.lower()]
        numbers = [float(t) for t in tokens[at : at + count]]
        at += count
        if command in "Zz":
            here = start
            continue
        if command in "Hh":
            numbers = [*numbers, here[1] if command == "H" else 0.0]
        elif command in "Vv":
            numbers = [here[0] if command == "V" else 0.0, *numbers]
        base = (0.0, 0.0) if command.isupper() else here
        new = [
            (base[0] + numbers[i], base[1] + numbers[i + 1])
            for i in range(0, len(numbers), 2)
        ]
        found += new
        here = new[-1]
        if command in "Mm":
            start, command = here, "L" if command == "M" else "l"
    return found
