"""What the handout says, in each language it can be printed in. Exercises come in the library's words of that language."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import phonenumbers
from django.utils import translation
from django.utils.formats import date_format

from programs.library.rules.dose import Continuous, Dose, Hold, Reps, Roll, Span

LANGUAGES = ("en", "es")
WORDS: dict[str, dict[str, str]] = {
    "en": {
        "exercises": "Your exercises", "ticks": "Tick what you have done", "exercise": "Exercise", "off": "rest",
        "phases": "How it gets less", "phase": "Part", "when": "When", "often": "How often", "time": "Time a day",
        "care": "Take care", "stop": "When to stop",
        "for": "For {client}, from {clinician}, {site}, {phone}.",
        "now": "For now: {often}. One session takes {minutes}.",
        "qr": "Open your program", "qr_alt": "A code to scan with a phone. It opens {url}",
        "footer": "{site}, {phone}. Intervale does not diagnose. Your clinician decides. In an emergency call {emergency}.",
        "closing": "Your clinician made this plan for you. It does not replace an examination. It may have to change when "
                   "you feel different.",
        "kick_off": "Kick-off", "taper": "Taper", "maintenance": "Maintenance",
        "to": "to", "days": "days", "day": "day", "from": "from {first}", "until": "{first} to {last}",
        "decided": "when your clinician says so", "every_day": "every day", "week": "{days} days a week",
        "week_one": "one day a week", "sessions": "{n} times a day", "session": "once a day",
        "holds": "{n} × hold {s} seconds", "reps": "{n} × {r} repetitions", "roll": "{n} × roll {s} seconds",
        "minutes": "{n} minutes", "minute": "1 minute", "rounds": "{n} rounds",
        "morning": "morning", "midday": "midday", "evening": "evening",
        "both": "Both sides together", "each": "First left, then right", "alternating": "Left and right in turn",
        "left": "Left side only", "right": "Right side only",
        "hello": "Hello", "of": "{number} of {all}", "done": "sessions done today.", "takes": "One takes about {minutes}.",
        "how": "How to do it", "feel": "You should feel", "not_feel": "You should not feel", "note": "From your clinician:",
        "easier": "Easier, if you need it: {level}", "harder": "Harder, if it goes well: {level}",
        "needs": "You need:", "empty": "There is no exercise in it yet.",
    },
    "es": {
        "exercises": "Sus ejercicios", "ticks": "Marque lo que ha hecho", "exercise": "Ejercicio", "off": "descanso",
        "phases": "Cómo va a menos", "phase": "Parte", "when": "Cuándo", "often": "Con qué frecuencia",
        "time": "Tiempo al día", "care": "Tenga cuidado", "stop": "Cuándo parar",
        "for": "Para {client}, de {clinician}, {site}, {phone}.",
        "now": "Por ahora: {often}. Una sesión dura {minutes}.",
        "qr": "Abrir su programa", "qr_alt": "Un código para leer con el teléfono. Abre {url}",
        "footer": "{site}, {phone}. Intervale no diagnostica. Su terapeuta decide; en una emergencia, llame al {emergency}.",
        "closing": "Su terapeuta hizo este plan para usted. No sustituye un reconocimiento. Puede que haya que cambiarlo si "
                   "usted se encuentra distinto.",
        "kick_off": "Comienzo", "taper": "Reducción", "maintenance": "Mantenimiento",
        "to": "a", "days": "días", "day": "día", "from": "desde el {first}", "until": "del {first} al {last}",
        "decided": "cuando lo diga su terapeuta", "every_day": "todos los días", "week": "{days} días por semana",
        "week_one": "un día por semana", "sessions": "{n} veces al día", "session": "una vez al día",
        "holds": "{n} × mantener {s} segundos", "reps": "{n} × {r} repeticiones", "roll": "{n} × rodar {s} segundos",
        "minutes": "{n} minutos", "minute": "1 minuto", "rounds": "{n} vueltas",
        "morning": "mañana", "midday": "mediodía", "evening": "tarde",
        "both": "Los dos lados a la vez", "each": "Primero izquierda, luego derecha",
        "alternating": "Izquierda y derecha por turnos", "left": "Solo el lado izquierdo", "right": "Solo el lado derecho",
        "hello": "Hola", "of": "{number} de {all}", "done": "sesiones hechas hoy.", "takes": "Una dura unos {minutes}.",
        "how": "Cómo se hace", "feel": "Debe sentir", "not_feel": "No debe sentir", "note": "De su terapeuta:",
        "easier": "Más fácil, si hace falta: {level}", "harder": "Más difícil, si va bien: {level}",
        "needs": "Necesita:", "empty": "Aún no tiene ningún ejercicio.",
    },
}
STOP: dict[str, tuple[str, ...]] = {
    "en": (
        "Stop and call {emergency} for chest pain, fainting, sudden shortness of breath, or sudden weakness or trouble with "
        "speech or the face.",
        "Get medical help today for new numbness between the legs, losing control of bladder or bowel, or weakness in both "
        "legs.",
        "Ask for medical advice today about a calf that has become swollen, warm or sore. Do not roll, rub or stretch it.",
        "Some pain can be all right, up to the level you agreed with your clinician. If it is more, or it is still worse the "
        "next morning, do less and tell us: {phone}.",
    ),
    "es": (
        "Pare y llame al {emergency} si tiene dolor en el pecho, un desmayo o falta de aire repentina. También si de repente "
        "tiene debilidad o problemas al hablar o en la cara.",
        "Busque ayuda médica hoy si nota entumecimiento nuevo entre las piernas o debilidad en las dos piernas. También si "
        "pierde el control de la vejiga o del intestino.",
        "Pida consejo médico hoy si una pantorrilla se hincha, está caliente o duele. No la ruede, no la frote ni la estire.",
        "Algo de dolor puede estar bien, hasta el nivel que acordó con su terapeuta. Si es más, o sigue peor a la mañana "
        "siguiente, haga menos y díganoslo: {phone}.",
    ),
}
_DAY = {"en": "j M", "es": "j b"}
_WEEKDAY = {"en": "D j", "es": "D j"}
_WHOLE = {"en": "l j F", "es": r"l j \d\e F"}


def phone_words(number: str) -> str:
    """A stored number in groups, never broken over two lines; what cannot be read stays as it is."""
    try:
        read = phonenumbers.parse(number)
    except phonenumbers.NumberParseException:
        return number
    words = phonenumbers.format_number(read, phonenumbers.PhoneNumberFormat.INTERNATIONAL)
    return words.replace(" ", "\u00a0")


class Says:
    """The words of one language; one that is not printed falls back to English."""

    def __init__(self, language: str) -> None:
        short = language.split("-")[0]
        self.language = short if short in LANGUAGES else "en"
        self.words: Mapping[str, str] = WORDS[self.language]

    def __call__(self, name: str, **values: Any) -> str:
        return self.words[name].format(**values)

    def span(self, span: Span) -> str:
        """`3` or `3 to 5`."""
        return str(span.full) if span.minimum == span.full else f"{span.minimum} {self('to')} {span.full}"

    def dose(self, dose: Dose, rounds: Span) -> str:
        """A dose in words, with its rounds when there are several."""
        match dose:
            case Hold():
                text = self("holds", n=self.span(dose.holds), s=self.span(dose.seconds))
            case Reps():
                text = self("reps", n=self.span(dose.sets), r=self.span(dose.reps))
            case Roll():
                text = self("roll", n=self.span(dose.sets), s=self.span(dose.seconds))
            case Continuous():
                text = self("minute") if dose.minutes.full == 1 else self("minutes", n=self.span(dose.minutes))
        return text if rounds.full == 1 else f"{text}, {self('rounds', n=self.span(rounds))}"

    def minutes(self, least: int, most: int) -> str:
        """Rounded minutes from seconds, one at least."""
        low, high = max(1, round(least / 60)), max(1, round(most / 60))
        return self("minute") if high == 1 else self("minutes", n=self.span(Span(low, high)))

    def often(self, phase: Any) -> str:
        """`1 to 2 times a day, every day, morning, evening`."""
        session = self("session") if phase.sessions.full == 1 else self("sessions", n=self.span(phase.sessions))
        if phase.weekdays:
            week = ", ".join(self.weekday(code) for code in phase.weekdays)
        elif phase.days_per_week == 7:
            week = self("every_day")
        else:
            week = self("week_one") if phase.days_per_week == 1 else self("week", days=phase.days_per_week)
        return ", ".join([session, week, *(self(name) for name in phase.times)])

    def day(self, day: date) -> str:
        """`2 Mar`."""
        return self._date(day, _DAY)

    def whole_day(self, day: date) -> str:
        """`Monday 2 March`."""
        return self._date(day, _WHOLE)

    def column(self, day: date) -> str:
        """`Mon 2`."""
        return self._date(day, _WEEKDAY)

    def weekday(self, code: str) -> str:
        """The short name of a day of the week, from its RFC 5545 code."""
        place = ("MO", "TU", "WE", "TH", "FR", "SA", "SU").index(code)
        with translation.override(self.language):
            return str(date_format(date(2024, 1, 1 + place), "D"))   # 1 January 2024 was a Monday

    def _date(self, day: date, formats: Mapping[str, str]) -> str:
        with translation.override(self.language):
            return str(date_format(day, formats[self.language], use_l10n=False))
