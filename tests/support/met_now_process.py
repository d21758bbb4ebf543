"""Replays the shipped site with every operation of every pour foreseen as met at once; prints what `slabhour replay`
prints."""

from __future__ import annotations

from cure.work import ForeseenHours
from deploy.demo.rehearsal import ACTS_FILE
from deploy.demo.scenario import READINGS_FILE, SITE_FILE
from deploy.replay import print_line, read_acts, read_readings, replay
from shared.models.base import LOAD, STRIP, WALK, Ms, Operation, PourId
from shared.sitefile import load


def met_now(_pour: PourId, now_ms: Ms) -> dict[Operation, ForeseenHours]:
    return dict.fromkeys((STRIP, WALK, LOAD), ForeseenHours(now_ms, now_ms))


if __name__ == "__main__":
    readings, acts = read_readings(READINGS_FILE), read_acts(ACTS_FILE)
    replay(load(SITE_FILE), readings, acts, foreseen=met_now, tell=print_line)
