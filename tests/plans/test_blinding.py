"""Blinding: a seal that shows nothing, fits one key, and depends on the salt."""

import hashlib
import math
from collections import Counter

import pytest

from benchproof.reasoning.plans import blind_key, opens, sealed
from benchproof.values.errors import InputError

SALT = "0123456789abcdef" * 2
EIGHT = ["gateway on"] * 4 + ["gateway off"] * 4


def salt(number):
    return hashlib.sha256(str(number).encode()).hexdigest()


def test_a_key_opens_its_seal():
    key = blind_key(EIGHT, SALT)
    assert opens(key.seal(), key.text(), SALT)


@pytest.mark.parametrize("change", ["text", "salt"])
def test_a_changed_key_or_salt_does_not_open_it(change):
    key = blind_key(EIGHT, SALT)
    text = key.text().replace("run 1", "run 9") if change == "text" else key.text()
    other = salt(1) if change == "salt" else SALT
    assert not opens(key.seal(), text, other)


def test_salt_and_text_cannot_be_exchanged_for_one_another():
    longer = SALT + "\nrun 1"
    assert sealed("run 1: tap", SALT) != sealed(": tap", longer)
    assert sealed("a\nb", SALT) != sealed("b", SALT + "\na")


def test_the_seal_is_a_plain_hash_that_a_stranger_can_check():
    expected = hashlib.sha256(b"32\n" + SALT.encode() + b"\nrun 1: tap").hexdigest()
    assert sealed("run 1: tap", SALT) == expected


def test_the_numbers_of_each_treatment_are_kept():
    for number in range(20):
        key = blind_key(EIGHT, salt(number))
        assert Counter(key.treatments) == Counter(EIGHT)


def test_the_order_given_tells_nothing_of_the_key():
    assert blind_key(EIGHT, SALT) == blind_key(EIGHT[::-1], SALT)


def test_all_keys_are_equally_likely():
    seen = Counter(blind_key(EIGHT, salt(n)).treatments for n in range(7000))
    assert len(seen) == math.comb(8, 4)
    chi_square = sum((n - 100) ** 2 / 100 for n in seen.values())
    assert chi_square < 111.1  # 0.1 % point of 69 degrees of freedom


def test_the_runs_are_numbered_and_the_text_has_a_line_for_each():
    key = blind_key(["brine", "tap", "dry"], SALT)
    lines = key.text().splitlines()
    assert [line.split(": ")[0] for line in lines] == [*key.codes()]
    assert sorted(line.split(": ")[1] for line in lines) == ["brine", "dry", "tap"]


@pytest.mark.parametrize("bad", ["", "short", "a" * 64])
def test_a_salt_that_could_be_guessed_is_refused(bad):
    with pytest.raises(InputError, match="draw at least 32 at random"):
        blind_key(EIGHT, bad)
    with pytest.raises(InputError, match="draw at least 32 at random"):
        sealed("run 1: tap", bad)


@pytest.mark.parametrize(
    "bad", [[], ["tap"], ["tap", "tap"], ["tap", "brine\nx"], ["tap", ""]]
)
def test_treatments_that_cannot_be_told_apart_are_refused(bad):
    with pytest.raises(InputError, match="at least two different"):
        blind_key(bad, SALT)


def test_a_torn_seal_is_refused():
    with pytest.raises(InputError, match="64 digits"):
        opens("abc", "run 1: tap", SALT)
