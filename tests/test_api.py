# SPDX-License-Identifier: GPL-3.0-or-later
"""The five lines of the package's docstring, and what they promise."""

import pytest

import heatsim as hs


@pytest.mark.ngspice
def test_load_change_check_read_plot(checkout, tmp_path):
    heater = hs.load(checkout / "scenarios" / "bench-heater.toml")
    result = hs.check(heater.change(supply__voltage="38 V", supply__rise_time="300 us"), ["loaded"])
    assert result.verdict == "holds"
    assert result["loaded"].measures["tank.peak_voltage_v"] == pytest.approx(3.14159 * 38, rel=0.04)
    hs.plot(result, "loaded").savefig(tmp_path / "loaded.png")
    assert (tmp_path / "loaded.png").stat().st_size > 20_000
    frame = result.frame()
    assert frame.loc["supply.power_w", "loaded"] == result["loaded"].measures["supply.power_w"]
    with pytest.raises(KeyError, match="there are loaded"):
        result["molten"]
