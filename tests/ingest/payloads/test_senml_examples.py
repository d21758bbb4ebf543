"""The examples of RFC 8428, section 5, in JSON and in CBOR, and the dump of its section 6.

None of their names is `<logger>.<channel>` of a site here: what they resolve to is held against the print, and every
record of them is refused by name, none is lost.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

import cbor2
import pytest

from ingest.payloads import senml, senml_cbor
from ingest.payloads.decoded import Told
from ingest.payloads.meaning import Measured
from ingest.payloads.senml import resolved
from ingest.payloads.strict_json import load
from shared.models.base import Json, LoggerId
from shared.models.readings import Reason

ANY: Final = Told(LoggerId("lg-01"))
OW: Final = "urn:dev:ow:10e2073a01080063"
LABELS: Final = {
    "bver": -1, "bn": -2, "bt": -3, "bu": -4, "bv": -5, "bs": -6,
    "n": 0, "u": 1, "v": 2, "vs": 3, "vb": 4, "s": 5, "t": 6, "ut": 7, "vd": 8,
}  # fmt: skip
"""RFC 8428, section 6 (read in the sources of draft-ietf-core-senml)."""


@dataclass(frozen=True, slots=True)
class Example:
    """A printed pack and what it says, as name, unit, time and value."""

    text: str
    says: tuple[tuple[str, str | None, float, float | str | bool | None], ...]


def position(time_s: float, humidity: float, lon: float, lat: float) -> list[tuple[str, str, float, float]]:
    return [(OW, "%RH", time_s, humidity), (OW, "lon", time_s, lon), (OW, "lat", time_s, lat)]


# Texts read in the sources of draft-ietf-core-senml, of which RFC 8428 is the last edition. Where the edition that was
# read differs from the RFC, the text is the RFC's, from memory: 5.1.2 b ("bn" ends in a colon), 5.1.5 ("nfc-reader"),
# 5.1.6 (names without "http://", and the second device), 5.1.7 a (one record less). RFC 8428 has no 5.1.8 and no 5.2.
EXAMPLES: Final[dict[str, Example]] = {
    "5.1.1 single data point": Example(
        '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]', ((OW, "Cel", 0.0, 23.1),)
    ),
    "5.1.2 a multiple data points": Example(
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]',
        ((f"{OW}:voltage", "V", 0.0, 120.1), (f"{OW}:current", "A", 0.0, 1.2)),
    ),
    "5.1.2 b with times": Example(
        """[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
             "n":"voltage","u":"V","v":120.1},
            {"n":"current","t":-5,"v":1.2}, {"n":"current","t":-4,"v":1.3}, {"n":"current","t":-3,"v":1.4},
            {"n":"current","t":-2,"v":1.5}, {"n":"current","t":-1,"v":1.6}, {"n":"current","v":1.7}]""",
        (
            ("urn:dev:ow:10e2073a0108006:voltage", "V", 1276020076.001, 120.1),
            *(("urn:dev:ow:10e2073a0108006:current", "A", 1276020071.001 + i, 1.2 + i / 10) for i in range(6)),
        ),
    ),
    "5.1.2 c a stream that has ended": Example(
        """[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":21.2},
            {"t":10,"v":21.3},{"t":20,"v":21.4},{"t":30,"v":21.4},{"t":40,"v":21.5},{"t":50,"v":21.5},
            {"t":60,"v":21.5},{"t":70,"v":21.6},{"t":80,"v":21.7},{"t":90,"v":21.5},{"t":91,"v":21.5},
            {"t":92,"v":21.5}]""",
        tuple(
            (OW, "%RH", 1320067464.0 + t, v)
            for t, v in zip(
                (0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 91, 92),
                (21.2, 21.3, 21.4, 21.4, 21.5, 21.5, 21.5, 21.6, 21.7, 21.5, 21.5, 21.5),
                strict=True,
            )
        ),
    ),
    "5.1.3 multiple measurements": Example(
        """[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
            {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965}, {"t":60,"v":20.3},
            {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965}, {"t":120,"v":20.7},
            {"u":"lon","t":120,"v":24.30623}, {"u":"lat","t":120,"v":60.07966}, {"u":"%EL","t":150,"v":98},
            {"t":180,"v":21.2}, {"u":"lon","t":180,"v":24.30628}, {"u":"lat","t":180,"v":60.07967}]""",
        (
            *position(1.320067464e09, 20, 24.30621, 60.07965),
            *position(1.320067524e09, 20.3, 24.30622, 60.07965),
            *position(1.320067584e09, 20.7, 24.30623, 60.07966),
            (OW, "%EL", 1.320067614e09, 98),
            *position(1.320067644e09, 21.2, 24.30628, 60.07967),
        ),
    ),
    "5.1.4 resolved data": Example(
        """[{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}]""",
        (
            *position(1.320067464e09, 20, 24.30621, 60.07965),
            *position(1.320067524e09, 20.3, 24.30622, 60.07965),
            *position(1.320067584e09, 20.7, 24.30623, 60.07966),
            (OW, "%EL", 1.320067614e09, 98),
            *position(1.320067644e09, 21.2, 24.30628, 60.07967),
        ),
    ),
    "5.1.5 multiple data types": Example(
        """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},
            {"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]""",
        (
            (f"{OW}:temp", "Cel", 0.0, 23.1),
            (f"{OW}:label", None, 0.0, "Machine Room"),
            (f"{OW}:open", None, 0.0, True),
            (f"{OW}:nfc-reader", None, 0.0, True),
        ),
    ),
    "5.1.6 collection of resources": Example(
        """[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":27.2},
            {"n":"humidity","u":"%RH","v":80},
            {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]""",
        (
            ("2001:db8::2/temperature", "Cel", 1.320078429e09, 27.2),
            ("2001:db8::2/humidity", "%RH", 1.320078429e09, 80),
            ("2001:db8::1/temperature", "Cel", 1.320078429e09, 12.3),
            ("2001:db8::1/humidity", "%RH", 1.320078429e09, 67),
        ),
    ),
    "5.1.7 a setting an actuator": Example(
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"heat","u":"/","v":1},'
        '{"n":"fan","u":"/","v":0}]',
        ((f"{OW}:temp", "Cel", 0.0, 23.1), (f"{OW}:heat", "/", 0.0, 1), (f"{OW}:fan", "/", 0.0, 0)),
    ),
    "5.1.7 b two lights on": Example(
        '[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":1},{"n":"2001:db8::4","v":1}]',
        (("2001:db8::3", "/", 1.320078429e09, 1), ("2001:db8::4", "/", 1.320078429e09, 1)),
    ),
    "5.1.7 c two lights dimmed, then off": Example(
        """[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},
            {"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]""",
        (
            ("2001:db8::3", "/", 1.320078429e09, 0.5),
            ("2001:db8::4", "/", 1.320078429e09, 0.5),
            ("2001:db8::3", "/", 1.3200784291e09, 0),
            ("2001:db8::4", "/", 1.3200784291e09, 0),
        ),
    ),
}

# RFC 8428, section 6: the pack of 5.1.2 b. Read in the sources of draft-ietf-core-senml (ex3.gen.cbor.hex).
DUMP_OF_SECTION_6: Final = bytes.fromhex(
    "87 a7 21 78 1b 75 72 6e 3a 64 65 76 3a 6f 77 3a 31 30 65 32 30 37 33 61 30 31 30 38 30 30 36 3a"
    "22 fb 41 d3 03 a1 5b 00 10 62 23 61 41 20 05 00 67 76 6f 6c 74 61 67 65 01 61 56 02 fb 40 5e 06"
    "66 66 66 66 66 a3 00 67 63 75 72 72 65 6e 74 06 24 02 fb 3f f3 33 33 33 33 33 33 a3 00 67 63 75"
    "72 72 65 6e 74 06 23 02 fb 3f f4 cc cc cc cc cc cd a3 00 67 63 75 72 72 65 6e 74 06 22 02 fb 3f"
    "f6 66 66 66 66 66 66 a3 00 67 63 75 72 72 65 6e 74 06 21 02 f9 3e 00 a3 00 67 63 75 72 72 65 6e"
    "74 06 20 02 fb 3f f9 99 99 99 99 99 9a a3 00 67 63 75 72 72 65 6e 74 06 00 02 fb 3f fb 33 33 33"
    "33 33 33"
)


def in_cbor(text: str) -> bytes:
    """Return a pack of JSON as the RFC would have it in CBOR."""
    pack = [{LABELS[name]: value for name, value in record.items()} for record in json.loads(text)]
    return cbor2.dumps([{label: b"hi \n" if label == 8 else value for label, value in r.items()} for r in pack])


def said(pack: Json) -> list[Measured]:
    found = list(resolved(pack))
    assert all(isinstance(part, Measured) for part in found), found
    return [part for part in found if isinstance(part, Measured)]


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_an_example_of_rfc_8428_resolves_as_printed(example: Example) -> None:
    found = said(load(example.text.encode()))
    assert [(m.name, m.unit) for m in found] == [(name, unit) for name, unit, _, _ in example.says]
    for measured, (_, _, time_s, value) in zip(found, example.says, strict=True):
        assert measured.time_s == pytest.approx(time_s, abs=1e-6)  # binary fractions of printed decimals
        if isinstance(value, str):
            assert measured.text == value
        elif isinstance(value, bool):
            assert measured.others
        else:
            assert measured.value == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_an_example_in_cbor_says_what_it_says_in_json(example: Example) -> None:
    assert said(senml_cbor.load(in_cbor(example.text))) == said(load(example.text.encode()))


def test_the_dump_of_section_6_is_the_pack_of_5_1_2_in_cbor() -> None:
    text = EXAMPLES["5.1.2 b with times"].text
    assert said(senml_cbor.load(DUMP_OF_SECTION_6)) == said(load(text.encode()))


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_every_record_of_an_example_is_refused_by_its_name_and_none_is_lost(example: Example) -> None:
    cbor = senml_cbor.load
    for found in (senml.decode(ANY, example.text.encode()), senml.decode(ANY, in_cbor(example.text), cbor)):
        assert found.records == ()
        assert found.facts is None
        assert [fault.reason for fault in found.faults] == [Reason.SCHEMA] * len(example.says)
        assert all("is not <logger>.<channel>" in fault.detail for fault in found.faults)


def test_even_with_a_name_of_ours_a_temperature_about_now_is_refused_for_its_time() -> None:
    pack = EXAMPLES["5.1.1 single data point"].text.replace(OW, "lg-01.1")
    (fault,) = senml.decode(ANY, pack.encode()).faults
    assert fault.reason is Reason.CLOCK_PAST
