"""Verification of the reading of quantities against the definitions of the units."""

import json
import math
import subprocess
import sys
from typing import Annotated

import pytest
from pydantic import TypeAdapter

from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, listed, one_line, shown
from gomphosis.scenarios.units import (
    ANGLE,
    DURATION,
    FORCE,
    LENGTH,
    MOMENT,
    SPEED,
    SPEED_PER_STRESS,
    STRESS,
    STRESS_PER_KELVIN,
    TEMPERATURE,
    quantity,
    written,
)

KINDS = (LENGTH, FORCE, MOMENT, STRESS, ANGLE, DURATION, SPEED, SPEED_PER_STRESS, STRESS_PER_KELVIN)


# Source: definitions. 1 in = 25.4 mm (international yard and pound agreement, 1959);
# 1 kgf = 9.80665 N (3rd CGPM, 1901); the rest follows from the SI prefixes.
@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("0.016 in", LENGTH, 0.4064),
        ("0.022in", LENGTH, 0.5588),
        ("160 um", LENGTH, 0.16),
        ("160 µm", LENGTH, 0.16),
        ("1.5e-1 cm", LENGTH, 1.5),
        (".5 mm", LENGTH, 0.5),
        ("-1 mm", LENGTH, -1.0),
        ("−1 mm", LENGTH, -1.0),
        ("100 gf", FORCE, 0.980665),
        ("25 cN", FORCE, 0.25),
        ("1210 gf*mm", MOMENT, 11.8660465),
        ("5 N·mm", MOMENT, 5.0),
        ("5 N mm", MOMENT, 5.0),
        ("0.5 kPa", STRESS, 0.0005),
        ("50 GPa", STRESS, 50_000.0),
        ("180 deg", ANGLE, math.pi),
        ("45°", ANGLE, math.pi / 4.0),
        ("0.1 rad", ANGLE, 0.1),
        ("12 weeks", DURATION, 84.0),
        ("1 week", DURATION, 7.0),
        ("36 hours", DURATION, 1.5),
        ("60 um/day", SPEED, 0.06),
        ("1.4 mm/week", SPEED, 0.2),
        ("1.0 um/day/kPa", SPEED_PER_STRESS, 1.0),
        # a kelvin is a step of one degree Celsius, of 1.8 degrees Fahrenheit
        ("6.5 MPa/K", STRESS_PER_KELVIN, 6.5),
        ("6.5 MPa/degC", STRESS_PER_KELVIN, 6.5),
        ("6.5 MPa/°C", STRESS_PER_KELVIN, 6.5),
        ("1 MPa/degF", STRESS_PER_KELVIN, 1.8),
        # 0 degC is 273.15 K and 32 degF
        ("37 degC", TEMPERATURE, 37.0),
        ("37.1 °C", TEMPERATURE, 37.1),
        ("310.15 K", TEMPERATURE, 37.0),
        ("98.6 degF", TEMPERATURE, 37.0),
        ("-4 degF", TEMPERATURE, -20.0),
    ],
)
def test_quantity_is_read_in_the_inside_unit(text, kind, expected):
    # Factors are exact fractions, so nothing but the final rounding is left.
    assert quantity(text, kind) == pytest.approx(expected, rel=1e-15, abs=0.0)


def test_inch_sizes_have_no_rounding_noise():
    assert [quantity(f"{size} in", LENGTH) for size in ("0.014", "0.017", "0.022")] == [
        0.3556,
        0.4318,
        0.5588,
    ]


FITS_LENGTH = 'a length in mm, in or um, such as "4.5 mm"'
FITS_ANGLE = 'an angle in deg or rad, such as "5 deg"'
FITS_FORCE = 'a force in N, cN or gf, such as "50 cN"'


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("5", LENGTH, f'"5" has no unit; accepted: {FITS_LENGTH}'),
        (5, LENGTH, f"5 has no unit; accepted: {FITS_LENGTH}"),
        (5.0, ANGLE, f"5.0 has no unit; accepted: {FITS_ANGLE}"),
        (True, LENGTH, f"true is not a quantity; accepted: {FITS_LENGTH}"),
        (None, LENGTH, f"None is not a quantity; accepted: {FITS_LENGTH}"),
        ([1], LENGTH, f"a list is not a quantity; accepted: {FITS_LENGTH}"),
        ("", LENGTH, f'"" is not a number with a unit; accepted: {FITS_LENGTH}'),
        ("mm", LENGTH, f'"mm" is not a number with a unit; accepted: {FITS_LENGTH}'),
        ("5,5 mm", LENGTH, f'"5,5 mm" is not a number with a unit; accepted: {FITS_LENGTH}'),
        ("5 %", ANGLE, f'"5 %" is not a number with a unit; accepted: {FITS_ANGLE}'),
        ("5 mm/", LENGTH, f'"5 mm/" is not a number with a unit; accepted: {FITS_LENGTH}'),
        ("5 mm^0", LENGTH, f'"5 mm^0" is not a number with a unit; accepted: {FITS_LENGTH}'),
        ("nan mm", LENGTH, f'"nan mm" is not finite; accepted: {FITS_LENGTH}'),
        ("-inf mm", LENGTH, f'"-inf mm" is not finite; accepted: {FITS_LENGTH}'),
        ("1e999 mm", LENGTH, f'"1e999 mm" is not finite; accepted: {FITS_LENGTH}'),
        ("1e308 km", LENGTH, f'"1e308 km" is not finite; accepted: {FITS_LENGTH}'),
        ("5 Mpa", STRESS, None),
        (
            "5 N",
            LENGTH,
            f'"5 N" has the unit "N", which is not that of a length; accepted: {FITS_LENGTH}',
        ),
        # The gram is a mass; force is in gram-force.
        (
            "60 g",
            FORCE,
            f'"60 g" has the unit "g", which is not that of a force; accepted: {FITS_FORCE}',
        ),
        # An angle is no plain number, and a length times an angle is no length.
        (
            "5 percent",
            ANGLE,
            f'"5 percent" has the unit "percent", which is not that of an angle; '
            f"accepted: {FITS_ANGLE}",
        ),
        (
            "5 mm*deg",
            LENGTH,
            f'"5 mm*deg" has the unit "mm*deg", which is not that of a length; '
            f"accepted: {FITS_LENGTH}",
        ),
        ("5 degC", ANGLE, None),
        ("5 dB", ANGLE, None),
        ("5 mdegC", ANGLE, None),
        ("37 degC", STRESS_PER_KELVIN, None),
        ("37", TEMPERATURE, None),
        ("37 C", TEMPERATURE, None),
        ("37 mdegC", TEMPERATURE, None),
        ("37 MPa", TEMPERATURE, None),
        ("37 K*K/degC", TEMPERATURE, None),
        ("1e400 K", TEMPERATURE, None),
    ],
)
def test_what_is_no_such_quantity_is_refused_with_the_units_that_fit(text, kind, message):
    with pytest.raises(Refused) as caught:
        quantity(text, kind)
    if message is None:
        message = f"; accepted: {kind.accepted}"
        assert str(caught.value).endswith(message)
    else:
        assert str(caught.value) == message


def test_unknown_unit_is_named():
    with pytest.raises(ValueError, match='"5 Mpa" has the unknown unit "Mpa"; accepted: a stress'):
        quantity("5 Mpa", STRESS)


def test_huge_exponents_are_refused_and_not_worked_out():
    with pytest.raises(Refused, match="is not a number with a unit"):
        quantity("1e999999999 mm", LENGTH)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.noun)
def test_units_that_a_message_proposes_are_accepted(kind):
    values = [quantity(f"1 {unit}", kind) for unit in kind.units]
    assert len(values) >= 2
    assert all(value > 0.0 for value in values)
    assert quantity(kind.example, kind) > 0.0
    assert quantity(f"1 {kind.inside}", kind) == 1.0


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.noun)
@pytest.mark.parametrize("value", [0.0, 0.1, -1.0 / 3.0, 1e-7, 1.7e300, 5e-324])
def test_written_numbers_read_back_unchanged(kind, value):
    assert quantity(written(value, kind), kind) == value


@pytest.mark.parametrize("value", [37.0, -20.0, 0.1, 36.85])
def test_written_temperatures_read_back_unchanged(value):
    assert quantity(written(value, TEMPERATURE), TEMPERATURE) == value
    assert quantity(TEMPERATURE.example, TEMPERATURE) == 37.0
    for unit in TEMPERATURE.units:
        assert quantity(f"300 {unit}", TEMPERATURE) in (300.0, pytest.approx(26.85))


def test_bounds_are_inclusive_except_above():
    bounded = Bounded(LENGTH, above="0 mm", most="1 in", example="1 mm")
    assert bounded.parse("25.4 mm") == 25.4
    accepted = 'a length in mm, in or um, above 0 mm, at most 1 in, such as "1 mm"'
    for text, problem in (("0 in", "too small"), ("25.5 mm", "too large"), ("-1 mm", "too small")):
        with pytest.raises(Refused) as caught:
            bounded.parse(text)
        assert str(caught.value) == f'"{text}" is {problem}; accepted: {accepted}'
    assert Bounded(LENGTH, least="1 mm").parse("1 mm") == 1.0


def test_field_type_reads_and_writes_quantities():
    adapter = TypeAdapter(Annotated[float, Bounded(LENGTH)])
    assert adapter.validate_python("1 in") == 25.4
    assert adapter.dump_python(25.4) == "25.4 mm"
    schema = adapter.json_schema()
    assert schema["type"] == "string"
    assert schema["examples"] == ["4.5 mm"]


def test_messages_show_values_on_one_short_line():
    assert shown("a\nb\u2028c") == '"a\\nb\\u2028c"'
    assert shown({"a": 1}) == "a table"
    assert len(shown("x" * 1000)) == 60
    assert json.loads(shown("5 deg")) == "5 deg"
    assert one_line("a\r\nb") == "a\\r\\nb"
    assert listed(("a", "b", "c")) == "a, b or c"
    assert listed(("a",)) == "a"


def test_slow_unit_registry_is_not_imported_before_it_is_needed():
    code = "import sys, gomphosis.scenarios.schema; print('pint' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
