"""The words of a message in the reader's language: subject, body, short text and HTML, the verdict first in each.

Pure, and total: whatever the facts lack, a text results, because an unsent withdrawal is worse than an unknown cause.
No text says more than the requirement that is met, and none begins with a carrier's opt-out word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from alerts.cautions import caution
from alerts.chart import chart_of
from alerts.facts import Facts
from alerts.grouped import Grouped
from alerts.gsm import Part, latin_line, named, short_text, shortened
from alerts.lines import JUDGED, findings, own_lines
from alerts.markup import document
from alerts.phrase import LABELS, Block, Phrase
from alerts.phrases import PHRASES
from alerts.sheet import Sheet, body
from alerts.site_words import shipped
from alerts.telling import Telling
from shared.catalogue import ENGLISH, Catalogue, Voice, voice_of
from shared.models.messages import Message, Text

_NAMED: Final = 32
"""Longest name in a subject."""
_LIMIT: Final = 60
"""Longest limit in a subject."""


def words(message: Message, *, repeat: bool, language: str = ENGLISH, catalogue: Catalogue | None = None) -> Text:
    """Return the text of a message; `repeat`: an earlier attempt may have arrived, and the text says so.

    Args:
        message: with its facts.
        repeat: whether it says that it repeats its number.
        language: of the reader; English for one without words.
        catalogue: the site's words; None: those that ship.
    """
    telling = _telling(message, voice_of(catalogue or shipped(), language))
    phrase = PHRASES[message.kind](telling)
    number = telling.say("repeat" if repeat else "number", no=str(message.no))
    sheet = _sheet(telling, phrase, number)
    return _text(sheet, telling.voice, _short(telling, phrase, repeat))


def words_together(
    messages: Sequence[Message], *, repeat: bool, language: str = ENGLISH, catalogue: Catalogue | None = None
) -> Text:
    """Return one text for permits of one kind of several bays and operations: the strictest limit stands for all.

    Raises:
        ValueError: no message, several kinds or sites, or no permits.
    """
    if len(messages) == 1:
        return words(messages[0], repeat=repeat, language=language, catalogue=catalogue)
    voice = voice_of(catalogue or shipped(), language)
    group = Grouped(tuple(_telling(m, voice) for m in sorted(messages, key=lambda m: m.no)))
    telling = group.merged
    phrase = PHRASES[telling.message.kind](telling)
    return _text(_sheet_of(group, phrase, repeat), voice, _short_of(group, phrase, repeat))


def reasons(message: Message) -> list[str]:
    """Return why it is said, in sentences: the findings of what was judged, else the cause or reason alone."""
    facts = Facts(message.facts)
    told = [facts.text(key, "") for key in ("cause", "reason")]
    judged = facts.items("findings") if message.kind in JUDGED else ()
    return [*judged, *(sentence for sentence in told if sentence)]


def _telling(message: Message, voice: Voice) -> Telling:
    return Telling(message, Facts(message.facts), voice)


def _text(sheet: Sheet, voice: Voice, short: str) -> Text:
    item = voice.say("item", what="{}", value="{}")
    return Text(sheet.subject, body(sheet, item), short, document(sheet, voice.language))


def _opening(phrase: Phrase, limits: Sequence[Part]) -> str:
    """Return verdict, limits and matter, up to the place."""
    said = (next((w for w in p.wordings if len(w) <= _LIMIT), p.wordings[-1]) for p in limits)
    return f"{phrase.verdict}{''.join(said)}{phrase.matter}"


def _name(telling: Telling, key: str) -> str:
    return shortened(telling.facts.text(key, telling.unknown), _NAMED)


def _sheet(telling: Telling, phrase: Phrase, number: str) -> Sheet:
    site = _name(telling, "site")
    if telling.of_site:
        headline, where = f"{_opening(phrase, phrase.limits)} {telling.say('site')} {site}", ""
    else:
        headline = f"{_opening(phrase, phrase.limits)} {telling.say('bay')} {_name(telling, 'bay')}"
        pour = shortened(str(telling.message.pour), _NAMED)
        where = f", {telling.say('floor')} {_name(telling, 'floor')}, {telling.say('pour')} {pour}, {site}"
    chart = chart_of(telling)
    return Sheet(
        latin_line(f"{headline}{where} - {number}"),
        headline,
        tuple(_numbers(telling, number)),
        tuple(_place(telling)),
        (*phrase.lines, *own_lines(telling)),
        (*phrase.blocks, *findings(telling)),
        caution(telling),
        () if chart is None else (chart,),
    )


def _numbers(telling: Telling, number: str) -> list[tuple[str, str]]:
    code = telling.message.code
    coded = [(telling.say("row-code"), telling.say("same-code", code=code))] if code else []
    return [(telling.say("row-message"), number), *coded]


def _place(telling: Telling) -> list[tuple[str, str]]:
    say, facts, unknown = telling.say, telling.facts, telling.unknown
    site = f"{facts.text('site', unknown)} ({facts.text('site_id', unknown)})"
    bay = [
        (say("row-floor"), facts.text("floor", unknown)),
        (say("row-bay"), facts.text("bay", unknown)),
        (say("row-pour"), str(telling.message.pour)),
    ]
    hour = (say("row-hour"), telling.long(telling.hour_ms))
    return [(say("row-site"), site), *([] if telling.of_site else bay), hour]


def _short(telling: Telling, phrase: Phrase, repeat: bool) -> str:
    facts, say = telling.facts, telling.say
    hour, site = telling.short(telling.hour_ms), named(facts.text("site_id", telling.unknown))
    where: list[Part] = [Part((f"{say('site')} ",)), site]
    if not telling.of_site:
        where = [
            Part((f"{say('bay')} ",)),
            named(facts.text("bay", telling.unknown)),
            Part((f", {say('pour')} ", ", ", " "), LABELS),
            named(str(telling.message.pour)),
            Part((", ", " "), LABELS),
            site,
        ]
    opening = (Part((phrase.verdict,)), *phrase.limits, Part((f"{phrase.matter} ",)))
    return short_text([*opening, *where, Part(_counted(telling, hour, repeat), LABELS), *phrase.endings])


def _counted(telling: Telling, hour: str, repeat: bool) -> tuple[str, ...]:
    """Return hour, number and check code: all three stand however little room there is."""
    numbers, code = (
        telling.voice.wordings("repeat" if repeat else "number", no=str(telling.message.no)),
        telling.message.code,
    )
    said = f", {telling.say('code', code=code)}" if code else ""
    return (f", {hour}, {numbers[0]}{said}", *(f" {hour} {number} {code}".rstrip() for number in numbers))


def _sheet_of(group: Grouped, phrase: Phrase, repeat: bool) -> Sheet:
    telling = group.merged
    headline = _opening(replace(phrase, matter=group.matter.wordings[0]), group.limits(phrase))
    number = group.plainly(repeat=repeat)
    charts = (chart_of(t, f"{t.say('row-bay')} {_name(t, 'bay')}") for t in group.tellings)
    site, *_, hour = _place(telling)
    return Sheet(
        latin_line(f"{headline}, {_name(telling, 'site')} - {number}"),
        headline,
        ((telling.say("row-message"), number),),
        (site, hour),
        (),
        tuple(_bay_block(t, repeat) for t in group.tellings),
        caution(telling, tuple(group.bays)),
        tuple(c for c in charts if c is not None),
    )


def _bay_block(telling: Telling, repeat: bool) -> Block:
    """Return everything about one bay of several: nothing of it is only in the headline."""
    number = telling.say("repeat" if repeat else "number", no=str(telling.message.no))
    phrase = PHRASES[telling.message.kind](telling)
    rows = [*_numbers(telling, number)[1:], *_place(telling)[1:]]
    facts = [telling.say("item", what=label, value=value) for label, value in rows]
    judged = [line for block in findings(telling) for line in (block.heading, *block.lines)]
    heading = f"{_opening(phrase, phrase.limits)} {telling.say('bay')} {_name(telling, 'bay')} - {number}"
    return Block(heading, (*facts, *phrase.lines, *own_lines(telling), *judged))


def _short_of(group: Grouped, phrase: Phrase, repeat: bool) -> str:
    telling = group.merged
    hour = telling.short(telling.hour_ms)
    numbers = group.numbers(repeat=repeat)
    return short_text(
        [
            Part((phrase.verdict,)),
            *group.limits(phrase),
            group.matter,
            Part((", ", " "), LABELS),
            named(telling.facts.text("site_id", telling.unknown), LABELS),
            Part((*(f", {hour}, {n}" for n in numbers), f" {hour} {numbers[-1]}"), LABELS),
            *phrase.endings,
        ]
    )
