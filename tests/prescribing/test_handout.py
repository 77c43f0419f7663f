"""The handout as a PDF: one or two pages, tagged, and nothing typed is ever read as markup."""

import re
from dataclasses import replace
from datetime import date
from uuid import UUID

import pytest
from django.urls import reverse
from django.utils import timezone
from qrcode import QRCode

from clinic.people.models import Condition
from programs.library.models import Exercise, Level
from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.paper.handout import Heading, handout_data, handout_pdf, pages, qr_svg, typeset
from programs.prescribing.paper.words import LANGUAGES, STOP, WORDS, Says
from programs.prescribing.rules.plan import MOST_ITEMS, ItemPlan, PhasePlan, Plan

MONDAY = date(2026, 3, 2)
HEADING = Heading(
    "Hip start", "Ada", "Mina", "Harbour Lane", "+441632960100", "999", "https://clinic.example/portal/", "en"
)
STANDING = {"body": {}, "right": {}, "left": {}}
DRAWING = {"view": "side", "start": STANDING, "end": {**STANDING, "right": {"hip": 60}}}


@pytest.fixture
def today():
    return timezone.now().date()


@pytest.fixture
def running(cast, library, plan, today):
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip start", starts=today, now=timezone.now()
    )


def data_of(plan, care=(), **heading):
    return handout_data(replace(HEADING, **heading), plan, list(care), MONDAY)


def test_the_page_gives_a_pdf_that_says_nothing_of_the_client_in_its_name(cast, browse, running):
    answer = browse(cast.mina.user).get(reverse("prescribing:handout-pdf", args=[running.public_id]))
    assert answer.content.startswith(b"%PDF-")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'inline; filename="handout.pdf"'
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert pages(answer.content) in (1, 2)


def test_it_is_tagged_and_says_so(library, plan):
    pdf = handout_pdf(data_of(plan))
    assert b"/MarkInfo" in pdf
    assert b"/StructTreeRoot" in pdf
    assert b"pdfuaid" in pdf   # the mark of PDF/UA (ISO 14289-1) in the metadata


def test_what_it_says(library, plan):
    data = data_of(plan, [("Clamshell", "Ask the surgeon how far.")])
    assert data["for-line"] == "For Ada, from Mina, Harbour Lane, +44\u00a01632\u00a0960100."
    assert [item["dose"] for item in data["items"]] == ["1 to 2 × 8 to 12 repetitions", "2 to 3 × hold 10 to 20 seconds"]
    assert [day["name"] for day in data["days"]] == ["Mon 2", "Tue 3", "Wed 4", "Thu 5", "Fri 6", "Sat 7", "Sun 8"]
    assert {day["boxes"] for day in data["days"]} == {2}
    assert [phase["when"] for phase in data["phases"]] == ["from 2 Mar", *["when your clinician says so"] * 2]
    assert data["care"] == [{"name": "Clamshell", "reason": "Ask the surgeon how far."}]
    assert "call 999" in data["stop"][0]
    assert "Quill" not in str(data)


def test_the_choice_of_level_is_on_it_where_the_clinician_left_one(library, plan):
    for slug in ("clamshell", "side-plank"):
        exercise = Exercise.objects.get(slug=slug)
        top = exercise.levels.get(number=2)
        Level.objects.create(exercise=exercise, number=3, name="Step 3", cues=[], dose=top.dose)
    left = replace(plan, items=(
        replace(plan.items[0], level=2, leeway="either"), replace(plan.items[1], level=2, leeway="easier"),
    ))
    assert [item["beside"] for item in data_of(left)["items"]] == [
        ["Easier, if you need it: Step 1", "Harder, if it goes well: Step 3"], ["Easier, if you need it: Step 1"],
    ]
    assert data_of(left, language="es")["items"][1]["beside"] == ["Más fácil, si hace falta: Step 1"]
    assert [item["beside"] for item in data_of(plan)["items"]] == [[], []]
    none = replace(left, items=tuple(replace(item, leeway="none") for item in left.items))
    drawn = [glyphs(typeset({**data_of(one), "density": "roomy"}, "svg")) for one in (left, none)]
    said = "".join(line for item in data_of(left)["items"] for line in item["beside"])
    assert drawn[0] - drawn[1] == len(said.replace(" ", ""))


def test_a_walk_has_no_sides_to_speak_of(library, plan):
    walk = Exercise.objects.create(
        slug="walk", name="Brisk walk", region="whole_body", kind="aerobic", side="both", setup="Go.", feel="Warm.",
        not_feel="Chest pain.",
    )
    Level.objects.create(exercise=walk, number=1, name="Easy", dose={"type": "continuous", "minutes": [10, 10]})
    walking = ItemPlan(UUID(int=7), "walk", 1, Continuous(Span(10, 10)))
    both = replace(plan.items[0], side="both")
    data = data_of(replace(plan, items=(walking, both)))
    assert [item["side"] for item in data["items"]] == ["", "Both sides together"]
    assert pages(handout_pdf(data)) in (1, 2)


def test_a_day_of_rest_has_no_box(library, plan):
    fixed = replace(plan, phases=(PhasePlan("maintenance", None, Span(1, 1), 2, weekdays=("MO", "TH")),))
    data = data_of(fixed)
    assert [day["boxes"] for day in data["days"]] == [1, 0, 0, 1, 0, 0, 0]
    assert data["phases"][0]["often"] == "once a day, Mon, Thu"


@pytest.mark.parametrize(
    "text",
    ['#read("/etc/passwd")', "$x^2$", "*bold* _slanted_", "= A heading", "#panic()", "\\ @label <label>", "[#eval(\"1\")]"],
)
def test_typed_text_stays_text(library, plan, text):
    """Set as a note and as the title, marks and all: each of their signs is a glyph on the page, none has vanished."""
    noted = replace(plan, items=(replace(plan.items[0], note=text),))
    plain = replace(plan, items=(replace(plan.items[0], note="x"),))
    with_text = typeset({**data_of(noted, title=text), "density": "roomy"}, "svg")
    with_x = typeset({**data_of(plain, title="x"), "density": "roomy"}, "svg")
    assert glyphs(with_text) - glyphs(with_x) == 2 * (len(text.replace(" ", "")) - 1)


def glyphs(picture):
    """How many glyphs that leave ink a page has."""
    text = b"".join(picture).decode() if isinstance(picture, list) else picture.decode()
    return len(re.findall(r"<use ", text))


@pytest.mark.parametrize("name", ["Zoë", "Ángel Ñandú", "Łukasz Żółć", "Søren Ærø", "Ελένη", "Ольга"])
def test_names_with_accents_and_other_scripts(library, plan, name):
    assert b"pdfuaid" in handout_pdf(data_of(plan, client=name))


def test_a_character_that_no_font_has_costs_the_standard_and_not_the_paper(library, plan):
    pdf = handout_pdf(data_of(plan, client="A\u0378"))
    assert pdf.startswith(b"%PDF-")
    assert b"pdfuaid" not in pdf


@pytest.mark.parametrize("count", [1, 6, 12])
def test_one_or_two_pages_with_a_drawing_each(library, plan, count):
    Level.objects.filter(exercise__slug="clamshell", number=1).update(drawing=DRAWING, cues=["Slowly.", "Keep still.", "Up."])
    many = replace(plan, items=tuple(replace(plan.items[0], key=UUID(int=n + 1)) for n in range(count)))
    assert pages(handout_pdf(data_of(many))) <= 2


def test_the_drawing_is_on_it_with_words_for_it(library, plan):
    Level.objects.filter(exercise__slug="clamshell", number=1).update(drawing=DRAWING)
    left = replace(plan, items=(replace(plan.items[0], side="left"),))
    item = data_of(left)["items"][0]
    assert item["figure"].startswith("<svg")
    assert item["alt"] == "Clamshell: Step 1"
    assert item["figure"] != data_of(plan)["items"][0]["figure"]   # the left side is the mirror image
    assert handout_pdf(data_of(left)).count(b"/Alt") == 2   # the drawing and the code


def test_the_code_holds_the_address_of_the_portal():
    """The reference is the library's own matrix for the same text; ISO/IEC 18004 asks for four quiet modules around."""
    code = QRCode(border=0)
    code.add_data("https://clinic.example/portal/")
    code.make()
    drawn = qr_svg("https://clinic.example/portal/")
    size = len(code.get_matrix())
    assert size >= 21
    places = {(int(x), int(y)) for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", drawn)}
    assert min(x for x, _ in places) == min(y for _, y in places) == 4
    side = int(re.search(r'viewBox="0 0 (\d+) ', drawn)[1])
    assert max(x for x, _ in places) == side - 5


def test_the_clients_precautions_are_on_it(cast, browse, running, today):
    Condition.objects.create(client=cast.ada, code="recent_surgery", since=today)
    seen = {}

    def kept(data):
        seen.update(data)
        return b"%PDF-"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("programs.prescribing.paper.making.handout_pdf", kept)
        browse(cast.mina.user).get(reverse("prescribing:handout-pdf", args=[running.public_id]))
    assert seen["care"] == [{"name": "Clamshell", "reason": "Ask the surgeon how far."}]


def test_the_number_of_queries_does_not_grow_with_the_items(cast, browse, running, plan, today, django_assert_num_queries):
    mina = browse(cast.mina.user)
    address = reverse("prescribing:handout-pdf", args=[running.public_id])
    mina.get(address)
    with django_assert_num_queries(9):
        mina.get(address)
    three = replace(plan, anchor=today, items=(*plan.items, replace(plan.items[0], key=UUID(int=9), exercise="roll-glute")))
    revise_program(
        by=cast.mina.user, program=running, plan=three, effective_from=today, reason="More", based_on=1, now=timezone.now()
    )
    with django_assert_num_queries(9):
        mina.get(address)


def test_every_word_is_there_in_every_language():
    for language in LANGUAGES:
        assert set(WORDS[language]) == set(WORDS["en"])
        assert len(STOP[language]) == len(STOP["en"])
        for name, text in WORDS[language].items():
            assert set(re.findall(r"\{(\w+)\}", text)) == set(re.findall(r"\{(\w+)\}", WORDS["en"][name])), name


def test_doses_in_spanish(library, plan):
    say = Says("es-ES")
    once = Span(1, 1)
    assert say.dose(Hold(Span(2, 3), Span(20, 30)), once) == "2 a 3 × mantener 20 a 30 segundos"
    assert say.dose(Reps(Span(1, 2), Span(8, 12)), Span(1, 2)) == "1 a 2 × 8 a 12 repeticiones, 1 a 2 vueltas"
    assert say.dose(Roll(once, Span(60, 60)), once) == "1 × rodar 60 segundos"
    assert say.dose(Continuous(once), once) == "1 minuto"
    data = data_of(plan, language="es")
    assert (data["lang"], data["days"][2]["name"], data["phases"][0]["when"]) == ("es", "mié 4", "desde el 2 mar")
    assert pages(handout_pdf(data)) in (1, 2)


def test_a_language_that_is_not_printed_falls_back_to_english():
    assert Says("fr").language == "en"


def test_a_whole_program_can_be_printed(db):
    """Forty of them, the most a program can have, still come out; with more pages than two if need be."""
    exercise = Exercise.objects.create(
        slug="walk", name="Brisk walk", region="whole_body", kind="aerobic", side="both", setup="Go.", feel="Warm.",
        not_feel="Chest pain.",
    )
    Level.objects.create(exercise=exercise, number=1, name="Easy", dose={"type": "continuous", "minutes": [1, 1]})
    items = tuple(ItemPlan(UUID(int=n), "walk", 1, Continuous(Span(1, 1))) for n in range(MOST_ITEMS))
    phases = (PhasePlan("kick_off", 7, Span(1, 2)), PhasePlan("maintenance", None, Span(1, 1), 2))
    assert pages(handout_pdf(data_of(Plan(MONDAY, phases, items)))) in (2, 3)


def test_the_exercises_and_the_precautions_are_said_in_the_clients_language(cast, browse, library, running, today):
    clamshell = library.clamshell
    clamshell.said = {"es": {"name": "Almeja", "setup": "De lado.", "feel": "Esfuerzo.", "not_feel": "Dolor."}}
    clamshell.save()
    level = clamshell.levels.get(number=1)
    level.said = {"es": {"name": "Paso 1", "harder_because": "", "cues": ["Despacio."]}}
    level.save()
    precaution = clamshell.precautions.get()
    precaution.said = {"es": {"reason": "Pregunte al cirujano."}}
    precaution.save()
    Condition.objects.create(client=cast.ada, code="recent_surgery", since=today)
    cast.ada.language = "es"
    cast.ada.save()
    seen = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("programs.prescribing.paper.making.handout_pdf", lambda data: seen.update(data) or b"%PDF-")
        browse(cast.mina.user).get(reverse("prescribing:handout-pdf", args=[running.public_id]))
    said = seen["items"][0]
    assert (said["name"], said["cues"], said["alt"]) == ("Almeja", ["Despacio."], "Almeja: Paso 1")
    assert seen["care"] == [{"name": "Almeja", "reason": "Pregunte al cirujano."}]
    assert seen["items"][1]["name"] == "Side plank"   # a row without words in Spanish is said in English, not left out
