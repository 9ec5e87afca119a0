"""trials.csv: durable, shared between kernels, recovered after a crash."""

import threading

import pytest

from benchproof.keeping.trials.ledger import ledger_beside
from benchproof.values.errors import RecordingRefusedError


def test_a_fresh_case_has_no_ledger_until_something_is_planned(mount, case_folder):
    assert mount.trials.names() == []
    assert not (case_folder / "trials.csv").exists()


def test_what_is_recorded_is_there_in_another_kernel(power, again):
    power.record("k l")
    other = again().trials["power"]
    assert [m.outcome for m in other.rows.made()] == ["kept", "lost"]
    other.record("k l k")
    assert len(power.rows.made()) == 3


def test_a_torn_last_line_is_left_out_with_a_message(power, again, case_folder):
    power.record("k l")
    path = case_folder / "trials.csv"
    path.write_bytes(path.read_bytes()[:-9])
    resumed = again().trials["power"]
    assert len(resumed.rows.made()) == 1
    assert "the last row is torn" in str(resumed)
    resumed.record("k l")
    assert [m.outcome for m in resumed.rows.made()] == ["kept", "lost"]
    assert (case_folder / "trials.csv.torn").exists()


def test_the_first_rows_keep_their_hash_however_many_follow(power):
    power.record("k l")
    ledger = power.case.trials.ledger
    rows, digest = ledger.fingerprint()
    power.record("k l k")
    assert ledger.log.prefix_sha256(rows) == digest


def test_all_views_of_a_case_share_one_ledger(mount, power):
    assert power.case.trials.ledger is mount.trials.ledger
    view = mount.at_round(1)
    assert ledger_beside(view.book, view.folder) is mount.trials.ledger


def test_two_kernels_that_record_one_place_at_once_record_it_once(power, again):
    kernels = [again().trials["power"] for _ in range(4)]
    threads = [threading.Thread(target=k.record, args=("k l k",)) for k in kernels]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [m.place for m in power.rows.made()] == [1, 2, 3]


def test_a_round_that_another_kernel_opened_is_noticed(power, again):
    other = again()
    other.new_round(because="the worn socket came")
    other.trials["power"].in_round(2).record("l")
    with pytest.raises(RecordingRefusedError, match=r"power\.in_round\(2\)"):
        power.record("k")
    power.in_round(2).record("l k")
    assert [m.round for m in again().trials["power"].rows.made()] == [2, 2]


def test_a_row_of_an_earlier_round_is_not_written_after_a_later_one(power):
    ledger = power.case.trials.ledger
    ledger.record.round = 2
    with pytest.raises(RecordingRefusedError, match="still in round 1"):
        power.record("k")
    assert len(ledger.log.rows()) == 1
