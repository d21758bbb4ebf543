"""Temperature of each sensor since the first concrete, and the limits that lie near, as an SVG. Pure."""

from __future__ import annotations

from cure.condition_seen import Observed
from cure.dashboard.charts import Sensor, Temperature, Window, temperature_chart
from cure.dashboard.svgchart import svgchart
from cure.limits import LIMITS, by_thickness
from cure.standin import silent_after_ms
from shared.models.base import HOUR_MS


def plot(o: Observed) -> str:
    """Return the plot; without a reading a sentence."""
    read = [s for s in o.tracks if len(s.raw)]
    if not read:
        return "<p>no readings yet</p>"
    sensors = [
        Sensor(
            f"{s.placement.sensor} {s.placement.zone}",
            s.raw.taken_ms,
            s.raw.milli_c / 1000.0,
            silent_after_ms(s.placement),
        )
        for s in read
    ]
    if o.air is not None and len(o.air):
        longest_ms = min(silent_after_ms(s.placement) for s in o.tracks)
        sensors.append(Sensor("air", o.air.taken_ms, o.air.milli_c / 1000.0, longest_ms, air=True))
    limits = (
        ("freezing, before 3.5 MPa", LIMITS["any sensor below that strength"].value),
        ("kept in the cold", by_thickness("kept in the cold", o.case.bay.thickness_mm).value),
        ("hottest", LIMITS["hottest"].value),
    )
    start_ms = o.case.pour.start_ms
    window = Window(start_ms, max(o.now_ms, start_ms + HOUR_MS), o.now_ms, o.zone, o.first)
    return svgchart(temperature_chart(Temperature(tuple(sensors), limits=limits), window, f"t-{o.case.pour.id}"))
