"""A closed stream opens as it was, or not at all."""

import os
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.operations import streams
from contractor.operations.errors import Damaged, WrongKey

KEY = streams.Key("0" * 40)
SIZES = [0, 1, streams.PIECE - 1, streams.PIECE, streams.PIECE + 1, 2 * streams.PIECE]


def closed(data: bytes, *, name="one", key=KEY) -> bytes:
    target = BytesIO()
    assert streams.close(BytesIO(data), target, key=key, name=name) == len(data)
    return target.getvalue()


def opened(data: bytes, *, name="one", key=KEY) -> bytes:
    return b"".join(streams.open_(BytesIO(data), key=key, name=name))


@pytest.mark.parametrize("size", SIZES)
def test_it_opens_as_it_was_and_its_size_is_known(size):
    data = os.urandom(size)
    shut = closed(data)
    assert opened(shut) == data
    assert len(shut) == streams.closed_size(size)
    assert closed(data) != shut  # a salt of its own each time


@given(st.data())
def test_any_bit_that_was_turned_is_noticed(data):
    shut = bytearray(closed(b"twelve yearly readings"))
    place = data.draw(st.integers(0, len(shut) * 8 - 1))
    shut[place // 8] ^= 1 << place % 8
    with pytest.raises((Damaged, WrongKey)):
        opened(bytes(shut))


@pytest.mark.parametrize("size", SIZES[1:])
def test_cut_anywhere_it_says_so(size):
    shut = closed(bytes(size))
    for left in {0, 5, streams.HEAD, streams.HEAD + streams.PIECE + streams.TAG, len(shut) - 1}:
        if left < len(shut):
            with pytest.raises(Damaged, match=r"cut off|beginning"):
                opened(shut[:left])


def test_pieces_cannot_change_places_nor_files_their_names():
    shut = closed(os.urandom(2 * streams.PIECE))
    step = streams.PIECE + streams.TAG
    head, first, second = shut[: streams.HEAD], shut[streams.HEAD :][:step], shut[-step:]
    with pytest.raises(Damaged, match="damaged at byte 28"):
        opened(head + second + first)
    with pytest.raises(Damaged):
        opened(closed(b"x", name="another"))


def test_another_key_is_told_apart_from_damage():
    with pytest.raises(WrongKey, match="closed with another key"):
        opened(closed(b"x"), key=streams.Key("1" * 40))
