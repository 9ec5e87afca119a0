"""A bundle: the same bytes each time, complete, and silent about the machine."""

import base64
import hashlib
import io
import json
import re
import shutil
import struct
import subprocess
import sys
import zipfile
import zlib

import pytest
from bundling import CASE, CELLS, edit, edit_results, make_case, save_as_run
from bundling import write_notebook as write
from conftest import INSTRUMENTS
from nbformat import v4

from benchproof import cli, open_case
from benchproof.keeping.capturefiles import save_capture
from benchproof.keeping.checking.check import check_case
from benchproof.keeping.runs.rerun import notebook_code_hash, read_notebook
from benchproof.keeping.runs.results import read_results
from benchproof.showing.bundle.archive import archive_bytes
from benchproof.showing.bundle.bundle import bundle_case, this_machine
from benchproof.showing.bundle.cleandrawings import clean_drawing
from benchproof.showing.bundle.cleannotebook import clean_notebook
from benchproof.showing.bundle.cleanpictures import clean_picture
from benchproof.showing.bundle.crate import crate_text
from benchproof.showing.bundle.privacy import Privacy
from benchproof.showing.bundle.versions import versions_text
from benchproof.values.errors import FileError, InputError, RunError

USER, HOST, HOME = "zoequill", "lab-box-77", "/home/zoequill"
KERNEL = "zoes-secret-env"
PRIVACY = Privacy((USER, HOST), HOME)
SECRETS = (USER, HOST, KERNEL, "/opt/labs", "/tmp/", "GPS-SECRET", "C:\\\\", "TOKEN-9")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return make_case(tmp_path_factory.mktemp("bundle") / "pump", INSTRUMENTS)


@pytest.fixture
def folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / "pump")


def unpacked(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


# Pictures with something written beside the picture ------------------------------


def png(text=b"GPS-SECRET"):
    def chunk(kind, data):
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    header = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", header),
            chunk(b"tEXt", b"Comment\0" + text),
            chunk(b"eXIf", b"II*\0" + text),
            chunk(b"IDAT", zlib.compress(b"\0\x80")),
            chunk(b"IEND", b""),
            text,
        ]
    )


def jpeg(text=b"GPS-SECRET"):
    from io import BytesIO

    from PIL import Image

    buffer = BytesIO()
    Image.new("RGB", (8, 8), "white").save(buffer, "JPEG", comment=text)
    plain = buffer.getvalue()
    exif = b"Exif\0\0" + text
    segment = b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif
    return plain[:2] + segment + plain[2:] + text


@pytest.mark.parametrize("make", [png, jpeg])
def test_a_cleaned_picture_has_the_same_pixels_and_no_text(make):
    from io import BytesIO

    from PIL import Image

    cleaned = clean_picture(make())
    assert b"GPS-SECRET" in make()
    assert b"GPS-SECRET" not in cleaned
    with Image.open(BytesIO(cleaned)) as after, Image.open(BytesIO(make())) as before:
        assert after.tobytes() == before.tobytes()
        assert not after.getexif()


@pytest.mark.parametrize(
    "content", [b"", b"GIF89a", png()[:60], jpeg()[:90], b"\xff\xd8"]
)
def test_what_is_no_whole_picture_cannot_be_cleaned(content):
    assert clean_picture(content) is None


# The bundle ----------------------------------------------------------------------


def test_a_bundle_holds_what_a_stranger_needs(folder):
    logs = {"predictions.csv"}  # only where a case keeps when they were written
    names = sorted(set(unpacked(bundle_case(folder))) - logs)
    assert names == [
        "README.txt",
        "SHA256SUMS",
        "case.toml",
        "instruments.toml",
        "investigation.ipynb",
        "readings.csv",
        "results.json",
        "ro-crate-metadata.json",
        "versions.txt",
        "write-up/pump.html",
    ]


def test_bundling_twice_writes_the_same_bytes(folder, tmp_path):
    first = bundle_case(folder).read_bytes()
    other = shutil.copytree(folder, tmp_path / "elsewhere" / "pump")
    (other / "readings.csv").touch()
    assert bundle_case(other).read_bytes() == first


def test_dates_and_modes_in_the_archive_say_nothing(folder):
    with zipfile.ZipFile(bundle_case(folder)) as archive:
        entries = archive.infolist()
    assert {e.date_time for e in entries} == {(1980, 1, 1, 0, 0, 0)}
    assert {e.external_attr >> 16 for e in entries} == {0o100644}
    assert [e.filename for e in entries] == sorted(e.filename for e in entries)


def test_what_a_person_wrote_travels_byte_for_byte(folder):
    files = unpacked(bundle_case(folder))
    for name in ("case.toml", "instruments.toml", "readings.csv"):
        assert files[name] == (folder / name).read_bytes()


def test_the_notebooks_code_keeps_its_hash(folder, tmp_path):
    files = unpacked(bundle_case(folder))
    (tmp_path / "n.ipynb").write_bytes(files["investigation.ipynb"])
    again = notebook_code_hash(read_notebook(tmp_path / "n.ipynb"))
    assert again == read_results(folder)["code_sha256"]


def test_every_entry_that_a_run_writes_travels(folder):
    data = json.loads(unpacked(bundle_case(folder))["results.json"])
    assert set(data) == set(read_results(folder))


def test_every_hash_is_that_of_its_file(folder):
    files = unpacked(bundle_case(folder))
    lines = files.pop("SHA256SUMS").decode().splitlines()
    listed = {line[66:]: line[:64] for line in lines}
    assert listed == {n: hashlib.sha256(c).hexdigest() for n, c in files.items()}


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="needs sha256sum")
def test_sha256sum_accepts_the_list_and_notices_a_change(folder, tmp_path):
    with zipfile.ZipFile(bundle_case(folder)) as archive:
        archive.extractall(tmp_path / "out")

    def check():
        command = ["sha256sum", "--strict", "-c", "SHA256SUMS"]
        place = tmp_path / "out"
        return subprocess.run(command, cwd=place, capture_output=True).returncode

    assert check() == 0
    (tmp_path / "out" / "case.toml").write_text("changed", encoding="utf-8")
    assert check() != 0


def test_a_bundle_passes_its_own_check_and_so_does_its_folder(folder, tmp_path):
    path = bundle_case(folder)
    assert check_case(path).of("fault", "open") == []
    with zipfile.ZipFile(path) as archive:
        archive.extractall(tmp_path / "out")
    assert check_case(tmp_path / "out").of("fault", "open") == []


def test_the_write_up_in_a_bundle_is_of_the_cleaned_notebook(folder):
    html = unpacked(bundle_case(folder))["write-up/pump.html"].decode()
    assert "It trips whenever it rains." in html
    assert str(open_case(folder)["V_idle"]) in html


def test_the_readme_says_how_to_check_to_run_and_to_compare_cells(folder):
    text = unpacked(bundle_case(folder))["README.txt"].decode()
    for words in ("sha256sum -c", "check . --run", "--nbval-lax", "data are invented"):
        assert words in text


def test_versions_are_lines_that_pip_reads(folder):
    lines = unpacked(bundle_case(folder))["versions.txt"].decode().splitlines()
    plain = re.compile(r"[\w.-]+==[\w.!+-]+")
    assert all(plain.fullmatch(x) for x in lines if not x.startswith("#"))
    names = {x.partition("==")[0].lower().replace("_", "-") for x in lines}
    assert {"numpy", "pint", "jupyter-client"} <= names


def test_versions_of_another_environment_are_not_taken_for_those_of_the_run():
    needs = {"a": ["b"], "b": []}
    text = versions_text(
        {"a": "1.0"}, needs.__getitem__, {"a": "2.0", "b": "3"}.__getitem__
    )
    assert "a==1.0" in text
    assert "b==" not in text
    assert "not recorded at the run" in text


# Raw records ---------------------------------------------------------------------


def test_captures_travel_and_of_large_ones_the_hash(folder):
    save_capture(folder, "small", b"\x01" * 10, {"settings": {}})
    save_capture(folder, "large", b"\x02" * 5000, {"settings": {}})
    path = bundle_case(folder, largest_capture=1000)
    files = unpacked(path)
    assert files["captures/small.bin"] == b"\x01" * 10
    assert "captures/large.bin" not in files
    digest = hashlib.sha256(b"\x02" * 5000).hexdigest()
    assert files["left-out.sha256"].decode() == f"{digest}  captures/large.bin\n"
    found = check_case(path)
    assert ("note", "captures/large.bin") in [
        (f.severity, f.file) for f in found.findings
    ]
    assert found.status == 0


def test_a_capture_that_packs_well_is_stored_and_passes_the_guard(folder):
    save_capture(folder, "flat", bytes(3_000_000), {"settings": {}})
    assert check_case(bundle_case(folder)).status == 0


def test_originals_of_photographs_stay_in_the_case(folder):
    (folder / "photos").mkdir()
    (folder / "photos" / "board.png").write_bytes(png())
    (folder / "photos" / "odd.gif").write_bytes(b"GIF89a")
    files = unpacked(bundle_case(folder))
    assert not [name for name in files if name.startswith("photos/")]
    assert b"photos/board.png" in files["left-out.sha256"]
    assert b"photos/odd.gif" in files["left-out.sha256"]


def test_further_files_travel_when_named(folder):
    (folder / "helper.py").write_text("x = 1\n", encoding="utf-8")
    assert "helper.py" not in unpacked(bundle_case(folder))
    assert "helper.py" in unpacked(bundle_case(folder, also=["helper.py"]))


@pytest.mark.parametrize("name", ["../pump/case.toml", "/etc/hostname", "nothing.py"])
def test_a_further_file_must_lie_in_the_case(folder, name):
    with pytest.raises(FileError):
        bundle_case(folder, also=[name])


# What must not be told -----------------------------------------------------------


def seeded(folder):
    """Put secrets everywhere a machine writes: metadata, outputs, pictures, results."""
    path = folder / "investigation.ipynb"
    notebook = read_notebook(path)
    notebook.metadata["kernelspec"] = {
        "name": KERNEL, "display_name": f"Python ({KERNEL})", "language": "python"
    }  # fmt: skip
    notebook.metadata["author"] = {"name": USER, "host": HOST}
    notebook.metadata["widgets"] = {"state": {"path": HOME}}
    picture = base64.b64encode(jpeg()).decode()
    html = (
        f"<p title='{HOME}/a.csv'>read {HOME}/a.csv by {USER}</p>"
        f"<img src='data:image/png;base64,{base64.b64encode(png()).decode()}'>"
    )
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg"><metadata>GPS-SECRET</metadata>'
        f"<text>{HOME}/a by {USER}</text><!-- {HOST} --></svg>"
    )
    packed = base64.b64encode(drawing.encode()).decode()
    html += f'<img alt="d" src="data:image/svg+xml;base64,{packed}">'
    cell = v4.new_code_cell("1 + 1", metadata={"who": USER, "tags": ["x"]})
    cell.outputs = [
        v4.new_output(
            "stream", name="stderr", text=f"{HOME}/x.py:3: Warning at {HOST}\n"
        ),
        v4.new_output(
            "stream", name="stdout", text="PATH=/opt/labs/env/bin:/tmp/q/bin\n"
        ),
        v4.new_output(
            "stream", name="stdout", text="C:\\\\Users\\\\zoequill\\\\d.csv\n"
        ),
        v4.new_output("display_data", {"text/html": html, "text/plain": f"<{HOME}/p>"}),
        v4.new_output(
            "display_data",
            {"image/jpeg": picture, "text/plain": "x"},
            metadata={"origin": HOME, "image/jpeg": {"alt": f"by {USER}", "width": 3}},
        ),
        v4.new_output("display_data", {"image/svg+xml": drawing, "text/plain": "fig"}),
        v4.new_output("display_data", {"application/json": {"TOKEN-9": HOME}}),
        v4.new_output(
            "error", ename="OSError", evalue=f"{HOME}/y", traceback=[f"File {HOME}/y"]
        ),
    ]
    cell["id"] = "zoequill-1"
    notebook.cells.append(cell)
    write(folder, notebook)

    def tell(data):
        data["code_sha256"] = notebook_code_hash(notebook)
        data["environment"] = {"USER": USER, "TOKEN": "TOKEN-9"}
        data["tables"].append(
            {"id": "x", "section": "derived", "title": f"from {HOME}/z", "columns":
             [{"title": "a", "numeric": False}], "rows": [[f"{HOST}"]], "notes": []}
        )  # fmt: skip

    edit_results(folder, tell)


def told(files):
    """Return which secrets are in any file, inside pictures too."""
    everything = b"\n".join([*files.values(), *map(str.encode, files)])
    addresses = re.findall(rb"base64,([A-Za-z0-9+/=]+)", everything)
    addresses += re.findall(rb'"image/(?:jpeg|png)": "([^"]+)"', everything)
    assert addresses
    for address in addresses:
        everything += base64.b64decode(address.replace(b"\\n", b""))
    return [s for s in SECRETS if s.lower().encode() in everything.lower()]


def test_the_seeded_secrets_are_all_there_before(folder):
    seeded(folder)
    before = {p.name: p.read_bytes() for p in folder.glob("*.*")}
    assert set(told(before)) == set(SECRETS)


def test_nothing_that_a_machine_wrote_tells_of_it(folder):
    seeded(folder)
    path = bundle_case(folder, privacy=PRIVACY)
    assert told(unpacked(path)) == []
    raw = path.read_bytes()
    assert not [s for s in SECRETS if s.encode() in raw]


def test_a_bundle_with_its_outputs_cleaned_still_passes_the_check(folder):
    seeded(folder)
    assert check_case(bundle_case(folder, privacy=PRIVACY)).of("fault", "open") == []


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("case.toml", "invented letter", f"{HOME}/letter.txt"),
        ("case.toml", "invented letter", f"told by {USER}"),
        ("instruments.toml", "invented current clamp", f"clamp of {HOST}"),
        ("investigation.ipynb", "Source resistance.", f"See {HOME}/notes."),
        ("investigation.ipynb", "Source resistance.", "See C:/Users/other/notes."),
    ],
)
def test_where_a_person_wrote_it_nothing_is_made_and_the_place_is_named(
    folder, name, old, new
):
    edit(folder, name, old, new)
    save_as_run(folder)
    with pytest.raises(InputError, match=rf"tell of this machine: {name}"):
        bundle_case(folder, privacy=PRIVACY)
    assert not (folder / "write-up").exists()


def test_what_is_recorded_already_travels_when_that_is_accepted(folder):
    edit(folder, "case.toml", "invented letter", f"told by {USER}")
    save_as_run(folder)
    files = unpacked(bundle_case(folder, privacy=PRIVACY, as_it_is=True))
    assert USER.encode() in files["case.toml"]


def test_a_link_in_the_captures_does_not_travel(folder, tmp_path):
    (tmp_path / "private").write_text("mine", encoding="utf-8")
    (folder / "captures").mkdir()
    (folder / "captures" / "x.csv").symlink_to(tmp_path / "private")
    assert "captures/x.csv" not in unpacked(bundle_case(folder))


@pytest.mark.parametrize(
    "text",
    [
        "12.1 V/m and 3 m/s/s",
        "https://example.org/a/b/c",
        "</td></tr>",
        "and/or, 17/20, 1/2/3",
        "root cause; the user; a host of rivals",
        "<img src=\"data:image/jpeg;base64,/9j/4AAQ/Sk+/ab/cd==\">",
    ],
)  # fmt: skip
def test_what_is_no_path_and_no_name_stays(text):
    assert Privacy(("root", "user", "host", USER), "/root").without(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "/home/ann/x.py",
        "'/usr/lib/python3/x.py'",
        "file:///srv/data/x",
        "~/lab/x.csv",
        "D:\\lab\\x.csv",
        "\\\\server\\share\\x",
        "(/tmp/ipykernel_1/2.py)",
    ],
)
def test_an_absolute_path_is_taken_out(text):
    cleaned = Privacy().without(f"see {text} there")
    assert "[path]" in cleaned
    assert not re.search(r"ann|lib|srv|lab|server|ipykernel", cleaned)


def test_this_machine_knows_its_user_and_home():
    found = this_machine()
    assert found.home.startswith(("/", "C:"))
    assert all(isinstance(n, str) for n in found.names)


# Hostile outputs -----------------------------------------------------------------

SCRIPT = "<script>steal()</script>"
HOSTILE = {
    "text/html": f"<p onclick='steal()'>kept {SCRIPT}</p><iframe src='//far.example'>",
    "text/markdown": f"kept {SCRIPT}",
    "text/latex": "\\href{javascript:steal()}{x}",
    "image/svg+xml": f"<svg onload='steal()'>{SCRIPT}</svg>",
    "application/javascript": "steal()",
    "application/vnd.jupyter.widget-view+json": {"model_id": "steal"},
    "text/plain": "kept \x1b]0;steal\x07",
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_an_output_in_a_bundle_can_run_nothing(kind):
    cell = v4.new_code_cell("x")
    cell.outputs = [v4.new_output("display_data", {kind: HOSTILE[kind]})]
    notebook = v4.new_notebook(cells=[cell], metadata={"widgets": {"steal": 1}})
    (output,) = clean_notebook(notebook, Privacy()).cells[0].outputs
    shown = json.dumps(output.data)
    assert "steal" not in shown.replace("&lt;script>steal()", "")
    assert "<script" not in shown
    assert set(output.data) <= {"text/plain", "text/html", "text/markdown"}
    assert shown != "{}"


@pytest.mark.parametrize(
    "inner",
    [
        "<script>x()</script>",
        "<g onload='x()'/>",
        "<a href='javascript:x()'><path/></a>",
        "<use href='https://far.example/x#y'/>",
        "<image href='https://far.example/x.png'/>",
        "<foreignObject><p>x</p></foreignObject>",
        "<style>@import 'https://far.example/x.css';</style>",
        "<path style='fill:url(https://far.example/x)'/>",
        "<set attributeName='href' to='javascript:x()'/>",
        "<metadata>far.example</metadata>",
    ],
)
def test_a_drawing_is_reduced_to_what_is_drawn(inner):
    drawing = f"<svg xmlns='http://www.w3.org/2000/svg'><path d='M1 2'/>{inner}</svg>"
    cleaned = clean_drawing(drawing, Privacy())
    assert 'd="M1 2"' in cleaned
    assert not re.search(r"x\(\)|far\.example|script|onload|foreign", cleaned)


@pytest.mark.parametrize(
    "drawing",
    [
        "<!DOCTYPE svg [<!ENTITY a 'aaaa'>]><svg>&a;</svg>",
        "<svg>",
        "<html/>",
        "<g>" * 50_000 + "</g>" * 50_000,
        "",
    ],
)
def test_a_drawing_that_declares_or_is_none_is_left_out(drawing):
    assert clean_drawing(drawing, Privacy()) is None


def test_a_drawing_of_ours_looks_the_same_after_cleaning():
    """Every mark and its place is kept: paths, texts and uses in their order."""
    from matplotlib.figure import Figure

    figure = Figure()
    figure.add_subplot().plot([1, 2], [3, 4], label="rail")
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg")
    marks = re.compile(r'<(?:path|use|text)\b| d="[^"]*"')
    before = re.sub(r"<metadata>.*</metadata>", "", buffer.getvalue(), flags=re.DOTALL)
    cleaned = clean_drawing(buffer.getvalue(), Privacy())
    flat = [" ".join(m.split()) for m in marks.findall(before)]
    assert [" ".join(m.split()) for m in marks.findall(cleaned)] == flat
    assert len(flat) > 20


def test_a_markdown_output_shows_its_tags_instead_of_using_them():
    cell = v4.new_code_cell("x")
    cell.outputs = [v4.new_output("display_data", {"text/markdown": "1 < 2 <b>x</b>"})]
    notebook = v4.new_notebook(cells=[cell])
    (output,) = clean_notebook(notebook, Privacy()).cells[0].outputs
    assert output.data["text/markdown"] == "1 < 2 &lt;b>x&lt;/b>"


# What is not bundled -------------------------------------------------------------


def test_a_case_with_a_fault_is_not_bundled(folder):
    edit(folder, "readings.csv", ",12.12,", ",12.52,")
    with pytest.raises(RunError, match="not bundled, .* findings: readings.csv"):
        bundle_case(folder)
    assert not (folder / "write-up").exists()


def test_a_stale_case_is_not_bundled(folder):
    open_case(folder).record("V_late", "5.00 V", using="handheld")
    with pytest.raises(RunError, match="added since the run"):
        bundle_case(folder)


def test_an_open_question_does_not_keep_a_case_from_being_bundled(tmp_path):
    folder = make_case(tmp_path / "open", INSTRUMENTS)
    text = CASE.replace("unplugged, checked dead", "")
    (folder / "case.toml").write_text(text, encoding="utf-8")
    save_as_run(folder)
    assert check_case(bundle_case(folder)).of("open")


# Metadata and command line -------------------------------------------------------


def test_the_metadata_describes_every_file(folder):
    files = unpacked(bundle_case(folder))
    graph = json.loads(files["ro-crate-metadata.json"])["@graph"]
    by_id = {entity["@id"]: entity for entity in graph}
    parts = {part["@id"] for part in by_id["./"]["hasPart"]}
    assert parts == set(files) - {"ro-crate-metadata.json", "SHA256SUMS"}
    assert all(int(by_id[p]["contentSize"]) == len(files[p]) for p in parts)
    assert by_id["./"]["datePublished"] == "2026-01-31T12:00:00Z"
    assert by_id["./"]["license"]["@id"] in by_id


def test_names_in_the_metadata_are_addresses():
    results = {
        "title": "x", "claim": {"text": ""}, "invented": False,
        "ran_at": "2026-01-31T12:00:00Z", "versions": {},
    }  # fmt: skip
    graph = json.loads(crate_text(results, {"photos/a b.png": 1}))["@graph"]
    assert "photos/a%20b.png" in {entity["@id"] for entity in graph}


def test_the_command_names_the_file_and_its_size(folder, capsys, monkeypatch):
    monkeypatch.chdir(folder.parent)
    assert cli.main(["bundle", "pump"]) == 0
    path = folder / "write-up" / "pump.zip"
    size = f"{path.stat().st_size / 1000:.0f} kB"
    assert capsys.readouterr().out == f"Bundled pump/write-up/pump.zip ({size})\n"


def test_an_archive_keeps_what_it_is_given(tmp_path):
    path = tmp_path / "x.zip"
    path.write_bytes(archive_bytes({"b": b"2" * 100, "a/c": b"\xff"}))
    assert unpacked(path) == {"a/c": b"\xff", "b": b"2" * 100}


def test_a_readers_own_comparison_of_cells_passes(tmp_path):
    """nbval, in another process, on the unpacked notebook: marked cells agree."""
    cells = [*CELLS, '# NBVAL_CHECK_OUTPUT\nprint(case["R_source"])']
    folder = make_case(tmp_path / "pump", INSTRUMENTS, cells)
    notebook = read_notebook(folder / "investigation.ipynb")
    shown = f"{open_case(folder)['I_load']}\n"
    notebook.cells[-1].source = '# NBVAL_CHECK_OUTPUT\nprint(case["I_load"])'
    notebook.cells[-1].outputs = [v4.new_output("stream", name="stdout", text=shown)]
    for number, cell in enumerate(notebook.cells, 1):
        cell.execution_count = number
    write(folder, notebook)
    digest = notebook_code_hash(notebook)
    edit_results(folder, lambda d: d.update(code_sha256=digest))
    with zipfile.ZipFile(bundle_case(folder)) as archive:
        archive.extractall(tmp_path / "out")
    command = f"{sys.executable} -m pytest -q --nbval-lax -p no:cacheprovider".split()
    command.append("investigation.ipynb")
    done = subprocess.run(
        command, cwd=tmp_path / "out", capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stdout[-2000:]
    assert f"{len(cells)} passed" in done.stdout
