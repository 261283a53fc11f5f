"""Figure and curves of the centre of rotation against the force.

Verification: a linear ligament turns about one place whatever the force. Validation, qualitative:
with one that stiffens the place moves (Cattaneo, Dalstra and Melsen 2008).
"""

from pathlib import Path

import numpy as np
import pytest

from gomphosis.scenarios.rotation_curve import RATIOS, rotation_curves, single_slice
from gomphosis.viz.rotation_figure import rotation_figure
from gomphosis.viz.tooth_command import single_tooth


@pytest.fixture(scope="module")
def curves(request):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("gomphosis.scenarios.rotation_curve.FORCES", np.array([0.1, 0.2, 0.5, 2.0]))
        yield rotation_curves(single_tooth(11, None, {}))


def test_linear_curves_are_level_and_bilinear_ones_are_not(curves):
    by_law = {(curve.law, curve.ratio): curve for curve in curves}
    assert len(by_law) == 2 * len(RATIOS)
    for ratio in RATIOS:
        linear, bent = (by_law[law, ratio].depth for law in ("linear", "bilinear"))
        np.testing.assert_allclose(linear, linear[0], rtol=1e-8)
        # at the smallest force both laws are nearly the same
        assert abs(bent[0] - linear[0]) < 0.1
    for ratio in RATIOS[:2]:
        light = by_law["bilinear", ratio].depth[:3]
        assert np.ptp(light) > 0.005 * 12.0


def test_figure_labels_every_curve_beside_its_end(curves):
    figure = rotation_figure(single_slice(single_tooth(11, None, {}), "linear"), curves)
    assert len(figure.axes) == len(RATIOS)
    for axes in figure.axes:
        ends = {
            text.get_text().split()[0]: text.xy[1]
            for text in axes.texts
            if "linear" in text.get_text()
        }
        depth = {line.get_label(): line for line in axes.lines}
        assert len(ends) == len(depth) == 2
        final = sorted(line.get_ydata()[-1] for line in axes.lines)
        # the deeper end has the lower label: the axis runs downwards
        assert (ends["bilinear"] > ends["linear"]) == (
            axes.lines[1].get_ydata()[-1] > axes.lines[0].get_ydata()[-1]
        )
        assert final[0] <= final[1]


def test_command_writes_the_figure_or_nothing(tmp_path: Path, monkeypatch):
    from gomphosis.viz import tooth_command

    monkeypatch.setattr("gomphosis.scenarios.rotation_curve.FORCES", np.array([0.1, 1.0]))
    path = tmp_path / "new" / "turn.png"
    tooth_command.draw_rotation(11, None, ligament={}, path=path)
    assert path.read_bytes().startswith(b"\x89PNG")
    monkeypatch.setattr(
        "gomphosis.viz.theme.save_figure", lambda figure, path: (_ for _ in ()).throw(OSError(28))
    )
    with pytest.raises(OSError, match="28"):
        tooth_command.draw_rotation(11, None, ligament={}, path=tmp_path / "other" / "turn.png")
    assert not (tmp_path / "other").exists()
