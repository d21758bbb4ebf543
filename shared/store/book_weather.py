"""The site book as weather and forecasts see it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import RowMapping, bindparam, delete, func, select, update

from shared.models.base import MixId, Ms, Operation, PourId
from shared.models.forecasts import KeptForecast, Outcome, Score, ScoredForecast
from shared.models.weather import WeatherHeard, WeatherHour, WeatherIssue
from shared.store import tables_weather as t
from shared.store.codec import canonical, digest_of, parsed
from shared.store.database import Database, inserting

_W, _H, _F = t.weather.c, t.weather_heard.c, t.forecast.c
_NEW_ISSUE: Final = inserting(t.weather).on_conflict_do_nothing().returning(_W.no)
_HEARD: Final = inserting(t.weather_heard)
_NOTE: Final = _HEARD.on_conflict_do_update(
    index_elements=[_H.source],
    set_={c.name: _HEARD.excluded[c.name] for c in t.weather_heard.columns if c.name != "source"},
)
_NEW_FORECAST: Final = inserting(t.forecast).on_conflict_do_nothing().returning(_F.no)
_SCORE: Final = (
    update(t.forecast)
    .where(_F.no == bindparam("of_no"), _F.scored_ms.is_(None))
    .values(
        scored_ms=bindparam("at_ms"),
        outcome=bindparam("said"),
        found_ms=bindparam("found"),
        crps_h=bindparam("crps"),
        # Most of what is kept, and of no use any more.
        levels="[]",
    )
)


def _hours_to(hours: Sequence[WeatherHour]) -> list[list[Any]]:
    return [[h.at_ms, h.air_c, h.wind_m_s, h.humidity_percent, h.sun_w_m2, h.cloud_share] for h in hours]


def _issue(row: RowMapping) -> WeatherIssue:
    return WeatherIssue(
        row["source"],
        row["issued_ms"],
        row["received_ms"],
        tuple(WeatherHour(*hour) for hour in parsed(row["hours"])),
        tuple(parsed(row["left_out"])),
    )


class SqlWeatherBook:
    """The `WeatherBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, issue: WeatherIssue, heard: WeatherHeard) -> bool:
        hours = _hours_to(issue.hours)
        row = {
            "source": issue.source,
            "issued_ms": issue.issued_ms,
            "received_ms": issue.received_ms,
            "digest": digest_of([issue.issued_ms, hours]),
            "hours": canonical(hours),
            "left_out": canonical(list(issue.left_out)),
        }
        with self._database.writing() as connection:
            new = connection.execute(_NEW_ISSUE, row).first() is not None
            self.note(heard)
        return new

    def note(self, heard: WeatherHeard) -> None:
        row = {name: getattr(heard, name) for name in WeatherHeard.__slots__}
        with self._database.writing() as connection:
            connection.execute(_NOTE, row)

    def heard(self, source: str) -> WeatherHeard | None:
        with self._database.reading() as connection:
            row = connection.execute(select(t.weather_heard).where(_H.source == source)).mappings().first()
        return None if row is None else WeatherHeard(**row)

    def since(self, source: str, received_ms: Ms) -> Sequence[WeatherIssue]:
        newest = select(func.max(_W.no)).where(_W.source == source).scalar_subquery()
        asked = select(t.weather).where(_W.source == source, (_W.received_ms >= received_ms) | (_W.no == newest))
        with self._database.reading() as connection:
            return [_issue(row) for row in connection.execute(asked.order_by(_W.no)).mappings()]

    def forget(self, before_ms: Ms) -> int:
        newest = select(func.max(_W.no)).group_by(_W.source)
        with self._database.writing() as connection:
            return connection.execute(
                delete(t.weather).where(_W.received_ms < before_ms, _W.no.not_in(newest))
            ).rowcount


def _kept(row: RowMapping) -> KeptForecast:
    return KeptForecast(
        pour=PourId(row["pour"]),
        operation=Operation(row["operation"]),
        mix=MixId(row["mix"]),
        made_ms=row["made_ms"],
        through_ms=row["through_ms"],
        horizon_ms=row["horizon_ms"],
        low_ms=row["low_ms"],
        middle_ms=row["middle_ms"],
        high_ms=row["high_ms"],
        widened=row["widened"],
        levels_min=tuple(parsed(row["levels"])),
    )


def _row(kept: KeptForecast) -> dict[str, Any]:
    named = [name for name in KeptForecast.__slots__ if name != "levels_min"]
    return {**{name: getattr(kept, name) for name in named}, "levels": canonical(list(kept.levels_min))}


def _scored(row: RowMapping) -> ScoredForecast:
    score = Score(row["no"], row["scored_ms"], Outcome(row["outcome"]), row["found_ms"], row["crps_h"])
    return ScoredForecast(_kept(row), score)


class SqlForecastBook:
    """The `ForecastBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, forecasts: Sequence[KeptForecast]) -> int:
        with self._database.writing() as connection:
            return sum(connection.execute(_NEW_FORECAST, _row(one)).first() is not None for one in forecasts)

    def newest(self) -> Sequence[KeptForecast]:
        newest = select(func.max(_F.no)).where(_F.scored_ms.is_(None)).group_by(_F.pour, _F.operation)
        asked = select(t.forecast).where(_F.no.in_(newest)).order_by(_F.pour, _F.operation)
        with self._database.reading() as connection:
            return [_kept(row) for row in connection.execute(asked).mappings()]

    def waiting(self) -> Sequence[tuple[PourId, Operation, Ms]]:
        of = select(_F.pour, _F.operation, func.min(_F.horizon_ms).label("horizon_ms")).where(_F.scored_ms.is_(None))
        asked = of.group_by(_F.pour, _F.operation).order_by(_F.pour, _F.operation)
        with self._database.reading() as connection:
            return [(PourId(p), Operation(o), horizon_ms) for p, o, horizon_ms in connection.execute(asked)]

    def unscored(self, pour: PourId, operation: Operation) -> Sequence[tuple[int, KeptForecast]]:
        of = select(t.forecast).where(_F.pour == pour, _F.operation == operation, _F.scored_ms.is_(None))
        asked = of.order_by(_F.no)
        with self._database.reading() as connection:
            return [(row["no"], _kept(row)) for row in connection.execute(asked).mappings()]

    def score(self, scores: Sequence[Score]) -> None:
        rows = [
            {"of_no": s.no, "at_ms": s.scored_ms, "said": s.outcome.value, "found": s.found_ms, "crps": s.crps_h}
            for s in scores
        ]
        if rows:
            with self._database.writing() as connection:
                connection.execute(_SCORE, rows)

    def scored(self, last_pours: int | None = None) -> Sequence[ScoredForecast]:
        asked = select(t.forecast).where(_F.scored_ms.is_not(None))
        if last_pours is not None:
            last = (
                select(_F.pour)
                .where(_F.scored_ms.is_not(None), _F.outcome != Outcome.CLOSED.value)
                .group_by(_F.pour)
                .order_by(func.max(_F.scored_ms).desc(), _F.pour)
                .limit(last_pours)
            )
            asked = asked.where(_F.pour.in_(last))
        with self._database.reading() as connection:
            return [_scored(row) for row in connection.execute(asked.order_by(_F.scored_ms, _F.no)).mappings()]
