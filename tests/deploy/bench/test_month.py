from __future__ import annotations

from deploy.bench.month import Month, lines, month_of


def test_a_few_hours_of_one_bay_come_to_readings_rounds_and_acts() -> None:
    told = list[str]()
    month = month_of(1, 0.125, told.append)
    assert month.readings == 12 * 5
    assert month.rounds > 0
    assert month.acts == 2  # its pour begins and ends
    assert month.released == 0
    assert month.disk_mb.keys() == {"readings", "site"}
    assert told == []


def test_a_year_is_said_to_be_computed_and_not_run() -> None:
    month = Month(100, 30.0, readings=1_000_000, rounds_s=3_600.0, disk_mb={"readings": 90.0, "site": 10.0})
    said = lines(month)
    assert "computed (times 12.2) and not run: 12.2 million readings, 12.2 h of processor, 1.22 GB" in said[-1]
