from __future__ import annotations

import math

from deploy.bench.rows import BENCHMARKS, Row, of_ingest, stored


def test_a_figure_is_held_against_its_limit_on_the_side_that_is_meant() -> None:
    assert Row("as long as it likes", 1e9, "s").met
    assert Row("at most", 2.0, "s", 2.0).met
    assert not Row("at most", 2.1, "s", 2.0).met
    assert Row("at least", 2.0, "/s", 2.0, at_least=True).met
    assert not Row("at least", 1.9, "/s", 2.0, at_least=True).met
    assert not Row("no number", math.nan, "s", 2.0).met
    assert not Row("no number", math.nan, "s", 2.0, at_least=True).met


def test_of_a_broker_whose_one_run_failed_the_other_figures_stand() -> None:
    steady = {"wanted_rate": 1000.0, "rate": 990.0, "p50_ms": 9.0, "p99_ms": 90.0, "processor_us": 400.0}
    found = {
        "broker": "mosquitto",
        "bare": 2000.0,
        "steady": steady | {"sent": 30_000, "committed": 29_999},
        "failed": {"backlog": "RuntimeError: no room"},
    }
    rows = {row.what: row for row in of_ingest(found)}
    assert rows["mosquitto: steady"].met
    assert not rows["mosquitto: steady, lost"].met
    assert not rows["mosquitto: backlog FAILED: RuntimeError: no room"].met
    assert rows["mosquitto: published -> committed p99"].found == 90.0


def test_a_few_readings_take_processor_and_disk() -> None:
    rows = {row.what: row.found for row in stored(short=True)}
    assert rows["a million readings: disk"] > 10.0
    assert rows["a million readings: processor"] > 0.0


def test_every_benchmark_has_a_word_on_what_it_does() -> None:
    assert all(benchmark.__doc__ for benchmark in BENCHMARKS.values())
