"""The code on a sticker. The alphabet and how a wrong letter is read: Douglas Crockford, "Base 32"."""

import pytest

from fleet.core.sticker_codes import ALPHABET, LENGTH, new_code, read_code


def test_a_code_is_written_in_crockfords_alphabet():
    assert ALPHABET == "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert {len(code) for code in codes} == {LENGTH}
    assert set("".join(codes)) <= set(ALPHABET)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("4K7MQ2XV", "4K7MQ2XV"),
        (" 4k7m-q2xv ", "4K7MQ2XV"),
        ("4k7m q2xv", "4K7MQ2XV"),
        ("oOiIlL00", "00111100"),
        ("", ""),
    ],
)
def test_what_a_thumb_types_is_read_as_it_was_meant(typed, read):
    assert read_code(typed) == read


def test_a_new_code_reads_as_itself():
    assert all(read_code(code) == code for code in (new_code() for _ in range(200)))
