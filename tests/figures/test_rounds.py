"""The rounds stand beside each other, and what changed is told by more than colour."""

from benchproof.showing.figures.rounds import plot_of_rounds
from benchproof.showing.figures.sheet import Area, Words


def entry(number, *verdicts, because="", value="1.0 V"):
    return {
        "number": number, "because": because, "time": f"2026-11-2{number}T10:00:00Z",
        "quantities": {"V": {"text": value, "value": 1.0}, "R": {"text": "?"}},
        "verdicts": [
            {"name": f"H{i}", "verdict": v} for i, v in enumerate(verdicts, 1)
        ],
    }  # fmt: skip


ROUNDS = [
    entry(1, "contradicted", "undetermined"),
    entry(2, "sufficient on this sample", "undetermined", because="an objection",
          value="1.1 V"),
]  # fmt: skip


def bold(plot):
    parts = plot.figure.parts
    return {p.text for p in parts if isinstance(p, Words) and p.bold}


def test_every_round_has_its_number_date_and_reason():
    words = plot_of_rounds(ROUNDS).figure.words
    for said in ("Round 1, 2026-11-21", "first measurement", "an objection"):
        assert said in words


def test_a_verdict_that_changed_is_bold_in_a_tinted_field():
    plot = plot_of_rounds(ROUNDS)
    assert "sufficient on this sample" in bold(plot)
    assert not {"undetermined", "contradicted"} & bold(plot)
    assert len([p for p in plot.figure.parts if isinstance(p, Area)]) == 1


def test_how_much_a_round_changed_is_counted():
    words = plot_of_rounds([*ROUNDS, entry(3, "contradicted")]).figure.words
    assert words.count("1 value changed") == 2


def test_a_rival_stated_later_says_so_before():
    late = [entry(1, "contradicted"), entry(2, "contradicted", "not tested")]
    plot = plot_of_rounds(late)
    assert "not stated yet" in plot.figure.words
    assert "H2: not stated yet in round 1, not tested from round 2 on" in plot.alt


def test_the_text_alternative_says_every_change():
    assert plot_of_rounds(ROUNDS).alt == (
        "Verdicts, round by round, 2 rounds. H1: contradicted in round 1, sufficient "
        "on this sample from round 2 on; H2: undetermined in round 1."
    )


def test_many_rounds_make_a_wider_sheet_with_nothing_outside():
    many = [entry(1 + i % 9, "not reproduced, p < 9.6 %", because="x " * 99)
            for i in range(12)]  # fmt: skip
    sheet = plot_of_rounds(many).figure
    assert sheet.width > 1200
    words = [p for p in sheet.parts if isinstance(p, Words)]
    assert all(p.x < sheet.width and p.y < sheet.height for p in words)
    assert any(p.text.endswith("…") for p in words)


def test_before_a_second_round_there_is_nothing_to_draw():
    assert plot_of_rounds(ROUNDS[:1]).figure is None
    assert plot_of_rounds([]).figure is None
