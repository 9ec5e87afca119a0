"""A small case that was run, for the tests of bundles and checks; no kernel needed."""

import json

import nbformat
from nbformat import v4

from benchproof import open_case
from benchproof.keeping.runs.rerun import notebook_code_hash, read_notebook
from benchproof.keeping.runs.results import save_results

CASE = """\
format = 1
title = "Pump trips"
invented = true
does_not_show = ["Anything about other pumps."]

[claim]
text = "It trips whenever it rains."
source = "invented letter"

[hazards]
mains = "unplugged, checked dead"
"""

CELLS = [
    "from benchproof import open_case\n\ncase = open_case()",
    'case.record("V_idle", "12.10 12.12 12.11 V", using="handheld", at="socket")\n'
    'case.record("V_load", "11.60 11.62 11.61 V", using="handheld", at="socket")\n'
    'case.record("I_load", "2.65 A", using="clamp")\n'
    'case.record("trips", "3 of 20")\n'
    'case.constant("V_diode", "0.40(5) V", source="maker")',
    '@case.derive(unit="ohm")\n'
    "def R_source(V_idle, V_load, I_load):\n"
    '    """Source resistance."""\n'
    "    sag = V_idle - V_load\n"
    "    return sag / I_load",
    '@case.derive(unit="V")\n'
    "def V_left(V_load, V_diode):\n"
    "    if V_load > 1e9:\n"
    "        return 0.0 * V_load\n"
    "    return V_load - V_diode",
    'h1 = case.hypothesis("H1", "The supply is too soft")\n'
    'h1.predicts("more than 0.1 ohm", case["R_source"].above("0.1 ohm"))\n'
    'h1.predicts("it trips", case["trips"].at_least(0.02), role="symptom")\n'
    'h1.predicts("10 V are left", case["V_left"].above("10 V"), role="expected")',
    'case.conclude("""The source has {R_source}; H1 is {H1}.""")',
]


def make_case(folder, instruments, cells=CELLS):
    """Write a case and leave in it what a run of these cells would leave."""
    folder.mkdir(exist_ok=True)
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    (folder / "instruments.toml").write_text(instruments, encoding="utf-8")
    notebook = v4.new_notebook(cells=[v4.new_code_cell(c) for c in cells])
    write_notebook(folder, notebook)
    save_as_run(folder)
    return folder


def write_notebook(folder, notebook):
    nbformat.write(notebook, folder / "investigation.ipynb")


def save_as_run(folder):
    """Execute the cells here and write results.json, as `run` does in a kernel."""
    import linecache

    path = folder / "investigation.ipynb"
    notebook = read_notebook(path)
    code = [c for c in notebook.cells if c.cell_type == "code"]
    names = {"open_case": lambda: open_case(folder)}
    for number, cell in enumerate(code):
        source = cell.source.replace("from benchproof import open_case", "")
        # Where `inspect` finds the text of a formula, as it does in a kernel.
        file = f"<{folder} cell {number}>"
        linecache.cache[file] = (
            len(source), None, source.splitlines(keepends=True), file,
        )  # fmt: skip
        exec(compile(source, file, "exec"), names)  # noqa: S102 - our own text above
    for cell in code:
        if "conclude" in cell.source:
            shown = next(iter(names["case"].defined.statements.values()))
            data = {"text/markdown": shown, "text/plain": shown}
            cell.outputs = [v4.new_output("execute_result", data)]
    write_notebook(folder, notebook)
    save_results(str(folder), "2026-01-31T12:00:00Z", notebook_code_hash(notebook))


def edit_results(folder, change):
    """Change results.json as someone with an editor would."""
    path = folder / "results.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    change(data)
    path.write_text(json.dumps(data), encoding="utf-8")


def edit(folder, name, old, new):
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
