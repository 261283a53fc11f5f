"""Tables of elastics: what is read, what is filled in, and what is refused in one line.

Verification.
"""

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.caution import model_limits
from gomphosis.scenarios.files import ScenarioError, parse_scenario, scenario_from
from gomphosis.scenarios.sweep_keys import find_key, swept_document

HEAD = "schema = 1\nduration = '8 weeks'\n" + "".join(
    f"[[tooth]]\nnumber = {n}\n" for n in (16, 15, 13, 23)
)
GF = 9.80665e-3  # N
PULL = "force = '150 gf'\nstiffness = '0.5 N/mm'\n"


def scenario(text):
    return parse_scenario(HEAD + text, "a.toml")


def elastic(text, kind="coil-spring", teeth="[13, 16]"):
    (found,) = scenario(f"[[elastic]]\nkind = '{kind}'\nteeth = {teeth}\n{PULL}{text}").elastic
    return found


def refusal(text):
    with pytest.raises(ScenarioError) as caught:
        scenario(text)
    return str(caught.value)


def test_values_are_in_inside_units():
    found = elastic(
        "put_on = '2 weeks'\ntaken_off = '6 weeks'\nlost = '20 days'\nhook = '-0.5 cm'\n"
        "decay = { lost_share = 0.4, time_constant = '12 hours' }\n"
    )
    assert (found.kind, found.teeth, found.stiffness) == ("coil-spring", (13, 16), 0.5)
    np.testing.assert_allclose(found.force, 150 * GF, rtol=1e-14)
    assert (found.put_on, found.taken_off, found.lost, found.off) == (14.0, 42.0, 20.0, 20.0)
    assert (found.lost_share, found.time_constant) == (0.4, 0.5)
    assert found.heights == (-5.0, -5.0)
    assert (found.name, found.links) == ("closed coil spring 13-16", ("13-16",))


@pytest.mark.parametrize("kind", ["elastic", "chain", "coil-spring"])
def test_loss_not_given_is_that_of_the_library(kind):
    found = elastic("", kind)
    cited = lookup(f"elastic.lost_share.{kind.replace('-', '_')}")
    assert found.lost_share == cited.number
    assert found.time_constant == lookup("elastic.time_constant").number
    assert elastic("decay = { lost_share = 0.0 }", kind).lost_share == 0.0
    assert found.off == np.inf
    assert found.heights == (0.0, 0.0)


def test_library_says_what_is_not_verified():
    assert lookup("elastic.time_constant").status == "from memory, unverified"
    chain = lookup("elastic.lost_share.chain")
    # the value is the middle of the published range, 37 to 75 %
    assert chain.number == pytest.approx((chain.low + chain.high) / 2)
    # about half of a chain's force is gone in a day
    left = elastic("", "chain")
    gone = left.lost_share * (1 - np.exp(-1.0 / left.time_constant))
    assert 0.45 < gone < 0.55


def test_chain_runs_over_several_teeth_either_way():
    found = elastic("hooks = ['1 mm', '0 mm', '-1 mm']", "chain", "[13, 15, 16]")
    assert found.links == ("13-15", "15-16")
    assert found.heights == (1.0, 0.0, -1.0)
    assert elastic("", "chain", "[16, 15, 13, 23]").links == ("16-15", "15-13", "13-23")


def test_document_reads_back():
    whole = scenario(
        f"[[elastic]]\nkind = 'chain'\nteeth = [13, 15]\n{PULL}hooks = ['1 mm', '2 mm']\n"
        f"[[elastic]]\nkind = 'elastic'\nteeth = [13, 23]\n{PULL}hook = '1 mm'\nlost = '1 week'\n"
    )
    document = whole.document()
    assert [("hook" in table, "hooks" in table) for table in document["elastic"]] == [
        (False, True),
        (True, False),
    ]
    assert scenario_from(document, "again") == whole


ONE = f"[[elastic]]\nkind = 'coil-spring'\nteeth = [13, 16]\n{PULL}"
CHAIN = f"[[elastic]]\nkind = 'chain'\n{PULL}"
REFUSALS = {
    ONE.replace("coil-spring", "rubber"): 'elastic[1].kind = "rubber" is not one of the options; '
    'accepted: "elastic", "chain" or "coil-spring"',
    ONE.replace("150 gf", "0 N"): 'elastic[1].force = "0 N" is too small; accepted: a force in N, '
    'cN or gf, above 0 N, at most 20 N, such as "150 gf"',
    ONE.replace("'150 gf'", "150"): "elastic[1].force = 150 has no unit; accepted: a force in N, "
    'cN or gf, above 0 N, at most 20 N, such as "150 gf"',
    ONE.replace("'0.5 N/mm'", "'0.5 N'"): 'elastic[1].stiffness = "0.5 N" has the unit "N", which '
    "is not that of a stiffness; accepted: a stiffness in N/mm, cN/mm or gf/mm, at least 0 N/mm, "
    'at most 50 N/mm, such as "0.2 N/mm"',
    ONE.replace("stiffness = '0.5 N/mm'\n", ""): "elastic[1].stiffness is missing; accepted: a "
    'stiffness in N/mm, cN/mm or gf/mm, at least 0 N/mm, at most 50 N/mm, such as "0.2 N/mm"',
    ONE.replace("16]", "14]"): "elastic[1].teeth[2] = 14 is not among the teeth of this scenario; "
    "accepted: 16, 15, 13 or 23",
    ONE.replace("16]", "13]"): "elastic[1].teeth[2] = 13 occurs twice; accepted: each tooth once",
    ONE.replace("13, ", ""): "elastic[1].teeth (a list) names fewer than two teeth; accepted: "
    "two teeth, or for a chain two or more",
    ONE.replace("16]", "15, 16]"): "elastic[1].teeth (a list) names 3 teeth, which kind "
    '"coil-spring" cannot join; accepted: two teeth, or kind = "chain"',
    f"{CHAIN}teeth = [13, 16, 15]\n": "elastic[1].teeth (a list) is not in order along the arch; "
    "accepted: [16, 15, 13] or the other way round",
    f"{ONE}put_on = '8 weeks'\n": 'elastic[1].put_on = "8 weeks" is not within the duration; '
    "accepted: earlier than 56 days",
    f"{ONE}put_on = '1 week'\ntaken_off = '7 days'\n": 'elastic[1].taken_off = "7 days" is not '
    "after it is put on; accepted: later than 7 days",
    f"{ONE}lost = '0 days'\n": 'elastic[1].lost = "0 days" is not after it is put on; accepted: '
    "later than 0 days",
    f"{ONE}lost = '3 weeks'\ntaken_off = '2 weeks'\n": 'elastic[1].lost = "3 weeks" is not before '
    "it is taken off; accepted: earlier than 14 days",
    f"{ONE}hook = '1 mm'\nhooks = ['1 mm', '2 mm']\n": 'elastic[1].hook = "1 mm" stands beside '
    "hooks; accepted: one of both",
    f"{ONE}hooks = ['1 mm']\n": "elastic[1].hooks (a list) has 1 heights; accepted: one for each "
    "of the 2 teeth",
    f"{ONE}decay = {{ lost_share = 1.5 }}\n": "elastic[1].decay.lost_share = 1.5 is too large; "
    "accepted: a number without a unit, at least 0.0, at most 1.0",
    f"{ONE}decay = {{ lost_shar = 0.5 }}\n": "elastic[1].decay.lost_shar = 0.5 is not a known key "
    "here; accepted: lost_share",
    f"{ONE}[[force]]\ntooth = 13\nmesial = '1 N'\n": "elastic (a list) stands beside [[force]]; "
    "accepted: [[elastic]] or [[force]]",
}


@pytest.mark.parametrize("text", REFUSALS, ids=lambda text: REFUSALS[text][:50])
def test_refusals_in_one_line(text):
    assert refusal(text) == f"a.toml: {REFUSALS[text]}"


def test_limits_say_what_is_assumed_of_elastics():
    said = " ".join(model_limits(scenario(ONE)))
    assert "pull straight from attachment to attachment" in said
    assert "one factor of time" in said
    # a coil spring loses nothing, so nothing from memory bears on it
    assert "from memory, unverified" not in said
    assert "Hooks" not in said
    chained = " ".join(model_limits(scenario(f"{CHAIN}teeth = [13, 15]\nhook = '1 mm'\n")))
    assert "from memory, unverified" in chained
    assert "Hooks are rigid" in chained
    given = "decay = { lost_share = 0.5, time_constant = '1 day' }\n"
    own = " ".join(model_limits(scenario(f"{CHAIN}teeth = [13, 15]\n{given}")))
    assert "from memory, unverified" not in own
    assert "Elastics" not in " ".join(model_limits(scenario("")))


def test_numbers_of_elastics_can_be_swept():
    document = swept_document(scenario(ONE))
    assert find_key(document, "elastic[1].force").location == ("elastic", 0, "force")
    assert find_key(document, "elastic[1].decay.lost_share").kind is None
    assert find_key(document, "elastic[1].hook").name == "elastic[1].hook"
