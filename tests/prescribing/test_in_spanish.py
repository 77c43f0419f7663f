"""What a clinician sees of a Spanish-speaking client's program before it is given, and hands over, is in Spanish."""

import re

import pytest
import time_machine
from django.urls import reverse
from django.utils import translation

from programs.library.wording import EQUIPMENT, SIDES
from programs.portal.wording import PHASES
from programs.prescribing.paper.words import WORDS

SAID = {"es": {"name": "Almeja", "setup": "Acuéstese de lado.", "feel": "Esfuerzo.", "not_feel": "Dolor."}}
LEVEL = {"es": {"name": "Paso 1", "harder_because": "", "cues": ["Despacio."]}}
LEFT_IN_ENGLISH = re.compile(r"\b(the|your|you|and|with|of|to|is|are|for|sets|times|day|week|side|when|how|each)\b", re.I)


@pytest.fixture
def spanish(cast, library, program):
    cast.ada.language = "es"
    cast.ada.save()
    for exercise in (library.clamshell, library.side_plank):
        exercise.said = SAID
        exercise.equipment = ["mat", "band"]
        exercise.save()
        exercise.levels.update(said=LEVEL)
    return program


def client_part(page: str) -> str:
    """What stands inside the part that is marked as Spanish, as text."""
    part = page[page.index('lang="es"'):page.index("</main>")]
    return " ".join(re.sub(r"<[^>]*>", " ", part[part.index(">") + 1:]).split())


@pytest.mark.parametrize("name", ["as-client", "handout"])
def test_it_holds_no_english(spanish, cast, browse, name):
    text = client_part(browse(cast.mina.user).get(reverse(f"prescribing:{name}", args=[spanish.public_id])).content.decode())
    text = text.replace("Hip start", "").replace("Harbour Lane", "")   # typed by the practice
    assert not LEFT_IN_ENGLISH.search(text), text
    for said in ("Almeja", "Acuéstese de lado.", "Despacio.", "Esfuerzo.", "Debe sentir", "Paso 1", "Cuándo parar"):
        assert said in text


def test_the_preview_says_doses_as_the_phone_does(spanish, cast, browse, now):
    with time_machine.travel(now, tick=False):
        page = browse(cast.mina.user).get(reverse("prescribing:as-client", args=[spanish.public_id])).content.decode()
    text = client_part(page)
    assert "Hola Ada" in text
    assert "Comienzo, día 1 de 7" in text
    assert "1 a 2 series de 8 a 12 repeticiones, 4 segundos cada una" in text
    assert "Primero izquierda, luego derecha" in text
    assert "Necesita: colchoneta, banda elástica." in text


@pytest.mark.parametrize("language", ["en", "es"])
def test_paper_and_phone_call_sides_and_phases_the_same(language):
    with translation.override(language):
        for name, said in {**SIDES, **PHASES}.items():
            assert WORDS[language][name] == said()
        assert all(said() for said in EQUIPMENT.values())
