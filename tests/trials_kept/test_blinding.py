"""Blind plans: sealed before the first run, opened once, early only with a reason."""

import pytest

from benchproof.keeping.trials.blinding import guess_score, key_file_read
from benchproof.values.errors import FileError, InputError, RecordingRefusedError


@pytest.fixture
def drops(mount):
    return mount.trials.plan(
        "drops", factors={"liquid": ["brine", "tap", "dry"]}, repetitions=4,
        outcomes=["blank", "fine"], control={"liquid": "dry"}, seed=1,
        stop="4 of each, whatever happens", blind=True,
    )  # fmt: skip


@pytest.fixture
def gateway(mount):
    return mount.trials.plan(
        "gateway", factors={"gateway": ["near", "far"]}, repetitions=4,
        outcomes=["near", "far"], no_control="the two states are each other's control",
        seed=1, stop="4 of each", blind=True,
    )  # fmt: skip


@pytest.fixture
def key_file(tmp_path_factory):
    return tmp_path_factory.mktemp("helper") / "key.txt"


def conditions(path):
    key, _ = key_file_read(path.read_text(encoding="utf-8"))
    return [line.partition(": ")[2] for line in key.splitlines()]


def blank_with_brine(drops, path):
    said = conditions(path)
    return " ".join("b" if c == "liquid=brine" else "f" for c in said)


def test_no_run_is_recorded_before_a_key_is_sealed(drops):
    with pytest.raises(RecordingRefusedError, match="no key is sealed yet"):
        drops.record("b")


def test_the_bench_sees_codes_and_the_ledger_only_the_seal(
    drops, key_file, case_folder
):
    drops.seal(key_file)
    assert drops.next().rows == (("1", "run 1"),)
    ledger = (case_folder / "trials.csv").read_text(encoding="utf-8")
    assert "run 1: " not in ledger
    assert "sealed: rates follow" in str(drops.rates())


def test_sealing_again_changes_neither_key_nor_ledger(drops, key_file):
    drops.seal(key_file)
    before = key_file.read_text(encoding="utf-8")
    drops.seal(key_file)
    assert key_file.read_text(encoding="utf-8") == before
    assert len(drops.rows.keys) == 1


def test_a_key_is_not_written_into_the_case_folder(drops, case_folder):
    with pytest.raises(InputError, match="lie in the case folder"):
        drops.seal(case_folder / "key.txt")


def test_an_existing_file_is_not_overwritten_by_a_key(drops, key_file):
    key_file.write_text("a letter", encoding="utf-8")
    with pytest.raises(InputError, match="exists; a key is not overwritten"):
        drops.seal(key_file)
    assert drops.rows.keys == []


def test_an_opened_key_gives_the_runs_their_conditions(drops, key_file):
    drops.seal(key_file)
    drops.record(blank_with_brine(drops, key_file))
    drops.unseal(key_file)
    assert drops.rate("blank", liquid="brine").count == (4, 4)
    assert drops.rate("blank", liquid="dry").count == (0, 4)
    key_file.unlink()
    drops.unseal(key_file)  # the ledger holds it now


def test_opening_early_needs_a_reason_and_is_shown_with_what_follows(drops, key_file):
    drops.seal(key_file)
    row = blank_with_brine(drops, key_file)
    drops.record(row[:5])
    with pytest.raises(InputError, match="9 runs are not made yet"):
        drops.unseal(key_file)
    drops.unseal(key_file, because="the helper leaves")
    drops.record(row)
    assert (
        "opened early, 9 runs not made: the helper leaves" in drops.table().rows[-1][1]
    )
    assert "9 attempts made after that, not blind" in drops.table().rows[-1][1]


def test_another_key_than_the_sealed_one_is_refused(drops, key_file):
    drops.seal(key_file)
    text = key_file.read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    swapped = [lines[1].replace("run 2", "run 1"), lines[0].replace("run 1", "run 2")]
    if swapped[0] == lines[0]:
        swapped[0] = "run 1: liquid=water\n"
    key_file.write_text("".join([*swapped, *lines[2:]]), encoding="utf-8")
    with pytest.raises(RecordingRefusedError, match="not the key that was sealed"):
        drops.unseal(key_file, because="to see")


def test_a_seal_from_elsewhere_is_recorded_once_and_no_other_beside_it(drops):
    drops.sealed("a" * 64).sealed("a" * 64)
    with pytest.raises(RecordingRefusedError, match="another key is sealed"):
        drops.sealed("b" * 64)
    with pytest.raises(InputError, match="64 digits"):
        drops.sealed("abc")


def test_a_plan_that_is_not_blind_has_no_key(power, key_file):
    with pytest.raises(InputError, match="without blind=True"):
        power.seal(key_file)
    with pytest.raises(RecordingRefusedError, match="without blind=True"):
        power.sealed("a" * 64)


def test_eight_of_eight_of_four_and_four_is_one_in_seventy(gateway, key_file):
    gateway.seal(key_file)
    named = [c.partition("=")[2] for c in conditions(key_file)]
    gateway.record(" ".join(named))
    with pytest.raises(InputError, match="open the key first"):
        gateway.score()
    gateway.unseal(key_file)
    score = gateway.score()
    assert (score.right, score.runs) == (8, 8)
    assert score.chance == pytest.approx(1 / 70)


def test_unequal_guesses_are_scored_as_free_ones(gateway, key_file):
    gateway.seal(key_file)
    gateway.record(" ".join(["near"] * 8))
    gateway.unseal(key_file)
    score = gateway.score()
    # 4 of 8 or more by a coin: 163/256, counted by hand
    assert (score.right, score.chance) == (4, pytest.approx(163 / 256))


def test_a_score_needs_outcomes_that_name_the_treatments(drops):
    with pytest.raises(InputError, match="whose levels are the outcomes"):
        guess_score(drops.spec, [])


def test_a_key_file_without_salt_is_refused():
    with pytest.raises(InputError, match="no line that begins with 'salt: '"):
        key_file_read("run 1: tap\n")


def test_an_opened_key_that_was_edited_later_is_refused(
    drops, key_file, case_folder, again
):
    drops.seal(key_file)
    drops.record(blank_with_brine(drops, key_file))
    drops.unseal(key_file)
    path = case_folder / "trials.csv"
    text = path.read_text(encoding="utf-8")
    assert "run 1: " in text
    path.write_text(text.replace("run 1: liquid", "run 1: fluid"), encoding="utf-8")
    with pytest.raises(FileError, match="not the key that was sealed"):
        again().trials.names()


def test_runs_made_after_the_key_was_opened_are_not_scored(mount, tmp_path_factory):
    key = tmp_path_factory.mktemp("helper") / "key.txt"
    plan = mount.trials.plan(
        "drop", outcomes=["brine", "tap"], factors={"liquid": ["brine", "tap"]},
        control={"liquid": "tap"}, stop="2 of each", repetitions=2, seed=5, blind=True,
    ).seal(key)  # fmt: skip
    plan.record("b t")
    plan.unseal(key, because="the helper told us")
    plan.record("b t t b")
    assert plan.score().runs == 2
    assert "2 more made after the key was opened, left out" in plan.score().sentence()
    assert "2 attempts made after that, not blind" in str(plan.table().rows)
