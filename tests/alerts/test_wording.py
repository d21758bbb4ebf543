from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wording_golden import FOLDER, golden
from wording_support import EVERY_LANGUAGE, OF_SITE, every, subjects, texts, told

from alerts.gsm import BASIC
from alerts.wording import words
from shared.catalogue import LANGUAGES
from shared.models.messages import MessageKind, Text

VERDICTS: dict[MessageKind, set[str]] = {
    MessageKind.SIGN_OFF_WANTED: {"NOT RELEASED", "NON AUTORISÉ", "SIN PERMISO"},
    MessageKind.RELEASED: {"RELEASED", "AUTORISÉ", "AUTORIZADO"},
    MessageKind.MET_NOT_SIGNED: {"NOT SIGNED", "NON SIGNÉ", "SIN FIRMA"},
    MessageKind.COLD_DELAY: {"COLD DELAY", "RETARD FROID", "RETRASO FRÍO", "RETRASO FRIO"},
    MessageKind.FREEZE_SUSPECTED: {"HOLD: FREEZE", "BLOQUÉ : GEL", "BLOQUEADO:"},
    MessageKind.FREEZE_LOCKED: {"LOCKED:", "VERROUILLÉ :", "CERRADO:"},
    MessageKind.HOLD: {"HOLD:", "BLOQUÉ :", "BLOQUEADO:"},
    MessageKind.LOGGER_SILENT: {"NO READINGS:", "SANS MESURE", "SIN LECTURAS"},
    MessageKind.WITHDRAWAL: {"KEEP FORMS O", "KEEP OFF", "ANNULÉ : ne ", "ANULADO: no ", "INTERDIT", "PROHIBIDO"},
    MessageKind.KEEP_OFF: {"KEEP OFF", "INTERDIT", "PROHIBIDO"},
    MessageKind.RELEASED_EARLY: {"TOO EARLY", "TROP TÔT", "TROP TOT", "MUY PRONTO"},
    MessageKind.TOO_HOT: {"TOO HOT", "TROP CHAUD", "MUY CALIENTE"},
    MessageKind.TOO_STEEP: {"TOO STEEP", "ÉCART FORT", "DIFERENCIA"},
    MessageKind.FREEZING_AHEAD: {"FREEZE AHEAD", "GEL PRÉVU", "VIENE HELADA"},
    MessageKind.DRYING_RISK: {"DRYING RISK", "DESSICCATION", "DESECACIÓN", "DESECACION"},
    MessageKind.COVER_TONIGHT: {"COVER by", "COUVRIR", "CUBRIR"},
    MessageKind.LOGGER_DOUBTFUL: {"DOUBTFUL:", "DOUTEUX :", "DUDOSO:"},
    MessageKind.LOW_BATTERY: {"LOW BATTERY", "PILE FAIBLE", "POCA PILA"},
    MessageKind.CALIBRATION: {"CALIBRATION", "ÉTALONNAGE", "CALIBRACIÓN", "CALIBRACION"},
    MessageKind.DELIVERY_FAILED: {"UNDELIVERED", "NON REMIS", "NO ENTREGADO"},
    MessageKind.IN_DOUBT: {"IN DOUBT", "EN DOUTE", "EN DUDA"},
    MessageKind.MORNING_LIST: {"MORNING LIST", "LISTE MATIN", "LISTA DE HOY"},
    MessageKind.HANDOVER: {"HANDOVER", "RELÈVE", "RELEVE", "RELEVO"},
    MessageKind.TEST: {"TEST"},
}
"""What stands in the first 12 characters."""
PERMISSION = {
    "en": re.compile(
        r"\breleased?\b(?! of)|\bmay (?:be )?(?:strip|walk|load)|\bok\b|\bgo ahead\b|\bclear to\b|\bpermi",
        re.IGNORECASE,
    ),
    "fr": re.compile(r"autoris|libér|permis|permet|pouvez|\bpeut\b|feu vert|\bok\b", re.IGNORECASE),
    "es": re.compile(r"autoriz|permis|permit|\bpuede\b(?! helar)|\bvale\b|\blisto\b|\bok\b", re.IGNORECASE),
}
NEGATION = {
    "en": re.compile(r"\b(?:not|no|wait for|without|nothing|undelivered|clear it|a request)\b", re.IGNORECASE),
    "fr": re.compile(r"\b(?:non|ne|n'y|n'est|aucune?|rien|sans|attendre|annul|n'annule|toute)", re.IGNORECASE),
    "es": re.compile(r"\b(?:no|ni|ning[uú]n|nada|sin|espere|anul|todo)", re.IGNORECASE),
}
SHUT = {
    *(
        "TOO EARLY",
        "TROP TÔT",
        "TROP TOT",
        "MUY PRONTO",
        "KEEP FORMS O",
        "KEEP OFF",
        "HOLD:",
        "HOLD: FREEZE",
        "LOCKED:",
    ),
    *("INTERDIT", "PROHIBIDO", "BLOQUEADO:"),
}
"""Verdicts that deny without such a word."""
LONGEST = 140
CLOSE = 30
"""A permission's word in a negative text has its negation within so many characters before it."""
FORBIDDEN = re.compile(
    r"\bsafe|\bok\b|\bsûr|\bsegur[oa]|stripped off|décoffré|\bdesencofrado\b|forms? (?:off|removed)", re.IGNORECASE
)
OPT_OUT = re.compile(
    r"^\W*(?:stop|stopall|end|quit|cancel|unsubscribe|optout|revoke|arr[eê]t|fin|annuler|alto|parar|pare|baja|cancelar|salir)\b",
    re.IGNORECASE,
)
ASKS_OPT_OUT = re.compile(
    r"(?:reply|text|send|répond\w*|envoy\w+|responda|env[ií]e) +\W*(?:stop|arr|baja|alto)", re.IGNORECASE
)
ENDINGS = re.compile(
    r"(?:(?:no|n|num)?\.? ?\d+(?:,? (?:code |codigo )?[A-Z0-9]{4})?|AFUH|walk|load|uncover|shut|fermés|cerrados|"
    r"UTC[-+]\d+(?::\d\d)?|release|autorisation|permiso|this cold|froid|frio|engineer|ingénieur|ingeniero|when clear|"
    r"évacuée|despejada|Withdrawn|Annulé|Anulado|qc|e{32}|known|inconnu|sabe|07:15|02:00|has come|relevé|lectura|it|"
    r"couvrir|cubrir|lg-01\.1|hours|edge|dark|%|m2|ft2\)|\)|ago|mailbox|jumped|RELEASED|AUTORISÉ|PERMISO|suspected|"
    r"done|faire|hacer|surface|[CF]|charger|marcher|décoffrer|découvrir|cargar|pisar|destapar|desencofrar|strip|"
    r"possible|helada|l{32}\.12|UTC\+0)$"
)
Case = tuple[MessageKind, str, bool, str]


def cases(language: str, kind: MessageKind) -> list[Text]:
    return [t for k, s, d in every() if k is kind for t in texts(k, s, d, language)]


KINDS = pytest.mark.parametrize("kind", MessageKind)
TONGUES = pytest.mark.parametrize("language", LANGUAGES)


@TONGUES
@KINDS
@pytest.mark.row("A12")
def test_the_short_text_fits_one_sms(kind: MessageKind, language: str) -> None:
    for text in cases(language, kind):
        assert len(text.short) <= LONGEST, text.short
        assert set(text.short) <= BASIC, text.short


@TONGUES
@KINDS
@pytest.mark.row("A12")
def test_the_verdict_stands_in_the_first_twelve_characters(kind: MessageKind, language: str) -> None:
    for text in cases(language, kind):
        for part in (text.short, text.subject, text.body):
            assert any(part[:12].startswith(v) for v in VERDICTS[kind]), part


@TONGUES
@KINDS
@pytest.mark.row("A12")
def test_no_beginning_of_a_text_reads_as_a_permission_that_it_is_not(kind: MessageKind, language: str) -> None:
    if kind is MessageKind.RELEASED:
        return
    for text in cases(language, kind):
        for part in (text.short, text.subject):
            for found in PERMISSION[language].finditer(part):
                before = part[max(0, found.start() - CLOSE) : found.start()]
                assert NEGATION[language].search(before), part


@TONGUES
@KINDS
@pytest.mark.row("A12")
def test_no_beginning_of_a_body_speaks_of_a_permission_before_it_denies_one(kind: MessageKind, language: str) -> None:
    if kind is MessageKind.RELEASED:
        return
    for text in cases(language, kind):
        for found in PERMISSION[language].finditer(text.body):
            before = text.body[: found.start()]
            assert NEGATION[language].search(before) or before.startswith(tuple(VERDICTS[kind] & SHUT)), text.body


@TONGUES
@pytest.mark.row("A12")
def test_no_text_ends_in_the_middle_of_a_word(language: str) -> None:
    """Nothing was cut off at the end: the parts were chosen to fit."""
    for kind in MessageKind:
        for text in cases(language, kind):
            assert ENDINGS.search(text.short), text.short


@TONGUES
@pytest.mark.row("A12", "M14", "A16", "A13")
def test_every_short_text_has_hour_number_and_check_code_with_the_longest_names_too(language: str) -> None:
    for kind in MessageKind:
        for text in cases(language, kind):
            assert re.search(r"24 [A-Za-z]+ 1[26]:[03]0 UTC[-+]\d+(?::30)?,? .*(?:41|9999999),? .*AFUH", text.short), (
                text.short
            )


@pytest.mark.row("A12", "C10")
def test_every_text_reads_as_it_was_last_looked_through() -> None:
    """To accept new words: `python tests/support/wording_support.py`."""
    for name, text in golden().items():
        assert text == (FOLDER / name).read_text(encoding="utf-8"), name


@TONGUES
@KINDS
def test_no_text_says_that_anything_is_without_danger_or_begins_with_an_opt_out_word(
    kind: MessageKind, language: str
) -> None:
    for text in cases(language, kind):
        for part in (text.short, text.subject, text.body):
            assert not FORBIDDEN.search(part), part
            assert not OPT_OUT.search(part), part
            assert not ASKS_OPT_OUT.search(part), part


@TONGUES
@KINDS
def test_each_body_has_one_caution_and_it_stands_last(kind: MessageKind, language: str) -> None:
    caution = {"en": "Caution: ", "fr": "Attention : ", "es": "Precaución: "}[language]
    govern = {"en": "contract and local code govern", "fr": "règles locales l'emportent", "es": "normas locales."}[
        language
    ]
    for text in cases(language, kind):
        lines = text.body.rstrip("\n").split("\n")
        assert sum(line.startswith(caution) for line in lines) == 1
        assert lines[-1].startswith(caution)
        assert text.body.count(govern) == (0 if kind is MessageKind.TEST else 1)


@pytest.mark.parametrize(("kind", "operation", "done", "language"), EVERY_LANGUAGE)
@pytest.mark.row("A16", "O12")
def test_every_text_says_where_it_is_about_and_when(
    kind: MessageKind, operation: str, done: bool, language: str
) -> None:
    text = words(told(kind, operation, done=done), repeat=False, language=language)
    assert "millrace" in text.short
    assert "Millrace House" in text.subject
    assert "Millrace House (millrace)" in text.body
    assert re.search(r"24 nov 2025 12:00 UTC-04:00", text.body, re.IGNORECASE)
    assert ("2-b1-p1" in text.short and "2-b1-p1" in text.subject) != (kind in OF_SITE)


@TONGUES
@KINDS
@pytest.mark.row("M9")
def test_a_subject_is_one_line_of_latin_letters(kind: MessageKind, language: str) -> None:
    odd: dict[str, Any] = {
        "site": "Mühle\r\nBcc: x@y.example",
        "bay": "é\u2028z",
        "floor": "\u0000\u202e2",
        "exclusions": "a\nb",
    }
    strange = words(told(kind, subjects(kind)[0], **odd), repeat=False, language=language)
    for text in (*cases(language, kind), strange):
        assert all(" " <= c <= "~" or c in "ÀÉÈÊÑÍÓÁÚÔàéèêçñíóáúôûüîâ" for c in text.subject), text.subject
        assert len(text.subject) < 340


@KINDS
@pytest.mark.row("A3")
def test_a_repeat_says_which_number_it_repeats(kind: MessageKind) -> None:
    said = {"en": "repeat of no. 41", "fr": "répète no 41", "es": "repite num. 41"}
    for language in LANGUAGES:
        text = words(told(kind, subjects(kind)[0]), repeat=True, language=language)
        for part in (text.subject, text.body):
            assert said[language] in part
        assert re.search(r"(?:repeat|répète|repite|bis)[a-z. ]* 41", text.short), text.short


def test_a_language_without_words_is_english() -> None:
    message = told(MessageKind.WITHDRAWAL, "strip")
    assert words(message, repeat=False, language="de").body == words(message, repeat=False).body


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=300),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
KEYS = sorted({key for kind in MessageKind for key in told(kind, "strip").facts} | {"chart"})


@given(
    st.sampled_from(MessageKind),
    st.dictionaries(st.sampled_from(KEYS), JSON),
    st.booleans(),
    st.sampled_from(LANGUAGES),
)
def test_whatever_the_facts_a_text_results(
    kind: MessageKind, facts: dict[str, Any], repeat: bool, language: str
) -> None:
    text = words(replace(told(kind), facts=facts), repeat=repeat, language=language)
    assert len(text.short) <= LONGEST
    assert set(text.short) <= BASIC
    assert any(text.short.startswith(v) for v in VERDICTS[kind])
    assert text.subject.isprintable()
    assert "(" + "withdrawal" not in text.body
    assert text.html is not None
