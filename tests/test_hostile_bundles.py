"""Bundles made to harm whoever opens them: each is refused or told, none is run."""

import hashlib
import io
import json
import shutil
import stat
import struct
import time
import zipfile
from contextlib import suppress

import pytest
from bundling import CELLS, make_case
from conftest import INSTRUMENTS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nbformat import v4

from benchproof import cli
from benchproof.keeping.checking.check import check_case
from benchproof.keeping.checking.declarations import read_declarations
from benchproof.keeping.checking.names import require_distinct, require_safe_name
from benchproof.keeping.checking.plainformulas import NotPlainError, plain_formula
from benchproof.keeping.checking.sums import read_sums, sums_text
from benchproof.keeping.checking.unpacking import Limits, unpack_bundle
from benchproof.showing.bundle.bundle import bundle_case
from benchproof.values.errors import BenchproofError, FileError, FormulaError
from benchproof.values.units import unit_of


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """Return the files of a sound bundle."""
    folder = make_case(tmp_path_factory.mktemp("hostile") / "pump", INSTRUMENTS)
    with zipfile.ZipFile(bundle_case(folder)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture
def place(tmp_path):
    folder = tmp_path / "a" / "b" / "out"
    folder.mkdir(parents=True)
    return folder


def pack(path, entries):
    """Write a zip file of (name or ZipInfo, content), whatever the names are."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return path


def bundle(path, good, **changed):
    """Pack a bundle with files changed and its hashes in order."""
    files = {n: c for n, c in good.items() if n != "SHA256SUMS"}
    files |= {n.replace("__", "."): c for n, c in changed.items()}
    hashes = {n: hashlib.sha256(c).hexdigest() for n, c in files.items()}
    files["SHA256SUMS"] = sums_text(hashes).encode()
    return pack(path, files.items())


def everything(root):
    return sorted(p.relative_to(root).as_posix() for p in root.rglob("*"))


def entry(name, **attributes):
    made = zipfile.ZipInfo("placeholder")
    made.filename = name
    for key, value in attributes.items():
        setattr(made, key, value)
    return made


def refused(tmp_path, place, path, said):
    before = [n for n in everything(tmp_path) if not n.startswith("a/b/out/")]
    with pytest.raises(FileError, match=said):
        unpack_bundle(path, place)
    after = [n for n in everything(tmp_path) if not n.startswith("a/b/out/")]
    assert after == before
    assert not [p for p in place.rglob("*") if p.is_symlink()]


# Names ---------------------------------------------------------------------------

NAMES = [
    "../evil", "a/../../evil", "/etc/evil", "//evil", "C:evil", "C:/evil", "..\\evil",
    "a\\..\\evil", "./evil", "a//evil", "", "evil.", "evil ", " evil", "con", "NUL.txt",
    "com1.csv", "a\nb", "a\x1b[31mb", "a\u202eb", "x" * 200, "a/b/c/d/e", "a|b", "a\0b",
    "a\ud800b", "con .txt", "COM¹", "conout$",
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_could_mean_another_file_is_refused(name):
    with pytest.raises(FileError, match="is not unpacked"):
        require_safe_name(name)


@pytest.mark.parametrize(
    "name", ["../evil", "a/../../evil", "/evil", "..\\evil", "C:\\evil", "a\x1bb"]
)
def test_an_archive_with_such_a_name_writes_nothing_at_all(tmp_path, place, name):
    path = pack(tmp_path / "x.zip", [("fine.txt", b"1"), (entry(name), b"2")])
    refused(tmp_path, place, path, "is not unpacked")
    assert everything(place) == []


def test_a_folder_entry_that_leads_out_is_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [(entry("../evil/"), b"")])
    refused(tmp_path, place, path, "is not unpacked")


@given(st.lists(st.sampled_from(["..", ".", "a", "", "C:", "a\\b"]), max_size=5))
def test_every_name_let_through_stays_in_its_folder(parts):
    name = "/".join(parts)
    try:
        require_safe_name(name)
    except FileError:
        return
    assert set(parts) == {"a"}


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("case.toml", "case.toml"),
        ("case.toml", "Case.TOML"),
        ("straße", "STRASSE"),
        ("caf\u00e9", "cafe\u0301"),
        ("a", "a/b"),
        ("A/x", "a"),
    ],
)
def test_two_names_for_one_file_are_refused(tmp_path, place, first, second):
    with pytest.raises(FileError, match="would be one file|is a file and the folder"):
        require_distinct([first, second])


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_an_archive_with_a_name_twice_is_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [("a", b"1"), ("a", b"2")])
    refused(tmp_path, place, path, "would be one file")


# Kinds of entries ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (stat.S_IFLNK, "a link"),
        (stat.S_IFCHR, "no plain file"),
        (stat.S_IFBLK, "no plain file"),
        (stat.S_IFIFO, "no plain file"),
        (stat.S_IFSOCK, "no plain file"),
    ],
)
def test_links_and_devices_are_refused(tmp_path, place, kind, said):
    odd = entry("a", external_attr=(kind | 0o777) << 16)
    path = pack(tmp_path / "x.zip", [(odd, b"/etc/passwd")])
    refused(tmp_path, place, path, said)


def test_an_encrypted_entry_is_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [("a", b"1")])
    data = bytearray(path.read_bytes())
    data[6] |= 1
    data[data.rindex(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    refused(tmp_path, place, path, "encrypted")


def test_an_unusual_packing_is_refused(tmp_path, place):
    odd = entry("a", compress_type=zipfile.ZIP_BZIP2)
    refused(tmp_path, place, pack(tmp_path / "x.zip", [(odd, b"1")]), "unusual way")


# Bombs ---------------------------------------------------------------------------


def test_a_file_that_unpacks_to_far_more_is_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [("bomb", bytes(30_000_000))])
    assert path.stat().st_size < 50_000
    refused(tmp_path, place, path, "30000000 bytes from")


def test_many_files_that_unpack_to_too_much_together_are_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [(f"{i}", bytes(1000)) for i in range(20)])
    with pytest.raises(FileError, match="20000 bytes unpacked are too many"):
        unpack_bundle(path, place, Limits(total=19_999))
    assert everything(place) == []


def test_too_many_entries_are_refused_before_they_are_listed(tmp_path, place):
    path = pack(tmp_path / "x.zip", [(f"{i}", b"") for i in range(2001)])
    refused(tmp_path, place, path, "2001 entries are too many")


def test_a_count_that_hides_behind_the_large_form_is_refused(tmp_path, place):
    path = pack(tmp_path / "x.zip", [("a", b"1")])
    data = path.read_bytes()
    locator = b"PK\x06\x07" + struct.pack("<LQL", 0, 0, 1)
    path.write_bytes(data[:-22] + locator + data[-22:])
    refused(tmp_path, place, path, "not a zip file as bundles are")


def test_a_size_that_is_understated_is_not_exceeded(tmp_path, place):
    path = pack(tmp_path / "x.zip", [("a", b"x" * 5000)])
    data = bytearray(path.read_bytes())
    struct.pack_into("<L", data, data.rindex(b"PK\x01\x02") + 24, 10)
    path.write_bytes(data)
    with pytest.raises(FileError):
        unpack_bundle(path, place)
    assert all(p.stat().st_size <= 10 for p in place.rglob("*"))


def test_entries_that_share_their_bytes_are_bounded_by_what_they_declare(
    tmp_path, place
):
    """Many entries over one packed kernel: their declared sizes add up."""
    path = pack(tmp_path / "x.zip", [("a", b"y" * 900)])
    data = path.read_bytes()
    start, end = data.rindex(b"PK\x01\x02"), len(data) - 22
    record = data[start:end]
    records = b"".join(
        record[:-1] + bytes([b]) for b in range(ord("a"), ord("a") + 20)
    )  # one letter each
    tail = bytearray(data[end:])
    struct.pack_into("<HH", tail, 8, 20, 20)
    struct.pack_into("<L", tail, 12, len(records))
    path.write_bytes(data[:start] + records + tail)
    with pytest.raises(FileError):
        unpack_bundle(path, place, Limits(total=10_000))
    assert everything(place) == []


@pytest.mark.parametrize(
    "damage",
    [
        lambda d: b"",
        lambda d: b"not a zip file at all, but longer than twenty-two bytes",
        lambda d: d[:-1],
        lambda d: d + b"x",
        lambda d: d[: len(d) // 2],
        lambda d: d[:40] + b"\xff" + d[41:],
        lambda d: d.replace(b"fine.txt", b"evil.txt", 1),
    ],
)
def test_a_damaged_archive_is_refused(tmp_path, place, damage):
    path = pack(tmp_path / "x.zip", [("fine.txt", b"1234567890" * 30)])
    path.write_bytes(damage(path.read_bytes()))
    with pytest.raises(FileError, match=r"x\.zip"):
        unpack_bundle(path, place)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_whatever_bytes_are_changed_only_our_own_refusal_comes(good, tmp_path, data):
    whole = bundle(tmp_path / "whole.zip", good).read_bytes()
    changed = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(whole) - 1))
        changed[at] = data.draw(st.integers(0, 255))
    path = tmp_path / "x.zip"
    path.write_bytes(changed)
    target = tmp_path / "out"
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir()
    with suppress(FileError):
        unpack_bundle(path, target)
    assert everything(tmp_path)[-1] in ("whole.zip", "x.zip")


# Hashes --------------------------------------------------------------------------


def findings(path):
    return [(f.severity, f.file, f.statement) for f in check_case(path).findings]


def test_a_sound_bundle_has_no_findings(tmp_path, good):
    assert check_case(bundle(tmp_path / "x.zip", good)).status == 0


@pytest.mark.parametrize("name", ["readings.csv", "README.txt", "write-up/pump.html"])
def test_a_file_changed_behind_its_hash_is_a_fault(tmp_path, good, name):
    files = {**good, name: good[name] + b"\n"}
    path = pack(tmp_path / "x.zip", files.items())
    assert ("fault", name) in [f[:2] for f in findings(path)]


def test_a_file_put_in_or_taken_out_is_a_fault(tmp_path, good):
    files = {n: c for n, c in good.items() if n != "README.txt"} | {"evil.py": b"1"}
    found = {f[:2] for f in findings(pack(tmp_path / "x.zip", files.items()))}
    assert {("fault", "README.txt"), ("fault", "evil.py")} <= found


def test_an_archive_without_hashes_cannot_be_checked(tmp_path, good):
    files = {n: c for n, c in good.items() if n != "SHA256SUMS"}
    with pytest.raises(FileError, match="no bundle"):
        check_case(pack(tmp_path / "x.zip", files.items()))


@pytest.mark.parametrize("line", ["x", "ab  f", "0" * 64 + "  a\n" + "0" * 64 + "  a"])
def test_a_list_of_hashes_that_is_none_is_refused(line):
    with pytest.raises(FileError, match="SHA256SUMS line"):
        read_sums(line)


def test_a_consistent_forgery_of_the_numbers_is_a_fault_all_the_same(tmp_path, good):
    """All hashes in order, the value moved with its text: the log says otherwise."""
    data = json.loads(good["results.json"])
    data["quantities"]["V_idle"].update(value=13.0, text="13.000(38) V")
    path = bundle(tmp_path / "x.zip", good, results__json=json.dumps(data).encode())
    assert ("fault", "results.json") in [f[:2] for f in findings(path)]


# What lies inside: notebook, log, declarations -----------------------------------


def notebook_with(*cells, output=None):
    notebook = v4.new_notebook(cells=[v4.new_code_cell(c) for c in [*CELLS, *cells]])
    if output:
        notebook.cells[0].outputs = [v4.new_output("display_data", output)]
    from nbformat import writes

    return writes(notebook).encode()


def test_checking_runs_no_code_of_the_bundle(tmp_path, good):
    trace = tmp_path / "executed"
    evil = notebook_with(f"open({str(trace)!r}, 'w')")
    path = bundle(
        tmp_path / "x.zip", good, investigation__ipynb=evil, sitecustomize__py=b"1/0",
        conftest__py=b"1/0",
    )  # fmt: skip
    check_case(path)
    assert not trace.exists()


@pytest.mark.parametrize(
    "output",
    [
        {"text/html": "<script>x()</script>"},
        {"text/html": "<p onclick=x()>y</p>"},
        {"text/html": "<a href='javascript:x()'>y</a>"},
        {"text/html": "<iframe src=//far.example></iframe>"},
        {"text/html": "<svg onload=x()></svg>"},
        {"text/markdown": "<img src=x onerror=x()>"},
        {"image/svg+xml": "<svg/>"},
        {"application/javascript": "x()"},
        {"application/vnd.jupyter.widget-view+json": {"model_id": "x"}},
    ],
)
def test_an_active_output_is_told(tmp_path, good, output):
    path = bundle(
        tmp_path / "x.zip", good, investigation__ipynb=notebook_with(output=output)
    )
    assert any("active kind" in s or "could run" in s for _, _, s in findings(path))


ROW = (
    "r-0009,reading,1,V_x,1.0,V,handheld,DC V,6.000 V,{},,e-0009,,"
    "2026-01-31T12:00:00Z\n"
)


@pytest.mark.parametrize(
    "cell",
    ["=HYPERLINK(1)", "@SUM(1)", "+cmd|' /C calc'!A0", "-2+3+cmd|'x'!A", "\t=1+1"],
)
def test_a_cell_that_a_spreadsheet_would_run_is_told(tmp_path, good, cell):
    log = good["readings.csv"] + ROW.format(cell).encode()
    path = bundle(tmp_path / "x.zip", good, readings__csv=log)
    assert any("begins like a formula" in s for _, _, s in findings(path))


def test_a_negative_reading_is_no_formula(tmp_path, good):
    log = good["readings.csv"] + ROW.format("x").replace(",1.0,", ",-1.0(2),").encode()
    path = bundle(tmp_path / "x.zip", good, readings__csv=log)
    assert not any("like a formula" in s for _, _, s in findings(path))


DEEP = 200_000
HOSTILE_FILES = {
    "toml nested deeply": ("case.toml", b"x = " + b"[" * DEEP),
    "toml of deep tables": ("case.toml", b"[" + b".".join([b"a"] * 50_000) + b"]"),
    "toml with a huge number": ("case.toml", b"format = " + b"9" * 900_000),
    "toml that is huge": ("case.toml", b"#" * 2_000_000),
    "toml that is no text": ("instruments.toml", b"\xff\xfe\0\0"),
    "toml of the wrong shape": ("instruments.toml", b"handheld = 3"),
    "json nested deeply": ("results.json", b"[" * DEEP),
    "json with a huge number": ("results.json", b"9" * 900_000),
    "json of another shape": ("results.json", b'{"format": 1}'),
    "json that is a list": ("results.json", b"[]"),
    "notebook nested deeply": ("investigation.ipynb", b"[" * DEEP),
    "notebook of another shape": ("investigation.ipynb", b'{"cells": 3}'),
    "log with NUL": ("readings.csv", b"row,kind\n\0"),
    "log in one cell": ("readings.csv", b'"' + b"x" * 300_000),
    "log of commas": ("readings.csv", b"," * 300_000),
}


@pytest.mark.parametrize("what", HOSTILE_FILES)
def test_a_file_made_to_confuse_is_refused_or_told_in_a_sentence(
    tmp_path, good, what, capsys
):
    name, content = HOSTILE_FILES[what]
    path = bundle(tmp_path / "x.zip", good, **{name.replace(".", "__"): content})
    began = time.perf_counter()
    status = cli.main(["check", str(path)])
    assert time.perf_counter() - began < 10
    out, err = capsys.readouterr()
    assert (status == 2 and err.startswith("benchproof: ")) or (
        status == 1 and name in out
    )
    assert "Traceback" not in err


ODD = ["null", "[]", "{}", '"x"', "-1", "1e308", "true", "[[]]", '{"a": {}}']


@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(st.data())
def test_whatever_stands_in_the_results_only_our_own_errors_come(good, tmp_path, data):
    results = json.loads(good["results.json"])
    for _ in range(data.draw(st.integers(1, 2))):
        holder = results
        while True:
            keys = list(holder) if isinstance(holder, dict) else range(len(holder))
            key = data.draw(st.sampled_from(list(keys)))
            deeper = holder[key]
            stops = not isinstance(deeper, dict | list) or not deeper
            if stops or data.draw(st.booleans()):
                holder[key] = json.loads(data.draw(st.sampled_from(ODD)))
                break
            holder = deeper
    folder = tmp_path / "case"
    if not folder.exists():
        folder.mkdir()
        for name, content in good.items():
            if "/" not in name and name != "SHA256SUMS":
                (folder / name).write_bytes(content)
    (folder / "results.json").write_text(json.dumps(results), encoding="utf-8")
    with suppress(BenchproofError):
        check_case(folder)


# Formulas that are more than arithmetic ------------------------------------------

HOSTILE_FORMULAS = [
    "__import__('os').system('x')",
    "().__class__.__base__.__subclasses__()",
    "V.__class__",
    "open('x')",
    "eval('1')",
    "np.load(V)",
    "np.os.system('x')",
    "(lambda: 1)()",
    "[x for x in V]",
    "f'{V}'",
    "V if V else V",
    "V[0]",
    "np.sqrt(V, out=V)",
    "'x' * 10",
    "-" * 5000 + "V",
    "(" * 3000 + "V" + ")" * 3000,
    "+".join(["V"] * 3000),
    "1" * 5000,
    "(x := V)",
    "elsewhere",
]


@pytest.mark.parametrize("text", HOSTILE_FORMULAS)
def test_a_formula_that_is_more_than_arithmetic_is_left_to_a_run(text):
    with pytest.raises(NotPlainError):
        plain_formula("R", unit_of("V"), f"def R(V):\n    return {text}\n")


@pytest.mark.parametrize(
    "text",
    [
        "import os\ndef R(V):\n    return V",
        "def R(V=open('x')):\n    return V",
        "def R(*V):\n    return V",
        "class R:\n    pass",
        "def R(V):\n    global x\n    return V",
        "def R(V):\n    V.x = 1\n    return V",
        "def R(V):\n    while 1:\n        pass",
        "def R(V):\n    pass",
        "def S(V):\n    return V",
        "",
    ],
)
def test_a_function_that_is_more_than_steps_and_a_return_is_left_to_a_run(text):
    with pytest.raises(NotPlainError):
        plain_formula("R", unit_of("V"), text)


@pytest.mark.parametrize(
    "text",
    [
        "circuits.draw_gaps(V, 1, 2)",
        "circuits.operating_voltage(V, V, V)",
        "circuits.__builtins__(V)",
        "circuits.nodes.node_voltages(V)",
        "circuits.BODY_CAPACITANCE_F(V)",
        "circuits.cell_dip(**V)",
    ],
)
def test_of_the_formula_sheet_only_functions_of_plain_numbers_are_called(text):
    with pytest.raises(NotPlainError):
        plain_formula("R", unit_of("V"), f"def R(V):\n    return {text}\n")


def test_a_function_of_the_formula_sheet_is_worked_out_without_a_run():
    text = "def P(V, R):\n    return circuits.dissipation_across(R, V)\n"
    assert plain_formula("P", unit_of("W"), text)([3.0, 4.5]) == 2.0
    text = (
        "def I(a, q):\n    return circuits.average_current(a, [q, q], periods=[2, 4])\n"
    )
    assert plain_formula("I", unit_of("A"), text)([1.0, 4.0]) == 4.0


def test_a_tower_of_powers_overflows_at_once():
    text = "def R(V):\n    return V * 9**9**9**9\n"
    formula = plain_formula("R", unit_of("V"), text)
    with pytest.raises(FormulaError):
        formula([1.0])


def test_a_decorator_in_a_formula_is_not_evaluated(tmp_path):
    text = f"@open({str(tmp_path / 'x')!r}, 'w')\ndef R(V):\n    return 2 * V\n"
    assert plain_formula("R", unit_of("V"), text)([3.0]) == 6.0
    assert everything(tmp_path) == []


def test_a_declaration_that_computes_is_not_evaluated(tmp_path):
    trace = tmp_path / "x"
    cells = [
        f"case.constant('a', open({str(trace)!r}, 'w').name)",
        "case.correlate({('a', 'b'): __import__('os').getpid()}, because='x')",
        "(" * 10_000,
        "%%bash\nrm -rf x",
    ]
    read = read_declarations(cells)
    assert read.calls == ()
    assert read.loose == {"constant", "correlate"}
    assert not trace.exists()


# What is printed -----------------------------------------------------------------


def test_a_name_with_terminal_codes_is_printed_harmlessly(tmp_path, capsys):
    assert cli.main(["check", str(tmp_path / "a\x1b]0;evil\x07b")]) == 2
    assert not set(capsys.readouterr().err) & {"\x1b", "\x07"}


def test_texts_of_a_bundle_are_printed_harmlessly(tmp_path, good, capsys):
    data = json.loads(good["results.json"])
    data["quantities"]["V_idle"]["text"] = "\x1b[2J\x9b1m evil"
    path = bundle(tmp_path / "x.zip", good, results__json=json.dumps(data).encode())
    assert cli.main(["check", str(path)]) == 1
    out = capsys.readouterr().out
    assert "evil" in out
    assert not set(out) & {"\x1b", "\x9b"}


def test_an_unpacked_bundle_with_a_link_for_a_file_is_refused(tmp_path, good):
    folder = tmp_path / "case"
    folder.mkdir()
    for name, content in good.items():
        if "/" not in name:
            (folder / name).write_bytes(content)
    (tmp_path / "elsewhere").write_bytes(good["readings.csv"])
    (folder / "readings.csv").unlink()
    (folder / "readings.csv").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FileError, match="no plain file"):
        check_case(folder)


def test_an_archive_inside_a_bundle_is_only_a_file(tmp_path, good):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb", bytes(10_000_000))
    path = bundle(tmp_path / "x.zip", good, inner__zip=inner.getvalue())
    assert check_case(path).status == 0
