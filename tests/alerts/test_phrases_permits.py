from __future__ import annotations

import re

import pytest
from wording_support import OPERATIONS, OWN, texts, told

from alerts.wording import words
from shared.catalogue import LANGUAGES
from shared.models.messages import MessageKind

PERMISSIONS = [
    (kind, operation, language)
    for kind in (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED)
    for operation in OPERATIONS
    for language in LANGUAGES
]
EXCLUDED = [True] * 4 + [False] * 2 + [True] * 2
NO_LOAD = {"en": "no added load", "fr": "sans charge ajoutée", "es": "sin carga añadida"}
BAY = {"en": " bay ", "fr": " travée ", "es": " paño "}


@pytest.mark.parametrize(("kind", "operation", "language"), PERMISSIONS)
@pytest.mark.row("A12")
def test_no_beginning_of_a_permission_hides_what_limits_it(kind: MessageKind, operation: str, language: str) -> None:
    for text, excluded in zip(texts(kind, operation, False, language), EXCLUDED, strict=True):
        for part in (text.short, text.subject, text.body):
            before, found, _ = part.split("\n")[0].partition(BAY[language])
            assert found, part
            if operation == "load":
                assert re.search(r", max .*(?:no wheels|ni roues|sans roue|sin rueda)", before), before
            elif operation in {"strip", "walk"}:
                assert NO_LOAD[language] in before, before
            assert ("xclu" in before) == excluded, before


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("operation", OPERATIONS)
@pytest.mark.row("A12")
def test_a_release_names_what_is_still_shut_with_the_longest_names_too(operation: str, language: str) -> None:
    shut = re.compile(
        r"\. (?:(?:NOT|NON|NO|SIN) (?:(?:released|autorisé |permiso): )?[a-zé/, ]+|"
        r"\d (?:shut|fermés|cerrados))(?:\. |$)"
    )
    for text in texts(MessageKind.RELEASED, operation, False, language)[:4]:
        assert shut.search(text.short), text.short


@pytest.mark.parametrize(
    ("kind", "operation", "language", "beginning"),
    [
        (MessageKind.WITHDRAWAL, "strip", "en", "KEEP FORMS ON, do not strip bay 2-b1"),
        (MessageKind.WITHDRAWAL, "strip", "fr", "ANNULÉ : ne pas décoffrer travée 2-b1"),
        (MessageKind.WITHDRAWAL, "strip", "es", "ANULADO: no desencofrar paño 2-b1"),
        (MessageKind.WITHDRAWAL, "walk", "fr", "ANNULÉ : ne pas marcher sur travée 2-b1"),
        (MessageKind.WITHDRAWAL, "load", "es", "ANULADO: no cargar paño 2-b1"),
        (MessageKind.KEEP_OFF, "strip", "fr", "INTERDIT 2-b1, 2-b2"),
        (MessageKind.KEEP_OFF, "strip", "es", "PROHIBIDO 2-b1, 2-b2"),
    ],
)
def test_what_shuts_says_so_in_every_language(kind: MessageKind, operation: str, language: str, beginning: str) -> None:
    text = words(told(kind, operation), repeat=False, language=language)
    for part in (text.short, text.subject, text.body):
        assert part.startswith(beginning)


def test_the_evidence_is_told_in_the_reader_s_language_where_its_sentence_is_known() -> None:
    found = [
        "lower bound of strength: 3.4 MPa (493 psi), needs 3.5 MPa (508 psi) - not met",
        "a rule of the site: 3 - met",
    ]
    message = told(MessageKind.WITHDRAWAL, "strip", findings=found, cause="STOP pressed: cracks seen")
    body = words(message, repeat=False, language="fr").body
    assert "- borne basse de la résistance : 3.4 MPa (493 psi), exigé 3.5 MPa (508 psi) - non satisfait" in body
    assert "- a rule of the site : 3 - satisfait" in body
    assert "Cause : STOP pressé : cracks seen" in body
    assert found[0] in words(message, repeat=False).body


def test_a_release_names_its_requirement_with_its_version_and_its_line_in_the_log() -> None:
    body = words(told(MessageKind.RELEASED, "strip"), repeat=False).body
    assert f"Requirement, version 3: {OWN[MessageKind.RELEASED]['requirement']}" in body
    assert "Log line 77, hash 3f9a0c51d2e8b746\n" in body
    assert "Check code: AFUH, the same on the board" in body
    assert "Log line" not in words(told(MessageKind.WITHDRAWAL, "strip"), repeat=False).body


def test_what_the_demo_plays_is_told_as_such() -> None:
    assert "Played by the demo, not by a person." in words(told(MessageKind.HOLD), repeat=False).body
    assert "Played by" not in words(told(MessageKind.HOLD, scripted=False), repeat=False).body


def test_operations_have_their_own_words_and_a_site_s_own_operation_is_said_as_it_is() -> None:
    full = words(told(MessageKind.RELEASED, "full load"), repeat=False, language="es")
    assert "cargar del todo paño" in full.short
    own = words(told(MessageKind.WITHDRAWAL, "post-tension"), repeat=False, language="fr")
    assert own.subject.startswith('ANNULÉ : ne pas faire "post-tension" sur travée 2-b1')


def test_a_release_that_does_not_know_what_is_shut_does_not_say_none() -> None:
    message = told(MessageKind.RELEASED, "strip", not_released=None)
    assert "Not released: not known" in words(message, repeat=False).body
