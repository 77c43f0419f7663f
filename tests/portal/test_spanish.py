"""Every sentence of the portal is there in Spanish, and no page shows one that nobody translated."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from django.template.loader import get_template
from django.utils import translation
from django.utils.translation.template import templatize

from clinic.people.navigation import LINKS
from clinic.people.rules.language import spoken_language
from clinic.people.vocab import Role
from clinic.project import errors
from programs.library import wording
from programs.portal import catalogue
from programs.portal.catalogue import CONTEXT, PLURAL, compiled, read_po
from programs.portal.wording_measures import unit_in_words

PORTAL = Path(catalogue.__file__).parent
TEMPLATES = sorted(path for path in (PORTAL / "templates").rglob("*.html") if path.parent.name != "staff")
BASE = Path(get_template("base.html").origin.name)
# the pages and the mail with which a client signs in
DOORS = [Path(get_template(name).origin.name) for name in (
    "account/request_login_code.html", "account/confirm_login_code.html", "people/link.html",
    "account/email/login_code_subject.txt", "account/email/login_code_message.txt", "error.html",
)]
CALLS = {"_": 1, "_now": 1, "gettext": 1, "gettext_lazy": 1, "gettext_noop": 1, "noop": 1, "ngettext": 2, "pgettext": 2}
SPANISH = read_po(catalogue.PATH.read_text("utf-8"))


def _of_python(path: Path) -> set[str]:
    """The sentences of a module: of its calls, and of its refusals."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        texts = [one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
        if node.func.id == "pgettext":
            found.add(CONTEXT.join(texts))
        elif node.func.id == "ngettext":
            found.add(PLURAL.join(texts[:2]))
        elif node.func.id in CALLS and texts:
            found.add(texts[0])
        elif node.func.id == "Refusal" and len(texts) == 2:
            found.add(texts[1])
    return found


def _of_template(path: Path) -> set[str]:
    """The sentences of a template, as the framework's own extraction sees them."""
    source = templatize(path.read_text("utf-8"), origin=str(path))
    singles = re.findall(r"""(?<!n)gettext\(u?(['"])(.*?)\1\)""", source)
    plurals = re.findall(r"""ngettext\(u?(['"])(.*?)\1,\s*u?(['"])(.*?)\3,""", source)
    return {text for _, text in singles} | {f"{one}{PLURAL}{many}" for _, one, _, many in plurals}


def _sentences() -> set[str]:
    said = {label for _, label in LINKS[Role.CLIENT]} | _of_template(BASE)
    for path in [*TEMPLATES, *DOORS]:
        said |= _of_template(path)
    for path in [*PORTAL.rglob("*.py"), Path(wording.__file__), Path(errors.__file__)]:
        said |= _of_python(path)
    return {text.encode().decode("unicode_escape").encode("latin-1").decode() if "\\" in text else text for text in said}


SENTENCES = _sentences()


def test_no_sentence_is_missing_in_spanish():
    assert len(SENTENCES) > 150
    assert sorted(text for text in SENTENCES if not SPANISH.get(text)) == []


def test_no_sentence_is_kept_that_nobody_says():
    extra = {text for text in SPANISH if text} - SENTENCES
    assert sorted(extra - set(KNOWN_ELSEWHERE)) == []


# said by other apps' actions, shown to a client by the portal
KNOWN_ELSEWHERE = (
    "Some values cannot be used.", "The day is not one of this program's days so far.",
    "This answer's number belongs to another answer.", "This session's number belongs to another session.",
    "This session answers a program version that we do not know.", "This program has not been given yet.",
    "There is no such version of this program.", "It is taken.", "A note can have 2000 characters at most.",
    "A note cannot hold control characters.", "Many notes were written today already. Ring instead.",
    "The passkey is removed.", "The passkey is added. Next time you can sign in with it.",
    "There is no such session in this program.", "This proposal is not open any more.",
    "This time is no longer held for you.",
    "This visit was changed since the proposal was made. Look at the visit first.",
    "Show the movement", "Stop the movement", "This group is full.", "Choose a full or a half hour.",
    "This clinic sends no notifications.",
    "You want no messages at that time. Choose another, or change the hours.",
    "This can have 500 letters at most.", "This cannot hold control characters.",
    "We still look at what you asked for before. Wait for the answer, or ring us.",
)


@pytest.mark.parametrize("path", [*TEMPLATES, *DOORS], ids=lambda path: path.name)
def test_no_template_holds_bare_words(path):
    source = re.sub(r"{#.*?#}|{% block body_class %}.*?{% endblock %}", "", path.read_text("utf-8"))
    source = re.sub(r"{% blocktranslate.*?endblocktranslate %}", "", source, flags=re.DOTALL)
    source = re.sub(r'<script[^>]* type="application/json">.*?</script>', "", source)   # ids for a script, no words
    said_aloud = re.findall(r'(?:aria-label|title|alt|data-(?!label|html)[a-z-]+)="([^"{]*[A-Za-z]{2,} [^"{]*)"', source)
    text = re.sub(r"<[^>]*>", " ", re.sub(r"{[%{].*?[%}]}", " ", source))
    assert re.findall(r"[A-Za-z]{2,}", text.replace("Intervale", "")) == []
    assert said_aloud == []


@pytest.mark.parametrize("text", sorted(SENTENCES), ids=lambda text: text[:40])
def test_a_translation_keeps_the_holes(text):
    holes = re.compile(r"%\(\w+\)s")
    wanted = {hole for one in text.split(PLURAL) for hole in holes.findall(one)}
    for form in SPANISH[text].split(PLURAL):
        assert set(holes.findall(form)) <= wanted
        assert set(holes.findall(form)) == wanted or text.split(PLURAL)[0] in {"one day a week"} or PLURAL in text


@pytest.mark.parametrize(
    ("tag", "ours"),
    [("es", "es"), ("es-MX", "es"), ("ES_ar", "es"), ("en", "en-gb"), ("fr", "en-gb"), ("", "en-gb")],
)
def test_the_language_of_a_client(tag, ours):
    assert spoken_language(tag) == ours


PAGES = (
    "", "session/", "morning/", "weeks/", "visits/", "help/", "help/stop/", "messages/", "details/", "devices/", "pocket/",
)


@pytest.mark.parametrize("address", PAGES)
def test_a_spanish_client_reads_spanish(cast, program, browse, address):
    cast.ada.language = "es"
    cast.ada.save()
    page = browse(cast.ada.user).get(f"/portal/{address}").content.decode()
    assert '<html lang="es">' in page
    assert "Mis visitas" in page
    for word in ("Something is wrong", "When to stop", "Sign out", "My visits"):
        assert word not in page
    assert translation.get_language() == "en-gb"


def test_days_and_numbers_are_said_the_spanish_way(cast, program, browse):
    cast.ada.language = "es"
    cast.ada.save()
    page = " ".join(browse(cast.ada.user).get("/portal/").content.decode().split())
    assert "lunes 2 de marzo" in page
    assert "Hola <bdi>Ada</bdi>" in page
    assert "2 a 3 veces, 30 segundos cada vez" in page
    assert "0 de 1 a 2" in page


def test_bo_beside_her_reads_english(cast, program, browse):
    cast.ada.language = "es"
    cast.ada.save()
    assert "Hola" in browse(cast.ada.user).get("/portal/").content.decode()
    assert "Hello" in browse(cast.bo.user).get("/portal/").content.decode()


@pytest.mark.parametrize(
    ("language", "unit", "value", "said"),
    [
        ("es", "points", 1, "punto"), ("es", "points", 1.5, "puntos"), ("es", "°", 0, "grados"), ("es", "stands", 1, "vez"),
        ("en", "points", 1, "point"), ("en", "points", 0, "points"), ("en", "s", 12, "seconds"), ("es", "kg", 1, "kg"),
    ],
)
def test_one_of_a_unit_is_said_as_one(language, unit, value, said):
    with translation.override(language):
        assert unit_in_words(unit, value) == said


def test_a_po_file_that_cannot_be_read_names_the_line():
    with pytest.raises(ValueError, match="line 2 cannot be read"):
        read_po('msgid "a"\nmsgstr "b\n')


def test_the_compiled_form_is_the_one_the_standard_library_reads():
    from gettext import GNUTranslations
    from io import BytesIO

    text = (
        'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n'
        '"Plural-Forms: nplurals=2; plural=(n != 1);\\n"\n\n'
        'msgid "day"\nmsgid_plural "days"\nmsgstr[0] "día"\nmsgstr[1] "días"\n\n'
        'msgctxt "verb"\nmsgid "rest"\nmsgstr "descansa"\n'
    )
    read = GNUTranslations(BytesIO(compiled(read_po(text))))
    assert [read.ngettext("day", "days", number) for number in (1, 2)] == ["día", "días"]
    assert read.pgettext("verb", "rest") == "descansa"
