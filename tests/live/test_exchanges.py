"""live.csv: what was asked and answered, word for word."""

import csv
import datetime as dt

from benchproof.keeping.live.exchanges import COLUMNS, Exchange, keep_exchange

MOMENT = dt.datetime(2026, 1, 31, 13, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


def keep(folder, exchange, row):
    keep_exchange(
        folder,
        exchange,
        row=row,
        measurand="V",
        instrument="meter",
        identity="INVENTED,BM-1",
        time=MOMENT,
    )


def test_each_exchange_is_one_row_and_none_is_changed(tmp_path):
    keep(tmp_path, Exchange("A?", "+1.20E+01", "R?", "60", 0.0), "r-0001")
    before = (tmp_path / "live.csv").read_bytes()
    keep(tmp_path, Exchange("A?", 'say, "1"', after_s=0.5004), "r-0002")
    assert (tmp_path / "live.csv").read_bytes().startswith(before)
    with open(tmp_path / "live.csv", encoding="utf-8", newline="") as file:
        first, second = csv.DictReader(file)
    assert tuple(first) == COLUMNS
    assert (first["exchange"], first["row"]) == ("x-0001", "r-0001")
    assert (second["answer"], second["after_s"]) == ('say, "1"', "0.500")
    assert first["time"] == "2026-01-31T12:00:00Z"
