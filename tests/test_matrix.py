"""Which prediction tells which rivals apart."""

import math

import pytest

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.matrix import Matrix, excludes
from benchproof.reasoning.verdicts import Hypothesis, Prediction


def below(name, limit):
    return Criterion(name, -math.inf, limit, f"{name} below {limit} V")


def above(name, limit):
    return Criterion(name, limit, math.inf, f"{name} above {limit} V")


def rival(name, *criteria):
    return Hypothesis(name, name, [Prediction(c.text, c) for c in criteria])


def matrix(*rivals, standing=None):
    asked = {p.criterion.quantity for r in rivals for p in r.predictions}
    return Matrix(rivals, standing or dict.fromkeys(asked, "planned"))


def test_predictions_that_exclude_each_other_split_whichever_way_it_comes_out():
    (split,) = matrix(
        rival("H1", below("V", 8.8)), rival("H2", above("V", 8.8))
    ).splits()
    assert (split.either, split.one) == (("V",), ())


def test_a_rival_that_says_nothing_is_split_only_if_the_other_fails():
    (split,) = matrix(rival("H1", below("V", 8.8)), rival("H2")).splits()
    assert (split.either, split.one) == ((), ("V",))


def test_rivals_that_predict_the_same_are_named_as_split_by_nothing():
    same = matrix(rival("H1", below("V", 8.8)), rival("H2", below("V", 8.8)))
    assert same.pairs().notes[0] == "Nothing splits H1 and H2."
    assert same.pairs().rows == (("H1, H2", "nothing", "nothing"),)


def test_what_is_neither_measured_nor_planned_splits_nothing():
    rivals = rival("H1", below("V", 8.8)), rival("H2", above("V", 8.8))
    (split,) = matrix(*rivals, standing={"V": "not planned"}).splits()
    assert split.either == ()


def test_every_pair_is_listed_the_least_split_first():
    found = matrix(
        rival("H1", below("V", 8.8)), rival("H2", above("V", 8.8)), rival("H3")
    ).pairs()
    assert [row[0] for row in found.rows] == ["H1, H3", "H2, H3", "H1, H2"]


def test_a_blank_stands_where_a_rival_says_nothing():
    table = matrix(rival("H1", below("V", 8.8)), rival("H2", above("W", 2.0))).table()
    assert table.rows == (
        ("V", "below 8.8 V", "", "planned"),
        ("W", "", "above 2.0 V", "planned"),
    )


def test_no_rivals_give_an_empty_matrix():
    assert matrix().table().rows == ()
    assert matrix().pairs().rows == ()


def compared(relation, margin=None):
    return Criterion(
        "R_1", -math.inf, math.inf, f"R_1 {relation} R_2", other="R_2",
        relation=relation, margin=margin,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (below("V", 8.0), above("V", 9.0), True),
        (above("V", 9.0), below("V", 8.0), True),
        (below("V", 9.0), above("V", 8.0), False),
        (below("V", 8.0), above("W", 9.0), False),
        (compared("agrees"), compared("differs"), True),
        (compared("agrees", 0.1), compared("differs"), False),
        (compared("agrees"), compared("agrees"), False),
        (compared("agrees"), below("R_1", 3.0), False),
    ],
)
def test_criteria_exclude_each_other_only_where_no_value_meets_both(
    first, second, expected
):
    assert excludes(first, second) is expected
