"""Verification of stages with visits: order, which wire a visit works on, what it leaves alone."""

import numpy as np
import pytest

from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.stages import Stage, stages, visits_of

TEETH = [{"number": 12}, {"number": 11}, {"number": 21}]
FIRST = {"alloy": "steel", "size": "0.016 in"}
SECOND = {"tied_in": "6 weeks", "alloy": "steel", "size": "0.018 in"}
SPRING = {"kind": "coil-spring", "teeth": [12, 21], "force": "0.5 N", "stiffness": "0 N/mm"}


def scenario(**document: object) -> Scenario:
    base = {"schema": 1, "duration": "10 weeks", "tooth": TEETH, "wire": [FIRST, SECOND]}
    return scenario_from({**base, **document}, "test")


def visit(day: float, **actions: object) -> dict[str, object]:
    return {"at": f"{day} days", **(actions or {"religate": True})}


def test_visits_stand_in_the_order_of_their_days_and_under_their_wire():
    made = scenario(visit=[visit(56), visit(28), visit(14), visit(49)])
    assert visits_of(made, 0) == (2, 1)
    assert visits_of(made, 1) == (3, 0)
    assert stages(made) == (
        Stage(0.0, 0, (), ()),
        Stage(14.0, 0, (2,), ()),
        Stage(28.0, 0, (2, 1), ()),
        Stage(42.0, 1, (), ()),
        Stage(49.0, 1, (3,), ()),
        Stage(56.0, 1, (3, 0), ()),
    )


def test_the_last_wire_takes_all_later_visits():
    made = scenario(wire=[FIRST], visit=[visit(69), visit(1)])
    assert visits_of(made, 0) == (1, 0)
    assert stages(made)[-1] == Stage(69.0, 0, (1, 0), ())


def test_an_elastic_put_on_between_visits_changes_neither_wire_nor_visits():
    on = {**SPRING, "put_on": "3 weeks", "taken_off": "7 weeks"}
    made = scenario(visit=[visit(14), visit(49)], elastic=[on])
    assert stages(made) == (
        Stage(0.0, 0, (), ()),
        Stage(14.0, 0, (0,), ()),
        Stage(21.0, 0, (0,), (0,)),
        Stage(42.0, 1, (), (0,)),
        # the elastic is taken off on the day of the visit: one change
        Stage(49.0, 1, (1,), ()),
    )


def test_days_of_stages_grow_and_begin_at_the_start():
    made = scenario(visit=[visit(day) for day in (35, 7, 63)])
    days = [stage.start for stage in stages(made)]
    assert days[0] == 0.0
    assert np.all(np.diff(days) > 0)


@pytest.mark.parametrize("wires", [[FIRST], []], ids=["given", "default"])
def test_without_visits_there_is_one_stage_per_wire(wires: list):
    made = scenario(wire=wires)
    assert stages(made) == (Stage(0.0, 0, (), ()),)
    assert visits_of(made, 0) == ()
