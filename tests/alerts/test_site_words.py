from __future__ import annotations

import re
from pathlib import Path

import pytest
from fluent.runtime import FluentResource
from fluent.syntax import ast
from wording_support import told

from alerts.gsm import BASIC, basic
from alerts.site_words import LONGEST_VERDICT, OPT_OUT, load, shipped
from alerts.wording import words
from shared.catalogue import LANGUAGES
from shared.errors import SetupError
from shared.models.messages import MessageKind

SHIPPED = Path(__file__).parents[2] / "alerts" / "words"


def messages(language: str) -> dict[str, ast.Message]:
    resource = FluentResource((SHIPPED / f"{language}.ftl").read_text(encoding="utf-8"))
    assert not [e for e in resource.body if isinstance(e, ast.Junk)]
    return {e.id.name: e for e in resource.body if isinstance(e, ast.Message)}


def written(folder: Path, text: str, name: str = "fr.ftl") -> Path:
    words_folder = folder / "words"
    words_folder.mkdir(exist_ok=True)
    (words_folder / name).write_text(text, encoding="utf-8")
    return words_folder


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_shipped_language_could_stand_in_for_itself(language: str, tmp_path: Path) -> None:
    """The rules for a site's words hold for ours: same ids, parts and names; verdicts within 12 characters."""
    folder = written(tmp_path, (SHIPPED / f"{language}.ftl").read_text(encoding="utf-8"), f"{language}.ftl")
    message = told(MessageKind.RELEASED, "strip")
    own = words(message, repeat=False, language=language, catalogue=load(folder))
    assert own == words(message, repeat=False, language=language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_languages_have_the_same_messages_each_once(language: str) -> None:
    assert list(messages(language)) == list(messages("en"))
    text = (SHIPPED / f"{language}.ftl").read_text(encoding="utf-8")
    ids = re.findall(r"^([a-z0-9-]+) =", text, re.MULTILINE)
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_letter_of_ours_becomes_a_question_mark_in_an_sms(language: str) -> None:
    for line in (SHIPPED / f"{language}.ftl").read_text(encoding="utf-8").split("\n"):
        if line.startswith("#"):
            continue
        plain = re.sub(r"[{}|\\^~\[\]]", "", line)
        assert basic(plain).count("?") == plain.count("?"), line
        assert set(basic(plain)) <= BASIC


def test_a_site_replaces_single_messages_and_keeps_the_others(tmp_path: Path) -> None:
    folder = written(tmp_path, "bay = compartiment\n")
    message = told(MessageKind.WITHDRAWAL, "strip")
    text = words(message, repeat=False, language="fr", catalogue=load(folder))
    assert text.short.startswith("ANNULÉ : ne pas décoffrer compartiment 2-b1")
    assert words(message, repeat=False, catalogue=load(folder)) == words(message, repeat=False)


def test_a_message_that_others_use_changes_them_too(tmp_path: Path) -> None:
    folder = written(tmp_path, "govern = L'ingénieur décide.\n")
    body = words(told(MessageKind.HOLD), repeat=False, language="fr", catalogue=load(folder)).body
    assert body.endswith("ne permet rien. L'ingénieur décide.\n")


def test_without_a_folder_or_files_the_shipped_words_hold(tmp_path: Path) -> None:
    assert load(tmp_path / "words") is shipped()
    message = told(MessageKind.RELEASED, "strip")
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "README").write_text("nothing", encoding="utf-8")
    assert words(message, repeat=False, catalogue=load(tmp_path / "words")) == words(message, repeat=False)


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("# ours\nbaie = travée\n", 2, "an id that no text asks for"),
        ("bay = travée\n\nnot fluent at all\n", 3, "text that is not Fluent"),
        ("code = code { $cod }\n", 1, "code with ['$cod']"),
        ("code = code\n", 1, "code with []"),
        ("hold = BLOQUÉ :\n", 1, "hold"),
        ("withdrawal = ANNULÉ\n", 1, "withdrawal"),
        (
            "test = { $n }\n    .matter = { $recipient }\n    .line = x\n    .channel = { $channel }\n",
            1,
            "test with",
        ),
        ("drying-risk = RISQUE DE SÉCHAGE\n    .matter = x\n", 1, "drying-risk, 17 characters"),
        ("drying-risk = ARRÊT\n    .matter = x\n", 1, "ARRÊT"),
        ("drying-risk = autorisé\n    .matter = x\n", 1, "autorisé"),
        ("drying-risk = Released\n    .matter = x\n", 1, "Released"),
    ],
)
def test_a_message_that_is_not_what_it_stands_for_is_refused_with_its_line(
    tmp_path: Path, text: str, line: int, found: str
) -> None:
    with pytest.raises(SetupError) as refused:
        load(written(tmp_path, text))
    (fault,) = refused.value.faults
    assert fault.line == line
    assert found in fault.found


def test_every_fault_of_every_file_is_told(tmp_path: Path) -> None:
    written(tmp_path, "bay = Feld\n", "de.ftl")
    written(tmp_path, "nothing = x\n", "en.ftl")
    folder = written(tmp_path, "", "es.ftl")
    (folder / "es.ftl").write_bytes(b"bay = pa\xf1o\n")
    with pytest.raises(SetupError) as refused:
        load(folder)
    assert [Path(f.file).name for f in refused.value.faults] == ["de.ftl", "en.ftl", "es.ftl"]


def test_no_shipped_verdict_is_too_long_or_an_opt_out_word() -> None:
    for language in LANGUAGES:
        for kind in MessageKind:
            verdict = shipped()[language].say(kind.name.lower().replace("_", "-"))
            assert 0 < len(verdict) <= LONGEST_VERDICT
            assert verdict.casefold().rstrip(" :").split(" ")[0] not in OPT_OUT
