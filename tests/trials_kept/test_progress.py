"""How each place of the planned order stands."""

from benchproof.keeping.trials.progress import due_places, places_of


def stands(power):
    return [p.stand for p in places_of(power)]


def test_a_place_is_due_until_it_is_done_or_skipped(mount, plan):
    power = plan(mount, 1)
    power.record("k - k")
    power.skip(4, because="the shop closed")
    assert stands(power) == ["done", "due", "done", "skipped"]
    assert due_places(power) == [2]


def test_skipping_a_condition_skips_its_open_places_only(mount, plan):
    power = plan(mount, 3)
    both = power.spec.places.index("supply=brick; axes=both") + 1
    power.outcome("l", at=both)
    power.skip(supply="brick", axes="both", because="the brick died")
    skipped = [p for p in places_of(power) if p.stand == "skipped"]
    assert len(skipped) == 2
    assert {p.because for p in skipped} == {"the brick died"}


def test_a_skip_goes_on_in_a_version_with_more_repetitions(mount, plan):
    power = plan(mount, 3)
    power.record("k")
    power.skip(supply="brick", axes="both", because="the brick died")
    more = plan(mount, 4, because="too few to tell")
    assert stands(more).count("skipped") == 4


def test_a_condition_ends_at_its_occurrence(mount, plan):
    power = plan(mount, 2, stop="at the first loss, or 2 of each", stop_at=1)
    first, second = (
        i for i, c in enumerate(power.spec.places, 1) if c == "supply=brick; axes=both"
    )
    power.outcome("l", at=first)
    assert places_of(power)[second - 1].stand == "ended by the stop rule"
