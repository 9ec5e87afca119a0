"""An empty case with a book of invented instruments and a clock that stands still."""

import datetime as dt

import pytest
from hypothesis import settings

from benchproof import open_case

# A first call imports scipy, and the machine may be busy: no deadline anywhere.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

CASE = """\
format = 1
title = "A case for the tests"
invented = true
"""

# Invented makers' figures. `twin` promises what `handheld` does, but is another
# meter; `steady` has one offset for a whole range.
INSTRUMENTS = """\
[handheld]
description = "invented 6000-count meter"
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["600.0 mV", "6.000 V", "60.00 V", "600.0 V"]
[handheld."Ω"]
unit = "ohm"
accuracy = "±(0.8 % + 5 digits)"
ranges = ["600.0 ohm", "6.000 kohm", "60.00 Mohm"]
[handheld."DC mA"]
unit = "mA"
accuracy = "±(1.0 % + 3 digits)"
ranges = ["60.00 mA", "600.0 mA"]

[twin]
description = "invented 6000-count meter, a second piece"
[twin."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V", "60.00 V"]

[steady]
description = "invented 6000-count meter whose offset is common to a range"
[steady."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V", "60.00 V"]
offset_shared = true

[clamp]
description = "invented current clamp"
[clamp."DC A"]
unit = "A"
accuracy = "±(2 % + 20 mA)"
ranges = ["60.00 A"]
"""


def standing_clock():
    return dt.datetime(2026, 1, 31, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def case_folder(tmp_path):
    (tmp_path / "case.toml").write_text(CASE, encoding="utf-8")
    (tmp_path / "instruments.toml").write_text(INSTRUMENTS, encoding="utf-8")
    return tmp_path


@pytest.fixture
def case(case_folder):
    return open_case(case_folder, clock=standing_clock)
