"""What a person or software asks before a pour, worked out for pages and interface. It changes and releases nothing."""

from __future__ import annotations

from typing import Final

from cure.dashboard.asked import Parts
from cure.dashboard.plan_ground import ground_of
from cure.forecast import Weather
from cure.plan_answer import Planned, answer
from cure.plan_request import Request
from shared.errors import PlanError
from shared.models.base import Ms
from shared.models.setup import SiteFile

NO_WEATHER: Final = "the site holds no weather for these hours: say how cold and how warm the days will be"


def answered(parts: Parts, site: SiteFile, request: Request, now_ms: Ms) -> Planned:
    """Return the answer: in the days that it tells, else in the weather that the site holds.

    Raises:
        PlanError: as `answer` says, or the site holds no weather for its hours.
        StoreError: the site's stores cannot be read.
    """

    def held(hours: tuple[Ms, Ms]) -> Weather:
        found = parts.beside.weather(hours)
        if found is None:
            raise PlanError(NO_WEATHER)
        return found

    return answer(request, ground_of(parts.board, site, parts.calibrations, held, now_ms))
