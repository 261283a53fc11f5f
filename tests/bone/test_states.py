"""Names of joined states. Verification."""

import numpy as np
import pytest

from gomphosis.bone.states import StateError, check_names, joined, parted

ONE, TWO = {"a": np.arange(3.0)}, {"a": np.zeros(2), "b.c": np.ones(1)}


def test_joined_states_come_apart_again():
    both = joined([ONE, {}, TWO])
    assert list(both) == ["0.a", "2.a", "2.b.c"]
    one, none, two = parted(both, 3)
    assert (one, none) == ({"a": ONE["a"]}, {})
    assert list(two) == ["a", "b.c"]
    np.testing.assert_array_equal(two["b.c"], [1.0])


def test_states_inside_states():
    inner = parted(parted(joined([joined([ONE, TWO])]), 1)[0], 2)
    assert [list(state) for state in inner] == [list(ONE), list(TWO)]


@pytest.mark.parametrize("name", ["2.a", "a", "00.a", "0", "0.", "-1.a"])
def test_a_name_of_no_part_is_refused(name: str):
    with pytest.raises(StateError, match="has no place for"):
        parted({name: np.zeros(1)}, 2)


@pytest.mark.parametrize("names", [(), ("a", "b"), ("b",)])
def test_names_must_be_those_expected(names: tuple[str, ...]):
    check_names(ONE, ("a",))
    with pytest.raises(StateError, match=r"got \['a'\]"):
        check_names(ONE, names)
