"""Small runs of both shapes that pictures are tested on; coarse, with a given rate law."""

import json

import pytest

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.run import run
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.viz.compared_runs import read_pair
from gomphosis.viz.compared_slices import ComparedSlices
from gomphosis.viz.report_record import report_record
from gomphosis.viz.report_store import SUMMARY, write_record

COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)
RATE = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "8 kPa"\n'
TITLE = "Costs $5 and $x_1$, <b> -- 100 %"

WIRES = f"""
schema = 1
title = "{TITLE}"
invented = true
duration = "4 weeks"
step = "1 day"
[[tooth]]
number = 12
[[tooth]]
number = 11
vertical = "-1 mm"
angulation = "5 deg"
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "2 weeks"
size = "0.017 x 0.025 in"
{RATE}
"""

FORCES = f"""
schema = 1
title = "{TITLE}"
invented = true
duration = "2 weeks"
step = "2 days"
[[tooth]]
number = 11
{RATE}
""" + "".join(
    f"""
[[force]]
case = "{kind} {size} $cN$"
tooth = 11
force = "{size} cN"
direction = "lingual"
moment_to_force = "{ratio}"
"""
    for kind, ratio in (("tipping", "0 mm"), ("translation", "translation"))
    for size in (25, 50, 100)
)

SLICES = f"""
schema = 1
title = "{TITLE}"
invented = true
duration = "12 days"
step = "1 day"
[[tooth]]
number = 11
[[tooth]]
number = 21
[[force]]
tooth = 11
force = "30 cN"
direction = "labial"
moment_to_force = "8 mm"
[[force]]
tooth = 21
force = "10 cN"
direction = "lingual"
[slice]
teeth = [11, 21]
front = {{ crest = "0.3 mm", middle = "0.5 mm" }}
{RATE}
"""


CHAINED = f"""
schema = 1
title = "{TITLE}"
invented = true
duration = "3 weeks"
step = "7 days"
[[tooth]]
number = 33
[[tooth]]
number = 34
[[tooth]]
number = 35
[[wire]]
size = "0.014 in"
friction = 0.0
[[wire]]
tied_in = "1 week"
size = "0.014 in"
friction = 0.0
[[wire]]
tied_in = "2 weeks"
size = "0.016 in"
friction = 0.0
[[elastic]]
kind = "chain"
teeth = [33, 34, 35]
force = "20 gf"
stiffness = "0.1 N/mm"
[[elastic]]
kind = "coil-spring"
teeth = [33, 35]
force = "10 gf"
stiffness = "0 N/mm"
put_on = "10 days"
{RATE}
"""

REBONDED = f"""
schema = 1
title = "{TITLE}"
invented = true
duration = "5 days"
step = "1 day"
[[tooth]]
number = 12
[[tooth]]
number = 11
vertical = "0.3 mm"
angulation = "5 deg"
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "4 days"
size = "0.014 in"
[[visit]]
at = "2 days"
[[visit.rebond]]
tooth = 11
vertical = "0.4 mm"
labial = "0.2 mm"
mesial = "-0.3 mm"
tip = "4 deg"
torque = "5 deg"
rotation = "-3 deg"
{RATE}
"""


def result_of(text):
    return run(parse_scenario(text, "test"), resolution=COARSE)


@pytest.fixture(scope="package")
def wires():
    return result_of(WIRES)


@pytest.fixture(scope="package")
def forces():
    return result_of(FORCES)


@pytest.fixture(scope="package")
def slices():
    """An upper incisor pushed through a thin labial plate, and another pulled lingually."""
    return result_of(SLICES)


@pytest.fixture(scope="package")
def pressed():
    """The upper incisor of the other run under a larger force, for a shorter time."""
    return result_of(
        'schema = 1\nduration = "8 days"\nstep = "1 day"\n[[tooth]]\nnumber = 11\n'
        '[[force]]\ntooth = 11\nforce = "50 cN"\ndirection = "labial"\nmoment_to_force = "6 mm"\n'
        '[slice]\nteeth = [11]\nfront = { crest = "0.3 mm", middle = "0.5 mm" }\n'
        f"{RATE}"
    )


@pytest.fixture(scope="package")
def lower_slice():
    """A lower incisor pulled mesially, in the mesiodistal plane."""
    return result_of(
        'schema = 1\nduration = "4 days"\nstep = "2 days"\n[[tooth]]\nnumber = 31\n'
        '[[force]]\ntooth = 31\nforce = "20 cN"\ndirection = "mesial"\n'
        f'[slice]\nteeth = [31]\nplane = "mesiodistal"\n{RATE}'
    )


@pytest.fixture(scope="package")
def arch():
    """Seven lower teeth on a round wire, one out of line."""
    numbers = (43, 42, 41, 31, 32, 33, 34)
    teeth = "".join(
        f"[[tooth]]\nnumber = {n}\n" + ('labial = "1 mm"\n' if n == 42 else "") for n in numbers
    )
    return result_of(
        f'schema = 1\nduration = "4 days"\nstep = "2 days"\n{teeth}'
        f'[[wire]]\nsize = "0.014 in"\n{RATE}'
    )


@pytest.fixture(scope="package")
def whole_arch():
    """Fourteen upper teeth on a curved wire, every second one out of line."""
    numbers = (*range(17, 10, -1), *range(21, 28))
    teeth = "".join(
        f"[[tooth]]\nnumber = {n}\n" + ('vertical = "-0.4 mm"\n' if n % 2 else "") for n in numbers
    )
    shape = '{ half_width = "26 mm", depth = "40 mm", squareness = 0.3 }'
    return result_of(
        f'schema = 1\nduration = "4 days"\nstep = "2 days"\n{teeth}'
        f'[[wire]]\nsize = "0.014 in"\nshape = {shape}\n{RATE}'
    )


@pytest.fixture(scope="package")
def chained():
    """Three lower left teeth on three wires after each other, pulled together by elastics."""
    return result_of(CHAINED)


@pytest.fixture(scope="package")
def lingual_pair():
    """Two teeth of which one is pulled lingually."""
    return result_of(
        'schema = 1\nduration = "1 week"\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n'
        f'[[force]]\ntooth = 11\nforce = "20 cN"\ndirection = "lingual"\n{RATE}'
    )


@pytest.fixture(scope="package")
def aligned():
    """Two teeth in line on a wire: nothing loads or moves them."""
    return result_of(
        f'schema = 1\nduration = "1 week"\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n{RATE}'
    )


@pytest.fixture(scope="package")
def sliced_folders(request, tmp_path_factory):
    """A folder with the record of each run that has slices, and of one that has none."""
    found = {}
    for name in ("slices", "pressed", "lower_slice", "lingual_pair"):
        result = request.getfixturevalue(name)
        folder = tmp_path_factory.mktemp("sliced") / name
        folder.mkdir()
        (folder / SUMMARY).write_text(summary_text(summary(result)), encoding="utf-8")
        document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
        write_record(report_record(result, document), folder, [])
        found[name] = folder
    return found


@pytest.fixture(scope="package")
def sliced_film(sliced_folders):
    """Twelve days of teeth 11 and 21 beside eight days of tooth 11."""
    return ComparedSlices(read_pair([sliced_folders[name] for name in ("slices", "pressed")]))


@pytest.fixture(scope="package")
def rebonded():
    """Three upper incisors; on day 2 the bracket of the middle one is bonded anew."""
    return result_of(REBONDED)
