"""Names that run from right to left leave a line of ours in order, by Unicode's rules."""

import unicodedata
from itertools import pairwise

import pytest

from isolator.names import LEFT_TO_RIGHT, in_line

HEBREW, ARABIC = "דוד", "مطاط"


def strong(text):
    """Of each sign the strong kind, left or right, and the numbers (UAX 9)."""
    kinds = map(unicodedata.bidirectional, text)
    return [kind for kind in kinds if kind in ("L", "R", "AL", "EN")]


@pytest.mark.parametrize("name", [HEBREW, ARABIC, f"{HEBREW} {ARABIC}", f'{ARABIC} "x" {HEBREW}'])
def test_a_line_begins_at_the_left_and_a_number_has_a_letter_of_ours_before_it(name):
    for line in (f"{name} 33.8 N", f"mount 1 {name} 33.8 N", f"{name}: lid up, 8 °C"):
        kinds = strong(in_line(line))
        assert kinds[0] == "L"
        assert all(before in ("L", "EN") for before, k in pairwise(kinds) if k == "EN")
        assert strong(line) != kinds


def test_nothing_but_signs_without_width_is_added():
    line = f'a {HEBREW} "{ARABIC}", {HEBREW} 5 b'
    assert in_line(line).replace(LEFT_TO_RIGHT, "") == line
    assert in_line("plain 5 mm, é 水 💧") == "plain 5 mm, é 水 💧"


def test_words_of_one_name_stay_together():
    assert f"{HEBREW} {ARABIC}" in in_line(f"mount {HEBREW} {ARABIC} 5")
