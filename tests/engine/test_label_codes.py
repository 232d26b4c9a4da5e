"""Codes for labels: what their check character notices, counted."""

import random
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from contractor.engine import label_codes
from contractor.engine.label_standing import Bound, stand

codes = st.integers(0, 2**40).map(lambda seed: label_codes.draw_code(random.Random(seed).randrange))


def test_is_the_published_algorithm():
    # python-stdnum, documentation of iso7064.mod_37_2, and of its alphabet 0-9X (MOD 11-2, ISBN's).
    assert label_codes.check_character("G123489654321") == "Y"


def test_notices_every_wrong_character_and_every_swap_of_neighbours():
    drawn = [label_codes.draw_code(random.Random(seed).randrange) for seed in range(60)]
    wrong = swapped = 0
    for code in drawn:
        for at, right in enumerate(code):
            for other in label_codes.ALPHABET:
                if other != right:
                    wrong += 1
                    assert not label_codes.is_code(code[:at] + other + code[at + 1 :])
        for at, (one, two) in enumerate(pairwise(code)):
            if one != two:
                swapped += 1
                assert not label_codes.is_code(code[:at] + two + one + code[at + 2 :])

    assert wrong == 60 * 12 * 31
    assert swapped > 600


@given(codes)
def test_reads_back_what_it_writes(code):
    assert label_codes.read_code(label_codes.say_code(code).lower()) == code
    assert label_codes.read_scanned(f"HTTPS://HOST.EXAMPLE/D/{code}") == code
    assert label_codes.read_scanned(f"https://host.example:8000/d/{code.lower()}/") == code
    assert label_codes.read_code(code.replace("0", "O").replace("1", "l")) == code


def test_leaves_what_is_not_ours_as_it_is():
    assert label_codes.read_scanned("\x1d(01)0400 1\x00") == "(01)0400 1"
    assert label_codes.read_scanned("https://host.example/D/7Q2MK4XD9F35") == (
        "https://host.example/D/7Q2MK4XD9F35"
    )
    assert len(label_codes.read_scanned("x" * 900)) == label_codes.LONGEST
    assert label_codes.say_code("SN-42") == "SN-42"


@given(
    st.lists(st.tuples(st.sampled_from([None, "d1", "d2"]), st.booleans()), max_size=7),
    st.randoms(),
)
def test_what_a_code_names_does_not_depend_on_the_order_of_arrival(said, shuffled):
    bindings = []
    for number, (device, has_seen) in enumerate(said):
        seen = frozenset(one.id for one in bindings) if has_seen else frozenset()
        bindings.append(Bound(f"b{number}", device, seen))
    first = stand(bindings=bindings)
    shuffled.shuffle(bindings)

    assert stand(bindings=bindings + bindings) == first
    assert first.is_disputed == (len({one.device for one in first.heads}) > 1)
    assert first.device is None or not first.is_disputed
