from __future__ import annotations

from pathlib import Path
from typing import Final

import pytest
from setup_support import SITE, changed, line_of, written

from shared.errors import Fault, SetupError
from shared.models.payloads import JsonTopic, SenmlTopic, TextTopic
from shared.sitefile import load

SENML: Final = """\
[[topic]]
filter = "slabhour/millrace/r/{logger}"
format = "senml+json"
"""
TEXT: Final = """\
[[topic]]
filter = "board/{logger}/{channel}"
format = "text"
unit = "degC"
"""
JSON: Final = """\
[[topic]]
filter = "app/{logger}/up"
format = "json"
records = "[{c: '1', v: data.t1}]"
channel = "c"
value = "v"
unit = "degC"
message_time = "time"
time_format = "iso"
time_of = "measuring"
sequence = "n"
"""


def with_topics(*topics: str) -> str:
    return changed(SITE, "[[mix]]", "".join(topics) + "[[mix]]")


def faults(folder: Path, *topics: str) -> tuple[tuple[Fault, ...], str]:
    text = with_topics(*topics)
    with pytest.raises(SetupError) as caught:
        load(written(folder, text))
    return caught.value.faults, text


def test_a_site_file_with_topics_of_every_kind_loads(tmp_path: Path) -> None:
    site = load(written(tmp_path, with_topics(SENML, TEXT, JSON))).site
    assert [type(topic) for topic in site.topic] == [SenmlTopic, TextTopic, JsonTopic]
    assert load(written(tmp_path)).site.topic == ()


def test_a_topic_without_a_format_or_with_an_unknown_one_is_told_the_formats_there_are(tmp_path: Path) -> None:
    for old, new in (('format = "text"\n', ""), ('"text"', '"csv"')):
        (fault,), text = faults(tmp_path, changed(TEXT, old, new))
        assert (fault.field, fault.line) == ("topic[1].format", line_of(text, "[[topic]]" if not new else '"csv"'))
        assert fault.allowed == '"json", "senml+cbor", "senml+json" or "text"'


def test_a_field_of_another_format_is_an_unknown_key(tmp_path: Path) -> None:
    (fault,), text = faults(tmp_path, changed(SENML, '"senml+json"', '"senml+json"\nvalue = "v"'))
    assert (fault.line, fault.found) == (line_of(text, 'value = "v"'), "an unknown key")


WRONG: Final[dict[str, tuple[str, str, str, str, str]]] = {
    # name: (topic, what is replaced, by what, the field at fault, a part of what is found or allowed)
    "a filter with #": (TEXT, "board/{logger}/{channel}", "board/#", "filter", "a topic, each level"),
    "a filter with an empty level": (TEXT, "board/{logger}", "board//{logger}", "filter", "a topic, each level"),
    "half a level": (TEXT, "board/{logger}", "board/x-{logger}", "filter", "a topic, each level"),
    "two loggers": (TEXT, "board/{logger}", "board/{logger}/{logger}", "filter", "once each"),
    "text without a channel": (TEXT, "/{channel}", "", "filter", "a level {channel}"),
    "text without a logger": (TEXT, "/{logger}", "", "filter", "a level {logger}"),
    "SenML with a channel": (SENML, "{logger}", "{logger}/{channel}", "filter", "no {channel}"),
    "SenML without a logger": (SENML, "{logger}", "+", "filter", "a level {logger}"),
    "JSON without a channel": (JSON, 'channel = "c"\n', "", "channel", "one of the two"),
    "JSON with two channels": (JSON, "{logger}/up", "{logger}/{channel}", "channel", "one of the two"),
    "sensor and channel": (JSON, 'channel = "c"', 'channel = "c"\nsensor = "s"', "sensor", "named besides"),
    "no value": (JSON, 'value = "v"\n', "", "value", "text"),
    "no unit": (JSON, 'unit = "degC"\n', "", "unit", "one of the two"),
    "two units": (JSON, 'unit = "degC"', 'unit = "degC"\nunit_path = "u"', "unit", "one of the two"),
    "kelvin": (JSON, '"degC"', '"K"', "unit", '"degC" or "degF"'),
    "no time": (JSON, 'message_time = "time"\n', "", "time", "one of the two"),
    "two times": (JSON, "message_time", 'time = "t"\nmessage_time', "time", "one of the two"),
    "no form of time": (JSON, 'time_format = "iso"\n', "", "time_format", "text"),
    "no word on whose hour it is": (JSON, 'time_of = "measuring"\n', "", "time_of", '"measuring" or "receiving"'),
    "a time without a date": (JSON, '"iso"', '"%H:%M:%S"', "time_format", "needs year, day, hour"),
    "a year of two digits": (JSON, '"iso"', '"%d.%m.%y %H:%M"', "time_format", "only %Y"),
    "the name of a month": (JSON, '"iso"', '"%d %b %Y %H:%M"', "time_format", "only %Y"),
    "a pattern that says nothing": (JSON, '"iso"', '"unix"', "time_format", "needs year"),
    "local time without an offset": (JSON, '"iso"', '"%d.%m.%Y %H:%M"', "utc_offset", "the offset, or %z"),
    "an offset of UTC itself": (JSON, '"iso"', '"ms"\nutc_offset = "+01:00"', "utc_offset", "counts from 1970 UTC"),
    "a zone for an offset": (JSON, '"iso"', '"iso"\nutc_offset = "AST"', "utc_offset", "hours and minutes from UTC"),
    "a resolution of hours": (JSON, '"iso"', '"iso"\nresolution_ms = 3600000', "resolution_ms", "ms, at least 1"),
    "a path that ends too soon": (JSON, '"v"', '"v["', "value", "it ends too soon"),
    "a path with a stray sign": (JSON, '"v"', '"v..t"', "value", "character 3 cannot stand there"),
    "a path that cannot be read": (JSON, '"v"', '"v#"', "value", "character 2 cannot be read"),
    "an empty path": (JSON, '"v"', '""', "value", "not empty"),
    "a function that is not there": (JSON, '"v"', '"celsius(v)"', "value", "there is no function celsius"),
    "a function inside": (JSON, '"n"', '"a[*].b[?first(@)]"', "sequence", "there is no function first"),
    "a value too few": (JSON, "data.t1", "join(data.t1)", "records", "join takes 2 value(s)"),
    "a path of brackets": (JSON, '"v"', f'"{"(" * 101}"', "value", "more than 100 brackets"),
}  # fmt: skip


@pytest.mark.parametrize(("topic", "old", "new", "field", "said"), WRONG.values(), ids=WRONG.keys())
def test_what_is_wrong_in_a_topic_is_one_fault_with_its_line_and_what_is_allowed(
    tmp_path: Path, topic: str, old: str, new: str, field: str, said: str
) -> None:
    (fault,), text = faults(tmp_path, changed(topic, old, new))
    assert fault.field == f"topic[1].{field}"
    stands = f"\n{field} = " in text[text.index("[[topic]]") :]
    section = text.index("[[topic]]")
    assert fault.line == (
        text.count("\n", 0, text.index(f"\n{field} = ", section)) + 2 if stands else line_of(text, "[[topic]]")
    )
    assert said in f"{fault.found} {fault.allowed}"


@pytest.mark.row("R3")
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("board/{logger}/{channel}/c", "board/{logger}/{channel}/c"),
        ("board/{logger}/{channel}/c", "+/{logger}/{channel}/c"),
        ("board/{logger}/{channel}/c", "{logger}/x/{channel}/+"),
    ],
)
def test_topics_that_a_broker_would_send_twice_are_refused(tmp_path: Path, one: str, other: str) -> None:
    second = changed(TEXT, "board/{logger}/{channel}", other)
    (fault,), text = faults(tmp_path, changed(TEXT, "board/{logger}/{channel}", one), second)
    assert (fault.field, fault.line) == ("topic[2].filter", line_of(text, "filter = ", 2))
    assert fault.allowed == f'topics that "{one}" does not take too'


def test_the_services_own_test_topic_is_not_for_loggers(tmp_path: Path) -> None:
    (fault,), _ = faults(tmp_path, changed(SENML, "slabhour/millrace/r/{logger}", "slabhour/{logger}/canary"))
    assert fault.allowed == "another than the service's own test topic"


def test_a_map_needs_the_logger_from_the_topic_or_the_sensor_from_the_message(tmp_path: Path) -> None:
    topic = changed(changed(JSON, 'sequence = "n"\n', ""), "{logger}", "+")
    (fault,), text = faults(tmp_path, topic)
    assert (fault.field, fault.line) == ("topic[1].filter", line_of(text, "filter = "))
    assert fault.allowed == "a level {logger}, or the field sensor"


def test_facts_need_a_topic_that_names_the_logger(tmp_path: Path) -> None:
    topic = changed(changed(JSON, 'channel = "c"', 'sensor = "s"'), "{logger}", "+")
    (fault,), text = faults(tmp_path, topic)
    assert (fault.field, fault.line) == ("topic[1].sequence", line_of(text, 'sequence = "n"'))


def test_faults_of_several_topics_come_together(tmp_path: Path) -> None:
    found, _ = faults(tmp_path, changed(TEXT, '"degC"', '"K"'), changed(JSON, '"v"', '"v["'), "[[topic]]\n")
    assert [fault.field for fault in found] == ["topic[1].unit", "topic[2].value", "topic[3].format"]
