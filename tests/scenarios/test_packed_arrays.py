"""Arrays as bytes and back. Verification."""

import numpy as np
import pytest

from gomphosis.scenarios.packed_arrays import PackingError, packed, unpacked

STATE = {
    "a": np.array([[0.1, -0.0, np.inf], [np.nan, 5e-324, 1e308]]),
    "b.c": np.arange(4),
    "d": np.array([True, False]),
    "none": np.zeros((0, 3)),
}


def test_arrays_come_back_to_the_last_bit():
    content = packed(STATE)
    found, end = unpacked(b"xyz" + content + b"more", 3)
    assert end == 3 + len(content)
    assert list(found) == list(STATE)
    for name, array in STATE.items():
        assert found[name].dtype == array.dtype
        assert found[name].shape == array.shape
        assert found[name].tobytes() == array.tobytes()
        assert found[name].flags["WRITEABLE"]


def test_order_in_memory_does_not_matter():
    columns = np.asfortranarray(np.arange(6.0).reshape(2, 3))
    assert packed({"a": columns}) == packed({"a": np.ascontiguousarray(columns)})
    np.testing.assert_array_equal(unpacked(packed({"a": columns}))[0]["a"], columns)


@pytest.mark.parametrize("array", [np.array(["x"]), np.array([None]), np.zeros(1, dtype="f4")])
def test_other_kinds_are_refused(array):
    with pytest.raises(PackingError, match="is of kind"):
        packed({"a": array})


def test_bytes_that_are_not_whole_are_refused():
    content = packed(STATE)
    for length in range(len(content)):
        with pytest.raises(PackingError):
            unpacked(content[:length])
    with pytest.raises(PackingError, match="is of kind"):
        unpacked(content.replace(b"<i8", b"|O8"))
