"""Who may read the exercise library: clinicians and the lead."""

from programs.library.models import Exercise
from tests.access.roles import Row


def _bridge(cast):
    Exercise.objects.create(
        slug="bridge", name="Bridge", region="hip", kind="strength", side="both", equipment=["mat"], setup="Lie down.",
        feel="Work in the buttocks.", not_feel="Pain in the back.",
    )
    return {"slug": "bridge"}


#            route               visitor ada  bo   desk mina theo lead deactivated
ROWS = [
    Row("GET", "library:list", (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "library:exercise", (302, 404, 404, 404, 200, 200, 200, 302), _bridge),
    Row("GET", "library:drawings", (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "api:exercises", (401, 404, 404, 404, 200, 200, 200, 401)),
    Row("GET", "api:exercise", (401, 404, 404, 404, 200, 200, 200, 401), _bridge),
]
