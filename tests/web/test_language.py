"""The clinic's language: what it changes on every page, and what it never breaks."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.utils import translation
from django.utils.translation import ngettext

from spoken import in_sentences
from suffice.care.caseload.rows import refresh_stale
from suffice.care.caseload.summary import reason_of
from suffice.care.clinic.clinic import change_policy
from suffice.knowledge.policy import Policy
from suffice.record.models import CaseloadRow
from suffice.web.templatetags import shown
from web.story import NAME, an_id
from web.test_transfer import cohort, days_ago, mapping, rows_of, upload

ENGLISH = re.compile(
    r"\b(?:the|and|with|from|weight|birth|which|below|above|was|not)\b", re.IGNORECASE
)
UNREVIEWED = "Ninguna persona cualificada ha revisado todavía esta traducción."


@pytest.fixture
def speak(consultant: object) -> Callable[[str], None]:
    def change(language: str) -> None:
        settings = {"clinic_name": "Clínica", "zone": "Europe/Madrid", "language": language}
        change_policy(uuid4(), settings, now=datetime.now(UTC), actor="consultant")

    return change


@pytest.fixture
def spanish(speak: Callable[[str], None]) -> None:
    speak("es")


def read(page: Client, path: str) -> str:
    return page.get(path).content.decode()


def words_of(html: str) -> str:
    """What a reader reads of a page, without what the page itself marks as English."""
    main = html.split("<main", 1)[1].split("</main>", maxsplit=1)[0]
    main = re.sub(r"<(script|style|code)\b.*?</\1>", " ", main, flags=re.DOTALL)
    main = re.sub(r'<(\w+)[^>]* lang="en">.*?</\1>', " ", main, flags=re.DOTALL)
    return re.sub(r"<[^>]+>", " ", main)


@pytest.mark.parametrize(
    ("unreviewed", "said"),
    [
        ("all", UNREVIEWED),
        ("part", "Ninguna persona cualificada ha revisado aún toda esta traducción."),
        ("none", None),
    ],
)
def test_a_page_says_what_of_its_translation_nobody_has_reviewed(
    page: Client,
    spanish: None,
    monkeypatch: pytest.MonkeyPatch,
    unreviewed: str,
    said: str | None,
) -> None:
    monkeypatch.setattr(shown, "unreviewed", lambda language: unreviewed)
    foot = read(page, "/").split("<footer")[1]
    assert ("Ninguna persona cualificada" in foot) is (said is not None)
    assert said is None or said in foot


def test_caseload_is_in_the_clinics_language(page: Client, family: UUID, spanish: None) -> None:
    refresh_stale(now=datetime.now(UTC), workers=1)
    html = read(page, "/")
    assert '<html lang="es">' in html
    assert "Lista de casos" in html
    assert "Ben: Pérdida del 12,0" in html.replace("\xa0", " ")
    assert "Domicilio" in html
    assert "Caseload" not in html
    assert UNREVIEWED in html


def test_a_reason_is_said_in_the_language_of_now_though_kept_before(
    page: Client, family: UUID, speak: Callable[[str], None]
) -> None:
    refresh_stale(now=datetime.now(UTC), workers=1)
    kept = reason_of(CaseloadRow.objects.get(family_id=family).reason)
    assert in_sentences(kept).startswith("Ben: Lost 12.0 %")
    assert in_sentences(kept, Policy(language="es")).startswith("Ben: Pérdida del 12,0 %")
    speak("es")
    assert "Ben: Pérdida del 12,0" in read(page, "/").replace("\xa0", " ")


def test_family_page_has_no_english_sentence_left(
    page: Client, family: UUID, spanish: None
) -> None:
    html = read(page, f"/families/{family}/")
    for text in (
        "Señales de alarma",
        "¿Es suficiente?",
        "Pañales y deposiciones en 24 horas",
        "Pesos de Ava, primero el más reciente",
        "Cálculo",
        "No se tomó la temperatura.",
        "Edad gestacional",
        "−12,0\u00a0%",
        "100 x (peso - peso al nacer) / peso al nacer",
    ):
        assert text in html
    text = words_of(html)
    assert ENGLISH.findall(re.sub(r"INTERGROWTH\S*|Testcase", "", text)) == []


@pytest.mark.parametrize(
    ("path", "word"),
    [
        ("/families/new/", "Nombre de la madre o el padre en la lista"),
        ("/bench/", "Los mismos cálculos sin registro."),
        ("/library/", "Donde las fuentes discrepan"),
        ("/policy/", "Las temperaturas se muestran en"),
        ("/users/", "Quién puede entrar"),
        ("/import/", "Examinar el archivo"),
        ("/account/passphrase/", "Frase de contraseña actual"),
        ("/nowhere/", "Esa página no existe"),
    ],
)
def test_every_other_page_speaks_it(page: Client, spanish: None, path: str, word: str) -> None:
    html = read(page, path)
    assert word in html
    assert UNREVIEWED in html


def test_library_says_that_the_authors_words_are_english(page: Client, spanish: None) -> None:
    assert "está en inglés" in read(page, "/library/")


def test_form_speaks_it_and_reads_and_repeats_numbers_with_a_comma(
    page: Client, family: UUID, weigh: Callable[..., dict[str, str]], spanish: None
) -> None:
    path = f"/families/{family}/enter/weight/"
    html = read(page, path)
    assert "Por ejemplo, 3280, 3,28 kg o 7 lb 4,5 oz" in html.replace("\u00a0", " ")
    refused = page.post(path, weigh("warm")).content.decode()
    assert (
        "&#x27;warm&#x27; no se puede leer como peso. Escríbalo así: 3280, 3,28\u00a0kg" in refused
    )
    asked = page.post(path, weigh("9000")).content.decode()
    assert "9000\N{NO-BREAK SPACE}g" in asked
    assert "está fuera" in asked or "es inusual" in asked or "difiere" in asked
    taken = page.post(path, weigh("3,15 kg"), follow=True).content.decode()
    assert "3150\u00a0g" in taken


def test_refusal_has_a_page_in_it(page: Client, spanish: None) -> None:
    html = read(page, f"/families/{an_id('nobody')}/")
    assert "Eso no se puede hacer" in html
    assert "Nunca se abrió en este registro." in html


def test_import_tells_what_is_wrong_with_a_file_in_it(page: Client, spanish: None) -> None:
    broken = upload(page, "family.json", b'{"format": ')
    html = page.post(broken).content.decode()
    assert "El archivo no se puede leer como JSON." in html
    assert "No se ha importado nada" in html
    bad = f"3,female,{days_ago(12)},06:00,{days_ago(5)},09:00,heavy"
    table = upload(page, "cohort.csv", cohort(*rows_of(1), bad))
    html = read(page, table)
    assert "Qué significan las columnas" in html
    assert "peso, kg" in html
    sent = mapping(page, table) | {"source": "planta", "import": "1"}
    text = words_of(page.post(table, sent, follow=True).content.decode())
    assert "fila 5" in text
    assert "heavy" in text
    assert ENGLISH.findall(text.replace("weight g", "")) == []


def test_sign_in_speaks_the_clinics_language_whatever_the_browser_prefers(
    spanish: None,
) -> None:
    html = Client().get("/sign-in/", headers={"accept-language": "en"}).content.decode()
    assert "Frase de contraseña" in html
    wrong = Client().post("/sign-in/", {"username": "consultant", "password": "no"})
    assert "no corresponden" in wrong.content.decode()


@pytest.mark.parametrize(
    ("asked", "word"), [("es-CO,es", "El primer usuario"), ("de", "The first")]
)
def test_before_there_is_a_policy_the_browser_is_asked(db: None, asked: str, word: str) -> None:
    assert word in Client().get("/first-user/", headers={"accept-language": asked}).content.decode()


def test_changing_the_policy_on_its_page_changes_the_next_page(
    page: Client, family: UUID, speak: Callable[[str], None]
) -> None:
    from web.test_policy import sent  # noqa: PLC0415  # one form of the policy for all tests

    assert "Caseload" in read(page, "/")
    page.post("/policy/", sent(language="es"))
    assert "Lista de casos" in read(page, "/")
    speak("en")
    html = read(page, "/")
    assert "Caseload" in html
    assert "translation" not in html


@pytest.mark.parametrize(
    ("count", "text"), [(1, "1 familia"), (2, "2 familias"), (0, "0 familias")]
)
def test_counts_take_their_plural(count: int, text: str) -> None:
    with translation.override("es"):
        assert ngettext("%(n)s family", "%(n)s families", count) % {"n": count} == text


def test_axis_of_the_weight_chart_has_the_comma(page: Client, family: UUID) -> None:
    settings = {"clinic_name": "Clínica", "language": "es", "weight_unit": "kg"}
    change_policy(uuid4(), settings, now=datetime.now(UTC), actor="consultant")
    html = page.get(f"/families/{family}/").content.decode()
    assert re.search(r'<text class="axis"[^>]*>Edad en días<', html)
    assert re.search(r'<text class="axis"[^>]*>\d,\d<', html)
    assert not re.search(r'<text class="axis"[^>]*>\d\.\d<', html)


def test_name_of_a_family_is_never_translated(page: Client, family: UUID, spanish: None) -> None:
    assert NAME in read(page, "/")


@pytest.mark.parametrize(("language", "direction"), [("ar", 'dir="rtl"'), ("en", ""), ("es", "")])
def test_page_of_a_right_to_left_language_says_so(language: str, direction: str) -> None:
    with translation.override(language):
        html = render_to_string("fault/404.html", {}, request=None)
    opening = re.search(r"<html[^>]*>", html)
    assert opening
    assert opening[0] == f'<html lang="{language}"{" " if direction else ""}{direction}>'


def test_the_library_writes_numbers_as_the_language_does(page: Client, spanish: None) -> None:
    html = read(page, "/library/")
    assert re.search(r'constant-value">\d+,\d+</bdi> kcal/kg/día', html)
    assert not re.search(r'constant-value">\d+\.\d', html)
    assert "intervalo de 1,8 a 2,8" in html


def test_a_figure_that_went_into_a_working_has_its_own_name(
    page: Client, family: UUID, spanish: None
) -> None:
    html = read(page, f"/families/{family}/")
    assert "pérdida que más supera el límite vigente" in html
    assert "loss_percent:" not in html
