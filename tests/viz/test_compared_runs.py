"""Verification of what tells two compared runs apart."""

import pytest

from gomphosis.viz.compared_runs import ComparedRun, Pair
from gomphosis.viz.report_record import Record


def pair(titles, inputs, cases=("wires", "wires")):
    """Two runs of which nothing but titles, names of cases and inputs is known."""
    runs = []
    for letter, title, values, case in zip("AB", titles, inputs, cases, strict=True):
        head = {
            "summary": {"scenario": {"title": title}},
            "cases": [{"name": case}, {"name": "another"}],
            "inputs": [{"key": key, "value": value} for key, value in values.items()],
        }
        runs.append(ComparedRun(letter, Record(head, b"")))
    return Pair(*runs)


def test_different_inputs_are_told_in_order_with_those_that_one_run_lacks():
    found = pair(("a", "b"), ({"x": "1 N", "y": "2"}, {"y": "3", "x": "1 N", "z": "4"}))
    assert found.different_inputs == (
        {"key": "y", "A": "2", "B": "3"},
        {"key": "z", "A": None, "B": "4"},
    )


@pytest.mark.parametrize(
    ("second_title", "second_case", "first_inputs", "ends"),
    [
        # titles differ, or cases do: that is enough
        ("b", "wires", {"x": "1"}, ("", "")),
        ("a", "tied", {"x": "1"}, ("", "")),
        ("a", "wires", {"x": "2", "y": "$3"}, ("", "")),
        ("a", "wires", {"x": "1", "y": "$3"}, (" · x 1", " · x 2")),
        ("a", "wires", {"x": "2"}, (" · y not given", " · y $3")),
        ("a", "wires", {"x": "4"}, tuple(f" · x {n} (first of 2 differences)" for n in (4, 2))),
    ],
)
def test_headings_that_read_alike_say_what_differs(second_title, second_case, first_inputs, ends):
    inputs = (first_inputs, {"x": "2", "y": "$3"})
    found = pair(("a", second_title), inputs, ("wires", second_case))
    assert found.headings == (
        f"A: a · case 1 of 2: wires{ends[0]}",
        f"B: {second_title} · case 1 of 2: {second_case}{ends[1]}",
    )
