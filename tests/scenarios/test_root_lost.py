"""A root resorbed at the apex, and bone lost at the crest: what the file says and the model has.

Verification against the profile's own formula and against sums of lengths.
"""

import numpy as np
import pytest

from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import model_limits
from gomphosis.scenarios.files import ScenarioError, find_scenario, scenario_from
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import slice_case

COARSE = Resolution(along=12, root=2, ligament=1, bone=1, sectors=16)


def scenario(**place: object) -> Scenario:
    force = {"tooth": 11, "force": "0.1 N", "direction": "labial"}
    tooth = {"number": 11, **place}
    return scenario_from({"schema": 1, "tooth": [tooth], "force": [force]}, "test")


def model(**place: object) -> ToothModel:
    return tooth_models(scenario(**place), Linear(1.0), resolution=COARSE)[0]


def test_root_lost_at_the_apex_shortens_the_root_from_below():
    whole, short = model(), model(root_lost="3 mm")
    # 13 mm of root, of which the crest leaves 12 in bone
    assert (whole.embedded, short.embedded) == (12.0, 9.0)
    assert short.apex[2] == -9.0
    # nothing changes at the crest and above it
    assert short.edge_height == whole.edge_height
    np.testing.assert_array_equal(short.slot, whole.slot)
    assert short.support.design.root.radius == whole.support.design.root.radius
    assert short.support.planar.lateral < 0.9 * whole.support.planar.lateral


def test_bone_lost_at_the_crest_raises_the_crown_and_narrows_the_root_at_the_crest():
    whole, less = model(), model(crest_loss="6 mm")
    assert (less.embedded, less.edge_height) == (6.0, whole.edge_height + 6.0)
    narrowed = whole.support.design.root.radius * (6 / 12) ** 0.35
    np.testing.assert_allclose(less.support.design.root.radius, narrowed, rtol=1e-12)


def test_both_losses_add_up():
    both = model(crest_loss="2 mm", root_lost="3 mm")
    assert both.embedded == 7.0
    # the crest sinks along the shortened root
    narrowed = model().support.design.root.radius * (7 / 9) ** 0.35
    np.testing.assert_allclose(both.support.design.root.radius, narrowed, rtol=1e-12)
    assert both.edge_height == model().edge_height + 2.0


def test_a_slice_of_a_shortened_root_keeps_its_crown():
    document = scenario(root_lost="3 mm").document() | {"slice": {"teeth": [11]}}
    opened = scenario_from(document, "test")
    tooth = tooth_models(opened, Linear(1.0), resolution=COARSE)[0]
    nodes = slice_case(opened, tooth).body.mesh.nodes
    np.testing.assert_allclose(nodes[1].max(), tooth.edge_height, rtol=1e-12)
    case = slice_case(opened, tooth)
    np.testing.assert_allclose(case.root[1].min(), -9.0, atol=1e-9)


@pytest.mark.parametrize(
    ("place", "message"),
    [
        (
            {"root_lost": "9 mm"},
            'root_lost = "9 mm" leaves 3 mm of the root of tooth 11 within bone; '
            "accepted: at most 8 mm, which leaves 4 mm",
        ),
        (
            {"root_lost": "2 mm", "crest_loss": "7 mm"},
            'crest_loss = "7 mm" leaves 3 mm of the root of tooth 11 within bone; '
            "accepted: at most 6 mm, which leaves 4 mm",
        ),
        ({"root_lost": "-1 mm"}, 'root_lost = "-1 mm" is too small'),
        ({"root_lost": "2"}, 'root_lost = "2" has no unit'),
    ],
)
def test_too_much_root_lost_is_refused_in_one_line(place: dict, message: str):
    with pytest.raises(ScenarioError) as refused:
        scenario(**place)
    assert message in str(refused.value)
    assert "\n" not in str(refused.value)


def test_limits_name_what_is_assumed_of_lost_bone_and_root():
    plain, lost = (
        " ".join(model_limits(found))
        for found in (scenario(), scenario(crest_loss="1 mm", root_lost="1 mm"))
    )
    for words in ("lost all around the root", "rounded off like a whole one"):
        assert words in lost
        assert words not in plain


def test_shipped_case_has_five_bone_levels_and_one_resorbed_apex():
    case = find_scenario("bone-loss")
    assert case.invented
    levels = [(case.crest_loss(place), place.root_lost) for place in case.teeth]
    assert levels == [(0.0, 4.0), (0.0, 0.0), (2.0, 0.0), (4.0, 0.0), (6.0, 0.0), (8.0, 0.0)]
    # one incisor in six places, loaded alike
    sizes = {
        tuple(getattr(place.anatomy, name) for name in ("crown_length", "root_length"))
        for place in case.teeth
    }
    assert sizes == {(10.5, 13.0)}
    assert {force.components for force in case.force} == {case.force[0].components}
    assert len({place.anatomy.cervical_radius for place in case.teeth}) == 1
