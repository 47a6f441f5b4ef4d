"""Orders are uniform, reproducible, and stay within day and analyst."""

from collections import Counter
from itertools import permutations

import pytest
from scipy.stats import chisquare

from validate.planning.order import arranged, letters, seed_of, shuffled
from validate.vocabulary.bench import Position

ERROR = 1e-3
"""Chance that a fair shuffle fails one of these tests; the keys were fixed before looking."""


def position(day: int, analyst: int | None, label: str) -> Position:
    return Position(day=day, analyst=analyst, label=label)


def test_every_order_of_four_is_equally_likely():
    seen = Counter(tuple(shuffled("abcd", f"uniform/{draw}")) for draw in range(24_000))
    assert chisquare([seen[order] for order in permutations("abcd")]).pvalue > ERROR


@pytest.mark.parametrize("item", [0, 5, 10])
def test_every_place_of_eleven_is_equally_likely_for_an_item(item):
    places = Counter(shuffled(range(11), f"places/{draw}").index(item) for draw in range(11_000))
    assert chisquare([places[place] for place in range(11)]).pvalue > ERROR


def test_neighbours_do_not_hang_together():
    """The item that follows item 0 is any other one, or none, as often."""
    followers = Counter()
    for draw in range(10_000):
        order = shuffled(range(10), f"pairs/{draw}")
        place = order.index(0)
        followers[order[place + 1] if place < 9 else None] += 1
    assert chisquare(list(followers.values())).pvalue > ERROR and len(followers) == 10


def test_same_seed_gives_the_same_order_and_another_seed_another():
    positions = [position(1, None, str(number)) for number in range(30)]
    first, again = (arranged(positions, seed=5, study="a", letter="A") for _ in range(2))
    other = arranged(positions, seed=6, study="a", letter="A")
    assert first == again
    assert [each.position for each in first] != [each.position for each in other]


def test_an_order_of_today_is_the_order_of_ten_years_hence():
    """Written down once; a change here breaks every plan that lies in a drawer."""
    assert shuffled(list(range(8)), "20310303/recovery/1/1") == [6, 1, 4, 2, 0, 7, 3, 5]


def test_days_and_analysts_stay_blocks_in_their_order():
    positions = [position(day, who, f"{n}") for n in range(5) for day in (2, 1) for who in (2, 1)]
    placed = arranged(positions, seed=1, study="a", letter="A")
    blocks = [(each.position.day, each.position.analyst) for each in placed]
    assert blocks == sorted(blocks)
    assert sorted(each.position.label for each in placed[:5]) == list("01234")


def test_a_further_day_leaves_the_orders_of_the_others_alone():
    days = [[position(day, None, str(n)) for n in range(9)] for day in (1, 2)]
    alone = arranged(days[0], seed=3, study="a", letter="A")
    both = arranged(days[1] + days[0], seed=3, study="a", letter="A")
    assert both[:9] == alone


def test_codes_count_in_bench_order_and_tell_no_level():
    placed = arranged([position(1, None, "x")] * 1200, seed=1, study="a", letter="B")
    assert (placed[0].code, placed[-1].code) == ("B-0001", "B-1200")
    assert [letters(n) for n in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


def test_seed_is_that_of_the_protocol_or_made_from_id_and_edition():
    assert seed_of("X", "1", 12).value == 12
    made = seed_of("X", "1", None)
    assert made == seed_of("X", "1", None)
    assert "id and edition" in made.origin
    assert len({seed_of("X", edition, None).value for edition in "123456789"}) == 9
